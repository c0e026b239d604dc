"""The drawn belt is measured and compared with the hull of two discs."""

from math import hypot
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, PolyLine, String
from shapely import MultiPoint, Point

from plant.drawings.drive_layout import drive_layout

MM = 1e-3
SLOT: dict[str, Any] = {
    "small": 80 * MM,
    "large": 180 * MM,
    "centres_now": 134.5 * MM,
    "centres_new": 131.1 * MM,
    "centres_needed": 144.5 * MM,
    "slot_low": 122 * MM,
    "slot_high": 141.1 * MM,
}


def texts(drawing: Drawing) -> list[str]:
    return [shape.text for shape in drawing.contents if isinstance(shape, String)]


def pulleys(drawing: Drawing) -> list[Circle]:
    return [s for s in drawing.contents if isinstance(s, Circle) and s.r > 2.5]


def pointers(drawing: Drawing) -> list[Polygon]:
    """The triangles at the slot: now, then new, then needed."""
    return [
        s
        for s in drawing.contents
        if isinstance(s, Polygon) and len(s.points) == 6 and s.strokeColor is not None
    ]


def test_the_belt_is_as_long_as_a_tight_loop_round_the_two_discs() -> None:
    drawing = drive_layout(**SLOT)
    small, large = pulleys(drawing)
    belt = [s for s in drawing.contents if isinstance(s, PolyLine) and s.strokeWidth == 2.2]

    drawn = sum(
        hypot(x1 - x0, y1 - y0)
        for line in belt
        for x0, y0, x1, y1 in zip(
            line.points[::2], line.points[1::2], line.points[2::2], line.points[3::2], strict=False
        )
    )
    discs = MultiPoint(
        [
            corner
            for disc in (small, large)
            for corner in Point(disc.cx, disc.cy).buffer(disc.r, quad_segs=256).exterior.coords
        ]
    )
    assert drawn == pytest.approx(discs.convex_hull.length, rel=1e-3)


def test_pulleys_and_shafts_are_to_scale() -> None:
    small, large = pulleys(drive_layout(**SLOT))

    scale = (large.cx - small.cx) / 134.5
    assert 2 * small.r / scale == pytest.approx(80)
    assert 2 * large.r / scale == pytest.approx(180)


def test_the_pointers_stand_where_the_figures_say() -> None:
    drawing = drive_layout(**SLOT)
    slot = next(s for s in drawing.contents if isinstance(s, Polygon) and len(s.points) == 8)
    scale = (slot.points[2] - slot.points[0]) / 19.1

    now, new, needed = (triangle.points[0] for triangle in pointers(drawing))
    assert (now - slot.points[0]) / scale == pytest.approx(12.5)
    assert (new - slot.points[0]) / scale == pytest.approx(9.1)
    assert (needed - slot.points[2]) / scale == pytest.approx(3.4)
    for words in ("now 134.5 mm", "new 131.1 mm", "needed 144.5 mm", "19.1 mm"):
        assert words in texts(drawing)


def test_a_place_beyond_the_slot_is_hatched() -> None:
    inside = drive_layout(**SLOT | {"centres_needed": 140 * MM})

    assert sum(isinstance(s, Group) for s in drive_layout(**SLOT).contents) == 1
    assert sum(isinstance(s, Group) for s in inside.contents) == 0


def test_without_a_slot_none_is_drawn() -> None:
    drawing = drive_layout(small=80 * MM, large=180 * MM, centres_now=300 * MM)

    assert pointers(drawing) == []
    assert "slot" not in texts(drawing)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"centres_now": 130 * MM}, "overlap"),
        ({"small": 0.0}, "overlap"),
        ({"slot_low": 150 * MM}, "before it begins"),
        ({"height": 70.0}, "needs 90.2 pt"),
    ],
)
def test_an_impossible_drive_is_refused(wrong: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        drive_layout(**SLOT | wrong)


@given(
    small=st.floats(0.03, 0.3),
    ratio=st.floats(1, 8),
    gap=st.floats(0.01, 1.5),
    width=st.floats(165, 400),
)
def test_every_drive_stays_on_the_sheet(
    small: float, ratio: float, gap: float, width: float
) -> None:
    large = small * ratio
    centres = (small + large) / 2 + gap
    drawing = drive_layout(
        small=small,
        large=large,
        centres_now=centres,
        centres_new=centres * 0.99,
        centres_needed=centres * 1.02,
        slot_low=centres * 0.97,
        slot_high=centres * 1.01,
        small_name="motor",
        large_name="drum gear shaft",
        width=width,
        height=0.7 * width,
    )

    left, low, right, high = drawing.getBounds()
    assert left >= -1
    assert low >= -1
    assert right <= width + 1
    assert high <= 0.7 * width + 1
