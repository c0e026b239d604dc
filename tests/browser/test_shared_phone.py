"""A shared phone from its code to its end: enrolled, signed in on, and withdrawn while in use."""

import re

import pytest
from playwright.sync_api import expect

from browser.conftest import sign_in
from browser.look import looked_at
from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser
OWN = "602814"


def test_a_shared_phone_from_its_code_to_its_end(open_page: Opener, depot: Depot) -> None:
    desk, phone = open_page(), open_page(phone=True)
    sign_in(desk, "marit")
    desk.goto("/people")
    row = desk.get_by_role("row", name=re.compile("Kofi Marshbrook"))
    row.get_by_role("link", name="First code").click()
    desk.get_by_role("button", name="Make a first code").click()
    first = desk.locator("dd.stamped").inner_text()
    desk.goto("/phones")
    desk.get_by_label("Name of the phone").fill("Site box 9")
    desk.get_by_label("Depot").select_option(label="Quillmere yard")
    desk.get_by_role("button", name="Make a code").click()
    code = desk.locator("dd.stamped").inner_text()
    assert looked_at(desk, desk.url, phone=False, check_screen=False).problems == []

    phone.goto(f"/enrol?code={code}")
    phone.get_by_role("button", name="Enrol this phone").tap()
    expect(phone.locator(".lead")).to_contain_text("This is Site box 9, of Quillmere yard.")
    phone.get_by_label("Your name").select_option(label="Kofi Marshbrook")
    phone.get_by_label("Your code").fill(first)
    phone.get_by_role("button", name="Sign in").tap()
    expect(phone.locator(".lead")).to_contain_text("That is your first code.")
    phone.get_by_label("Your first code, once more").fill(first)
    phone.get_by_label("Your new code").fill(OWN)
    phone.get_by_label("The same again").fill(OWN)
    phone.get_by_role("button", name="Set my code and sign in").tap()
    expect(phone.get_by_role("heading", name="Today", level=1)).to_be_visible()

    # At a label nothing is typed but the check itself.
    phone.goto(f"/q/{depot.found['labels']['MX-201']}/fault")
    expect(phone.get_by_role("heading", level=1)).to_be_visible()
    expect(phone.get_by_label("Your name")).to_have_count(0)

    desk.goto("/phones")
    desk.get_by_role("button", name="Withdraw Site box 9").click()
    phone.goto("/machines")
    expect(phone.get_by_label("Sign-in name")).to_be_visible()
