"""Belt work of two fitters: every short form, three ways to a belt, and two phones on one job."""

import re

import pytest
from playwright.sync_api import expect

from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser

ISOLATED = ("It is stopped", "It is unplugged", "Stored energy is gone", "The tag is on")


def test_every_short_form_is_filled_in_and_a_force_in_the_wrong_unit_is_asked_about(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True, name="marit")
    machine = f"/machines/{depot.found['numbers']['MX-204']}"
    page.goto(machine)
    page.get_by_role("link", name="Drive", exact=True).tap()
    page.wait_for_url(re.compile(r"/drives/\d+$"))
    drive = page.url

    page.get_by_role("link", name="Ride", exact=True).tap()
    page.get_by_label("Motor pulley: from rim to top").fill("0.4")
    page.get_by_role("button", name="Save this ride").tap()
    expect(page.locator(".message")).to_contain_text("saved and sealed")
    page.get_by_role("link", name="Slot", exact=True).tap()
    page.get_by_label("Room left outwards").fill("9.5")
    page.get_by_role("button", name="Save this place").tap()
    expect(page.locator(".message")).to_contain_text("9.5 mm")
    page.get_by_role("link", name="In line", exact=True).tap()
    page.get_by_label("Gap at the near edge").fill("0")
    page.get_by_label("Gap at the far edge").fill("0.5")
    page.get_by_role("button", name="Save these gaps").tap()
    expect(page.locator(".message")).to_contain_text("saved and sealed")
    page.get_by_role("link", name="Pulleys", exact=True).tap()
    page.get_by_label("Largest gap under the groove gauge").fill("0.3")
    page.get_by_role("button", name="Save this pulley").tap()
    expect(page.locator(".message")).to_contain_text("saved and sealed")

    page.get_by_role("link", name="Tension", exact=True).tap()
    told = re.search(r"([\d.]+) to ([\d.]+) kgf", page.locator("main").inner_text())
    assert told
    force = f"{(float(told[1]) + float(told[2])) / 2:.2f}"
    box = page.get_by_label("Force at mid-span, on one belt")
    box.fill(force)
    page.get_by_role("button", name="Save this tension").tap()
    expect(page.locator(".errorlist")).to_contain_text("Was it read in kgf?")
    expect(box).to_have_value(force)
    box.fill(f"{force} kgf")
    page.get_by_role("button", name="Save this tension").tap()
    expect(page.locator(".message")).to_contain_text(re.compile(r"\d N saved and sealed"))
    assert page.url == drive
    rows = page.locator("section", has=page.get_by_role("heading", name="Readings", exact=True))
    for what in ("Ride", "Slot", "In line", "Pulley", "Tension"):
        expect(rows.locator("tbody tr").filter(has_text=what).first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_a_belt_is_found_by_its_mark_and_by_the_drive_alone(open_page: Opener) -> None:
    page = open_page(phone=True, name="lukasz")
    page.goto("/belts/find")
    page.get_by_label("What stands on the belt").fill("4L260")
    page.get_by_role("button", name="Read the mark").tap()
    expect(page.locator("main")).to_contain_text("660")
    page.goto("/belts/find")
    page.get_by_text("By the drive alone", exact=True).tap()
    for label, figure in (
        ("Motor pulley, datum diameter", "80 mm"), ("Driven pulley, datum diameter", "180 mm"),
        ("Between the shafts now", "140 mm"), ("The motor can still move inwards by", "8 mm"),
        ("The motor can still move outwards by", "8 mm"),
    ):  # fmt: skip
        page.get_by_label(label).fill(figure)
    page.get_by_label("Belt section").select_option("A")
    page.get_by_role("button", name="What fits?").tap()
    expect(page.locator("main")).to_contain_text(re.compile(r"A2[56]"))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_two_fitters_on_one_job_lose_nothing(open_page: Opener, depot: Depot) -> None:
    """Both at once on the same belt: each reads what the other kept, nothing is overwritten."""
    one = open_page(phone=True, name="lukasz")
    machine = f"/machines/{depot.found['numbers']['MX-201']}"
    one.goto(f"{machine}/jobs/new")
    one.locator("[name=title]").fill("Belt frayed, two at it")
    one.locator("[name=kind]").select_option("belt")
    one.get_by_role("button", name="Open the job").tap()
    expect(one.locator(".lead").first).to_be_visible()
    one.wait_for_url(re.compile(r"/jobs/\d+$"))
    job = one.url
    one.get_by_role("link", name="Start", exact=True).tap()
    for each in ISOLATED:
        one.get_by_label(each).check()
    one.get_by_role("button", name="Start the job").tap()
    one.get_by_role("link", name="Change the belt").tap()
    expect(one.get_by_role("heading", level=1)).to_have_text("The old belt")
    address = one.url
    two = open_page(name="sorcha")
    two.goto(address)

    one.get_by_label("Top width of the old belt").fill("11.4")
    two.get_by_label("Top width of the old belt").fill("11.6")
    one.get_by_role("button", name="Keep this").tap()
    expect(one.get_by_role("heading", level=1)).to_have_text("The new belt")
    two.get_by_role("button", name="Keep this").click()
    # The second reads the first's figure before anything of it is written over; his own stays.
    expect(two.locator("main")).to_contain_text("11.4")
    expect(two.get_by_label("Top width of the old belt")).to_have_value("11.6")

    # Both write what was done; both stand in the job afterwards.
    one.goto(job)
    two.goto(job)
    one.get_by_role("link", name="Work done").tap()
    two.get_by_role("link", name="Work done").click()
    for page, minutes, cause in ((one, "20", "Frayed on the rim"), (two, "15", "Pulley rim sharp")):
        page.get_by_label("Cause").fill(cause)
        page.get_by_label("Symptom").fill("Belt frayed")
        page.get_by_label("Action").fill("Belt ordered")
        page.get_by_label("Your minutes").fill(minutes)
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".message, .errorlist, .stop").first).to_be_visible()
    one.goto(job)
    for words in ("Frayed on the rim", "Pulley rim sharp"):
        expect(one.locator("main")).to_contain_text(words)


def test_a_new_belt_is_looked_at_again_and_the_reading_closes_the_job(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True, name="lukasz")
    job = f"/jobs/{depot.found['look_job']}"
    page.goto(job)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Look at the new belt again")
    expect(page.locator("main")).to_contain_text("Read its tension after 4 to 24 h of running.")
    page.get_by_role("link", name="Belt drive: width and tension").tap()
    page.get_by_role("link", name="Tension", exact=True).first.tap()
    expect(page.locator(".take-care").first).to_contain_text("pull fingers in")
    told = re.search(r"Wanted: ([\d.]+) to ([\d.]+) N", page.locator("main").inner_text())
    assert told
    force = (float(told[1]) + float(told[2])) / 2
    page.get_by_label("Force at mid-span, on one belt").fill(f"{force:.1f}")
    page.get_by_role("button", name="Save this tension").tap()
    expect(page.locator(".message").first).to_contain_text("saved and sealed")

    # In its run-in band: nothing is left to do.
    page.goto(job)
    expect(page.locator(".lead").first).to_contain_text("Checked and closed")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
