"""Things to write in and tick, cautions, marks and headings: the furniture of a sheet."""

from collections.abc import Sequence
from math import cos, pi, sin
from typing import Any

from reportlab.lib.colors import Color, black, white
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from reports.pdf.fonts import MONO, SANS, SANS_BOLD, plain, register, text, width_of
from reports.pdf.page import WIDTH, engraved

register()

# After a printer has shrunk the page by 2 % a box is still 8 mm high.
BOX_HEIGHT = 8.4 * mm
HAIR = 0.35
THIN = 0.5
GREY = Color(0.32, 0.32, 0.32)
DOTTED = (0.9, 1.6)

BODY = ParagraphStyle("body", fontName=SANS, fontSize=8.8, leading=11, splitLongWords=1)
STRONG = ParagraphStyle("strong", parent=BODY, fontName=SANS_BOLD)
FIGURE = ParagraphStyle("figure", parent=BODY, fontName=MONO, fontSize=8.4)
FIGURE_RIGHT = ParagraphStyle("figure right", parent=FIGURE, alignment=TA_RIGHT)
SMALL = ParagraphStyle("small", parent=BODY, fontSize=7.4, leading=9)
SMALL_CENTRE = ParagraphStyle("small centre", parent=SMALL, alignment=TA_CENTER)
HEAD = ParagraphStyle("head", parent=SMALL, fontName=SANS_BOLD)
HEAD_CENTRE = ParagraphStyle("head centre", parent=HEAD, alignment=TA_CENTER)
HEAD_RIGHT = ParagraphStyle("head right", parent=HEAD, alignment=TA_RIGHT)
UNIT = ParagraphStyle("unit", parent=BODY, fontSize=8, leading=9.6, alignment=TA_RIGHT)
VERDICT = ParagraphStyle("verdict", parent=STRONG, fontSize=11.5, leading=14)

# The start of every table of ours: no padding, text at the top.
BARE: list[tuple[Any, ...]] = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]


def body(words: str, *, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of typed text, printed as typed."""
    return Paragraph(text(words, face=style.fontName), style)


class Heading(Flowable):
    """A section's heading: engraved capitals over a thin rule, with a remark at the right."""

    def __init__(self, words: str, *, remark: str = "", width: float = WIDTH) -> None:
        super().__init__()
        self.width = width
        self.spaceBefore = 3
        self.keepWithNext = 1
        self._words = plain(words, face=SANS_BOLD).upper()
        self._remark = plain(remark)
        long = width_of(self._words, size=7.8, face=SANS_BOLD) + 0.8 * len(self._words)
        self._wrapped: list[Paragraph] = []
        if long + width_of(self._remark, size=7.8) + 14 > width:
            # Too long for one line: set as a paragraph, the remark under it.
            self._wrapped = [body(words.upper(), style=HEAD)]
            self._wrapped += [body(remark, style=SMALL)] if remark else []
        tall = sum(part.wrap(width, 1e6)[1] for part in self._wrapped)
        self.height = tall + 5.4 if self._wrapped else 15.0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setLineWidth(THIN)
        canvas.line(0, 2.4, self.width, 2.4)
        if self._wrapped:
            y = self.height
            for part in self._wrapped:
                y -= part.height
                part.drawOn(canvas, 0, y)
            return
        engraved(canvas, self._words, x=0, y=5.4, size=7.8, spacing=0.8)
        canvas.setFont(SANS, 7.8)
        canvas.drawRightString(self.width, 5.4, self._remark)


class Box(Flowable):
    """A box to write in, at least 8 mm high on paper; filled it shows what was written.

    label stands small in the top left corner, unit at the right; both stay when it is filled.
    """

    def __init__(
        self, *, width: float, label: str = "", unit: str = "", value: str = "", height: float = 0
    ) -> None:
        super().__init__()
        self.width = width
        self.framed = True
        label_room = 0.0
        self._unit = Paragraph(text(unit), UNIT) if unit else None
        # A long unit wraps, so that there is room to write whatever it says.
        self._unit_width = min(width_of(plain(unit), size=8) + 1, 0.45 * width) if unit else 0.0
        self._label = Paragraph(text(label, face=SANS_BOLD), HEAD) if label else None
        self._value = Paragraph(text(value, face=MONO), FIGURE) if value else None
        if self._label:
            label_room = self._label.wrap(width, 1e6)[1] + 1
        needed = self._value.wrap(width - 8 - self._unit_width, 1e6)[1] + 5 if self._value else 0
        unit_height = self._unit.wrap(self._unit_width, 1e6)[1] + 5 if self._unit else 0
        self._box_height = max(BOX_HEIGHT, height, needed, unit_height)
        self.height = self._box_height + label_room

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        if self.framed:
            canvas.setLineWidth(THIN)
            canvas.rect(0, 0, self.width, self._box_height)
        if self._unit:
            self._unit.drawOn(canvas, self.width - 3 - self._unit_width, 2)
        if self._label:
            self._label.drawOn(canvas, 0, self._box_height + 1)
        if self._value:
            self._value.drawOn(canvas, 3, (self._box_height - self._value.height) / 2)


class Reading(Box):
    """What stands in a ruled reading cell: the unit, and the figure when there is one."""

    def __init__(self, *, width: float, unit: str = "", value: str = "") -> None:
        super().__init__(width=width, unit=unit, value=value)
        self.framed = False


class Lines(Flowable):
    """Three ruled lines to write on, under their label; filled they hold what was written."""

    def __init__(self, *, width: float, label: str, value: str = "", lines: int = 3) -> None:
        super().__init__()
        self.width = width
        self._label = Paragraph(text(label, face=SANS_BOLD), HEAD)
        self._value = Paragraph(text(value), BODY) if value else None
        written = self._value.wrap(width - 4, 1e6)[1] + 4 if self._value else 0
        self._lines = lines
        self._ruled = max(lines * BOX_HEIGHT, written)
        self.height = self._ruled + self._label.wrap(width, 1e6)[1]

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setLineWidth(THIN)
        self._label.drawOn(canvas, 0, self._ruled)
        canvas.rect(0, 0, self.width, self._ruled)
        if self._value:
            self._value.drawOn(canvas, 2, self._ruled - self._value.height - 2)
            return
        for line in range(1, self._lines):
            level = line * self._ruled / self._lines
            canvas.line(0, level, self.width, level)


class TickBox(Flowable):
    """A square to tick; a set one carries a drawn tick or cross."""

    def __init__(
        self, *, ticked: bool = False, crossed: bool = False, side: float = BOX_HEIGHT
    ) -> None:
        super().__init__()
        self.width = side
        self.height = side
        self.hAlign = "CENTER"
        self._ticked = ticked
        self._crossed = crossed

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setLineWidth(0.8)
        canvas.rect(0, 0, self.width, self.height)
        draw_tick(canvas, side=self.width, ticked=self._ticked, crossed=self._crossed)


class TickMark(Flowable):
    """A tick or a cross without its square, or neither: the room of a box in a ruled cell."""

    def __init__(self, *, ticked: bool = False, crossed: bool = False) -> None:
        super().__init__()
        self.width = BOX_HEIGHT
        self.height = BOX_HEIGHT
        self.hAlign = "CENTER"
        self._ticked = ticked
        self._crossed = crossed

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        draw_tick(self.canv, side=self.width, ticked=self._ticked, crossed=self._crossed)


def draw_tick(canvas: Canvas, *, side: float, ticked: bool, crossed: bool) -> None:
    """A tick or a cross in a square of this side [pt] at the origin."""
    canvas.setLineWidth(2)
    if ticked:
        path = canvas.beginPath()
        path.moveTo(side * 0.24, side * 0.52)
        path.lineTo(side * 0.44, side * 0.28)
        path.lineTo(side * 0.78, side * 0.76)
        canvas.drawPath(path)
    if crossed:
        canvas.line(side * 0.27, side * 0.27, side * 0.73, side * 0.73)
        canvas.line(side * 0.27, side * 0.73, side * 0.73, side * 0.27)


class CautionLine(Flowable):
    """A caution: its own shape, its strength in words, then hazard, harm and act."""

    def __init__(self, *, strength: str, words: str) -> None:
        super().__init__()
        self._strength = strength
        self._words = Paragraph(
            f'<font name="{SANS_BOLD}">{text(strength, face=SANS_BOLD)}.</font> {text(words)}',
            ParagraphStyle("caution", parent=BODY, fontSize=8.4, leading=10),
        )
        self.width = 0.0
        self.height = 0.0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        self.width = available_width
        self.height = max(self._words.wrap(available_width - 15, available_height)[1], 11)
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        middle = self.height - 6
        canvas.setLineWidth(0.9)
        if self._strength == "Stop":
            _regular(canvas, x=5.5, y=middle, radius=5.5, sides=8, turned=pi / 8, fill=True)
            canvas.setStrokeColor(white)
            canvas.setLineWidth(1.8)
            canvas.line(2.8, middle, 8.2, middle)
            canvas.setStrokeColor(black)
        elif self._strength == "Take care":
            _regular(canvas, x=5.5, y=middle - 1.2, radius=6.4, sides=3, turned=pi / 2)
            canvas.setLineWidth(1.4)
            canvas.line(5.5, middle + 1.8, 5.5, middle - 1.4)
            canvas.circle(5.5, middle - 3, 0.75, stroke=0, fill=1)
        else:
            canvas.rect(1, middle - 4.5, 9, 9)
            canvas.line(3.4, middle + 1.6, 7.6, middle + 1.6)
            canvas.line(3.4, middle - 1.4, 7.6, middle - 1.4)
        self._words.drawOn(canvas, 15, self.height - self._words.height)


class Guess(Flowable):
    """Words in a dotted frame, for a figure that nobody has measured."""

    def __init__(self, words: str = "guess") -> None:
        super().__init__()
        self._words = plain(words)
        self.width = width_of(self._words, size=7.6) + 6
        self.height = 10.5

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setFont(SANS, 7.6)
        canvas.drawString(3, 3, self._words)
        dotted_frame(canvas, x=0, y=0, width=self.width, height=self.height)


class MarkShape(Flowable):
    """The shape of one of the machine's marks; an unknown word has none and takes no room."""

    def __init__(self, word: str, *, side: float = 11.0) -> None:
        super().__init__()
        self._word = word
        self._draw = _SHAPES.get(word)
        self.width = side if self._draw else 0.0
        self.height = side

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        if self._draw:
            canvas = self.canv
            canvas.scale(self.width / 10, self.height / 10)
            canvas.setLineWidth(1)
            canvas.setLineJoin(1)
            self._draw(canvas)


def dotted_frame(canvas: Canvas, *, x: float, y: float, width: float, height: float) -> None:
    """The frame [pt] that says: guess."""
    canvas.saveState()
    canvas.setLineWidth(0.8)
    canvas.setDash(list(DOTTED))
    canvas.rect(x, y, width, height)
    canvas.restoreState()


def _regular(
    canvas: Canvas,
    *,
    x: float,
    y: float,
    radius: float,
    sides: int,
    turned: float = 0.0,
    fill: bool = False,
) -> None:
    _closed(
        canvas,
        [
            (
                x + radius * cos(turned + 2 * pi * side / sides),
                y + radius * sin(turned + 2 * pi * side / sides),
            )
            for side in range(sides)
        ],
        fill=fill,
    )


def _closed(canvas: Canvas, points: Sequence[tuple[float, float]], *, fill: bool = False) -> None:
    _path(canvas, [*points, points[0]], fill=fill)


def _path(canvas: Canvas, points: Sequence[tuple[float, float]], *, fill: bool = False) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    canvas.drawPath(path, stroke=1, fill=int(fill))


def _in_yard(canvas: Canvas) -> None:
    _closed(canvas, [(1, 1), (9, 1), (9, 5.2), (5, 9), (1, 5.2)])


def _in_workshop(canvas: Canvas) -> None:
    canvas.setLineWidth(2)
    canvas.line(1.6, 1.6, 6.2, 6.2)
    canvas.setLineWidth(1.4)
    _path(canvas, [(5.2, 8.8), (5.4, 6.6), (6.6, 5.4), (8.8, 5.2)])


def _arrow(canvas: Canvas, *, y: float, start: float, end: float) -> None:
    head = 2.2 if end > start else -2.2
    canvas.line(start, y, end, y)
    _path(canvas, [(end - head, y + 1.9), (end, y), (end - head, y - 1.9)])


def _out(canvas: Canvas) -> None:
    _path(canvas, [(4.5, 9), (0.8, 9), (0.8, 1), (4.5, 1)])
    _arrow(canvas, y=5, start=3, end=9.6)


def _moving(canvas: Canvas) -> None:
    _arrow(canvas, y=7.2, start=0.6, end=9.4)
    _arrow(canvas, y=2.8, start=0.6, end=9.4)


def _laid_up(canvas: Canvas) -> None:
    for turn in range(3):
        along, up = 4.5 * cos(pi / 2 + turn * pi / 3), 4.5 * sin(pi / 2 + turn * pi / 3)
        canvas.line(5 - along, 5 - up, 5 + along, 5 + up)


def _missing(canvas: Canvas) -> None:
    canvas.setFont(SANS_BOLD, 11)
    canvas.drawCentredString(5, 1, "?")


def _gone(canvas: Canvas) -> None:
    canvas.setLineWidth(1.6)
    canvas.line(0.5, 5, 9.5, 5)


def _ok(canvas: Canvas) -> None:
    canvas.circle(5, 5, 4.2)


def _with_note(canvas: Canvas) -> None:
    _closed(canvas, [(1, 1), (9, 1), (9, 5.6), (5.6, 9), (1, 9)])


def _do_not_use(canvas: Canvas) -> None:
    _regular(canvas, x=5, y=5, radius=5, sides=8, turned=pi / 8, fill=True)
    canvas.setStrokeColor(white)
    canvas.setLineWidth(1.8)
    canvas.line(2.4, 5, 7.6, 5)
    canvas.setStrokeColor(black)


def _not_passed(canvas: Canvas) -> None:
    canvas.setDash([1.2, 1.3])
    canvas.circle(5, 5, 4.2)
    canvas.setDash()


def _due_soon(canvas: Canvas) -> None:
    _closed(canvas, [(1.6, 9), (8.4, 9), (1.6, 1), (8.4, 1)])


def _overdue(canvas: Canvas) -> None:
    _closed(canvas, [(0.8, 1.2), (9.2, 1.2), (5, 9)], fill=True)


def _before_use(canvas: Canvas) -> None:
    _closed(canvas, [(0.8, 8.8), (9.2, 8.8), (5, 1)])


_SHAPES = {
    "In yard": _in_yard,
    "In workshop": _in_workshop,
    "Out": _out,
    "Moving": _moving,
    "Laid up": _laid_up,
    "Missing": _missing,
    "Gone": _gone,
    "OK to use": _ok,
    "Use, with a note": _with_note,
    "Do not use": _do_not_use,
    "Not yet passed": _not_passed,
    "Due soon": _due_soon,
    "Overdue": _overdue,
    "Needed before use": _before_use,
}
