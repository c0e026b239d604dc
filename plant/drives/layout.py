"""A belt round any number of pulleys: spans, wraps and length, with idlers inside or outside."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, atan2, cos, hypot, isfinite, pi, sin, sqrt

from plant.drives.errors import BeltTooShort, DriveError, OutOfRange, PulleysOverlap, finite, mm
from plant.translate import gettext as _

FARTHEST = 100.0  # [m] from the origin
MOST_PULLEYS = 50
# A wrap this close to a whole turn is a belt that lifts off, seen through rounding.
_ROUNDING = 1e-9

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pulley:
    """One pulley as the belt comes to it.

    x, y: [m] centre; radius: [m] to the line of the cords: half the datum diameter when the belt
    runs in its groove; for an idler on the back of the belt half its diameter plus the depth of
    the cords below the back. outside: the belt's back runs on it, so it turns the other way.
    name: in words, for messages.
    """

    x: float
    y: float
    radius: float
    outside: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """The belt's way. spans[i]: [m] free length from pulley i to the next; wraps[i]: [rad] contact
    angle on pulley i; touches[i]: [m] the points where span i leaves and arrives; length: [m] of
    the belt at its cords; turns[i]: +1 where pulley i turns with the first drawn direction."""

    spans: tuple[float, ...]
    wraps: tuple[float, ...]
    touches: tuple[tuple[Point, Point], ...]
    length: float
    turns: tuple[int, ...]


def belt_path(pulleys: Sequence[Pulley]) -> Layout:
    """Length, spans and wraps of a belt round pulleys given in the order it runs over them.

    Args:
        pulleys: two to fifty, each with centre and radius to the cord line [m]; the belt may be
            followed either way round.

    Returns:
        Layout, lengths [m] and angles [rad].

    Raises:
        OutOfRange: too few or too many pulleys, or a figure is no number or out of range.
        PulleysOverlap: two pulleys lie in each other.
        DriveError: no belt can run so: a pulley is not touched, the belt would cross itself, or a
            span would run through another pulley.

    Source:
        Plane geometry of directed tangents: outer tangents between pulleys on the same side of
        the belt, inner ones between an inside and an outside pulley. All inside, it is the
        perimeter of the convex hull. Sag left out; an outside idler should be at least 1.5 times
        the smallest usual pulley (common practice, no source).
    """
    _check(pulleys)
    # Followed anticlockwise; a mirrored drawing has the same lengths and angles. The centres tell
    # which way round it is, except where two pulleys lie inside and the idlers decide.
    likely = _area(pulleys) < 0
    try:
        return _followed(pulleys, mirrored=likely)
    except DriveError as refused:
        try:
            return _followed(pulleys, mirrored=not likely)
        except DriveError:
            raise refused from None


def travel_for_length(
    pulleys: Sequence[Pulley], *, moved: int, heading: float, length: float, travel: float
) -> float:
    """How far one pulley must move along its slot for the belt to be taut.

    Args:
        pulleys: as ``belt_path``, with the moved pulley at the start of its slot.
        moved: index of the pulley that moves.
        heading: [rad] direction of the slot from the x axis, up to 100 turns either way.
        length: [m] datum length of the belt, 0.001 to 200.
        travel: [m] length of the slot, above 0 and up to 10.

    Returns:
        [m] from the start of the slot; the belt grows steadily along it.

    Raises:
        OutOfRange, PulleysOverlap, DriveError: as ``belt_path``, at either end of the slot.
        BeltTooShort: the belt does not reach at the start of the slot.
        DriveError: the belt is still slack at the end of the slot.

    Source:
        Root of ``belt_path`` by halving the slot until 1e-12 m are left. Holds where moving along
        the slot lengthens the way all through, which is checked at the two ends only.
    """
    finite("belt length", length, low=0.001, high=200, unit="m")
    finite("slot", travel, low=1e-6, high=10, unit="m")
    finite("direction of the slot", heading, low=-200 * pi, high=200 * pi, unit="rad")
    if not 0 <= moved < len(pulleys):
        raise OutOfRange(
            _("pulley {moved} does not exist; accepted: 0 to {count}").format(
                moved=moved, count=len(pulleys) - 1
            )
        )

    def needed(at: float) -> float:
        one = pulleys[moved]
        there = Pulley(
            one.x + at * cos(heading), one.y + at * sin(heading), one.radius, one.outside, one.name
        )
        return belt_path([*pulleys[:moved], there, *pulleys[moved + 1 :]]).length

    low, high = 0.0, travel
    first, last = needed(low), needed(high)
    if not first < last:
        raise DriveError(_("moving that way does not tighten the belt: turn the slot round"))
    if length < first:
        raise BeltTooShort(
            _("a belt {length} long does not reach; accepted: {first} to {last}").format(
                length=mm(length), first=mm(first), last=mm(last)
            )
        )
    if length > last:
        raise DriveError(
            _(
                "a belt {length} long is slack at the end of the slot; accepted: {first} to {last}"
            ).format(length=mm(length), first=mm(first), last=mm(last))
        )
    while high - low > 1e-12:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if needed(middle) < length:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _check(pulleys: Sequence[Pulley]) -> None:
    if not 2 <= len(pulleys) <= MOST_PULLEYS:
        raise OutOfRange(
            _("{count} pulleys; accepted: 2 to {most_pulleys}").format(
                count=len(pulleys), most_pulleys=MOST_PULLEYS
            )
        )
    if all(pulley.outside for pulley in pulleys):
        raise DriveError(_("every pulley is outside the belt; at least two must lie inside it"))
    if sum(not pulley.outside for pulley in pulleys) < 2:
        raise DriveError(_("at least two pulleys must lie inside the belt"))
    for index, pulley in enumerate(pulleys):
        name = _name(pulley, index)
        finite(f"radius of {name}", pulley.radius, low=0.0005, high=10, unit="m")
        for figure in (pulley.x, pulley.y):
            if not isfinite(figure):
                raise OutOfRange(_("centre of {name} is no number").format(name=name))
            finite(f"centre of {name}", figure, low=-FARTHEST, high=FARTHEST, unit="m")
        for other_index in range(index):
            other = pulleys[other_index]
            apart = hypot(pulley.x - other.x, pulley.y - other.y)
            if apart <= pulley.radius + other.radius:
                raise PulleysOverlap(
                    _(
                        "{name} and {other} touch: {apart} between centres; accepted: more "
                        "than {mm}"
                    ).format(
                        name=name,
                        other=_name(other, other_index),
                        apart=mm(apart),
                        mm=mm(pulley.radius + other.radius),
                    )
                )


def _followed(pulleys: Sequence[Pulley], *, mirrored: bool) -> Layout:
    order = [_mirror(pulley) for pulley in pulleys] if mirrored else list(pulleys)
    count = len(order)
    signs = [-1 if pulley.outside else 1 for pulley in order]
    headings: list[float] = []
    spans: list[float] = []
    touches: list[tuple[Point, Point]] = []
    for index, pulley in enumerate(order):
        after = order[(index + 1) % count]
        heading, free = _tangent(pulley, signs[index], after, signs[(index + 1) % count])
        headings.append(heading)
        spans.append(free)
        touches.append(
            (
                _touch(pulley, signs[index], heading),
                _touch(after, signs[(index + 1) % count], heading),
            )
        )
    wraps = [
        _wrap(signs[index] * (headings[index] - headings[index - 1])) for index in range(count)
    ]
    total = sum(sign * wrap for sign, wrap in zip(signs, wraps, strict=True))
    if abs(total - 2 * pi) > 1e-6:
        worst = max(range(count), key=lambda index: wraps[index])
        raise DriveError(
            _(
                "the belt does not touch {order} as drawn, or winds more than once "
                "round: check the order of the pulleys and which side of the belt "
                "each is on"
            ).format(order=_name(order[worst], worst))
        )
    _refuse_crossings(order, touches)
    length = sum(spans) + sum(
        pulley.radius * wrap for pulley, wrap in zip(order, wraps, strict=True)
    )
    shown = touches if not mirrored else [(_flip(a), _flip(b)) for a, b in touches]
    return Layout(
        spans=tuple(spans),
        wraps=tuple(wraps),
        touches=tuple(shown),
        length=length,
        turns=tuple(signs),
    )


def _area(order: Sequence[Pulley]) -> float:
    """Twice the signed area of the inside pulleys' centres; 2 pulleys have none."""
    centres = [(p.x, p.y) for p in order if not p.outside]
    return sum(
        x1 * y2 - x2 * y1
        for (x1, y1), (x2, y2) in zip(centres, centres[1:] + centres[:1], strict=True)
    )


def _mirror(pulley: Pulley) -> Pulley:
    return Pulley(pulley.x, -pulley.y, pulley.radius, pulley.outside, pulley.name)


def _flip(point: Point) -> Point:
    return point[0], -point[1]


def _tangent(here: Pulley, side: int, there: Pulley, other: int) -> tuple[float, float]:
    """Heading [rad] and free length [m] of the span, the pulley being on its left for side +1."""
    dx, dy = there.x - here.x, there.y - here.y
    apart = hypot(dx, dy)
    rise = other * there.radius - side * here.radius
    return atan2(dy, dx) - asin(rise / apart), sqrt((apart - rise) * (apart + rise))


def _touch(pulley: Pulley, side: int, heading: float) -> Point:
    reach = side * pulley.radius
    return pulley.x + reach * sin(heading), pulley.y - reach * cos(heading)


def _wrap(turned: float) -> float:
    wrap = turned % (2 * pi)
    return 0.0 if wrap > 2 * pi - _ROUNDING else wrap


def _refuse_crossings(order: Sequence[Pulley], touches: Sequence[tuple[Point, Point]]) -> None:
    count = len(order)
    for index, (start, end) in enumerate(touches):
        for other_index in range(index + 1, count):
            if _cross(start, end, *touches[other_index]):
                raise DriveError(
                    _(
                        "the belt crosses itself between {pulley} and {other}: check "
                        "order and sides"
                    ).format(
                        pulley=_name(order[index], index),
                        other=_name(order[other_index], other_index),
                    )
                )
        for other_index, pulley in enumerate(order):
            if other_index in (index, (index + 1) % count):
                continue
            if _distance((pulley.x, pulley.y), start, end) < pulley.radius * (1 - 1e-9):
                raise DriveError(
                    _("the span after {order} runs through {pulley}: check order and sides").format(
                        order=_name(order[index], index), pulley=_name(pulley, other_index)
                    )
                )


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def _distance(point: Point, start: Point, end: Point) -> float:
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = dx * dx + dy * dy
    along = ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / square if square else 0.0
    along = min(1.0, max(0.0, along))
    return hypot(point[0] - start[0] - along * dx, point[1] - start[1] - along * dy)


def _name(pulley: Pulley, index: int) -> str:
    return pulley.name or _("pulley {index}").format(index=index + 1)
