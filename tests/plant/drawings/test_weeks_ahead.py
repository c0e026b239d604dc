"""The weeks ahead as a picture: what is too much is seen without colour."""

import pytest
from reportlab.graphics.shapes import Drawing, String

from plant.drawings.svg import to_svg
from plant.drawings.weeks_ahead import Bar, weeks_ahead


def lettering(drawing: Drawing) -> dict[str, String]:
    return {each.text: each for each in drawing.contents if isinstance(each, String)}


def test_every_week_has_its_day_and_its_hours() -> None:
    drawing = weeks_ahead(
        [Bar(label="2 Mar", needed_h=31.5, available_h=40), Bar(label="9 Mar", needed_h=44)]
    )

    assert {"2 Mar", "9 Mar", "31.5", "44.0"} <= set(lettering(drawing))


def test_what_is_too_much_is_bold() -> None:
    found = lettering(
        weeks_ahead(
            [
                Bar(label="a", needed_h=31.5, available_h=40),
                Bar(label="b", needed_h=40.1, available_h=40),
            ]
        )
    )

    assert found["40.1"].fontName != found["31.5"].fontName


def test_weeks_without_work_are_drawn_and_pass_a_strict_policy() -> None:
    svg = to_svg(weeks_ahead([Bar(label="2 Mar", needed_h=0)]), title="t", description="d")

    assert "style" not in svg
    assert ">0.0<" in svg


@pytest.mark.parametrize("bars", [[], [Bar(label="a", needed_h=-1)]])
def test_no_weeks_and_hours_below_nought_are_refused(bars: list[Bar]) -> None:
    with pytest.raises(ValueError, match=r"weeks|nought"):
        weeks_ahead(bars)
