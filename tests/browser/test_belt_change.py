"""A fitter changes a belt on a phone, from the isolated machine to the sealed fitting."""

import re

import pytest
from playwright.sync_api import expect

from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser

ISOLATED = ("It is stopped", "It is unplugged", "Stored energy is gone", "The tag is on")
# Taps and figures of the change itself, after the job is under way: open it; three saves; two
# ticks. No target is published; our own.
MOST_TAPS = 6


def test_a_fitter_changes_a_belt_at_the_machine(open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=True, name="lukasz")
    machine = f"/machines/{depot.found['numbers']['MX-202']}"
    page.goto(f"{machine}/jobs/new")
    page.locator("[name=title]").fill("Belt frayed")
    page.locator("[name=kind]").select_option("belt")
    page.get_by_role("button", name="Open the job").tap()
    page.get_by_role("link", name="Start", exact=True).tap()
    for each in ISOLATED:
        page.get_by_label(each).check()
    page.get_by_role("button", name="Start the job").tap()
    expect(page.locator(".lead").first).to_contain_text("Under way")

    taps = 0
    page.get_by_role("link", name="Change the belt").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("The old belt")
    expect(page.locator(".take-care").first).to_contain_text("pull fingers in")
    page.get_by_label("Top width of the old belt").fill("10.9")
    page.get_by_role("button", name="Keep this").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("The new belt")
    taps += 2

    # The phone was shut meanwhile; what was kept is there, and the page goes on where it was.
    page.goto("/")
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("The new belt")
    page.get_by_label("Its own top width, new").fill("13.1")
    page.get_by_label("The motor was moved in").check()
    page.get_by_role("button", name="Keep this").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Tension and guards")
    taps += 2

    wanted = page.locator("form.narrow .lead").inner_text()
    found = re.search(r"([\d.]+) to ([\d.]+) N", wanted)
    assert found, wanted
    assert "kgf" in page.locator("form.narrow").inner_text()
    force = (float(found[1]) + float(found[2])) / 2
    page.get_by_label("Force at mid-span").fill(f"{force:.1f}")
    page.get_by_role("button", name="Seal: belt fitted").tap()
    expect(page.locator(".errorlist")).to_contain_text("Put the guards back on first")
    expect(page.get_by_label("Force at mid-span")).to_have_value(f"{force:.1f}")
    page.get_by_label("All guards are back on").check()
    page.get_by_role("button", name="Seal: belt fitted").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Work done")
    taps += 2
    assert taps <= MOST_TAPS
    expect(page.locator(".message").first).to_contain_text("saved and sealed")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360

    page.get_by_label("Cause").fill("Frayed")
    page.get_by_label("Symptom").fill("Belt frayed")
    page.get_by_label("Your minutes").fill("25")
    page.get_by_role("button", name="Save").tap()
    expect(page.locator(".lead").first).to_contain_text("Work done")
    expect(page.get_by_text("Only a release check closes this job.")).to_be_visible()
