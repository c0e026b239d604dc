"""A phone without signal: it opens, checks, keeps, and sends itself when the line is back."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from browser.line import Line
from browser.seen import PHONE, Depot

pytestmark = pytest.mark.browser
PASSWORD = json.loads(
    (Path(__file__).parent.parent.parent / "fixtures/demo/people.json").read_text(encoding="utf-8")
)["password"]


@pytest.fixture
def line(depot: Depot) -> Iterator[Line]:
    line = Line(port=int(depot.address.rsplit(":", 1)[1]))
    yield line
    line.cut()


@pytest.fixture
def phone(browser: Browser, line: Line) -> Iterator[BrowserContext]:
    """A phone of its own: nothing kept from other tests."""
    context = browser.new_context(
        **PHONE, base_url=f"http://localhost:{line.port}", locale="en-GB",
        timezone_id="Europe/London", service_workers="allow",
    )  # fmt: skip
    context.set_default_timeout(15_000)
    yield context
    context.close()


def sign_in(page: Page, name: str) -> None:
    page.goto("/sign-in")
    page.fill("input[name=sign_in]", name)
    page.fill("input[name=password]", PASSWORD)
    page.click("main button[type=submit]")
    page.wait_for_url("**/")


_KEPT = """() => new Promise((done) => {
    const open = indexedDB.open('site-plant');
    open.onsuccess = () => {
        const all = open.result.transaction('entries').objectStore('entries').count();
        all.onsuccess = () => { open.result.close(); done(all.result); };
    };
})"""


_READY = """async () => {
    const page = await caches.match('/phone');
    const packs = await new Promise((done) => {
        const open = indexedDB.open('site-plant');
        open.onsuccess = () => {
            const all = open.result.transaction('packs').objectStore('packs').getAllKeys();
            all.onsuccess = () => { open.result.close(); done(all.result); };
        };
    });
    const wanted = new URLSearchParams(document.body.dataset.pack?.split('?')[1]).has('code')
        ? document.body.dataset.pack : `who-${document.body.dataset.who}`;
    return Boolean(page) && packs.includes(wanted);
}"""


def ready(page: Page) -> None:
    """Waits until the phone has what it needs without signal: the bare page, and this pack."""
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    for _ in range(150):
        if page.evaluate(_READY):
            return
        page.wait_for_timeout(100)
    raise AssertionError("the phone has not taken along what it needs")


def sent(page: Page) -> None:
    """Waits until nothing is kept on the phone any more; asks anew."""
    for _ in range(150):
        if page.evaluate(_KEPT) == 0:
            return
        page.wait_for_timeout(100)
    raise AssertionError("entries are still kept on the phone")


def answer(page: Page, *, wrong: str = "") -> None:
    expect(page.locator("fieldset[data-item]").first).to_be_visible()
    for question in page.locator("fieldset[data-item]").all():
        if question.get_attribute("data-item") == wrong:
            question.get_by_text("Wrong", exact=True).click()
            question.locator("input[type=text]").fill("Bolts gone")
        else:
            question.get_by_text("OK", exact=True).click()
    if page.locator("[name=by_name]").count():
        page.fill("[name=by_name]", "Wim")


def facts(depot: Depot, sql: str) -> list[Any]:
    with closing(sqlite3.connect(depot.folder / "plant.sqlite3")) as database:
        return database.execute(sql).fetchall()


def test_a_check_by_label_in_flight_mode_is_kept_and_sends_itself(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    machine, code = facts(
        depot, "SELECT id, label_code FROM plant_machine WHERE number = 'MX-207'"
    )[0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()

    page.goto(f"/q/{code}/check")
    answer(page, wrong="mixer_guards")
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("Do not use: tell your foreman.")).to_be_visible()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()
    count = f"SELECT COUNT(*) FROM plant_record WHERE machine_id = {machine} AND kind = 'check'"
    before = facts(depot, count)[0][0]

    # The browser is closed and opened again, still without signal: all of it is still there.
    page.close()
    page = phone.new_page()
    page.goto(f"/q/{code}")
    expect(page.locator("[data-mark='Do not use']")).to_be_visible()
    expect(page.locator("#kept")).to_contain_text("1 kept on this phone")
    assert facts(depot, count)[0][0] == before

    line.mend()
    page.reload()
    sent(page)
    page.reload()
    expect(page.locator(".mark").filter(has_text="Do not use")).to_be_visible()
    assert facts(depot, count)[0][0] == before + 1


def test_after_one_visit_any_machine_of_the_site_can_be_checked_without_signal(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    page = phone.new_page()
    sign_in(page, "kofi")
    ready(page)
    machine, code = facts(
        depot, "SELECT id, label_code FROM plant_machine WHERE number = 'MX-201'"
    )[0]
    line.cut()

    page.goto(f"/q/{code}")  # its label, scanned for the first time
    expect(page.locator("h1")).to_have_text("MX-201")
    page.get_by_role("link", name="Something wrong").click()
    page.select_option("select[name=part]", "Something else")
    page.fill("textarea[name=told]", "Wheel is loose")
    page.get_by_text("Stop this machine now").click()
    assert page.locator("[name=by_name]").count() == 0  # the phone knows who is signed in
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()

    line.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    told = facts(
        depot,
        f"SELECT role FROM plant_record WHERE machine_id = {machine} AND kind = 'fault'",
    )
    assert told == [("operator",)]


def test_answers_survive_a_page_that_is_killed_between_taps(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-205'")[0][0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    first = page.locator("fieldset[data-item]").first
    first.get_by_text("Wrong", exact=True).click()
    first.locator("input[type=text]").fill("Sheath cut")
    page.wait_for_timeout(200)  # the last key press is on its way into the store

    page.close()
    page = phone.new_page()
    page.goto(f"/q/{code}/check")

    first = page.locator("fieldset[data-item]").first
    expect(first.locator("input[value=wrong]")).to_be_checked()
    expect(first.locator("input[type=text]")).to_have_value("Sheath cut")


def test_the_signal_goes_while_the_form_is_filled_in_and_the_clock_is_wrong(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    machine, code = facts(
        depot, "SELECT id, label_code FROM plant_machine WHERE number = 'MX-302'"
    )[0]
    page = phone.new_page()
    page.clock.set_system_time(datetime.now(UTC) - timedelta(hours=3, minutes=5))
    page.goto(f"/q/{code}/check")
    answer(page)
    line.cut()
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()

    line.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    content, happened, received = facts(
        depot,
        "SELECT content, happened_at, received_at FROM plant_record "
        f"WHERE machine_id = {machine} AND kind = 'check' ORDER BY seq DESC LIMIT 1",
    )[0]
    assert "clock was 3 h 5 min slow" in json.loads(content)["data"]["phone"]["clock"]
    apart = datetime.fromisoformat(received) - datetime.fromisoformat(happened)
    assert timedelta(0) <= apart < timedelta(minutes=3)


def test_a_phone_without_room_says_so_and_claims_nothing(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-206'")[0][0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    answer(page)
    page.evaluate(
        """() => {
            const put = IDBObjectStore.prototype.put;
            IDBObjectStore.prototype.put = function (...given) {
                if (this.name === 'entries') throw new DOMException('full', 'QuotaExceededError');
                return put.apply(this, given);
            };
        }"""
    )
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("This phone has no room left. Not kept.")).to_be_visible()
    expect(page.locator("fieldset[data-item] input:checked").first).to_be_checked()
