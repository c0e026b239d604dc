"""Labels for machines, 50 x 30 mm: one a page for a label printer, or on A4 to be cut out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import combinations, pairwise
from math import ceil

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from plant.drawings.qr import QUIET, Rows, rows_of
from plant.translate import gettext as _
from reports.pdf.fonts import MONO_BOLD, SANS, SANS_BOLD, capital_of, plain, register, width_of
from reports.pdf.marked import MarkedCanvas
from reports.pdf.page import PRODUCER, Printed, Running, draw_running, fitted
from reports.pdf.pen import Pen
from reports.pdf.qr import draw_rows

WIDTH, HEIGHT = 50 * mm, 30 * mm
# A label printer may set the picture a millimetre aside.
EDGE = 1.5 * mm
COLUMNS, LINES = 3, 8
A_PAGE = COLUMNS * LINES
# Legible at two metres: 5 mm, and a little more for a printer that shrinks the page by 2 %.
WANTED_CAP = 5.15 * mm
MOST_CAP = 9.0 * mm
# Squares of whole eighths of a millimetre are whole dots of a printer of 8 dots a millimetre.
DOT = 0.125 * mm
CODE_ROOM = 24.5 * mm
# Letters are set this much closer at most, so that a number stays in one line.
CLOSEST = 0.78


@dataclass(frozen=True)
class Label:
    """What is on one label; an empty text is left off.

    number: the machine's; link: what the QR code holds; short_code: four characters to type;
    kind: "Cement mixer"; phone: of the depot.
    """

    number: str
    link: str
    short_code: str
    kind: str = ""
    phone: str = ""


def one_a_page(labels: Sequence[Label], *, title: str) -> bytes:
    """Each label on a page of its own size.

    Returns:
        A PDF; equal labels give equal bytes.

    Raises:
        ValueError: there are no labels.
    """
    if not labels:
        raise ValueError("there is nothing to print: no labels were given")
    file = BytesIO()
    canvas = _canvas(file, size=(WIDTH, HEIGHT), title=title)
    for number, label in enumerate(labels):
        canvas.bookmarkPage(str(number))
        canvas.addOutlineEntry(plain(label.number), str(number))
        _draw(canvas, label)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def on_a4(labels: Sequence[Label], *, title: str, printed: Printed) -> bytes:
    """The labels in a grid on A4, with crosses to cut at.

    Returns:
        A PDF; equal labels, title and printing give equal bytes.

    Raises:
        ValueError: there are no labels.
    """
    if not labels:
        raise ValueError("there is nothing to print: no labels were given")
    file = BytesIO()
    canvas = _canvas(file, size=A4, title=title)
    pages = ceil(len(labels) / A_PAGE)
    for page in range(pages):
        here = labels[page * A_PAGE : (page + 1) * A_PAGE]
        span = (
            here[0].number
            if len(here) == 1
            else _("{first} to {last}").format(first=here[0].number, last=here[-1].number)
        )
        canvas.bookmarkPage(str(page))
        canvas.addOutlineEntry(plain(span), str(page))
        running = Running(title=_("Labels, 50 x 30 mm"), subject=span, printed=printed)
        draw_running(canvas, running=running, number=page + 1, of=pages)
        for place, label in enumerate(here):
            canvas.saveState()
            canvas.translate(*_corner(place))
            _draw(canvas, label)
            canvas.restoreState()
        _cut_marks(canvas, lines=ceil(len(here) / COLUMNS))
        canvas.setFont(SANS, 8)
        canvas.drawString(
            _LEFT,
            _TOP + 6 * mm,
            _("Print at full size (100 %). Cut from cross to cross. Fix where it stays clean."),
        )
        canvas.showPage()
    canvas.save()
    return file.getvalue()


_LEFT = (A4[0] - COLUMNS * WIDTH) / 2
_TOP = A4[1] - 29 * mm


def _corner(place: int) -> tuple[float, float]:
    """[pt] the lower left corner of a place of the grid, counted along the lines."""
    line, column = divmod(place, COLUMNS)
    return _LEFT + column * WIDTH, _TOP - (line + 1) * HEIGHT


def _cut_marks(canvas: Canvas, *, lines: int) -> None:
    """A small cross at each corner; at the outer edge its arm is longer, for a ruler."""
    canvas.setLineWidth(0.3)
    long, short = 4 * mm, 0.9 * mm
    for column in range(COLUMNS + 1):
        x = _LEFT + column * WIDTH
        for line in range(lines + 1):
            y = _TOP - line * HEIGHT
            left = long if column == 0 else short
            right = long if column == COLUMNS else short
            up, down = long if line == 0 else short, long if line == lines else short
            canvas.line(x - left, y, x + right, y)
            canvas.line(x, y - down, x, y + up)


def _canvas(file: BytesIO, *, size: tuple[float, float], title: str) -> Canvas:
    register()
    canvas = MarkedCanvas(file, pagesize=size, pageCompression=1, invariant=1, lang="en-GB")
    canvas.setTitle(plain(title))
    canvas.setAuthor("")
    canvas.setSubject("")
    canvas.setCreator("")
    canvas.setProducer(PRODUCER)
    return canvas


def _draw(canvas: Canvas, label: Label) -> None:
    """One label, its lower left corner at the origin."""
    rows = rows_of(label.link, error="q")
    module = _module(rows)
    side = (len(rows) + 2 * QUIET) * module
    # Above the line at the foot the code stands in the middle of the height it has.
    draw_rows(Pen(canvas), rows, x=EDGE, y=(HEIGHT + _STRIP - side) / 2, module=module)
    foot = (
        _("Wrong? Scan, or ring {phone}").format(phone=label.phone)
        if label.phone
        else _("Something wrong? Scan it.")
    )
    words, size = fitted(plain(foot), face=SANS_BOLD, size=8, room=WIDTH - 2 * EDGE, least=5)
    canvas.setFont(SANS_BOLD, size)
    canvas.drawString(EDGE, EDGE + 0.5 * mm, words)
    left = EDGE + side
    room = WIDTH - EDGE - left
    number = plain(label.number, face=MONO_BOLD)
    kind, size, code_y, setting = _beside(number, plain(label.kind), room=room)
    _number(canvas, setting, x=left)
    _code(canvas, label.short_code, x=left, y=code_y, room=room)
    canvas.setFont(SANS, size)
    for up, words in enumerate(reversed(kind)):
        canvas.drawString(left, EDGE + _STRIP + 1.2 * mm + up * _LINE, words)


_STRIP = 3.4 * mm
_LINE = 3.1 * mm
_GAP = 1.2 * mm
_CODE_TALL = 5 * mm
# The lines of the number, their size [pt], and how close the letters stand.
Setting = tuple[list[str], float, float]


def _beside(number: str, kind: str, *, room: float) -> tuple[list[str], float, float, Setting]:
    """What stands beside the code: the kind in two lines where the number leaves the room.

    Returns:
        The lines of the kind, their size [pt], the level of the short code [pt], the number.
    """
    foot = EDGE + _STRIP + 1.2 * mm
    wrapped = simpleSplit(kind, SANS, 8, room)
    # One long word is not broken by the wrapping.
    if len(wrapped) == 2 and all(width_of(line, size=8) <= room for line in wrapped):
        code_y = foot + 2 * _LINE + 0.6 * mm
        setting = _setting(number, room=room, tall=HEIGHT - EDGE - code_y - _CODE_TALL)
        if setting[1] * capital_of(MONO_BOLD) >= WANTED_CAP - _HAIR:
            return wrapped, 8.0, code_y, setting
    words, size = fitted(kind, face=SANS, size=8.5, room=room, least=5.5)
    code_y = foot + (_LINE + 0.6 * mm if kind else 0)
    setting = _setting(number, room=room, tall=HEIGHT - EDGE - code_y - _CODE_TALL)
    return [words] if kind else [], size, code_y, setting


def _module(rows: Rows) -> float:
    """[pt] the largest square of whole dots with which the code has room."""
    most = CODE_ROOM / (len(rows) + 2 * QUIET)
    return max(most // DOT, 2) * DOT


def _code(canvas: Canvas, short_code: str, *, x: float, y: float, room: float) -> None:
    canvas.setFont(SANS, 8)
    code = _("Code ")
    canvas.drawString(x, y, code)
    before = width_of(code, size=8)
    words = plain(short_code, face=MONO_BOLD)
    words, size = fitted(words, face=MONO_BOLD, size=14, room=room - before, least=6)
    canvas.setFont(MONO_BOLD, size)
    canvas.drawString(x + before, y, words)


def _number(canvas: Canvas, setting: Setting, *, x: float) -> None:
    lines, size, closer = setting
    y = HEIGHT - EDGE
    for words in lines:
        y -= size * capital_of(MONO_BOLD)
        line = canvas.beginText(x, y)
        line.setFont(MONO_BOLD, size)
        line.setHorizScale(100 * closer)
        line.textOut(words)
        line.setHorizScale(100)
        canvas.drawText(line)
        y -= _GAP


def _setting(number: str, *, room: float, tall: float) -> Setting:
    """The number as large as it fits: in one line where that is legible at two metres."""
    cap = capital_of(MONO_BOLD)
    tries = [_set(number, lines=n, room=room, tall=tall) for n in (1, 2, 3)]
    legible = (each for each in tries if each[1] * cap >= WANTED_CAP - _HAIR)
    return next(legible, None) or max(tries, key=lambda each: each[1])


_HAIR = 0.01


def _set(number: str, *, lines: int, room: float, tall: float) -> Setting:
    """The number in so many lines."""
    parts = _parted(number, lines)
    widest = max(width_of(part, size=1, face=MONO_BOLD) for part in parts)
    cap = capital_of(MONO_BOLD)
    most = min(MOST_CAP, (tall - (len(parts) - 1) * _GAP) / len(parts)) / cap
    free = room / widest
    if free * cap >= WANTED_CAP:
        return parts, min(free, most), 1.0
    # Closer together, but only as much as is needed.
    size = min(WANTED_CAP / cap, free / CLOSEST, most)
    return parts, size, min(1.0, free / size)


def _parted(number: str, lines: int) -> list[str]:
    """The number in so many lines of about one length, broken behind its own signs if it can."""
    lines = min(lines, len(number))

    def cost(breaks: Iterable[int]) -> float:
        ends = [0, *breaks, len(number)]
        longest = max(b - a for a, b in pairwise(ends))
        return longest + sum(1.5 for each in breaks if number[each - 1].isalnum())

    best = min(combinations(range(1, len(number)), lines - 1), key=cost)
    ends = [0, *best, len(number)]
    return [number[a:b].strip() or number[a:b] for a, b in pairwise(ends)]
