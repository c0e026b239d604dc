"""Tags to tie on a machine that must not be used: two on a sheet of A4, each folded to A6.

A tag that hangs turns in the wind, so both its sides say what it is. The second one is for the
plug, the switch or the key.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO

from reportlab.lib.colors import black, white
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from plant.translate import gettext as _
from reports.pdf.boxes import BODY, CautionLine, body
from reports.pdf.fonts import (
    MONO_BOLD,
    SANS,
    SANS_BOLD,
    capital_of,
    face_for,
    plain,
    register,
    width_of,
)
from reports.pdf.marked import MarkedCanvas
from reports.pdf.page import PRODUCER, Printed, fitted
from reports.pdf.qr import QrCode
from reports.pdf.service_sheet import Caution

WIDTH, HEIGHT = A4[0] / 2, A4[1] / 2
# What a printer leaves white at the edge of the sheet, and a little more.
EDGE = 8 * mm
ROOM = WIDTH - 2 * EDGE
# Legible at 3 m: a letter of the two-hundredth part of that (common practice, no source), and
# still so after a printer has shrunk the page by 2 %.
LEAST_CAP = 15.4 * mm
# [pt] of what stands under the great words, from the largest down.
SIZES = (12.5, 11.2, 10.0, 9.0, 8.2, 7.4, 6.6)
_HOLE = 3 * mm


@dataclass(frozen=True)
class Reason:
    """One thing that speaks against it: what, and since when, by whom, and its job."""

    what: str
    told: str


@dataclass(frozen=True)
class Tag:
    """What stands on a tag; every text is ready to print.

    large: the great words, a line each; what: "Failed electrical test"; reasons: the gravest
    first; keep: that it stays on; link: that of the machine's label, or "" for no code; scan: what
    the code is for; phone: of the depot.
    """

    number: str
    kind: str
    printed: Printed
    what: str
    reasons: tuple[Reason, ...]
    facts: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    large: tuple[str, ...] = ("DO NOT", "USE")
    keep: str = field(
        default_factory=lambda: _("Do not remove: only the release check frees this machine.")
    )
    link: str = ""
    scan: str = ""
    phone: str = ""


def render(tag: Tag) -> bytes:
    """Draws the tag twice on one sheet of A4.

    Returns:
        A PDF; equal tags give equal bytes.
    """
    register()
    file = BytesIO()
    canvas = MarkedCanvas(file, pagesize=A4, pageCompression=1, invariant=1, lang="en-GB")
    canvas.setTitle(plain(f"{' '.join(tag.large)}: {tag.number}"))
    canvas.setAuthor(plain(tag.printed.by))
    canvas.setSubject(plain(tag.what))
    canvas.setCreator("")
    canvas.setProducer(PRODUCER)
    for level in (HEIGHT, 0.0):
        for left, side in ((0.0, _front), (WIDTH, _back)):
            canvas.saveState()
            canvas.translate(left, level)
            _hole(canvas)
            side(canvas, tag)
            canvas.restoreState()
    _lines(canvas)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def _lines(canvas: Canvas) -> None:
    """Where to cut, whole, and where to fold, broken."""
    canvas.setLineWidth(0.4)
    canvas.line(0, HEIGHT, A4[0], HEIGHT)
    canvas.setDash([3, 3])
    canvas.line(WIDTH, 0, WIDTH, A4[1])
    canvas.setDash()
    canvas.setFont(SANS, 6.5)
    canvas.drawString(EDGE, HEIGHT + 1.2 * mm, _("Cut here. One for the machine, one for its plug"))
    canvas.drawString(EDGE, HEIGHT - 3.2 * mm, _("or switch. Fold each along the broken line."))


def _hole(canvas: Canvas) -> None:
    canvas.setLineWidth(0.6)
    canvas.circle(WIDTH / 2, HEIGHT - EDGE - _HOLE, _HOLE)


_TOP = HEIGHT - EDGE - 2 * _HOLE - 2 * mm
_FOOT = EDGE


def _front(canvas: Canvas, tag: Tag) -> None:
    level = _band(canvas, tag.large, top=_TOP)
    level = _line(canvas, tag.what, top=level - 2.5 * mm, most=20, face=SANS_BOLD)
    level = _number(canvas, tag.number, top=level - 3 * mm, tall=12 * mm)
    level = _line(canvas, tag.kind, top=level - 1.5 * mm, most=12, face=SANS)
    side = 25 * mm if tag.link else 0.0
    room = ROOM - side - (3 * mm if side else 0)
    top = min(level - 2 * mm, _FOOT + 34 * mm)
    for size in SIZES:
        keep = ParagraphStyle("keep", parent=BODY, fontName=SANS_BOLD, fontSize=size)
        keep.leading = size * 1.18
        foot = ParagraphStyle("foot", parent=BODY, fontSize=max(0.75 * size, SIZES[-1]))
        foot.leading = foot.fontSize * 1.18
        parts = [body(tag.keep, style=keep)]
        parts += [body(each, style=foot) for each in (tag.scan, tag.phone) if each]
        if _tall(parts, width=room) <= top - _FOOT:
            break
    _set(canvas, parts, top=top, width=room)
    if tag.link:
        canvas.saveState()
        canvas.translate(WIDTH - EDGE - side, _FOOT)
        code = QrCode(tag.link, side=side, error="q")
        code.canv = canvas
        code.draw()
        canvas.restoreState()


def _back(canvas: Canvas, tag: Tag) -> None:
    level = _band(canvas, (" ".join(tag.large),), top=_TOP)
    level = _number(canvas, tag.number, top=level - 2.5 * mm, tall=8 * mm)
    top = level - 2 * mm
    foot = _printed(canvas, tag)
    for size, most in (*((size, len(tag.reasons)) for size in SIZES), *_fewer(tag)):
        parts = _told(tag, size=size, most=most)
        if _tall(parts, width=ROOM) <= top - foot:
            break
    _set(canvas, parts, top=top, width=ROOM)


def _fewer(tag: Tag) -> list[tuple[float, int]]:
    return [(SIZES[-1], most) for most in range(len(tag.reasons) - 1, 0, -1)]


def _told(tag: Tag, *, size: float, most: int) -> list[Flowable]:
    usual = ParagraphStyle("told", parent=BODY, fontSize=size, leading=size * 1.2)
    strong = ParagraphStyle("told strong", parent=usual, fontName=SANS_BOLD)
    parts: list[Flowable] = []
    for each in tag.reasons[:most]:
        parts += [body(each.what, style=strong), body(each.told, style=usual)]
    if len(tag.reasons) > most:
        left = len(tag.reasons) - most
        parts.append(
            body(_("And {left} more, on the machine's page.").format(left=left), style=strong)
        )
    parts += [body(each, style=usual) for each in tag.facts]
    parts += [CautionLine(strength=each.strength, words=each.words) for each in tag.cautions]
    return [*parts, body(tag.keep, style=strong)]


def _printed(canvas: Canvas, tag: Tag) -> float:
    """Who printed it and its record, at the foot. Returns: [pt] the level above it."""
    level = _FOOT
    sentence = f"{tag.printed.sentence()[:1].upper()}{tag.printed.sentence()[1:]}"
    for words in (tag.printed.seal(), sentence):
        if words:
            line, size = fitted(plain(words), face=SANS, size=6.5, room=ROOM, least=5)
            canvas.setFont(SANS, size)
            canvas.drawString(EDGE, level, line)
            level += 8
    return level


def _band(canvas: Canvas, lines: tuple[str, ...], *, top: float) -> float:
    """Great words in white on black, as large as they fit. Returns: [pt] the level under them."""
    sizes = [ROOM / _wide(line) for line in lines]
    size = min(sizes)
    cap = size * capital_of(SANS_BOLD)
    gap = 3.5 * mm
    tall = len(lines) * cap + (len(lines) + 1) * gap
    canvas.setFillColor(black)
    canvas.rect(EDGE - 4 * mm, top - tall, ROOM + 8 * mm, tall, stroke=0, fill=1)
    canvas.setFillColor(white)
    canvas.setFont(SANS_BOLD, size)
    level = top
    for line in lines:
        level -= gap + cap
        canvas.drawCentredString(WIDTH / 2, level, plain(line, face=SANS_BOLD))
    canvas.setFillColor(black)
    return top - tall


def _wide(words: str) -> float:
    return width_of(plain(words, face=SANS_BOLD), size=1, face=SANS_BOLD)


def _number(canvas: Canvas, number: str, *, top: float, tall: float) -> float:
    """The machine's number as large as it fits. Returns: [pt] the level under it."""
    face = face_for(number, stamped=MONO_BOLD)
    most = tall / capital_of(face)
    words, size = fitted(plain(number, face=face), face=face, size=most, room=ROOM, least=9)
    level = top - size * capital_of(face)
    canvas.setFont(face, size)
    canvas.drawCentredString(WIDTH / 2, level, words)
    return level


def _line(canvas: Canvas, words: str, *, top: float, most: float, face: str) -> float:
    """One or more lines under each other, in the middle. Returns: [pt] the level under them."""
    style = ParagraphStyle(
        "line", parent=BODY, fontName=face, fontSize=most, leading=most * 1.15, alignment=1
    )
    part = body(words, style=style)
    while part.wrap(ROOM, 1e6)[1] > 2.4 * most and style.fontSize > 8:
        style = ParagraphStyle("line", parent=style, fontSize=style.fontSize - 1)
        style.leading = style.fontSize * 1.15
        part = body(words, style=style)
    part.wrap(ROOM, 1e6)
    part.drawOn(canvas, EDGE, top - part.height)
    return float(top - part.height)


def _tall(parts: Sequence[Flowable], *, width: float) -> float:
    """[pt] the height of the parts under each other in this width [pt]."""
    return sum(part.wrap(width, 1e6)[1] + _GAP for part in parts)


def _set(canvas: Canvas, parts: Sequence[Flowable], *, top: float, width: float) -> None:
    for part in parts:
        part.wrap(width, 1e6)
        top -= part.height
        part.drawOn(canvas, EDGE, top)
        top -= _GAP


_GAP = 2.0
