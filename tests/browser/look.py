"""Looks at one page as a critical person would, and says everything that is wrong with it."""

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import CDPSession, Page, expect

MOST_BYTES = 100_000
MOST_REQUESTS = 8
# Nothing moves; below this it is a rounding of half-drawn pages, a few millionths.
MOST_SHIFT = 0.001
# WCAG 2.2, 2.5.5 (target size, enhanced): 44 by 44 CSS pixels.
LEAST_TARGET_PX = 44
# 12 mm at 96 CSS pixels an inch, for a thumb in a glove (common practice, no source).
LEAST_ANSWER_PX = 45
# WCAG 2.2, 1.4.10 (reflow): 1280 pixels at 400 %; 1.4.4 (resize text): 1440 pixels at 200 %.
NARROWEST_PX = 320
DOUBLED_PX = 720
# Letters of a picture on a phone (common practice, no source).
LEAST_LETTER_PX = 11
# WCAG 2.2, 1.4.3 and 1.4.6: ordinary and large words; check screens ask for the stricter pair.
PLAIN, STRICT = (4.5, 3.0), (7.0, 4.5)

_axe = Axe()
# What is wrong alone comes back; all that is right would be much of what a look takes.
_VIOLATIONS = "(options) => axe.run(options).then((said) => said.violations)"
# Contrast follows from letters, ground and size (WCAG 2.2, 1.4.3), so that of a hundred rows alike
# three are asked about; the first look, in light, has asked about every one.
_VIOLATIONS_OF_EACH_LOOK = """(options) => {
  const looks = new Map();
  for (const one of document.querySelectorAll("body *")) {
    const written = [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    if (!written && !one.matches("input, select, textarea")) continue;
    const box = one.getBoundingClientRect();
    if (!one.checkVisibility({ visibilityProperty: true }) || box.width < 2 || box.height < 2) {
      continue;
    }
    const style = getComputedStyle(one);
    const look = [style.color, style.fontSize, style.fontWeight, style.textShadow, one.tagName,
      one.closest(":disabled, [aria-disabled=true]") !== null];
    for (let at = one; at; at = at.parentElement) {
      const under = getComputedStyle(at);
      const ground = [under.backgroundColor, under.backgroundImage, under.opacity, under.filter];
      if (ground.join() !== "rgba(0, 0, 0, 0),none,1,none") look.push(...ground);
    }
    const alike = looks.get(look.join()) || [];
    if (alike.length < 3) looks.set(look.join(), [...alike, one]);
  }
  return axe.run({ include: [...looks.values()].flat() }, options)
    .then((said) => said.violations);
}"""

_WATCH = """
window.__shift = 0;
window.__shifted = [];
window.__refused = [];
new PerformanceObserver((list) => {
  for (const each of list.getEntries()) {
    window.__shift += each.value;
    for (const one of each.sources) window.__shifted.push(one.node?.outerHTML?.slice(0, 80));
  }
}).observe({ type: "layout-shift", buffered: true });
document.addEventListener("securitypolicyviolation", (event) =>
  window.__refused.push(`${event.violatedDirective} ${event.blockedURI}`));
"""

# Links and buttons that are acts or the way about; links in running text are let off, as in 2.5.5.
_SMALL = """(least) => [...document.querySelectorAll(
    ".actions :is(a, button), .pages a, .crumbs a, .top :is(a, button), .tabs a, .counts a,"
    + " .listing-foot nav a, summary, button, select, textarea,"
    + " input:not([type=hidden], [type=radio], [type=checkbox])")]
  .filter((one) => one.checkVisibility({ visibilityProperty: true }))
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 1 && (box.height < least || box.width < least))
  .map(([one, box]) => `${one.tagName} "${(one.innerText || one.name).trim()}" `
    + `${Math.round(box.width)} x ${box.height.toFixed(1)}`)"""

_LOW_TICKS = """(least) => [...document.querySelectorAll("input[type=radio], input[type=checkbox]")]
  .map((one) => one.closest("label") || one)
  .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < least)
  .map((one) => `${one.innerText.trim()} ${one.getBoundingClientRect().height.toFixed(1)}`)"""

_WIDER = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"

_OPENED = """() => document.querySelectorAll("details").forEach((one) => { one.open = true })"""

# Anything that hangs out of the page or has more inside than it shows.
_CUT = """() => [...document.querySelectorAll("main *, header *, nav *, footer *")]
  .filter((one) => one.checkVisibility() && !one.closest("svg, .only-read-out, .listing, .skip"))
  .filter((one) => {
    const box = one.getBoundingClientRect();
    const style = getComputedStyle(one);
    // What is longer than its one-line field is scrolled in it, and is no cut.
    const hidden = ["hidden", "clip"].includes(style.overflowX) && one.tagName !== "INPUT";
    return box.width > 1 && (box.right > document.documentElement.clientWidth + 1
      || box.left < -1 || (hidden && one.scrollWidth > one.clientWidth + 1));
  })
  .map((one) => `${one.tagName}.${one.className} ${one.innerText.slice(0, 40)}`)"""

_WORDLESS = """() => [...document.querySelectorAll(".mark")]
  .filter((one) => !one.innerText.trim()
    || (!one.querySelector("svg.shape") && one.innerText.trim() !== "Nothing due"))
  .map((one) => one.outerHTML.slice(0, 120))"""

_BLACK = """() => [...document.querySelectorAll("main svg *")]
  .filter((one) => one.getAttribute("style")).map((one) => one.outerHTML.slice(0, 100))"""

# A shape that nothing gives a colour is drawn as one black spot.
_UNPAINTED = """() => [...document.querySelectorAll(
    "main svg :is(path, rect, circle, ellipse, polygon)")]
  .filter((one) => getComputedStyle(one).fill === "rgb(0, 0, 0)" && !one.closest("[fill]"))
  .filter((one) => one.getBoundingClientRect().width * one.getBoundingClientRect().height > 150)
  .map((one) => one.outerHTML.slice(0, 120))"""

_CONTRAST = """
  const told = (text) => {
    const found = text.match(/^rgba?\\(([\\d.]+), ([\\d.]+), ([\\d.]+)(?:, ([\\d.]+))?\\)$/);
    if (!found) throw new Error(`a colour of another form: ${text}`);
    const [r, g, b, a] = found.slice(1).map((one) => (one === undefined ? 1 : Number(one)));
    return { grey: (0.2126 * r + 0.7152 * g + 0.0722 * b) / 255, alpha: a };
  };
  const behind = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = told(getComputedStyle(at).backgroundColor);
      if (colour.alpha === 1) return colour.grey;
      if (colour.alpha > 0) throw new Error(`half-clear ground under ${at.tagName}`);
    }
    return 1;
  };
  const light = (grey) => (grey <= 0.04045 ? grey / 12.92 : ((grey + 0.055) / 1.055) ** 2.4);
  const apart = (one, other) => {
    const [high, low] = [light(one), light(other)].sort((a, b) => b - a);
    return (high + 0.05) / (low + 0.05);
  };
"""
# Luminance of the grey that a colour becomes: the matrix of Filter Effects 1, grayscale(1), which
# works on the colour as encoded; then contrast as WCAG 2.2 defines it. Marks and the strokes and
# words of drawings are told by 3 to 1 (1.4.11), each over the ground it stands on.
DIM_WORDS = (
    "([plain, large, shapes]) => {"
    + _CONTRAST
    + """
  const wrong = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const one = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || one.closest("svg")) continue;
    if (!one.checkVisibility({ visibilityProperty: true })) continue;
    if (one.closest(":disabled, .only-read-out, .skip, option")) continue;
    const style = getComputedStyle(one);
    const size = parseFloat(style.fontSize);
    const big = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    const ratio = apart(told(style.color).grey, behind(one));
    if (ratio < (big ? large : plain)) {
      wrong.push(`${ratio.toFixed(2)} ${walk.currentNode.data.trim().slice(0, 40)}`);
    }
  }
  for (const one of document.querySelectorAll(shapes)) {
    if (!one.checkVisibility({ visibilityProperty: true })) continue;
    const style = getComputedStyle(one);
    const line = style.stroke !== "none";
    const seen = Number(line ? style.strokeOpacity : style.fillOpacity);
    const paint = line ? style.stroke : style.fill;
    if (paint === "none" || (!line && one.tagName !== "text" && !one.matches(".shape *"))) continue;
    const ground = behind(one);
    const ratio = apart(told(paint).grey * seen + ground * (1 - seen), ground);
    if (ratio < 3) wrong.push(`${ratio.toFixed(2)} ${one.outerHTML.slice(0, 80)}`);
  }
  return wrong;
}"""
)
_SHAPES = ".shape *, .drawing svg :is(polyline, polygon, circle, text)"

_TINY = """(least) => [...document.querySelectorAll("main svg text")]
  .filter((one) => one.checkVisibility())
  .map((one) => [parseFloat(getComputedStyle(one).fontSize) * one.getScreenCTM().a, one])
  .filter(([size]) => size < least - 0.05)
  .map(([size, one]) => `${size.toFixed(1)} px: ${one.textContent}`)"""

# WCAG 2.2, 2.3.3, for who has asked the system for less movement.
_MOVING = """() => [...document.querySelectorAll("*")]
  .filter((one) => {
    const style = getComputedStyle(one);
    const long = [style.animationDuration, style.transitionDuration].join(",").split(",");
    return long.some((time) => parseFloat(time) > 0) || style.scrollBehavior === "smooth";
  })
  .map((one) => one.outerHTML.slice(0, 80))"""

# A check that was answered shows which answer, by more than the colours that were taken away.
_UNMARKED = """() => [...document.querySelectorAll("div.answers label:has(:checked)")]
  .filter((one) => one.checkVisibility() && getComputedStyle(one).outlineStyle === "none")
  .map((one) => one.innerText)"""

# Two lines of words over one another, or words cut by the box they stand in.
_OVER = """() => {
  const lines = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const node = walk.currentNode;
    const one = node.parentElement;
    if (!node.data.trim() || one.closest("svg, .only-read-out, .skip, .pages, .actions.bar, option,"
      + " noscript, textarea")) continue;
    if (!one.checkVisibility({ visibilityProperty: true })) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      if (box.width > 1 && box.height > 1) lines.push({ box, one, words: node.data.trim() });
    }
  }
  lines.sort((a, b) => a.box.top - b.box.top);
  const wrong = [];
  lines.forEach((line, nth) => {
    for (let next = nth + 1; next < lines.length; next += 1) {
      const other = lines[next];
      // Letters fill about the middle two thirds of their line.
      if (other.box.top > line.box.bottom - line.box.height / 3) break;
      const [mine, its] = [line.box, other.box];
      const wide = Math.min(mine.right, its.right) - Math.max(mine.left, its.left);
      const high = Math.min(line.box.bottom, other.box.bottom) - other.box.top;
      if (wide > 2 && high > Math.min(line.box.height, other.box.height) / 3) {
        wrong.push(`"${line.words.slice(0, 30)}" over "${other.words.slice(0, 30)}"`);
      }
    }
  });
  for (const one of document.querySelectorAll("main *, header *, footer *")) {
    if (one.matches(".only-read-out, .skip, svg, svg *, textarea, input, select")) continue;
    const style = getComputedStyle(one);
    if (["hidden", "clip"].includes(style.overflowY) && one.clientHeight > 2
      && one.scrollHeight > one.clientHeight + 2) {
      wrong.push(`cut: ${one.tagName}.${one.className} ${one.innerText.slice(0, 40)}`);
    }
  }
  return wrong;
}"""

# Text spacing of WCAG 2.2, 1.4.12; constructed style sheets are not inline styles.
_SPACED = """() => {
  const wide = new CSSStyleSheet();
  wide.replaceSync("* { line-height: 1.5 !important; letter-spacing: .12em !important;"
    + " word-spacing: .16em !important } p { margin-bottom: 2em !important }");
  document.adoptedStyleSheets = [wide];
}"""


@dataclass
class Found:
    """What a look at a page brought to light."""

    status: int
    bytes: int = 0
    requests: int = 0
    problems: list[str] = field(default_factory=list)


def looked_at(page: Page, address: str, *, phone: bool, check_screen: bool) -> Found:
    """Opens the page afresh and looks at everything that can be measured."""
    problems: list[str] = []

    def said(told: Any) -> None:
        _console(told, problems)

    def broke(wrong: Any) -> None:
        problems.append(f"script: {wrong}")

    page.on("console", said)
    page.on("pageerror", broke)
    line = page.context.new_cdp_session(page)
    line.send("Page.enable")
    watch = line.send("Page.addScriptToEvaluateOnNewDocument", {"source": _WATCH})
    try:
        return _looked(page, address, line, problems, phone=phone, check_screen=check_screen)
    finally:
        page.remove_listener("console", said)
        page.remove_listener("pageerror", broke)
        line.send("Page.removeScriptToEvaluateOnNewDocument", watch)
        line.detach()


def _looked(
    page: Page, address: str, line: CDPSession, problems: list[str], *, phone: bool,
    check_screen: bool,
) -> Found:  # fmt: skip
    sizes = _weighed(line)
    answer = page.goto(address, wait_until="load")
    assert answer is not None
    found = Found(status=answer.status, bytes=sum(sizes), requests=len(sizes), problems=problems)
    if found.bytes > MOST_BYTES:
        problems.append(f"weighs {found.bytes} bytes")
    if found.requests > MOST_REQUESTS:
        problems.append(f"{found.requests} requests")
    # What stands on the phone alone is read from it first: that page is looked at, not the waiting.
    expect(page.locator("[data-looking]")).to_have_count(0)
    if page.evaluate("window.__shift") >= MOST_SHIFT:
        # A busy computer may hand a page over in pieces; what a page moves itself, it moves again.
        page.reload(wait_until="load")
        expect(page.locator("[data-looking]")).to_have_count(0)
    if (shift := page.evaluate("window.__shift")) >= MOST_SHIFT:
        problems.append(f"layout shift {shift} of {page.evaluate('window.__shifted')}")
    problems += [f"refused by the policy: {each}" for each in page.evaluate("window.__refused")]
    problems += [f"small: {each}" for each in page.evaluate(_SMALL, LEAST_TARGET_PX)]
    least = LEAST_ANSWER_PX if check_screen else LEAST_TARGET_PX
    problems += [f"low: {each}" for each in page.evaluate(_LOW_TICKS, least)]
    problems += [f"no word beside the shape: {each}" for each in page.evaluate(_WORDLESS)]
    problems += [f"style attribute in a drawing: {each}" for each in page.evaluate(_BLACK)]
    problems += [f"without a colour: {each}" for each in page.evaluate(_UNPAINTED)]
    problems += [f"cut off: {each}" for each in page.evaluate(_CUT)]
    problems += _axe_says(page, check_screen=check_screen)
    problems += [f"moves: {each}" for each in page.evaluate(_MOVING)]
    if phone:
        problems += [f"small letters: {each}" for each in page.evaluate(_TINY, LEAST_LETTER_PX)]
        problems += _grey(page, "in grey", check_screen=check_screen)
    page.emulate_media(color_scheme="dark")
    problems += [f"dark: {each}" for each in _axe_says(page, check_screen, only="contrast")]
    if phone:
        problems += _grey(page, "dark, in grey", check_screen=check_screen)
        page.emulate_media(color_scheme="light", forced_colors="active")
        problems += _grey(page, "forced colours", check_screen=check_screen)
        problems += [f"no answer is marked: {each}" for each in page.evaluate(_UNMARKED)]
    page.emulate_media(color_scheme="light", forced_colors="none")
    problems += _roomy(page, phone=phone)
    return found


def _grey(page: Page, how: str, *, check_screen: bool) -> list[str]:
    least = [*(STRICT if check_screen else PLAIN), _SHAPES]
    return [f"{how}: {each}" for each in page.evaluate(DIM_WORDS, least)]


def _console(told: Any, problems: list[str]) -> None:
    if told.type in {"error", "warning"}:
        problems.append(f"console: {told.text}")


def _weighed(line: CDPSession) -> list[int]:
    """Collects what comes over the line, as for a first visit.

    Without what the phone keeps for work without signal: no page waits for it, and whether it has
    come when the page is loaded says how busy the computer is.
    """
    sizes: list[int] = []
    kept: set[str] = set()

    def asked(told: Any) -> None:
        if urlsplit(told["request"]["url"]).path == reverse("maintenance:phone_pack"):
            kept.add(told["requestId"])

    def came(told: Any) -> None:
        if told["requestId"] not in kept:
            sizes.append(int(told["encodedDataLength"]))

    line.send("Network.enable")
    line.send("Network.setCacheDisabled", {"cacheDisabled": True})
    line.on("Network.requestWillBeSent", asked)
    line.on("Network.loadingFinished", came)
    return sizes


def _axe_says(page: Page, check_screen: bool, only: str = "") -> list[str]:
    contrast = ["color-contrast", *(["color-contrast-enhanced"] if check_screen else [])]
    options: dict[str, Any] = {
        "resultTypes": ["violations"],
        "rules": {
            "target-size": {"enabled": True},
            "color-contrast-enhanced": {"enabled": check_screen},
        },
    }
    if only:
        options = {"resultTypes": ["violations"], "runOnly": {"type": "rule", "values": contrast}}
    if not page.evaluate("'axe' in window"):
        page.evaluate(_axe.axe_script)
    said = page.evaluate(_VIOLATIONS_OF_EACH_LOOK if only else _VIOLATIONS, options)
    return [
        f"axe {each['id']}: {node['target']} {node.get('failureSummary', '')}"
        for each in said
        for node in each["nodes"]
        # Half under the bar at the thumb: it scrolls out from there.
        if "partially obscured" not in node.get("failureSummary", "")
    ]


def _roomy(page: Page, *, phone: bool) -> list[str]:
    """Nothing scrolls sideways, is cut or covered: as it is, larger, and with letters set wide."""
    wrong = []
    if over := page.evaluate(_WIDER):
        wrong.append(f"scrolls sideways by {over} px")
    narrow = NARROWEST_PX if phone else DOUBLED_PX
    before = page.viewport_size
    page.set_viewport_size({"width": narrow, "height": 568 if phone else 450})
    if over := page.evaluate(_WIDER):
        wrong.append(f"scrolls sideways by {over} px at {narrow} px")
    wrong += [f"at {narrow} px: {each}" for each in page.evaluate(_OVER)]
    if before is not None:
        page.set_viewport_size(before)
    page.evaluate(_SPACED)
    if over := page.evaluate(_WIDER):
        wrong.append(f"scrolls sideways by {over} px with wide letters")
    wrong += [f"with wide letters: {each}" for each in page.evaluate(_OVER)]
    page.evaluate(_OPENED)
    if over := page.evaluate(_WIDER):
        wrong.append(f"scrolls sideways by {over} px with all that folds opened")
    return wrong
