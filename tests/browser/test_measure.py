"""From the label to the verdict on a belt, on a phone: its taps are counted."""

import re

import pytest
from playwright.sync_api import expect

from browser.person import Thumb
from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser
MOST_TAPS = 4  # with the scan itself


def test_a_width_is_four_taps_from_the_label_and_the_drive_is_drawn_as_it_is_typed(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True, name="marit")
    thumb = Thumb(taps=1)  # the phone's own camera opened the label
    page.goto(f"/q/{depot.found['labels']['MX-204']}")
    thumb.tap(page.get_by_role("link", name="Drive", exact=True))
    thumb.tap(page.get_by_role("link", name="Measure", exact=True))
    box = page.get_by_label("Top width of the belt")
    expect(box).to_be_in_viewport()
    box.focus()
    thumb.type(box, "12.4")
    thumb.tap(page.get_by_role("button", name="Save this width"))

    expect(page.get_by_text(re.compile(r"12\.4 mm saved and sealed\. "))).to_be_visible()
    expect(page.locator(".lead strong")).to_be_in_viewport()
    assert thumb.taps <= MOST_TAPS
    # Ride, slot, tension, line and pulleys are one more tap from here.
    for name in ("Ride", "Slot", "Tension", "In line", "Pulleys"):
        expect(page.get_by_role("link", name=name, exact=True)).to_have_count(1)

    page.get_by_role("link", name="The drive’s data").tap()
    drawn = page.locator("#drawn")
    page.get_by_label("Driven pulley, diameter").fill("201.5 mm")
    expect(drawn).to_contain_text("driven pulley 201.5 mm")
    # Nothing of it is kept until it is saved.
    page.reload()
    expect(drawn).not_to_contain_text("201.5 mm")
