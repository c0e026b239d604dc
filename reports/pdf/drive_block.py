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
Cell = Flowable | list[Flowable] | str


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


@dataclass(frozen=True)
class Setting:
    """How closely a drive is set.

    picture_height, gap: [pt]; key: whether the grooves carry one; the rest: styles of tables.
    """

    picture_height: float
    gap: float
    key: bool
    words: ParagraphStyle
    strong: ParagraphStyle
    figure: ParagraphStyle
    right: ParagraphStyle


def _setting(*, picture_height: float, gap: float, key: bool, size: float) -> Setting:
    words = ParagraphStyle("drive", parent=SMALL, fontSize=size, leading=size + 1.5)
    return Setting(
        picture_height=picture_height,
        gap=gap,
        key=key,
        words=words,
        strong=ParagraphStyle("drive strong", parent=words, fontName=SANS_BOLD),
        figure=ParagraphStyle(
            "drive figure", parent=words, fontName=MONO, fontSize=size - 0.2, alignment=TA_RIGHT
        ),
        right=ParagraphStyle("drive right", parent=words, alignment=TA_RIGHT),
    )


ROOMY = _setting(picture_height=116.0, gap=4.0, key=True, size=7.4)
CLOSE = _setting(picture_height=96.0, gap=1.5, key=False, size=7.0)


def draw_drive(block: DriveBlock, *, setting: Setting = ROOMY) -> list[Flowable]:
    """Sets one drive: the answer first, then the pictures, what it rests on, and the working.

    Args:
        block: the drive with its sums.
        setting: ROOMY, or CLOSE where it is to share a page.

    Returns:
        Flowables of the full page width, in reading order.
    """
    story: list[Flowable] = [Heading(block.title, remark=block.belt)]
    story += _answer(block)
    pictures = _pictures(block, setting=setting)
    if pictures:
        story.append(pictures)
    story += _ground(block, setting=setting)
    if block.lines:
        story += _working(block, setting=setting)
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
    return [answer, Spacer(0, 2)]


def _pictures(block: DriveBlock, *, setting: Setting) -> Flowable | None:
    count = len(block.grooves) + (block.layout is not None)
    if not count:
        return None
    columns, height = min(count, 3), setting.picture_height
    width = (WIDTH - (columns - 1) * 8) / columns
    if columns < 3:
        width, height = min(width, 240.0), height * 1.15
    drawings: list[Flowable] = [
        belt_in_groove(**_fields(groove), key=setting.key, width=width, height=height)
        for groove in block.grooves
    ]
    if block.layout is not None:
        drawings.append(drive_layout(**_fields(block.layout), width=width, height=height))
    rows = [drawings[start : start + columns] for start in range(0, len(drawings), columns)]
    rows[-1] += [Spacer(0, 0)] * (columns - len(rows[-1]))
    table = Table(rows, colWidths=[WIDTH / columns] * columns)
    table.setStyle(TableStyle([*BARE, ("ALIGN", (0, 0), (-1, -1), "CENTER")]))
    return table


def _ground(block: DriveBlock, *, setting: Setting) -> list[Flowable]:
    """What the sums start from and what comes out, the boxes for today, and the tension band.

    The band stands under the results where the inputs are the longer, else beside the boxes.
    """
    gutter = 6 * mm
    left_width = 102 * mm if block.results else WIDTH - gutter
    right_width = WIDTH - left_width - gutter
    left = _inputs(block.inputs, width=left_width, setting=setting) if block.inputs else None
    right = _results(block.results, width=right_width, setting=setting) if block.results else None
    band = tension_band(**_fields(block.band), width=62 * mm, height=_BAND) if block.band else None
    story: list[Flowable] = []
    under: list[Flowable] = [right] if right else []
    if left and right and band and _tall(right) + _BAND <= _tall(left) + setting.gap:
        under.append(band)
        band = None
    if left or under:
        table = Table(
            [[left or "", "", under]], colWidths=[left_width, gutter, right_width], splitInRow=1
        )
        table.setStyle(TableStyle(BARE))
        story += [Spacer(0, setting.gap), table]
    if block.blanks:
        room = WIDTH - (62 * mm + gutter if band else 0)
        boxes: Flowable = Table(
            [[_blanks(block, width=room), band or ""]],
            colWidths=[room + (gutter if band else 0), None if band else 0],
            style=TableStyle(BARE),
        )
        story += [Spacer(0, setting.gap), KeepTogether([boxes])]
    elif band:
        story += [Spacer(0, setting.gap), band]
    return story


def _tall(table: Table) -> float:
    return float(table.wrap(WIDTH, 1e6)[1])


def _inputs(inputs: tuple[DriveInput, ...], *, width: float, setting: Setting) -> Table:
    rows: list[list[Cell]] = [
        [
            body("What the sums start from", style=HEAD),
            body("", style=HEAD),
            body("", style=HEAD),
            body("how known", style=HEAD),
        ]
    ]
    for item in inputs:
        words = f"{item.name}; {item.note}" if item.note else item.name
        rows.append(
            [
                body(item.symbol, style=setting.strong),
                body(words, style=setting.words),
                _figure(item.value, item.doubt, setting=setting),
                Guess() if item.certainty == "guess" else body(item.certainty, style=setting.words),
            ]
        )
    symbol_width = 7 * mm if any(item.symbol for item in inputs) else 5.0
    widths = [symbol_width, width - symbol_width - 43 * mm, 26 * mm, 17 * mm]
    table = Table(rows, colWidths=widths, repeatRows=1)
    table.setStyle(
        TableStyle([*_RULED, ("SPAN", (0, 0), (2, 0)), ("LEFTPADDING", (3, 0), (3, -1), 6)])
    )
    return table


def _results(results: tuple[DriveResult, ...], *, width: float, setting: Setting) -> Table:
    rows: list[list[Cell]] = [[body("What comes out", style=HEAD), body("", style=HEAD)]]
    for item in results:
        words = f"{item.name}; {item.note}" if item.note else item.name
        rows.append(
            [
                body(words, style=setting.words),
                _figure(item.value, item.doubt, setting=setting),
            ]
        )
    table = Table(rows, colWidths=[width - 27 * mm, 27 * mm], repeatRows=1)
    table.setStyle(TableStyle([*_RULED, ("SPAN", (0, 0), (1, 0))]))
    return table


def _blanks(block: DriveBlock, *, width: float) -> list[Flowable]:
    """The boxes to fill today, four to a row, each with what was read last under it."""
    across = 4
    gap = 8.0
    each = (width - (across - 1) * gap) / across
    cells: list[list[Flowable]] = []
    for blank in block.blanks:
        cell: list[Flowable] = [
            Box(width=each, label=blank.label, unit=blank.unit, value=blank.value)
        ]
        if blank.last:
            cell.append(body(blank.last, style=NOTE))
        cells.append(cell)
    cells += [[]] * (-len(cells) % across)
    rows = [cells[start : start + across] for start in range(0, len(cells), across)]
    table = Table(rows, colWidths=[each + gap] * (across - 1) + [each], hAlign="LEFT")
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
    return [Paragraph(head, SMALL), Spacer(0, 2), table]


def _working(block: DriveBlock, *, setting: Setting) -> list[Flowable]:
    """Every formula with its figures; sources once each, numbered, under the lines."""
    sources: dict[tuple[str, str], dict[str, list[str]]] = {}
    rows: list[list[Cell]] = [
        [
            body("The working", style=HEAD),
            body("formula, and with its figures", style=HEAD),
            body("result", style=HEAD_RIGHT),
            body("from", style=HEAD_RIGHT),
        ]
    ]
    for line in block.lines:
        ranges = sources.setdefault((line.source, line.trust), {})
        ranges.setdefault(line.validity, []).append(line.symbol)
        number = list(sources).index((line.source, line.trust)) + 1
        name = Paragraph(
            f'<font name="{SANS_BOLD}">{text(line.symbol, face=SANS_BOLD)}</font> '
            f"{text(line.name)}",
            setting.words,
        )
        formula = text(f"{line.expression} = {line.figures}" if line.figures else line.expression)
        if line.warning:
            warning = text(f"Note: {line.warning}", face=SANS_ITALIC)
            formula += f'; <font name="{SANS_ITALIC}">{warning}</font>'
        rows.append(
            [
                name,
                Paragraph(formula, setting.words),
                _figure(line.result, line.doubt, setting=setting),
                body(str(number), style=setting.right),
            ]
        )
    table = Table(rows, colWidths=[47 * mm, WIDTH - 82 * mm, 28 * mm, 7 * mm], repeatRows=1)
    table.setStyle(TableStyle(_RULED))
    notes: list[str] = []
    for number, ((source, trust), ranges) in enumerate(sources.items(), start=1):
        parts = [f'<font name="{SANS_BOLD}">{number}</font> {text(source)}']
        if trust:
            parts.append(f'<font name="{SANS_ITALIC}">{text(trust, face=SANS_ITALIC)}</font>')
        parts += [
            f"range of {text(', '.join(dict.fromkeys(symbols)))}: {text(validity)}"
            for validity, symbols in ranges.items()
            if validity
        ]
        notes.append("; ".join(parts) + ".")
    if block.sums_version:
        notes.append(text(f"Worked out by version {block.sums_version} of the sums."))
    return [Spacer(0, setting.gap), table, Spacer(0, 2), Paragraph(" ".join(notes), NOTE)]


def _figure(value: str, doubt: str, *, setting: Setting) -> Paragraph:
    words = f"{value} {doubt}".strip()
    return Paragraph(text(words, face=MONO), setting.figure)


def _fields(picture: GroovePicture | LayoutPicture | BandPicture) -> dict[str, Any]:
    return {field.name: getattr(picture, field.name) for field in fields(picture)}


NOTE = ParagraphStyle("note", parent=SMALL, fontSize=7, leading=8.4)
_BAND = 50.0
_RULED: list[tuple[Any, ...]] = [
    *BARE,
    ("RIGHTPADDING", (0, 0), (-2, -1), 4),
    ("TOPPADDING", (0, 0), (-1, -1), 0.7),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
    ("LINEBELOW", (0, 0), (-1, 0), THIN, black),
    ("LINEBELOW", (0, 1), (-1, -1), HAIR, Color(0.55, 0.55, 0.55)),
]
