"""Causes with their odds as bars: the leading one is seen without colour."""

import pytest
from reportlab.graphics.shapes import Drawing, Polygon, String

from plant.drawings.odds_bars import Odds, odds_bars


def test_bars_are_as_long_as_the_odds_and_the_first_is_bold() -> None:
    drawing: Drawing = odds_bars(
        [
            Odds(label="Belt", share=0.75, words="about 8 in 10"),
            Odds(label="Gear", share=0.25, words="about 2 in 10"),
        ],
        width=200,
    )
    words = {each.text: each for each in drawing.contents if isinstance(each, String)}
    bars = [each for each in drawing.contents if isinstance(each, Polygon)]

    assert [max(bar.points[::2]) for bar in bars] == pytest.approx([93, 31])
    assert words["Belt"].fontName != words["Gear"].fontName
    assert {"about 8 in 10", "about 2 in 10"} <= set(words)


@pytest.mark.parametrize("rows", [[], [Odds(label="a", share=1.1, words="")]])
def test_no_causes_and_odds_above_one_are_refused(rows: list[Odds]) -> None:
    with pytest.raises(ValueError, match=r"causes|odds"):
        odds_bars(rows)
