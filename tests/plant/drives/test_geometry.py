"""Two pulleys and a belt, against textbooks, a convex hull and a general root-finder."""

from math import acos, atan2, hypot, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from shapely.geometry import MultiPoint, Point

from plant.drives import geometry
from plant.drives.errors import BeltTooShort, OutOfRange, PulleysOverlap

INCH = 0.0254
diameters = st.floats(0.02, 1.0)
gaps = st.floats(1e-4, 5.0)


@st.composite
def drives(draw):
    small, large = draw(diameters), draw(diameters)
    return small, large, (small + large) / 2 + draw(gaps)


def discs_hull(*discs):
    """Perimeter of the convex hull of discs, each a fine polygon round its circle."""
    points = [
        point
        for x, y, radius in discs
        for point in Point(x, y).buffer(radius, quad_segs=2048).exterior.coords
    ]
    return MultiPoint(points).convex_hull.length


def test_open_length_is_motts_to_the_digit_printed():
    # Mott, Machine Elements in Mechanical Design, 4th ed., Example 7-1, p. 279: 101.4 in
    length = geometry.open_length(small=12.4 * INCH, large=21.1 * INCH, centres=24.0 * INCH)

    assert length / INCH == pytest.approx(101.4, abs=0.05)


def test_centres_from_length_are_motts():
    # Mott, as above: a 100 in belt gives 23.30 in (the book rounds pi/2 to 1.57)
    for solve in (geometry.open_centres, geometry.open_centres_series):
        centres = solve(small=12.4 * INCH, large=21.1 * INCH, length=100 * INCH)

        assert centres / INCH == pytest.approx(23.30, abs=0.03)


def test_wrap_on_the_small_pulley_is_motts():
    # Mott, as above: 158 degrees
    wrap = geometry.wrap_angle(small=12.4 * INCH, large=21.1 * INCH, centres=23.3 * INCH)

    assert wrap * 180 / pi == pytest.approx(158, abs=0.6)


@pytest.mark.parametrize(
    ("small", "large", "centres"),
    [(0.08, 0.18, 0.13114), (0.1, 0.2, 0.2), (0.08, 0.4, 0.245), (0.15, 0.15, 0.4)],
)
def test_open_length_is_the_perimeter_of_the_convex_hull(small, large, centres):
    hull = discs_hull((0, 0, small / 2), (centres, 0, large / 2))

    length = geometry.open_length(small=small, large=large, centres=centres)

    assert length == pytest.approx(hull, rel=1e-6)


@given(drives())
def test_centres_agree_with_a_general_root_finder(drive):
    small, large, centres = drive
    length = geometry.open_length(small=small, large=large, centres=centres)

    def hand(c):  # the tangent by Pythagoras, the arcs by the law of cosines on the tangent
        half = (large - small) / 2
        straight = sqrt(c * c - half * half)
        lean = atan2(half, straight)
        return 2 * straight + large / 2 * (pi + 2 * lean) + small / 2 * (pi - 2 * lean) - length

    root = brentq(hand, abs(large - small) / 2 * (1 + 1e-12) + 1e-12, length, xtol=1e-14)

    assert geometry.open_centres(small=small, large=large, length=length) == pytest.approx(
        root, abs=1e-9
    )


@given(drives())
def test_length_to_centres_and_back(drive):
    small, large, centres = drive

    length = geometry.open_length(small=small, large=large, centres=centres)
    back = geometry.open_centres(small=small, large=large, length=length)
    again = geometry.open_length(small=small, large=large, centres=back)

    assert again == pytest.approx(length, abs=1e-9)
    assert back == pytest.approx(centres, abs=1e-9)


@given(drives())
def test_crossed_length_to_centres_and_back(drive):
    small, large, centres = drive

    length = geometry.crossed_length(small=small, large=large, centres=centres)
    back = geometry.crossed_centres(small=small, large=large, length=length)

    assert geometry.crossed_length(small=small, large=large, centres=back) == pytest.approx(
        length, abs=1e-9
    )


def test_crossed_length_is_two_inner_tangents_and_two_arcs():
    # D = 200, d = 120, C = 400 mm; the tangent point angle from the inner triangle
    half = acos(0.16 / 0.4)
    expected = 2 * 0.4 * sqrt(1 - 0.4**2) + 0.16 * (2 * pi - 2 * half)

    assert geometry.crossed_length(small=0.12, large=0.2, centres=0.4) == pytest.approx(expected)
    assert geometry.crossed_wrap_angle(small=0.12, large=0.2, centres=0.4) == pytest.approx(
        2 * pi - 2 * half
    )


@given(drives(), st.floats(0.05, 15))
def test_everything_scales(drive, scale):
    small, large, centres = drive
    plain = geometry.open_length(small=small, large=large, centres=centres)

    scaled = geometry.open_length(small=small * scale, large=large * scale, centres=centres * scale)

    assert scaled == pytest.approx(plain * scale, rel=1e-12)


@given(drives())
def test_short_formula_is_never_longer_and_its_centres_never_shorter(drive):
    small, large, centres = drive
    exact = geometry.open_length(small=small, large=large, centres=centres)

    series = geometry.open_length_series(small=small, large=large, centres=centres)
    apart = geometry.open_centres_series(small=small, large=large, length=exact)

    assert series <= exact * (1 + 1e-12)
    assert apart >= centres * (1 - 1e-12)


@given(drives())
def test_wraps_make_a_whole_turn_and_span_closes_the_triangle(drive):
    small, large, centres = drive
    names = {"small": small, "large": large, "centres": centres}

    one = geometry.wrap_angle(**names)
    other = geometry.wrap_angle(small=large, large=small, centres=centres)

    assert one + other == pytest.approx(2 * pi)
    assert hypot(geometry.span(**names), (large - small) / 2) == pytest.approx(centres)


@given(st.floats(0.02, 1), gaps)
def test_equal_pulleys_need_no_trigonometry(diameter, gap):
    centres = diameter + gap

    length = geometry.open_length(small=diameter, large=diameter, centres=centres)

    assert length == pytest.approx(2 * centres + pi * diameter, rel=1e-14)
    assert geometry.wrap_angle(small=diameter, large=diameter, centres=centres) == pi


def test_centres_per_length_is_the_slope_of_the_root():
    step = 1e-6
    at = {"small": 0.08, "large": 0.18}
    slope = (
        geometry.open_centres(length=0.69 + step, **at)
        - geometry.open_centres(length=0.69 - step, **at)
    ) / (2 * step)

    centres = geometry.open_centres(length=0.69, **at)

    assert geometry.centres_per_length(centres=centres, **at) == pytest.approx(slope, rel=1e-6)


def test_effective_figures_give_the_same_centres_as_datum_figures():
    # moving every line of an open belt outwards by b adds 2 pi b to its length
    b = 0.0028
    datum = geometry.open_centres(small=0.08, large=0.18, length=0.9)

    rim = geometry.open_centres(small=0.08 + 2 * b, large=0.18 + 2 * b, length=0.9 + 2 * pi * b)

    assert rim == pytest.approx(datum, abs=1e-12)


def test_belt_speed_and_passes():
    # 75 mm at 1400 turns a minute: pi x 0.075 x 1400/60
    speed = geometry.belt_speed(diameter=0.075, speed=1400 * 2 * pi / 60)

    assert speed == pytest.approx(pi * 0.075 * 1400 / 60)
    assert geometry.belt_passes(belt_speed=10, length=0.5) == 40
    assert geometry.belt_passes(belt_speed=10, length=0.5, pulleys=1) == 20


def test_usual_centres_bracket_a_common_drive():
    low, high = geometry.usual_centres(small=0.1, large=0.2)

    assert (low, high) == pytest.approx((0.21, 0.6))


@pytest.mark.parametrize("centres", [0.13, 0.1, 0.051])
def test_pulleys_that_touch_are_refused_even_where_the_formula_would_answer(centres):
    # (D - d)/2 = 0.05 < C: the tangent exists, the pulleys do not fit
    for sum_ in (geometry.open_length, geometry.open_length_series, geometry.span):
        with pytest.raises(PulleysOverlap, match=r"80 mm and 180 mm .* more than 130 mm"):
            sum_(small=0.08, large=0.18, centres=centres)


def test_belts_too_short_are_refused_in_two_ways():
    with pytest.raises(BeltTooShort, match="does not reach"):
        geometry.open_centres(small=0.08, large=0.18, length=pi * 0.18)
    with pytest.raises(PulleysOverlap, match="into each other"):
        geometry.open_centres(small=0.08, large=0.18, length=0.6)
    with pytest.raises(BeltTooShort):
        geometry.crossed_centres(small=0.08, large=0.18, length=pi * 0.26)
    with pytest.raises(BeltTooShort):
        geometry.open_centres_series(small=0.08, large=0.18, length=0.5)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -0.1, 0.0])
def test_no_figure_comes_out_of_nonsense(bad):
    good = {"small": 0.08, "large": 0.18, "centres": 0.2}
    for name in good:
        with pytest.raises((OutOfRange, PulleysOverlap)):
            geometry.open_length(**{**good, name: bad})
    with pytest.raises(OutOfRange):
        geometry.open_centres(small=0.08, large=0.18, length=bad)


def test_the_short_formula_is_off_by_as_much_as_its_next_term() -> None:
    # (D - d)^4 / (192 C^3) is the next term of the series of the length.
    exact = geometry.open_length(small=0.1, large=0.2, centres=0.2)
    short = geometry.open_length_series(small=0.1, large=0.2, centres=0.2)

    assert exact - short == pytest.approx(0.1**4 / (192 * 0.2**3), rel=0.05)
