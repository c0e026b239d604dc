"""Belts on a phone: a blank one found and taken, one that runs out ordered, a part withdrawn."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from browser.seen import Opener
from browser.test_walks import Taps

pytestmark = pytest.mark.browser


def test_a_blank_belt_is_found_and_its_twin_taken_to_the_job_in_two_taps(
    open_page: Opener, ask: Callable[..., list[tuple[Any, ...]]]
) -> None:
    page = open_page(phone=True, name="lukasz")
    page.goto("/belts")
    page.get_by_role("link", name="Find a belt").tap()
    page.get_by_text("By measuring a belt without marks").tap()
    for label, figure in (
        ("Length round the outside", "710"),
        ("Top width", "12.6"),
        ("Height (thickness)", "8.0"),
    ):
        page.get_by_label(label).fill(figure)
    page.get_by_label("Inside of the belt").select_option("no")
    page.get_by_role("button", name="Which belt is it?").tap()

    expect(page.locator(".lead")).to_contain_text("A26")
    first = page.locator("ul.lines > li").first
    expect(first.get_by_role("link", name="Main rack, Quillmere yard")).to_be_visible()
    expect(first).to_contain_text(re.compile(r"Main rack.*: \d+, counted"))
    expect(first.get_by_role("link", name="MX-201")).to_be_visible()

    jobs = ask(
        "select j.id from maintenance_job j join plant_machine m on m.id = j.machine_id "
        "where m.number = 'MX-201' and j.state not in ('closed', 'called off') limit 1"
    )
    page.goto(f"/jobs/{jobs[0][0]}")
    tap = Taps()
    tap(page.get_by_role("link", name="Take a part"))
    tap(page.get_by_role("button", name=re.compile("Take 1 x A26 from Main rack")))
    expect(page.locator("section", has=page.get_by_role("heading", name="Parts"))).to_contain_text(
        "1 of A26"
    )
    assert tap.count == 2


def test_the_belt_that_runs_out_first_is_ordered_and_a_part_is_withdrawn(
    open_page: Opener,
) -> None:
    page = open_page(phone=True, name="sorcha")
    page.goto("/due")
    belts = page.locator("section", has=page.get_by_role("heading", name="Belts", exact=True))
    line = belts.locator("li").filter(has_text="Order a belt").first
    expect(line).to_contain_text(re.compile(r"Order the next belt by \d+ \w+ \d{4}"))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    machine = line.get_by_role("link").first.inner_text()
    belts.get_by_role("link", name="Running out").tap()
    drawing = page.locator("figure.drawing svg[role=img]")
    expect(drawing).to_be_visible()
    expect(drawing).to_contain_text(machine)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360

    page.goto("/due")
    mine = belts.locator("li").filter(has_text=machine)
    mine.get_by_role("link", name=re.compile("Order a belt")).tap()
    page.get_by_role("link", name="Order it").tap()
    page.get_by_label("It is ordered").check()
    page.get_by_label("From where, or where it lies").fill("Belt counter, Mill Street")
    page.get_by_role("button", name="Save, the order is done").tap()
    expect(page.locator(".message").first).to_contain_text("saved and sealed")
    page.goto("/due")
    expect(mine).to_have_count(0)

    page.goto("/belts/rack")
    page.get_by_role("link", name="Add a part").tap()
    page.get_by_label("Mark of the belt, or name of the part").fill("Split pin 4 x 40")
    page.get_by_label("It is a belt").uncheck()
    page.get_by_role("button", name="Add it").tap()
    page.get_by_role("button", name="Withdraw it").tap()
    expect(page.locator(".lead").first).to_contain_text("Withdrawn")
    page.get_by_role("button", name="Keep it again").tap()
    expect(page.get_by_role("link", name="Some came")).to_be_visible()
