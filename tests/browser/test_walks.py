"""The main job from end to end, as its users walk it, on a phone in the yard and at a desk."""

import io
import re
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect
from pypdf import PdfReader

from browser.conftest import sign_in
from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser

# What the check may cost besides one tap an item: begin, name, send.
MOST_OTHER_TAPS = 3
LONGEST_WAIT_FOR_TIMER_S = 90
LONGEST_WAIT_FOR_PRINT_MS = 120_000
BOTH = pytest.mark.parametrize("phone", [True, False], ids=["phone", "desk"])


class Taps:
    """A thumb that is counted."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, on: Locator) -> None:
        self.count += 1
        on.tap()


def marks(page: Page) -> dict[str, str]:
    """The three marks of the machine's page: heading to word."""
    rows = page.locator("dl.marks > div")
    return {
        row.locator("dt").inner_text(): row.locator("dd .mark").inner_text() for row in rows.all()
    }


@BOTH
def test_a_manager_finds_a_machine_and_reads_how_it_stands(phone: bool, open_page: Opener) -> None:
    page = open_page(phone=phone)
    sign_in(page, "marit")
    expect(page.get_by_role("heading", name="Today", level=1)).to_be_visible()
    expect(page.locator(".lead")).to_contain_text(re.compile(r"\d+ stopped, \d+ overdue in use"))
    overdue = page.locator("section", has=page.get_by_role("heading", name="Overdue in use"))
    number = overdue.locator("a.what").first.inner_text()

    find = page.get_by_role("searchbox", name="Find anything")
    if phone:
        find.tap()
    else:
        page.keyboard.press("/")
    expect(find).to_be_focused()
    page.keyboard.type(number.lower().replace("-", ""))
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name=number, level=1)).to_be_visible()
    shown = marks(page)
    assert (shown["Where it is"], shown["What is due"]) == ("Out", "Overdue")
    assert shown["May it be used"]
    why = page.get_by_text(re.compile(r": (Every|First at) \d+.*counted from")).first
    expect(why).to_contain_text(re.compile(r"so due (on|at) \d+"))


@pytest.mark.parametrize(
    ("phone", "good", "bad"),
    [(True, "PC-101", "PC-104"), (False, "TR-101", "TR-102")],
    ids=["phone", "desk"],
)
def test_an_operator_checks_by_label_and_is_told_what_to_do(
    phone: bool, good: str, bad: str, open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=phone)
    tap = Taps() if phone else lambda on: on.click()

    page.goto(f"/q/{depot.found['labels'][good]}")
    tap(page.get_by_role("link", name="Start check"))
    questions = page.locator("fieldset.question")
    expect(questions.first).to_be_visible()
    asked = questions.count()
    assert 6 <= asked <= 10
    for question in questions.all():
        tap(question.get_by_text("OK", exact=True))
    tap(page.get_by_label("Your name"))
    page.keyboard.type("Ansa, plot 9")
    tap(page.get_by_role("button", name="Send"))
    expect(page.locator(".lead").first).to_have_text("OK to use")
    expect(page.get_by_text(re.compile("^Sent and sealed at"))).to_be_visible()
    if isinstance(tap, Taps):
        assert tap.count <= asked + MOST_OTHER_TAPS

    page.goto(f"/q/{depot.found['labels'][bad]}/check")
    # The name is known from before, and "wrong" asks for a word at once.
    expect(page.get_by_label("Your name")).to_have_value("Ansa, plot 9")
    for question in questions.all():
        guard = "guard" in question.locator("legend").inner_text()
        word = question.get_by_role("textbox")
        expect(word).to_be_hidden()
        question.get_by_text("Wrong" if guard else "OK", exact=True).click()
        if guard:
            expect(word).to_be_visible()
            word.fill("Gone, only two bolts left")
    page.get_by_role("button", name="Send").click()
    told = page.get_by_text("Do not use: tell your foreman.").locator("..")
    expect(told).to_contain_text(re.compile(r"Job J-\d+.* raised"))

    desk = open_page(name="marit")
    desk.goto(f"/machines/{depot.found['numbers'][bad]}")
    assert marks(desk)["May it be used"] == "Do not use"
    expect(desk.locator(".lead").first).to_contain_text("Gone, only two bolts left")


def test_a_fitter_repairs_the_mixer_whose_drum_stands_still(
    open_page: Opener, depot: Depot
) -> None:
    page = open_page(phone=True, name="lukasz")
    page.goto("/")
    stopped = page.locator("section", has=page.get_by_role("heading", name="Stopped")).locator("li")
    stopped.filter(has_text="drum does not turn").get_by_role("link", name=re.compile("^J-")).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Motor runs, drum does not turn")
    job = page.url

    # Nothing begins before the machine is isolated.
    page.get_by_role("link", name="Start").tap()
    page.get_by_label("It is stopped").check()
    page.get_by_role("button", name="Start the job").tap()
    expect(page.locator(".errorlist")).to_contain_text("Not confirmed yet: It is unplugged")
    expect(page.get_by_label("It is stopped")).to_be_checked()
    for each in ("It is unplugged", "Stored energy is gone", "The tag is on"):
        page.get_by_label(each).check()
    page.get_by_role("button", name="Start the job").tap()
    expect(page.locator(".lead").first).to_contain_text("Under way")

    page.get_by_role("link", name="Belt drive: width and tension").tap()
    enter_the_drive(page)
    measure_the_width(page)
    read_the_verdict(page)
    set_the_tension(page)

    page.goto(job)
    page.get_by_role("link", name="Work done").tap()
    page.get_by_label("Symptom").fill("Motor runs, drum does not turn")
    page.get_by_label("Cause").fill("Belt worn narrow, slipping; take-up used")
    page.get_by_label("Action").fill("New belt fitted, tensioned, guards back, run five minutes")
    page.get_by_label("Your minutes").fill("40")
    page.get_by_label("Part 1", exact=False).first.fill("Belt 13A690")
    page.get_by_label("How many of part 1").fill("1")
    page.get_by_label("Part 1 taken from").fill("Van 2")
    page.get_by_role("button", name="Save").tap()
    expect(page.locator(".lead").first).to_contain_text("Work done")
    expect(page.get_by_text("1 of Belt 13A690")).to_be_visible()
    # Who did the work has no way to free the machine, not even by its address.
    machine = depot.found["numbers"]["MX-203"]
    page.goto(f"/machines/{machine}")
    assert marks(page)["May it be used"] == "Do not use"

    foreman = open_page(name="sorcha")
    foreman.goto(f"/machines/{machine}")
    assert marks(foreman)["May it be used"] == "Do not use"
    foreman.get_by_role("link", name="Release check", exact=True).click()
    foreman.get_by_label(re.compile("Motor runs, drum does not turn")).check()
    for question in foreman.get_by_role("group").filter(has=foreman.get_by_role("radio")).all():
        question.get_by_label("Yes, it is right").check()
    foreman.get_by_role("button", name="Release what is ticked").click()
    foreman.goto(f"/machines/{machine}")
    assert marks(foreman)["May it be used"] == "OK to use"
    foreman.goto(job)
    expect(foreman.locator(".lead").first).to_contain_text("Checked and closed")


def enter_the_drive(page: Page) -> None:
    """The drive as measured on the bench; the first centre distance carries a wrong unit."""
    page.get_by_role("link", name="The drive’s data").tap()
    page.get_by_label("What stands on the belt").fill("13A690 660 Li")
    figures = {
        "Motor pulley, diameter": "80 mm",
        "Driven pulley, diameter": "18 cm",
        "Motor pulley, groove depth": "12.7 mm",
        "Driven pulley, groove depth": "12.9",
        "This belt's own top width when new": "13.0 mm",
        "Centre distance now": "136 kg",
        "Slot: room inwards from here": "14 mm",
        "Slot: room left outwards from here": "6 mm",
        "Motor power": "0.75 hp",
        "Motor speed": "1400",
    }
    for label, typed in figures.items():
        page.get_by_label(label).first.fill(typed)
    page.get_by_label("Yes, tight").check()
    page.get_by_role("button", name="Save this drive").tap()
    wrong = page.locator(".field-wrong")
    expect(wrong).to_have_count(1)
    expect(wrong.locator(".errorlist")).to_contain_text("mm")
    centres = page.get_by_label("Centre distance now")
    expect(centres).to_have_value("136 kg")
    expect(centres).to_be_focused()
    expect(page.get_by_label("Driven pulley, diameter")).to_have_value("18 cm")
    centres.fill("136 mm")
    page.get_by_role("button", name="Save this drive").tap()
    expect(page.locator(".message")).to_contain_text("saved and sealed")


def measure_the_width(page: Page) -> None:
    page.get_by_role("link", name="Measure", exact=True).tap()
    expect(page.get_by_text("The belt can pull fingers in.")).to_be_visible()
    page.get_by_label("Top width of the belt").fill("10.9 mm")
    page.get_by_label("Tool").select_option(label="Calliper")
    page.get_by_role("button", name="Save this width").tap()
    expect(page.locator(".message")).to_contain_text("10.9 mm")


def read_the_verdict(page: Page) -> None:
    """Verdict first, then why, the pictures, the working; every figure with its doubt."""
    verdict = page.locator(".lead").first
    expect(verdict).to_contain_text(re.compile("belt", re.I))
    expect(verdict).not_to_contain_text("may stay on")
    drawings = page.locator("figure.drawing svg[role=img]")
    assert drawings.count() >= 3
    for drawing in drawings.all():
        box = drawing.bounding_box()
        assert box is not None
        assert box["width"] > 100
        assert box["height"] > 40
    # Strict policies drop style attributes, and a drawing would then be one black shape.
    filled = "all => all.filter(one => getComputedStyle(one).fill === 'rgb(0, 0, 0)').length"
    assert page.locator("figure.drawing svg :is(path, polygon, rect)").evaluate_all(filled) < (
        page.locator("figure.drawing svg :is(path, polygon, rect)").count()
    )
    lost = page.get_by_role("row").filter(has_text="width lost")
    expect(lost).to_contain_text("2.1 mm")
    expect(lost).to_contain_text("±")
    page.get_by_text(re.compile(r"^Show all \d+ lines$")).tap()
    expect(page.locator("td.formula").first).to_be_visible()
    expect(page.locator("td.source").filter(has_text="ISO 4183").first).to_be_visible()


def set_the_tension(page: Page) -> None:
    """Once by the spring gauge, once by plucking; both within what the page asks for."""
    for label, unit in (("Force at mid-span", "N"), ("Or: frequency", "Hz")):
        page.get_by_role("link", name="Tension", exact=True).tap()
        band = re.search(rf"([\d.]+) to ([\d.]+) {unit}\b", page.locator(".opening").inner_text())
        assert band, page.locator(".opening").inner_text()
        middle = (float(band[1]) + float(band[2])) / 2
        page.get_by_label(label).fill(f"{middle:.1f} {unit}")
        page.get_by_role("button", name="Save this tension").tap()
        expect(page.locator(".message")).to_contain_text(re.compile(r"\d N saved and sealed"))
    rows = page.locator("section", has=page.get_by_role("heading", name="Readings", exact=True))
    expect(rows.locator("tbody tr").filter(has_text="Tension")).to_have_count(2)


def test_a_fitter_finds_on_a_phone_why_a_drum_stands_still(open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=True, name="lukasz")
    page.goto(f"/machines/{depot.found['numbers']['MX-202']}")
    page.get_by_role("link", name="Find the fault").tap()
    page.get_by_label("Motor runs, driven part does not turn").tap()
    own = page.get_by_label("A job of its own")
    if own.count():
        own.tap()
    page.get_by_role("button", name="Find the fault").tap()

    # The first line says what leads; the caution stands before the test, its answers after it.
    expect(page.locator(".lead").first).to_contain_text("Belt worn or slack: about 5 in 10.")
    # The depot has closed enough such jobs to go by its own, and says from how many.
    expect(page.locator(".soft").first).to_have_text("Odds from 24 closed jobs of this depot.")
    expect(page.locator(".take-care").last).to_contain_text("Guards on, hands off, stand clear.")
    page.get_by_role("button", name="A squeal, or a smell of rubber").tap()
    # What opens a guard is not shown before the machine is isolated, all four points of it.
    expect(page.locator(".presses")).to_have_count(0)
    page.get_by_role("button", name="It is isolated").tap()
    expect(page.locator(".check-screen")).to_contain_text("Not confirmed yet")
    for box in page.get_by_role("checkbox").all():
        box.tap()
    page.get_by_role("button", name="It is isolated").tap()
    expect(page.get_by_text("Isolated by Łukasz Brzozowski-Vane")).to_be_visible()
    # The phone is closed and opened again: nothing is lost.
    address = page.url
    page.goto("about:blank")
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    expect(page.get_by_text("Isolated by Łukasz Brzozowski-Vane")).to_be_visible()
    page.get_by_role("button", name="Over two thumbs' width").tap()
    expect(page.locator(".lead").first).to_contain_text("Found.")
    page.get_by_role("button", name="Seal it: Belt worn or slack").tap()

    expect(page.locator(".lead")).to_contain_text("Belt worn or slack")
    page.get_by_role("link", name="Work done").tap()
    expect(page.get_by_label("Why, from the list")).to_have_value("no_turn/belt_worn")


def test_the_timer_raises_due_work_by_itself(
    open_page: Opener, depot: Depot, ask: Callable[..., list[tuple[Any, ...]]]
) -> None:
    since = datetime.fromisoformat(depot.found["due_since"])
    page = open_page(name="lukasz")
    listed = page.locator("section", has=page.get_by_role("heading", name="Open jobs")).locator(
        "li"
    )
    work = listed.filter(has_text=depot.found["due_title"])
    until = time.monotonic() + LONGEST_WAIT_FOR_TIMER_S
    page.goto(f"/machines/{depot.found['numbers']['BR-102']}")
    while not work.count() and time.monotonic() < until:
        page.wait_for_timeout(1000)
        page.reload()
    expect(work).to_have_count(1)
    expect(work).to_contain_text("Looked at")
    ((opened,),) = ask(
        "select opened_at from maintenance_job where due_line_id = ? order by id desc limit 1",
        depot.found["due_line"],
    )
    waited = datetime.fromisoformat(f"{opened}+00:00") - since
    assert timedelta(0) < waited <= timedelta(seconds=LONGEST_WAIT_FOR_TIMER_S)


def test_a_manager_prints_one_sheet_and_fifty(
    open_page: Opener, depot: Depot, ask: Callable[..., list[tuple[Any, ...]]]
) -> None:
    page = open_page(phone=True, name="marit")
    page.goto(f"/machines/{depot.found['machine']}")
    page.get_by_role("button", name="Service sheet").tap()
    file = printed(page)
    assert len(PdfReader(file).pages) in {1, 2}
    assert "MX-201" in PdfReader(file).pages[0].extract_text()

    desk = open_page(name="marit")
    bring_in_twenty(desk)
    numbers = [
        row.inner_text()
        for row in listed_machines(desk, "/machines?depot=" + depot_key(desk, "Quillmere yard"))
    ][:50]
    assert len(numbers) == 50
    desk.goto("/paper/new")
    desk.get_by_label("Depot").select_option(label="Quillmere yard")
    desk.get_by_label("The numbers written below").check()
    desk.get_by_label("Machine numbers").fill("\n".join(numbers))
    desk.get_by_role("button", name="Print").click()
    desk.wait_for_url(re.compile(r"/paper/\d+$"))
    batch = int(desk.url.rpartition("/")[2])

    seen = set()
    told = desk.get_by_text(re.compile(r"\d+ of 50 sheets printed"))
    take = desk.get_by_role("link", name="Take the file (PDF)")
    while "You may leave" in (words := told.inner_text()):
        seen.add(int(words.split()[0]))
        desk.wait_for_timeout(300)
    # They are printed in blocks of twenty. The page looks each second: a fast computer may have
    # ended between two looks.
    took = "(julianday(max(ended_at)) - julianday(min(asked_at))) * 86400"
    ((took_s,),) = ask(f"select {took} from reports_sheet where batch_id = ?", batch)
    assert len(seen) >= (2 if took_s > 4 else 1), f"the page told of {sorted(seen)} alone"
    assert words.startswith("50 of 50")
    if not take.count():
        desk.get_by_role("link", name="Look again").click()
    reader = PdfReader(printed(desk))
    marked = [str(mark.title) for mark in reader.outline if not isinstance(mark, list)]
    assert [mark.split()[0] for mark in marked] == sorted(numbers)
    text = "\n".join(leaf.extract_text() for leaf in reader.pages)
    assert all(number in text for number in numbers)


def printed(page: Page) -> io.BytesIO:
    """Waits until the print is finished, and takes its file."""
    take = page.get_by_role("link", name="Take the file (PDF)")
    expect(take).to_be_visible(timeout=LONGEST_WAIT_FOR_PRINT_MS)  # the page looks again by itself
    with page.expect_download() as coming:
        take.click()
    return io.BytesIO(coming.value.path().read_bytes())


def bring_in_twenty(page: Page) -> None:
    """Twenty more machines from a spreadsheet, as a firm grows."""
    rows = [f"NB-{n},Mixer drill,Fennick,F-{n},110 V centre-tapped" for n in range(701, 721)]
    sheet = "\n".join(["Number,Kind,Maker,Serial number,Supply", *rows])
    page.goto("/imports/new")
    page.get_by_label("Spreadsheet of machines").set_input_files(
        {"name": "bought.csv", "mimeType": "text/csv", "buffer": sheet.encode()}
    )
    page.get_by_label("Depot").select_option(label="Quillmere yard")
    page.get_by_role("button", name="Read the file").click()
    page.get_by_role("button", name="Bring in 20 machines").click()
    expect(page.locator(".lead")).to_contain_text("20 machines were brought", timeout=60_000)


def depot_key(page: Page, name: str) -> str:
    page.goto("/machines")
    return page.get_by_label("Depot").get_by_role("option", name=name).get_attribute("value") or ""


def listed_machines(page: Page, address: str) -> list[Locator]:
    page.goto(address)
    return page.locator("table.blocks tbody th").all()
