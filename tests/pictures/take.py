"""Takes the pictures of the README and of the guides from a running demo:
``python tests/pictures/take.py ADDRESS``.

Start the demo afresh first (``manage.py depot --demo``), since one machine is stopped on the way.
"""

import argparse
import io
import json
import re
from collections.abc import Callable
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Locator,
    Page,
    ViewportSize,
    sync_playwright,
)

ROOT = Path(__file__).parent.parent.parent
FOLDER = ROOT / "fixtures" / "pictures"
MOST_BYTES = 60_000
COLOURS = 24
# The guides are read on a phone, some of them kept there for where no signal is.
GUIDE_FOLDER = ROOT / "plant" / "static" / "plant" / "guide"
MOST_GUIDE_BYTES = 40_000
GUIDE_COLOURS = 24
# As the pages of the guides leave room for them: plant/help_texts.py.
SHOT_SIZES = {"phone": (360, 700), "desk": (1100, 700)}
PHONE: ViewportSize = {"width": 360, "height": 640}
# What the fitter finds on the bench.
MEASURED = {
    "What stands on the belt": "13A690 660 Li",
    "Motor pulley, diameter": "80 mm",
    "Driven pulley, diameter": "180 mm",
    "Motor pulley, groove depth": "12.7 mm",
    "Driven pulley, groove depth": "12.9 mm",
    "This belt's own top width when new": "13.0 mm",
    "Centre distance now": "136 mm",
    "Slot: room inwards from here": "14 mm",
    "Slot: room left outwards from here": "6 mm",
}
HOW_KNOWN = ("driver_m", "driven_m", "centres_m", "slot_in_m", "slot_out_m")
DESK: ViewportSize = {"width": 1120, "height": 740}


def main() -> None:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("address", nargs="?", default="http://localhost:8000")
    told.add_argument("--chromium", default="/usr/bin/chromium")
    told.add_argument("--only", default="", help="those whose name begins so")
    given = told.parse_args()
    FOLDER.mkdir(exist_ok=True)
    GUIDE_FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=given.chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        for name, take in STEPS.items():
            if name.startswith(given.only):
                keep(name, take(browser, given.address))
        for name, (who, at, then) in GUIDE_PAGES.items():
            if name.startswith(given.only):
                keep_small(name, guide_page(browser, given.address, name, who, at, then))
        if "phone-check".startswith(given.only):
            for name, picture in checked(browser, given.address).items():
                keep_small(name, picture)


def opened(browser: Browser, address: str, size: ViewportSize) -> BrowserContext:
    return browser.new_context(
        base_url=address, viewport=size, locale="en-GB", reduced_motion="reduce",
        service_workers="block", color_scheme="light",
    )  # fmt: skip


def signed_in(browser: Browser, address: str, *, name: str, size: ViewportSize) -> Page:
    page = opened(browser, address, size).new_page()
    people = json.loads((ROOT / "fixtures/demo/people.json").read_text(encoding="utf-8"))
    page.goto("/sign-in")
    page.get_by_label("Sign-in name").fill(name)
    page.get_by_label("Password").fill(people["password"])
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda at: "/sign-in" not in at)
    return page


def machine(browser: Browser, address: str) -> bytes:
    """A machine found by its number: its plate, its three marks, and why it is due."""
    page = signed_in(browser, address, name="marit", size=DESK)
    page.keyboard.press("/")
    page.keyboard.type("mx205")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="MX-205").wait_for()
    return page.screenshot()


def check(browser: Browser, address: str) -> bytes:
    """A check on a phone: the question, a wrong answer, what comes of it."""
    page = signed_in(browser, address, name="kofi", size=PHONE)
    page.goto("/find?q=PC-101")
    page.get_by_role("link", name="Start check").click()
    questions = page.locator("fieldset.question")
    questions.first.wait_for()
    guard = questions.filter(has_text=re.compile("belt", re.IGNORECASE)).first
    for question in questions.all():
        question.get_by_text("OK", exact=True).click()
    guard.get_by_text("Wrong", exact=True).click()
    guard.get_by_role("textbox").fill("Belt guard gone")
    guard.scroll_into_view_if_needed()
    asked = page.screenshot()
    page.get_by_role("button", name="Send").click()
    page.get_by_text(re.compile("^Sent and sealed")).wait_for()
    return beside(asked, page.screenshot())


def drive(browser: Browser, address: str) -> bytes:
    """The drive worked out: the answer first, then the belt in its groove, drawn to scale."""
    page = signed_in(browser, address, name="lukasz", size={"width": 1240, "height": 900})
    page.goto("/find?q=MX-203")
    page.get_by_role("link", name="Drive", exact=True).click()
    page.get_by_role("link", name="The drive’s data").click()
    for label, typed in MEASURED.items():
        page.get_by_label(label).first.fill(typed)
    for label in HOW_KNOWN:
        page.locator(f"select[name={label}_mark]").select_option("measured")
    page.get_by_label("Yes, tight").check()
    page.get_by_role("button", name="Save this drive").click()
    page.get_by_role("link", name="Measure", exact=True).click()
    page.get_by_label("Top width of the belt").fill("11.2 mm")
    page.get_by_role("button", name="Save this width").click()
    page.get_by_role("heading", name="Drawn to scale").wait_for()
    # The belt and its pulleys are what is shown; the chart of old widths would weigh too much.
    page.locator(".two-columns figure").nth(4).evaluate("chart => chart.remove()")
    whole = page.screenshot(full_page=True)
    return under(cut(whole, page.locator(".opening")), cut(whole, page.locator(".two-columns")))


def due(browser: Browser, address: str) -> bytes:
    """Due work, each line with the sentence that says why; the timer raises it as jobs."""
    page = signed_in(browser, address, name="sorcha", size=DESK)
    page.goto("/due")
    return page.screenshot()


def sheet(browser: Browser, address: str) -> bytes:
    """The service sheet, with the calculations of the drive."""
    page = signed_in(browser, address, name="marit", size=DESK)
    page.goto("/find?q=MX-203")
    page.get_by_role("button", name="Service sheet").click()
    take = page.get_by_role("link", name="Take the file (PDF)")
    while not take.count():
        page.wait_for_timeout(500)
        page.reload()
    with page.expect_download() as coming:
        take.click()
    leaf = pypdfium2.PdfDocument(coming.value.path().read_bytes())[0]
    out = io.BytesIO()
    leaf.render(scale=1.3, grayscale=True).to_pil().save(out, "PNG")
    return out.getvalue()


# Of a guide: who looks, at which page, and the words at its upper edge, "" for the top of the page.
# The name says on what: it tells the page how large the picture is (plant/help_texts.py).
GUIDE_PAGES: dict[str, tuple[str, str, str]] = {
    "phone-machine": ("kofi", "/find?q=PC-102", ""),
    "phone-job": ("lukasz", "/jobs", "J-"),
    "phone-drive": ("lukasz", "/find?q=MX-203", "Drive"),
    "desk-today": ("sorcha", "/", ""),
    "desk-day": ("sorcha", "/jobs/day?depot=1", "Day after#Not given out"),
    "desk-out": ("dragan", "/out-and-in?q=mx", ""),
    "desk-held": ("marit", "/held", ""),
    "desk-due": ("petra", "/due", ""),
    "desk-office": ("tobiah", "/office", ""),
    "desk-paper": ("marit", "/find?q=MX-205", "#Paper"),
    "desk-tests": ("marit", "/tests", ""),
    "desk-health": ("tobiah", "/health", ""),
}


def guide_page(browser: Browser, address: str, name: str, who: str, at: str, then: str) -> bytes:
    """A page as its user finds it; then: a link that is followed, # and the heading looked at."""
    page = signed_in(browser, address, name=who, size=size_of(name))
    page.goto(at)
    link, _, heading = then.partition("#")
    if link:
        exact = not link.endswith("-")
        page.locator("main").get_by_role("link", name=link, exact=exact).first.click()
        page.wait_for_load_state()
    if heading:
        page.get_by_role("heading", name=heading, exact=True).evaluate(
            "e => e.scrollIntoView({block: 'start'})"
        )
    return page.screenshot()


def checked(browser: Browser, address: str) -> dict[str, bytes]:
    """A check answered, and what comes of it; of a machine that another picture does not show."""
    page = signed_in(browser, address, name="kofi", size=size_of("phone-check"))
    page.goto("/find?q=PC-102")
    page.get_by_role("link", name="Start check").click()
    questions = page.locator("fieldset.question")
    questions.first.wait_for()
    for question in questions.all():
        question.get_by_text("OK", exact=True).click()
    questions.first.scroll_into_view_if_needed()
    asked = page.screenshot()
    page.get_by_role("button", name="Send").click()
    page.get_by_text(re.compile("^Sent and sealed")).wait_for()
    return {"phone-check": asked, "phone-sent": page.screenshot()}


def size_of(name: str) -> ViewportSize:
    width, height = SHOT_SIZES[name.partition("-")[0]]
    return {"width": width, "height": height}


STEPS: dict[str, Callable[[Browser, str], bytes]] = {
    "machine": machine,
    "check": check,
    "drive": drive,
    "due": due,
    "sheet": sheet,
}


def beside(left: bytes, right: bytes) -> bytes:
    one, two = Image.open(io.BytesIO(left)), Image.open(io.BytesIO(right))
    both = Image.new("RGB", (one.width + two.width + 24, max(one.height, two.height)), "#888")
    both.paste(one, (0, 0))
    both.paste(two, (one.width + 24, 0))
    return as_png(both)


def under(above: bytes, below: bytes) -> bytes:
    one, two = Image.open(io.BytesIO(above)), Image.open(io.BytesIO(below))
    both = Image.new("RGB", (max(one.width, two.width), one.height + two.height), "white")
    both.paste(one, (0, 0))
    both.paste(two, (0, one.height))
    return as_png(both)


def cut(whole: bytes, part: Locator) -> bytes:
    """That part of a picture of the whole page, with a margin."""
    box = part.first.bounding_box()
    assert box is not None
    left, top = round(box["x"]) - 16, round(box["y"]) - 4
    frame = (left, top, left + round(box["width"]) + 32, top + round(box["height"]) + 8)
    return as_png(Image.open(io.BytesIO(whole)).crop(frame))


def as_png(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def keep(name: str, picture: bytes) -> None:
    """Saves it with few colours, and refuses what would make the README heavy."""
    small = Image.open(io.BytesIO(picture)).convert("RGB").quantize(COLOURS)
    file = FOLDER / f"{name}.png"
    small.save(file, "PNG", optimize=True)
    size = file.stat().st_size
    if size > MOST_BYTES:
        raise SystemExit(f"{file.name} weighs {size} bytes; {MOST_BYTES} is the most.")
    print(f"{file.relative_to(ROOT)}: {small.width} x {small.height}, {size} bytes")


def keep_small(name: str, picture: bytes) -> None:
    """Saves a picture of a guide, and refuses what a phone would wait for."""
    small = Image.open(io.BytesIO(picture)).convert("RGB").quantize(GUIDE_COLOURS).convert("RGB")
    file = GUIDE_FOLDER / f"{name}.webp"
    small.save(file, "WEBP", lossless=True, method=6)
    size = file.stat().st_size
    if size > MOST_GUIDE_BYTES:
        raise SystemExit(f"{file.name} weighs {size} bytes; {MOST_GUIDE_BYTES} is the most.")
    print(f"{file.relative_to(ROOT)}: {small.width} x {small.height}, {size} bytes")


if __name__ == "__main__":
    main()
