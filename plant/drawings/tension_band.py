"""The tension band: the force a tight belt wants, and the reading beside it."""

from math import ceil, floor, log10

from reportlab.graphics.shapes import Drawing

from plant.drawings.lettering import SANS_BOLD, width_of
from plant.drawings.strokes import (
    HEAVY,
    INK,
    LETTER,
    MEDIUM,
    PAGE,
    SMALL_LETTER,
    hatch,
    letter,
    outline,
    sheet,
    stroke,
)
from plant.translate import gettext as _

HEIGHT = 50.0


def tension_band(
    *,
    low: float,
    high: float,
    reading: float | None = None,
    reading_doubt: float = 0.0,
    width: float = PAGE,
    height: float = HEIGHT,
) -> Drawing:
    """Draws a scale of force with the band hatched and the reading as a pointer.

    Args:
        low, high: [N] ends of the band.
        reading: [N] the force read, or None when there is none yet.
        reading_doubt: [N] half width of the whisker on the pointer.
        width, height: [pt] size of the picture.

    Returns:
        The drawing.

    Raises:
        ValueError: the band is upside down or starts below nought, or the reading is below nought.
    """
    if not 0 <= low < high:
        raise ValueError(
            f"band {low:g} to {high:g} N; low must be below high, and not below nought"
        )
    if reading is not None and reading < 0:
        raise ValueError(f"reading {reading:g} N; it must not be below nought")
    drawing = sheet(width=width, height=height)
    far = max(high, (reading or 0.0) + reading_doubt)
    step = round_step(far * 1.12 / 5)
    end = ceil(far * 1.06 / step) * step
    left, right = 6.0, width - 17.0
    base = 15.0

    def x_of(force: float) -> float:
        return left + force / end * (right - left)

    band_top = base + 13
    band = [
        (x_of(low), base),
        (x_of(high), base),
        (x_of(high), band_top),
        (x_of(low), band_top),
    ]
    drawing.add(hatch(band, gap=3.2))
    drawing.add(outline(band, weight=MEDIUM))
    drawing.add(stroke([(left, base), (right, base)], weight=HEAVY))
    for tick in range(floor(end / step + 0.5) + 1):
        x = x_of(tick * step)
        drawing.add(stroke([(x, base), (x, base - 3)], weight=MEDIUM))
        drawing.add(
            letter(
                f"{tick * step:g}",
                at=(x, base - 10.5),
                anchor="middle",
                size=SMALL_LETTER,
            )
        )
    drawing.add(letter("N", at=(right + 9, base - 10.5), size=SMALL_LETTER, bold=True))

    words = _("{low} to {high} N").format(low=_newtons(low), high=_newtons(high))
    place = _kept(x_of((low + high) / 2), words, width)
    if reading is None:
        drawing.add(letter(words, at=(place, band_top + 4), anchor="middle"))
        return drawing
    x = x_of(reading)
    tip = band_top + 1
    drawing.add(
        outline(
            [(x, base + 1), (x - 3.6, tip + 7), (x + 3.6, tip + 7)],
            weight=MEDIUM,
            fill=INK,
        )
    )
    if reading_doubt > 0:
        ends = (x_of(max(reading - reading_doubt, 0)), x_of(reading + reading_doubt))
        drawing.add(stroke([(ends[0], tip + 7), (ends[1], tip + 7)], weight=MEDIUM))
        for whisker in ends:
            drawing.add(stroke([(whisker, tip + 4.6), (whisker, tip + 9.4)], weight=MEDIUM))
    told = _newtons(reading)
    if reading_doubt > 0:
        told = f"{told} ± {_newtons(reading_doubt)}"
    read = _("read {reading} N").format(reading=told)
    pointed = _kept(x, read, width)
    drawing.add(letter(read, at=(pointed, tip + 12), anchor="middle", bold=True))
    # The band's own words go where the pointer's are not.
    half = width_of(words, size=LETTER) / 2
    clear = half + width_of(read, size=LETTER, face=SANS_BOLD) / 2 + 10
    if abs(place - pointed) < clear:
        right_of = pointed + clear
        place = right_of if right_of + half <= width else pointed - clear
    drawing.add(letter(words, at=(place, tip + 12), anchor="middle"))
    return drawing


def _newtons(force: float) -> str:
    """Three figures at most, and no more than two places."""
    return f"{round(float(f'{force:.3g}'), 2):,g}"


def _kept(x: float, words: str, width: float) -> float:
    half = width_of(words, size=LETTER) / 2
    return min(max(x, half), width - half)


def round_step(rough: float) -> float:
    """The next of 1, 2, 5 times a power of ten."""
    power = 10.0 ** floor(log10(rough))
    return next(times * power for times in (1, 2, 5, 10) if times * power >= rough * 0.999)
