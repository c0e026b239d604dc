"""The passport: one page that goes with the machine, with its last looks, tests and next work."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from reportlab.lib.units import mm

from plant.drawings.strokes import THIN
from plant.translate import gettext as _
from reports.pdf.fonts import MONO_BOLD, SANS_BOLD
from reports.pdf.furniture import (
    BODY,
    FIGURE,
    HEAD,
    NOTE,
    SMALL,
    STRONG,
    CautionLine,
    Heading,
    MarkShape,
)
from reports.pdf.page import WIDTH, Printed, Running, draw, lay_out
from reports.pdf.pen import Pen
from reports.pdf.pieces import Piece, Room, Row, Stack, Style, body
from reports.pdf.plate import Plate, PlateField, PlatePiece
from reports.pdf.qr import QrPiece
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
    report: str = field(
        default_factory=lambda: _("Scan the code with a phone and press Something wrong.")
    )
    link: str = ""
    short_code: str = ""
    phone: str = ""
    cautions: tuple[Caution, ...] = ()
    defer: str = field(
        default_factory=lambda: _(
            "This page tells how the machine stood when it was printed. Each check after that "
            "counts more. It gives way to the maker's handbook, the law and the site's rules where "
            "you are."
        )
    )


def render(passport: Passport) -> bytes:
    """Draws the passport on one page of A4, unless its texts are longer than a page.

    Returns:
        A PDF; equal passports give equal bytes.
    """
    running = Running(
        title=_("Machine passport {passport}").format(passport=passport.number).strip(),
        subject=f"{passport.plate.number}, {passport.plate.kind}",
        printed=passport.printed,
    )
    # What is left off first: reasons and work that stand on the machine's page as well.
    for reasons, lines, gap in ((6, 9, 9), (6, 9, 0), (3, 6, 0), (2, 3, 0)):
        pages = lay_out(_story(passport, reasons=reasons, lines=lines, gap=gap))
        if len(pages) == 1:
            break
    return draw(pages, running=running)


def _story(passport: Passport, *, reasons: int, lines: int, gap: float) -> list[Piece]:
    story: list[Piece] = [PlatePiece(passport.plate, width=WIDTH), Room(6)]
    story += [_answer(passport, most=reasons), Room(4), _marks(passport)]
    parts = (
        _gone_to(passport),
        _proofs(passport),
        _coming(passport, most=lines),
        _cautions(passport),
        _report(passport),
    )
    for part in parts:
        story += [Room(gap), *part] if part else []
    return [*story, Room(4), body(passport.defer, style=NOTE, width=WIDTH)]


class Band(Piece):
    """Words in a frame, white on black where black is asked for."""

    def __init__(self, words: Piece, *, weight: float, black: bool) -> None:
        self.words, self.weight, self.black = words, weight, black
        self.width, self.height = WIDTH, words.height + 15

    def put(self, pen: Pen, x: float, y: float) -> None:
        corners = [(x, y), (x + WIDTH, y), (x + WIDTH, y + self.height), (x, y + self.height)]
        fill = 0.0 if self.black else None
        pen.path(corners, weight=self.weight, closed=True, fill=fill)
        self.words.put(pen, x + 10, y + 9)


def _answer(passport: Passport, *, most: int) -> Piece:
    """The answer first, in a band of its own; "Do not use" is the blackest thing on the page."""
    stop = passport.weight == "stop"
    small = replace(STRONG, grey=1.0) if stop else STRONG
    width = WIDTH - 20
    words: list[Piece] = [body(passport.answer, style=_HEADS[passport.weight], width=width)]
    words += [body(each, style=small, width=width) for each in passport.because[:most]]
    if len(passport.because) > most:
        more = _("And {count} more.").format(count=len(passport.because) - most)
        words.append(body(more, style=small, width=width))
    return Band(Stack(words), weight=3 if passport.weight == "care" else 0.8, black=stop)


def _marks(passport: Passport) -> Piece:
    each = WIDTH / max(len(passport.marks), 1)
    cells: list[Piece] = []
    for mark in passport.marks:
        shape = MarkShape(mark.word)
        before = shape.width + 4 if shape.width else 0.0
        width = each - before - 8
        words: list[Piece] = [
            body(mark.heading, style=HEAD, width=width),
            body(mark.word, style=STRONG, width=width),
        ]
        if mark.since:
            words.append(body(mark.since, style=SMALL, width=width))
        cells.append(Row([Stack([Room(9), shape]), Stack(words)], [before, each - before]))
    return Row(cells, [each] * len(cells))


def _gone_to(passport: Passport) -> list[Piece]:
    if not passport.gone_to:
        return []
    rows = [
        _row(((field.label, HEAD), (field.value, STRONG)), [34 * mm, WIDTH - 34 * mm])
        for field in passport.gone_to
    ]
    return [Heading(_("Out with")), *rows]


def _proofs(passport: Passport) -> list[Piece]:
    widths = [36 * mm, 30 * mm, WIDTH - 124 * mm, 38 * mm, 20 * mm]
    heads = [(words, HEAD) for words in (_("What"), _("When"), _("Result"), "By", _("Record"))]
    head = _row(heads, widths)
    rows = [
        _row(
            (
                (proof.what, STRONG),
                (proof.when, BODY),
                (proof.result, STRONG),
                (proof.who, SMALL),
                (proof.record, FIGURE),
            ),
            widths,
        )
        for proof in passport.proofs
    ]
    return [Heading(_("Last looked at and tested")), head, *rows]


def _coming(passport: Passport, *, most: int) -> list[Piece]:
    heading = Heading(_("Next due"))
    if not passport.coming:
        return [heading, body(_("No plan runs on this machine."), style=BODY, width=WIDTH)]
    widths = [WIDTH - 106 * mm, 66 * mm, 40 * mm]
    rows: list[Piece] = [
        _row([(each, HEAD) for each in (_("Work"), _("Due"), _("How it stands"))], widths)
    ]
    rows += [
        _row(((each.what, STRONG), (each.due, BODY), (each.state, STRONG)), widths)
        for each in passport.coming[:most]
    ]
    if len(passport.coming) > most:
        more = _("And {count} more, later.").format(count=len(passport.coming) - most)
        rows.append(body(more, style=SMALL, width=WIDTH))
    return [heading, *rows]


def _cautions(passport: Passport) -> list[Piece]:
    if not passport.cautions:
        return []
    lines: list[Piece] = []
    for caution in passport.cautions:
        line = CautionLine(strength=caution.strength, words=caution.words, width=WIDTH)
        lines += [line, Room(2)]
    return [Heading(_("Before you use it")), *lines]


def _report(passport: Passport) -> list[Piece]:
    """How a fault gets to somebody: by the code, by its four characters, by telephone."""
    side = 34 * mm
    told = [
        (_("1. Stop, unplug or turn the fuel off. Keep others away."), STRONG),
        (f"2. {passport.report}", BODY),
    ]
    if passport.short_code:
        code = passport.short_code
        told.append(
            (
                _("The code cannot be read? Signed in, type Code {code} under Scan.").format(
                    code=code
                ),
                BODY,
            )
        )
    if passport.phone:
        told += [(_("3. Or ring the depot:"), BODY), (passport.phone, PHONE)]
    words = Stack([body(each, style=style, width=WIDTH - side - 4) for each, style in told])
    code_piece = QrPiece(passport.link, side=side, error="q") if passport.link else None
    row = Row([words, code_piece], [WIDTH - side, side], stand=("middle", "top"))
    return [Heading(_("Something wrong")), row]


def _row(cells: Sequence[tuple[str, Style]], widths: Sequence[float]) -> Row:
    pieces = [
        body(words, style=style, width=width - 4)
        for (words, style), width in zip(cells, widths, strict=True)
    ]
    return Row(pieces, widths, top=1.5, bottom=2, rule=THIN)


PHONE = replace(STRONG, face=MONO_BOLD, size=15, leading=19)
_HEADS = {
    "stop": Style(face=SANS_BOLD, size=40, leading=48, grey=1.0),
    "care": Style(face=SANS_BOLD, size=22, leading=28),
    "plain": Style(face=SANS_BOLD, size=16, leading=21),
}
