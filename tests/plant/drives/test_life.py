"""The ends of a belt against scipy's root-finder, belt example V24 and numpy's weighted line."""

from math import asin, cos, pi, radians, tan

import numpy as np
import pytest
from scipy.optimize import brentq

from plant.drives.life import ends, limits
from plant.drives.outcome import WearPart
from plant.drives.workout import DriveGiven, work_out

MM = 1e-3
# Pulleys and belt of belt example V24; 7.5 mm of slot left at 12.4 mm of width, belt tight.
GIVEN = DriveGiven(
    driver=0.080, driven=0.180, section="A", length=0.690, driver_angle=radians(34),
    driven_angle=radians(38), driver_depth=8.7 * MM, driven_depth=8.7 * MM, width_new=13.0 * MM,
    width_new_u=0.1 * MM, width_now=12.4 * MM, width_now_u=0.1 * MM, belt_tight=True,
    centres=133.9 * MM, slot_out=7.5 * MM,
)  # fmt: skip


def worn() -> WearPart:
    found = work_out(GIVEN).wear
    assert found is not None
    return found


def centres(width: float) -> float:
    """Centre distance [mm] at which the belt is tight, round both sunken pulleys."""
    small, large = (
        d - 2 * (13.0 - width) / (2 * tan(radians(angle) / 2)) for d, angle in ((80, 34), (180, 38))
    )

    def misses(c: float) -> float:
        lean = asin((large - small) / (2 * c))
        return 2 * c * cos(lean) + pi * (small + large) / 2 + lean * (large - small) - 690

    return float(brentq(misses, 100, 300))


def test_the_ends_are_where_the_belt_path_and_the_groove_put_them() -> None:
    found = limits(worn())

    slot = brentq(lambda w: centres(w) - centres(12.4) - 7.5, 10.0, 12.4)
    assert found.slot is not None
    assert found.bottom is not None
    assert found.slot * 1e3 == pytest.approx(slot, abs=0.005)
    # Floor less the cord's 4.7746 mm above the base (belt example V24), in the narrower groove.
    floor = 13.0 - 2 * tan(radians(17)) * (8.7 - 4.7746)
    assert found.bottom * 1e3 == pytest.approx(floor, abs=0.005)
    assert found.depth_measured


def test_the_day_is_where_the_weighted_line_meets_the_sooner_end() -> None:
    taken = [(100, 12.9), (200, 12.75), (300, 12.58), (400, 12.4)]
    found = ends([(h, w * MM, 0.1 * MM) for h, w in taken], worn=worn(), now=400)

    slope, start = np.polyfit(*zip(*taken, strict=True), 1)
    slot = brentq(lambda w: centres(w) - centres(12.4) - 7.5, 10.0, 12.4)
    assert found.slot is not None
    assert found.slot.hours == pytest.approx((slot - start) / slope, rel=2e-3)
    assert found.first in ("take-up", "either")
