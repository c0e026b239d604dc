"""The pen that draws on a page: few strokes, each written straight into the page's content."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, PolyLine, String
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from reports.pdf.fonts import width_of

Point = tuple[float, float]
Run = tuple[float, float, str, str]  # [pt] where it begins, [pt] on what level, face, letters
# Four curves make a circle to within 3 parts in 10,000 of its radius.
_BOW = 0.5523


class Pen:
    """Draws in points from the lower left corner of the page, or of where the canvas stands.

    Colours are shades of grey, 0 black to 1 white. A pen knows only what it has set itself, so one
    that shares its canvas is put between saveState and restoreState.
    """

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self._write = canvas.addLiteral
        self._set: dict[str, Any] = {}
        self._fonts: dict[tuple[str, int], str] = {}

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        *,
        weight: float,
        dash: Sequence[float] = (),
        grey: float = 0.0,
    ) -> None:
        """A straight line."""
        self._strokes(weight, dash, grey)
        self._write(f"{x1:.2f} {y1:.2f} m {x2:.2f} {y2:.2f} l S")

    def path(
        self,
        points: Sequence[Point],
        *,
        weight: float = 0.0,
        dash: Sequence[float] = (),
        grey: float = 0.0,
        closed: bool = False,
        fill: float | None = None,
    ) -> None:
        """Lines from point to point; weight 0 draws no line, fill None leaves it empty."""
        if weight:
            self._strokes(weight, dash, grey)
        if fill is not None:
            self._fills(fill)
        way = " ".join([f"{x:.2f} {y:.2f} l" for x, y in points[1:]])
        end = _END[bool(weight), fill is not None, closed]
        self._write(f"{points[0][0]:.2f} {points[0][1]:.2f} m {way} {end}")

    def rect(self, x: float, y: float, width: float, height: float, *, weight: float) -> None:
        """An empty rectangle."""
        self._strokes(weight, (), 0.0)
        self._write(f"{x:.2f} {y:.2f} {width:.2f} {height:.2f} re S")

    def dotted(self, x: float, y: float, width: float, height: float, *, weight: float) -> None:
        """An empty rectangle in dots."""
        self._strokes(weight, DOTTED, 0.0)
        self._write(f"{x:.2f} {y:.2f} {width:.2f} {height:.2f} re S")

    def bars(self, bars: Sequence[tuple[float, float, float, float]]) -> None:
        """Black rectangles without a line: x, y, width, height."""
        self._fills(0.0)
        self._write(" ".join([f"{x:.3f} {y:.3f} {w:.3f} {h:.3f} re" for x, y, w, h in bars]) + " f")

    def circle(
        self,
        x: float,
        y: float,
        radius: float,
        *,
        weight: float = 0.0,
        dash: Sequence[float] = (),
        fill: float | None = None,
    ) -> None:
        """A circle; weight and fill as for a path."""
        if weight:
            self._strokes(weight, dash, 0.0)
        if fill is not None:
            self._fills(fill)
        r, b = radius, radius * _BOW
        self._write(
            f"{x + r:.2f} {y:.2f} m "
            f"{x + r:.2f} {y + b:.2f} {x + b:.2f} {y + r:.2f} {x:.2f} {y + r:.2f} c "
            f"{x - b:.2f} {y + r:.2f} {x - r:.2f} {y + b:.2f} {x - r:.2f} {y:.2f} c "
            f"{x - r:.2f} {y - b:.2f} {x - b:.2f} {y - r:.2f} {x:.2f} {y - r:.2f} c "
            f"{x + b:.2f} {y - r:.2f} {x + r:.2f} {y - b:.2f} {x + r:.2f} {y:.2f} c "
            f"{_END[bool(weight), fill is not None, True]}"
        )

    def rounded(
        self, x: float, y: float, width: float, height: float, radius: float, *, weight: float
    ) -> None:
        """An empty rectangle with round corners."""
        self._strokes(weight, (), 0.0)
        r, b = radius, radius * (1 - _BOW)
        w, h = x + width, y + height
        self._write(
            f"{x + r:.2f} {y:.2f} m {w - r:.2f} {y:.2f} l "
            f"{w - b:.2f} {y:.2f} {w:.2f} {y + b:.2f} {w:.2f} {y + r:.2f} c "
            f"{w:.2f} {h - r:.2f} l "
            f"{w:.2f} {h - b:.2f} {w - b:.2f} {h:.2f} {w - r:.2f} {h:.2f} c "
            f"{x + r:.2f} {h:.2f} l "
            f"{x + b:.2f} {h:.2f} {x:.2f} {h - b:.2f} {x:.2f} {h - r:.2f} c "
            f"{x:.2f} {y + r:.2f} l "
            f"{x:.2f} {y + b:.2f} {x + b:.2f} {y:.2f} {x + r:.2f} {y:.2f} c s"
        )

    def words(
        self, runs: Sequence[Run], *, size: float, spacing: float = 0.0, grey: float = 0.0
    ) -> None:
        """Lettering of one size: each run where it begins, spaced out by so much a letter."""
        if not runs:
            return
        self._fills(grey)
        code = [f"BT {spacing:g} Tc" if spacing else "BT"]
        font_now = ""
        for x, y, face, letters in runs:
            code.append(f"1 0 0 1 {x:.2f} {y:.2f} Tm")
            for part, coded in pdfmetrics.getFont(face).splitString(letters, self.canvas._doc):  # type: ignore[attr-defined]
                font = self._font(face, part)
                if font != font_now:
                    code.append(f"{font} {size:.3f} Tf")
                    font_now = font
                code.append(f"({_escaped(coded)}) Tj")
        code.append("0 Tc ET" if spacing else "ET")
        self._write(" ".join(code))

    def word(
        self,
        letters: str,
        x: float,
        y: float,
        *,
        size: float,
        face: str,
        anchor: str = "start",
        spacing: float = 0.0,
        grey: float = 0.0,
    ) -> None:
        """One piece of lettering; anchor: start, middle or end."""
        if not letters:
            return
        if anchor != "start":
            x -= width_of(letters, size=size, face=face) * (0.5 if anchor == "middle" else 1)
        self.words([(x, y, face, letters)], size=size, spacing=spacing, grey=grey)

    def drawing(self, drawing: Drawing, x: float, y: float) -> None:
        """One of the drawings of plant.drawings with its lower left corner at a point.

        Raises:
            TypeError: it holds a shape that those drawings do not use.
        """
        self._shapes(drawing.contents, x, y)

    def _shapes(self, shapes: Sequence[Any], dx: float, dy: float) -> None:
        for shape in shapes:
            if isinstance(shape, Group):
                if tuple(shape.transform) != (1, 0, 0, 1, 0, 0):
                    raise TypeError("a turned group has no place here")
                self._shapes(shape.contents, dx, dy)
            elif isinstance(shape, (PolyLine, Polygon)):
                flat = shape.points
                fill = getattr(shape, "fillColor", None)
                self.path(
                    [(px + dx, py + dy) for px, py in zip(flat[::2], flat[1::2], strict=True)],
                    weight=shape.strokeWidth if shape.strokeColor is not None else 0.0,
                    dash=_dash(shape),
                    grey=shape.strokeColor.red if shape.strokeColor is not None else 0.0,
                    closed=isinstance(shape, Polygon),
                    fill=None if fill is None or isinstance(shape, PolyLine) else fill.red,
                )
            elif isinstance(shape, Circle):
                self.circle(
                    shape.cx + dx,
                    shape.cy + dy,
                    shape.r,
                    weight=shape.strokeWidth,
                    fill=None if shape.fillColor is None else shape.fillColor.red,
                )
            elif isinstance(shape, String):
                self.word(
                    shape.text,
                    shape.x + dx,
                    shape.y + dy,
                    size=shape.fontSize,
                    face=shape.fontName,
                    anchor=shape.textAnchor,
                    grey=shape.fillColor.red if shape.fillColor is not None else 0.0,
                )
            else:
                raise TypeError(f"{type(shape).__name__} has no place here")

    def _strokes(self, weight: float, dash: Sequence[float], grey: float) -> None:
        now = self._set
        if now.get("weight") != weight:
            now["weight"] = weight
            self._write(f"{weight:g} w")
        if now.get("dash") != tuple(dash):
            now["dash"] = tuple(dash)
            self._write(f"[{' '.join([f'{each:g}' for each in dash])}] 0 d")
        if now.get("stroke") != grey:
            now["stroke"] = grey
            self._write(f"{grey:g} G")

    def _fills(self, grey: float) -> None:
        if self._set.get("fill") != grey:
            self._set["fill"] = grey
            self._write(f"{grey:g} g")

    def _font(self, face: str, part: int) -> str:
        name = self._fonts.get((face, part))
        if name is None:
            found = pdfmetrics.getFont(face)
            name = found.getSubsetInternalName(part, self.canvas._doc)  # type: ignore[attr-defined]
            self._fonts[face, part] = name
        return name


def _dash(shape: PolyLine | Polygon) -> tuple[float, ...]:
    dash: Any = shape.strokeDashArray
    return tuple(dash or ())


DOTTED = (0.9, 1.6)
# With a line, filled, closed: how a path is painted (PDF 32000-1, table 60).
_END = {
    (True, False, False): "S",
    (True, False, True): "s",
    (True, True, False): "B",
    (True, True, True): "b",
    (False, True, False): "f",
    (False, True, True): "f",
    (False, False, False): "n",
    (False, False, True): "n",
}
_ESCAPES = {code: f"\\{code:03o}" for code in (*range(32), *range(127, 256))}
_ESCAPES |= {ord(letter): f"\\{letter}" for letter in "()\\"}
_TABLE = {code: _ESCAPES.get(code, chr(code)) for code in range(256)}


@lru_cache(maxsize=16384)
def _escaped(coded: bytes) -> str:
    return coded.decode("latin-1").translate(_TABLE)
