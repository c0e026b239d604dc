"""The paper: A4 frame and margins, header, footer, page numbers, document information."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from reportlab import rl_config
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from reports.pdf.fonts import MONO, SANS, SANS_BOLD, plain, register, width_of

PAPER_WIDTH, PAPER_HEIGHT = A4
# A printer that shrinks the page by 2 % or cannot print the outer 5 mm still shows everything.
SIDE = 15 * mm
TOP = 16.5 * mm
BOTTOM = 14.6 * mm
WIDTH = PAPER_WIDTH - 2 * SIDE
HEIGHT = PAPER_HEIGHT - TOP - BOTTOM
PRODUCER = "ReportLab"

# A second wall behind reports.pdf.fonts.text: no picture is ever fetched by address.
rl_config.trustedHosts = []
rl_config.trustedSchemes = []


@dataclass(frozen=True)
class Printed:
    """When, by whom and from which record a sheet was printed; times are local, as text.

    at: "25 Nov 2026 07:31"; by: a name; as_at: "25 Nov 2026 07:30" when the facts are older than
    the print, else ""; record_number: of the sealed record, or ""; record_hash: 64 hex digits of
    that record, of which 16 are printed, or "".
    """

    at: str
    by: str
    as_at: str = ""
    record_number: str = ""
    record_hash: str = ""

    def sentence(self) -> str:
        """ "printed 25 Nov 2026 07:31 by ..., as at ..."."""
        words = f"printed {self.at} by {self.by}"
        return f"{words}, as at {self.as_at}" if self.as_at else words

    def seal(self) -> str:
        """ "record 1042, hash 7f3a 90bc 11de 4a02", or empty for a sheet that is no record."""
        if not self.record_number:
            return ""
        words = f"record {self.record_number}"
        digits = self.record_hash[:16]
        if not digits:
            return words
        return f"{words}, hash " + " ".join(digits[i : i + 4] for i in range(0, len(digits), 4))


@dataclass(frozen=True)
class Running:
    """What every page repeats: the sheet's name at the top left, its subject at the top right."""

    title: str
    subject: str
    printed: Printed


def build(story: Sequence[Flowable], *, running: Running) -> bytes:
    """Sets a story on A4 pages; see build_counted."""
    return build_counted(story, running=running)[0]


def build_counted(story: Sequence[Flowable], *, running: Running) -> tuple[bytes, int]:
    """Sets a story on A4 pages.

    Args:
        story: the flowables in reading order.
        running: the words of header, footer and document information.

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

    class NumberedCanvas(Canvas):
        """Keeps each page until the number of pages is known."""

        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802  # ReportLab's name
            self._kept.append(dict(self.__dict__))
            self._startPage()  # type: ignore[attr-defined]  # missing in the stubs

        def save(self) -> None:
            for number, page in enumerate(self._kept, start=1):
                self.__dict__.update(page)
                draw_running(self, running=running, number=number, of=len(self._kept))
                super().showPage()
            super().save()

    document.build(list(story), canvasmaker=NumberedCanvas)
    return file.getvalue(), document.page


def draw_running(canvas: Canvas, *, running: Running, number: int, of: int) -> None:
    """Header and footer of one page of A4."""
    _header(canvas, running=running)
    _footer(canvas, running=running, number=number, of=of)


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


def _header(canvas: Canvas, *, running: Running) -> None:
    level = PAPER_HEIGHT - TOP + 3.4 * mm
    canvas.setLineWidth(0.4)
    canvas.line(SIDE, level - 1.6 * mm, PAPER_WIDTH - SIDE, level - 1.6 * mm)
    title = plain(running.title, face=SANS_BOLD).upper()
    engraved(canvas, title, x=SIDE, y=level, size=9.5, spacing=0.9)
    taken = width_of(title, size=9.5, face=SANS_BOLD) + 0.9 * len(title)
    subject, size = fitted(
        plain(running.subject), face=SANS, size=9, room=WIDTH - taken - 6 * mm, least=6.5
    )
    canvas.setFont(SANS, size)
    canvas.drawRightString(PAPER_WIDTH - SIDE, level, subject)


def _footer(canvas: Canvas, *, running: Running, number: int, of: int) -> None:
    level = BOTTOM - 5.4 * mm
    canvas.setLineWidth(0.4)
    canvas.line(SIDE, level + 3.3 * mm, PAPER_WIDTH - SIDE, level + 3.3 * mm)
    page = f"page {number} of {of}"
    canvas.setFont(SANS_BOLD, 8)
    canvas.drawRightString(PAPER_WIDTH - SIDE, level, page)
    seal = plain(running.printed.seal(), face=MONO)
    room = WIDTH - width_of(page, size=8, face=SANS_BOLD) - 6 * mm
    sentence, size = fitted(
        plain(running.printed.sentence()), face=SANS, size=7.6, room=room, least=6.5
    )
    canvas.setFont(SANS, size)
    canvas.drawString(SIDE, level, sentence)
    if seal:
        canvas.setFont(MONO, 7.2)
        canvas.drawString(SIDE, level - 3.1 * mm, seal)


def engraved(
    canvas: Canvas, words: str, *, x: float, y: float, size: float, spacing: float
) -> None:
    """Letter-spaced capitals at a point [pt], as a die engraves them."""
    line = canvas.beginText(x, y)
    line.setFont(SANS_BOLD, size)
    line.setCharSpace(spacing)
    line.textOut(words)
    line.setCharSpace(0)
    canvas.drawText(line)
