"""The width of a belt over running hours: its readings, the line through them, and its ends."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite

from reportlab.graphics.shapes import Drawing

from plant.drawings.lettering import width_of
from plant.drawings.strokes import (
    DOTTED,
    HEAVY,
    HIDDEN,
    INK,
    MEDIUM,
    PAGE,
    SMALL_LETTER,
    THIN,
    Said,
    letter,
    outline,
    sheet,
    stroke,
)
from plant.drawings.tension_band import round_step
from plant.length_words import length_text, length_unit, number_text, scaled, spread_text
from plant.translate import gettext

HEIGHT = 150.0
_STEPS = 24  # pieces of the band of doubt, which bends


@dataclass(frozen=True, slots=True)
class WidthRead:
    """One reading. hours: [h] running hours; width: [m]; doubt: [m] half width of its whisker."""

    hours: float
    width: float
    doubt: float


@dataclass(frozen=True, slots=True)
class WidthLimit:
    """A width [m] at which the belt comes to its end; name: "slot ends" or "floor"."""

    name: str
    width: float


def width_over_hours(
    reads: Sequence[WidthRead],
    *,
    limits: Sequence[WidthLimit] = (),
    line: Callable[[float], tuple[float, float]] | None = None,
    now: float | None = None,
    width: float = PAGE,
    height: float = HEIGHT,
) -> Drawing:
    """Draws each reading with its whisker, the line with its band of doubt, and the limits.

    Args:
        reads: [h, m] the readings, in any order.
        limits: [m] widths at which the belt comes to its end.
        line: [h] -> [m, m] width on the line and its standard uncertainty; None: no line is told.
        now: [h] running hours now, marked on the scale.
        width, height: [pt] size of the picture.

    Returns:
        The drawing; the band of doubt is twice the standard uncertainty, about 19 in 20.

    Raises:
        ValueError: no reading, or a figure that is not a number.
    """
    if not reads:
        raise ValueError("no reading to draw; one or more are needed")
    figures = [f for read in reads for f in (read.hours, read.width, read.doubt)]
    figures += [limit.width for limit in limits]
    if not all(isfinite(figure) for figure in figures):
        raise ValueError("a reading or a limit is not a number")
    drawing = sheet(width=width, height=height)
    first = min(read.hours for read in reads)
    last = max([read.hours for read in reads] + ([now] if now is not None else []))
    far = _meets(line, limits, last=last, span=max(last - first, 1.0)) if line else last
    hours = _scale(first, max(far, first + 1.0))
    tops = [read.width + read.doubt for read in reads]
    lows = [read.width - read.doubt for read in reads] + [limit.width for limit in limits]
    widths = _scale(scaled(min(lows)), scaled(max(tops)))
    left, right, base, top = 30.0, width - 10.0, 24.0, height - 14.0

    def x_of(at: float) -> float:
        return left + (at - hours[0]) / (hours[1] - hours[0]) * (right - left)

    def on_scale(value: float) -> float:
        at = base + (value - widths[0]) / (widths[1] - widths[0]) * (top - base)
        return min(max(at, base), top)

    def y_of(metres: float) -> float:
        return on_scale(scaled(metres))

    if line is not None:
        ends = max(min(read.hours for read in reads), hours[0]), hours[1]
        _line(drawing, line, ends=ends, x_of=x_of, y_of=y_of)
    placed: list[float] = []
    for limit in sorted(limits, key=lambda each: -each.width):
        y = y_of(limit.width)
        drawing.add(stroke([(left, y), (right, y)], weight=MEDIUM, dash=HIDDEN))
        said = f"{limit.name} {length_text(limit.width)}"
        row = y + 2.2
        if placed and placed[-1] - row < SMALL_LETTER + 2:
            row = placed[-1] - SMALL_LETTER - 2
        placed.append(row)
        drawing.add(letter(said, at=(left + 3, row), size=SMALL_LETTER, bold=True))
    for read in reads:
        _reading(drawing, x_of(read.hours), y_of(read.width), read, y_of=y_of)
    if now is not None:
        drawing.add(stroke([(x_of(now), base), (x_of(now), top)], weight=THIN, dash=DOTTED))
        _kept(
            drawing,
            gettext("now {now} h").format(now=f"{now:,.0f}"),
            x=x_of(now),
            y=top + 4,
            width=width,
        )
    drawing.add(stroke([(left, top), (left, base), (right, base)], weight=HEAVY))
    for value in _ticks(*hours):
        x = x_of(value)
        drawing.add(stroke([(x, base), (x, base - 3)], weight=MEDIUM))
        _kept(drawing, f"{value:,.0f}", x=x, y=base - 11, width=width)
    for value in _ticks(*widths):
        y = on_scale(value)
        drawing.add(stroke([(left, y), (left - 3, y)], weight=MEDIUM))
        drawing.add(letter(f"{value:g}", at=(left - 5, y - 2.4), anchor="end", size=SMALL_LETTER))
    drawing.add(letter(length_unit(), at=(0, top + 4), size=SMALL_LETTER, bold=True))
    drawing.add(letter(gettext("running hours"), at=(left, 2), size=SMALL_LETTER, bold=True))
    return drawing


def _line(
    drawing: Drawing,
    line: Callable[[float], tuple[float, float]],
    *,
    ends: tuple[float, float],
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
) -> None:
    """The line with its band of doubt, from the first reading on."""
    steps = [ends[0] + (ends[1] - ends[0]) * n / _STEPS for n in range(_STEPS + 1)]
    on = [line(at) for at in steps]
    upper = [(x_of(at), y_of(w + 2 * u)) for at, (w, u) in zip(steps, on, strict=True)]
    lower = [(x_of(at), y_of(w - 2 * u)) for at, (w, u) in zip(steps, on, strict=True)]
    drawing.add(stroke(upper, weight=THIN, dash=DOTTED))
    drawing.add(stroke(lower, weight=THIN, dash=DOTTED))
    drawing.add(
        stroke([(x_of(at), y_of(w)) for at, (w, _) in zip(steps, on, strict=True)], weight=HEAVY)
    )


def _reading(
    drawing: Drawing, x: float, y: float, read: WidthRead, *, y_of: Callable[[float], float]
) -> None:
    ends = (y_of(read.width - read.doubt), y_of(read.width + read.doubt))
    diamond = [(x, y + 2.6), (x + 2.6, y), (x, y - 2.6), (x - 2.6, y)]
    words = gettext("{width} ± {doubt} at {hours} h").format(
        width=number_text(read.width), doubt=spread_text(read.doubt), hours=f"{read.hours:,.1f}"
    )
    drawing.add(
        Said(
            words,
            stroke([(x, ends[0]), (x, ends[1])], weight=MEDIUM),
            *(stroke([(x - 2.4, end), (x + 2.4, end)], weight=MEDIUM) for end in ends),
            outline(diamond, weight=MEDIUM, fill=INK),
        )
    )


def _meets(
    line: Callable[[float], tuple[float, float]],
    limits: Sequence[WidthLimit],
    *,
    last: float,
    span: float,
) -> float:
    """[h] where the line comes to the first limit, but no further than the readings reach back."""
    fall = line(last)[0] - line(last + span)[0]
    if fall <= 0 or not limits:
        return last
    sooner = max(limit.width for limit in limits)
    return min(max(last, last + (line(last)[0] - sooner) / fall * span), last + 1.5 * span)


def _scale(low: float, high: float) -> tuple[float, float]:
    """The round ends of a scale that holds both."""
    step = round_step(max(high - low, 1e-9) / 4)
    least, most = floor(low / step) * step, ceil(high / step) * step
    return least, most if most > least else least + step


def _ticks(low: float, high: float) -> list[float]:
    step = round_step((high - low) / 4)
    return [round(low + n * step, 6) for n in range(round((high - low) / step) + 1)]


def _kept(drawing: Drawing, words: str, *, x: float, y: float, width: float) -> None:
    """Words in the middle over or under a place, kept on the sheet."""
    half = width_of(words, size=SMALL_LETTER) / 2
    x = min(max(x, half), width - half - 6)
    drawing.add(letter(words, at=(x, y), anchor="middle", size=SMALL_LETTER))
