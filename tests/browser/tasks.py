"""The commonest tasks, walked as people walk them, and the table of what each takes.

The codes on labels are read from the depot's database, as a phone's camera reads the labels.
"""

import re
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect

from browser.person import Person
from browser.seen import DESK, PHONE, Depot

NAME = "Ansa, plot 9"
PASSWORD = "stamped plate forty-seven"  # of the demo
# A phone on a poor line: 1 Mbit/s and 300 ms there and back.
SLOW_LINE = {
    "offline": False, "latency": 300, "downloadThroughput": 125_000, "uploadThroughput": 125_000,
}  # fmt: skip


@dataclass(frozen=True)
class Task:
    """One task: what it may take, and the walk of it.

    number, words, target: as the table says them; who: signs in before it, empty for nobody;
    most_taps: presses, those into boxes aside; most_s: [s] of a person, estimated;
    most_wait_s: [s] the longest single wait on a quiet computer, reported and not asserted.
    """

    number: str
    words: str
    target: str
    who: str
    most_taps: int
    most_s: float
    most_wait_s: float
    walk: Callable[[Person, Depot], None]


def label_of(depot: Depot, where: str, *, skip: int = 0) -> str:
    """The code on the label of a machine of the first depot, of which the SQL is true."""
    sql = (
        "select m.label_code from plant_machine m join plant_depot d on d.id = m.depot_id "
        f"where d.code = 'qm' and {where} order by m.number limit 1 offset {skip}"
    )
    with closing(sqlite3.connect(f"file:{depot.folder}/plant.sqlite3?mode=ro", uri=True)) as db:
        return str(db.execute(sql).fetchone()[0])


def page_of(person: Person) -> Page:
    assert person.page is not None
    return person.page


def check(person: Person, depot: Depot) -> None:
    """Eight items, by a label, without an account and with no name known yet."""
    page = page_of(person)
    page.goto(f"/q/{label_of(depot, _numbered('MX-204'))}")
    questions = page.locator("fieldset.question")
    person.tap(page.get_by_role("link", name="Start check"), then=questions.first)
    expect(questions).to_have_count(8)
    for question in questions.all():
        person.tap(question.get_by_text("OK", exact=True))
    person.fill(page.get_by_label("Your name"), NAME)
    sent = page.get_by_text(re.compile("^Sent and sealed"))
    person.tap(page.get_by_role("button", name="Send"), then=sent)


def fault(person: Person, depot: Depot) -> None:
    page = page_of(person)
    where = "m.number like 'CS-%' and m.place = 'out'"
    code = label_of(depot, where, skip=0)
    page.goto(f"/q/{code}")
    part = page.get_by_label("What part is it?")
    person.tap(page.get_by_role("link", name="Something wrong"), then=part)
    person.choose(part, index=1)
    person.fill(page.get_by_label("What is wrong?"), "Cracked near the lug")
    person.tap(page.get_by_text("Stop this machine now"))
    person.fill(page.get_by_label("Your name"), NAME)
    # The answer's page with the job; or, on a line slower than the phone's patience, the word that
    # it went after all.
    told = page.get_by_text(re.compile(r"J-\d+|^Sent and sealed"))
    person.tap(page.get_by_role("button", name="Send"), then=told.first)


def meter(person: Person, depot: Depot) -> None:
    page = page_of(person)
    where = "m.hours_tenths > 500 and m.meter_broken_at is null and m.place = 'out'"
    code = label_of(depot, where, skip=2)
    page.goto(f"/q/{code}")
    last = page.locator(".lead").first
    person.tap(
        page.get_by_role("link", name="Meter", exact=True),
        then=page.get_by_role("heading", name=re.compile("^Meter of")),
    )
    found = re.search(r"Last ([\d.]+) h", last.inner_text())
    assert found, last.inner_text()
    person.fill(page.locator("#id_dial"), f"{float(found[1]) + 0.2:.1f}")
    saved = page.locator(".message")
    person.tap(page.get_by_role("button", name="Save", exact=True), then=saved.first)


def can_it_go(person: Person, depot: Depot) -> None:
    """The cursor stands in the box; no press is needed."""
    page = page_of(person)
    page.goto("/out-and-in")
    expect(page.locator("#id_q")).to_be_focused()
    began = time.monotonic()
    page.keyboard.type("106")
    person.keys += 3
    person.waits_for(page.locator("#answer .verdict").first, since=began)


def issue(person: Person, depot: Depot) -> None:
    page = page_of(person)
    can_it_go(person, depot)
    person.keys, person.waits = 0, []
    number = _that_can_go(page, depot)
    issues = page.get_by_role("link", name=f"Issue {number}")
    person.tap(issues, then=page.locator("#id_due_back_on"))
    person.fill(page.locator("#id_hirer"), "Brackwater Works")
    person.fill(page.locator("#id_site"), "Plot 9, Ansa")
    person.fill(page.locator("#id_site_phone"), "01632 960 099")
    person.fill(page.locator("#id_due_back_on"), _in_days(page, 1))
    person.fill(page.locator("#id_went_with"), "Lead")
    for tick in page.get_by_role("checkbox").all():
        person.tap(tick)
    issues, message = page.get_by_role("button", name="Issue it"), page.locator(".message").first
    # Where something falls due while it is out, the page asks once what is done about it.
    visit = page.get_by_text("A fitter visits the site before that day")
    person.tap(issues, then=message.or_(visit))
    if visit.count():
        person.tap(visit)
        person.tap(issues, then=message)


def back(person: Person, depot: Depot) -> None:
    page = page_of(person)
    where = "m.place = 'out' and m.number not like 'MX-%'"
    number = _number_of(depot, where, skip=0)
    page.goto("/out-and-in")
    person.fill(page.locator("#id_q"), number)
    taken = page.get_by_role("link", name=f"Take {number} back")
    began = time.monotonic()
    person.waits_for(taken, since=began)
    person.tap(taken, then=page.get_by_role("button", name="Back in yard"))
    for tick in page.get_by_role("checkbox").all():
        person.tap(tick)
    person.choose(page.get_by_label("Clean"), index=1)
    person.tap(page.get_by_role("button", name="Back in yard"), then=page.locator(".message").first)


def belt_job(person: Person, depot: Depot) -> None:
    """A belt job that is under way, from Today to its sealed end."""
    page = page_of(person)
    job = _belt_job(page, depot, phone=person.phone)
    person.taps = person.keys = person.boxes = 0
    person.waits = []
    page.goto("/")
    person.tap(
        page.get_by_role("link", name=re.compile(job)).first,
        then=page.get_by_role("link", name="Work done"),
    )
    person.tap(page.get_by_role("link", name="Work done"), then=page.get_by_label("Your minutes"))
    why = page.get_by_label("Why, from the list")
    if why.count():
        person.choose(why, index=1)
    else:
        person.fill(page.get_by_label("Cause"), "Belt worn narrow")
    person.fill(page.get_by_label("Action"), "New belt fitted and set")
    person.fill(page.locator("#id_part_1"), "Belt 13A690")
    person.fill(page.get_by_label("Your minutes"), "40")
    person.tap(
        page.get_by_role("button", name="Save", exact=True),
        then=page.get_by_text("Work done").first,
    )


def belt_reading(person: Person, depot: Depot) -> None:
    page = page_of(person)
    number = "MX-204" if person.phone else "MX-203"
    page.goto(f"/q/{label_of(depot, _numbered(number))}")
    measure = page.get_by_role("link", name="Measure", exact=True)
    person.tap(page.get_by_role("link", name="Drive", exact=True), then=measure)
    box = page.get_by_label("Top width of the belt")
    person.tap(measure, then=box)
    person.fill(box, "12.4")
    verdict = page.get_by_text(re.compile(r"12\.4 mm saved and sealed\. "))
    person.tap(page.get_by_role("button", name="Save this width"), then=verdict)


def electrical_test(person: Person, depot: Depot) -> None:
    """Every look and reading that the form asks; passed or failed is worked out."""
    page = page_of(person)
    number = "MX-201" if person.phone else "MX-202"
    page.goto(f"/q/{label_of(depot, _numbered(number))}")
    save = page.get_by_role("button", name="Save the test")
    person.tap(page.get_by_role("link", name="Test", exact=True), then=save)
    instrument = page.locator("#id_instrument")
    if not instrument.input_value():
        person.choose(instrument, index=1)
    form = page.locator("form.narrow")
    for confirm in form.get_by_role("checkbox").all():
        if "did not trip" not in (confirm.locator("..").inner_text()):
            person.tap(confirm)
    for look in form.get_by_role("radiogroup").or_(form.locator("fieldset")).all():
        first = look.get_by_role("radio").first
        if first.count() and not first.is_checked():
            person.tap(look.locator("label").first)
    for box in form.locator("input[inputmode]:not([readonly])").all():
        if not box.input_value():
            person.fill(box, _reading_for(box.evaluate("one => one.name")))
    core = form.locator("#id_lead_core")
    if core.count() and not core.input_value():
        person.choose(core, index=2)
    person.tap(save, then=page.locator(".message").first)


def service_sheet(person: Person, depot: Depot) -> None:
    page = page_of(person)
    page.goto(f"/machines/{_key_of(depot, 'MX-204')}")
    sheet = page.get_by_role("button", name="Service sheet")
    began = time.monotonic()
    person.tap(sheet)
    _printed(page)
    person.waits.append(time.monotonic() - began)
    _taken(person, page)


def bundle(person: Person, depot: Depot) -> None:
    page = page_of(person)
    page.goto(f"/machines/{_key_of(depot, 'MX-204')}")
    prints = page.get_by_role("button", name="Print the bundle")
    person.tap(page.get_by_role("link", name="Inspector’s bundle"), then=prints)
    person.tap(page.get_by_label("The last 24 months"))
    began = time.monotonic()
    person.tap(prints)
    _printed(page)
    person.waits.append(time.monotonic() - began)
    _taken(person, page)


def morning(person: Person, depot: Depot) -> None:
    page = page_of(person)
    began = time.monotonic()
    page.goto("/")
    person.waits_for(page.get_by_role("heading", name="Today", level=1), since=began)


TASKS = (
    Task("1", "Pre-use check, 8 items, by label", "60 s, 3 taps and 1 an item", "", 11, 60, 3,
         check),
    Task("2", "Report a fault, by label", "45 s, 5 taps", "", 5, 45, 3, fault),
    Task("3", "Meter reading", "20 s, 2 taps and figures", "lukasz", 2, 20, 3, meter),
    Task("4", "Can it go out?", "5 s, no click", "dragan", 0, 5, 1, can_it_go),
    Task("5", "Issue", "60 s, 5 clicks", "dragan", 5, 60, 3, issue),
    Task("6", "Return and look over", "2 min", "dragan", 12, 120, 3, back),
    Task("7", "Close a belt job", "3 min, 12 taps and figures", "lukasz", 12, 180, 3, belt_job),
    Task("8", "Belt reading and verdict", "verdict in 2 s, 4 taps and figures", "lukasz", 4, 60, 2,
         belt_reading),
    Task("9", "Electrical test", "90 s", "lukasz", 20, 90, 3, electrical_test),
    Task("10", "Print a service sheet", "2 clicks, PDF in 10 s", "marit", 2, 30, 10,
         service_sheet),
    Task("11", "Inspector's bundle", "4 clicks, 60 s", "marit", 4, 60, 60, bundle),
    Task("12", "Foreman's morning", "no click, 2 s", "sorcha", 0, 2, 2, morning),
)  # fmt: skip


# --- what the walks need -------------------------------------------------------------------------


def _numbered(number: str) -> str:
    return f"m.number = '{number}'"


def _one(depot: Depot, sql: str, *given: Any) -> Any:
    with closing(sqlite3.connect(f"file:{depot.folder}/plant.sqlite3?mode=ro", uri=True)) as db:
        return db.execute(sql, given).fetchone()[0]


def _key_of(depot: Depot, number: str) -> int:
    return int(_one(depot, "select id from plant_machine where number = ?", number))


def _number_of(depot: Depot, where: str, *, skip: int) -> str:
    sql = (
        "select m.number from plant_machine m join plant_depot d on d.id = m.depot_id "
        f"where d.code = 'qm' and {where} order by m.number limit 1 offset {skip}"
    )
    return str(_one(depot, sql))


def _that_can_go(page: Page, depot: Depot) -> str:
    """The number of a machine that can go, with its answer; one with nothing due soon first."""
    with closing(sqlite3.connect(f"file:{depot.folder}/plant.sqlite3?mode=ro", uri=True)) as db:
        numbers = db.execute(
            "select m.number from plant_machine m join plant_depot d on d.id = m.depot_id "
            "where d.code = 'qm' and m.place = 'yard' order by exists (select 1 from "
            "maintenance_dueline l where l.machine_id = m.id and l.due_on < date('now', '+4 day')),"
            " m.number desc"
        ).fetchall()
    for (number,) in numbers:
        page.goto(f"/out-and-in?q={number}")
        if page.get_by_role("link", name=f"Issue {number}").count():
            return str(number)
    raise AssertionError("no machine of the demo can go")


def _in_days(page: Page, days: int) -> str:
    told = f"new Date(Date.now() + {days} * 864e5).toISOString().slice(0, 10)"
    return str(page.evaluate(told))


def _belt_job(page: Page, depot: Depot, *, phone: bool) -> str:
    """A belt job of the person who is signed in, opened and under way; its number."""
    number = "MX-204" if phone else "MX-203"
    page.goto(f"/machines/{_key_of(depot, number)}/jobs/new")
    page.locator("[name=title]").fill("Belt frayed")
    page.locator("[name=kind]").select_option("belt")
    page.get_by_role("button", name="Open the job").click()
    page.get_by_role("link", name="Start", exact=True).click()
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Start the job").click()
    expect(page.locator(".lead").first).to_contain_text("Under way")
    found = re.search(r"J-\d+", page.locator("main").inner_text())
    assert found
    return found[0]


def _reading_for(name: str) -> str:
    """A figure that passes, by the name of the box."""
    for part, figure in {
        "lead_length": "5", "earth": "0.12", "insulation": "99.9", "rated_current": "30",
        "half": "", "rated": "28", "five": "12",
    }.items():  # fmt: skip
        if part in name:
            return figure
    return "1"


def _printed(page: Page) -> None:
    take = page.get_by_role("link", name="Take the file (PDF)")
    # The page looks again by itself; a look of ours between two of its own may wait for ever.
    expect(take).to_be_visible(timeout=120_000)


def _taken(person: Person, page: Page) -> None:
    """Takes the file, and has it whole: who leaves while it still comes may be kept waiting."""
    with page.expect_download() as coming:
        person.tap(page.get_by_role("link", name="Take the file (PDF)"))
    assert Path(coming.value.path()).read_bytes().startswith(b"%PDF-")


# --- the table -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Walked:
    """What one task took on a phone and at a desk."""

    task: Task
    phone: Person
    desk: Person


def walked(browser: Browser, depot: Depot, task: Task, *, phone: bool) -> Person:
    """One task walked by one person, on a slow line where it is a phone."""
    context = browser.new_context(
        **(PHONE if phone else DESK), base_url=depot.address, locale="en-GB",
        timezone_id="Europe/London", reduced_motion="reduce", service_workers="block",
    )  # fmt: skip
    context.set_default_timeout(60_000)
    try:
        page = context.new_page()
        if task.who:
            page.goto("/sign-in")
            page.get_by_label("Sign-in name").fill(task.who)
            page.get_by_label("Password").fill(PASSWORD)
            page.get_by_role("button", name="Sign in").click()
            page.wait_for_url(lambda at: "/sign-in" not in at)
        if phone:
            context.new_cdp_session(page).send("Network.emulateNetworkConditions", SLOW_LINE)
        person = Person(page=page, phone=phone)
        task.walk(person, depot)
        return person
    finally:
        context.close()


def table(rows: list[Walked]) -> str:
    """The table as it stands in DEVELOPERS.md."""
    head = (
        "| task | target | phone: taps + boxes, keys | longest wait | a person, estimated | "
        "desk: clicks + boxes, keys | longest wait | a person, estimated |\n"
        "|---|---|---|---|---|---|---|---|"
    )
    lines = []
    for row in rows:
        cells = [f"{row.task.number}. {row.task.words}", row.task.target]
        for one in (row.phone, row.desk):
            cells += [
                f"{one.taps} + {one.boxes}, {one.keys}", f"{one.longest_wait_s:.1f} s",
                f"{one.estimated_s + one.longest_wait_s:.0f} s",
            ]  # fmt: skip
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join([head, *lines])
