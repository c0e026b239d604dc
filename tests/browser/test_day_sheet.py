"""The day sheet by keyboard alone, by thumb, without script, and on paper."""

import io
import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from browser.seen import Depot, Opener
from browser.test_keyboard import step_to

pytestmark = pytest.mark.browser


def first_left(page: Page) -> Any:
    return page.locator("section:has(#left) input[name=job]").first


def number_of(radio: Any) -> str:
    return str(radio.locator("xpath=..").locator("b").inner_text())


def column(page: Page, name: str) -> Any:
    return page.locator(".day-columns > section").filter(has_text=name)


def test_given_out_moved_and_taken_back_by_keyboard(open_page: Opener, depot: Depot) -> None:
    page = open_page(name="sorcha")
    page.goto(f"/jobs/day?depot={depot.found['depot']}")
    radio = first_left(page)
    step_to(page, radio)
    page.keyboard.press("Space")
    expect(radio).to_be_checked()
    number = number_of(radio)
    # Within the jobs the arrows move; all of them are one step on the way to the person.
    step_to(page, page.get_by_label("To", exact=True))
    page.keyboard.press("End")  # his name is the last, by its first letter
    step_to(page, page.get_by_role("button", name="Give out"))
    page.keyboard.press("Enter")

    expect(page.get_by_role("status")).to_contain_text(f"{number} is with Łukasz")
    mine = column(page, "Łukasz")
    expect(mine).to_contain_text(number)
    chosen = mine.locator("input:checked")
    expect(chosen).to_be_focused()
    before = mine.locator("b").all_inner_texts()
    assert before[-1] == number

    step_to(page, page.locator(".day-bar summary"))
    page.keyboard.press("Enter")
    step_to(page, page.get_by_role("button", name="Earlier"))
    page.keyboard.press("Enter")
    expect(column(page, "Łukasz").locator("b")).to_have_text([*before[:-2], number, before[-2]])

    step_to(page, page.locator(".day-bar summary"))
    page.keyboard.press("Enter")
    step_to(page, page.get_by_role("button", name="Take back"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text(f"{number} is taken back")
    expect(column(page, "Łukasz")).not_to_contain_text(number)


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_given_out_by_thumb(script: bool, open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=True, name="sorcha", script=script)
    page.goto(f"/jobs/day?depot={depot.found['depot']}")
    radio = first_left(page)
    number = number_of(radio)
    radio.tap()
    page.get_by_label("To", exact=True).select_option(label="Jory Applegarth")
    page.get_by_role("button", name="Give out").tap()

    expect(page.get_by_role("status")).to_contain_text(f"{number} is with Jory")
    expect(column(page, "Jory")).to_contain_text(number)
    page.locator(".day-bar summary").tap()
    page.get_by_role("button", name="Take back").tap()
    expect(page.get_by_role("status")).to_contain_text("nobody has it")


def test_printed_it_is_one_page_a_person(open_page: Opener, depot: Depot) -> None:
    page = open_page(name="sorcha")
    page.goto(f"/jobs/day?depot={depot.found['depot']}")
    people = page.locator(".day-columns > section h2").all_inner_texts()
    assert len(people) >= 2

    sheets = PdfReader(io.BytesIO(page.pdf(format="A4"))).pages

    told = [sheet.extract_text() for sheet in sheets]
    assert len(told) == len(people)
    for words, person in zip(told, people, strict=True):
        assert person.split()[0] in words
        assert "Not given out" not in words
    assert re.search(r"J-\d+", told[[p.startswith("Łukasz") for p in people].index(True)])
