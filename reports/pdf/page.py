"""The paper: A4 frame and margins, header, footer, page numbers, document information."""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from itertools import islice
from typing import Any, SupportsIndex

from reportlab import rl_config
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from plant.drawings.strokes import THIN
from plant.translate import gettext as _
from reports.pdf.fonts import MONO, SANS, SANS_BOLD, plain, register, width_of
from reports.pdf.marked import MarkedCanvas
from reports.pdf.pen import Pen
from reports.pdf.pieces import Piece

PAPER_WIDTH, PAPER_HEIGHT = A4
# A printer that shrinks the page by 2 % or cannot print the outer 5 mm still shows everything.
SIDE = 15 * mm
TOP = 16.5 * mm
BOTTOM = 14.6 * mm
WIDTH = PAPER_WIDTH - 2 * SIDE
HEIGHT = PAPER_HEIGHT - TOP - BOTTOM
PRODUCER = "ReportLab"

# A second wall: no text is read as markup here, and no picture is ever fetched by address.
rl_config.trustedHosts = []
rl_config.trustedSchemes = []
# Pages are packed once; written in letters on top of that they took a quarter more room and time.
rl_config.useA85 = 0


@dataclass(frozen=True)
class Printed:
    """When, by whom and from which record a sheet was printed; times are local, as text.

    at: "25 Nov 2026 07:31"; by: a name; as_at: "25 Nov 2026 07:30" when the facts are older than
    the print, else ""; record_number: of the sealed record, or ""; record_hash: 64 hex digits of
    that record, of which 16 are printed, or ""; edition: what is said where it takes the place of
    one whose words were erased, or "".
    """

    at: str
    by: str
    as_at: str = ""
    record_number: str = ""
    record_hash: str = ""
    edition: str = ""

    def sentence(self) -> str:
        """ "printed 25 Nov 2026 07:31 by ..., as at ..."."""
        words = _("printed {at} by {by}").format(at=self.at, by=self.by)
        words = (
            _("{words}, as at {as_at}").format(words=words, as_at=self.as_at)
            if self.as_at
            else words
        )
        return f"{words}; {self.edition}" if self.edition else words

    def seal(self) -> str:
        """ "record 1042, hash 7f3a 90bc 11de 4a02", or empty for a sheet that is no record."""
        if not self.record_number:
            return ""
        words = _("record {record_number}").format(record_number=self.record_number)
        digits = self.record_hash[:16]
        if not digits:
            return words
        return f"{words}, hash " + " ".join(digits[i : i + 4] for i in range(0, len(digits), 4))


@dataclass(frozen=True)
class Running:
    """What every page repeats: the sheet's name at the top left, its subject at the top right.

    leaf: so many pages make the sheet; on any further one its name says that it is continued.
    """

    title: str
    subject: str
    printed: Printed
    leaf: int = 0


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece and how high its lower edge stands above that of the paper [pt]."""

    piece: Piece
    y: float


Pages = list[list[Placed]]


def build(story: Sequence[Piece], *, running: Running) -> bytes:
    """Sets a story on A4 pages; the same story gives the same bytes."""
    return draw(lay_out(story), running=running)


def lay_out(story: Sequence[Piece]) -> Pages:
    """Places the pieces of a story on pages, one under the other.

    A piece that is higher than what is left of its page goes to the next one, with those before it
    that are kept with it. One that is higher than a whole page is split.
    """
    pages: Pages = [[]]
    left = HEIGHT
    waiting = deque(story)
    while waiting:
        group = [waiting.popleft()]
        while group[-1].keep and waiting:
            group.append(waiting.popleft())
        fresh = not pages[-1]
        if fresh and group[0].head is not None:
            # What is repeated there stands with the first row under it.
            group.insert(0, group[0].head)
        need = sum(piece.height + piece.gap for piece in group) - (group[0].gap if fresh else 0.0)
        if need > left + _HAIR:
            room = left - (need - group[-1].height)
            parts = None
            if fresh or (group[-1].loose and room >= _LEAST_PART):
                parts = group[-1].split(room)
            if not fresh and parts is None:
                pages.append([])
                left = HEIGHT
                waiting.extendleft(reversed(group))
                continue
            if parts is not None:
                group[-1] = parts[0]
                waiting.appendleft(parts[1])
        for piece in group:
            left -= piece.height + (piece.gap if pages[-1] else 0.0)
            pages[-1].append(Placed(piece, BOTTOM + left))
    return pages


def draw(pages: Pages, *, running: Running) -> bytes:
    """Draws placed pieces, with the running words of every page and a bookmark for each heading.

    Returns:
        A PDF; equal pieces give equal bytes.
    """
    register()
    file = BytesIO()
    canvas = MarkedCanvas(file, pagesize=A4, invariant=1, pageCompression=1, lang="en-GB")
    canvas.setTitle(plain(f"{running.title}: {running.subject}"))
    canvas.setAuthor(plain(running.printed.by))
    canvas.setSubject(plain(running.printed.sentence()))
    canvas.setCreator("")
    canvas.setProducer(PRODUCER)
    for number, page in enumerate(pages, start=1):
        pen = Pen(canvas)
        for placed in page:
            placed.piece.put(pen, SIDE, placed.y)
            if title := getattr(placed.piece, "title", ""):
                key = f"{number}-{placed.y:.1f}"
                canvas.bookmarkHorizontal(key, 0, placed.y + placed.piece.height)
                canvas.addOutlineEntry(title, key)
        _running(pen, running=running, number=number, of=len(pages))
        canvas.showPage()
    canvas.save()
    return file.getvalue()


class NumberedCanvas(MarkedCanvas):
    """Keeps each page until all are known; then header and footer go on."""

    def __init__(self, *args: Any, running: Running, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._running = running
        self._kept: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802  # ReportLab's name
        self._kept.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]  # missing in the stubs

    def save(self) -> None:
        for number, page in enumerate(self._kept, start=1):
            self.__dict__.update(page)
            draw_running(self, running=self._running, number=number, of=len(self._kept))
            self.finish_page(number)
            super().showPage()
        super().save()

    def finish_page(self, number: int) -> None:
        """What else goes on a page once all are known; here nothing."""


class _Coming(list[Flowable]):
    """A story that is made while it is set, so that a long one is never held whole."""

    _LEAST, _MORE = 100, 200

    def __init__(self, story: Iterable[Flowable]) -> None:
        self._rest = iter(story)
        super().__init__(islice(self._rest, self._MORE))

    def __delitem__(self, which: SupportsIndex | slice) -> None:
        super().__delitem__(which)
        if len(self) < self._LEAST:
            self.extend(islice(self._rest, self._MORE))


def build_counted(
    story: Iterable[Flowable], *, running: Running, canvas: type[NumberedCanvas] = NumberedCanvas
) -> tuple[bytes, int]:
    """Sets a story of flowables on A4 pages, as many as it takes.

    Args:
        story: the flowables in reading order.
        running: the words of header, footer and document information.
        canvas: what the pages are drawn on.

    Returns:
        A PDF and its number of pages; the same story gives the same bytes.
    """
    register()
    file = BytesIO()
    document = BaseDocTemplate(
        file,
        pagesize=A4,
        leftMargin=SIDE,
        rightMargin=SIDE,
        topMargin=TOP,
        bottomMargin=BOTTOM,
        title=plain(f"{running.title}: {running.subject}"),
        author=plain(running.printed.by),
        subject=plain(running.printed.sentence()),
        creator="",
        producer=PRODUCER,
        lang="en-GB",
        invariant=1,
        pageCompression=1,
    )
    frame = Frame(
        SIDE, BOTTOM, WIDTH, HEIGHT, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0
    )
    document.addPageTemplates([PageTemplate(id="sheet", frames=[frame])])
    document.build(_Coming(story), canvasmaker=partial(canvas, running=running))
    return file.getvalue(), document.page


def draw_running(canvas: Canvas, *, running: Running, number: int, of: int) -> None:
    """Header and footer of one page of A4."""
    canvas.saveState()
    _running(Pen(canvas), running=running, number=number, of=of)
    canvas.restoreState()


def fitted(words: str, *, face: str, size: float, room: float, least: float) -> tuple[str, float]:
    """One line of lettering in the room [pt] there is: smaller down to least, then cut with …."""
    width = width_of(words, size=size, face=face)
    if width <= room:
        return words, size
    size = max(size * room / width, least)
    if width_of(words, size=size, face=face) <= room + 0.01:
        return words, size
    while words and width_of(words + "…", size=size, face=face) > room:
        words = words[:-1]
    return words + "…", size


def _running(pen: Pen, *, running: Running, number: int, of: int) -> None:
    level = PAPER_HEIGHT - TOP + 3.4 * mm
    right = PAPER_WIDTH - SIDE
    pen.line(SIDE, level - 1.6 * mm, right, level - 1.6 * mm, weight=THIN)
    title = running.title
    if running.leaf and number > running.leaf:
        title += ", continued"
    title = plain(title, face=SANS_BOLD).upper()
    title, size = fitted(title, face=SANS_BOLD, size=9.5, room=0.55 * WIDTH, least=6.5)
    engraved(pen, title, x=SIDE, y=level, size=size, spacing=0.9)
    taken = width_of(title, size=size, face=SANS_BOLD) + 0.9 * len(title)
    subject, size = fitted(
        plain(running.subject), face=SANS, size=9, room=WIDTH - taken - 6 * mm, least=6.5
    )
    pen.word(subject, right, level, size=size, face=SANS, anchor="end")

    level = BOTTOM - 5.4 * mm
    pen.line(SIDE, level + 3.3 * mm, right, level + 3.3 * mm, weight=THIN)
    page = _("page {number} of {of}").format(number=number, of=of)
    pen.word(page, right, level, size=8, face=SANS_BOLD, anchor="end")
    room = WIDTH - width_of(page, size=8, face=SANS_BOLD) - 6 * mm
    sentence, size = fitted(
        plain(running.printed.sentence()), face=SANS, size=7.6, room=room, least=6.5
    )
    pen.word(sentence, SIDE, level, size=size, face=SANS)
    seal = plain(running.printed.seal(), face=MONO)
    pen.word(seal, SIDE, level - 3.1 * mm, size=7.2, face=MONO)


def engraved(pen: Pen, words: str, *, x: float, y: float, size: float, spacing: float) -> None:
    """Letter-spaced capitals at a point [pt], as a die engraves them."""
    pen.word(words, x, y, size=size, face=SANS_BOLD, spacing=spacing)


_HAIR = 1e-6
# Less than this of a piece is not worth breaking it for [pt].
_LEAST_PART = 40.0
