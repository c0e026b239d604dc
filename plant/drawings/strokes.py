"""Strokes of an engineering drawing: lines, dashes, hatching, dimension lines, labels."""

from collections.abc import Sequence
from math import cos, hypot, inf, pi, sin
from typing import Literal

from reportlab.graphics.shapes import Drawing, Group, Polygon, PolyLine, Shape, String
from reportlab.lib.colors import Color, black

from plant.drawings.lettering import SANS, SANS_BOLD, register, width_of

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

INK = black
GREY = Color(0.35, 0.35, 0.35)
PALE = Color(0.86, 0.86, 0.86)

HEAVY = 1.1
MEDIUM = 0.7
# No thinner: a line of less than half a point is lost by a copier.
THIN = 0.5
HIDDEN = (3.0, 1.8)
DOTTED = (0.9, 1.7)
CHAIN = (7.0, 1.6, 1.4, 1.6)
# How wide a picture of a page is drawn: on a phone of 360 px the smallest letter is then 11 px.
PAGE = 200.0
LETTER = 7.4
SMALL_LETTER = 6.8
ARROW = 4.2


class Said(Group):
    """Shapes with a figure in words, which a page shows where the pointer rests on them.

    Paper shows the shapes alone; the words stand beside the picture too, for who has no pointer.
    """

    words: str

    def __init__(self, words: str, *shapes: Shape) -> None:
        super().__init__(*shapes)
        # Past the list of known attributes that reportlab holds a shape to.
        self.__dict__["words"] = words


def sheet(*, width: float, height: float) -> Drawing:
    """An empty drawing [pt] with the faces ready."""
    register()
    return Drawing(width, height)


def stroke(
    points: Sequence[Point],
    *,
    weight: float = THIN,
    dash: tuple[float, ...] = (),
    colour: Color = INK,
) -> PolyLine:
    """A line through the points [pt]; always a PolyLine, so that a dash survives in SVG."""
    line = PolyLine(
        [coordinate for point in points for coordinate in point],
        strokeColor=colour,
        strokeWidth=weight,
        strokeLineCap=0,
        strokeLineJoin=1,
        fillColor=None,
    )
    if dash:
        line.strokeDashArray = list(dash)
    return line


def outline(
    points: Sequence[Point],
    *,
    weight: float = MEDIUM,
    fill: Color | None = None,
) -> Polygon:
    """A closed solid outline [pt], filled if asked."""
    return Polygon(
        [coordinate for point in points for coordinate in point],
        strokeColor=INK,
        strokeWidth=weight,
        strokeLineJoin=1,
        fillColor=fill,
    )


def closed(points: Sequence[Point]) -> list[Point]:
    """The same points [pt] with the first repeated at the end, for a dashed outline."""
    return [*points, points[0]]


def hatch(
    points: Sequence[Point],
    *,
    angle: float = pi / 4,
    gap: float = 3.0,
    weight: float = THIN,
    colour: Color = INK,
) -> Group:
    """Parallel lines inside a polygon, which need not be convex.

    Args:
        points: [pt] corners of the polygon.
        angle: [rad] direction of the lines.
        gap: [pt] distance between lines.
        weight: [pt] line width.
        colour: of the lines.

    Returns:
        The lines as one group.
    """
    along = (cos(angle), sin(angle))
    across = (-along[1], along[0])
    turned = [(x * along[0] + y * along[1], x * across[0] + y * across[1]) for x, y in points]
    low = min(v for _, v in turned)
    high = max(v for _, v in turned)
    lines = Group()
    row = int(low / gap) - 1
    while (level := (row + 0.5) * gap) < high:
        row += 1
        if level <= low:
            continue
        cuts = sorted(
            u0 + (level - v0) * (u1 - u0) / (v1 - v0)
            for (u0, v0), (u1, v1) in zip(turned, [*turned[1:], turned[0]], strict=True)
            if (v0 <= level) != (v1 <= level)
        )
        for start, end in zip(cuts[::2], cuts[1::2], strict=True):
            lines.add(
                stroke(
                    [
                        (
                            start * along[0] + level * across[0],
                            start * along[1] + level * across[1],
                        ),
                        (
                            end * along[0] + level * across[0],
                            end * along[1] + level * across[1],
                        ),
                    ],
                    weight=weight,
                    colour=colour,
                )
            )
    return lines


def letter(
    words: str,
    *,
    at: Point,
    anchor: Anchor = "start",
    size: float = LETTER,
    bold: bool = False,
    colour: Color = INK,
    room: float = inf,
) -> String:
    """Lettering at a point [pt]: anchor start, middle or end; made smaller to fit the room [pt]."""
    face = SANS_BOLD if bold else SANS
    width = width_of(words, size=size, face=face)
    if width > room:
        size = size * room / width
    return String(
        at[0],
        at[1],
        words,
        fontName=face,
        fontSize=size,
        textAnchor=anchor,
        fillColor=colour,
    )


def shortened(words: str, *, room: float, size: float = LETTER) -> str:
    """The words, cut with … where they would be longer than the room [pt]."""
    if width_of(words, size=size) <= room:
        return words
    while words and width_of(f"{words}…", size=size) > room:
        words = words[:-1]
    return f"{words.rstrip()}…"


def arrow_head(*, tip: Point, towards: Point, size: float = ARROW) -> Polygon:
    """A slim filled arrow head with its tip at a point [pt], pointing the given way."""
    length = hypot(*towards)
    ux, uy = towards[0] / length, towards[1] / length
    back = (tip[0] - ux * size, tip[1] - uy * size)
    half = size * 0.23
    return Polygon(
        [
            *tip,
            back[0] - uy * half,
            back[1] + ux * half,
            back[0] + uy * half,
            back[1] - ux * half,
        ],
        fillColor=INK,
        strokeColor=None,
        strokeWidth=0,
    )


def dimension(*, start: Point, end: Point) -> list[Shape]:
    """A dimension line with its two arrow heads [pt].

    Where the gap is too short for the heads they stand outside and point inwards.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = hypot(dx, dy)
    if length == 0:
        return []
    ux, uy = dx / length, dy / length
    if length >= 2.6 * ARROW:
        return [
            stroke([start, end]),
            arrow_head(tip=start, towards=(-ux, -uy)),
            arrow_head(tip=end, towards=(ux, uy)),
        ]
    tail = 2.2 * ARROW
    return [
        stroke([(start[0] - ux * tail, start[1] - uy * tail), start]),
        stroke([end, (end[0] + ux * tail, end[1] + uy * tail)]),
        stroke([start, end]),
        arrow_head(tip=start, towards=(ux, uy)),
        arrow_head(tip=end, towards=(-ux, -uy)),
    ]
