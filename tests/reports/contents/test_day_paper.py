"""Job lists and the wall board say what the day sheet says, and a wall no more than it may."""

import io
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pypdfium2
import pytest
from pypdf import PdfReader

from maintenance.models import Hirer, Job, Stay, Stop
from make import MONDAY, make_machine, make_user
from plant.actions.record import seal
from plant.models import Depot, Machine, Place, Record, Role, User
from reports.actions.day_paper import ask_board, ask_job_lists
from reports.actions.sheet import print_batch, stop_batch
from reports.contents.paper import PAPERS
from reports.models import Batch, Sheet
from reports.pdf import board as board_pdf
from reports.pdf import job_list as job_list_pdf
from reports.pdf.board import Board, BoardColumn, Line
from reports.pdf.job_list import JobList, Task
from reports.pdf.page import Printed

TODAY = MONDAY.date()
PRINTED = Printed(at="28 Nov 2026 07:31", by="Łukasz Żółkiewski")


@pytest.fixture
def fitters(depot: Depot) -> list[User]:
    return [make_user(name, (depot, Role.FITTER)) for name in ("Ødegård", "Ανδρέας", "Jiří")]


def given(machine: Machine, person: User, title: str, **more: Any) -> Job:
    return Job.objects.create(
        machine=machine, kind=Job.Kind.FAULT, title=title, opened_at=MONDAY,
        state=Job.State.GIVEN_OUT, given_to=person, given_for=TODAY, **more,
    )  # fmt: skip


def both_readers(data: bytes) -> str:
    """The text of all pages; two readers find the same letters."""
    one = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages).split()
    document = pypdfium2.PdfDocument(data)
    other = " ".join(page.get_textpage().get_text_bounded() for page in document).split()
    assert sorted("".join(one)) == sorted("".join(other))
    return " ".join(one)


def printed(batch: Batch) -> str:
    print_batch(batch.pk, clock=lambda: MONDAY, until=MONDAY + timedelta(minutes=1))
    batch.refresh_from_db()
    assert batch.state == Batch.State.DONE, batch.why
    with batch.file.open("rb") as file:
        return both_readers(file.read())


def test_a_list_for_each_who_has_a_job_in_the_order_of_the_day(
    depot: Depot, machine: Machine, fitters: list[User], foreman: User
) -> None:
    given(machine, fitters[0], "Second", day_place=2, expected_minutes=35)
    given(machine, fitters[0], "First", day_place=1, is_safety=True, symptom="<b>loud</b> & hot")
    given(machine, fitters[1], "Other", promised_at=MONDAY + timedelta(hours=3))

    batch = ask_job_lists(depot=depot, on=TODAY, by=foreman, at=MONDAY)

    text = printed(batch)
    assert batch.sheets.count() == 2
    assert text.index("First") < text.index("Second")
    for words in (
        "Ødegård", "Ανδρέας", "<b>loud</b> & hot", "about 35 min", "Promised for",
        "Isolate and lock off", "Guards back", "release check", "page 1 of 1",
    ):  # fmt: skip
        assert words in text
    assert "Jiří" not in text
    assert not Record.objects.filter(kind=Record.Kind.SHEET).exists()


def test_the_board_says_what_is_stopped_and_names_no_hirer_and_no_site(
    depot: Depot, machine: Machine, fitters: list[User], foreman: User
) -> None:
    told = seal(
        kind=Record.Kind.STOP, depot=depot, machine=machine, data={}, happened_at=MONDAY,
        received_at=MONDAY, by=foreman, role="foreman",
    )  # fmt: skip
    Stop.objects.create(
        machine=machine,
        kind=Stop.Kind.STOP,
        words="Guard off, ring Secret & Sons",
        since=MONDAY,
        record=told,
    )
    out = make_machine(depot, "PU-77", place=Place.OUT, site="12 Hidden Lane")
    Stay.objects.create(
        machine=out, hirer=Hirer.objects.create(depot=depot, name="Secret & Sons"),
        site="12 Hidden Lane", site_phone="0123", out_at=MONDAY, due_back_on=TODAY, record=told,
    )  # fmt: skip
    given(machine, fitters[2], "Drum does not turn")

    text = printed(ask_board(depot=depot, on=TODAY, by=foreman, at=MONDAY))

    for words in ("MX-203", "since 2", "PU-77", "Jiří", "Fault", "as at"):
        assert words in text
    for words in ("Hidden", "Secret", "0123", "Drum"):
        assert words not in text


def test_a_board_holds_any_number_on_one_page_and_counts_the_rest() -> None:
    long = "Very long words that no wall holds " * 9
    lines = tuple(Line(f"MX-{n} {long}", long) for n in range(20))
    columns = tuple(BoardColumn(head, lines, 137, "none") for head in ("One", "Two", "Three"))
    board = Board("Yard", "Monday", "07:31", PRINTED, columns, (("3", long),))
    data = board_pdf.render(board)

    reader = PdfReader(io.BytesIO(data))
    assert len(reader.pages) == 1
    shown = reader.pages[0].extract_text().count("MX-") // 3
    assert f"and {137 - shown} more" in both_readers(data)
    page = pypdfium2.PdfDocument(data)[0].get_textpage()
    boxes = [page.get_charbox(n, loose=False) for n in range(page.count_chars())]
    width, height = board_pdf.PAGE_WIDTH, board_pdf.PAGE_HEIGHT
    edge = board_pdf.EDGE - 1
    for left, bottom, right, top in boxes:
        assert edge <= left <= right <= width - edge
        assert edge - 4 <= bottom <= top <= height - edge
    assert data == board_pdf.render(
        Board("Yard", "Monday", "07:31", PRINTED, columns, (("3", long),))
    )


def test_the_longest_names_stand_whole_on_the_board() -> None:
    person = "Wolfeschlegelstein-Przybyszewska Konstantinopolitanopoulou Jaroslava the Younger"
    number, depot = "MX-203/EXTRA-LONG-NUMBER-2026.77", "The yard behind the old brickworks " * 2
    where = "In workshop at the far end of the yard, since 2 November, J-1042 and one more"
    lines = (Line(f"{number} {person}", where), Line("MX-1", "In yard"))
    board = Board(
        depot, "Wednesday 25 November 2026", "07:31", PRINTED,
        tuple(BoardColumn(head, lines, 2, "none") for head in ("One", "Two", "Three")),
    )  # fmt: skip

    text = PdfReader(io.BytesIO(board_pdf.render(board))).pages[0].extract_text()

    assert "…" not in text
    for words in (number, person, where, depot):
        # A name without a space breaks where the line ends.
        assert "".join(words.split()) in "".join(text.split())


def test_what_is_read_at_three_metres_is_large_enough() -> None:
    """Capitals of a four-hundredth of the distance (common practice, no source)."""
    from reports.pdf.fonts import MONO_BOLD, capital_of

    assert capital_of(MONO_BOLD) * board_pdf.BIG / 72 * 25.4 >= 3000 / 400


def test_a_list_at_three_times_the_length_of_its_words_goes_on_and_loses_nothing() -> None:
    task = Task("J-1001", "MX-203, Cement mixer " * 3, "Out, Mill Lane " * 3, "Drum stands " * 9,
                told="It was loud " * 30, when="Promised for 28 Nov 2026 14:00",
                remarks=("Safety: a release check " * 3,))  # fmt: skip
    jobs = JobList("Łukasz Żółkiewski", "Monday", "Yard", "95 of 420 min", PRINTED, (task,) * 14)
    data = job_list_pdf.render(jobs)
    assert both_readers(data).count("J-1001") == 14
    assert len(PdfReader(io.BytesIO(data)).pages) > 1


def test_printing_is_stopped_and_what_is_printed_stays(
    depot: Depot, machine: Machine, fitters: list[User], foreman: User,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    one = replace(PAPERS[Batch.Kind.JOB_LIST], together=1)
    monkeypatch.setitem(PAPERS, Batch.Kind.JOB_LIST, one)
    for person in fitters:
        given(machine, person, "Work")
    batch = ask_job_lists(depot=depot, on=TODAY, by=foreman, at=MONDAY)
    moments = iter((MONDAY, MONDAY))
    later = MONDAY + timedelta(hours=1)
    print_batch(batch.pk, clock=lambda: next(moments, later), until=MONDAY + timedelta(minutes=1))
    assert Sheet.objects.filter(state=Sheet.State.DONE).count() == 1

    assert stop_batch(batch=batch, by=foreman, at=MONDAY) == 2

    print_batch(batch.pk, clock=lambda: MONDAY, until=MONDAY + timedelta(minutes=1))
    batch.refresh_from_db()
    stopped = Sheet.objects.filter(state=Sheet.State.FAILED)
    assert {sheet.why for sheet in stopped} == {"Stopped before it was printed."}
    assert batch.state == Batch.State.DONE
    assert batch.why == "2 of 3 lists not printed."
