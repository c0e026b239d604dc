"""When belts run out: worked out after each reading, ordered once, whatever came first."""

from datetime import datetime, timedelta
from threading import Thread
from typing import Any
from unittest.mock import patch

import pytest
from django.db import connections, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.actions.belt_life import raise_belt_work
from maintenance.actions.meter import record_meter
from maintenance.actions.pulley import Ride, record_pulley, record_ride
from maintenance.actions.reading import record_width
from maintenance.actions.signing import locked
from maintenance.actions.slot import record_slot
from maintenance.contents.drive import drive_now
from maintenance.models import BeltLife, BeltLook, Job
from make import MONDAY, make_depot, make_drive, make_machine
from plant import units
from plant.actions.refusal import Refused
from plant.contents.drive import FIELDS
from plant.drives.workout import Verdict
from plant.models import Drive, Machine, User
from plant.units import LENGTH, WIDTH

# Moment in days from MONDAY, running hours, width in mm.
READINGS = ((0, 100.0, 12.8), (20, 180.0, 12.5), (40, 260.0, 12.15), (60, 340.0, 11.9))


@pytest.fixture
def drive(machine: Machine) -> Drive:
    """80 and 180 mm pulleys, an A belt of 690 mm, everything measured; its own new width 13.0."""
    entries = {
        name: {"typed": "", "mark": "measured", "tool": ""}
        for name in FIELDS
        if name not in ("motor_power_w", "motor_speed_rpm")
    } | {"belt_tight": {"typed": "yes", "mark": "measured", "tool": ""}}
    return make_drive(
        machine, entries=entries, belt_new_width_m=0.013, belt_new_width_u_m=2e-5,
        driver_depth_m=0.012, driven_depth_m=0.012, slot_out_m=0.005,
    )  # fmt: skip


def measure(drive: Drive, by: User, day: int, hours: float, width: float) -> None:
    at = MONDAY + timedelta(days=day)
    if day:
        record_meter(
            machine=drive.machine, dial_tenths=round(hours * 10), typed=f"{hours}", at=at, by=by
        )
    record_width(
        drive=drive, widths=[units.read(f"{width} mm", WIDTH)], tool="calliper", at=at, by=by
    )


def life_of(drive: Drive) -> BeltLife:
    return BeltLife.objects.get(drive=drive)


def test_a_belt_with_three_widths_has_an_order_day_and_its_order_is_raised_once(
    drive: Drive, fitter: User
) -> None:
    depot = drive.machine.depot
    for day, hours, width in READINGS[:2]:
        measure(drive, fitter, day, hours, width)
    assert life_of(drive).state == BeltLife.State.AGAIN
    for day, hours, width in READINGS[2:]:
        measure(drive, fitter, day, hours, width)
    life = life_of(drive)
    assert life.early_on is not None
    assert life.order_by_on == life.early_on - timedelta(days=14)
    due = datetime.combine(life.order_by_on, datetime.min.time(), tzinfo=depot.zone)

    raised = [
        raise_belt_work(depot=depot, at=due + timedelta(hours=hours)) for hours in (-1, 0, 1, 500)
    ]

    assert raised == [0, 1, 0, 0]
    job = Job.objects.get()
    assert (job.kind, job.drive, job.due_on) == (Job.Kind.ORDER, drive, life.order_by_on)
    assert "13A690" in job.title


HEARD = MONDAY + timedelta(days=70)
NEWS = [(kind, *each) for each in READINGS for kind in ("meter", "width")][1:]


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(order=st.permutations(NEWS))
def test_no_order_in_which_figures_and_widths_are_heard_gives_another_day(
    drive: Drive, fitter: User, order: list[Any]
) -> None:
    answers = []
    for one in (NEWS, order):
        with transaction.atomic():
            for kind, day, hours, width in one:
                at = MONDAY + timedelta(days=day)
                if kind == "meter":
                    record_meter(
                        machine=drive.machine, dial_tenths=round(hours * 10), typed=f"{hours}",
                        at=at, received_at=HEARD, by=fitter, confirmed=True,
                    )  # fmt: skip
                else:
                    record_width(
                        drive=drive, widths=[units.read(f"{width} mm", WIDTH)], tool="calliper",
                        at=at, received_at=HEARD, by=fitter,
                    )  # fmt: skip
            found = life_of(drive)
            answers.append((found.state, found.early_on, found.likely_on, found.late_on, found.why))
            transaction.set_rollback(True)

    assert answers[0][0] == "dated"
    assert answers[0] == answers[1]


def test_two_workers_raising_at_once_raise_each_order_and_each_look_once(
    transactional_db: None,
) -> None:
    depot = make_depot()
    for number in range(6):
        drive = make_drive(make_machine(depot))
        at = {"worked_out_at": MONDAY, "belt_key": f"{number}"}
        BeltLife.objects.create(
            drive=drive, state="dated", lead_days=14, order_by_on=MONDAY.date(), **at
        )
        BeltLook.objects.create(drive=drive, number=1, hours=5.0, **at)
    raised: list[int] = []

    def run() -> None:
        try:
            raised.append(raise_belt_work(depot=depot, at=MONDAY))
        finally:
            connections.close_all()

    threads = [Thread(target=run) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert len(raised) == 2
    assert sum(raised) == Job.objects.count() == 12


def test_an_order_that_a_reading_moved_before_its_machine_was_locked_is_not_raised(
    drive: Drive,
) -> None:
    BeltLife.objects.create(
        drive=drive, state="dated", lead_days=14, order_by_on=MONDAY.date(), belt_key="k",
        worked_out_at=MONDAY,
    )  # fmt: skip

    def meanwhile(machine: Machine) -> Machine:
        BeltLife.objects.update(order_by_on=MONDAY.date() + timedelta(days=9))
        return locked(machine)

    with patch("maintenance.actions.belt_life.locked", side_effect=meanwhile):
        assert raise_belt_work(depot=drive.machine.depot, at=MONDAY) == 0

    assert not Job.objects.exists()
    later = MONDAY + timedelta(days=9)
    assert raise_belt_work(depot=drive.machine.depot, at=later) == 1


def seen(drive: Drive, *, at: datetime) -> tuple[Verdict | None, float | None, float]:
    found = drive_now(Drive.objects.get(pk=drive.pk), at=at).workout
    assert found is not None
    assert found.wear is not None
    left = found.wear.take_up.left.value if found.wear.take_up else None
    return found.verdict, left, found.wear.driver.room.value


def test_slot_and_width_of_one_visit_are_of_one_moment_whichever_was_told_first(
    drive: Drive, fitter: User
) -> None:
    """Else the wear of a month would come off a slot that was read today."""
    measure(drive, fitter, 0, 100.0, 12.6)
    day = MONDAY + timedelta(days=60)
    answers = []
    for first, then in ((0, 5), (5, 0)):
        with transaction.atomic():
            record_slot(
                drive=drive, out=units.read("2.0 mm", LENGTH), tool="steel rule", tight=True,
                at=day + timedelta(minutes=first), by=fitter,
            )  # fmt: skip
            record_width(
                drive=drive, widths=[units.read("12.0 mm", WIDTH)], tool="calliper",
                at=day + timedelta(minutes=then), by=fitter, received_at=day + timedelta(hours=1),
            )  # fmt: skip
            answers.append(seen(drive, at=day + timedelta(hours=1)))
            transaction.set_rollback(True)
    assert answers[0] == answers[1]
    assert answers[0][0] != Verdict.CHANGE


@pytest.mark.parametrize("old", ["dull floor", "ride"])
def test_what_was_seen_long_before_a_width_does_not_outrank_it(
    drive: Drive, fitter: User, old: str
) -> None:
    Drive.objects.update(driver_depth_m=0.007, driven_depth_m=0.007)
    answers = []
    for is_told in (False, True):
        with transaction.atomic():
            if is_told and old == "ride":
                ride = Ride(typed=units.read("0.5 mm", LENGTH), above=True)
                record_ride(
                    drive=drive, rides={"driver": ride}, tool="depth gauge", at=MONDAY, by=fitter
                )
            elif is_told:
                record_pulley(drive=drive, pulley="driver", shines=False, at=MONDAY, by=fitter)
            measure(drive, fitter, 90, 400.0, 11.8)
            answers.append(seen(drive, at=MONDAY + timedelta(days=90)))
            transaction.set_rollback(True)
    assert answers[0] == answers[1]


def test_a_reading_of_the_belt_before_is_not_worked_out_with_this_ones_figures(
    drive: Drive, fitter: User
) -> None:
    with pytest.raises(Refused, match="Another belt was fitted since") as refused:
        record_width(
            drive=drive, widths=[units.read("11.9 mm", WIDTH)], tool="calliper",
            at=MONDAY - timedelta(days=300), received_at=MONDAY, by=fitter,
        )  # fmt: skip
    assert refused.value.field == "read_at"
