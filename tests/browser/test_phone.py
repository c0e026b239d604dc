"""A phone without signal: it opens, checks, keeps, and sends itself when the line is back."""

import io
import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from browser.line import Line
from browser.seen import PHONE, Depot, Opener

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
    # How long each of its questions took came with it; the word that was typed counts with its own.
    told = "SELECT tenths, clock_off FROM maintenance_pace p JOIN maintenance_check c"
    tenths, clock_off = facts(
        depot, f"{told} ON c.id = p.check_row_id WHERE machine_id = {machine}"
    )[0]
    assert len(json.loads(tenths)) >= 6
    assert 0 < sum(json.loads(tenths).values()) < 600
    assert not clock_off


@pytest.mark.parametrize("begun", [True, False], ids=["page open", "bare page"])
def test_without_signal_no_check_promises_a_machine_that_waits_for_a_first_look(
    phone: BrowserContext, line: Line, depot: Depot, begun: bool
) -> None:
    code, before = facts(
        depot, "SELECT label_code, look_wanted_at FROM plant_machine WHERE number = 'DR-102'"
    )[0]
    set_look = "UPDATE plant_machine SET look_wanted_at = {} WHERE number = 'DR-102'"
    change(depot, set_look.format("'2099-01-01 00:00:00'"))
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    if begun:
        page.goto(f"/q/{code}/check")
    line.cut()
    if not begun:
        page.goto(f"/q/{code}/check")

    answer(page)
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("Not yet passed: tell your foreman.")).to_be_visible()
    assert page.get_by_text("OK to use").count() == 0
    line.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    change(depot, set_look.format(f"'{before}'" if before else "NULL"))
    # The page that said "kept" says that it went, and leads to the answer.
    expect(page.get_by_text(re.compile("^Sent and sealed: record "))).to_be_visible()
    assert page.get_by_text("Kept on this phone.").count() == 0
    expect(page.get_by_role("link", name="What became of it")).to_be_visible()


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


# As the catalogue of another language brings them; what was not looked up has no sign.
_OTHER_WORDS = """
    window.gettext = (text) => `<${text}>`;
    window.ngettext = (one, many, count) => `<${count === 1 ? one : many}>`;
"""


def test_what_the_phone_itself_says_comes_in_the_language_of_its_catalogue(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-207'")[0][0]
    phone.add_init_script(_OTHER_WORDS)
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()

    page.goto(f"/q/{code}/check")
    page.get_by_role("button", name="Send").click()
    missing = page.locator(".errorlist[data-here]").first
    expect(missing).to_have_text("<No answer yet. Not sent. Press OK, Wrong or Could not check.>")
    answer(page)
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()
    page.goto("/phone")
    expect(page.locator("#kept")).to_have_text("<1 kept on this phone, not sent yet>")
    kept = page.locator("[data-kept] li")
    expect(kept).to_have_text(re.compile(r"^<<Check of MX-207>, .*: kept here, sends itself>$"))


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
    full(page)
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("This phone has no room left. Not kept.")).to_be_visible()
    expect(page.locator("fieldset[data-item] input:checked").first).to_be_checked()
    assert page.evaluate(_KEPT) == 0

    # Some room is made, and Send is pressed again: nothing was lost.
    room(page, None)
    until(page, "kept")
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()
    assert page.evaluate(_KEPT) == 1


def test_photos_without_room_are_left_out_and_the_check_is_kept(
    phone: BrowserContext, line: Line, depot: Depot, tmp_path: Path
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-206'")[0][0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    answer(page, wrong="drum")
    # Only the store of photos is full here: a quota cannot be set so finely.
    page.evaluate(
        """() => {
            const put = IDBObjectStore.prototype.put;
            IDBObjectStore.prototype.put = function (value, key) {
                const heavy = value.photos && Object.keys(value.photos).length;
                if (heavy || String(key).endsWith('photos')) {
                    throw new DOMException('full', 'QuotaExceededError');
                }
                return put.call(this, value, key);
            };
        }"""
    )
    page.locator("[name=photo_drum]").set_input_files(noisy(tmp_path, 800, 600))
    expect(page.get_by_text("No room to keep it: stay on this page")).to_be_visible()
    page.get_by_role("button", name="Send").click()

    expect(page.get_by_text("This phone has no room for the photos.")).to_be_visible()
    expect(page.get_by_text("Do not use: tell your foreman.")).to_be_visible()
    assert page.evaluate(_KEPT) == 1


def room(page: Page, most: int | None) -> None:
    """Sets how many bytes this site may keep on the phone; None: as usual."""
    given: dict[str, Any] = {"origin": page.evaluate("location.origin")}
    if most is not None:
        given["quotaSize"] = most
    page.context.new_cdp_session(page).send("Storage.overrideQuotaForOrigin", given)


def full(page: Page) -> None:
    """Leaves the site no room on the phone."""
    room(page, 1)
    until(page, "QuotaExceededError")


def until(page: Page, said: str) -> None:
    """Keeps something small until that goes as told: a browser sees its room each half minute."""
    for _ in range(80):
        if page.evaluate(_PUT) == said:
            return
        page.wait_for_timeout(500)
    raise AssertionError(f"the browser never said {said}")


_PUT = """() => new Promise((done) => {
    const open = indexedDB.open('site-plant');
    open.onsuccess = () => {
        const turn = open.result.transaction('settings', 'readwrite', { durability: 'strict' });
        turn.objectStore('settings').put('x'.repeat(2000), 'test');
        turn.oncomplete = () => { open.result.close(); done('kept'); };
        turn.onabort = () => { open.result.close(); done(turn.error.name); };
    };
})"""


def noisy(folder: Path, width: int, height: int) -> Path:
    """A picture that does not press well, as of gravel; its notes tell where it was taken."""
    made = Image.effect_noise((width, height), 80).convert("RGB")
    notes = Image.Exif()
    notes[0x010E] = "Taken at Heron Mews"
    path = folder / f"{width}.jpg"
    made.save(path, "JPEG", quality=95, exif=notes)
    return path


def last_check(depot: Depot, machine: int) -> tuple[dict[str, Any], str, str, str]:
    """Of the newest check of a machine: what was sealed, when it happened, was received, its id."""
    content, happened, received, pk = facts(
        depot,
        "SELECT content, happened_at, received_at, id FROM plant_record "
        f"WHERE machine_id = {machine} AND kind = 'check' ORDER BY seq DESC LIMIT 1",
    )[0]
    return json.loads(content)["data"], happened, received, pk


def change(depot: Depot, sql: str) -> None:
    with closing(sqlite3.connect(depot.folder / "plant.sqlite3", timeout=20)) as database:
        database.execute(sql)
        database.commit()


def back(page: Page, line: Line) -> None:
    line.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)


def test_two_photos_and_a_meter_figure_are_kept_without_signal_and_sent_as_one_entry(
    phone: BrowserContext, line: Line, depot: Depot, tmp_path: Path
) -> None:
    machine, code, hours = facts(
        depot,
        "SELECT id, label_code, hours_tenths FROM plant_machine WHERE number = 'AC-202'",
    )[0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    answer(page, wrong="belt_guard")
    page.locator("[name=photo_belt_guard]").set_input_files(noisy(tmp_path, 4000, 3000))
    page.locator("input[name=photo]").set_input_files(noisy(tmp_path, 900, 600))
    page.fill("[name=dial]", f"{(hours + 2) / 10:.1f}")
    expect(page.get_by_text("Photo taken,")).to_have_count(2)

    # The page is killed before it is sent: photos, figure and answers are all still there.
    page.close()
    page = phone.new_page()
    page.goto(f"/q/{code}/check")
    expect(page.get_by_text("The photo from before is kept.")).to_have_count(2)
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()
    sizes = page.evaluate(_PHOTO_SIZES)
    assert sorted(sizes) == ["photo", "photo_belt_guard"]
    assert max(sizes.values()) <= 420_000

    back(page, line)
    told, happened, _, pk = last_check(depot, machine)
    assert told["dial"]["typed"] == f"{(hours + 2) / 10:.1f}"
    kept = facts(depot, f"SELECT name, file FROM plant_recordphoto WHERE record_id = '{pk}'")
    assert {name for name, _ in kept} == {"belt_guard", "photo"}
    for _, file in kept:
        data = next(depot.folder.rglob(file)).read_bytes()
        assert b"Heron" not in data
        assert max(Image.open(io.BytesIO(data)).size) <= 2048
    figures = facts(
        depot,
        "SELECT r.at, r.dial_tenths FROM maintenance_meterreading r JOIN plant_meter m "
        f"ON m.id = r.meter_id WHERE m.machine_id = {machine} ORDER BY r.at DESC LIMIT 1",
    )
    assert figures == [(happened, hours + 2)]


def test_a_count_is_kept_without_signal_and_sent_with_the_check(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    machine, code, starts = facts(
        depot,
        "SELECT m.id, m.label_code, c.total_tenths FROM plant_machine m "
        "JOIN plant_counter c ON c.machine_id = m.id WHERE c.measure = 'starts'",
    )[0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    answer(page)
    count = page.get_by_label("What the counter shows, starts")
    count.fill("12.5")
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Type a whole number of up to 8 figures")).to_be_visible()
    count.fill(str(starts // 10 + 3))
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()

    back(page, line)
    told, _, _, _ = last_check(depot, machine)
    assert told["counters"]["starts"]["typed"] == str(starts // 10 + 3)


_PHOTO_SIZES = """() => new Promise((done) => {
    const open = indexedDB.open('site-plant');
    open.onsuccess = () => {
        const all = open.result.transaction('entries').objectStore('entries').getAll();
        all.onsuccess = () => {
            open.result.close();
            const photos = Object.entries(all.result[0].photos);
            done(Object.fromEntries(photos.map(([name, photo]) => [name, photo.size])));
        };
    };
})"""


@pytest.mark.parametrize(("days", "is_held"), [(-365, True), (365, False)], ids=["last", "next"])
def test_an_entry_of_last_or_next_year_is_taken_and_says_so(
    phone: BrowserContext, line: Line, depot: Depot, days: int, is_held: bool
) -> None:
    machine, code = facts(
        depot, "SELECT id, label_code FROM plant_machine WHERE number = 'MX-302'"
    )[0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.clock.set_system_time(datetime.now(UTC) + timedelta(days=days))
    page.goto(f"/q/{code}/check")
    answer(page)
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()

    page.clock.set_system_time(datetime.now(UTC))  # somebody sets the phone right
    back(page, line)

    told, happened, received, _ = last_check(depot, machine)
    assert told["phone"]["held_for_manager"] is is_held
    apart = datetime.fromisoformat(received) - datetime.fromisoformat(happened)
    assert apart.days == (365 if days < 0 else 0)
    if days > 0:
        assert told["phone"]["clock"]


def test_the_machine_is_gone_and_the_label_replaced_meanwhile(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    number = "BR-105"
    machine, code = facts(
        depot, f"SELECT id, label_code FROM plant_machine WHERE number = '{number}'"
    )[0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    answer(page)
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()
    place = facts(depot, f"SELECT place FROM plant_machine WHERE id = {machine}")[0][0]
    change(
        depot,
        "UPDATE plant_machine SET label_code = 'another-label-by-now-1', place = 'gone' "
        f"WHERE id = {machine}",
    )

    back(page, line)

    told, *_ = last_check(depot, machine)
    assert told["permit"] == "an older label"
    assert told["phone"]["machine_was"] == "gone"
    change(
        depot,
        f"UPDATE plant_machine SET label_code = '{code}', place = '{place}' WHERE id = {machine}",
    )


# 12 mm at 96 CSS pixels an inch.
LEAST_ANSWER_PX = 12 / 25.4 * 96


def test_without_signal_each_question_has_its_drawing_and_two_fit_on_the_screen(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-205'")[0][0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/check")
    questions = page.locator("fieldset[data-item]")
    expect(questions.first).to_be_visible()

    for question in questions.all():
        expect(question.locator("svg.picture")).to_be_visible()
        assert question.locator("svg.picture *").count() > 1
        # Why it is asked is read there too, on the spot.
        why = question.locator("details.reason")
        why.locator("summary").click()
        expect(why.get_by_text("Where from:")).to_be_visible()
        why.locator("summary").click()
        for button in question.locator(".answers label").all():
            box = button.bounding_box()
            assert box is not None
            assert box["height"] >= LEAST_ANSWER_PX
    tops = [box["y"] for q in questions.all() if (box := q.bounding_box())]
    bar = page.locator(".actions.bar").bounding_box()
    assert bar is not None
    free = 640 - bar["height"]
    highest = max(later - first for first, later in pairwise(tops))
    assert 2 * highest <= free, f"a question is {highest} px high, {free} px are free"


def test_a_check_that_is_overdue_is_said_without_signal_by_the_phones_own_day(
    phone: BrowserContext, line: Line, depot: Depot
) -> None:
    code, passed = facts(
        depot, "SELECT label_code, passed_at FROM plant_machine WHERE number = 'MX-206'"
    )[0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.clock.set_system_time(datetime.now(UTC) + timedelta(days=30))
    page.goto(f"/q/{code}")

    expect(page.locator("[data-wanted]")).to_contain_text("Check is overdue since")
    assert passed


def test_the_one_who_told_it_reads_at_the_label_who_has_it(
    phone: BrowserContext, line: Line, depot: Depot, open_page: Opener
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'TR-103'")[0][0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    line.cut()
    page.goto(f"/q/{code}/fault")
    page.select_option("select[name=part]", "Something else")
    page.fill("textarea[name=told]", "Case is cracked")
    page.get_by_text("Stop this machine now").click()
    page.fill("[name=by_name]", "Wim")
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()
    back(page, line)
    page.goto(f"/q/{code}")
    told = page.get_by_role("region", name="What this phone told")
    expect(told).to_contain_text("Nobody has it yet.")

    desk = open_page(name="marit")
    desk.goto("/jobs?q=TR103")
    desk.get_by_role("link", name=re.compile(r"^J-\d+")).first.click()
    desk.get_by_role("button", name="I have it").click()
    desk.get_by_role("link", name="Answer the one who told it").click()
    desk.get_by_label("Answer to the one who told it").fill("Fetch the spare from the container.")
    desk.get_by_role("button", name="Send the answer").click()
    expect(desk.get_by_text("Answered.")).to_be_visible()

    page.reload()
    expect(told).to_contain_text("has it, since")
    expect(told).to_contain_text("Fetch the spare from the container.")


_HOLD_THE_TURN = """() => new Promise((held) => {
    navigator.locks.request('sending', () => new Promise((free) => {
        window.letGo = free;
        held(true);
    }));
})"""
_HOW_MANY_WAIT = "navigator.locks.query().then((locks) => locks.pending.length)"


def waiting_for_the_turn(page: Page, count: int) -> None:
    for _ in range(150):
        if page.evaluate(_HOW_MANY_WAIT) >= count:
            return
        page.wait_for_timeout(100)
    raise AssertionError("no send waits for its turn")


@pytest.mark.parametrize("sender", ["the page's own first send", "another tab"])
def test_a_check_that_another_send_took_along_says_what_became_of_it(
    phone: BrowserContext, depot: Depot, sender: str
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-206'")[0][0]
    page, other = phone.new_page(), phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    other.goto("/phone")
    for one in (page, other):
        one.wait_for_load_state("networkidle")
    # Somebody has the turn, so that each send stands in the queue: this one first.
    other.evaluate(_HOLD_THE_TURN)
    if sender == "another tab":
        other.evaluate("window.dispatchEvent(new Event('online'))")
        waiting_for_the_turn(other, 1)
    page.goto(f"/q/{code}/check")
    standing = 2 if sender == "another tab" else 1
    waiting_for_the_turn(other, standing)
    answer(page)
    page.get_by_role("button", name="Send").click()
    waiting_for_the_turn(other, standing + 1)
    assert page.evaluate(_KEPT) == 1, "kept before it is sent"

    other.evaluate("window.letGo()")

    # The answer's own page; or the way there, where another tab's word came a moment later.
    became = page.get_by_role("link", name="What became of it")
    expect(became.or_(page.get_by_text("Sent and sealed at")).first).to_be_visible()
    assert page.evaluate(_KEPT) == 0


def test_a_strange_networks_own_page_for_an_answer_is_tried_again(
    phone: BrowserContext, depot: Depot
) -> None:
    code = facts(depot, "SELECT label_code FROM plant_machine WHERE number = 'MX-206'")[0][0]
    page = phone.new_page()
    page.goto(f"/q/{code}")
    ready(page)
    page.goto(f"/q/{code}/check")
    phone.route(
        "**/phone/entries",
        lambda route: route.fulfill(status=200, content_type="text/html", body="<p>Welcome"),
        times=2,
    )
    answer(page)
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Kept on this phone. It sends itself")).to_be_visible()

    # By itself, without the page being touched.
    expect(page.get_by_text("Sent and sealed")).to_be_visible(timeout=60_000)
    assert page.evaluate(_KEPT) == 0
