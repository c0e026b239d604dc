"""No paper out of practice can be taken for one of a real machine."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.utils.timezone import now
from pypdf import PdfReader

from bench import CLASS_I, WRONG, class_i
from maintenance.actions.fault import report_fault
from maintenance.actions.practice import practice_depot, practice_machine
from make import MONDAY, make_machine
from plant.models import Depot, User
from plant.rights import practise_in
from reports.actions.sheet import Wanted, ask_paper, print_batch
from reports.contents.sealed import PRACTICE, by_file, by_number
from reports.models import Batch, Sheet
from reports.pdf.marked import ABOVE, ACROSS

pytestmark = pytest.mark.usefixtures("rule_sheet")
KINDS = (Batch.Kind.SERVICE, Batch.Kind.PASSPORT, Batch.Kind.LABEL, Batch.Kind.LABEL_SHEET,
         Batch.Kind.STOP_TAG, Batch.Kind.BUNDLE)  # fmt: skip


SMALL = (Batch.Kind.LABEL, Batch.Kind.LABEL_SHEET)


def printed(depot: Depot, machine: Any, by: User, kind: Batch.Kind) -> Sheet:
    days = (depot.day_of(MONDAY), depot.day_of(now())) if kind == Batch.Kind.BUNDLE else None
    batch = ask_paper(
        depot=depot, wanted=[Wanted(machine=machine)], by=by, at=now(), kind=kind, days=days
    )
    print_batch(batch.pk, clock=now, until=now().replace(year=2099))
    sheet: Sheet = batch.sheets.get()
    assert sheet.state == Sheet.State.DONE, sheet.why
    return sheet


def pages(sheet: Sheet) -> list[str]:
    return [page.extract_text() for page in PdfReader(sheet.file.path).pages]


@pytest.fixture
def stopped_in_practice(foreman: User, media: Any) -> tuple[Depot, User]:
    depot = practice_depot(person=foreman, at=MONDAY)
    person = User.objects.get(pk=foreman.pk)
    practise_in(person, depot)
    report_fault(
        machine=practice_machine(depot), part="something_else", told="Drum does not turn",
        stop_now=True, at=now(), by=person,
    )  # fmt: skip
    return depot, person


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_of_every_paper_says_practice_across(
    stopped_in_practice: tuple[Depot, User], kind: Batch.Kind
) -> None:
    depot, person = stopped_in_practice
    found = pages(printed(depot, practice_machine(depot), person, kind))

    assert found
    for page in found:
        assert ACROSS in page.replace(ABOVE, "").split()
        assert (ABOVE in page) == (kind not in SMALL)


def test_the_tag_of_a_failed_practice_test_says_practice(
    stopped_in_practice: tuple[Depot, User],
) -> None:
    depot, person = stopped_in_practice
    test = class_i(
        practice_machine(depot), person, readings=CLASS_I | {"case": WRONG},
        instrument=depot.instruments.first(), at=now(),
    )  # fmt: skip
    wanted = Wanted(machine=test.machine, about=test.record)
    batch = ask_paper(depot=depot, wanted=[wanted], by=person, at=now(), kind=Batch.Kind.FAIL_TAG)
    print_batch(batch.pk, clock=now, until=now().replace(year=2099))

    (tag,) = pages(batch.sheets.get())
    assert ABOVE in tag
    assert ACROSS in tag.replace(ABOVE, "").split()


def test_a_real_paper_says_nothing_of_it(
    stopped_in_practice: tuple[Depot, User], depot: Depot, foreman: User
) -> None:
    found = pages(printed(depot, make_machine(depot), foreman, Batch.Kind.SERVICE))

    assert not any(ACROSS in page for page in found)


def test_whoever_checks_such_a_paper_is_told(stopped_in_practice: tuple[Depot, User]) -> None:
    depot, person = stopped_in_practice
    sheet = printed(depot, practice_machine(depot), person, Batch.Kind.SERVICE)
    record = sheet.record
    assert record is not None

    file = BytesIO(Path(sheet.file.path).read_bytes())
    answers = [by_number(record.number, record.hash), by_file(file)]

    for found in answers:
        assert found.stands
        assert found.words.startswith(PRACTICE)
