"""The passport: one page that goes with the machine, with its last looks, tests and next work."""

from dataclasses import dataclass
from typing import Any, Literal

from reportlab.lib.colors import Color, black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table, TableStyle

from reports.pdf.boxes import (
    BARE,
    FIGURE,
    HAIR,
    HEAD,
    SMALL,
    STRONG,
    THIN,
    CautionLine,
    Heading,
    MarkShape,
    body,
)
from reports.pdf.drive_block import NOTE
from reports.pdf.fonts import MONO_BOLD, SANS_BOLD
from reports.pdf.page import WIDTH, Printed, Running, build_counted
from reports.pdf.plate import Plate, PlateBlock, PlateField
from reports.pdf.qr import QrCode
from reports.pdf.service_sheet import Caution, Mark


@dataclass(frozen=True)
class Proof:
    """Something that was looked at or tested last.

    what: "Last check"; when: day and time, or ""; result: in words, or that none is on record;
    who: name and role, or ""; record: the number of its sealed record, or "".
    """

    what: str
    result: str
    when: str = ""
    who: str = ""
    record: str = ""


@dataclass(frozen=True)
class Coming:
    """Work that falls due: "Service A", "4 May 2027 or 171.5 h", "Overdue"."""

    what: str
    due: str
    state: str


@dataclass(frozen=True)
class Passport:
    """A passport; every text is ready to print.

    number: what the passport is called; weight: how the answer stands on the page, "stop" in
    white on black; answer: "Do not use"; because: sentences under it; marks: the three, in words;
    proofs, coming: in the order to print; gone_to: who it went out with, label and value;
    report: how the code is used; link: what it holds; short_code, phone: for who cannot scan.
    """

    number: str
    plate: Plate
    printed: Printed
    weight: Literal["stop", "care", "plain"]
    answer: str
    because: tuple[str, ...] = ()
    marks: tuple[Mark, ...] = ()
    proofs: tuple[Proof, ...] = ()
    coming: tuple[Coming, ...] = ()
    gone_to: tuple[PlateField, ...] = ()
    report: str = "Scan the code with a phone and press Something wrong."
    link: str = ""
    short_code: str = ""
    phone: str = ""
    cautions: tuple[Caution, ...] = ()
    defer: str = (
        "This page tells how the machine stood when it was printed. Each check after that counts "
        "more. It gives way to the maker's handbook, the law and the site's rules where you are."
    )


def render(passport: Passport) -> bytes:
    """Draws the passport on one page of A4, unless its texts are longer than a page.

    Returns:
        A PDF; equal passports give equal bytes.
    """
    running = Running(
        title=f"Machine passport {passport.number}".strip(),
        subject=f"{passport.plate.number}, {passport.plate.kind}",
        printed=passport.printed,
    )
    # What is left off first: reasons and work that stand on the machine's page as well.
    for reasons, lines, gap in ((6, 9, 9), (6, 9, 0), (3, 6, 0), (2, 3, 0)):
        story = _story(passport, reasons=reasons, lines=lines, gap=gap)
        data, pages = build_counted(story, running=running)
        if pages == 1:
            break
    return data


def _story(passport: Passport, *, reasons: int, lines: int, gap: float) -> list[Flowable]:
    story: list[Flowable] = [PlateBlock(passport.plate, width=WIDTH), Spacer(0, 6)]
    story += [_answer(passport, most=reasons), Spacer(0, 4), _marks(passport)]
    parts = (
        _gone_to(passport),
        _proofs(passport),
        _coming(passport, most=lines),
        _cautions(passport),
        _report(passport),
    )
    for part in parts:
        story += [Spacer(0, gap), *part] if part else []
    story += [Spacer(0, 4), body(passport.defer, style=NOTE)]
    return story


def _answer(passport: Passport, *, most: int) -> Flowable:
    """The answer first, in a band of its own; "Do not use" is the blackest thing on the page."""
    stop = passport.weight == "stop"
    head = _HEADS[passport.weight]
    small = ParagraphStyle("because", parent=STRONG, textColor=white if stop else black)
    words: list[Flowable] = [body(passport.answer, style=head)]
    words += [body(each, style=small) for each in passport.because[:most]]
    if len(passport.because) > most:
        words.append(body(f"And {len(passport.because) - most} more.", style=small))
    band = Table([[words]], colWidths=[WIDTH])
    style: list[tuple[Any, ...]] = [
        ("LEFTPADDING", (0, 0), (-1, -1), 10),
        ("RIGHTPADDING", (0, 0), (-1, -1), 10),
        ("TOPPADDING", (0, 0), (-1, -1), 6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 9),
        ("BOX", (0, 0), (-1, -1), 3 if passport.weight == "care" else 0.8, black),
    ]
    if stop:
        style.append(("BACKGROUND", (0, 0), (-1, -1), black))
    band.setStyle(TableStyle(style))
    return band


def _marks(passport: Passport) -> Flowable:
    each = WIDTH / max(len(passport.marks), 1)
    cells: list[Flowable] = []
    for mark in passport.marks:
        shape = MarkShape(mark.word)
        words: list[Flowable] = [body(mark.heading, style=HEAD), body(mark.word, style=STRONG)]
        if mark.since:
            words.append(body(mark.since, style=SMALL))
        room = shape.width + 4 if shape.width else 0
        cell = Table([[shape, words]], colWidths=[room, each - room - 8])
        cell.setStyle(TableStyle([*BARE, ("TOPPADDING", (0, 0), (0, 0), 9)]))
        cells.append(cell)
    table = Table([cells or [Spacer(0, 0)]], colWidths=[each] * max(len(cells), 1))
    table.setStyle(TableStyle(BARE))
    return table


def _gone_to(passport: Passport) -> list[Flowable]:
    if not passport.gone_to:
        return []
    rows = [
        [body(field.label, style=HEAD), body(field.value, style=STRONG)]
        for field in passport.gone_to
    ]
    table = Table(rows, colWidths=[34 * mm, WIDTH - 34 * mm], style=TableStyle([*BARE, *_LINED]))
    return [Heading("Out with"), table]


def _proofs(passport: Passport) -> list[Flowable]:
    rows: list[list[Flowable]] = [
        [body(words, style=HEAD) for words in ("What", "When", "Result", "By", "Record")]
    ]
    rows += [
        [
            body(proof.what, style=STRONG),
            body(proof.when),
            body(proof.result, style=STRONG),
            body(proof.who, style=SMALL),
            body(proof.record, style=FIGURE),
        ]
        for proof in passport.proofs
    ]
    widths = [36 * mm, 30 * mm, WIDTH - 124 * mm, 38 * mm, 20 * mm]
    table = Table(rows, colWidths=widths, style=TableStyle([*BARE, *_LINED]))
    return [Heading("Last looked at and tested"), table]


def _coming(passport: Passport, *, most: int) -> list[Flowable]:
    story: list[Flowable] = [Heading("Next due")]
    if not passport.coming:
        return [*story, body("No plan runs on this machine.")]
    rows: list[list[Flowable]] = [
        [body(words, style=HEAD) for words in ("Work", "Due", "How it stands")]
    ]
    rows += [
        [body(each.what, style=STRONG), body(each.due), body(each.state, style=STRONG)]
        for each in passport.coming[:most]
    ]
    widths = [WIDTH - 106 * mm, 66 * mm, 40 * mm]
    table = Table(rows, colWidths=widths, style=TableStyle([*BARE, *_LINED]))
    story.append(table)
    if len(passport.coming) > most:
        story.append(body(f"And {len(passport.coming) - most} more, later.", style=SMALL))
    return story


def _cautions(passport: Passport) -> list[Flowable]:
    if not passport.cautions:
        return []
    lines: list[Flowable] = []
    for caution in passport.cautions:
        lines += [CautionLine(strength=caution.strength, words=caution.words), Spacer(0, 2)]
    return [Heading("Before you use it"), *lines]


def _report(passport: Passport) -> list[Flowable]:
    """How a fault gets to somebody: by the code, by its four characters, by telephone."""
    side = 34 * mm
    words: list[Flowable] = [
        body("1. Stop, unplug or turn the fuel off. Keep others away.", style=STRONG),
        body(f"2. {passport.report}"),
    ]
    if passport.short_code:
        words.append(
            body(f"The code cannot be read? Signed in, type Code {passport.short_code} under Scan.")
        )
    if passport.phone:
        words += [body("3. Or ring the depot:"), body(passport.phone, style=PHONE)]
    code = QrCode(passport.link, side=side, error="q") if passport.link else Spacer(0, 0)
    table = Table([[words, code]], colWidths=[WIDTH - side, side])
    table.setStyle(TableStyle([*BARE, ("VALIGN", (0, 0), (0, 0), "MIDDLE")]))
    return [KeepTogether([Heading("Something wrong"), table])]


_LINE_GREY = Color(0.45, 0.45, 0.45)
_LINED: list[tuple[Any, ...]] = [
    ("LINEBELOW", (0, 0), (-1, -1), HAIR, _LINE_GREY),
    ("LINEBELOW", (0, 0), (-1, 0), THIN, _LINE_GREY),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-2, -1), 4),
]
PHONE = ParagraphStyle("phone", parent=STRONG, fontName=MONO_BOLD, fontSize=15, leading=19)
_HEADS: dict[str, ParagraphStyle] = {
    "stop": ParagraphStyle("stopped", fontName=SANS_BOLD, fontSize=40, leading=48, textColor=white),
    "care": ParagraphStyle("care", fontName=SANS_BOLD, fontSize=22, leading=28),
    "plain": ParagraphStyle("plain", fontName=SANS_BOLD, fontSize=16, leading=21),
}
