"""The find box in the hand: what is found while it is typed, by keyboard, and without scripts."""

import re

import pytest
from playwright.sync_api import expect

from browser.seen import Opener

pytestmark = pytest.mark.browser


def test_results_come_while_typing_and_the_address_says_what_is_shown(open_page: Opener) -> None:
    page = open_page(phone=True, name="marit")
    page.goto("/find")
    box = page.get_by_role("searchbox")
    expect(box).to_be_focused()
    before = box.bounding_box()
    page.keyboard.type("mixer wor", delay=20)
    expect(page.locator("#found .lead")).to_contain_text("found with “mixer wor”")
    expect(box).to_be_focused()
    assert box.bounding_box() == before
    expect(page).to_have_url(re.compile(r"/find\?q=mixer\+wor$|/find\?q=mixer%20wor$"))
    # A whole number opens nothing while it is typed: that waits for the key.
    box.fill("MX-203")
    expect(page.get_by_role("heading", name="Just “MX-203”")).to_be_visible()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="MX-203", level=1)).to_be_visible()
    page.go_back()
    expect(page.get_by_role("searchbox")).to_have_value("MX-203")


def test_it_is_walked_by_keyboard_and_works_without_scripts(open_page: Opener) -> None:
    page = open_page(name="marit")
    page.goto("/due")
    page.keyboard.press("/")
    page.keyboard.type("quarry no such place")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Nothing of your depots fits")).to_be_visible()
    page.keyboard.press("/")
    page.keyboard.type("13x660 li")
    page.keyboard.press("Enter")
    expect(page.locator("#found .lead")).to_contain_text("found with “13x660 li”")
    first = page.locator("#found .lines a").first
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # past the frame of the page, to the page itself
    for _ in range(4):
        page.keyboard.press("Tab")
        if first.evaluate("each => each === document.activeElement"):
            break
    expect(first).to_be_focused()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"/drives/\d+$"))

    plain = open_page(name="marit", script=False)
    plain.goto("/pages")
    plain.get_by_role("searchbox", name="Find anything").fill("mixer")
    plain.get_by_role("button", name="Find").click()
    plain.get_by_role("link", name=re.compile("^Show all \\d+ machines")).click()
    expect(plain).to_have_url(re.compile(r"/machines\?q=mixer$"))
    expect(plain.locator(".listing-foot")).to_contain_text("machines")
