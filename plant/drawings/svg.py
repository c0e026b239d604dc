"""A drawing as SVG that a strict content security policy accepts."""

from collections.abc import Iterator
from hashlib import sha256
from html import escape
from itertools import pairwise

from reportlab.graphics.shapes import (
    Circle,
    Drawing,
    Group,
    Line,
    LineShape,
    Polygon,
    PolyLine,
    Rect,
    Shape,
    SolidShape,
    String,
)
from reportlab.lib.colors import Color

from plant.drawings.lettering import MONO, MONO_BOLD, SANS_BOLD, SANS_BOLD_ITALIC
from plant.drawings.strokes import Said


def to_svg(drawing: Drawing, *, title: str, description: str) -> str:
    """Writes a drawing as one svg element, ready to stand in a page.

    There is no prolog, no doctype and no style attribute; black is the page's own ink
    (currentColor) and a grey is that ink let through, so the picture follows a dark page. The
    picture scales with its box. Ids come from the content, so two pictures on a page do not clash.

    Args:
        drawing: any of this package's drawings.
        title: name of the picture, read out first.
        description: what the picture shows, in words, for who cannot see it.

    Returns:
        The svg element.

    Raises:
        TypeError: the drawing holds a shape other than lines, outlines, circles and lettering.
    """
    body = "".join(_written(drawing))
    key = sha256(f"{title}|{description}|{body}".encode()).hexdigest()[:12]
    width, height = _short(drawing.width), _short(drawing.height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 -{height} {width} {height}" '
        f'width="{width}" height="{height}" role="img" '
        f'aria-labelledby="t{key} d{key}" preserveAspectRatio="xMidYMid meet">'
        f'<title id="t{key}">{escape(title)}</title><desc id="d{key}">{escape(description)}</desc>'
        f"{body}</svg>"
    )


def _written(group: Drawing | Group) -> Iterator[str]:
    # The SVG box runs from -height to 0, so a point is turned over by its sign alone.
    for shape in group.contents:
        yield from _shape(shape)


def _shape(shape: Shape) -> Iterator[str]:
    if isinstance(shape, Group):
        if isinstance(shape, Said):
            yield f"<g><title>{escape(shape.words, quote=False)}</title>"
            yield from _written(shape)
            yield "</g>"
            return
        a, b, c, d, e, f = shape.transform
        if (a, b, c, d, e, f) == (1, 0, 0, 1, 0, 0):
            yield from _written(shape)
            return
        matrix = " ".join(_short(value) for value in (a, -b, -c, d, e, -f))
        yield f'<g transform="matrix({matrix})">'
        yield from _written(shape)
        yield "</g>"
    elif isinstance(shape, Polygon):
        yield f'<polygon points="{_points(shape.points)}"{_paint(shape)}/>'
    elif isinstance(shape, PolyLine):
        yield f'<polyline points="{_points(shape.points)}"{_paint(shape)}/>'
    elif isinstance(shape, Line):
        points = [shape.x1, shape.y1, shape.x2, shape.y2]
        yield f'<polyline points="{_points(points)}"{_paint(shape)}/>'
    elif isinstance(shape, Circle):
        yield (
            f'<circle cx="{_short(shape.cx)}" cy="{_short(-shape.cy)}" r="{_short(shape.r)}"'
            f"{_paint(shape)}/>"
        )
    elif isinstance(shape, Rect):
        yield (
            f'<rect x="{_short(shape.x)}" y="{_short(-shape.y - shape.height)}" '
            f'width="{_short(shape.width)}" height="{_short(shape.height)}"{_paint(shape)}/>'
        )
    elif isinstance(shape, String):
        yield _lettering(shape)
    else:
        raise TypeError(f"{type(shape).__name__} has no SVG form here")


def _lettering(string: String) -> str:
    face = "monospace" if string.fontName in (MONO, MONO_BOLD) else "Fira Sans, sans-serif"
    weight = (
        ' font-weight="600"'
        if string.fontName
        in (
            SANS_BOLD,
            SANS_BOLD_ITALIC,
            MONO_BOLD,
        )
        else ""
    )
    anchor = "" if string.textAnchor == "start" else f' text-anchor="{string.textAnchor}"'
    colour, seen = _ink(string.fillColor)
    through = f' fill-opacity="{seen}"' if seen != "1" else ""
    return (
        f'<text x="{_short(string.x)}" y="{_short(-string.y)}" font-family="{face}" '
        f'font-size="{_short(string.fontSize)}"{weight}{anchor} fill="{colour}"{through}>'
        f"{escape(string.text, quote=False)}</text>"
    )


def _paint(shape: SolidShape | LineShape) -> str:
    fill, fill_seen = _ink(getattr(shape, "fillColor", None))
    line, line_seen = _ink(shape.strokeColor)
    said = f' fill="{fill}"' + (f' fill-opacity="{fill_seen}"' if fill_seen != "1" else "")
    if line == "none":
        return said
    said += f' stroke="{line}"' + (f' stroke-opacity="{line_seen}"' if line_seen != "1" else "")
    said += f' stroke-width="{_short(shape.strokeWidth)}"'
    if getattr(shape, "strokeLineJoin", 0) == 1:
        said += ' stroke-linejoin="round"'
    dash: list[float] = list(getattr(shape, "strokeDashArray", None) or ())
    if dash:
        said += f' stroke-dasharray="{" ".join(_short(length) for length in dash)}"'
    return said


def _ink(colour: Color | None) -> tuple[str, str]:
    """Paint and opacity: grey of lightness g is the page's ink at 1 - g; white is nothing."""
    if colour is None:
        return "none", "1"
    light = 0.2126 * colour.red + 0.7152 * colour.green + 0.0722 * colour.blue
    if light >= 0.999:
        return "none", "1"
    return "currentColor", _short(1 - light)


def _points(flat: list[float]) -> str:
    corners = list(zip(flat[::2], flat[1::2], strict=True))
    # A line of no length is left out: some readers draw it as a dot.
    kept = corners[:1] + [after for before, after in pairwise(corners) if after != before]
    return " ".join(f"{_short(x)},{_short(-y)}" for x, y in kept)


def _short(value: float) -> str:
    figure = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if figure in ("-0", "") else figure
