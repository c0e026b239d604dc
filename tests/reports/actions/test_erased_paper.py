"""What was erased is on no kept paper either; the seals stand, and a new print says what it is."""

import io
import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.db import DatabaseError, transaction
from pypdf import PdfReader

from addresses import picture
from maintenance.actions import keep
from maintenance.actions.fault import report_fault
from maintenance.actions.place import write_off
from maintenance.models import RuleSheet
from make import make_machine
from plant.actions.erase import remove_left_files
from plant.actions.record import seal
from plant.models import Depot, Machine, Record, User
from reports.actions import erased_paper
from reports.actions import sheet as action
from reports.actions.sheet import Wanted, ask_paper, ask_sheets, print_batch
from reports.actions.verify import verify_depot
from reports.contents.sealed import by_file, first_sheet_fault
from reports.models import Batch, Sheet

TOLD = "Leans to one side since the kerb"
SOLD = datetime(2020, 2, 29, 10, tzinfo=UTC)
LISTED = datetime(2025, 12, 1, 6, tzinfo=UTC)
OVER = datetime(2026, 3, 1, 6, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _files(settings: Any, tmp_path: Any, rule_sheet: RuleSheet) -> None:
    settings.MEDIA_ROOT = settings.DATA_DIR = tmp_path


def printed(batch: Batch, *, at: datetime) -> Sheet:
    print_batch(batch.pk, clock=lambda: at, until=at + timedelta(hours=1))
    sheet = Sheet.objects.get(batch=batch)
    assert (sheet.state, sheet.why) == ("done", "")
    return sheet


def bundle(machine: Machine, by: User, *, year: int, at: datetime) -> Sheet:
    days = (date(year, 1, 1), date(year, 12, 31))
    batch = ask_paper(
        depot=machine.depot, wanted=[Wanted(machine)], by=by, at=at, kind=Batch.Kind.BUNDLE,
        days=days,
    )  # fmt: skip
    return printed(batch, at=at)


def read(sheet: Sheet) -> bytes:
    with sheet.file.open("rb") as file:
        return bytes(file.read())


def words_of(data: bytes) -> str:
    reader = PdfReader(io.BytesIO(data))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


@pytest.fixture
def sold(depot: Depot, manager: User) -> Machine:
    """Told of with a photo, then written off."""
    machine = make_machine(depot)
    job = report_fault(
        machine=machine, part="stands_level", told=TOLD, stop_now=False,
        at=SOLD - timedelta(days=30), by_name="Passer By", by_label=True,
        photos={"photo": picture()},
    )  # fmt: skip
    write_off(machine=machine, reason="Sold to a dealer", jobs=[job], at=SOLD, by=manager)
    return machine


def let_go(depot: Depot) -> None:
    keep.list_month(depot=depot, at=LISTED)
    keep.take_due(depot=depot, at=OVER, also=erased_paper.take_with)
    remove_left_files()


def test_a_bundle_goes_with_the_words_and_photos_whose_time_is_over(
    depot: Depot, manager: User, sold: Machine
) -> None:
    kept = bundle(sold, manager, year=2020, at=LISTED)
    before = read(kept)
    assert TOLD in words_of(before)
    assert '"jpeg": "/9j/' in json.dumps(kept.content)
    other = bundle(sold, manager, year=2019, at=LISTED + timedelta(minutes=2))
    assert TOLD not in json.dumps(other.content)

    let_go(depot)

    old = Sheet.objects.get(pk=kept.pk)
    assert (old.content, old.file.name, old.sha256) == (None, "", kept.sha256)
    assert old.why == Batch.objects.get(pk=old.batch_id).why == erased_paper.WORDS_ERASED
    assert not default_storage.exists(kept.file.name)
    assert not default_storage.exists(Batch.objects.get(pk=kept.batch_id).file.name or "none")
    # Nothing of it was in the other one, so it is to the byte what it was.
    assert Sheet.objects.get(pk=other.pk).content == other.content
    assert default_storage.exists(other.file.name)
    # The paper in a stranger's hand is still as it was sealed, and so is everything.
    assert by_file(io.BytesIO(before)).stands
    assert first_sheet_fault(depot) is None
    assert verify_depot(depot, at=OVER, signed=()).what == ""

    new = bundle(sold, manager, year=2020, at=OVER + timedelta(hours=1))
    text = words_of(read(new))
    assert TOLD not in text
    assert f"new edition, since words or photos of no. {old.pk} were erased on 1 Mar 2026" in text
    assert new.content is not None
    assert '"jpeg": "/9j/' not in json.dumps(new.content)
    assert new.record != old.record
    assert "new edition" not in words_of(
        read(bundle(sold, manager, year=2019, at=OVER + timedelta(hours=2)))
    )


def test_a_machine_that_is_held_keeps_what_was_printed(
    depot: Depot, manager: User, sold: Machine
) -> None:
    kept = bundle(sold, manager, year=2020, at=LISTED)
    keep.list_month(depot=depot, at=LISTED)
    keep.hold(machine=sold, reason="Asked for by the insurer", at=LISTED, by=manager)

    let_go(depot)

    assert Sheet.objects.get(pk=kept.pk).content == kept.content
    assert default_storage.exists(kept.file.name)


def test_what_is_erased_while_it_is_drawn_is_not_kept(
    depot: Depot, manager: User, sold: Machine, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    drawn = action._drawn

    def erased_first(sheet: Sheet, failed: dict[int, str]) -> bytes:
        data = drawn(sheet, failed)
        Sheet.objects.filter(pk=sheet.pk).update(content=None)
        return data

    batch = ask_paper(
        depot=depot, wanted=[Wanted(sold)], by=manager, at=LISTED, kind=Batch.Kind.BUNDLE,
        days=(SOLD.date(), SOLD.date()),
    )  # fmt: skip
    monkeypatch.setattr(action, "_drawn", erased_first)
    print_batch(batch.pk, clock=lambda: LISTED, until=LISTED + timedelta(hours=1))
    sheet = Sheet.objects.get(batch=batch)
    assert (sheet.content, sheet.file.name, sheet.state) == (None, "", "working")
    assert not list(settings.MEDIA_ROOT.rglob("*.pdf"))

    monkeypatch.undo()
    printed(batch, at=LISTED + timedelta(hours=2))


def test_what_is_erased_while_it_is_gathered_is_gathered_anew(
    depot: Depot, manager: User, sold: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    gather = action.gather

    def erased_behind(sheet: Sheet, **told: Any) -> Any:
        content = gather(sheet, **told)
        with transaction.atomic():
            seal(
                kind=Record.Kind.ERASED, depot=depot, data={"move": "time over"}, by=None,
                happened_at=LISTED, received_at=LISTED, role="rule",
            )  # fmt: skip
        return content

    batch = ask_sheets(depot=depot, machines=[sold], by=manager, at=LISTED)
    monkeypatch.setattr(action, "gather", erased_behind)
    with pytest.raises(DatabaseError, match="erased meanwhile"):
        print_batch(batch.pk, clock=lambda: LISTED, until=LISTED + timedelta(hours=1))
    assert Sheet.objects.get(batch=batch).content is None
    assert not Record.objects.filter(kind=Record.Kind.SHEET).exists()

    monkeypatch.undo()
    printed(batch, at=LISTED + timedelta(minutes=1))
