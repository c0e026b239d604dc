"""Everything by keyboard alone, with the focus always to be seen."""

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser

MOST_STEPS = 80
_FOCUS = """() => {
  const one = document.activeElement;
  const drawn = [one, one.closest("label")].filter(Boolean).map((each) => getComputedStyle(each));
  const box = one.getClientRects()[0] || one.getBoundingClientRect();  // a link may be on two lines
  return {
    name: one.tagName,
    ring: drawn.some((style) =>
      style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2),
    inside: box.bottom > 0 && box.top < innerHeight,
    on_top: one.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2))
      || one.matches("input[type=radio], input[type=checkbox]") || one.id === "main",
  };
}"""


def step_to(page: Page, wanted: Locator) -> None:
    """Presses Tab until it is there; whatever has the focus on the way can be seen."""
    for _ in range(MOST_STEPS):
        page.keyboard.press("Tab")
        focus = page.evaluate(_FOCUS)
        if focus["name"] == "BODY":
            continue
        assert focus["ring"], f"no ring round {focus}"
        assert focus["inside"], f"out of sight: {focus}"
        assert focus["on_top"], f"covered: {focus}"
        if wanted.evaluate("one => one === document.activeElement"):
            return
    raise AssertionError(f"{wanted} is not reached by {MOST_STEPS} steps")


def test_the_first_step_leads_past_the_menu(open_page: Opener) -> None:
    page = open_page(name="marit")
    page.goto("/")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the page itself")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('main') !== null")


def test_a_stroke_goes_to_the_find_box_but_is_a_letter_in_a_field(open_page: Opener) -> None:
    page = open_page(name="marit")
    page.goto("/machines")
    find = page.get_by_role("searchbox", name="Find anything")
    page.keyboard.press("/")
    expect(find).to_be_focused()
    expect(find).to_have_value("")
    page.keyboard.type("5/16")
    expect(find).to_have_value("5/16")


# How many stops there are: a group of radio buttons is one.
_STOPS = """() => {
  const stops = [...document.querySelectorAll(
    "a[href], button, input:not([type=hidden]), select, textarea, summary")]
    .filter((one) => !one.disabled && one.checkVisibility({ visibilityProperty: true }));
  const forms = [...document.forms];
  const groups = new Set(stops.filter((one) => one.type === "radio")
    .map((one) => `${forms.indexOf(one.form)} ${one.name}`));
  return stops.filter((one) => one.type !== "radio").length + groups.size;
}"""
# The focus stands further on in the page than it did before.
_ON = """() => {
  const [before, one] = [window.__before, document.activeElement];
  window.__before = one;
  return !before
    || Boolean(before.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING);
}"""


@pytest.mark.parametrize("phone", [True, False], ids=["phone", "desk"])
def test_every_part_is_reached_in_the_order_of_reading_and_left_again(
    phone: bool, open_page: Opener
) -> None:
    page = open_page(phone=phone, name="marit")
    page.goto("/pages/parts")
    # A day is several stops: its day, month and year, and its calendar.
    days = page.locator("input[type=date]").count()
    least = page.evaluate(_STOPS)
    stops = 0
    while page.evaluate("document.activeElement.tagName") != "BODY" or not stops:
        page.keyboard.press("Tab")
        focus = page.evaluate(_FOCUS)
        if focus["name"] == "BODY":
            break
        stops += 1
        assert stops <= least + 4 * days, "the focus goes round and round"
        assert focus["ring"], f"no ring round {focus}"
        assert focus["inside"], f"out of sight: {focus}"
        assert focus["on_top"], f"covered: {focus}"
        assert page.evaluate(_ON) or focus["name"] == "INPUT", f"backwards: {focus}"
    assert stops >= least


def test_escape_closes_a_reason_and_the_focus_goes_back(open_page: Opener) -> None:
    page = open_page(name="marit")
    page.goto("/pages/parts")
    reason = page.locator("details.reason").first
    reason.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(reason.locator("p").first).to_be_visible()
    page.keyboard.press("Tab")
    page.keyboard.press("Escape")
    expect(reason.locator("p").first).to_be_hidden()
    expect(reason.locator("summary")).to_be_focused()


@pytest.mark.parametrize("phone", [True, False], ids=["phone", "desk"])
def test_a_check_by_keyboard(phone: bool, open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=phone)
    number = "SP-101" if phone else "SP-102"
    page.goto(f"/q/{depot.found['labels'][number]}")
    step_to(page, page.get_by_role("link", name="Start check"))
    page.keyboard.press("Enter")
    questions = page.locator("fieldset.question")
    expect(questions.first).to_be_visible()
    for question in questions.all():
        step_to(page, question.get_by_role("radio", name="OK", exact=True))
        page.keyboard.press("Space")
    step_to(page, page.get_by_label("Your name"))
    page.keyboard.type("Ansa, plot 9")
    step_to(page, page.get_by_role("button", name="Send"))
    page.keyboard.press("Enter")
    expect(page.locator(".lead").first).to_have_text("OK to use")


def test_a_job_is_finished_by_keyboard(open_page: Opener, depot: Depot) -> None:
    page = open_page(name="lukasz")
    page.goto(f"/jobs/{depot.found['job_by_keys']}")
    step_to(page, page.get_by_role("link", name="Work done"))
    page.keyboard.press("Enter")
    expect(page.get_by_label("Symptom")).to_be_visible()
    for label, words in (
        ("Symptom", "Due by plan"), ("Cause", "Due by plan"), ("Action", "All steps done"),
        ("Your minutes", "x"),
    ):  # fmt: skip
        step_to(page, page.get_by_label(label))
        page.keyboard.type(words)
    page.keyboard.press("Enter")
    # The focus is on what is wrong; what was typed is still there.
    expect(page.get_by_label("Your minutes")).to_be_focused()
    expect(page.get_by_label("Action")).to_have_value("All steps done")
    page.keyboard.press("Control+a")
    page.keyboard.type("25")
    page.keyboard.press("Enter")
    expect(page.locator(".lead").first).to_contain_text(re.compile("Work done"))
