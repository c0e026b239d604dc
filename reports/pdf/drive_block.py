"""The belt-drive calculation, as it stands on any sheet."""

from dataclasses import dataclass, fields
from typing import Any, Literal

from reportlab.lib.colors import Color, black
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table, TableStyle

from plant.drawings.belt_in_groove import belt_in_groove
from plant.drawings.drive_layout import drive_layout
from plant.drawings.tension_band import tension_band
from plant.drives.formula import FormulaLine
from reports.pdf.boxes import (
    BARE,
    HAIR,
    HEAD,
    HEAD_RIGHT,
    SMALL,
    THIN,
    VERDICT,
    Box,
    CautionLine,
    Guess,
    Heading,
    body,
)
from reports.pdf.fonts import MONO, SANS_BOLD, SANS_ITALIC, text
from reports.pdf.page import WIDTH

Certainty = Literal["measured", "from plate", "guess"]
Cell = Flowable | list[Flowable]


@dataclass(frozen=True)
class DriveInput:
    """One figure that the sums start from.

    name: "small pulley, datum diameter"; value: with its unit, "80.0 mm"; doubt: "± 0.5 mm" or
    empty; certainty: how it is known, printed as a word; symbol: as in the formulas, "d1";
    note: where from or when, "gauge 3, 18 Aug 2026", or empty.
    """

    name: str
    value: str
    certainty: Certainty
    doubt: str = ""
    symbol: str = ""
    note: str = ""


@dataclass(frozen=True)
class DriveBlank:
    """A figure to be measured today: printed as an empty box, or filled when value is given.

    label: "top width"; unit: "mm", stands inside the box; last: "last 11.9 ± 0.2 mm, 18 Aug 2026".
    """

    label: str
    unit: str
    value: str = ""
    last: str = ""


@dataclass(frozen=True)
class DriveResult:
    """One answer: "room under the belt, small pulley", "−0.3 mm", "± 0.5 mm", "it may touch"."""

    name: str
    value: str
    doubt: str = ""
    note: str = ""


@dataclass(frozen=True)
class GroovePicture:
    """What plant.drawings.belt_in_groove draws; all lengths [m], angles [rad] (whole angle).

    clearance: room under the belt without the cap, so it may be negative;
    drop_now: drop from the flanks alone; capped_drop: the drop once the floor holds the belt;
    ride: top of the belt above the rim, as the sums print it (None: taken from the picture).
    """

    label: str
    datum_width: float
    groove_angle: float
    groove_depth_below_datum: float
    above_datum: float
    belt_top_width_new: float
    belt_height: float
    belt_angle: float
    drop_now: float
    capped_drop: float
    width_now: float
    clearance: float
    depth_guessed: bool = False
    ride: float | None = None


@dataclass(frozen=True)
class LayoutPicture:
    """What plant.drawings.drive_layout draws; all lengths [m].

    small, large: datum diameters; centres_*: shaft distance when the belt was new, now, and needed
    for a tight belt; slot_low, slot_high: shaft distance at the two ends of the slot; None where
    it is not known.
    """

    small: float
    large: float
    centres_now: float
    centres_new: float | None = None
    centres_needed: float | None = None
    slot_low: float | None = None
    slot_high: float | None = None
    small_name: str = "small pulley"
    large_name: str = "large pulley"


@dataclass(frozen=True)
class BandPicture:
    """What plant.drawings.tension_band draws; all forces [N]."""

    low: float
    high: float
    reading: float | None = None
    reading_doubt: float = 0.0


@dataclass(frozen=True)
class DriveBlock:
    """One belt drive of a machine with its sums, ready to print.

    title: "Belt drive: motor to drum"; belt: what is fitted, with its length and system;
    verdict: the answer in words, first; because: sentences after it (reasons, likely date with
    earliest and latest); warnings: each with what to do; blanks: boxes to fill today;
    last: the last reading in one sentence; sums_version: of the mathematics, as text.
    """

    title: str
    belt: str
    verdict: str
    because: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    inputs: tuple[DriveInput, ...] = ()
    blanks: tuple[DriveBlank, ...] = ()
    last: str = ""
    results: tuple[DriveResult, ...] = ()
    lines: tuple[FormulaLine, ...] = ()
    sums_version: str = ""
    grooves: tuple[GroovePicture, ...] = ()
    layout: LayoutPicture | None = None
    band: BandPicture | None = None


def draw_drive(block: DriveBlock, *, picture_height: float = 116.0) -> list[Flowable]:
    """Sets one drive: the answer first, then the pictures, what it rests on, and the working.

    Args:
        block: the drive with its sums.
        picture_height: [pt] of a row of pictures, three to the row.

    Returns:
        Flowables of the full page width, in reading order.
    """
    story: list[Flowable] = [Heading(block.title, remark=block.belt)]
    story += _answer(block)
    pictures = _pictures(block, height=picture_height)
    if pictures:
        story.append(pictures)
    story += _ground(block)
    if block.lines:
        story += _working(block)
    return story


def _answer(block: DriveBlock) -> list[Flowable]:
    words: list[Flowable] = [body(block.verdict, style=VERDICT)]
    if block.because:
        words.append(body(" ".join(block.because)))
    words += [CautionLine(strength="Take care", words=warning) for warning in block.warnings]
    answer = Table([[words]], colWidths=[WIDTH], splitInRow=1)
    answer.setStyle(
        TableStyle(
            [
                ("LINEBEFORE", (0, 0), (0, -1), 2.4, black),
                ("LEFTPADDING", (0, 0), (-1, -1), 7),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ]
        )
    )
    return [answer, Spacer(0, 4)]


def _pictures(block: DriveBlock, *, height: float) -> Flowable | None:
    count = len(block.grooves) + (block.layout is not None)
    if not count:
        return None
    columns = min(count, 3)
    width = (WIDTH - (columns - 1) * 8) / columns
    if columns < 3:
        width, height = min(width, 240.0), height * 1.15
    drawings: list[Flowable] = [
        belt_in_groove(**_fields(groove), width=width, height=height) for groove in block.grooves
    ]
    if block.layout is not None:
        drawings.append(drive_layout(**_fields(block.layout), width=width, height=height))
    rows = [drawings[start : start + columns] for start in range(0, len(drawings), columns)]
    rows[-1] += [Spacer(0, 0)] * (columns - len(rows[-1]))
    table = Table(rows, colWidths=[WIDTH / columns] * columns)
    table.setStyle(TableStyle([*BARE, ("ALIGN", (0, 0), (-1, -1), "CENTER")]))
    return table


def _ground(block: DriveBlock) -> list[Flowable]:
    """What the sums start from on the left; what comes out, and the tension band, on the right."""
    left_width, gutter = 94 * mm, 6 * mm
    right_width = WIDTH - left_width - gutter
    left = _inputs(block.inputs, width=left_width) if block.inputs else Spacer(0, 0)
    right: list[Flowable] = []
    if block.results:
        right.append(_results(block.results, width=right_width))
    if block.band is not None:
        right.append(Spacer(0, 5))
        right.append(tension_band(**_fields(block.band), width=right_width, height=50))
    story: list[Flowable] = []
    if block.inputs or right:
        table = Table(
            [[left, "", right]], colWidths=[left_width, gutter, right_width], splitInRow=1
        )
        table.setStyle(TableStyle(BARE))
        story += [Spacer(0, 4), table]
    if block.blanks:
        story += [Spacer(0, 4), _blanks(block)]
    return story


def _inputs(inputs: tuple[DriveInput, ...], *, width: float) -> Table:
    rows: list[list[Cell]] = [
        [
            body("What the sums start from", style=HEAD),
            body("", style=HEAD),
            body("", style=HEAD),
            body("how known", style=HEAD),
        ]
    ]
    for item in inputs:
        name = body(f"{item.name}; {item.note}" if item.note else item.name, style=SMALL)
        known = Guess() if item.certainty == "guess" else body(item.certainty, style=SMALL)
        rows.append(
            [body(item.symbol, style=SMALL_STRONG), name, _figure(item.value, item.doubt), known]
        )
    table = Table(rows, colWidths=[7 * mm, width - 50 * mm, 26 * mm, 17 * mm], repeatRows=1)
    table.setStyle(
        TableStyle([*_RULED, ("SPAN", (0, 0), (2, 0)), ("LEFTPADDING", (3, 0), (3, -1), 6)])
    )
    return table


def _results(results: tuple[DriveResult, ...], *, width: float) -> Table:
    rows: list[list[Cell]] = [[body("What comes out", style=HEAD), body("", style=HEAD)]]
    for item in results:
        name = body(f"{item.name}; {item.note}" if item.note else item.name, style=SMALL)
        rows.append([name, _figure(item.value, item.doubt)])
    table = Table(rows, colWidths=[width - 27 * mm, 27 * mm], repeatRows=1)
    table.setStyle(TableStyle([*_RULED, ("SPAN", (0, 0), (1, 0))]))
    return table


def _blanks(block: DriveBlock) -> Flowable:
    """The boxes to fill today, four to a row, each with what was read last under it."""
    across = 4
    gap = 8.0
    width = (WIDTH - (across - 1) * gap) / across
    cells: list[list[Flowable]] = []
    for blank in block.blanks:
        cell: list[Flowable] = [
            Box(width=width, label=blank.label, unit=blank.unit, value=blank.value)
        ]
        if blank.last:
            cell.append(body(blank.last, style=NOTE))
        cells.append(cell)
    cells += [[]] * (-len(cells) % across)
    rows = [cells[start : start + across] for start in range(0, len(cells), across)]
    table = Table(rows, colWidths=[width + gap] * (across - 1) + [width])
    table.setStyle(
        TableStyle(
            [
                *BARE,
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-2, -1), gap),
            ]
        )
    )
    head = f'<font name="{SANS_BOLD}">Measured today.</font> {text(block.last)}'
    return KeepTogether([Paragraph(head, SMALL), Spacer(0, 2), table])


def _working(block: DriveBlock) -> list[Flowable]:
    """Every formula with its figures; sources once each, numbered, under the lines."""
    sources: dict[tuple[str, str, str], int] = {}
    rows: list[list[Cell]] = [
        [
            body("The working", style=HEAD),
            body("formula, and with its figures", style=HEAD),
            body("result", style=HEAD_RIGHT),
            body("from", style=HEAD_RIGHT),
        ]
    ]
    for line in block.lines:
        number = sources.setdefault((line.source, line.trust, line.validity), len(sources) + 1)
        name = Paragraph(
            f'<font name="{SANS_BOLD}">{text(line.symbol, face=SANS_BOLD)}</font> '
            f"{text(line.name)}",
            SMALL,
        )
        formula = f"{line.expression} = {line.figures}" if line.figures else line.expression
        working: list[Flowable] = [body(formula, style=SMALL)]
        if line.warning:
            working.append(CautionLine(strength="Take care", words=line.warning))
        rows.append(
            [name, working, _figure(line.result, line.doubt), body(str(number), style=RIGHT)]
        )
    table = Table(rows, colWidths=[43 * mm, WIDTH - 83 * mm, 31 * mm, 9 * mm], repeatRows=1)
    table.setStyle(TableStyle(_RULED))
    notes: list[str] = []
    for (source, trust, validity), number in sources.items():
        parts = [f'<font name="{SANS_BOLD}">{number}</font> {text(source)}']
        if trust:
            parts.append(f'<font name="{SANS_ITALIC}">{text(trust, face=SANS_ITALIC)}</font>')
        if validity:
            parts.append(f"holds for {text(validity)}")
        notes.append("; ".join(parts) + ".")
    if block.sums_version:
        notes.append(text(f"Worked out by version {block.sums_version} of the sums."))
    return [Spacer(0, 4), table, Spacer(0, 2), Paragraph(" ".join(notes), NOTE)]


def _figure(value: str, doubt: str) -> Paragraph:
    words = f"{value} {doubt}".strip()
    return Paragraph(text(words, face=MONO), FIGURE_SMALL)


def _fields(picture: GroovePicture | LayoutPicture | BandPicture) -> dict[str, Any]:
    return {field.name: getattr(picture, field.name) for field in fields(picture)}


NOTE = ParagraphStyle("note", parent=SMALL, fontSize=7, leading=8.4)
RIGHT = ParagraphStyle("right", parent=SMALL, alignment=TA_RIGHT)
SMALL_STRONG = ParagraphStyle("small strong", parent=SMALL, fontName=SANS_BOLD)
FIGURE_SMALL = ParagraphStyle(
    "figure small", parent=SMALL, fontName=MONO, fontSize=7.2, alignment=TA_RIGHT
)
_RULED: list[tuple[Any, ...]] = [
    *BARE,
    ("RIGHTPADDING", (0, 0), (-2, -1), 4),
    ("TOPPADDING", (0, 0), (-1, -1), 0.7),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
    ("LINEBELOW", (0, 0), (-1, 0), THIN, black),
    ("LINEBELOW", (0, 1), (-1, -1), HAIR, Color(0.55, 0.55, 0.55)),
]
