"""The chart of a belt's width: everything on the sheet, both ends named, the line where it is."""

from math import inf, isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.graphics.shapes import Drawing, PolyLine, String

from plant.drawings.svg import to_svg
from plant.drawings.width_over_hours import WidthLimit, WidthRead, width_over_hours


def words(drawing: Drawing) -> str:
    return " | ".join(each.text for each in drawing.contents if isinstance(each, String))


READS = [WidthRead(100, 12.9e-3, 0.2e-3), WidthRead(400, 12.3e-3, 0.1e-3)]
LIMITS = [WidthLimit("slot ends", 10.9e-3), WidthLimit("floor", 10.8e-3)]


def test_readings_line_limits_and_now_stand_on_it() -> None:
    drawing = width_over_hours(
        READS, limits=LIMITS, line=lambda h: (13.1e-3 - 2e-6 * h, 0.05e-3), now=450
    )

    assert "slot ends 10.9 mm" in words(drawing)
    assert "floor 10.8 mm" in words(drawing)
    assert "now 450 h" in words(drawing)
    # The line is drawn on towards its first end: 13.1 - 0.002 h is 10.9 at 1,100 h, and no further
    # than half as far again as the readings reach.
    assert "1,000" in words(drawing)
    assert "1,500" not in words(drawing)
    # Two limits 0.1 mm apart keep their words apart.
    rows = [each.y for each in drawing.contents if isinstance(each, String) and "mm" in each.text]
    assert len(set(rows)) == len(rows)
    assert 'role="img"' in to_svg(drawing, title="Width", description="Two widths.")


@given(
    reads=st.lists(
        st.builds(WidthRead, st.floats(0, 1e5), st.floats(5e-3, 30e-3), st.floats(0.05e-3, 2e-3)),
        min_size=1,
        max_size=9,
    ),
    slope=st.floats(-1e-4, 1e-6),
    ends=st.lists(st.floats(4e-3, 30e-3), max_size=2),
)
def test_nothing_leaves_the_sheet(reads: list[WidthRead], slope: float, ends: list[float]) -> None:
    drawing = width_over_hours(
        reads,
        limits=[WidthLimit("floor", each) for each in ends],
        line=lambda h: (13e-3 + slope * h, 1e-4 + h * 1e-7),
        now=max(read.hours for read in reads),
    )

    for shape in drawing.contents:
        if isinstance(shape, PolyLine):
            assert all(isfinite(each) for each in shape.points)
            assert all(-0.01 <= x <= drawing.width + 0.01 for x in shape.points[::2])
            assert all(-0.01 <= y <= drawing.height + 0.01 for y in shape.points[1::2])


@pytest.mark.parametrize("reads", [[], [WidthRead(1, inf, 0.1)]])
def test_nothing_to_draw_is_refused(reads: list[WidthRead]) -> None:
    with pytest.raises(ValueError, match="read"):
        width_over_hours(reads)


def test_a_reading_tells_its_figure_where_the_pointer_rests() -> None:
    reads = [WidthRead(100.0, 0.0125, 0.0002), WidthRead(1300.0, 0.0119, 0.0002)]

    drawn = to_svg(width_over_hours(reads), title="t", description="d")

    assert "<g><title>12.5 ± 0.2 mm at 100.0 h</title>" in drawn
    assert "<title>11.9 ± 0.2 mm at 1,300.0 h</title>" in drawn
