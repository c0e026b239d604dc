"""The drive from the side: pulleys, belt, shaft distance, and the slot with its pointer."""

from math import acos, cos, pi, sin, sqrt
from typing import NamedTuple

from reportlab.graphics.shapes import Circle, Drawing

from plant.drawings.lettering import width_of
from plant.drawings.strokes import (
    CHAIN,
    DOTTED,
    GREY,
    HEAVY,
    INK,
    LETTER,
    MEDIUM,
    PAGE,
    PALE,
    SMALL_LETTER,
    THIN,
    Anchor,
    Point,
    dimension,
    hatch,
    letter,
    outline,
    sheet,
    shortened,
    stroke,
)
from plant.length_words import length_text
from plant.translate import gettext

HEIGHT = 176.0
_SLOT_ROOM = 50.0


def drive_layout(
    *,
    small: float,
    large: float,
    centres_now: float,
    centres_new: float | None = None,
    centres_needed: float | None = None,
    slot_low: float | None = None,
    slot_high: float | None = None,
    small_name: str = "",
    large_name: str = "",
    width: float = PAGE,
    height: float = HEIGHT,
) -> Drawing:
    """Draws the two pulleys and the belt to scale, and under them the slot at its own scale.

    The pointers are told apart by shape and word: open for new, solid for now, crossed for
    needed.

    Args:
        small, large: [m] datum diameters.
        centres_now: [m] shaft distance now.
        centres_new: [m] shaft distance when the belt was new, if known.
        centres_needed: [m] shaft distance that would draw the belt tight, if known.
        slot_low, slot_high: [m] shaft distance at the two ends of the slot, if known.
        small_name, large_name: names written in or by the pulleys, else which of them it is; a
            name longer than three tenths of the width is cut with ….
        width, height: [pt] size of the picture.

    Returns:
        The drawing.

    Raises:
        ValueError: the pulleys overlap, the slot's ends are the wrong way round, or the picture
            is too low for its lettering.
    """
    if min(small, large) <= 0 or centres_now <= (small + large) / 2:
        raise ValueError(
            f"pulleys overlap: centres {centres_now:g} m, diameters {small:g} and {large:g} m"
        )
    if slot_low is not None and slot_high is not None and slot_high <= slot_low:
        raise ValueError(f"the slot ends at {slot_high:g} m before it begins at {slot_low:g} m")
    has_slot = slot_low is not None and slot_high is not None
    drawing = sheet(width=width, height=height)
    below = _SLOT_ROOM if has_slot else 0.0
    dimension_room = 18.0
    least = below + dimension_room + 3 * LETTER
    if height < least:
        raise ValueError(f"the picture is {height:g} pt high; it needs {least:g} pt")
    span = small / 2 + centres_now + large / 2
    names = tuple(
        (shortened(name, room=0.3 * width), diameter)
        for name, diameter in (
            (small_name or gettext("small pulley"), small),
            (large_name or gettext("large pulley"), large),
        )
    )
    scale = min((width - 12) / span, (height - below - dimension_room - 6) / max(small, large))
    # Drawn smaller until names that do not go inside a pulley find room beside or above it.
    while True:
        middle_y = below + dimension_room + max(small, large) / 2 * scale
        x_small = (width - span * scale) / 2 + small / 2 * scale
        shafts = (x_small, x_small + centres_now * scale)
        radii = (small / 2 * scale, large / 2 * scale)
        places = _name_places(names, shafts=shafts, radii=radii, width=width)
        if max(place.lift for place in places) + middle_y + LETTER + 2 <= height:
            break
        scale *= 0.96

    _pulleys(drawing, centres=((shafts[0], middle_y), (shafts[1], middle_y)), radii=radii)
    for (name, diameter), place, x, radius in zip(names, places, shafts, radii, strict=True):
        y = middle_y + place.lift
        drawing.add(letter(name, at=(place.x, y + place.gap), anchor=place.anchor))
        foot = y - place.gap - 0.75 * LETTER + 1.5
        drawing.add(letter(length_text(diameter), at=(place.x, foot), anchor=place.anchor))
        if place.lift:
            drawing.add(stroke([(place.x, foot - 2), (x, middle_y + radius)]))

    x_small, x_large = shafts
    level = below + 6.0
    for x, radius in zip((x_small, x_large), radii, strict=True):
        drawing.add(stroke([(x, middle_y - radius + 4), (x, level - 3)]))
    for shape in dimension(start=(x_small, level), end=(x_large, level)):
        drawing.add(shape)
    figure = length_text(centres_now)
    right, between = width - x_large - 5, x_large - x_small - 24
    for said in (gettext("{figure} between shafts").format(figure=figure), figure):
        if width_of(said, size=LETTER) <= right:
            drawing.add(letter(said, at=(x_large + 4, level - 2.5)))
            break
        if width_of(said, size=LETTER) <= between:
            drawing.add(letter(said, at=((x_small + x_large) / 2, level + 1.8), anchor="middle"))
            break
    else:
        room = x_small - 5
        drawing.add(letter(figure, at=(x_small - 4, level - 2.5), anchor="end", room=room))
    if slot_low is not None and slot_high is not None:
        _slot(
            drawing,
            low=slot_low,
            high=slot_high,
            now=centres_now,
            new=centres_new,
            needed=centres_needed,
            width=width,
        )
    return drawing


def _too_small(name: str, diameter: float) -> bool:
    """Whether a name would not stand inside a circle of this diameter [pt]."""
    return width_of(name, size=LETTER) > 0.84 * diameter or diameter < 46


class _Place(NamedTuple):
    """Where a pulley's name stands: x and height over the shafts [pt], anchor, half gap [pt]."""

    x: float
    lift: float
    anchor: Anchor
    gap: float


def _name_places(
    names: tuple[tuple[str, float], ...],
    *,
    shafts: tuple[float, float],
    radii: tuple[float, float],
    width: float,
) -> tuple[_Place, _Place]:
    """Inside the pulleys where that goes, else beside them, else above them clear of the belt."""
    small_out, large_out = (
        _too_small(name, 2 * radius) for (name, _), radius in zip(names, radii, strict=True)
    )
    # Two pulleys alike are named alike.
    large_out = large_out or (small_out and radii[1] < 1.2 * radii[0])
    small_out = small_out or (large_out and radii[0] < 1.2 * radii[1])
    rooms = (shafts[0] - radii[0] - 5, width - shafts[1] - radii[1] - 5)
    lean = (radii[1] - radii[0]) / (shafts[1] - shafts[0])
    slope = lean / sqrt(1 - lean * lean)
    places = []
    for side, out in enumerate((small_out, large_out)):
        x, radius = shafts[side], radii[side]
        name, diameter = names[side]
        wide = max(width_of(words, size=LETTER) for words in (name, length_text(diameter)))
        if not out:
            places.append(_Place(x, 0.0, "middle", 7.0))
        elif wide <= rooms[side]:
            away = -radius - 5 if side == 0 else radius + 5
            places.append(_Place(x + away, 0.0, "end" if side == 0 else "start", 2.2))
        else:
            middle = min(max(x, wide / 2), width - wide / 2)
            # The belt's upper run is a straight line; it is highest at one end of the name.
            belt = max(
                radii[0] * sqrt(1 + slope * slope) + (end - shafts[0]) * slope
                for end in (middle - wide / 2, middle + wide / 2)
            )
            places.append(_Place(middle, max(belt, radius) + 13, "middle", 2.2))
    return places[0], places[1]


def _pulleys(drawing: Drawing, *, centres: tuple[Point, Point], radii: tuple[float, float]) -> None:
    (x0, y), (x1, _) = centres
    r0, r1 = radii
    # The straight runs touch both circles where the radius stands square to them.
    lean = acos((r0 - r1) / (x1 - x0))
    for side in (lean, -lean):
        drawing.add(
            stroke(
                [
                    (x0 + r0 * cos(side), y + r0 * sin(side)),
                    (x1 + r1 * cos(side), y + r1 * sin(side)),
                ],
                weight=2.2,
            )
        )
    for x, r, start, end in ((x0, r0, lean, 2 * pi - lean), (x1, r1, -lean, lean)):
        steps = 72
        arc = [
            (
                x + r * cos(start + (end - start) * step / steps),
                y + r * sin(start + (end - start) * step / steps),
            )
            for step in range(steps + 1)
        ]
        drawing.add(stroke(arc, weight=2.2))
        drawing.add(Circle(x, y, r, strokeColor=INK, strokeWidth=MEDIUM, fillColor=None))
        drawing.add(Circle(x, y, 2.2, strokeColor=INK, strokeWidth=MEDIUM, fillColor=INK))
        drawing.add(stroke([(x - r - 3, y), (x + r + 3, y)], dash=CHAIN, colour=GREY))


def _slot(
    drawing: Drawing,
    *,
    low: float,
    high: float,
    now: float,
    new: float | None,
    needed: float | None,
    width: float,
) -> None:
    marked = [value for value in (low, high, now, new, needed) if value is not None]
    first, last = min(marked), max(marked)
    edge = 30.0
    scale = (width - 2 * edge) / (last - first)

    def x_of(value: float) -> float:
        return edge + (value - first) * scale

    top, bottom = 26.5, 18.5
    ends = (x_of(low), x_of(high))
    slot = [(ends[0], bottom), (ends[1], bottom), (ends[1], top), (ends[0], top)]
    drawing.add(outline(slot, weight=HEAVY, fill=PALE))
    drawing.add(letter(gettext("slot"), at=(0, top + 8.5), bold=True))
    drawing.add(letter(length_text(high - low), at=(width, top + 8.5), anchor="end", bold=True))
    if needed is not None and not low <= needed <= high:
        beyond = x_of(high) if needed > high else x_of(low)
        past = sorted((beyond, x_of(needed)))
        gap = [(past[0], bottom), (past[1], bottom), (past[1], top), (past[0], top)]
        drawing.add(hatch(gap, gap=2.6))
        drawing.add(stroke([gap[0], gap[1]], weight=THIN, dash=DOTTED))
        drawing.add(stroke([gap[3], gap[2]], weight=THIN, dash=DOTTED))
    # Now stands above the slot, new and needed below it, so that words do not meet.
    _pointer(drawing, x=x_of(now), tip=top, way=1, filled=True)
    _row(
        drawing,
        [(x_of(now), gettext("now {now}").format(now=length_text(now)))],
        y=top + 8.5,
        width=width,
    )
    told = ((new, gettext("new {length}")), (needed, gettext("needed {length}")))
    below = [(value, words) for value, words in told if value]
    for value, words in below:
        _pointer(drawing, x=x_of(value), tip=bottom, way=-1, barred=words == told[1][1])
    _row(
        drawing,
        [(x_of(value), words.format(length=length_text(value))) for value, words in below],
        y=bottom - 14.5,
        width=width,
    )


def _pointer(
    drawing: Drawing,
    *,
    x: float,
    tip: float,
    way: int,
    filled: bool = False,
    barred: bool = False,
) -> None:
    """A pointer at the slot's edge [pt]; way 1 stands above it, -1 below it."""
    corners = [(x, tip), (x - 3.4, tip + 6.8 * way), (x + 3.4, tip + 6.8 * way)]
    drawing.add(outline(corners, weight=MEDIUM, fill=INK if filled else None))
    if barred:
        drawing.add(stroke([(x - 5, tip + 4.2 * way), (x + 5, tip + 4.2 * way)], weight=MEDIUM))


def _row(drawing: Drawing, marks: list[tuple[float, str]], *, y: float, width: float) -> None:
    """Words under their marks [pt], drawn apart where they would meet, and kept on the sheet."""
    placed: list[tuple[float, float, str]] = []
    for x, words in sorted(marks):
        half = width_of(words, size=SMALL_LETTER) / 2
        placed.append((min(max(x, half), width - half), half, words))
    for index in range(len(placed) - 1):
        (x0, half0, words0), (x1, half1, words1) = placed[index], placed[index + 1]
        overlap = x0 + half0 + 6 - (x1 - half1)
        if overlap > 0:
            left = max(x0 - overlap / 2, half0)
            placed[index] = (left, half0, words0)
            placed[index + 1] = (max(x1, left + half0 + 6 + half1), half1, words1)
    for x, _, words in placed:
        drawing.add(letter(words, at=(x, y), anchor="middle", size=SMALL_LETTER))
