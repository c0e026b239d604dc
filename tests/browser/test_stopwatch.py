"""How long a check takes a person: its taps are counted, its seconds estimated and marked so."""

import re

import pytest
from playwright.sync_api import expect

from browser.person import Thumb
from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser
MOST_TAPS = 11
LONGEST_S = 60.0
NAME = "Ansa, plot 9"


@pytest.mark.parametrize("first_time", [True, False], ids=["first", "again"])
def test_a_check_of_eight_items_is_eleven_taps_and_under_a_minute(
    first_time: bool, open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True)
    if not first_time:
        code = depot.found["labels"]["MX-204"]
        page.goto(f"/q/{code}/check")
        page.get_by_label("Your name").fill(NAME)
        for question in page.locator("fieldset.question").all():
            question.get_by_text("OK", exact=True).tap()
        page.get_by_role("button", name="Send").tap()
        expect(page.get_by_text(re.compile("^Sent and sealed at"))).to_be_visible()
    thumb = Thumb()
    page.goto(f"/q/{depot.found['labels']['MX-204']}")
    thumb.tap(page.get_by_role("link", name="Start check"))
    questions = page.locator("fieldset.question")
    expect(questions.first).to_be_visible()
    assert questions.count() == 8
    for question in questions.all():
        thumb.tap(question.get_by_text("OK", exact=True))
    if first_time:
        thumb.tap(page.get_by_label("Your name"))
        thumb.type(page.get_by_label("Your name"), NAME)
    else:
        expect(page.get_by_label("Your name")).to_have_value(NAME)
    thumb.tap(page.get_by_role("button", name="Send"))

    expect(page.get_by_text(re.compile("^Sent and sealed at"))).to_be_visible()
    assert thumb.taps <= MOST_TAPS
    assert thumb.estimated_s <= LONGEST_S
    print(f"{thumb.taps} taps, {thumb.keys} keys: {thumb.estimated_s:.0f} s, an estimate")


def test_what_happens_next_is_said_in_twelve_words(open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=True)
    page.goto(f"/q/{depot.found['labels']['MX-204']}/check")
    page.get_by_label("Your name").fill(NAME)
    for nth, question in enumerate(page.locator("fieldset.question").all()):
        question.get_by_text("Could not check" if nth == 0 else "OK", exact=True).tap()
        if nth == 0:
            # Sent without a word, the page goes to where one is missing; a press writes it.
            page.get_by_role("button", name="Send").tap()
            expect(question.get_by_role("textbox")).to_be_focused()
            question.get_by_role("button", name="No power").tap()
            expect(question.get_by_role("textbox")).to_have_value("No power")
    page.get_by_role("button", name="Send").tap()

    expect(page.locator(".lead .mark")).to_have_text("Not yet passed")
    told = page.locator(".lead strong").inner_text()
    assert len(told.split()) <= 12
    # Readable without colour: each mark is a drawn shape and its word.
    shape = page.locator(".lead .mark svg.shape")
    expect(shape).to_be_visible()
