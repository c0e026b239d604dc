"""Measures the picture itself: what is drawn must be to scale and say the right figures."""

from math import radians
from typing import Any

import pytest
from reportlab.graphics.shapes import Drawing, Group, Polygon, PolyLine, String
from shapely import LineString as Line
from shapely import Point
from shapely import Polygon as Region

from plant.drawings.belt_in_groove import belt_in_groove

MM = 1e-3
GIVEN: dict[str, Any] = {
    "datum_width": 11 * MM,
    "groove_angle": radians(34),
    "groove_depth_below_datum": 8.7 * MM,
    "above_datum": 2.75 * MM,
    "belt_top_width_new": 13 * MM,
    "belt_height": 8 * MM,
    "belt_angle": radians(40),
    "drop_now": 1.8 * MM,
    "capped_drop": 1.8 * MM,
    "width_now": 11.9 * MM,
    "clearance": 2.13 * MM,
}
ON_FLOOR = {
    "drop_now": 4.252 * MM,
    "capped_drop": 3.925 * MM,
    "width_now": 10.4 * MM,
    "clearance": -0.327 * MM,
}


def texts(drawing: Drawing) -> list[str]:
    return [shape.text for shape in drawing.contents if isinstance(shape, String)]


def corners(shape: Polygon | PolyLine) -> list[tuple[float, float]]:
    return list(zip(shape.points[::2], shape.points[1::2], strict=True))


def belt_now(drawing: Drawing) -> list[tuple[float, float]]:
    """The first filled outline: top left, top right, base right, base left."""
    return corners(
        next(s for s in drawing.contents if isinstance(s, Polygon) and s.strokeWidth > 1)
    )


def groove(drawing: Drawing) -> list[tuple[float, float]]:
    return corners(
        next(s for s in drawing.contents if isinstance(s, PolyLine) and len(s.points) == 12)
    )


def test_the_section_is_to_scale_in_both_directions() -> None:
    drawing = belt_in_groove(**GIVEN)
    walls, belt = groove(drawing), belt_now(drawing)

    scale = (walls[1][1] - walls[2][1]) / 11.45  # rim to floor: 2.75 + 8.7 mm
    # Rim width of an A groove at 34 degrees: 12.68 mm in ISO 4183:1995 (from memory).
    assert (walls[4][0] - walls[1][0]) / scale == pytest.approx(12.68, abs=0.01)
    assert (belt[1][0] - belt[0][0]) / scale == pytest.approx(11.9)
    assert (belt[0][1] - belt[3][1]) / scale == pytest.approx(8.0)
    assert (belt[3][1] - walls[2][1]) / scale == pytest.approx(2.13)


def test_a_worn_belt_sits_on_the_walls_of_its_groove() -> None:
    drawing = belt_in_groove(**GIVEN)
    walls, belt = groove(drawing), belt_now(drawing)
    scale = (walls[1][1] - walls[2][1]) / 11.45

    # Its flanks lie on the walls: less than a tenth of a millimetre over or off them.
    for side, wall in (((belt[0], belt[3]), walls[1:3]), ((belt[1], belt[2]), walls[3:5])):
        for corner in side:
            assert Line(wall).distance(Point(corner)) / scale < 0.1


def test_the_floor_holds_a_belt_that_has_lost_too_much() -> None:
    drawing = belt_in_groove(**GIVEN | ON_FLOOR)

    assert belt_now(drawing)[3][1] == pytest.approx(groove(drawing)[2][1])
    assert "no room," in texts(drawing)


def test_the_figures_are_those_of_the_picture() -> None:
    said = texts(belt_in_groove(**GIVEN, label="Small pulley"))

    # New belt: 4.77 mm below the cord, so its top is 8 - 4.77 - 2.75 = 0.48 mm above the rim;
    # 1.8 mm lower that is 1.32 mm below it.
    for words in (
        "13.0 mm new",
        "11.9 mm now",
        "1.3 mm",
        "below rim",
        "2.1 mm",
        "8.7 mm",
        "Small pulley",
        "datum",
    ):
        assert words in said
    assert "guess" not in said


def test_a_guessed_depth_is_called_a_guess() -> None:
    drawing = belt_in_groove(**GIVEN, depth_guessed=True)

    assert "guess" in texts(drawing)
    assert sum(isinstance(s, PolyLine) and bool(s.strokeDashArray) for s in drawing.contents) > sum(
        isinstance(s, PolyLine) and bool(s.strokeDashArray)
        for s in belt_in_groove(**GIVEN).contents
    )


def test_a_ride_from_the_sums_outranks_the_picture() -> None:
    assert "1.7 mm" in texts(belt_in_groove(**GIVEN, ride=-1.7 * MM))
    assert "level with" in texts(belt_in_groove(**GIVEN, ride=0.01 * MM))


def test_without_its_key_no_outline_is_left_unnamed() -> None:
    drawing = belt_in_groove(**GIVEN, key=False)

    dotted = [
        s for s in drawing.contents if isinstance(s, PolyLine) and s.strokeDashArray == [0.9, 1.7]
    ]
    assert dotted == []
    assert "now" not in texts(drawing)
    assert "13.0 mm new" in texts(drawing)


def test_the_new_belt_is_dashed_and_the_belt_now_is_hatched() -> None:
    drawing = belt_in_groove(**GIVEN)

    dashed = [
        s for s in drawing.contents if isinstance(s, PolyLine) and s.strokeDashArray == [3.0, 1.8]
    ]
    assert any(len(line.points) == 10 for line in dashed)
    hatching = [s for s in drawing.contents if isinstance(s, Group)]
    # The metal, the belt, and the sample in the key.
    assert len(hatching) == 3
    body = Region(belt_now(drawing)).buffer(0.01)
    lines = [corners(line) for line in hatching[1].contents if isinstance(line, PolyLine)]
    assert len(lines) > 10
    assert all(body.covers(Line([a, b])) for a, b in lines)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"datum_width": 0.0}, "datum width is 0"),
        ({"groove_depth_below_datum": float("nan")}, "groove depth is nan"),
        ({"width_now": -1.0}, "belt width now"),
        ({"clearance": 20 * MM}, "cord would lie"),
    ],
)
def test_an_impossible_picture_is_refused(wrong: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        belt_in_groove(**GIVEN | wrong)


@pytest.mark.parametrize("size", [(170.0, 102.0), (240.0, 176.0), (400.0, 300.0)])
@pytest.mark.parametrize("times", [0.5, 1.0, 2.5])
def test_sections_of_every_size_fill_the_sheet_and_stay_on_it(
    size: tuple[float, float], times: float
) -> None:
    lengths = {
        name: value * times if "angle" not in name else value for name, value in GIVEN.items()
    }
    drawing = belt_in_groove(**lengths, width=size[0], height=size[1], label="Small pulley")

    left, low, right, high = drawing.getBounds()
    assert left >= -0.5
    assert low >= -0.5
    assert right <= size[0] + 0.5
    assert high <= size[1] + 0.5
    assert high - low > 0.8 * size[1] or right - left > 0.9 * size[0]
