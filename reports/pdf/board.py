"""The wall board: one sheet of A3 that is read at three metres."""

from dataclasses import dataclass, field
from io import BytesIO

from reportlab.lib.colors import black, white
from reportlab.lib.pagesizes import A3, landscape
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from plant.translate import gettext
from reports.pdf.fonts import MONO_BOLD, SANS, SANS_BOLD, face_for, plain, register, width_of
from reports.pdf.lines import lines_of
from reports.pdf.marked import MarkedCanvas
from reports.pdf.page import PRODUCER, Printed, fitted

PAGE_WIDTH, PAGE_HEIGHT = landscape(A3)
EDGE = 14 * mm
GAP = 9 * mm
# Capitals of 7.7 mm for what is read at 3 m: a four-hundredth of the distance (common practice, no
# source). What is read from nearer is set smaller.
BIG, MIDDLE, SMALL = 31.0, 17.0, 11.0


@dataclass(frozen=True)
class Line:
    """One line of a column: what is read at three metres, and under it what is read from nearer."""

    big: str
    small: str = ""


@dataclass(frozen=True)
class BoardColumn:
    """One column: its heading, its lines, how many there are in all, and what stands if none."""

    heading: str
    lines: tuple[Line, ...]
    count: int
    empty: str
    is_stop: bool = False


@dataclass(frozen=True)
class Board:
    """A day on the wall; every text is ready to print. counts: figure and what it counts."""

    depot: str
    day: str
    as_at: str
    printed: Printed
    columns: tuple[BoardColumn, ...]
    counts: tuple[tuple[str, str], ...] = ()
    foot: str = field(
        default_factory=lambda: gettext(
            "Do not use: only a release check frees a machine. Isolate and lock off before a cover "
            "comes off; guards back on before it is started."
        )
    )


def render(board: Board) -> bytes:
    """Draws the board on one sheet of A3, lying; what does not fit is counted.

    Returns:
        A PDF; equal boards give equal bytes.
    """
    register()
    file = BytesIO()
    canvas = MarkedCanvas(
        file, pagesize=(PAGE_WIDTH, PAGE_HEIGHT), invariant=1, pageCompression=1, lang="en-GB"
    )
    canvas.setTitle(
        plain(gettext("Wall board: {depot}, {day}").format(depot=board.depot, day=board.day))
    )
    canvas.setAuthor(plain(board.printed.by))
    canvas.setSubject(plain(board.printed.sentence()))
    canvas.setProducer(PRODUCER)
    canvas.setCreator("")
    canvas.bookmarkPage("board")
    canvas.addOutlineEntry(plain(board.depot), "board")
    top = _head(canvas, board)
    top = _counts(canvas, board, top=top)
    bottom = EDGE + 13 * mm
    each = (PAGE_WIDTH - 2 * EDGE - GAP * (len(board.columns) - 1)) / max(len(board.columns), 1)
    for place, column in enumerate(board.columns):
        _column(canvas, column, x=EDGE + place * (each + GAP), top=top, bottom=bottom, width=each)
    _foot(canvas, board)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def _write(
    canvas: Canvas, words: str, *, x: float, y: float, size: float, room: float, face: str = SANS
) -> None:
    """One line, smaller down to three quarters where it is long, then cut with a mark."""
    shown, size = fitted(
        plain(words, face=face), face=face, size=size, room=room, least=size * 0.75
    )
    canvas.setFont(face, size)
    canvas.drawString(x, y, shown)


class _Name:
    """A name whole: in one line, smaller down to three quarters, else in as many as it takes."""

    def __init__(self, words: str, *, size: float, room: float, face: str = SANS) -> None:
        wide = width_of(plain(words, face=face), size=size, face=face)
        self.size = size * min(max(room / wide, 0.75), 1.0) if wide else size
        self._lines = lines_of(((words, face),), (room + 0.01) / self.size)
        self._leading = self.size * 1.06
        self.height = size + (len(self._lines) - 1) * self._leading

    def write(self, canvas: Canvas, *, x: float, y: float) -> None:
        """Args: y: [pt] the level of its last line."""
        y += (len(self._lines) - 1) * self._leading
        for _, pieces in self._lines:
            for along, face, letters in pieces:
                canvas.setFont(face, self.size)
                canvas.drawString(x + along * self.size, y, letters)
            y -= self._leading


def _head(canvas: Canvas, board: Board) -> float:
    """The day and the depot; how old the board is stands as large as the day."""
    width = PAGE_WIDTH - 2 * EDGE
    y = PAGE_HEIGHT - EDGE - BIG
    _write(canvas, board.day, x=EDGE, y=y, size=BIG, room=width * 0.6, face=SANS_BOLD)
    shown, size = fitted(
        plain(gettext("as at {as_at}").format(as_at=board.as_at)),
        face=SANS_BOLD,
        size=BIG,
        room=width * 0.36,
        least=MIDDLE,
    )
    canvas.setFont(SANS_BOLD, size)
    canvas.drawRightString(PAGE_WIDTH - EDGE, y, shown)
    y -= MIDDLE + 4
    _write(canvas, board.depot, x=EDGE, y=y, size=MIDDLE, room=width)
    y -= 9
    canvas.setLineWidth(1.6)
    canvas.line(EDGE, y, PAGE_WIDTH - EDGE, y)
    return y


def _counts(canvas: Canvas, board: Board, *, top: float) -> float:
    if not board.counts:
        return top
    each = (PAGE_WIDTH - 2 * EDGE) / len(board.counts)
    y = top - BIG - 5
    for place, (figure, what) in enumerate(board.counts):
        x = EDGE + place * each
        canvas.setFont(MONO_BOLD, BIG)
        canvas.drawString(x, y, figure)
        taken = canvas.stringWidth(figure, MONO_BOLD, BIG) + 8
        _write(canvas, what, x=x + taken, y=y, size=MIDDLE, room=each - taken - 10)
    y -= 11
    canvas.setLineWidth(0.8)
    canvas.line(EDGE, y, PAGE_WIDTH - EDGE, y)
    return y - 4


def _column(
    canvas: Canvas, column: BoardColumn, *, x: float, top: float, bottom: float, width: float
) -> None:
    height = MIDDLE + 12
    y = top - height - 4
    canvas.setLineWidth(1.2)
    canvas.rect(x, y, width, height, fill=int(column.is_stop))
    canvas.setFillColor(white if column.is_stop else black)
    heading = f"{column.heading}: {column.count}"
    _write(canvas, heading, x=x + 6, y=y + 9, size=MIDDLE, room=width - 12, face=SANS_BOLD)
    canvas.setFillColor(black)
    if not column.lines:
        _write(canvas, column.empty, x=x, y=y - MIDDLE - 8, size=MIDDLE, room=width)
        return
    shown = 0
    room_for_more = MIDDLE + 8
    for line in column.lines:
        big = _Name(line.big, size=BIG, room=width, face=face_for(line.big))
        small = _Name(line.small, size=MIDDLE, room=width) if line.small else None
        tall = big.height + 8 + (small.height + 4 if small else 0)
        is_last = shown + 1 == column.count
        if y - tall < bottom + (0 if is_last else room_for_more):
            break
        y -= big.height + 4
        big.write(canvas, x=x, y=y)
        if small:
            y -= small.height + 4
            small.write(canvas, x=x, y=y)
        y -= 4
        canvas.setLineWidth(0.6)
        canvas.line(x, y, x + width, y)
        shown += 1
    if shown < column.count:
        words = gettext("and {count} more").format(count=column.count - shown)
        _write(canvas, words, x=x, y=y - MIDDLE - 4, size=MIDDLE, room=width, face=SANS_BOLD)


def _foot(canvas: Canvas, board: Board) -> None:
    width = PAGE_WIDTH - 2 * EDGE
    canvas.setLineWidth(0.8)
    canvas.line(EDGE, EDGE + 11.5 * mm, PAGE_WIDTH - EDGE, EDGE + 11.5 * mm)
    _write(canvas, board.foot, x=EDGE, y=EDGE + 5.5 * mm, size=SMALL + 2, room=width)
    words = gettext("{sentence}. It shows that moment and no later one.").format(
        sentence=board.printed.sentence()
    )
    _write(canvas, words, x=EDGE, y=EDGE, size=SMALL, room=width - 30 * mm)
    canvas.setFont(SANS_BOLD, SMALL)
    canvas.drawRightString(PAGE_WIDTH - EDGE, EDGE, "page 1 of 1")
