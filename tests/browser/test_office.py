"""A fitter is invited, sets a password on a phone, takes one-time codes, and is cut off."""

import re
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from browser.conftest import sign_in
from browser.look import looked_at
from browser.seen import Depot, Opener
from plant.one_time import STEP_S, code_at

pytestmark = pytest.mark.browser
PASSWORD = "kettle birch lantern otter"


def now_shown(secret: str, *, after: str = "") -> str:
    """What a program for codes shows; the next one where this one was taken already."""
    from base64 import b32decode

    key = b32decode(secret.replace(" ", ""))
    step = int(datetime.now(UTC).timestamp()) // STEP_S
    code = code_at(key, step)
    return code if code != after else code_at(key, step + 1)


def test_from_an_invitation_to_the_end(open_page: Opener, depot: Depot) -> None:
    desk, phone, elsewhere = open_page(), open_page(phone=True), open_page()
    sign_in(desk, "tobiah")
    desk.get_by_role("link", name="Office").first.click()
    desk.get_by_role("link", name="Invite somebody").click()
    desk.get_by_label("Name", exact=True).fill("Ida Brandt")
    desk.get_by_label("Sign-in name").fill("ida.brandt")
    desk.get_by_label("Fitter at Quillmere yard").check()
    desk.get_by_role("button", name="Invite").click()
    expect(desk.get_by_role("heading", name="Link for Ida Brandt")).to_be_visible()
    assert looked_at(desk, desk.url, phone=False, check_screen=False).problems == []
    link = desk.locator("dd code").inner_text()

    address = re.sub(r"^https?://[^/]+", "", link)
    phone.goto(address)
    assert looked_at(phone, phone.url, phone=True, check_screen=False).problems == []
    phone.get_by_label("Your new password").fill("quillmere yard 1")
    phone.get_by_label("The same again").fill("quillmere yard 1")
    phone.get_by_role("button", name="Set it").tap()
    expect(phone.locator(".errorlist")).to_contain_text("built from names")
    phone.get_by_label("Your new password").fill(PASSWORD)
    phone.get_by_label("The same again").fill(PASSWORD)
    phone.get_by_role("button", name="Set it").tap()
    expect(phone.get_by_text("Your password is set. Sign in as ida.brandt.")).to_be_visible()
    phone.get_by_label("Sign-in name").fill("ida.brandt")
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").tap()
    expect(phone.get_by_role("heading", name="Today", level=1)).to_be_visible()

    phone.goto("/you")
    phone.get_by_role("link", name="One-time codes").tap()
    phone.get_by_role("button", name="Set them up").tap()
    expect(phone.get_by_role("heading", name="Set up one-time codes")).to_be_visible()
    assert looked_at(phone, phone.url, phone=True, check_screen=False).problems == []
    secret = phone.locator("dd code").inner_text()
    first = now_shown(secret)
    phone.get_by_label("The six figures that it shows now").fill(first)
    phone.get_by_role("button", name="These are the figures").tap()
    expect(phone.locator("ol code")).to_have_count(10)
    spare = phone.locator("ol code").first.inner_text()

    elsewhere.goto("/sign-in")
    elsewhere.get_by_label("Sign-in name").fill("ida.brandt")
    elsewhere.get_by_label("Password").fill(PASSWORD)
    elsewhere.get_by_role("button", name="Sign in").click()
    elsewhere.get_by_label("One-time code").fill("000000")
    elsewhere.get_by_role("button", name="Sign in").click()
    expect(elsewhere.locator(".errorlist")).to_contain_text("This code does not count.")
    elsewhere.get_by_label("One-time code").fill(spare)
    elsewhere.get_by_role("button", name="Sign in").click()
    elsewhere.get_by_role("link", name="Ida Brandt").click()
    sessions = elsewhere.get_by_role("region", name="Signed in here and elsewhere")
    expect(sessions.get_by_role("listitem")).to_have_count(2)

    desk.get_by_role("link", name="Back to Ida Brandt").click()
    desk.get_by_role("link", name="End the account").click()
    desk.get_by_role("button", name="End the account").click()
    expect(desk.get_by_text("Ida Brandt has left.")).to_be_visible()
    for page in (phone, elsewhere):
        page.goto("/machines")
        expect(page.get_by_label("Sign-in name")).to_be_visible()


def test_a_warning_before_the_end_and_what_was_typed_is_sent(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page()
    page.clock.install()
    sign_in(page, "marit")
    page.goto(f"/machines/{depot.found['machine']}/fault")
    page.get_by_role("textbox").last.fill("Handle snapped")
    warning = page.locator("#ending")
    expect(warning).to_be_hidden()
    page.clock.fast_forward("56:00")
    expect(warning).to_contain_text("You will be signed out at")
    page.get_by_role("button", name="Stay signed in").click()
    expect(warning).to_be_hidden()
    page.clock.fast_forward("01:01:00")
    expect(warning).to_contain_text("You are signed out. What you typed is still here")
    expect(page.get_by_role("textbox").last).to_have_value("Handle snapped")
