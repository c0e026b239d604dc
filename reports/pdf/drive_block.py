"""The belt-drive calculation, as it stands on any sheet."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import sqrt
from typing import Any, Literal

from reportlab.lib.units import mm

from plant.drawings.belt_in_groove import belt_in_groove
from plant.drawings.drive_layout import drive_layout
from plant.drawings.pictures import BandPicture, GroovePicture, LayoutPicture
from plant.drawings.strokes import THIN
from plant.drawings.tension_band import tension_band
from plant.drawings.width_over_hours import WidthLimit, WidthRead, width_over_hours
from plant.drives.formula import FormulaLine
from plant.translate import gettext as _
from reports.pdf.fonts import SANS, SANS_BOLD, SANS_ITALIC
from reports.pdf.furniture import HEAD, VERDICT, Box, CautionLine, Guess, Heading
from reports.pdf.page import WIDTH
from reports.pdf.pen import Pen
from reports.pdf.pieces import Beside, Picture, Piece, Room, Row, Stack, Words, body
from reports.pdf.setting import ROOMY, Setting

Certainty = Literal["measured", "from plate", "guess"]


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
class WidthPicture:
    """What plant.drawings.width_over_hours draws.

    reads: [h, m, m] running hours, width and half its whisker; limits: name and [m] width at which
    the belt ends; now: [h]; slope [m/h], intercept [m] and their variances and covariance, of the
    line, or None where the readings carry none.
    """

    reads: tuple[tuple[float, float, float], ...]
    limits: tuple[tuple[str, float], ...] = ()
    now: float | None = None
    line: tuple[float, float, float, float, float] | None = None


@dataclass(frozen=True)
class DriveBlock:
    """One belt drive of a machine with its sums, ready to print.

    title: "Belt drive: motor to drum"; belt: what is fitted, with its length and system;
    verdict: the answer in words, first; because: sentences after it (reasons, likely date with
    earliest and latest); warnings: each with what to do; blanks: boxes to fill today;
    last: the last reading in one sentence; sums_version: of the mathematics, as text;
    needed: symbols of the lines that stand even where there is no room for all of them;
    elsewhere: where the lines are to be read that are left out.
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
    widths: WidthPicture | None = None
    needed: tuple[str, ...] = ()
    elsewhere: str = ""


def draw_drive(block: DriveBlock, *, setting: Setting = ROOMY) -> list[Piece]:
    """Sets one drive: the answer first, then the pictures, what it rests on, and the working.

    Args:
        block: the drive with its sums.
        setting: how closely it is set.

    Returns:
        Pieces of the full page width, in reading order.
    """
    answer: Piece = _answer(block, setting)
    chart = None
    if block.widths is not None and not setting.key:
        # A fourth picture in a row would be too narrow for its lettering.
        chart = Picture(_widths, picture=block.widths, width=_CHART[0], height=_CHART[1])
        room = WIDTH - chart.width - 8
        answer = Row([_answer(block, setting, width=room), chart], [room + 8, chart.width])
    story: list[Piece] = [Heading(block.title, remark=block.belt), answer]
    story += _pictures(block, setting, chart=chart is None)
    story += _ground(block, setting)
    if block.lines:
        story += _working(block, setting)
    return story


class Answer(Piece):
    """The answer with its reasons, a heavy bar before it."""

    def __init__(self, words: Piece) -> None:
        self.words = words
        self.width, self.height = words.width + _BAR, words.height + 3

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.line(x + 1.2, y + 1, x + 1.2, y + self.height, weight=2.4)
        self.words.put(pen, x + _BAR, y + 3)

    def split(self, room: float) -> tuple[Piece, Piece] | None:
        parts = self.words.split(room - 3)
        return (Answer(parts[0]), Answer(parts[1])) if parts else None


def _answer(block: DriveBlock, setting: Setting, *, width: float = WIDTH) -> Piece:
    width -= _BAR
    words: list[Piece] = [body(block.verdict, style=VERDICT, width=width)]
    if block.because:
        words.append(body(" ".join(block.because), style=setting.body, width=width))
    words += [
        CautionLine(strength="Take care", words=warning, width=width, size=setting.size - 0.4)
        for warning in block.warnings
    ]
    return Answer(Stack(words))


def _pictures(block: DriveBlock, setting: Setting, *, chart: bool) -> list[Piece]:
    """The grooves, the drive with its slot, and the width over the hours; four two by two."""
    charted = block.widths if chart else None
    count = len(block.grooves) + (block.layout is not None) + (charted is not None)
    if not count:
        return []
    columns = 2 if count == 4 else count
    height = setting.pictures * (1.1 if columns < 3 else 1.0)
    room = WIDTH / columns
    width = min(room - 8, 240.0)
    drawings = [
        Picture(belt_in_groove, **_fields(groove), key=setting.key, width=width, height=height)
        for groove in block.grooves
    ]
    if block.layout is not None:
        drawings.append(Picture(drive_layout, **_fields(block.layout), width=width, height=height))
    if charted is not None:
        drawings.append(Picture(_widths, picture=charted, width=width, height=height))
    cells = [Beside(each, width=room) for each in drawings]
    return [
        Row(cells[start : start + columns], [room] * columns) for start in range(0, count, columns)
    ]


def _widths(*, picture: WidthPicture, width: float, height: float) -> Any:
    line = None
    if picture.line is not None:
        slope, intercept, var_slope, var_intercept, covariance = picture.line

        def line(at: float) -> tuple[float, float]:
            spread = var_intercept + 2 * at * covariance + at * at * var_slope
            return intercept + slope * at, sqrt(max(spread, 0.0))

    return width_over_hours(
        [WidthRead(*read) for read in picture.reads],
        limits=[WidthLimit(*limit) for limit in picture.limits],
        line=line,
        now=picture.now,
        width=width,
        height=height,
    )


def _ground(block: DriveBlock, setting: Setting) -> list[Piece]:
    """What the sums start from and what comes out, the boxes for today, and the tension band.

    The band stands under the results where the inputs are the longer, else beside the boxes.
    """
    gutter = 5 * mm
    left_width = 104 * mm if block.results else WIDTH - gutter
    right_width = WIDTH - left_width - gutter
    left = _inputs(block.inputs, width=left_width, setting=setting) if block.inputs else None
    right = _results(block.results, width=right_width, setting=setting) if block.results else None
    band = (
        Picture(tension_band, **_fields(block.band), width=_BAND_WIDTH, height=_BAND)
        if block.band
        else None
    )
    under: list[Piece] = [right] if right else []
    if left and right and band and right.height + _BAND <= left.height + 3 * setting.gap:
        under.append(band)
        band = None
    story: list[Piece] = []
    if left or under:
        ground = Row([left, None, Stack(under)], [left_width, gutter, right_width])
        ground.gap, ground.loose = setting.gap, True
        story.append(ground)
    if block.blanks:
        boxes = _blanks(block, width=WIDTH, setting=setting, band=band)
        boxes.gap = setting.gap
        story.append(boxes)
    elif band:
        band.gap = setting.gap
        story.append(band)
    return story


def _inputs(inputs: Sequence[DriveInput], *, width: float, setting: Setting) -> Piece:
    symbol = 7 * mm if any(item.symbol for item in inputs) else 5.0
    widths = [symbol, width - symbol - 43 * mm, 26 * mm, 17 * mm]
    head = body(_("What the sums start from"), style=setting.sums_head, width=sum(widths[:3]))
    known = body(_("how known"), style=setting.sums_head, width=widths[3] - 6)
    rows: list[Piece] = [
        _ruled(
            [head, Beside(known, width=widths[3], left=6)],
            [sum(widths[:3]), widths[3]],
            setting=setting,
            head=True,
        )
    ]
    for item in inputs:
        words = f"{item.name}; {item.note}" if item.note else item.name
        certain: Piece = (
            Guess() if item.certainty == "guess"
            else body(item.certainty, style=setting.sums, width=widths[3] - 6)
        )  # fmt: skip
        rows.append(
            _ruled(
                [
                    body(item.symbol, style=setting.sums_strong, width=symbol),
                    body(words, style=setting.sums, width=widths[1] - 4),
                    _figure(item.value, item.doubt, width=widths[2], setting=setting),
                    Beside(certain, width=widths[3], left=6),
                ],
                widths,
                setting=setting,
            )
        )
    return Stack(rows)


def _results(results: Sequence[DriveResult], *, width: float, setting: Setting) -> Piece:
    widths = [width - 27 * mm, 27 * mm]
    head = body(_("What comes out"), style=setting.sums_head, width=width)
    rows: list[Piece] = [_ruled([head], [width], setting=setting, head=True)]
    for item in results:
        words = f"{item.name}; {item.note}" if item.note else item.name
        rows.append(
            _ruled(
                [
                    body(words, style=setting.sums, width=widths[0] - 4),
                    _figure(item.value, item.doubt, width=widths[1], setting=setting),
                ],
                widths,
                setting=setting,
            )
        )
    return Stack(rows)


def _blanks(
    block: DriveBlock, *, width: float, setting: Setting, band: Piece | None = None
) -> Piece:
    """The boxes to fill today, each with what was read last under it; the band after the last.

    Six boxes in a row where there are many, else four.
    """
    across = 6 if len(block.blanks) > 8 else 4
    gap = 6.0
    each = (width - (across - 1) * gap) / across
    rows: list[Piece] = [
        Words(
            ((_("Measured today. "), SANS_BOLD), (block.last, SANS)),
            style=setting.small,
            width=width,
        ),
        Room(1.5),
    ]
    for start in range(0, len(block.blanks), across):
        here = block.blanks[start : start + across]
        tall = max(len(body(blank.label, style=HEAD, width=each).lines) for blank in here)
        cells: list[Piece | None] = []
        for blank in here:
            cell: list[Piece] = [
                Box(width=each, label=blank.label, unit=blank.unit, value=blank.value, lines=tall)
            ]
            if blank.last:
                cell.append(body(blank.last, style=setting.note, width=each))
            cells.append(Stack(cell))
        widths = [each + gap] * len(cells)
        free = width - sum(widths)
        if band and start + across >= len(block.blanks) and free >= band.width:
            cells.append(Beside(band, width=free))
            widths.append(free)
            band = None
        rows.append(Row(cells, widths, bottom=2))
    if band:
        rows.append(band)
    return Stack(rows)


def _working(block: DriveBlock, setting: Setting) -> list[Piece]:
    """Every formula with its figures; sources once each, numbered, under the lines."""
    kept = [line for line in block.lines if setting.whole or line.symbol in block.needed]
    kept = kept or list(block.lines)
    widths = [49 * mm, WIDTH - 83 * mm, 28 * mm, 6 * mm]
    head = _ruled(
        [
            body(_("The working"), style=setting.sums_head, width=widths[0]),
            body(_("formula, and with its figures"), style=setting.sums_head, width=widths[1]),
            body(_("result"), style=setting.sums_head_right, width=widths[2] - 8),
            body(_("from"), style=setting.sums_head_right, width=widths[3] + 8),
        ],
        [widths[0], widths[1], widths[2] - 8, widths[3] + 8],
        setting=setting,
        head=True,
    )
    head.gap = setting.gap
    head.keep = True
    rows: list[Piece] = []
    sources: dict[tuple[str, str], dict[str, list[str]]] = {}
    for line in kept:
        ranges = sources.setdefault((line.source, line.trust), {})
        ranges.setdefault(line.validity, []).append(line.symbol)
        number = list(sources).index((line.source, line.trust)) + 1
        sums = f"{line.expression} = {line.figures}" if line.figures else line.expression
        formula = [(sums, SANS)]
        if line.warning:
            formula += [
                ("; ", SANS),
                (_("Note: {warning}").format(warning=line.warning), SANS_ITALIC),
            ]
        row = _ruled(
            [
                Words(
                    ((line.symbol, SANS_BOLD), (f" {line.name}", SANS)),
                    style=setting.sums,
                    width=widths[0] - 4,
                ),
                Words(formula, style=setting.sums, width=widths[1] - 4),
                _figure(line.result, line.doubt, width=widths[2], setting=setting),
                body(str(number), style=setting.sums_right, width=widths[3]),
            ],
            widths,
            setting=setting,
        )
        row.head = head
        rows.append(row)
    rows[0].head = None
    notes: list[tuple[str, str]] = []
    for number, ((source, trust), ranges) in enumerate(sources.items(), start=1):
        notes.append((f"{number} ", SANS_BOLD))
        notes.append((source, SANS))
        if trust:
            notes += [("; ", SANS), (trust, SANS_ITALIC)]
        notes += [
            (
                _("; range of {join}: {validity}").format(
                    join=", ".join(dict.fromkeys(symbols)), validity=validity
                ),
                SANS,
            )
            for validity, symbols in ranges.items()
            if validity
        ]
        notes.append((". ", SANS))
    if block.sums_version:
        notes.append(
            (
                _("Worked out by version {sums_version} of the sums. ").format(
                    sums_version=block.sums_version
                ),
                SANS,
            )
        )
    if left := [line.symbol for line in block.lines if line not in kept]:
        told = ", ".join(dict.fromkeys(left))
        words = (
            _("No room here for the lines of {told}: read them {elsewhere}.")
            if block.elsewhere
            else _("No room here for the lines of {told}.")
        )
        notes.append((words.format(told=told, elsewhere=block.elsewhere), SANS_BOLD))
    foot = Words(notes, style=setting.note, width=WIDTH)
    foot.gap = 2
    return [head, *rows, foot]


def _figure(value: str, doubt: str, *, width: float, setting: Setting) -> Words:
    return body(f"{value} {doubt}".strip(), style=setting.sums_figure, width=width)


def _ruled(
    cells: Sequence[Piece], widths: Sequence[float], *, setting: Setting, head: bool = False
) -> Row:
    top, bottom = 0.14 * setting.row, 0.36 * setting.row
    return Row(cells, widths, top=top, bottom=bottom, rule=0.8 if head else THIN)


def _fields(picture: GroovePicture | LayoutPicture | BandPicture) -> dict[str, Any]:
    return {field.name: getattr(picture, field.name) for field in fields(picture)}


_BAR = 8.0
_BAND = 50.0
_CHART = (150.0, 84.0)
_BAND_WIDTH = 58 * mm
