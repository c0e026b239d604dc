"""With scripts switched off: signing in, the check, a fault and the end of a job all work."""

import pytest
from playwright.sync_api import expect

from browser.conftest import sign_in
from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser


def test_a_check_is_sent_and_a_wrong_answer_stops_it(open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=True, script=False)
    label = depot.found["labels"]["CS-103"]
    page.goto(f"/q/{label}")
    page.get_by_role("link", name="Start check").tap()
    page.get_by_role("button", name="Send").tap()
    # Nothing answered: said at each question, with nothing lost.
    expect(page.get_by_text("Answer this: OK, Wrong or Could not check.").first).to_be_visible()
    questions = page.locator("fieldset.question")
    for question in questions.all():
        question.get_by_text("OK", exact=True).tap()
    last = questions.last
    last.get_by_text("Wrong", exact=True).tap()
    last.get_by_role("textbox").fill("Handle split")
    page.get_by_label("Your name").fill("Ansa, plot 9")
    page.get_by_role("button", name="Send").tap()
    expect(page.locator(".lead").first).to_have_text("Do not use")


def test_signing_in_and_the_end_of_a_job(open_page: Opener, depot: Depot) -> None:
    page = open_page(script=False)
    sign_in(page, "lukasz")
    page.goto(f"/jobs/{depot.found['job_without_script']}")
    page.get_by_role("link", name="Work done").click()
    page.get_by_role("button", name="Save").click()
    assert page.locator(".field-wrong").count() >= 4
    for label in ("Symptom", "Cause", "Action"):
        page.get_by_label(label).fill("Due by plan, done by its steps")
    page.get_by_label("Your minutes").fill("30")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".lead").first).to_contain_text("Work done")


def test_a_print_is_looked_at_again_by_a_press(open_page: Opener, depot: Depot) -> None:
    page = open_page(name="marit", script=False)
    page.goto(f"/machines/{depot.found['stopped']}")
    page.get_by_role("button", name="Service sheet").click()
    take = page.get_by_role("link", name="Take the file (PDF)")
    for _ in range(60):
        if take.count():
            break
        page.get_by_role("link", name="Look again").click()
        page.wait_for_timeout(300)
    expect(take).to_be_visible()


def test_filters_fold_behind_one_line_on_a_phone_and_stand_open_at_a_desk(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True, script=False)
    sign_in(page, "marit")
    page.goto("/jobs")
    first = page.locator(".listing tbody tr").first
    menu = page.locator(".pages").bounding_box()
    name = first.locator("th").bounding_box()
    assert menu
    assert name
    assert name["y"] + name["height"] < menu["y"]
    fold, state = page.locator(".folded summary"), page.get_by_label("How far it is")
    expect(fold).to_have_text("Filters: none set")
    expect(state).to_be_hidden()
    fold.press("Enter")
    state.select_option(label="Waiting")
    page.get_by_role("button", name="Show these").tap()
    page.wait_for_url(lambda address: "state=waiting" in address)
    expect(fold).to_have_text("Filters: How far it is: Waiting")
    expect(state).to_be_hidden()
    # The address alone brings the same list, at a desk too.
    desk = open_page(script=False)
    sign_in(desk, "marit")
    desk.goto(page.url)
    expect(desk.locator(".folded summary")).to_be_hidden()
    expect(desk.get_by_label("How far it is")).to_have_value("waiting")
    desk.get_by_label("How far it is").press("Tab")
    expect(desk.get_by_label("Whose")).to_be_focused()
