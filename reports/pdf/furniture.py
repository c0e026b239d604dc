"""Things to write in and tick, cautions, marks and headings: the furniture of a sheet."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import cos, pi, sin

from reportlab.lib.units import mm

from plant.drawings.strokes import THIN
from reports.pdf.fonts import MONO, SANS, SANS_BOLD, plain, width_of
from reports.pdf.page import WIDTH, engraved
from reports.pdf.pen import Pen
from reports.pdf.pieces import Piece, Style, Words, body

# After a printer has shrunk the page by 2 % a box is still 8 mm high.
BOX_HEIGHT = 8.2 * mm

BODY = Style()
STRONG = replace(BODY, face=SANS_BOLD)
FIGURE = replace(BODY, face=MONO, size=8.4)
SMALL = replace(BODY, size=7.4, leading=9)
NOTE = replace(SMALL, size=7, leading=8.4)
HEAD = replace(SMALL, face=SANS_BOLD)
HEAD_CENTRE = replace(HEAD, anchor="middle")
HEAD_RIGHT = replace(HEAD, anchor="end")
UNIT = replace(BODY, size=8, leading=9.6, anchor="end")
VERDICT = replace(STRONG, size=11.5, leading=14)


class Heading(Piece):
    """A section's heading: engraved capitals over a thin rule, with a remark at the right."""

    def __init__(self, words: str, *, remark: str = "", width: float = WIDTH) -> None:
        self.width = width
        self.gap = 3.0
        self.keep = True
        self.title = plain(words, face=SANS_BOLD)
        self._words = self.title.upper()
        self._remark = plain(remark)
        long = width_of(self._words, size=7.8, face=SANS_BOLD) + 0.8 * len(self._words)
        self._wrapped: list[Words] = []
        if long + width_of(self._remark, size=7.8) + 14 > width:
            # Too long for one line: set as a paragraph, the remark under it.
            self._wrapped = [body(words.upper(), style=HEAD, width=width)]
            self._wrapped += [body(remark, style=SMALL, width=width)] if remark else []
        tall = sum(part.height for part in self._wrapped)
        self.height = tall + 5.4 if self._wrapped else 15.0

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.line(x, y + 2.4, x + self.width, y + 2.4, weight=THIN)
        if self._wrapped:
            y += self.height
            for part in self._wrapped:
                y -= part.height
                part.put(pen, x, y)
            return
        engraved(pen, self._words, x=x, y=y + 5.4, size=7.8, spacing=0.8)
        pen.word(self._remark, x + self.width, y + 5.4, size=7.8, face=SANS, anchor="end")


class Box(Piece):
    """A box to write in, at least 8 mm high on paper; filled it shows what was written.

    label stands small in the top left corner, unit at the right; both stay when it is filled.
    """

    framed = True

    def __init__(
        self, *, width: float, label: str = "", unit: str = "", value: str = "", lines: int = 1
    ) -> None:
        """Args: lines: the label takes at least so many, so that boxes in a row are level."""
        self.width = width
        # A long unit wraps, so that there is room to write whatever it says; a word stays whole.
        word = max((width_of(plain(each), size=8) for each in unit.split()), default=0.0)
        room = max(0.45 * width, min(word + 1, 0.6 * width))
        self._unit_width = min(width_of(plain(unit), size=8) + 1, room) if unit else 0.0
        self._unit = body(unit, style=UNIT, width=self._unit_width) if unit else None
        self._label = body(label, style=HEAD, width=width) if label else None
        room = width - 8 - self._unit_width
        self._value = body(value, style=FIGURE, width=room) if value else None
        label_room = max(self._label.height, lines * HEAD.leading) + 1 if self._label else 0.0
        needed = self._value.height + 5 if self._value else 0.0
        unit_height = self._unit.height + 5 if self._unit else 0.0
        self._box_height = max(BOX_HEIGHT, needed, unit_height)
        self.height = self._box_height + label_room

    def put(self, pen: Pen, x: float, y: float) -> None:
        if self.framed:
            pen.rect(x, y, self.width, self._box_height, weight=THIN)
        if self._unit:
            self._unit.put(pen, x + self.width - 3 - self._unit_width, y + 2)
        if self._label:
            self._label.put(pen, x, y + self._box_height + 1)
        if self._value:
            self._value.put(pen, x + 3, y + (self._box_height - self._value.height) / 2)


class Reading(Box):
    """What stands in a ruled reading cell: the unit, and the figure when there is one."""

    framed = False


class Lines(Piece):
    """Ruled lines to write on, under their label; filled they hold what was written."""

    def __init__(self, *, width: float, label: str, value: str = "", lines: int = 3) -> None:
        self.width = width
        self._label = body(label, style=HEAD, width=width) if label else None
        self._value = body(value, style=BODY, width=width - 6) if value else None
        self._lines = lines
        self._ruled = max(lines * BOX_HEIGHT, self._value.height + 4 if self._value else 0.0)
        self.height = self._ruled + (self._label.height if self._label else 0.0)

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.rect(x, y, self.width, self._ruled, weight=THIN)
        if self._label:
            self._label.put(pen, x, y + self._ruled)
        if self._value:
            self._value.put(pen, x + 3, y + self._ruled - self._value.height - 2)
            return
        for line in range(1, self._lines):
            level = y + line * self._ruled / self._lines
            pen.line(x, level, x + self.width, level, weight=THIN)

    def split(self, room: float) -> tuple[Piece, Piece] | None:
        if self._value is None:
            return None
        label = self._label.height if self._label else 0.0
        parts = self._value.split(room - label - 4)
        if parts is None:
            return None
        first = Lines(width=self.width, label="", lines=0)
        rest = Lines(width=self.width, label="", lines=0)
        for part, words, on_top in ((first, parts[0], self._label), (rest, parts[1], None)):
            assert isinstance(words, Words)
            part._label, part._value = on_top, words
            part._ruled = words.height + 4
            part.height = part._ruled + (on_top.height if on_top else 0.0)
        return first, rest


class TickBox(Piece):
    """A square to tick; a set one carries a drawn tick or cross."""

    def __init__(self, *, ticked: bool = False, crossed: bool = False) -> None:
        self.width = self.height = BOX_HEIGHT
        self._ticked, self._crossed = ticked, crossed

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.rect(x, y, self.width, self.height, weight=0.8)
        draw_tick(pen, x, y, side=self.width, ticked=self._ticked, crossed=self._crossed)


class TickMark(Piece):
    """A tick or a cross without its square, or neither: the room of a box in a ruled cell."""

    def __init__(self, *, width: float, ticked: bool = False, crossed: bool = False) -> None:
        self.width, self.height = width, BOX_HEIGHT
        self._ticked, self._crossed = ticked, crossed

    def put(self, pen: Pen, x: float, y: float) -> None:
        x += (self.width - self.height) / 2
        draw_tick(pen, x, y, side=self.height, ticked=self._ticked, crossed=self._crossed)


def draw_tick(pen: Pen, x: float, y: float, *, side: float, ticked: bool, crossed: bool) -> None:
    """A tick or a cross in a square of this side [pt] with its lower left corner at a point."""
    at = _at(x, y, side)
    if ticked:
        pen.path([at(0.24, 0.52), at(0.44, 0.28), at(0.78, 0.76)], weight=2)
    if crossed:
        pen.line(*at(0.27, 0.27), *at(0.73, 0.73), weight=2)
        pen.line(*at(0.27, 0.73), *at(0.73, 0.27), weight=2)


class CautionLine(Piece):
    """A caution: its own shape, its strength in words, then hazard, harm and act."""

    def __init__(self, *, strength: str, words: str, width: float, size: float = 8.4) -> None:
        style = replace(BODY, size=size, leading=size * 1.2)
        self._strength = strength
        self._words = Words(
            ((f"{strength}. ", SANS_BOLD), (words, SANS)), style=style, width=width - 15
        )
        self.width = width
        self.height = max(self._words.height, 11.0)

    def put(self, pen: Pen, x: float, y: float) -> None:
        middle = y + self.height - 6
        if self._strength == "Stop":
            pen.path(
                _regular(x + 5.5, middle, radius=5.5, sides=8, turned=pi / 8), closed=True, fill=0
            )
            pen.line(x + 2.8, middle, x + 8.2, middle, weight=1.8, grey=1)
        elif self._strength == "Take care":
            pen.path(
                _regular(x + 5.5, middle - 1.2, radius=6.4, sides=3, turned=pi / 2),
                weight=0.9,
                closed=True,
            )
            pen.line(x + 5.5, middle + 1.8, x + 5.5, middle - 1.4, weight=1.4)
            pen.circle(x + 5.5, middle - 3, 0.75, fill=0)
        else:
            pen.rect(x + 1, middle - 4.5, 9, 9, weight=0.9)
            pen.line(x + 3.4, middle + 1.6, x + 7.6, middle + 1.6, weight=0.9)
            pen.line(x + 3.4, middle - 1.4, x + 7.6, middle - 1.4, weight=0.9)
        self._words.put(pen, x + 15, y + self.height - self._words.height)


class Guess(Piece):
    """Words in a dotted frame, for a figure that nobody has measured."""

    def __init__(self, words: str = "guess", *, size: float = 7.0) -> None:
        self._words, self._size = plain(words), size
        self.width = width_of(self._words, size=size) + 6
        self.height = size + 1.5

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.word(self._words, x + 3, y + 0.28 * self._size, size=self._size, face=SANS)
        pen.dotted(x, y, self.width, self.height, weight=0.8)


class MarkShape(Piece):
    """The shape of one of the machine's marks; an unknown word has none and takes no room."""

    def __init__(self, word: str, *, side: float = 11.0) -> None:
        self._draw = _SHAPES.get(word)
        self.width = side if self._draw else 0.0
        self.height = side

    def put(self, pen: Pen, x: float, y: float) -> None:
        if self._draw:
            self._draw(pen, _at(x, y, self.width / 10))


At = Callable[[float, float], tuple[float, float]]


def _at(x: float, y: float, unit: float) -> At:
    return lambda along, up: (x + along * unit, y + up * unit)


def _regular(
    x: float, y: float, *, radius: float, sides: int, turned: float = 0.0
) -> list[tuple[float, float]]:
    return [
        (
            x + radius * cos(turned + 2 * pi * side / sides),
            y + radius * sin(turned + 2 * pi * side / sides),
        )
        for side in range(sides)
    ]


def _closed(pen: Pen, at: At, *points: tuple[float, float], fill: float | None = None) -> None:
    pen.path([at(*point) for point in points], weight=1, closed=True, fill=fill)


def _path(pen: Pen, at: At, *points: tuple[float, float], weight: float = 1) -> None:
    pen.path([at(*point) for point in points], weight=weight)


def _in_yard(pen: Pen, at: At) -> None:
    _closed(pen, at, (1, 1), (9, 1), (9, 5.2), (5, 9), (1, 5.2))


def _in_workshop(pen: Pen, at: At) -> None:
    _path(pen, at, (1.6, 1.6), (6.2, 6.2), weight=2)
    _path(pen, at, (5.2, 8.8), (5.4, 6.6), (6.6, 5.4), (8.8, 5.2), weight=1.4)


def _arrow(pen: Pen, at: At, *, y: float, start: float, end: float) -> None:
    head = 2.2 if end > start else -2.2
    _path(pen, at, (start, y), (end, y))
    _path(pen, at, (end - head, y + 1.9), (end, y), (end - head, y - 1.9))


def _out(pen: Pen, at: At) -> None:
    _path(pen, at, (4.5, 9), (0.8, 9), (0.8, 1), (4.5, 1))
    _arrow(pen, at, y=5, start=3, end=9.6)


def _moving(pen: Pen, at: At) -> None:
    _arrow(pen, at, y=7.2, start=0.6, end=9.4)
    _arrow(pen, at, y=2.8, start=0.6, end=9.4)


def _laid_up(pen: Pen, at: At) -> None:
    for turn in range(3):
        along, up = 4.5 * cos(pi / 2 + turn * pi / 3), 4.5 * sin(pi / 2 + turn * pi / 3)
        _path(pen, at, (5 - along, 5 - up), (5 + along, 5 + up))


def _missing(pen: Pen, at: At) -> None:
    (x, y), (far, _) = at(5, 1), at(16, 1)
    pen.word("?", x, y, size=far - x, face=SANS_BOLD, anchor="middle")


def _gone(pen: Pen, at: At) -> None:
    _path(pen, at, (0.5, 5), (9.5, 5), weight=1.6)


def _circle(pen: Pen, at: At, *, dash: Sequence[float] = ()) -> None:
    (x, y), (far, _) = at(5, 5), at(9.2, 5)
    pen.circle(x, y, far - x, weight=1, dash=dash)


def _ok(pen: Pen, at: At) -> None:
    _circle(pen, at)


def _with_note(pen: Pen, at: At) -> None:
    _closed(pen, at, (1, 1), (9, 1), (9, 5.6), (5.6, 9), (1, 9))


def _do_not_use(pen: Pen, at: At) -> None:
    (x, y), (far, _) = at(5, 5), at(10, 5)
    corners = _regular(x, y, radius=far - x, sides=8, turned=pi / 8)
    pen.path(corners, weight=1, closed=True, fill=0)
    pen.line(*at(2.4, 5), *at(7.6, 5), weight=1.8, grey=1)


def _not_passed(pen: Pen, at: At) -> None:
    _circle(pen, at, dash=(1.2, 1.3))


def _due_soon(pen: Pen, at: At) -> None:
    _closed(pen, at, (1.6, 9), (8.4, 9), (1.6, 1), (8.4, 1))


def _overdue(pen: Pen, at: At) -> None:
    _closed(pen, at, (0.8, 1.2), (9.2, 1.2), (5, 9), fill=0)


def _before_use(pen: Pen, at: At) -> None:
    _closed(pen, at, (0.8, 8.8), (9.2, 8.8), (5, 1))


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
