"""Whatever is changed behind our back is found and named, by the command and on the page Health."""

import json
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, models, transaction
from django.test import Client
from django.urls import reverse

from addresses import NOW, World
from maintenance.actions.belt_record import Correction
from maintenance.actions.due import put_off
from maintenance.actions.inspection import Told, points, record_inspection
from maintenance.actions.meter import accept_meter
from maintenance.actions.pulley import Ride, record_alignment, record_pulley, record_ride
from maintenance.actions.reading import record_tension, record_width
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.slot import record_slot
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.contents import derived
from maintenance.contents.derived import COPIES, NOT_HELD, Copy, first_derived_fault
from maintenance.models import (
    Competence,
    DueLine,
    Job,
    MeterReading,
    StockMove,
    Stop,
    WidthReading,
)  # fmt: skip
from make import make_machine, make_user
from plant import seals
from plant.actions.checkpoint import sign_chains
from plant.actions.record import seal
from plant.contents.health import health
from plant.models import Chain, ChainCheck, Depot, Machine, Record, RecordText, Role, User
from plant.sealing import NO_HASH, chain_hash, content_hash
from plant.units import FORCE, LENGTH, WIDTH, read
from reports.actions import verify
from reports.actions.verify import read_chains
from reports.contents.sealed import first_sheet_fault
from reports.models import Sheet

LAST = 5


@pytest.fixture(autouse=True)
def _kept_here(settings, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    settings.CHECKPOINT_KEY = tmp_path / "checkpoint.key"


def sealed_part(at: datetime) -> tuple[bool, str]:
    part = next(part for part in health(at) if part.name == "Sealed records")
    return part.well, part.words


def told() -> str:
    """What the command says; it must find something."""
    out = StringIO()
    with pytest.raises(CommandError) as refused:
        call_command("verify_chain", stdout=out)
    assert refused.value.returncode == 1
    return out.getvalue()


# --- the chain itself


@pytest.fixture
def chain(depot: Depot, fitter: User) -> Iterator[Depot]:
    """Five records without a machine, the seals lifted as by somebody who owns the database."""
    with time_machine.travel(NOW, tick=False):
        for number in range(1, LAST + 1):
            with transaction.atomic():
                seal(
                    kind=Record.Kind.STOCK, depot=depot, data={"figure": str(number)},
                    happened_at=NOW, received_at=NOW, by=fitter, role="fitter",
                )  # fmt: skip
        sign_chains(at=NOW)
        seals.lift(connection)
        yield depot


def _delete(seq: int) -> None:
    RecordText.objects.filter(record__seq=seq).delete()
    Record.objects.filter(seq=seq).delete()


def _swap(one: int, other: int) -> None:
    for old, new in ((one, 99), (other, one), (99, other)):
        Record.objects.filter(seq=old).update(seq=new)


def _cut_off() -> None:
    """The last record goes, and the head says so: by hashes alone nothing is wrong."""
    before = Record.objects.get(seq=LAST - 1)
    _delete(LAST)
    Chain.objects.update(head_seq=LAST - 1, head_hash=before.hash)


def _write_anew(since: int) -> None:
    """The tail with another content and hashes that fit, as a thief of the database would."""
    previous = Record.objects.get(seq=since - 1).hash if since > 1 else NO_HASH
    for record in Record.objects.filter(seq__gte=since).order_by("seq"):
        content = record.content.replace(f'"figure":"{since}"', '"figure":"9"')
        digest = content_hash(content)
        link = chain_hash(previous=previous, content=digest)
        Record.objects.filter(pk=record.pk).update(
            content=content, content_hash=digest, previous_hash=previous, hash=link
        )
        previous = link
    Chain.objects.update(head_hash=previous)


def _fork() -> None:
    """A second record after the third: its own hashes fit."""
    third = Record.objects.get(seq=3)
    Record.objects.filter(seq=4).update(
        previous_hash=third.previous_hash,
        hash=chain_hash(
            previous=third.previous_hash, content=Record.objects.get(seq=4).content_hash
        ),
    )


TAMPERS: dict[str, tuple[Callable[[], None], int, str]] = {
    "a middle row deleted": (lambda: _delete(3), 3, "missing"),
    "the last row deleted": (lambda: _delete(LAST), LAST, "checkpoint mismatch: there were 5"),
    "the last row deleted with its head": (_cut_off, LAST, "checkpoint mismatch: there were 5"),
    "two rows swapped": (lambda: _swap(2, 4), 2, "reordered"),
    "a row that follows another": (_fork, 4, "reordered"),
    "the tail written anew": (lambda: _write_anew(3), LAST, "checkpoint mismatch: written anew"),
    "the last row written anew": (lambda: _write_anew(LAST), LAST, "checkpoint mismatch"),
    "the head alone": (lambda: Chain.objects.update(head_hash="0" * 64) and None, LAST, "the head"),
}


@pytest.mark.parametrize("what", TAMPERS)
def test_a_chain_that_was_tampered_with_is_named_by_the_command_and_on_health(
    chain: Depot, what: str
) -> None:
    call_command("verify_chain", stdout=StringIO())
    assert sealed_part(NOW) == (
        True,
        "Last checkpoint signed 25 Nov 2026 09:00. All chains: all as sealed when last read, 25 "
        "Nov 2026 09:00. The files of photos and the content of sheets are read by manage.py "
        "verify_chain.",
    )
    act, seq, words = TAMPERS[what]
    act()
    assert f"record NORTH-{seq}: {words}" in told()
    well, on_health = sealed_part(NOW)
    assert not well
    assert f"North yard: record NORTH-{seq}: {words}" in on_health


def test_a_second_record_of_one_number_is_refused_by_the_database(chain: Depot) -> None:
    """So a fork needs the constraint to go first; that it is then found is tested on the rule."""
    with pytest.raises(IntegrityError), transaction.atomic():
        Record.objects.filter(seq=4).update(seq=3)


def test_the_daily_round_reads_each_chain_once_a_day_and_says_what_it_found(
    chain: Depot, administrator: User
) -> None:
    assert [read_chains(at=NOW), read_chains(at=NOW)] == [1, 0]
    Record.objects.filter(seq=2).update(role="manager")
    assert read_chains(at=NOW + timedelta(hours=1)) == 0
    assert read_chains(at=NOW + timedelta(hours=24)) == 1
    assert ChainCheck.objects.get().bad_seq == 2
    client = Client()
    client.force_login(administrator)
    page = client.get(reverse("plant:health")).content.decode()
    assert "record NORTH-2: changed: the column role is not what was sealed" in page
    assert client.get(reverse("plant:health_json")).status_code == 503


def test_health_names_no_depot_to_an_administrator_of_another(
    chain: Depot, other_depot: Depot
) -> None:
    Record.objects.filter(seq=2).update(role="manager")
    read_chains(at=NOW)
    for at in (NOW, NOW + timedelta(hours=37)):
        part = next(p for p in health(at, named=(other_depot.pk,)) if p.name == "Sealed records")
        assert not part.well
        assert "The records of another depot are not as they were sealed." in part.words
        assert "north" not in part.words.lower()


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (35, "All chains: all as sealed"),
        (37, "Run manage.py checkpoint now, and start the worker and timer"),
    ],
)
def test_health_is_not_well_when_the_last_checkpoint_is_older_than_36_hours(
    chain: Depot, hours: int, words: str
) -> None:
    at = NOW + timedelta(hours=hours)
    read_chains(at=at)
    well, on_health = sealed_part(at)
    assert well == (hours < 36)
    assert words in on_health


def test_health_is_not_well_without_any_checkpoint_and_says_what_to_do(depot: Depot) -> None:
    well, words = sealed_part(NOW)
    assert not well
    assert words.startswith("No checkpoint was ever signed")
    assert "Run manage.py checkpoint now" in words


def test_health_is_not_well_when_nobody_reads_the_chains(chain: Depot) -> None:
    at = NOW + timedelta(hours=37)
    sign_chains(at=at)
    well, words = sealed_part(at)
    assert not well
    assert "Not read against their seals for 36 hours: North yard." in words


def test_a_checkpoint_that_is_not_ours_is_told_on_health(chain: Depot, tmp_path: Path) -> None:
    path = next((tmp_path / "checkpoints").iterdir())
    path.write_text(path.read_text().replace('\\"seq\\":\\"5\\"', '\\"seq\\":\\"4\\"'))
    read_chains(at=NOW)
    well, words = sealed_part(NOW)
    assert not well
    assert "the signature is not of our key" in words


def test_what_the_thorough_reading_found_is_not_covered_by_the_daily_one(
    chain: Depot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verify, "first_sheet_fault", lambda depot: (2, "its sheet is another"))
    assert "record NORTH-2: changed: its sheet is another" in told()
    assert read_chains(at=NOW + timedelta(hours=24)) == 1
    assert ChainCheck.objects.get().what == "changed: its sheet is another"
    monkeypatch.undo()
    assert read_chains(at=NOW + timedelta(hours=48)) == 1
    assert ChainCheck.objects.get().what == ""


def test_the_command_leaves_a_checkpoint_that_is_not_ours_on_health(
    chain: Depot, tmp_path: Path
) -> None:
    path = next((tmp_path / "checkpoints").iterdir())
    path.write_text("no checkpoint")
    assert "it cannot be read" in told()
    well, words = sealed_part(NOW)
    assert not well
    assert "it cannot be read" in words


@pytest.mark.parametrize("has_records", [True, False])
def test_a_depot_whose_chain_is_gone_is_found_by_the_daily_round(
    chain: Depot, has_records: bool
) -> None:
    Chain.objects.all().delete()
    if not has_records:
        RecordText.objects.all().delete()
        Record.objects.all().delete()
    assert read_chains(at=NOW) == 1
    assert ChainCheck.objects.get(depot=chain).what.startswith("checkpoint mismatch")


def test_records_that_no_head_counts_are_found_without_a_checkpoint(
    chain: Depot, tmp_path: Path
) -> None:
    for path in (tmp_path / "checkpoints").iterdir():
        path.unlink()
    before = Record.objects.get(seq=LAST - 1)
    Chain.objects.update(head_seq=LAST - 1, head_hash=before.hash)
    assert f"record NORTH-{LAST}: the head is not the last record" in told()


def test_a_chain_that_cannot_be_read_is_told_and_starves_no_other(
    chain: Depot, other_depot: Depot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(depot: Depot) -> None:
        if depot == chain:
            raise RuntimeError

    monkeypatch.setattr(verify, "first_derived_fault", broken)
    with pytest.raises(RuntimeError):
        read_chains(at=NOW)
    assert sealed_part(NOW + timedelta(minutes=5))[0], "it may be reading yet"
    well, words = sealed_part(NOW + timedelta(hours=2))
    assert not well
    assert "North yard: the reading did not end" in words
    assert read_chains(at=NOW) == 1
    assert ChainCheck.objects.get(depot=other_depot).what == ""


def test_a_fault_that_came_of_a_record_sealed_meanwhile_is_looked_at_again(
    chain: Depot, monkeypatch: pytest.MonkeyPatch
) -> None:
    reads: list[int] = []

    def busy(depot: Depot) -> tuple[int, str] | None:
        reads.append(1)
        if len(reads) > 1:
            return None
        with transaction.atomic():
            seal(
                kind=Record.Kind.STOCK, depot=depot, data={}, happened_at=NOW, received_at=NOW,
                by=None, role="rule",
            )  # fmt: skip
        return (3, "its row is not there yet")

    monkeypatch.setattr(verify, "first_derived_fault", busy)
    assert read_chains(at=NOW) == 1
    assert ChainCheck.objects.get().what == ""
    assert len(reads) == 2


# --- what is worked out from the records, where pages and sums read it


@pytest.fixture(scope="module")
def _read_whole(_ours_lived: World, django_db_blocker: Any) -> World:
    """The world of the other tests with every kind of reading; rolled back with it."""
    ours = _ours_lived
    people = ours.people
    fitter, foreman = people[Role.FITTER], people[Role.FOREMAN]
    drive, later = ours.drive, NOW + timedelta(hours=2)
    with django_db_blocker.unblock(), time_machine.travel(later, tick=False):
        drive.refresh_from_db()
        at: dict[str, Any] = {"drive": drive, "at": NOW + timedelta(hours=1), "by": fitter}
        width = record_width(
            widths=[read("12.9 mm", WIDTH)], tool="calliper", slot_out=read("9 mm", LENGTH), **at
        )
        record_width(
            **at | {"at": later},
            widths=[read("12.8 mm", WIDTH)],
            tool="calliper",
            correction=Correction(of=width, reason="Typed into the wrong box."),
        )
        record_ride(rides={"driver": Ride(typed=read("0.4 mm", LENGTH))}, tool="depth gauge", **at)
        record_slot(out=read("8 mm", LENGTH), tool="steel rule", tight=True, **at)
        record_tension(
            method="force", figure=read("9 N", FORCE), tool="spring gauge", confirmed=True, **at
        )
        record_alignment(
            near=read("0.2 mm", LENGTH), far=read("0.3 mm", LENGTH),
            across=read("80 mm", LENGTH), tool="feeler blades", **at,
        )  # fmt: skip
        record_pulley(
            pulley="driver", dish=read("0.2 mm", LENGTH), tool="feeler blades", shines=False,
            step=False, corroded=False, **at,
        )  # fmt: skip
        other = make_machine(ours.depot, "QUOLM-9", kind=ours.machine.kind)
        found = {
            point.key: Told(answer="none on it" if point.unit else "ok")
            for point in points(other, "look-over", at=later)[1]
        }
        record_inspection(machine=other, kind="look-over", told=found, at=later, by=foreman)
        line = DueLine.objects.get(line=ours.own_line)
        assert line.due_on is not None
        put_off(
            due_line=line, to=max(line.due_on, NOW.date()) + timedelta(days=1),
            reason="The part is on its way.", at=later, by=foreman,
        )  # fmt: skip
        stop = stop_machine(machine=other, told="Smells of burning.", at=later, by=fitter)
        decide_stop(
            stop=stop, carry_on_until=None, reason="", at=later + timedelta(minutes=1), by=foreman
        )
    return ours


@pytest.fixture
def whole(_read_whole: World, ours: World) -> World:
    return _read_whole


BESIDE = ("stands", "struck_by", "total_tenths", "questioned")


def _held(copy: Copy) -> list[str]:
    """The columns that are held against the record in one way or another."""
    beside = [name for name in BESIDE if name in copy.left]
    return [*copy.columns, *filter(None, (copy.at,)), *beside]


def _other(field: Any, value: Any) -> Any:
    """Another value that the column takes."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, datetime):
        return value + timedelta(seconds=1)
    if isinstance(value, date):
        return value + timedelta(days=1)
    if isinstance(value, int | float):
        return value * 2 + 1
    if value is None:
        kinds: dict[str, Any] = {
            "BooleanField": True, "DateField": NOW.date(), "FloatField": 0.5,
        }  # fmt: skip
        return kinds.get(field.get_internal_type(), 7)
    if field.choices:
        return next(str(each) for each, _ in field.flatchoices if each != value)
    return f"{value[:-1]}?"


@pytest.mark.parametrize("model", COPIES)
def test_a_change_of_any_column_that_pages_read_is_found_at_its_record(
    whole: World, model: type[models.Model]
) -> None:
    depot = whole.depot
    assert first_derived_fault(depot) is None
    row: Any = model._default_manager.filter(record__depot=depot).order_by("pk").first()
    assert row is not None, "the world holds none of these"
    some = Record.objects.filter(depot=depot).latest("seq")
    for column in _held(COPIES[model]):
        name = "change" if column == "pieces" else column
        before = getattr(row, name)
        value = some if name == "struck_by" else _other(model._meta.get_field(name), before)
        model._default_manager.filter(pk=row.pk).update(**{name: value})

        assert first_derived_fault(depot) == (
            row.record.seq,
            f"the {name} of its {model._meta.verbose_name} is not what was sealed",
        )

        model._default_manager.filter(pk=row.pk).update(**{name: before})


def test_what_is_put_right_at_the_next_depot_is_no_fault_at_the_first(
    whole: World, other_depot: Depot
) -> None:
    """Corrected twice, and a questioned figure accepted, where the machine stands now."""
    drive = whole.drive
    manager = make_user("Sian Two", (other_depot, Role.MANAGER))
    at = NOW + timedelta(hours=3)
    Machine.objects.filter(pk=drive.machine_id).update(depot=other_depot)
    drive.refresh_from_db()
    for hours, figure in ((0, "12.7 mm"), (1, "12.6 mm")):
        first = WidthReading.objects.filter(drive=drive, stands=True).latest("at", "pk")
        record_width(
            drive=drive, widths=[read(figure, WIDTH)], tool="calliper",
            at=at + timedelta(hours=hours), by=manager,
            correction=Correction(of=first, reason="Typed into the wrong box."),
        )  # fmt: skip
    asked = MeterReading.objects.exclude(questioned="").filter(record__depot=whole.depot).first()
    assert asked is not None
    Machine.objects.filter(pk=asked.meter.machine_id).update(depot=other_depot)
    # As if it did not lie below the one before: only the decision matters here.
    figure_row = MeterReading.objects.filter(pk=asked.pk)
    stood = figure_row.values("dial_tenths", "total_tenths").get()
    figure_row.update(dial_tenths=1200, total_tenths=1200)
    accept_meter(reading=figure_row.get(), reason="It is right.", at=at, by=manager)
    figure_row.update(**stood)
    assert [first_derived_fault(each) for each in (whole.depot, other_depot)] == [None, None]


def test_a_row_that_cannot_be_read_is_named(whole: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def odd(*_: Any, **__: Any) -> str:
        raise ArithmeticError

    monkeypatch.setattr(derived, "_wrong", odd)
    found = first_derived_fault(whole.depot)
    assert found is not None
    assert found[1].endswith("cannot be read")


def _seq_of(row: Any) -> int:
    return int(row.record.seq)


def test_a_stop_is_not_taken_away_decided_or_freed_but_by_a_record(whole: World) -> None:
    depot = whole.depot
    stop = Stop.objects.filter(record__kind=Record.Kind.STOP, record__depot=depot).get()
    seq = _seq_of(stop)
    some = Record.objects.filter(depot=depot).earliest("seq")
    for change, words in (
        ({"released_by": some}, "the release of its stop is not what was sealed"),
        (
            {"until": NOW.date()},
            "the kind or the last day of its stop is not what was sealed",
        ),
        ({"decided_by": None}, "the decision on its stop is not what was sealed"),
    ):
        with transaction.atomic():
            Stop.objects.filter(pk=stop.pk).update(**change)
            assert first_derived_fault(depot) == (seq, words)
            transaction.set_rollback(True)
    stop.delete()
    assert first_derived_fault(depot) == (seq, "its stop is missing")


def test_a_release_that_is_undone_in_its_row_is_found(whole: World) -> None:
    """Else a machine would stand stopped that somebody had freed, and nobody would know why."""
    stop = Stop.objects.filter(record__kind=Record.Kind.STOP, record__depot=whole.depot).get()
    assert stop.job is not None
    Job.objects.filter(pk=stop.job.pk).update(state=Job.State.CALLED_OFF)
    release_machine(
        machine=stop.machine, frees=[stop], looks=dict.fromkeys(dict(LOOKS), "right"),
        at=NOW + timedelta(hours=3), by=whole.people[Role.MANAGER],
    )  # fmt: skip
    assert first_derived_fault(whole.depot) is None
    Stop.objects.filter(pk=stop.pk).update(released_by=None)
    assert first_derived_fault(whole.depot) == (
        _seq_of(stop), "the release of its stop is not what was sealed"
    )  # fmt: skip


def test_a_competence_that_was_ended_does_not_come_back_by_its_row(whole: World) -> None:
    from maintenance.actions.competence import end

    given = Competence.objects.filter(depot=whole.depot).first()
    assert given is not None
    end(
        competence=given, because="Card taken back.", at=NOW + timedelta(hours=3),
        by=whole.people[Role.ADMINISTRATOR],
    )  # fmt: skip
    assert first_derived_fault(whole.depot) is None
    Competence.objects.filter(pk=given.pk).update(ended_on=None, end_record=None)
    assert first_derived_fault(whole.depot) == (
        _seq_of(given), "the end of its competence is not what was sealed"
    )  # fmt: skip


def test_a_row_that_is_gone_is_missed_by_its_record(whole: World) -> None:
    reading = WidthReading.objects.filter(record__kind=Record.Kind.WIDTH).order_by("pk").first()
    assert reading is not None
    seq = _seq_of(reading)
    reading.delete()
    assert first_derived_fault(whole.depot) == (seq, "its width reading is missing")


def test_a_sheet_whose_content_was_changed_is_found(whole: World) -> None:
    sheet = whole.sheet
    assert sheet.record is not None, sheet.why
    assert first_sheet_fault(whole.depot) is None
    changed = str(json.dumps(sheet.content)).replace(whole.machine.number, "QUOLM-X")
    assert whole.machine.number in json.dumps(sheet.content)
    Sheet.objects.filter(pk=sheet.pk).update(content=json.loads(changed))
    assert first_sheet_fault(whole.depot) == (
        sheet.record.seq, "the content of its sheet is not what was sealed"
    )  # fmt: skip


def test_each_column_of_each_row_on_a_record_is_held_or_says_why_not() -> None:
    """A new model or column that stands on a record fails here until it is in the table."""
    elsewhere = {"Batch", "Sheet", "Record", "RecordText", "RecordPhoto"}
    for model in apps.get_models():
        points = [
            each for each in model._meta.concrete_fields if each.related_model is Record
        ]  # fmt: skip
        name = model.__name__
        if not points or name in elsewhere or name in NOT_HELD:
            assert not (name in NOT_HELD and model in COPIES)
            continue
        copy = COPIES[model]
        own = {each.name for each in model._meta.concrete_fields} - {"id", "record"}
        assert own == (set(copy.columns) | set(copy.left) | {copy.at}) - {"", "pieces"}, name
    assert set(NOT_HELD) <= {model.__name__ for model in apps.get_models()}
    assert MeterReading in COPIES
    assert StockMove in COPIES
