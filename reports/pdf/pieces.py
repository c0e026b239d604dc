"""What a page is put together from: lettering, stacks and rows, each knowing how high it is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from plant.drawings.strokes import THIN
from reports.pdf.fonts import SANS
from reports.pdf.lines import Line, lines_of
from reports.pdf.pen import Pen

Stand = Literal["top", "middle", "bottom"]
# The first line stands so far under the top of its words, in parts of the size: the height of the
# tallest accents of the faces.
_RISE = 0.93
_SHARES: dict[str, float] = {"top": 1.0, "middle": 0.5, "bottom": 0.0}


@dataclass(frozen=True, slots=True)
class Style:
    """How words are set. size, leading: [pt]; anchor: start, middle or end; grey: 0 black."""

    face: str = SANS
    size: float = 8.8
    leading: float = 11.0
    anchor: Literal["start", "middle", "end"] = "start"
    grey: float = 0.0

    def sized(self, size: float) -> "Style":
        """The same in another size, its lines as close in proportion."""
        return replace(self, size=size, leading=self.leading * size / self.size)


class Piece:
    """Something of a known width and height [pt] that can be put on a page.

    keep: whether what follows stands on the same page; gap: [pt] room above it, but not at the top
    of a page; head: what is put above it where a page begins with it; loose: whether it may be
    split to fill a page, though the next one would hold it whole.
    """

    width: float = 0.0
    height: float = 0.0
    keep: bool = False
    gap: float = 0.0
    loose: bool = False
    head: "Piece | None" = None

    def put(self, pen: Pen, x: float, y: float) -> None:
        """Draws it with its lower left corner at a point."""

    def split(self, room: float) -> "tuple[Piece, Piece] | None":
        """Itself in two, the first no higher than the room; None where it stays whole."""
        return None


class Room(Piece):
    """Nothing, of a given height."""

    def __init__(self, height: float, *, width: float = 0.0) -> None:
        self.height, self.width = height, width


class Words(Piece):
    """Typed text set in lines of a width; whatever it holds prints as it was typed."""

    def __init__(self, typed: Sequence[tuple[str, str]], *, style: Style, width: float) -> None:
        """Args: typed: each part with its face, one behind the other."""
        self.width = width
        self.style = style
        # A hair of room, so that a width that was measured by the same sums always fits.
        self._set(lines_of(tuple(typed), (width + 0.01) / style.size))

    def _set(self, lines: tuple[Line, ...]) -> None:
        self.lines = lines
        self.height = len(lines) * self.style.leading

    def put(self, pen: Pen, x: float, y: float) -> None:
        style, size = self.style, self.style.size
        level = y + self.height - (style.leading - size * 1.2) / 2 - _RISE * size
        runs = []
        for wide, pieces in self.lines:
            begin = x
            if style.anchor != "start":
                left = self.width - wide * size
                begin += left if style.anchor == "end" else left / 2
            runs += [(begin + at * size, level, face, letters) for at, face, letters in pieces]
            level -= style.leading
        pen.words(runs, size=size, grey=style.grey)

    def split(self, room: float) -> tuple[Piece, Piece] | None:
        most = int(room / self.style.leading + 1e-6)
        if not 0 < most < len(self.lines):
            return None
        parts = []
        for lines in (self.lines[:most], self.lines[most:]):
            part = Words((), style=self.style, width=self.width)
            part._set(lines)
            parts.append(part)
        return parts[0], parts[1]


def body(words: str, *, style: Style, width: float) -> Words:
    """A paragraph of typed text in one face."""
    return Words(((words, style.face),), style=style, width=width)


class Stack(Piece):
    """Pieces one under the other."""

    def __init__(self, pieces: Sequence[Piece], *, gap: float = 0.0) -> None:
        self.pieces = list(pieces)
        self.between = gap
        self.width = max((piece.width for piece in self.pieces), default=0.0)
        self.height = sum(piece.height for piece in self.pieces)
        self.height += gap * max(len(self.pieces) - 1, 0)

    def put(self, pen: Pen, x: float, y: float) -> None:
        top = y + self.height
        for piece in self.pieces:
            top -= piece.height
            piece.put(pen, x, top)
            top -= self.between

    def split(self, room: float) -> tuple[Piece, Piece] | None:
        taken = 0.0
        for at, piece in enumerate(self.pieces):
            if taken + piece.height > room + 1e-6:
                parts = piece.split(room - taken)
                first = self.pieces[:at] + ([parts[0]] if parts else [])
                rest = ([parts[1]] if parts else [piece]) + self.pieces[at + 1 :]
                if not first:
                    return None
                return Stack(first, gap=self.between), Stack(rest, gap=self.between)
            taken += piece.height + self.between
        return None


class Row(Piece):
    """Cells side by side.

    widths: [pt] of the columns; stand: where a cell lower than the row stands, for all or for
    each; top, bottom: room above and below; rule: weight of the line under the row; boxed: the
    columns that are framed; least: the row's least height.
    """

    def __init__(
        self,
        cells: Sequence[Piece | None],
        widths: Sequence[float],
        *,
        stand: Stand | Sequence[Stand] = "top",
        top: float = 0.0,
        bottom: float = 0.0,
        least: float = 0.0,
        rule: float = 0.0,
        ruled: float | None = None,
        boxed: Sequence[int] = (),
        flush: Sequence[int] = (),
    ) -> None:
        """Args: ruled: how far the line reaches, None: the whole width; flush: the columns that
        take the room above and below as well."""
        self.cells, self.widths = list(cells), list(widths)
        self.stand: list[Stand] = (
            [stand] * len(self.cells) if isinstance(stand, str) else list(stand)
        )
        self.top, self.bottom, self.least = top, bottom, least
        self.rule, self.ruled = rule, ruled
        self.boxed, self.flush = tuple(boxed), tuple(flush)
        self.width = sum(self.widths)
        inner = [
            cell.height + (0.0 if column in self.flush else top + bottom)
            for column, cell in enumerate(self.cells)
            if cell
        ]
        self.height = max(max(inner, default=top + bottom), least)

    def put(self, pen: Pen, x: float, y: float) -> None:
        if self.rule:
            reach = self.width if self.ruled is None else self.ruled
            pen.line(x, y, x + reach, y, weight=self.rule)
        inner = self.height - self.top - self.bottom
        at = x
        for column, (cell, wide) in enumerate(zip(self.cells, self.widths, strict=True)):
            if column in self.boxed:
                pen.rect(at, y, wide, self.height, weight=THIN)
            if cell is not None:
                flush = column in self.flush
                free = (self.height if flush else inner) - cell.height
                foot = y + (0.0 if flush else self.bottom)
                cell.put(pen, at, foot + free * _SHARES[self.stand[column]])
            at += wide

    def split(self, room: float) -> tuple[Piece, Piece] | None:
        room -= self.top + self.bottom
        first: list[Piece | None] = []
        rest: list[Piece | None] = []
        for cell in self.cells:
            if cell is None or cell.height <= room + 1e-6:
                first.append(cell)
                rest.append(None)
                continue
            parts = cell.split(room)
            if parts is None:
                return None
            first.append(parts[0])
            rest.append(parts[1])
        return self._like(first), self._like(rest)

    def _like(self, cells: Sequence[Piece | None]) -> "Row":
        return Row(
            cells, self.widths, stand=self.stand, top=self.top, bottom=self.bottom, rule=self.rule,
            ruled=self.ruled, boxed=self.boxed, flush=self.flush,
        )  # fmt: skip


class Picture(Piece):
    """One of the drawings of plant.drawings, drawn when it is put on the page."""

    def __init__(
        self, draw: Callable[..., Any], *, width: float, height: float, **told: Any
    ) -> None:
        """Args: draw: of plant.drawings; told: what it takes beside its size [pt]."""
        self.width, self.height = width, height
        self._draw, self._told = draw, told

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.drawing(self._draw(**self._told, width=self.width, height=self.height), x, y)


class Beside(Piece):
    """A piece in the middle of a greater width, or moved in from the left."""

    def __init__(self, piece: Piece, *, width: float, left: float | None = None) -> None:
        """Args: left: [pt] room at the left; None: as much as at the right."""
        self.piece = piece
        self.width, self.height = width, piece.height
        self.left = (width - piece.width) / 2 if left is None else left

    def put(self, pen: Pen, x: float, y: float) -> None:
        self.piece.put(pen, x + self.left, y)
