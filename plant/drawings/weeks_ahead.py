"""The weeks ahead: fitters' hours needed as bars, against the hours there are as a line."""

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing

from plant.drawings.strokes import (
    HEAVY,
    HIDDEN,
    MEDIUM,
    PAGE,
    SMALL_LETTER,
    THIN,
    Said,
    hatch,
    letter,
    outline,
    sheet,
    stroke,
)
from plant.translate import gettext as _

HEIGHT = 130.0


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One week: what stands under it, and the hours needed and available (None: not given)."""

    label: str
    needed_h: float
    available_h: float | None = None


def weeks_ahead(bars: Sequence[Bar], *, width: float = PAGE, height: float = HEIGHT) -> Drawing:
    """Draws a bar a week, with a heavy line across each at the hours that there are.

    What goes above the line is hatched the other way and its figure is bold, so that it is seen
    without colour.

    Raises:
        ValueError: no weeks, or hours below nought.
    """
    if not bars:
        raise ValueError("no weeks to draw")
    if any(bar.needed_h < 0 or (bar.available_h or 0) < 0 for bar in bars):
        raise ValueError("hours must be nought or more")
    drawing = sheet(width=width, height=height)
    base, top = 16.0, height - 14.0
    most = max([1.0, *(max(bar.needed_h, bar.available_h or 0.0) for bar in bars)])
    step = width / len(bars)
    drawing.add(stroke([(0, base), (width, base)], weight=HEAVY))

    def y_of(hours: float) -> float:
        return base + hours / most * (top - base)

    for number, bar in enumerate(bars):
        left, right = number * step + step * 0.18, (number + 1) * step - step * 0.18
        middle = (left + right) / 2
        over = bar.available_h is not None and bar.needed_h > bar.available_h
        if bar.needed_h > 0:
            high = y_of(bar.needed_h)
            box = [(left, base), (right, base), (right, high), (left, high)]
            told = (
                _("{week}: {needed} h needed")
                if bar.available_h is None
                else _("{week}: {needed} h needed of {available} h there are")
            )
            drawing.add(
                Said(
                    told.format(
                        week=bar.label,
                        needed=f"{bar.needed_h:.1f}",
                        available=f"{bar.available_h or 0:.1f}",
                    ),
                    hatch(box, gap=2.4 if over else 4.2),
                    outline(box, weight=HEAVY if over else MEDIUM),
                )
            )
        if bar.available_h is not None:
            y = y_of(bar.available_h)
            ends = [(number * step + 2, y), ((number + 1) * step - 2, y)]
            drawing.add(stroke(ends, weight=HEAVY, dash=HIDDEN))
        else:
            drawing.add(stroke([(left, base - 2), (right, base - 2)], weight=THIN))
        drawing.add(
            letter(
                f"{bar.needed_h:.1f}",
                at=(middle, y_of(bar.needed_h) + 3),
                anchor="middle",
                size=SMALL_LETTER,
                bold=over,
            )
        )
        drawing.add(letter(bar.label, at=(middle, base - 11), anchor="middle", size=SMALL_LETTER))
    return drawing
