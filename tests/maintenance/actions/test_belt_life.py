"""When belts run out: worked out after each reading, ordered once, whatever came first."""

from datetime import datetime, timedelta
from threading import Thread
from typing import Any

import pytest
from django.db import connections, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.actions.belt_life import raise_belt_work
from maintenance.actions.meter import record_meter
from maintenance.actions.reading import record_width
from maintenance.models import BeltLife, BeltLook, Job
from make import MONDAY, make_depot, make_drive, make_machine
from plant import units
from plant.contents.drive import FIELDS
from plant.models import Drive, Machine, User
from plant.units import WIDTH

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
