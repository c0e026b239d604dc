"""Belts running out: from the early day to the late one, with the likely day and the order day."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from reportlab.graphics.shapes import Drawing, Polygon

from plant.drawings.strokes import (
    HEAVY,
    INK,
    MEDIUM,
    PAGE,
    SMALL_LETTER,
    THIN,
    Said,
    arrow_head,
    hatch,
    letter,
    outline,
    sheet,
    shortened,
    stroke,
)
from plant.translate import gettext as _

ROW = 26.0
HEAD = 16.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, kw_only=True)
class Belt:
    """One belt: what stands over its bar, and its days. late None: nobody can tell."""

    label: str
    early: date
    likely: date
    late: date | None
    order_by: date


def running_out(
    belts: Sequence[Belt], *, today: date, days: int = 182, width: float = PAGE
) -> Drawing:
    """Draws a row for each belt: hatched from early to late, a heavy stroke at the likely day.

    A flag stands on the day to order by. What lies before today or past the end of the picture is
    drawn at its edge, with an arrow.

    Args:
        belts: in the order of the rows.
        today: the left edge.
        days: [d] how far the picture reaches.
        width: [pt] of the picture.

    Raises:
        ValueError: no belts, or days that are not more than nought.
    """
    if not belts or days <= 0:
        raise ValueError("nothing to draw")
    height = HEAD + ROW * len(belts) + 4
    drawing = sheet(width=width, height=height)
    left, right = 4.0, width - 8.0
    top = height - HEAD

    def x_of(day: date) -> float:
        share = (day - today).days / days
        return left + min(max(share, 0.0), 1.0) * (right - left)

    last = today + timedelta(days=days)
    drawing.add(stroke([(left, top), (right, top)], weight=MEDIUM))
    drawing.add(stroke([(left, top + 5), (left, 0)], weight=HEAVY))
    for first in _months(today, last):
        x = x_of(first)
        # Beside the bars alone, so that no word is struck through.
        for number in range(len(belts)):
            base = top - (number + 1) * ROW + 4
            drawing.add(stroke([(x, base + 10), (x, base - 3)], weight=THIN))
        if right - x > 20:
            drawing.add(letter(MONTHS[first.month - 1], at=(x + 2, top + 4), size=SMALL_LETTER))
    for number, belt in enumerate(belts):
        base = top - (number + 1) * ROW + 4
        words = shortened(belt.label, room=right - left - 6, size=SMALL_LETTER)
        drawing.add(letter(words, at=(left + 4, base + 12), size=SMALL_LETTER))
        _bar(drawing, belt, base=base, right=right, x_of=x_of, last=last)
    return drawing


def _bar(
    drawing: Drawing,
    belt: Belt,
    *,
    base: float,
    right: float,
    x_of: Callable[[date], float],
    last: date,
) -> None:
    start = x_of(belt.early)
    end = right if belt.late is None else x_of(belt.late)
    if end - start >= 1:
        box = [(start, base), (end, base), (end, base + 7), (start, base + 7)]
        drawing.add(Said(_days(belt), hatch(box, gap=3.4), outline(box, weight=THIN)))
    if belt.late is None or belt.late > last:
        drawing.add(arrow_head(tip=(right + 5, base + 3.5), towards=(1, 0)))
    if belt.likely <= last:
        x = x_of(belt.likely)
        drawing.add(stroke([(x, base - 1.5), (x, base + 8.5)], weight=2.2))
    if belt.order_by <= last:
        x = x_of(belt.order_by)
        drawing.add(stroke([(x, base - 2), (x, base + 9)], weight=MEDIUM))
        drawing.add(
            Polygon(
                [x, base + 9, x + 5.5, base + 6.5, x, base + 4],
                fillColor=INK, strokeColor=None, strokeWidth=0,
            )
        )  # fmt: skip


def _days(belt: Belt) -> str:
    told = (
        _("order by {order_by}; early {early}, likely {likely}")
        if belt.late is None
        else _("order by {order_by}; early {early}, likely {likely}, latest {late}")
    )
    return told.format(
        order_by=_day(belt.order_by),
        early=_day(belt.early),
        likely=_day(belt.likely),
        late="" if belt.late is None else _day(belt.late),
    )


def _day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def _months(first: date, last: date) -> list[date]:
    """The first days of the months after one day up to another."""
    found: list[date] = []
    year, month = first.year, first.month
    while True:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        day = date(year, month, 1)
        if day > last:
            return found
        found.append(day)
