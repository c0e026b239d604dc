"""The service sheet: what it holds, and how it is drawn on A4."""

from dataclasses import dataclass
from typing import Any, Literal

from reportlab.lib.colors import Color, black
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table, TableStyle

from reports.pdf.boxes import (
    BARE,
    BODY,
    BOX_HEIGHT,
    FIGURE,
    HAIR,
    HEAD,
    HEAD_CENTRE,
    SMALL,
    STRONG,
    THIN,
    Box,
    CautionLine,
    Heading,
    Lines,
    MarkShape,
    Reading,
    TickBox,
    TickMark,
    body,
)
from reports.pdf.drive_block import CLOSE, NOTE, ROOMY, DriveBlock, Setting, draw_drive
from reports.pdf.fonts import SANS_ITALIC
from reports.pdf.page import WIDTH, Printed, Running, build_counted
from reports.pdf.plate import Plate, PlateBlock
from reports.pdf.qr import QrCode


@dataclass(frozen=True)
class Mark:
    """One of the machine's three marks: heading "May it be used", word "Do not use", since."""

    heading: str
    word: str
    since: str = ""


@dataclass(frozen=True)
class OpenFault:
    """A fault not yet put right; decision: "stop", "carry on with a note until 3 Dec 2026"."""

    number: str
    words: str
    decision: str


@dataclass(frozen=True)
class Caution:
    """A caution at the step it belongs to: hazard, harm, act; at most 15 words."""

    strength: Literal["Stop", "Take care", "Note"]
    words: str


@dataclass(frozen=True)
class Tick:
    """A thing to tick. value: text that was filled in; blank: label of a box to write in, or "".

    done: whether the tick is already set.
    """

    words: str
    done: bool = False
    blank: str = ""
    value: str = ""


@dataclass(frozen=True)
class Step:
    """One step of the service.

    target: "12 to 18 N"; unit: unit of the reading box, and whether there is one ("" and
    takes_reading False: no box); reading, answer, note: filled in, or empty for use by hand.
    """

    words: str
    target: str = ""
    unit: str = ""
    takes_reading: bool = False
    reading: str = ""
    answer: Literal["", "OK", "Wrong", "Could not check"] = ""
    note: str = ""
    caution: Caution | None = None


@dataclass(frozen=True)
class PartLine:
    """A part used, or kitted for the job: number, what, from where, how many with unit."""

    number: str
    what: str
    taken_from: str = ""
    quantity: str = ""


@dataclass(frozen=True)
class Signature:
    """Who and when; empty texts leave boxes for a biro."""

    name: str = ""
    date: str = ""


@dataclass(frozen=True)
class ServiceSheet:
    """A service sheet, blank for use by hand or filled; every text is ready to print.

    sheet_number: "4471"; link: what the QR code holds, or empty; meter_now, total_hours: with
    unit, or empty to leave a box; why_now: sentences; before_start: ticks, with made_safe as the
    name and time of who made it safe; blank_part_lines: empty lines after the parts;
    found, cause, done: texts or empty for lines; twelve steps, and one drive with about ten
    inputs, six results and eleven lines of working, keep it to the two sides of one leaf;
    second_person: a line in words when another person must check, else ""; defer: what this
    sheet gives way to.
    """

    sheet_number: str
    plate: Plate
    printed: Printed
    title: str = "Service sheet"
    job_number: str = ""
    link: str = ""
    marks: tuple[Mark, ...] = ()
    meter_now: str = ""
    total_hours: str = ""
    why_now: tuple[str, ...] = ()
    open_faults: tuple[OpenFault, ...] = ()
    before_start: tuple[Tick, ...] = ()
    made_safe: Signature = Signature()
    steps: tuple[Step, ...] = ()
    drives: tuple[DriveBlock, ...] = ()
    parts: tuple[PartLine, ...] = ()
    blank_part_lines: int = 3
    time_start: str = ""
    time_end: str = ""
    minutes: str = ""
    found: str = ""
    cause: str = ""
    done: str = ""
    release: tuple[Tick, ...] = ()
    done_by: Signature = Signature()
    checked_by: Signature = Signature()
    second_person: str = ""
    defer: str = (
        "This sheet gives way to the maker's handbook, the law and site rules where you are, and "
        "the work of licensed people. Leave what you are not competent to do."
    )


def render(sheet: ServiceSheet) -> bytes:
    """Draws the sheet.

    Args:
        sheet: what it says.

    Returns:
        A PDF; equal sheets give equal bytes.
    """
    name = f"{sheet.title} {sheet.sheet_number}".strip()
    running = Running(
        title=name,
        subject=f"{sheet.plate.number}, {sheet.plate.kind}",
        printed=sheet.printed,
    )
    # Two pages, so that it prints on one leaf: room is first taken from empty lines and pictures.
    roomy = build_counted(_story(sheet, blank_lines=sheet.blank_part_lines), running=running)
    if roomy[1] <= LEAF:
        return roomy[0]
    close = build_counted(
        _story(sheet, blank_lines=min(sheet.blank_part_lines, 1), setting=CLOSE),
        running=running,
    )
    return close[0] if close[1] <= LEAF else roomy[0]


def _story(sheet: ServiceSheet, *, blank_lines: int, setting: Setting = ROOMY) -> list[Flowable]:
    story: list[Flowable] = [_top(sheet), Spacer(0, 4), _state(sheet)]
    story += _why(sheet)
    story += _faults(sheet)
    story += _before(sheet)
    story += _steps(sheet)
    story += _parts(sheet, blank_lines=blank_lines)
    for block in sheet.drives:
        story += draw_drive(block, setting=setting)
    story += _findings(sheet)
    story += _end(sheet)
    return story


def _top(sheet: ServiceSheet) -> Flowable:
    if not sheet.link:
        return PlateBlock(sheet.plate, width=WIDTH)
    side = 27 * mm
    plate = PlateBlock(sheet.plate, width=WIDTH - side + 1 * mm)
    table = Table([[plate, QrCode(sheet.link, side=side)]], colWidths=[WIDTH - side + 1 * mm, None])
    table.setStyle(TableStyle([*BARE, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]))
    return table


def _state(sheet: ServiceSheet) -> Flowable:
    """The three marks in shape and word, and the meter to be read now."""
    cells: list[Flowable] = []
    meter_width, gap = 32 * mm, 6.0
    widths = [(WIDTH - 2 * meter_width - gap) / max(len(sheet.marks), 1)] * max(len(sheet.marks), 1)
    for mark, width in zip(sheet.marks, widths, strict=False):
        shape = MarkShape(mark.word)
        words: list[Flowable] = [body(mark.heading, style=HEAD), body(mark.word, style=STRONG)]
        if mark.since:
            words.append(body(mark.since, style=SMALL))
        shape_width = shape.width + 4 if shape.width else 0
        cell = Table([[shape, words]], colWidths=[shape_width, width - shape_width - 6])
        cell.setStyle(TableStyle([*BARE, ("TOPPADDING", (0, 0), (0, 0), 9)]))
        cells.append(cell)
    cells += [Spacer(0, 0)] * (len(widths) - len(cells))
    cells.append(Box(width=meter_width, label="Meter now", unit="h", value=sheet.meter_now))
    cells.append(Box(width=meter_width, label="Total hours", unit="h", value=sheet.total_hours))
    table = Table([cells], colWidths=[*widths, meter_width + gap, meter_width])
    table.setStyle(TableStyle(BARE))
    return table


def _why(sheet: ServiceSheet) -> list[Flowable]:
    if not sheet.why_now:
        return []
    remark = f"Job {sheet.job_number}" if sheet.job_number else ""
    return [Heading("Why now", remark=remark), *(body(words) for words in sheet.why_now)]


def _faults(sheet: ServiceSheet) -> list[Flowable]:
    story: list[Flowable] = [Heading("Open faults")]
    if not sheet.open_faults:
        return [*story, body("None known when this was printed.")]
    rows = [
        [body(fault.number, style=FIGURE), body(fault.words), body(fault.decision, style=STRONG)]
        for fault in sheet.open_faults
    ]
    table = Table(rows, colWidths=[22 * mm, WIDTH - 77 * mm, 55 * mm])
    table.setStyle(TableStyle([*BARE, *_LINED]))
    return [*story, table]


def _before(sheet: ServiceSheet) -> list[Flowable]:
    if not sheet.before_start:
        return []
    name_width, time_width = 42 * mm, 24 * mm
    ticks_width = WIDTH - name_width - time_width - 4 * mm
    ticks = _ticks(sheet.before_start, width=ticks_width, columns=2)
    signed = [
        Box(width=name_width, label="Made safe by", value=sheet.made_safe.name),
        Box(width=time_width, label="Time", value=sheet.made_safe.date),
    ]
    table = Table(
        [[ticks, *signed]],
        colWidths=[ticks_width, name_width + 4 * mm, time_width],
    )
    table.setStyle(TableStyle([*BARE, ("VALIGN", (0, 0), (-1, -1), "TOP")]))
    return [
        Heading("Before you start", remark="isolate, lock off, keep the key"),
        table,
    ]


def _ticks(ticks: tuple[Tick, ...], *, width: float, columns: int) -> Flowable:
    each = width / columns
    square = BOX_HEIGHT + 5
    cells: list[Flowable] = []
    for tick in ticks:
        parts: list[Flowable] = [TickBox(ticked=tick.done), body(tick.words)]
        widths = [square, each - square - 6]
        if tick.blank:
            blank_width = 0.36 * each
            widths = [square, each - square - blank_width - 6, blank_width]
            parts.append(Box(width=blank_width, label=tick.blank, value=tick.value))
        # Beside a box with its label the words stand at the foot, in line with the square.
        stand = "BOTTOM" if tick.blank else "MIDDLE"
        cell = Table(
            [parts],
            colWidths=[*widths[:-1], widths[-1] + 6],
            style=TableStyle(
                [
                    *BARE,
                    ("VALIGN", (0, 0), (-1, -1), stand),
                    ("RIGHTPADDING", (1, 0), (1, 0), 4),
                    ("BOTTOMPADDING", (1, 0), (1, 0), 2 if tick.blank else 0),
                ]
            ),
        )
        cells.append(cell)
    cells += [Spacer(0, 0)] * (-len(cells) % columns)
    rows = [cells[start : start + columns] for start in range(0, len(cells), columns)]
    table = Table(rows, colWidths=[each] * columns)
    table.setStyle(
        TableStyle(
            [
                *BARE,
                ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
                ("BOTTOMPADDING", (0, 0), (-1, -2), 3),
            ]
        )
    )
    return table


def _steps(sheet: ServiceSheet) -> list[Flowable]:
    if not sheet.steps:
        return []
    widths = [7 * mm, WIDTH - 108 * mm, 30 * mm, 31 * mm, 12 * mm, 13 * mm, 15 * mm]
    boxes: list[tuple[Any, ...]] = []
    rows: list[list[Flowable | list[Flowable] | str]] = [
        [
            body("No.", style=HEAD),
            body("Step", style=HEAD),
            body("Target", style=HEAD),
            body("Reading", style=HEAD),
            body("OK", style=HEAD_CENTRE),
            body("Wrong", style=HEAD_CENTRE),
            body("Could not check", style=HEAD_CENTRE),
        ]
    ]
    for number, step in enumerate(sheet.steps, start=1):
        words: list[Flowable] = []
        if step.caution is not None:
            words.append(CautionLine(strength=step.caution.strength, words=step.caution.words))
        words.append(body(step.words))
        if step.note:
            words.append(body(step.note, style=WRITTEN))
        boxed = step.takes_reading or bool(step.unit or step.reading)
        rows.append(
            [
                body(str(number), style=FIGURE),
                words,
                body(step.target, style=STRONG),
                Reading(width=widths[3], unit=step.unit, value=step.reading) if boxed else "",
                TickMark(ticked=step.answer == "OK"),
                TickMark(crossed=step.answer == "Wrong"),
                TickMark(ticked=step.answer == "Could not check"),
            ]
        )
        if boxed:
            boxes.append(("BOX", (3, number), (3, number), THIN, black))
    table = Table(rows, colWidths=widths, repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                *BARE,
                ("LINEBELOW", (0, 1), (3, -1), HAIR, RULE),
                ("VALIGN", (0, 1), (-1, -1), "MIDDLE"),
                ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                ("RIGHTPADDING", (1, 0), (2, -1), 5),
                ("TOPPADDING", (1, 1), (2, -1), 1),
                ("BOTTOMPADDING", (1, 1), (2, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, 0), 2),
                ("LINEBELOW", (0, 0), (-1, 0), THIN, black),
                ("GRID", (4, 1), (-1, -1), THIN, black),
                *boxes,
            ]
        )
    )
    return [Heading("Steps"), table]


def _parts(sheet: ServiceSheet, *, blank_lines: int) -> list[Flowable]:
    """The parts with empty lines under them; beside them the three boxes for the time."""
    gap, time_width = 8.0, 34 * mm
    parts_width = WIDTH - gap - time_width
    widths = [32 * mm, parts_width - 84 * mm, 30 * mm, 22 * mm]
    rows: list[list[Flowable]] = [
        [body(words, style=HEAD) for words in ("Number", "What", "From", "How many")]
    ]
    rows += [
        [
            body(part.number, style=FIGURE),
            body(part.what),
            body(part.taken_from),
            body(part.quantity, style=FIGURE),
        ]
        for part in sheet.parts
    ]
    rows += [[Spacer(0, BOX_HEIGHT)] * 4 for _ in range(blank_lines)]
    style = [*BARE, *_LINED, ("LINEBELOW", (0, 0), (-1, 0), THIN, black)]
    if blank_lines:
        first = 1 + len(sheet.parts)
        style += [
            ("GRID", (0, first), (-1, -1), THIN, black),
            ("TOPPADDING", (0, first), (-1, -1), 0),
            ("BOTTOMPADDING", (0, first), (-1, -1), 0),
        ]
    table = Table(rows, colWidths=widths, repeatRows=1, style=TableStyle(style))
    times = [
        Box(width=time_width, label="Time: start", value=sheet.time_start),
        Box(width=time_width, label="Time: end", value=sheet.time_end),
        Box(width=time_width, label="Time: worked", unit="min", value=sheet.minutes),
    ]
    both = Table(
        [[table, times]], colWidths=[parts_width + gap, time_width], style=TableStyle(BARE)
    )
    return [KeepTogether([Heading("Parts and time"), both])]


def _findings(sheet: ServiceSheet) -> list[Flowable]:
    """Found, cause, done: three columns of three ruled lines, or what was written."""
    gap = 8.0
    width = (WIDTH - 2 * gap) / 3
    cells = [
        Lines(width=width, label=label, value=value)
        for label, value in (
            ("Found", sheet.found),
            ("Cause", sheet.cause),
            ("Done", sheet.done),
        )
    ]
    table = Table([cells], colWidths=[width + gap, width + gap, width])
    table.setStyle(TableStyle(BARE))
    return [Spacer(0, 4), table]


def _end(sheet: ServiceSheet) -> list[Flowable]:
    story: list[Flowable] = []
    if sheet.release:
        columns = min(len(sheet.release), 4)
        remark = sheet.second_person or "guards back before it is started"
        story += [
            Heading("Release check", remark=remark),
            _ticks(sheet.release, width=WIDTH, columns=columns),
        ]
    else:
        story.append(Heading("Signed", remark=sheet.second_person))
    gap = 8.0
    name, date = 56 * mm, (WIDTH - 2 * 56 * mm - 3 * gap) / 2
    signed = Table(
        [
            [
                Box(width=name, label="Done by", value=sheet.done_by.name),
                Box(width=date, label="Date", value=sheet.done_by.date),
                Box(width=name, label="Checked by", value=sheet.checked_by.name),
                Box(width=date, label="Date", value=sheet.checked_by.date),
            ]
        ],
        colWidths=[name + gap, date + gap, name + gap, date],
    )
    signed.setStyle(TableStyle(BARE))
    story += [Spacer(0, 4), signed]
    if sheet.defer:
        story += [Spacer(0, 3), body(sheet.defer, style=NOTE)]
    return [KeepTogether(story)]


WRITTEN = ParagraphStyle("written", parent=BODY, fontName=SANS_ITALIC, fontSize=8.4, leading=10)
LEAF = 2
RULE = Color(0.45, 0.45, 0.45)
_LINED: list[tuple[Any, ...]] = [
    ("LINEBELOW", (0, 0), (-1, -1), HAIR, RULE),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-2, -1), 4),
]
