"""With every colour taken away each mark is told by shape and word, and words stay clear."""

import io
from itertools import combinations
from typing import Any

import pytest
from PIL import Image, ImageChops
from playwright.sync_api import Locator, Page

from browser.look import DIM_WORDS, PLAIN, STRICT
from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser

# Of one set of marks no two may look alike; the sets stand under headings of their own.
SETS = (
    ("In yard", "In workshop", "Out", "Moving", "Laid up", "Missing"),
    ("OK to use", "Use, with a note", "Do not use", "Not yet passed"),
    ("Nothing due", "Due soon", "Overdue", "Needed before use"),
)
# How much of the box of two shapes has to differ (common practice, no source).
LEAST_APART = 0.08


def without_colour(page: Page) -> None:
    """As somebody sees who sees no colour; proved by the pixels."""
    assert not _is_grey(page), "no colour to take away, so this would prove nothing"
    line = page.context.new_cdp_session(page)
    line.send("Emulation.setEmulatedVisionDeficiency", {"type": "achromatopsia"})
    assert _is_grey(page)


def _is_grey(page: Page) -> bool:
    red, green, blue = _seen(page).split()
    ends = [ImageChops.difference(red, each).getextrema() for each in (green, blue)]
    return max(high for _, high in ends) <= 2  # type: ignore[type-var, operator]


def _seen(what: Page | Locator) -> Image.Image:
    return Image.open(io.BytesIO(what.screenshot())).convert("RGB")


def shapes_on(page: Page) -> dict[str, Image.Image]:
    """Of each mark that shows: its word, and its shape as ink in a box of one size."""
    found: dict[str, Image.Image] = {}
    for mark in page.locator(".mark").all():
        word = mark.inner_text().strip()
        assert word, "a mark without a word"
        shape = mark.locator("svg.shape")
        if word in found or not mark.is_visible() or shape.count() == 0:
            continue
        box = _seen(shape).convert("L").resize((48, 48))
        # Paper is light and ink is dark, whatever the tone.
        found[word] = box.point([255 if level < 150 else 0 for level in range(256)])
    return found


def apart(one: Image.Image, other: Image.Image) -> float:
    """The share of the box in which two shapes differ."""
    return sum(1 for each in ImageChops.difference(one, other).tobytes() if each) / (48 * 48)


def test_marks_are_told_by_shape_and_word_and_words_stay_clear(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True, name="marit")
    stopped, checked = depot.found["stopped"], depot.found["machine"]
    pages: list[tuple[str, tuple[float, float]]] = [
        (f"/machines/{stopped}", PLAIN), ("/due", PLAIN), ("/machines", PLAIN),
        (f"/machines/{checked}/check", STRICT),
    ]  # fmt: skip
    page.goto(pages[0][0])
    without_colour(page)
    shapes: dict[str, Image.Image] = {}
    for address, least in pages:
        page.goto(address)
        assert page.evaluate(DIM_WORDS, [*least, "none"]) == [], address
        shapes |= shapes_on(page)

    seen: dict[str, Any] = {}
    for words in SETS:
        known = [word for word in words if word in shapes]
        # The one mark that has no shape says that there is nothing to see.
        assert len(known) >= 3, (words, sorted(shapes))
        for one, other in combinations(known, 2):
            seen[f"{one} and {other}"] = apart(shapes[one], shapes[other])
    assert {pair: share for pair, share in seen.items() if share < LEAST_APART} == {}

    # On the check page an answer is told by its word, and the chosen one by the shape of its tick.
    answers = page.locator("fieldset.question .answers label")
    assert [each.strip() for each in answers.all_inner_texts()[:3]] == [
        "OK", "Wrong", "Could not check",
    ]  # fmt: skip
    tick = answers.nth(1).locator("input")
    blank = _seen(tick).convert("L")
    answers.nth(1).tap()
    chosen = _seen(tick).convert("L")
    changed = ImageChops.difference(blank, chosen).point([level > 60 for level in range(256)])
    assert sum(changed.tobytes()) > 0.1 * chosen.width * chosen.height
