"""The service sheet: what it holds, and how it is drawn on A4."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Literal

from reportlab.lib.units import mm

from plant.drawings.strokes import THIN
from plant.translate import gettext
from reports.pdf.drive_block import DriveBlock, draw_drive
from reports.pdf.fonts import SANS_ITALIC
from reports.pdf.furniture import (
    BOX_HEIGHT,
    NOTE,
    Box,
    CautionLine,
    Heading,
    Lines,
    MarkShape,
    Reading,
    TickBox,
    TickMark,
)
from reports.pdf.page import WIDTH, Pages, Printed, Running, draw, lay_out
from reports.pdf.pieces import Piece, Room, Row, Stack, Stand, Style, body
from reports.pdf.plate import Plate, PlatePiece
from reports.pdf.qr import QrPiece
from reports.pdf.setting import SETTINGS, Setting


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
    found, cause, done: texts or empty for lines;
    second_person: a line in words when another person must check, else ""; defer: what this
    sheet gives way to.
    """

    sheet_number: str
    plate: Plate
    printed: Printed
    title: str = field(default_factory=lambda: gettext("Service sheet"))
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
    defer: str = field(
        default_factory=lambda: gettext(
            "This sheet gives way to the maker's handbook, the law and site rules where you are, "
            "and the work of licensed people. Leave what you are not competent to do."
        )
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
        leaf=LEAF,
    )
    return draw(pages_of(sheet), running=running)


def pages_of(sheet: ServiceSheet) -> Pages:
    """The sheet on its pages: the two sides of one leaf, set as closely as that needs.

    Several drives, or texts far longer than any of ours, take more pages; nothing is then left
    out for want of room.
    """
    top = _top(sheet)
    tried: dict[Setting, Pages] = {}

    def fits(setting: Setting) -> bool:
        tried[setting] = lay_out(_story(sheet, setting, top=top))
        return len(tried[setting]) <= LEAF

    # Most sheets need one of the middle ones; the roomiest is tried only where the next one fits.
    roomiest, second, *closer = SETTINGS
    if fits(second):
        return tried[roomiest] if fits(roomiest) else tried[second]
    for setting in closer:
        if fits(setting):
            return tried[setting]
    fits(roomiest)
    return min((tried[each] for each in SETTINGS if each.whole), key=len)


def _story(sheet: ServiceSheet, setting: Setting, *, top: Piece) -> list[Piece]:
    story: list[Piece] = [top, Room(3), _state(sheet, setting)]
    story += _why(sheet, setting)
    story += _faults(sheet, setting)
    story += _before(sheet.before_start, sheet.made_safe, setting)
    story += _steps(sheet.steps, setting)
    times = (sheet.time_start, sheet.time_end, sheet.minutes)
    story += _parts(sheet.parts, sheet.blank_part_lines, times, setting)
    for block in sheet.drives:
        story += draw_drive(block, setting=setting)
    story += _findings(sheet.found, sheet.cause, sheet.done)
    signed = (sheet.done_by, sheet.checked_by)
    story += _end(sheet.release, sheet.second_person, signed, sheet.defer, setting)
    return story


def _top(sheet: ServiceSheet) -> Piece:
    if not sheet.link:
        return PlatePiece(sheet.plate, width=WIDTH)
    side = 26 * mm
    width = WIDTH - side + 1 * mm
    plate = PlatePiece(sheet.plate, width=width)
    return Row([plate, QrPiece(sheet.link, side=side)], [width, side - 1 * mm], stand="middle")


def _state(sheet: ServiceSheet, setting: Setting) -> Piece:
    """The three marks in shape and word, and the meter to be read now."""
    meter, gap = 32 * mm, 6.0
    count = max(len(sheet.marks), 1)
    room = (WIDTH - 2 * meter - gap) / count
    cells: list[Piece | None] = []
    for mark in sheet.marks:
        shape = MarkShape(mark.word)
        before = shape.width + 4 if shape.width else 0.0
        wide = room - before - 6
        words: list[Piece] = [
            body(mark.heading, style=setting.head, width=wide),
            body(mark.word, style=setting.strong, width=wide),
        ]
        if mark.since:
            words.append(body(mark.since, style=setting.small, width=wide))
        lowered = Stack([Room(8), shape])
        cells.append(Row([lowered, Stack(words)], [before, room - before]))
    cells += [None] * (count - len(cells))
    cells.append(Box(width=meter, label=gettext("Meter now"), unit="h", value=sheet.meter_now))
    cells.append(Box(width=meter, label=gettext("Total hours"), unit="h", value=sheet.total_hours))
    return Row(cells, [room] * count + [meter + gap, meter])


def _why(sheet: ServiceSheet, setting: Setting) -> list[Piece]:
    if not sheet.why_now:
        return []
    remark = (
        gettext("Job {job_number}").format(job_number=sheet.job_number) if sheet.job_number else ""
    )
    words = [body(each, style=setting.body, width=WIDTH) for each in sheet.why_now]
    return [Heading(gettext("Why now"), remark=remark), *words]


def _faults(sheet: ServiceSheet, setting: Setting) -> list[Piece]:
    story: list[Piece] = [Heading(gettext("Open faults"))]
    if not sheet.open_faults:
        none = gettext("None known when this was printed.")
        return [*story, body(none, style=setting.body, width=WIDTH)]
    widths = [22 * mm, WIDTH - 77 * mm, 55 * mm]
    for fault in sheet.open_faults:
        cells = [
            body(fault.number, style=setting.figure, width=widths[0] - 4),
            body(fault.words, style=setting.body, width=widths[1] - 4),
            body(fault.decision, style=setting.strong, width=widths[2]),
        ]
        story.append(Row(cells, widths, top=1, bottom=1.5, rule=THIN))
    return story


# What many sheets of a batch share is set once. Pieces are never changed once they are set.
@lru_cache(maxsize=64)
def _before(ticks: tuple[Tick, ...], made_safe: Signature, setting: Setting) -> Sequence[Piece]:
    if not ticks:
        return ()
    name, time = 42 * mm, 24 * mm
    room = WIDTH - name - time - 8 * mm
    boxes = _ticks(ticks, width=room, columns=2, setting=setting)
    signed = [
        Box(width=name, label=gettext("Made safe by"), value=made_safe.name),
        Box(width=time, label=gettext("Time"), value=made_safe.date),
    ]
    row = Row([boxes, None, *signed], [room, 4 * mm, name + 4 * mm, time])
    return (
        Heading(gettext("Before you start"), remark=gettext("isolate, lock off, keep the key")),
        row,
    )


def _ticks(ticks: tuple[Tick, ...], *, width: float, columns: int, setting: Setting) -> Piece:
    each = width / columns
    square = BOX_HEIGHT + 5
    cells: list[Piece | None] = []
    for tick in ticks:
        blank = 0.36 * each if tick.blank else 0.0
        room = each - square - blank - (10 if tick.blank else 4)
        words = body(tick.words, style=setting.body, width=room)
        parts: list[Piece | None] = [TickBox(ticked=tick.done), words]
        widths = [square, each - square]
        # Beside a box with its label the words stand at the foot, in line with the square.
        stand: Stand = "middle"
        if tick.blank:
            stand = "bottom"
            parts = [parts[0], Stack([words, Room(2)])]
            parts.append(Box(width=blank, label=tick.blank, value=tick.value))
            widths = [square, each - square - blank - 4, blank + 4]
        cells.append(Row(parts, widths, stand=stand))
    cells += [None] * (-len(cells) % columns)
    rows = [
        Row(cells[start : start + columns], [each] * columns, stand="bottom")
        for start in range(0, len(cells), columns)
    ]
    return Stack(rows, gap=3)


@lru_cache(maxsize=64)
def _steps(steps: tuple[Step, ...], setting: Setting) -> Sequence[Piece]:
    """A row for each step, or for two side by side: what to do, its target, and boxes."""
    if not steps:
        return ()
    across = setting.step_columns if len(steps) > 1 else 1
    gutter = 4 * mm
    room = (WIDTH - gutter * (across - 1)) / across
    set_step = _step if across == 1 else _short_step
    cells: list[Piece | None] = [
        set_step(number, step, width=room, setting=setting)
        for number, step in enumerate(steps, start=1)
    ]
    cells += [None] * (-len(cells) % across)
    heads = [_step_head(across, width=room, setting=setting)] * across
    widths = [room + gutter] * (across - 1) + [room]
    head = Row(heads, widths)
    head.keep = True
    rows: list[Piece] = []
    for start in range(0, len(cells), across):
        here = cells[start : start + across]
        tall = max(cell.height for cell in here if cell)
        for cell in here:
            if cell is not None:
                cell.height = tall
        row = Row(here, widths)
        row.head = head
        rows.append(row)
    rows[0].head = None
    return (Heading(gettext("Steps")), head, *rows)


def _step_widths(across: int, width: float) -> list[float]:
    """Number, words, target, reading, and the three answers."""
    if across == 1:
        return [7 * mm, width - 108 * mm, 30 * mm, 31 * mm, 12 * mm, 13 * mm, 15 * mm]
    return [5 * mm, width - 46.9 * mm, 0, 16.4 * mm, 8.4 * mm, 8.4 * mm, 8.7 * mm]


def _step_head(across: int, *, width: float, setting: Setting) -> Piece:
    widths = _step_widths(across, width)
    words = [
        gettext("No."),
        gettext("Step"),
        gettext("Target"),
        gettext("Reading"),
        gettext("OK"),
        gettext("Wrong"),
        gettext("Could not check"),
    ]
    if across > 1:
        words[0], words[1], words[2] = "", gettext("Step and target"), ""
    styles = [setting.head] * 4 + [setting.head_centre] * 3
    cells = [
        body(each, style=style, width=room) if each else None
        for each, style, room in zip(words, styles, widths, strict=True)
    ]
    return Row(cells, widths, stand="bottom", bottom=1.5, rule=0.8)


def _step(number: int, step: Step, *, width: float, setting: Setting) -> Row:
    widths = _step_widths(1, width)
    words = _step_words(step, width=widths[1] - 5, setting=setting)
    target = body(step.target, style=setting.strong, width=widths[2] - 5)
    return _step_row(number, step, words, target, widths=widths, setting=setting)


def _short_step(number: int, step: Step, *, width: float, setting: Setting) -> Row:
    """The target under the words, beside the box still."""
    widths = _step_widths(2, width)
    room = widths[1] - 4
    words = _step_words(step, width=room, setting=setting)
    if step.target:
        words.append(body(step.target, style=setting.strong, width=room))
    return _step_row(number, step, words, None, widths=widths, setting=setting)


def _step_words(step: Step, *, width: float, setting: Setting) -> list[Piece]:
    words: list[Piece] = []
    if step.caution is not None:
        words.append(
            CautionLine(
                strength=step.caution.strength,
                words=step.caution.words,
                width=width,
                size=setting.size - 0.4,
            )
        )
    words.append(body(step.words, style=setting.body, width=width))
    if step.note:
        written = replace(setting.body, face=SANS_ITALIC).sized(setting.size - 0.4)
        words.append(body(step.note, style=written, width=width))
    return words


def _step_row(
    number: int,
    step: Step,
    words: list[Piece],
    target: Piece | None,
    *,
    widths: list[float],
    setting: Setting,
) -> Row:
    boxed = step.takes_reading or bool(step.unit or step.reading)
    answers = [
        TickMark(width=widths[4], ticked=step.answer == "OK"),
        TickMark(width=widths[5], crossed=step.answer == "Wrong"),
        TickMark(width=widths[6], ticked=step.answer == "Could not check"),
    ]
    reading = Reading(width=widths[3], unit=step.unit, value=step.reading) if boxed else None
    cells = [
        body(str(number), style=setting.figure, width=widths[0]),
        Stack(words),
        target,
        reading,
        *answers,
    ]
    return Row(
        cells, widths, stand="middle", top=1, bottom=1, rule=THIN, ruled=sum(widths[:4]),
        boxed=(*((3,) if boxed else ()), 4, 5, 6), flush=(3, 4, 5, 6),
    )  # fmt: skip


@lru_cache(maxsize=64)
def _parts(
    parts: tuple[PartLine, ...], blank: int, times: tuple[str, str, str], setting: Setting
) -> Sequence[Piece]:
    """The parts with empty lines under them; beside them the three boxes for the time."""
    gap = 8.0
    time = 25 * mm if setting.times_across else 34 * mm
    taken = 3 * time + 2 * gap if setting.times_across else time
    room = WIDTH - gap - taken
    widths = [0.22 * room, 0.4 * room, 0.2 * room, 0.18 * room]
    blank_lines = min(blank, setting.part_lines)
    rows: list[Piece] = [
        Row(
            [
                body(words, style=setting.head, width=width - 3)
                for words, width in zip(
                    (gettext("Number"), gettext("What"), gettext("From"), gettext("How many")),
                    widths,
                    strict=True,
                )
            ],
            widths,
            bottom=1,
            rule=THIN,
        )
    ]
    for part in parts:
        texts = (part.number, part.what, part.taken_from, part.quantity)
        styles: tuple[Style, ...] = (setting.figure, setting.body, setting.body, setting.figure)
        cells = [
            body(words, style=style, width=width - 4)
            for words, style, width in zip(texts, styles, widths, strict=True)
        ]
        rows.append(Row(cells, widths, top=1, bottom=1.5, rule=THIN))
    rows += [Row([None] * 4, widths, least=BOX_HEIGHT, boxed=range(4)) for _ in range(blank_lines)]
    started, ended, minutes = times
    timed = [
        Box(width=time, label=gettext("Time: start"), value=started),
        Box(width=time, label=gettext("Time: end"), value=ended),
        Box(width=time, label=gettext("Time: worked"), unit="min", value=minutes),
    ]
    boxes: Piece = Stack(timed, gap=2)
    if setting.times_across:
        boxes = Row(timed, [time + gap, time + gap, time])
    both = Row([Stack(rows), boxes], [room + gap, taken])
    return (Heading(gettext("Parts and time")), both)


@lru_cache(maxsize=64)
def _findings(found: str, cause: str, done: str) -> Sequence[Piece]:
    """Found, cause, done: three columns of three ruled lines, or what was written."""
    gap = 8.0
    width = (WIDTH - 2 * gap) / 3
    told = ((gettext("Found"), found), (gettext("Cause"), cause), (gettext("Done"), done))
    cells = [Lines(width=width, label=label, value=value) for label, value in told]
    row = Row(cells, [width + gap, width + gap, width])
    row.gap = 3
    return (row,)


@lru_cache(maxsize=64)
def _end(
    release: tuple[Tick, ...],
    second_person: str,
    signed: tuple[Signature, Signature],
    defer: str,
    setting: Setting,
) -> Sequence[Piece]:
    story: list[Piece] = []
    if release:
        columns = min(len(release), 4)
        remark = second_person or gettext("guards back before it is started")
        story += [
            Heading(gettext("Release check"), remark=remark),
            _ticks(release, width=WIDTH, columns=columns, setting=setting),
        ]
    else:
        story.append(Heading(gettext("Signed"), remark=second_person))
    gap = 8.0
    name = 56 * mm
    date = (WIDTH - 2 * name - 3 * gap) / 2
    done_by, checked_by = signed
    row = Row(
        [
            Box(width=name, label=gettext("Done by"), value=done_by.name),
            Box(width=date, label=gettext("Date"), value=done_by.date),
            Box(width=name, label=gettext("Checked by"), value=checked_by.name),
            Box(width=date, label=gettext("Date"), value=checked_by.date),
        ],
        [name + gap, date + gap, name + gap, date],
    )
    row.gap = 3
    story.append(row)
    if defer:
        gives_way = body(defer, style=NOTE, width=WIDTH)
        gives_way.gap = 2
        story.append(gives_way)
    for piece in story[:-1]:
        piece.keep = True
    return story


LEAF = 2
