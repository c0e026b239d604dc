"""Looks at one page as a critical person would, and says everything that is wrong with it."""

from dataclasses import dataclass, field
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

MOST_BYTES = 100_000
MOST_REQUESTS = 8
# Nothing moves; below this it is a rounding of half-drawn pages, a few millionths.
MOST_SHIFT = 0.001
# WCAG 2.2, 2.5.5 (target size, enhanced): 44 by 44 CSS pixels.
LEAST_TARGET_PX = 44
# 12 mm at 96 CSS pixels an inch, for a thumb in a glove (common practice, no source).
LEAST_ANSWER_PX = 45
# WCAG 2.2, 1.4.10 (reflow): a page of 1280 pixels at 400 % is 320 pixels wide.
NARROWEST_PX = 320

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
    page.on("console", lambda told: _console(told, problems))
    page.on("pageerror", lambda wrong: problems.append(f"script: {wrong}"))
    page.add_init_script(_WATCH)
    sizes = _weighed(page)
    answer = page.goto(address, wait_until="load")
    assert answer is not None
    found = Found(status=answer.status, bytes=sum(sizes), requests=len(sizes), problems=problems)
    if found.bytes > MOST_BYTES:
        problems.append(f"weighs {found.bytes} bytes")
    if found.requests > MOST_REQUESTS:
        problems.append(f"{found.requests} requests")
    if page.evaluate("window.__shift") >= MOST_SHIFT:
        # A busy computer may hand a page over in pieces; what a page moves itself, it moves again.
        page.reload(wait_until="load")
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
    page.emulate_media(color_scheme="dark")
    problems += [f"dark: {each}" for each in _axe_says(page, check_screen, only="contrast")]
    page.emulate_media(color_scheme="light")
    problems += _roomy(page, phone=phone)
    return found


def _console(told: Any, problems: list[str]) -> None:
    if told.type in {"error", "warning"}:
        problems.append(f"console: {told.text}")


def _weighed(page: Page) -> list[int]:
    """Collects what comes over the line, as for a first visit."""
    sizes: list[int] = []
    line = page.context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Network.setCacheDisabled", {"cacheDisabled": True})
    line.on("Network.loadingFinished", lambda told: sizes.append(int(told["encodedDataLength"])))
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
    """Nothing scrolls sideways: as it is, at 400 %, and with letters set wide."""
    wrong = []
    if over := page.evaluate(_WIDER):
        wrong.append(f"scrolls sideways by {over} px")
    if phone:
        page.set_viewport_size({"width": NARROWEST_PX, "height": 568})
        if over := page.evaluate(_WIDER):
            wrong.append(f"scrolls sideways by {over} px at {NARROWEST_PX} px")
        page.set_viewport_size({"width": 360, "height": 640})
    page.evaluate(_SPACED)
    if over := page.evaluate(_WIDER):
        wrong.append(f"scrolls sideways by {over} px with wide letters")
    return wrong
