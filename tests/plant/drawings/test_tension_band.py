import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.graphics.shapes import Drawing, Polygon, String

from plant.drawings.tension_band import tension_band


def strings(drawing: Drawing) -> dict[str, float]:
    return {shape.text: shape.x for shape in drawing.contents if isinstance(shape, String)}


def polygons(drawing: Drawing) -> list[Polygon]:
    return [shape for shape in drawing.contents if isinstance(shape, Polygon)]


@pytest.mark.parametrize("reading", [9.5, 15.0, 31.0])
def test_band_and_reading_stand_on_the_scale(reading: float) -> None:
    drawing = tension_band(low=12, high=18, reading=reading, reading_doubt=1)
    scale = strings(drawing)
    band, pointer = polygons(drawing)

    # The scale is read off two of its own figures.
    first = next(float(words) for words in scale if words not in ("0", "N") and words.isdigit())
    per_newton = (scale[f"{first:g}"] - scale["0"]) / first
    assert (band.points[0] - scale["0"]) / per_newton == pytest.approx(12)
    assert (band.points[2] - scale["0"]) / per_newton == pytest.approx(18)
    assert (pointer.points[0] - scale["0"]) / per_newton == pytest.approx(reading)


def test_the_figures_are_said_in_words() -> None:
    said = strings(tension_band(low=12, high=18, reading=9.5, reading_doubt=1))

    assert "12 to 18 N" in said
    assert "read 9.5 ± 1 N" in said


def test_without_a_reading_there_is_no_pointer() -> None:
    drawing = tension_band(low=12, high=18)

    assert len(polygons(drawing)) == 1
    assert not any("read" in words for words in strings(drawing))


@pytest.mark.parametrize(("low", "high", "reading"), [(18, 12, None), (-1, 5, None), (1, 2, -3)])
def test_impossible_forces_are_refused(low: float, high: float, reading: float | None) -> None:
    with pytest.raises(ValueError, match="N"):
        tension_band(low=low, high=high, reading=reading)


@given(
    low=st.floats(0.1, 500),
    wide=st.floats(1.02, 3),
    reading=st.floats(0, 2000),
    width=st.floats(180, 400),
)
def test_it_stays_on_the_sheet_and_words_do_not_meet(
    low: float, wide: float, reading: float, width: float
) -> None:
    drawing = tension_band(
        low=low, high=low * wide, reading=reading, reading_doubt=0.1 * reading, width=width
    )

    left, bottom, right, top = drawing.getBounds()
    assert left >= -1
    assert bottom >= -1
    assert right <= width + 1
    assert top <= drawing.height
    words = sorted(
        shape.getBounds()
        for shape in drawing.contents
        if isinstance(shape, String) and " N" in shape.text
    )
    assert words[0][2] < words[1][0]
