"""Causes with their odds as bars, the likeliest first."""

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing

from plant.drawings.strokes import (
    HEAVY,
    LETTER,
    MEDIUM,
    THIN,
    hatch,
    letter,
    outline,
    sheet,
    stroke,
)

WIDTH = 190.0
# Of the width the bar of a certain cause takes so much; how the odds are said follows its end.
_WHOLE = 0.62
_ROW = 25.0
_BAR = 8.0


@dataclass(frozen=True, kw_only=True)
class Odds:
    """One cause: its words, its odds from 0 to 1, and how they are said."""

    label: str
    share: float
    words: str


def odds_bars(rows: Sequence[Odds], *, width: float = WIDTH) -> Drawing:
    """Draws a bar a cause over a line from none to certain, its name above and its odds beside.

    The first is bold and hatched closer, so that it stands out without colour.

    Raises:
        ValueError: no causes, or odds outside 0 to 1.
    """
    if not rows:
        raise ValueError("no causes to draw")
    if any(not 0 <= row.share <= 1 for row in rows):
        raise ValueError("odds lie from 0 to 1")
    drawing = sheet(width=width, height=_ROW * len(rows) + 2)
    for number, row in enumerate(rows):
        first = number == 0
        base = _ROW * (len(rows) - number) - _ROW + 4
        drawing.add(stroke([(0, base), (_WHOLE * width, base)], weight=THIN))
        end = row.share * _WHOLE * width
        if end > 0:
            box = [(0.0, base), (end, base), (end, base + _BAR), (0.0, base + _BAR)]
            drawing.add(hatch(box, gap=2.2 if first else 4.4))
            drawing.add(outline(box, weight=HEAVY if first else MEDIUM))
        above = (0.0, base + _BAR + 3.5)
        drawing.add(letter(row.label, at=above, anchor="start", size=LETTER, bold=first))
        beside = (width, base + 1.5)
        drawing.add(letter(row.words, at=beside, anchor="end", size=LETTER, bold=first))
    return drawing
