"""A belt round many pulleys, against the convex hull and against another tangent construction."""

from math import acos, atan2, cos, hypot, inf, nan, pi, sin, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPoint, Point

from plant.drives import geometry, layout
from plant.drives.errors import BeltTooShort, DriveError, OutOfRange, PulleysOverlap
from plant.drives.layout import Pulley, belt_path, travel_for_length

THREE = (Pulley(0, 0, 0.05), Pulley(0.3, 0.02, 0.09), Pulley(0.12, 0.26, 0.035))
IDLER = (Pulley(0.2, 0, 0.06), Pulley(0, 0.07, 0.025, outside=True), Pulley(-0.2, 0, 0.06))


def hull(pulleys, fine=2048):
    points = [
        point
        for p in pulleys
        for point in Point(p.x, p.y).buffer(p.radius, quad_segs=fine).exterior.coords
    ]
    return MultiPoint(points).convex_hull.length


def test_three_inside_pulleys_are_the_hull_of_their_discs():
    length = belt_path(THREE).length

    assert length == pytest.approx(hull(THREE), rel=1e-6)
    assert length == pytest.approx(1.26422, abs=1e-5)  # computed beside the hull: 1264.22 mm


def test_order_may_be_followed_either_way_and_from_any_pulley():
    length = belt_path(THREE).length

    for order in (THREE[::-1], THREE[1:] + THREE[:1]):
        assert belt_path(order).length == pytest.approx(length, rel=1e-12)


def test_outside_idler_by_inner_tangents_drawn_by_hand():
    # inner tangent from (0.2, 0) r 60 to (0, 0.07) r 25: the angle at the large pulley between the
    # line of centres and the radius to the tangent point is acos((r1 + r2)/d)
    apart = hypot(0.2, 0.07)
    straight = sqrt(apart**2 - 0.085**2)
    towards = atan2(0.07, -0.2)  # from the pulley to the idler
    radius_at = towards - acos(0.085 / apart)  # the tangent point lies above the line
    wrap = radius_at + pi / 2  # from the bottom of the pulley round its far side
    idler = 2 * wrap - 2 * pi
    expected = 2 * straight + 0.4 + 2 * 0.06 * wrap + 0.025 * idler

    path = belt_path(IDLER)

    assert path.length == pytest.approx(expected, abs=1e-9)
    assert path.length == pytest.approx(1.178127, abs=1e-6)
    assert path.wraps[1] * 180 / pi == pytest.approx(8.72, abs=0.01)
    assert path.turns == (1, -1, 1)


def test_outside_idler_raises_the_wrap_on_its_neighbours():
    bare = belt_path((IDLER[0], IDLER[2]))

    assert belt_path(IDLER).wraps[0] > bare.wraps[0]


@given(st.floats(0.02, 0.3), st.floats(0.02, 0.3), st.floats(1e-3, 2), st.floats(-pi, pi))
def test_two_pulleys_are_the_open_drive(one, other, gap, turned):
    centres = one + other + gap

    path = belt_path(
        [Pulley(0, 0, one), Pulley(centres * cos(turned), centres * sin(turned), other)]
    )

    exact = geometry.open_length(small=2 * one, large=2 * other, centres=centres)
    assert path.length == pytest.approx(exact, rel=1e-9)
    assert path.wraps[0] == pytest.approx(
        geometry.wrap_angle(small=2 * one, large=2 * other, centres=centres), abs=1e-9
    )


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.floats(0.01, 0.2), min_size=3, max_size=8),
    st.floats(0, 2 * pi),
    st.floats(-1, 1),
    st.floats(-1, 1),
)
def test_pulleys_round_a_ring_are_their_hull_wherever_they_stand(radii, turned, dx, dy):
    count = len(radii)
    ring = 0.7 / sin(pi / count)
    pulleys = [
        Pulley(
            dx + ring * cos(turned + 2 * pi * i / count),
            dy + ring * sin(turned + 2 * pi * i / count),
            radius,
        )
        for i, radius in enumerate(radii)
    ]

    path = belt_path(pulleys)

    assert path.length == pytest.approx(hull(pulleys, fine=128), rel=1e-4)
    assert sum(path.wraps) == pytest.approx(2 * pi)


def test_spans_join_the_touching_points():
    path = belt_path(IDLER)

    for span, ((x1, y1), (x2, y2)) in zip(path.spans, path.touches, strict=True):
        assert hypot(x2 - x1, y2 - y1) == pytest.approx(span)


def test_travel_makes_the_belt_just_taut():
    at = travel_for_length(IDLER, moved=0, heading=0, length=1.2, travel=0.1)

    moved = (Pulley(0.2 + at, 0, 0.06), *IDLER[1:])
    assert belt_path(moved).length == pytest.approx(1.2, abs=1e-9)


def test_travel_refuses_what_the_slot_cannot_do():
    with pytest.raises(BeltTooShort, match="does not reach"):
        travel_for_length(IDLER, moved=0, heading=0, length=1.1, travel=0.1)
    with pytest.raises(DriveError, match="slack at the end"):
        travel_for_length(IDLER, moved=0, heading=0, length=1.6, travel=0.1)
    with pytest.raises(DriveError, match="does not tighten"):
        travel_for_length(IDLER, moved=0, heading=pi, length=1.1, travel=0.05)
    with pytest.raises(OutOfRange):
        travel_for_length(IDLER, moved=3, heading=0, length=1.2, travel=0.1)


@pytest.mark.parametrize(
    ("pulleys", "error", "words"),
    [
        ([Pulley(0, 0, 0.1), Pulley(0.15, 0, 0.1)], PulleysOverlap, "touch"),
        ([Pulley(0, 0, 0.1)], OutOfRange, "2 to 50"),
        ([Pulley(0, 0, 0.1), Pulley(1, 0, 0.1, outside=True)], DriveError, "at least two"),
        # an idler that never meets the belt
        (
            [Pulley(0.2, 0, 0.06), Pulley(0, 0.3, 0.025, outside=True), Pulley(-0.2, 0, 0.06)],
            DriveError,
            "does not touch",
        ),
        # an inside pulley that lies between the runs without touching
        ([Pulley(0, 0, 0.1), Pulley(0.5, 0, 0.1), Pulley(0.25, 0.01, 0.02)], DriveError, "touch"),
        # four corners in the order of a bow tie
        (
            [Pulley(0, 0, 0.05), Pulley(0.3, 0.3, 0.05), Pulley(0.3, 0, 0.05),
             Pulley(0, 0.3, 0.05)],
            DriveError,
            "order",
        ),
        ([Pulley(float("nan"), 0, 0.1), Pulley(1, 0, 0.1)], OutOfRange, "no number"),
        ([Pulley(0, 0, -0.1), Pulley(1, 0, 0.1)], OutOfRange, "radius"),
    ],
)  # fmt: skip
def test_impossible_layouts_are_refused(pulleys, error, words):
    with pytest.raises(error, match=words):
        belt_path(pulleys)


@pytest.mark.parametrize("heading", [inf, nan, 1e6])
def test_a_slot_that_points_nowhere_is_refused(heading):
    two = [Pulley(0, 0, 0.05), Pulley(0.3, 0, 0.08)]
    with pytest.raises(OutOfRange, match="accepted"):
        travel_for_length(two, moved=1, heading=heading, length=1.1, travel=0.1)


def test_a_belt_just_taut_at_an_end_of_the_slot_is_taut_there():
    first = belt_path(IDLER).length
    last = belt_path((Pulley(0.3, 0, 0.06), *IDLER[1:])).length

    slot = {"moved": 0, "heading": 0, "travel": 0.1}
    assert travel_for_length(IDLER, length=first, **slot) == pytest.approx(0, abs=1e-9)
    assert travel_for_length(IDLER, length=last, **slot) == pytest.approx(0.1, abs=1e-9)
    with pytest.raises(BeltTooShort):
        travel_for_length(IDLER, length=first - 1e-9, **slot)
    with pytest.raises(DriveError, match="slack"):
        travel_for_length(IDLER, length=last + 1e-9, **slot)


@pytest.mark.parametrize(("turned", "wrap"), [(-1e-12, 0.0), (1.0, 1.0), (-1.0, 2 * pi - 1.0)])
def test_a_wrap_a_rounding_short_of_a_turn_is_none(turned, wrap):
    assert layout._wrap(turned) == pytest.approx(wrap, abs=1e-15)


# [nm] To the nanometre: a span of 1e-305 m is none, and there the other library says infinity.
@given(*[st.integers(-2 * 10**9, 2 * 10**9).map(lambda nm: nm * 1e-9)] * 6)
def test_distance_to_a_span_agrees_with_shapely(px, py, ax, ay, bx, by):
    found = layout._distance((px, py), (ax, ay), (bx, by))

    expected = Point(px, py).distance(LineString([(ax, ay), (bx, by)]))
    assert found == pytest.approx(expected, abs=1e-9)


def test_the_way_is_followed_along_real_crossings_only():
    square = (0.0, 0.0), (1.0, 1.0)
    assert layout._cross(*square, (0.0, 1.0), (1.0, 0.0))
    assert not layout._cross(*square, (0.0, 1.0), (0.4, 0.6))
    assert not layout._cross(*square, (2.0, 1.0), (3.0, 0.0))
    assert not layout._cross((0.0, 1.0), (0.4, 0.6), *square)
