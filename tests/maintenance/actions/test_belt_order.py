"""Readings that come late, out of order or are put right end in one and the same answer."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.actions.belt_record import Correction, take_out
from maintenance.actions.pulley import Ride, record_alignment, record_pulley, record_ride
from maintenance.actions.reading import record_tension, record_width
from maintenance.actions.slot import record_slot
from maintenance.contents.drive import drive_now, given_now, told_now
from maintenance.models import BeltLife, SlotReading, WidthReading
from maintenance.models.reading import BeltReading
from make import MONDAY, make_drive
from plant import units
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.contents.drive import FIELDS
from plant.models import Drive, Machine, Record, User
from plant.units import FORCE, LENGTH, WIDTH, Typed

HEARD = MONDAY + timedelta(days=30)
REASON = "Typed into the wrong box."


def mm(text: str) -> Typed:
    return units.read(text, LENGTH)


@pytest.fixture
def drive(machine: Machine) -> Drive:
    entries = {name: {"typed": "", "mark": "measured", "tool": ""} for name in FIELDS}
    return make_drive(machine, entries=entries, belt_fitted_tenths=0)


@dataclass(frozen=True)
class Told:
    """One thing that somebody tells: a reading, or what puts the reading of that name right."""

    name: str
    days: int
    puts_right: str = ""


def tell(
    told: Told, drive: Drive, by: User, kept: dict[str, BeltReading], ids: dict[str, Any]
) -> None:
    at = MONDAY + timedelta(days=told.days)
    more: dict[str, Any] = {
        "drive": drive, "at": at, "by": by, "received_at": HEARD, "record_id": ids[told.name],
    }  # fmt: skip
    if told.puts_right:
        more["correction"] = Correction(of=kept[told.puts_right], reason=REASON)
        more["at"] = HEARD
    kind, _, text = told.name.partition(" ")
    acts: dict[str, Callable[[], BeltReading]] = {
        "width": lambda: record_width(widths=[units.read(text, WIDTH)], tool="calliper", **more),
        "both": lambda: record_width(
            widths=[units.read("12.1", WIDTH)], tool="calliper", slot_out=mm(text), **more
        ),
        "slot": lambda: record_slot(out=mm(text), tool="steel rule", tight=True, **more),
        "ride": lambda: record_ride(
            rides={"driver": Ride(typed=mm(text))}, tool="depth gauge", **more
        ),
        "force": lambda: record_tension(
            method="force", figure=units.read(text, FORCE), tool="spring gauge", confirmed=True,
            **more,
        ),
        "shine": lambda: record_pulley(pulley="driver", shines=text == "yes", **more),
        "line": lambda: record_alignment(
            near=mm("0.2"), far=mm(text), tool="feeler blades", **more
        ),
    }  # fmt: skip
    kept[told.name] = acts[kind]()


STORY = (
    Told("width 12.6", 1),
    Told("width 11.1", 9),
    Told("width 12.0", 9, puts_right="width 11.1"),
    Told("both 9", 5),
    Told("slot 7", 12),
    Told("slot 8.5", 3),
    Told("ride 1.9", 4),
    Told("ride 0.9", 4, puts_right="ride 1.9"),
    Told("force 8", 6),
    Told("force 7", 2),
    Told("shine no", 7),
    Told("line 1.9", 3),
)


def orders() -> st.SearchStrategy[list[Told]]:
    """Any order in which a reading comes before what puts it right."""

    def sound(order: list[Told]) -> bool:
        names = [told.name for told in order]
        return all(
            not told.puts_right or names.index(told.puts_right) < names.index(told.name)
            for told in order
        )

    return st.permutations(STORY).filter(sound)


def answer(drive: Drive) -> Any:
    fresh = Drive.objects.select_related("machine__depot").get(pk=drive.pk)
    now = drive_now(fresh, at=HEARD)
    life = BeltLife.objects.get(drive=drive)
    return (told_now(now), life.state, life.likely_on, life.why)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(order=orders())
def test_no_order_of_readings_and_corrections_gives_another_verdict(
    drive: Drive, fitter: User, order: list[Told]
) -> None:
    ids = {told.name: new_id() for told in STORY}
    answers = []
    for one in (list(STORY), order):
        with transaction.atomic():
            kept: dict[str, BeltReading] = {}
            for told in one:
                tell(told, drive, fitter, kept, ids)
            answers.append(answer(drive))
            transaction.set_rollback(True)

    assert answers[0] == answers[1]
    assert answers[0][0].result("loss").value == "1.0 mm"


def test_two_places_of_the_slot_count_by_their_moment(drive: Drive, fitter: User) -> None:
    for days, text in ((5, "8"), (2, "11")):
        record_slot(
            drive=drive, out=mm(text), tool="steel rule", tight=None, by=fitter,
            at=MONDAY + timedelta(days=days), received_at=HEARD,
        )  # fmt: skip

    now = given_now(drive, at=HEARD, width=None)
    # The motor moved by 14 - 8 mm: centre distance and the room inwards with it.
    assert (now.slot_out, now.centres, now.slot_in) == pytest.approx((0.008, 0.1372, 0.012))


def test_a_corrected_reading_stands_beside_what_put_it_right(drive: Drive, fitter: User) -> None:
    first = record_width(
        drive=drive, widths=[units.read("10.4", WIDTH)], tool="calliper", at=MONDAY, by=fitter,
        slot_out=mm("9"),
    )  # fmt: skip

    second = record_width(
        drive=drive, widths=[units.read("12.4", WIDTH)], tool="calliper", at=HEARD, by=fitter,
        correction=Correction(of=first, reason=REASON),
    )  # fmt: skip

    first.refresh_from_db()
    assert (first.stands, second.stands, second.at) == (False, True, first.at)
    # The place of the slot was told with it, and is taken back with it.
    assert not SlotReading.objects.get().stands
    assert (second.record.kind, second.record.corrects) == ("correction", first.record)
    data = json.loads(second.record.content)["data"]
    assert (data["was"], data["now"]) == ("10.4 mm", "12.4 ± 0.1 mm")
    assert drive_now(drive, at=HEARD).width == second


def test_a_reading_corrected_by_somebody_else_is_not_corrected_unseen(
    drive: Drive, fitter: User
) -> None:
    reading = record_width(
        drive=drive, widths=[units.read("10.4", WIDTH)], tool="calliper", at=MONDAY, by=fitter
    )
    entry = new_id()
    for _ in range(2):  # sent twice: once
        take_out(
            reading=reading, kind=Record.Kind.WIDTH, reason=REASON, at=HEARD, by=fitter,
            record_id=entry,
        )  # fmt: skip

    with pytest.raises(Refused, match="corrected already"):
        record_width(
            drive=drive, widths=[units.read("12.4", WIDTH)], tool="calliper", at=HEARD, by=fitter,
            correction=Correction(of=reading, reason=REASON),
        )  # fmt: skip

    assert Record.objects.count() == 2
    assert not WidthReading.objects.filter(stands=True).exists()
    assert drive_now(drive, at=HEARD).width is None


def test_a_correction_needs_a_reason_and_the_right(
    drive: Drive, fitter: User, operator: User
) -> None:
    reading = record_width(
        drive=drive, widths=[units.read("10.4", WIDTH)], tool="calliper", at=MONDAY, by=fitter
    )

    with pytest.raises(Refused) as refused:
        take_out(reading=reading, kind=Record.Kind.WIDTH, reason="slip", at=HEARD, by=fitter)
    with pytest.raises(PermissionError):
        take_out(reading=reading, kind=Record.Kind.WIDTH, reason=REASON, at=HEARD, by=operator)

    assert refused.value.field == "reason"
    assert WidthReading.objects.get().stands


def test_what_wore_since_the_slot_was_read_is_no_longer_left(drive: Drive, fitter: User) -> None:
    """The slot read tight at 12.6 mm, and a width of 12.0 mm a week later."""
    record_width(
        drive=drive, widths=[units.read("12.6", WIDTH)], tool="calliper", at=MONDAY, by=fitter
    )
    record_slot(
        drive=drive, out=mm("8"), tool="steel rule", tight=True, by=fitter,
        at=MONDAY + timedelta(hours=1),
    )  # fmt: skip
    later = record_width(
        drive=drive, widths=[units.read("12.0", WIDTH)], tool="calliper", by=fitter, at=HEARD,
    )  # fmt: skip

    now = drive_now(drive, at=HEARD)
    assert now.workout is not None
    assert now.workout.wear is not None
    slot = now.workout.wear.take_up
    assert slot is not None
    assert slot.since is not None
    # Some 5 mm of centre distance for each millimetre of width (belt example V14: 13.35 for 2.6).
    assert slot.since.value == pytest.approx(0.6e-3 * 13.35 / 2.6, rel=0.03)
    assert slot.left.value == pytest.approx(8e-3 - slot.since.value)
    sealed = json.loads(later.record.content)["data"]["results"]["take_up_left"]["si"]
    assert float(sealed) == pytest.approx(slot.left.value, rel=1e-9)

    # Pulled tight and read again where it stands, all that is left of the slot is left.
    record_tension(
        drive=drive, method="force", figure=units.read("8", FORCE), tool="spring gauge",
        at=HEARD + timedelta(minutes=9), by=fitter,
    )  # fmt: skip
    again = drive_now(drive, at=HEARD + timedelta(hours=1)).workout
    assert again is not None
    assert again.wear is not None
    assert again.wear.take_up is not None
    assert again.wear.take_up.left.value == pytest.approx(8e-3)
