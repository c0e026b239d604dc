"""The list of due work, walked: by keyboard alone at a desk, by thumb at the size of a phone."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from browser.seen import Depot, Opener
from browser.test_keyboard import step_to

pytestmark = pytest.mark.browser
Ask = Callable[..., list[tuple[Any, ...]]]
SOON = """
    select d.id, m.number, l.title, d.due_on from maintenance_dueline d
    join plant_machine m on m.id = d.machine_id join maintenance_planline l on l.id = d.line_id
    where not l.is_test and l.every_months >= 3 and d.put_off_to is null and d.due_on >= date('now')
    and d.raise_on <= date('now') and m.place in ('out', 'yard')
    order by d.due_on desc, d.id limit 1
"""
DONE = """
    select c.id, c.due_line_id, c."on" from maintenance_completion c
    join maintenance_dueline d on d.id = c.due_line_id
    join plant_machine m on m.id = d.machine_id
    where c.struck_by_id is null and c.included_in_id is null and c.test_id is null
    and m.place in ('out', 'yard') and c.id <> ? order by c."on", c.id limit 1
"""


def day(moment: date) -> str:
    return f"{moment:%-d %b %Y}"


def fits(page: Page) -> None:
    """Nothing to be pushed sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0, page.url


def test_a_planner_reads_why_and_puts_work_off_by_keyboard(open_page: Opener, ask: Ask) -> None:
    pk, number, title, due_on = ask(SOON)[0]
    due = date.fromisoformat(due_on)
    page = open_page(name="marit")
    page.goto("/due")
    step_to(page, page.get_by_label("How it stands"))
    page.keyboard.type("Due soon")
    step_to(page, page.get_by_label("Machine number"))
    page.keyboard.type(number.lower().replace("-", " "))
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("state=soon"))
    row = page.get_by_role("row").filter(has_text=title)
    expect(row).to_contain_text("so due ")
    step_to(page, row.get_by_role("link", name=title))
    page.keyboard.press("Enter")

    expect(page.locator(".lead").first).to_contain_text(day(due))
    step_to(page, page.get_by_role("link", name="Put off", exact=True))
    page.keyboard.press("Enter")
    reason = "The part comes a day later."
    page.get_by_label("Put off to").fill((due + timedelta(days=90)).isoformat())
    step_to(page, page.get_by_label("Why"))
    page.keyboard.type(reason)
    step_to(page, page.get_by_role("button", name="Put it off"))
    page.keyboard.press("Enter")

    expect(page.locator("main")).to_contain_text("can be put off by")
    expect(page.get_by_label("Why")).to_have_value(reason)
    page.get_by_label("Put off to").fill((due + timedelta(days=1)).isoformat())
    page.get_by_label("Put off to").press("Enter")
    expect(page).to_have_url(re.compile(f"/due/lines/{pk}$"))
    expect(page.locator("section", has_text="Put off").last).to_contain_text(reason)
    expect(page.locator("main")).to_contain_text(f"Put off to {day(due + timedelta(days=1))}")


def test_a_foreman_corrects_a_day_and_looks_ahead_on_a_phone(
    open_page: Opener, depot: Depot, ask: Ask
) -> None:
    # Another than the one whose page is looked at elsewhere: what is corrected has none.
    pk, line, done_on = ask(DONE, depot.found["completion"])[0]
    right = date.fromisoformat(done_on) - timedelta(days=1)
    page = open_page(phone=True, name="marit")
    page.goto(f"/due/lines/{line}")
    fits(page)
    page.locator(f"a[href$='/{pk}/correct']").tap()
    page.get_by_label("It was done on another day").tap()
    page.get_by_label("Day it was done").fill(right.isoformat())
    page.get_by_label("Why").fill("The day on the paper was read wrong.")
    fits(page)
    page.get_by_role("button", name="Correct it").tap()

    done = page.locator("section", has=page.get_by_role("heading", name="When it was done"))
    expect(done).to_contain_text(day(right))
    expect(done).to_contain_text("Struck out by")
    page.goto("/due")
    fits(page)
    page.get_by_role("link", name="The weeks ahead").tap()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    fits(page)
