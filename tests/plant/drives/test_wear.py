"""A worn belt against an independent root-finder, the uncertainties library and Monte Carlo."""

from dataclasses import replace
from math import acos, asin, cos, exp, inf, nan, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from uncertainties import ufloat
from uncertainties.umath import tan as utan

from plant.drives import wear
from plant.drives.doubt import Doubtful
from plant.drives.errors import DriveError, OutOfRange

A34, A38 = radians(34), radians(38)
# An invented drive: an A belt of 690 mm datum length on 80 and 180 mm pulleys.
SMALL = wear.PulleyGroove(diameter=0.080, angle=A34, depth=0.0087, above_datum=0.00275)
LARGE = wear.PulleyGroove(diameter=0.180, angle=A38, depth=0.0087, above_datum=0.00275)
LENGTH = 0.690
BELOW = 30 / (2 * pi) / 1000  # (Ld - Li)/(2 pi), Ld - Li = 30 mm
CORD = 20 / (2 * pi) / 1000  # (La - Ld)/(2 pi)


def own_length(small: float, large: float, centres: float) -> float:
    """Belt length from tangent and arcs, by another route: half angle from its cosine."""
    half = acos((large - small) / 2 / centres)
    return 2 * centres * sin(half) + small * half + large * (pi - half)


def own_centres(small: float, large: float, length: float) -> float:
    low = max((small + large) / 2, (large - small) / 2) * 1.0000001
    return float(brentq(lambda c: own_length(small, large, c) - length, low, length, xtol=1e-15))


def worn(
    *,
    now: float = 0.0104,
    u_now: float = 0.0,
    u_new: float = 0.0,
    small: wear.PulleyGroove = SMALL,
    large: wear.PulleyGroove = LARGE,
    u_below: float = 0.0,
) -> wear.Wear:
    return wear.wear(
        small=small,
        large=large,
        length=LENGTH,
        width_new=Doubtful(0.013, u_new),
        width_now=Doubtful(now, u_now),
        below_cord=Doubtful(BELOW, u_below),
        cord_depth=Doubtful(CORD, 0.0),
    )


def ends_slot(*, travel: float, below_cord: float | None = None) -> float | None:
    return wear.loss_that_ends_slot(
        small=SMALL,
        large=LARGE,
        length=LENGTH,
        travel=travel,
        width_new=0.013,
        below_cord=below_cord,
    )


def test_drop_by_hand() -> None:
    # 2.6 mm / (2 tan 17 deg); tan 17 deg = 0.305731 in a table of tangents.
    assert wear.drop(width_new=0.013, width_now=0.0104, groove_angle=A34) == pytest.approx(
        0.0026 / (2 * 0.305731), abs=1e-8
    )


def test_a_belt_that_has_not_worn_has_not_dropped() -> None:
    assert wear.drop(width_new=0.013, width_now=0.013, groove_angle=A34) == 0
    new = worn(now=0.013)
    assert new.free.extra_centres == 0
    assert new.free == new.capped
    assert new.free.ratio == new.free.ratio_new == 2.25


@pytest.mark.parametrize(
    "bad",
    [
        {"width_now": 0.0131},
        {"width_now": 0.0097},
        {"width_now": nan},
        {"width_new": 0.0},
        {"width_new": inf},
        {"groove_angle": 34.0},
        {"groove_angle": 0.0},
    ],
)
def test_drop_outside_its_range_is_refused(bad: dict[str, float]) -> None:
    good = {"width_new": 0.013, "width_now": 0.0104, "groove_angle": A34}

    with pytest.raises(OutOfRange, match="accepted"):
        wear.drop(**{**good, **bad})


def test_a_quarter_of_the_width_is_the_last_that_is_accepted() -> None:
    assert wear.drop(width_new=0.012, width_now=0.009, groove_angle=A34) > 0
    with pytest.raises(OutOfRange):
        wear.drop(width_new=0.012, width_now=0.00899, groove_angle=A34)


def test_extra_centres_free_and_capped_agree_with_a_general_root_finder() -> None:
    found = worn()

    y1, y2 = 0.0026 / (2 * tan(A34 / 2)), 0.0026 / (2 * tan(A38 / 2))
    before = own_centres(0.080, 0.180, LENGTH)
    free = own_centres(0.080 - 2 * y1, 0.180 - 2 * y2, LENGTH)
    room = 0.0087 - BELOW
    capped = own_centres(0.080 - 2 * min(y1, room), 0.180 - 2 * min(y2, room), LENGTH)
    assert found.free.centres_new == pytest.approx(before, abs=1e-12)
    assert found.free.extra_centres == pytest.approx(free - before, abs=1e-12)
    assert found.capped.extra_centres == pytest.approx(capped - before, abs=1e-12)
    # Worked for these invented dimensions elsewhere, rounded there.
    assert found.free.extra_centres == pytest.approx(13.35e-3, abs=0.1e-3)
    assert found.capped.extra_centres == pytest.approx(12.93e-3, abs=0.1e-3)


def test_the_small_pulley_bottoms_and_the_large_one_does_not() -> None:
    found = worn()

    assert found.small.bottoms
    assert not found.large.bottoms
    assert found.small.capped == pytest.approx(3.9254e-3, abs=1e-6)
    assert found.large.room.value == pytest.approx(0.150e-3, abs=1e-6)
    assert found.small.near
    assert found.large.near
    assert "may stand on the floor" in found.words[0]
    assert found.small.ride_free == pytest.approx(-3.82e-3, abs=0.01e-3)
    assert found.small.ride.value == pytest.approx(-3.49e-3, abs=0.01e-3)


def test_a_deeper_groove_leaves_room_and_the_floor_is_then_of_no_account() -> None:
    deep = worn(small=SMALL._replace(depth=0.0112), large=LARGE._replace(depth=0.0112))

    assert not deep.small.bottoms
    assert not deep.large.bottoms
    assert deep.capped == deep.free
    assert deep.words == ()


def test_pi_times_the_drop_is_not_the_answer() -> None:
    # Far from equal pulleys, close together: both wraps and the slope of the spans count.
    small, large, length = 0.080, 0.400, own_length(0.080, 0.400, 0.245)
    y = 0.004

    found = wear.worn_drive(
        small=small, large=large, length=length, drop_small=y, drop_large=y, min_diameter=0.075
    )

    assert found.extra_centres > 1.15 * pi * y


@given(st.floats(0.0098, 0.013), st.floats(0.0, 0.0008))
def test_a_narrower_belt_never_gains_take_up(now: float, less: float) -> None:
    narrower = max(now - less, 0.00976)

    wide, narrow = worn(now=now), worn(now=narrower)

    assert narrow.free.extra_centres >= wide.free.extra_centres - 1e-15
    assert narrow.capped.extra_centres >= wide.capped.extra_centres - 1e-15
    assert narrow.capped.extra_centres <= narrow.free.extra_centres + 1e-15
    assert narrow.small.room.value <= wide.small.room.value


@given(st.floats(0.3, 3.0), st.floats(0.0, 0.2))
def test_a_drive_twice_the_size_wears_alike(scale: float, share: float) -> None:
    def extra(k: float) -> float:
        y1 = wear.drop(width_new=0.013 * k, width_now=0.013 * k * (1 - share), groove_angle=A34)
        y2 = wear.drop(width_new=0.013 * k, width_now=0.013 * k * (1 - share), groove_angle=A38)
        return wear.worn_drive(
            small=0.080 * k, large=0.180 * k, length=0.690 * k, drop_small=y1, drop_large=y2
        ).extra_centres

    assert extra(scale) == pytest.approx(scale * extra(1.0), rel=1e-9, abs=1e-12)


@given(st.floats(0.05, 0.3), st.floats(0.0, 0.15), st.floats(1.05, 3.0), st.floats(0, 0.18))
def test_any_drive_agrees_with_a_general_root_finder(
    small: float, more: float, apart: float, share: float
) -> None:
    large = small + more
    length = own_length(small, large, (small + large) / 2 * apart)
    y1 = 0.013 * share / (2 * tan(A34 / 2))
    y2 = 0.013 * share / (2 * tan(A38 / 2))

    found = wear.worn_drive(
        small=small, large=large, length=length, drop_small=y1, drop_large=y2, min_diameter=0.03
    )

    assert found.centres == pytest.approx(
        own_centres(small - 2 * y1, large - 2 * y2, length), abs=1e-11
    )


def test_a_worn_diameter_too_small_for_the_section_is_refused() -> None:
    fine = wear.worn_drive(
        small=0.080,
        large=0.180,
        length=LENGTH,
        drop_small=0.013,
        drop_large=0.0,
        min_diameter=0.075,
    )
    assert fine.small == pytest.approx(0.054)
    with pytest.raises(OutOfRange, match=r"0\.7 of the smallest"):
        wear.worn_drive(
            small=0.080, large=0.180, length=LENGTH, drop_small=0.01376, drop_large=0.0,
            min_diameter=0.075,
        )  # fmt: skip
    with pytest.raises(OutOfRange, match="large pulley"):
        wear.worn_drive(small=0.080, large=0.080, length=LENGTH, drop_small=0.0, drop_large=0.0125)


def test_doubt_of_the_drop_agrees_with_the_uncertainties_library() -> None:
    groove = SMALL._replace(u_angle=0.01, u_depth=0.2e-3, widened=0.4e-3, u_widened=0.1e-3)

    found = worn(u_now=0.3e-3, u_new=0.1e-3, small=groove, u_below=0.25e-3).small

    gap = ufloat(0.013, 0.1e-3) - ufloat(0.0104, 0.3e-3) + ufloat(0.4e-3, 0.1e-3)
    y = gap / (2 * utan(ufloat(A34, 0.01) / 2))
    room = ufloat(0.0087, 0.2e-3) - ufloat(BELOW, 0.25e-3) - y
    assert found.drop.value == pytest.approx(y.nominal_value)
    assert found.drop.u == pytest.approx(y.std_dev, rel=1e-6)
    assert found.room.u == pytest.approx(room.std_dev, rel=1e-6)


def test_doubt_and_odds_agree_with_monte_carlo() -> None:
    small = SMALL._replace(u_angle=0.01, u_depth=0.2e-3)
    large = LARGE._replace(u_angle=0.01, u_depth=0.2e-3)
    # Wide enough of the floor for the free figure; the floor itself is drawn for the odds.
    found = worn(now=0.0112, u_now=0.15e-3, u_new=0.1e-3, small=small, large=large, u_below=0.25e-3)

    random = np.random.default_rng(11)
    n = 4000
    loss = random.normal(0.013, 0.1e-3, n) - random.normal(0.0112, 0.15e-3, n)
    y1 = loss / (2 * np.tan(random.normal(A34, 0.01, n) / 2))
    y2 = loss / (2 * np.tan(random.normal(A38, 0.01, n) / 2))
    before = own_centres(0.080, 0.180, LENGTH)
    extra = [
        own_centres(0.080 - 2 * a, 0.180 - 2 * b, LENGTH) - before
        for a, b in zip(y1, y2, strict=True)
    ]
    room = random.normal(0.0087, 0.2e-3, n) - random.normal(BELOW, 0.25e-3, n) - y1
    assert found.u_free == pytest.approx(np.std(extra), rel=0.05)
    assert found.small.odds_bottoms == pytest.approx((room < 0).mean(), abs=0.02)


def test_doubt_of_a_floored_belt_comes_from_the_floor_and_not_from_the_width() -> None:
    shallow = 0.0075
    small, large = (groove._replace(depth=shallow, u_depth=0.2e-3) for groove in (SMALL, LARGE))

    found = worn(u_now=0.3e-3, small=small, large=large, u_below=0.25e-3)

    assert found.small.bottoms
    assert found.large.bottoms
    random = np.random.default_rng(3)
    before = own_centres(0.080, 0.180, LENGTH)
    extra = []
    for below, d1, d2 in zip(
        random.normal(BELOW, 0.25e-3, 4000),
        random.normal(shallow, 0.2e-3, 4000),
        random.normal(shallow, 0.2e-3, 4000),
        strict=True,
    ):
        extra.append(
            own_centres(0.080 - 2 * (d1 - below), 0.180 - 2 * (d2 - below), LENGTH) - before
        )
    assert found.u_capped == pytest.approx(np.std(extra), rel=0.05)
    assert found.small.ride.u == pytest.approx(sqrt(0.2**2 + 0.25**2) * 1e-3)


def test_take_up_for_each_millimetre_of_width() -> None:
    found = worn()

    step = 1e-5
    more = worn(now=0.0104 - step).free.extra_centres - found.free.extra_centres
    assert found.per_width == pytest.approx(more / step, rel=1e-3)
    # A floored pulley takes no further part.
    one = wear.take_up_rate(
        small=0.0715, large=0.1724, centres=0.1445, angle_small=A34, angle_large=A38,
        free_small=False,
    )  # fmt: skip
    assert 0 < one < found.per_width


def test_a_groove_worn_wide_lets_a_sound_belt_drop() -> None:
    found = worn(now=0.013, small=SMALL._replace(widened=0.6e-3))

    assert found.small.drop.value == pytest.approx(0.0006 / (2 * tan(A34 / 2)))
    assert found.large.drop.value == 0
    assert found.small.bottoms_at_loss == pytest.approx(2.4002e-3 - 0.6e-3, abs=1e-6)


def test_width_loss_says_when_it_is_within_the_error() -> None:
    rule = Doubtful(0.0129, 0.32e-3)

    found = wear.width_loss(width_new=Doubtful(0.013, 0.1e-3), width_now=rule)

    assert not found.shown
    assert "measure again" in found.words
    assert found.u == pytest.approx(0.3353e-3, abs=1e-7)
    sure = wear.width_loss(width_new=Doubtful(0.013, 0.1e-3), width_now=Doubtful(0.012, 0.1e-3))
    assert sure.shown
    assert sure.words == ""
    assert sure.share == pytest.approx(1 / 13)


def test_a_belt_that_reads_a_little_wide_is_not_worn_and_says_so() -> None:
    found = wear.width_loss(width_new=Doubtful(0.013, 0), width_now=Doubtful(0.0133, 0.32e-3))

    assert found.loss == 0
    assert "No wear shown" in found.words
    with pytest.raises(OutOfRange, match="wider than when new"):
        wear.width_loss(width_new=Doubtful(0.013, 0), width_now=Doubtful(0.0137, 0.32e-3))


def test_clearance_and_ride_by_hand() -> None:
    assert wear.clearance(groove_depth=0.0087, below_cord=0.0048, drop=0.0012) == pytest.approx(
        0.0027
    )
    assert wear.ride(cord_depth=0.0032, above_datum=0.00275, drop=0) == pytest.approx(0.00045)
    assert wear.ride(cord_depth=0.0032, above_datum=0.00275, drop=0.001) == pytest.approx(-0.00055)
    assert wear.capped_drop(drop=0.001, groove_depth=0.0087, below_cord=0.0048) == 0.001
    assert wear.capped_drop(drop=0.005, groove_depth=0.0087, below_cord=0.0048) == pytest.approx(
        0.0039
    )


def test_a_belt_too_tall_for_the_groove_stands_high_from_new() -> None:
    assert wear.capped_drop(drop=0, groove_depth=0.0087, below_cord=0.010) == pytest.approx(-0.0013)
    assert wear.loss_that_bottoms(groove_angle=A34, groove_depth=0.0087, below_cord=0.010) == 0


@pytest.mark.parametrize("bad", [{"drop": nan}, {"groove_depth": -0.001}, {"below_cord": 0.07}])
def test_depths_outside_their_range_are_refused(bad: dict[str, float]) -> None:
    good = {"groove_depth": 0.0087, "below_cord": 0.0048, "drop": 0.001}
    with pytest.raises(OutOfRange, match="accepted"):
        wear.clearance(**{**good, **bad})
    with pytest.raises(OutOfRange, match="accepted"):
        wear.capped_drop(**{**good, **bad})
    with pytest.raises(OutOfRange, match="accepted"):
        wear.ride(cord_depth=0.003, above_datum=0.07, drop=0.0)


def test_loss_that_bottoms_leaves_no_room() -> None:
    loss = wear.loss_that_bottoms(groove_angle=A38, groove_depth=0.0087, below_cord=BELOW)

    y = wear.drop(width_new=0.013, width_now=0.013 - loss, groove_angle=A38)
    assert wear.clearance(groove_depth=0.0087, below_cord=BELOW, drop=y) == pytest.approx(
        0, abs=1e-15
    )
    assert loss == pytest.approx(2.7032e-3, abs=1e-7)


def test_loss_that_ends_the_slot_agrees_with_a_general_root_finder() -> None:
    found = wear.loss_that_ends_slot(
        small=SMALL, large=LARGE, length=LENGTH, travel=0.010, width_new=0.013
    )

    before = own_centres(0.080, 0.180, LENGTH)

    def short_of(loss: float) -> float:
        y1, y2 = loss / (2 * tan(A34 / 2)), loss / (2 * tan(A38 / 2))
        return own_centres(0.080 - 2 * y1, 0.180 - 2 * y2, LENGTH) - before - 0.010

    assert found == pytest.approx(brentq(short_of, 0, 0.00325, xtol=1e-14), abs=1e-11)
    assert found == pytest.approx(1.94e-3, abs=0.01e-3)


def test_a_belt_on_both_floors_never_ends_a_long_slot() -> None:
    assert ends_slot(travel=0.015, below_cord=BELOW) is None
    free = ends_slot(travel=0.015)
    assert free is not None
    assert free > 0.0027
    assert ends_slot(travel=0.3) is None
    assert ends_slot(travel=0.0) == 0


@given(st.floats(0.001, 0.012), st.floats(0.0, 0.003))
def test_a_longer_slot_lasts_longer(travel: float, more: float) -> None:
    short = ends_slot(travel=travel)
    long = ends_slot(travel=travel + more)

    assert short is not None
    assert long is not None
    assert long >= short - 1e-12


def test_own_root_finder_agrees_with_scipy() -> None:
    for function, low, high in (
        (lambda x: x**3 - 2, 0.0, 5.0),
        (lambda x: exp(-x) - x, 0.0, 40.0),
        (lambda x: cos(x) - 1e-6 * x, 0.0, 3.0),
        (lambda x: (x - 1) ** 9, 0.0, 3.5),
        (lambda x: -1.0 if x < 0.3 else 1.0, 0.0, 1.0),
    ):
        assert wear.root(function, low=low, high=high) == pytest.approx(
            brentq(function, low, high, xtol=1e-15, maxiter=500), abs=1e-9 if high != 3.5 else 0.02
        )
    step = wear.root(lambda x: -1.0 if x < 0 else 1.0, low=-1.0, high=2.0)
    assert step == pytest.approx(0, abs=1e-12)
    assert wear.root(lambda x: x, low=0.0, high=1.0) == 0
    assert wear.root(lambda x: x - 1, low=0.0, high=1.0) == 1
    with pytest.raises(DriveError, match="no zero"):
        wear.root(lambda x: x + 1, low=0.0, high=1.0)


def test_take_up_used_and_left() -> None:
    found = wear.take_up(travel=Doubtful(0.010, 0.3e-3), extra=Doubtful(0.0129, 0.4e-3))

    assert found.left.value == pytest.approx(-0.0029)
    assert found.left.u == pytest.approx(0.5e-3)
    assert found.ended
    assert found.odds_ended > 0.999
    assert found.agrees is None
    assert "change the belt" in found.words
    assert "not possible" in found.words
    half = wear.take_up(travel=Doubtful(0.010, 0), extra=Doubtful(0.004, 0))
    assert half.left.value == pytest.approx(0.006)
    assert not half.ended
    assert half.words == ""


def test_take_up_is_compared_with_a_reading_of_the_slot() -> None:
    travel, extra = Doubtful(0.020, 0.3e-3), Doubtful(0.013, 0.4e-3)

    same = wear.take_up(travel=travel, extra=extra, measured_left=Doubtful(0.0078, 0.3e-3))
    other = wear.take_up(travel=travel, extra=extra, measured_left=Doubtful(0.0100, 0.3e-3))

    assert same.agrees is True
    assert same.words == ""
    assert other.agrees is False
    assert "slot reads 10.0 mm left and the width says 7.0 mm" in other.words


def test_an_empty_slot_agrees_with_a_belt_that_wants_more_than_it_has() -> None:
    found = wear.take_up(
        travel=Doubtful(0.010, 0.3e-3),
        extra=Doubtful(0.0135, 0.4e-3),
        measured_left=Doubtful(0.0002, 0.3e-3),
    )

    assert found.ended
    assert found.agrees is True


def test_take_up_outside_its_range_is_refused() -> None:
    with pytest.raises(OutOfRange):
        wear.take_up(travel=Doubtful(-0.001, 0), extra=Doubtful(0, 0))
    with pytest.raises(OutOfRange):
        wear.take_up(travel=Doubtful(0.01, 0), extra=Doubtful(nan, 0))


def test_groove_wear_is_what_the_width_does_not_explain() -> None:
    found = wear.groove_wear(
        measured_ride=Doubtful(-0.0030, 0.2e-3),
        expected_ride=Doubtful(-0.0010, 0.3e-3),
        groove_angle=A34,
    )

    assert found.shown
    assert found.drop.value == pytest.approx(0.002)
    # Width of groove for each unit of depth: 2 tan 17 deg = 0.611461.
    assert found.widened.value == pytest.approx(0.002 * 0.611461, rel=1e-5)
    assert "groove is worn" in found.words


def test_groove_wear_within_the_error_is_not_claimed() -> None:
    found = wear.groove_wear(
        measured_ride=Doubtful(-0.0015, 0.2e-3),
        expected_ride=Doubtful(-0.0010, 0.3e-3),
        groove_angle=A34,
    )
    high = wear.groove_wear(
        measured_ride=Doubtful(0.0005, 0.2e-3),
        expected_ride=Doubtful(-0.0010, 0.3e-3),
        groove_angle=A34,
    )

    assert not found.shown
    assert "Within the error" in found.words
    assert not high.shown
    assert "higher than its width says" in high.words


def test_a_measured_groove_explains_the_ride_that_was_measured() -> None:
    expected = worn(now=0.0124).small
    measured = Doubtful(expected.ride.value - 0.0015, 0.0)

    grown = wear.groove_wear(
        measured_ride=measured, expected_ride=expected.ride, groove_angle=A34
    ).widened
    again = worn(now=0.0124, small=SMALL._replace(widened=grown.value))

    assert again.small.ride.value == pytest.approx(measured.value)


def test_lost_wedge_action() -> None:
    found = wear.lost_wedge(mu=0.3, wrap=radians(150), groove_angle=A34)

    # exp(0.3 x 2.61799 / sin 17 deg), sin 17 deg = 0.292372; and exp(0.785398).
    assert found.wedged == pytest.approx(exp(0.785398 / 0.292372), rel=1e-5)
    assert found.on_floor == pytest.approx(2.1933, abs=1e-4)
    assert 0.4 < found.pull_left < 0.45
    assert wear.lost_wedge(mu=0.0, wrap=pi, groove_angle=A34).pull_left == 1


def test_reasons_to_change() -> None:
    found = worn()
    left = wear.take_up(travel=Doubtful(0.010, 0), extra=Doubtful(0.0129, 0))

    said = wear.reasons_to_change(found=found, left=left)

    assert len(said) == 5
    assert "20 % of its width" in said[0]
    assert "common practice, no source" in said[0]
    assert "floor of the small pulley" in said[1]
    assert said[-1] == "The slot is used up."
    assert wear.reasons_to_change(found=worn(now=0.0129)) == ()
    not_flush = wear.reasons_to_change(found=found, flush_when_new=False)
    assert not any("below the rim" in words for words in not_flush)


def test_a_floored_belt_that_is_not_near_is_said_to_stand_there() -> None:
    found = worn(small=SMALL._replace(depth=0.0075))

    assert any("stands on the floor of the small" in words for words in found.words)


def test_results_do_not_change_once_made() -> None:
    with pytest.raises(AttributeError):
        worn().free.small = 1.0  # type: ignore[misc]
    assert replace(worn().free, small=0.1).small == 0.1


def test_the_wrap_used_for_the_rate_is_that_of_the_small_pulley() -> None:
    small, large, centres = 0.0715, 0.1724, 0.1445
    beta = asin((large - small) / (2 * centres))

    found = wear.take_up_rate(
        small=small, large=large, centres=centres, angle_small=A34, angle_large=A38
    )

    by_hand = ((pi - 2 * beta) / (2 * tan(A34 / 2)) + (pi + 2 * beta) / (2 * tan(A38 / 2))) / (
        2 * cos(beta)
    )
    assert found == pytest.approx(by_hand)


def test_doubt_of_the_extra_centres_counts_every_input_whole() -> None:
    small = SMALL._replace(u_angle=0.03, widened=0.3e-3, u_widened=0.1e-3)
    large = LARGE._replace(u_angle=0.02, widened=0.2e-3, u_widened=0.15e-3)

    found = worn(now=0.0112, u_now=1e-4, u_new=1e-4, small=small, large=large)

    base = {"loss": 0.0018, "a1": A34, "a2": A38, "g1": 0.3e-3, "g2": 0.2e-3}
    doubt = {"loss": sqrt(2) * 1e-4, "a1": 0.03, "a2": 0.02, "g1": 0.1e-3, "g2": 0.15e-3}

    def centres(loss: float, a1: float, a2: float, g1: float, g2: float) -> float:
        y1, y2 = (loss + g1) / (2 * tan(a1 / 2)), (loss + g2) / (2 * tan(a2 / 2))
        return own_centres(0.080 - 2 * y1, 0.180 - 2 * y2, LENGTH)

    squares = 0.0
    for name, u in doubt.items():
        step = u / 1000
        up = centres(**{**base, name: base[name] + step})
        down = centres(**{**base, name: base[name] - step})
        squares += ((up - down) / (2 * step) * u) ** 2
    assert found.u_free == pytest.approx(sqrt(squares), rel=1e-5)


def test_figures_in_the_words_are_in_millimetres_and_hundredths() -> None:
    wide = wear.width_loss(width_new=Doubtful(0.013, 0), width_now=Doubtful(0.0133, 0.32e-3))
    slot = wear.take_up(
        travel=Doubtful(0.020, 0.3e-3),
        extra=Doubtful(0.013, 0.4e-3),
        measured_left=Doubtful(0.0100, 0.3e-3),
    )
    said = wear.reasons_to_change(found=worn())

    assert "reads 0.30 mm wider" in wide.words
    assert "3.0 mm apart where 1.2 mm could be error" in slot.words
    assert "change at 10 %" in said[0]
    assert "3.5 mm below the rim of the small pulley" in said[2]
    with pytest.raises(OutOfRange, match=r"reads 0\.70 mm wider .* \(± 0\.64 mm\)"):
        wear.width_loss(width_new=Doubtful(0.013, 0), width_now=Doubtful(0.0137, 0.32e-3))


@pytest.mark.parametrize("bad", [nan, inf, -1e-4])
def test_a_doubt_that_is_no_number_is_refused(bad: float) -> None:
    good = {
        "small": SMALL,
        "large": LARGE,
        "length": LENGTH,
        "width_new": Doubtful(0.013, 0.0),
        "width_now": Doubtful(0.0104, 0.0),
        "below_cord": Doubtful(BELOW, 0.0),
        "cord_depth": Doubtful(CORD, 0.0),
    }
    for change in (
        {"cord_depth": Doubtful(CORD, bad)},
        {"below_cord": Doubtful(BELOW, bad)},
        {"small": SMALL._replace(u_depth=bad)},
        {"large": LARGE._replace(u_angle=bad)},
        {"large": LARGE._replace(u_widened=bad)},
    ):
        with pytest.raises(OutOfRange):
            wear.wear(**{**good, **change})
