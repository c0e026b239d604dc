"""One belt from its fitting to its end, against sums of our own with numpy and scipy.

The geometry is the exact length of an open belt (Budynas & Nisbett, Shigley's Mechanical
Engineering Design, 10th ed., section 17-2, from memory); the line is numpy's weighted fit; the
interval is Fieller's (Draper & Smith, Applied Regression Analysis, 3rd ed., section 3.2, from
memory), its two ends found by a root finder instead of in closed form.
"""

from datetime import timedelta
from math import asin, cos, hypot, pi, radians, sqrt, tan

import numpy
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from maintenance.actions.belt_change import FirstSetting, OldBelt, fit_belt
from maintenance.actions.belt_life import raise_belt_work
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.meter import record_meter
from maintenance.actions.new_belt import NewBelt
from maintenance.actions.reading import record_tension, record_width
from maintenance.models import BeltLife, BeltLook, Job, TensionReading, UseRate, WidthReading
from make import MONDAY, make_drive
from plant import units
from plant.contents.drive import FIELDS
from plant.models import Drive, Machine, User
from plant.units import FORCE, LENGTH, WIDTH

DRIVER, DRIVEN, LENGTH_M = 0.080, 0.180, 0.690
ANGLES = (radians(34), radians(38))
NEW, SLOT = 0.0130, 0.006  # [m] the new belt's width, and the room left when it was set
# Days after the fitting, running hours of the machine, width in mm.
WIDTHS = ((10, 140, 12.9), (30, 220, 12.72), (50, 300, 12.5), (70, 380, 12.34), (90, 460, 12.12))


def belt_length(small: float, large: float, centres: float) -> float:
    lean = asin((large - small) / (2 * centres))
    return 2 * centres * cos(lean) + (pi + 2 * lean) * large / 2 + (pi - 2 * lean) * small / 2


def centres_for(width: float) -> float:
    """Centre distance [m] at which a belt worn to this width is tight."""
    small, large = (
        pulley - 2 * (NEW - width) / (2 * tan(angle / 2))
        for pulley, angle in zip((DRIVER, DRIVEN), ANGLES, strict=True)
    )
    found: float = brentq(lambda c: belt_length(small, large, c) - LENGTH_M, 0.11, 0.3)
    return found


def independent(readings: list[tuple[float, float, float]], u_new: float) -> list[float]:
    """Early, likely and late hours at which the slot ends."""
    limit = brentq(lambda w: centres_for(w) - centres_for(NEW) - SLOT, 0.0105, NEW, xtol=1e-12)
    step = 1e-7
    per_width = (centres_for(NEW - step) - centres_for(NEW)) / step
    u_limit = hypot(u_new, 0.5e-3 / sqrt(3) / per_width)
    hours, widths, errors = (numpy.array(column) for column in zip(*readings, strict=True))
    (slope, start), cov = numpy.polyfit(hours, widths, 1, w=1 / errors, cov="unscaled")
    likely = (limit - start) / slope
    k = norm.ppf(0.95)

    def outside(hour: float) -> float:
        spread = cov[1, 1] + 2 * hour * cov[0, 1] + hour**2 * cov[0, 0] + u_limit**2
        return float((start + slope * hour - limit) ** 2 - k**2 * spread)

    return [
        brentq(outside, readings[-1][0] * 0.5, likely),
        likely,
        brentq(outside, likely, likely * 5),
    ]


@pytest.fixture
def drive(machine: Machine) -> Drive:
    entries = {name: {"typed": "", "mark": "measured", "tool": ""} for name in FIELDS}
    return make_drive(
        machine, entries=entries, driver_depth_m=0.012, driven_depth_m=0.012, slot_out_m=SLOT
    )


def change(drive: Drive, *, days: float, by: User) -> None:
    at = MONDAY + timedelta(days=days)
    job = open_job(machine=drive.machine, kind=Job.Kind.BELT, title="Belt", at=at, by=by)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=by)
    fit_belt(
        job=job, drive=drive, old=OldBelt(at=at, because="torn off"),
        new=NewBelt(
            mark="13A690", width=units.read("13.0 mm", WIDTH), tool="calliper", motor_in=True
        ),
        setting=FirstSetting(
            figure=units.read("14 N", FORCE), tool="spring gauge", confirmed=True, guards_on=True,
            slot_out=units.read("6 mm", LENGTH),
        ),
        at=at, by=by,
    )  # fmt: skip


def run_and_measure(drive: Drive, days: float, hours: float, width: float, by: User) -> None:
    at = MONDAY + timedelta(days=days)
    record_meter(
        machine=drive.machine, dial_tenths=round(hours * 10), typed=f"{hours}", at=at, by=by
    )
    record_width(
        drive=drive, widths=[units.read(f"{width} mm", WIDTH)], tool="calliper", at=at, by=by
    )


def test_a_belt_from_its_fitting_over_its_look_and_five_widths_to_the_end_of_its_slot(
    drive: Drive, fitter: User
) -> None:
    depot = drive.machine.depot
    change(drive, days=0, by=fitter)
    look_at = MONDAY + timedelta(days=2)
    record_meter(machine=drive.machine, dial_tenths=1080, typed="108", at=look_at, by=fitter)
    record_tension(
        drive=drive, method=TensionReading.Method.FORCE, figure=units.read("9 N", FORCE),
        tool="spring gauge", at=look_at, by=fitter, confirmed=True,
    )  # fmt: skip
    assert TensionReading.objects.earliest("at").stage == "new"
    assert TensionReading.objects.latest("at").stage == "run-in"
    assert BeltLook.objects.get(number=1).hours == pytest.approx(8.0)

    for number, (days, hours, width) in enumerate(WIDTHS):
        run_and_measure(drive, days, hours, width, fitter)
        life = BeltLife.objects.get(drive=drive)
        assert (life.state == "dated") is (number >= 2), life.why

    # The slot was read when the belt was new: what it has worn since is no longer left.
    rows = WidthReading.objects.order_by("at")
    drive.refresh_from_db()
    assert drive.belt_new_width_u_m is not None
    wanted = independent(
        [(h, w / 1e3, row.u_m) for (_, h, w), row in zip(WIDTHS, rows, strict=True)],
        drive.belt_new_width_u_m,
    )
    assert life.ends_by == "take-up"
    found = [life.hours_early, life.hours_likely, life.hours_late]
    assert found == pytest.approx(wanted, rel=1e-4)
    rate = UseRate.objects.get(machine=drive.machine)
    last = MONDAY + timedelta(days=WIDTHS[-1][0])
    early, likely = (
        (last + timedelta(days=(ends - WIDTHS[-1][1]) / pace)).date()
        for ends, pace in zip(wanted, (rate.high, rate.likely), strict=False)
    )
    assert (life.early_on, life.likely_on) == (early, likely)
    assert life.order_by_on == early - timedelta(days=14)

    due = last + timedelta(days=(early - last.date()).days)
    assert raise_belt_work(depot=depot, at=due) >= 1
    assert Job.objects.filter(belt_work="order", drive=drive).count() == 1
    run_and_measure(drive, 140, 660, 11.6, fitter)
    change(drive, days=141, by=fitter)

    life.refresh_from_db()
    assert (life.state, life.readings) == ("again", 0)
    order = Job.objects.get(belt_work="order")
    assert (order.state, order.called_off_because[:23]) == ("called off", "A new belt was fitted i")
    assert raise_belt_work(depot=depot, at=due + timedelta(days=90)) <= 2
    assert Job.objects.filter(belt_work="order").count() == 1
