"""A blank belt is found by measuring it, and its twin taken to a job in two taps, on a phone."""

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
