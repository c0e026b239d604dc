"""When belts run out: worked out after each reading, ordered once, whatever came first."""

from datetime import datetime, timedelta

import pytest

from maintenance.actions.belt_life import raise_belt_work
from maintenance.actions.meter import record_meter
from maintenance.actions.reading import record_width
from maintenance.models import BeltLife, Job
from make import MONDAY, make_drive
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
