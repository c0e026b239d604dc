"""The inspector's bundle: everything on one machine for a period, what is missing first."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from reportlab.lib.colors import Color, black
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, PageBreak, Paragraph, Spacer, Table
from reportlab.platypus.tables import TableStyle

from plant.drawings.strokes import THIN
from plant.translate import gettext as _
from plant.translate import gettext_noop
from reports.pdf.book import ContentsLine, Place, Tell, build_book, quiet
from reports.pdf.boxes import BARE, BODY, FIGURE, HAIR, HEAD, SMALL, STRONG, Heading, body
from reports.pdf.fonts import SANS_BOLD, text
from reports.pdf.page import WIDTH, Printed, Running
from reports.pdf.plate import Plate, PlateBlock
from reports.pdf.record import Photo, Thumbnail

NONE = gettext_noop("None in this period.")


@dataclass(frozen=True)
class Grid:
    """A table of text: its heads, the share of the width of each column, and its rows."""

    heads: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Section:
    """One part: its title, sentences, and its table. A table without rows says that there is none.

    strong: sentences that must not be overlooked, before the others.
    """

    key: str
    title: str
    words: tuple[str, ...] = ()
    grid: Grid | None = None
    strong: tuple[str, ...] = ()
    none: str = field(default_factory=lambda: _(NONE))


@dataclass(frozen=True)
class Acted:
    """A line under a failure: when, what, by whom, and the number of its record or ""."""

    when: str
    what: str
    who: str
    record: str


@dataclass(frozen=True)
class Pair:
    """A failure with what was done: found, then each act, then how it ended or that it is open."""

    title: str
    lines: tuple[Acted, ...]
    end: str
    is_open: bool


@dataclass(frozen=True)
class Asked:
    """A question with its answer: what it does, figure, limit and the word stand in their texts."""

    asked: str
    answer: str
    more: str


@dataclass(frozen=True)
class Entry:
    """One record, whole. seal: its hash, in fours; notes: what must be said of it first."""

    number: str
    seal: str
    when: str
    heading: str
    summary: str
    who: str
    notes: tuple[str, ...] = ()
    asked: tuple[Asked, ...] = ()
    readings: tuple[tuple[str, ...], ...] = ()
    steps: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True)
class Bundle:
    """A bundle; every text is ready to print.

    front: labels and values of the title page; missing: its figures of what is missing; sealed:
    sentences on the seal and how a stranger checks it; gaps, rest: the parts before and after the
    failures; pairs: the failures; entries: all records, oldest first.
    """

    number: str
    plate: Plate
    printed: Printed
    period: str
    front: tuple[tuple[str, str], ...]
    missing: tuple[tuple[str, str], ...]
    sealed: tuple[str, ...]
    gaps: tuple[Section, ...]
    pairs_told: tuple[str, ...]
    pairs: tuple[Pair, ...]
    corrections: Section
    entries: tuple[Entry, ...]
    rest: tuple[Section, ...]
    defer: str = field(
        default_factory=lambda: _(
            "The figures here were entered by the people named. A verdict is worked out by the "
            "rules named beside it. It gives way to the maker's handbook, the law and licensed "
            "practice."
        )
    )


def render(bundle: Bundle, tell: Tell = quiet) -> bytes:
    """Draws the bundle.

    Returns:
        A PDF; equal bundles give equal bytes.
    """
    running = Running(
        title=_("Inspector's bundle"),
        subject=f"{bundle.plate.number}, {bundle.period}",
        printed=bundle.printed,
    )
    return build_book(_story(bundle, tell), running=running)[0]


def _story(bundle: Bundle, tell: Tell) -> Iterator[Flowable]:
    yield from _front(bundle)
    yield PageBreak()
    yield Place("contents", _("Contents"))
    yield body(_("Contents"), style=TITLE)
    yield from _contents(bundle)
    yield PageBreak()
    yield from _opening("gaps", _("1. What is missing"))
    for section in bundle.gaps:
        yield from section_story(section, level=1)
    yield Spacer(0, 12)
    yield from _opening("pairs", _("2. What was found wrong, and what was done"))
    yield from (body(each) for each in bundle.pairs_told)
    if not bundle.pairs:
        yield body(_(NONE), style=STRONG)
    for pair in bundle.pairs:
        yield from _pair(pair)
    yield Spacer(0, 12)
    yield from section_story(bundle.corrections, level=0)
    yield Spacer(0, 12)
    yield from _opening("records", _("4. Every record, in order of time"))
    if not bundle.entries:
        yield body(_(NONE), style=STRONG)
    count = len(bundle.entries)
    for number, entry in enumerate(bundle.entries, 1):
        tell(
            _("Set on pages: record {number} of {count}").format(number=number, count=count),
            count + number,
            2 * count,
        )
        yield from _entry(entry)
    for section in bundle.rest:
        yield Spacer(0, 12)
        yield from section_story(section, level=0)
    yield Spacer(0, 10)
    yield body(bundle.defer, style=SMALL)


def _front(bundle: Bundle) -> Iterator[Flowable]:
    yield Place("front", _("Title page"))
    yield Spacer(0, 14 * mm)
    yield body("Inspector's bundle", style=LARGE)
    yield Spacer(0, 6)
    yield body(bundle.period, style=TITLE)
    yield Spacer(0, 10)
    yield PlateBlock(bundle.plate, width=WIDTH)
    yield Spacer(0, 10)
    yield facts_table(bundle.front)
    yield Spacer(0, 8)
    yield Heading(_("What is missing, in figures"), remark=_("each is told in part 1"))
    yield facts_table(bundle.missing, strong=True)
    yield Spacer(0, 8)
    yield Heading(_("How the records are sealed, and how a stranger checks them"))
    for each in bundle.sealed:
        yield body(each)
        yield Spacer(0, 3)


def _contents(bundle: Bundle) -> Iterator[Flowable]:
    yield Spacer(0, 8)
    yield ContentsLine("front", _("Title page"))
    yield ContentsLine("gaps", _("1. What is missing"))
    for section in bundle.gaps:
        yield ContentsLine(section.key, section.title, level=1)
    yield ContentsLine("pairs", _("2. What was found wrong, and what was done"))
    yield ContentsLine(bundle.corrections.key, bundle.corrections.title)
    yield ContentsLine("records", _("4. Every record, in order of time"))
    for key, title in _months(bundle.entries):
        yield ContentsLine(key, title, level=1)
    for section in bundle.rest:
        yield ContentsLine(section.key, section.title)


def _months(entries: Sequence[Entry]) -> list[tuple[str, str]]:
    """The first record of each month, for the contents."""
    found, last = [], ""
    for entry in entries:
        month = " ".join(entry.when.split()[1:3])
        if month != last:
            found.append((_("record {entry}").format(entry=entry.number), month))
            last = month
    return found


def _opening(key: str, title: str) -> list[Flowable]:
    return [Place(key, title), body(title, style=TITLE), Spacer(0, 4)]


def section_story(section: Section, *, level: int) -> Iterator[Flowable]:
    """A part with its place in the contents; for other papers made of parts too."""
    yield Place(section.key, section.title, level=level)
    if level == 0:
        yield body(section.title, style=TITLE)
        yield Spacer(0, 4)
    else:
        yield Spacer(0, 7)
        yield Heading(section.title)
    for each in section.strong:
        yield body(each, style=STRONG)
    for each in section.words:
        yield body(each)
    if section.grid is None:
        return
    if not section.grid.rows:
        yield body(section.none, style=STRONG)
        return
    yield Spacer(0, 3)
    yield grid_table(section.grid)


def grid_table(grid: Grid) -> Table:
    """The table of a part; its heads stand again on each page."""
    rows: list[list[Flowable]] = [[body(head, style=HEAD) for head in grid.heads]]
    rows += [[body(cell, style=CELL) for cell in row] for row in grid.rows]
    whole = sum(grid.shares)
    widths = [WIDTH * share / whole for share in grid.shares]
    table = Table(rows, colWidths=widths, repeatRows=1, splitByRow=1, splitInRow=1)
    table.setStyle(TableStyle([*BARE, *LINED]))
    return table


def facts_table(facts: Iterable[tuple[str, str]], *, strong: bool = False) -> Table:
    """Labels and values, one under the other."""
    style = STRONG if strong else BODY
    rows: list[list[Flowable]] = [
        [body(label, style=HEAD), body(value, style=style)] for label, value in facts
    ]
    table = Table(rows or [[Spacer(0, 0), Spacer(0, 0)]], colWidths=[58 * mm, WIDTH - 58 * mm])
    table.setStyle(TableStyle([*BARE, *LINED]))
    return table


def _pair(pair: Pair) -> Iterator[Flowable]:
    head = body(pair.title, style=STRONG)
    rows: list[list[Flowable]] = [
        [
            body(line.when, style=CELL),
            body(line.what, style=CELL),
            body(line.who, style=SMALL),
            body(line.record, style=FIGURE_SMALL),
        ]
        for line in pair.lines
    ]
    widths = [29 * mm, WIDTH - 93 * mm, 40 * mm, 24 * mm]
    table = Table(rows, colWidths=widths, splitByRow=1, splitInRow=1)
    table.setStyle(TableStyle([*BARE, *LINED]))
    end = Table([[body(pair.end, style=STRONG)]], colWidths=[WIDTH])
    ruled: list[tuple[Any, ...]] = [
        ("LEFTPADDING", (0, 0), (-1, -1), 5),
        ("BOX", (0, 0), (-1, -1), 2 if pair.is_open else HAIR, black),
    ]
    end.setStyle(TableStyle(ruled))
    yield Spacer(0, 8)
    yield KeepTogether([head, table]) if len(rows) < 12 else head
    if len(rows) >= 12:
        yield table
    yield end


def _entry(entry: Entry) -> Iterator[Flowable]:
    left = f"{entry.when}  {entry.heading}"
    head = Table(
        [[body(left, style=STRONG), body(f"{entry.number}  {entry.seal}", style=SEAL)]],
        colWidths=[WIDTH - 70 * mm, 70 * mm],
    )
    head.setStyle(TableStyle([*BARE, ("LINEABOVE", (0, 0), (-1, 0), THIN, black)]))
    yield Spacer(0, 7)
    place = Place(
        _("record {entry}").format(entry=entry.number),
        f"{entry.number} {entry.when} {entry.heading}",
        level=1,
    )
    yield KeepTogether([place, head, body(entry.summary), body(entry.who, style=SMALL)])
    for each in entry.notes:
        yield body(each, style=STRONG)
    if entry.asked:
        rows: list[list[Flowable]] = [
            [
                body(each.asked, style=CELL),
                body(each.answer, style=CELL_STRONG),
                body(each.more, style=SMALL),
            ]
            for each in entry.asked
        ]
        widths = [WIDTH * 0.44, WIDTH * 0.2, WIDTH * 0.36]
        table = Table(rows, colWidths=widths, splitByRow=1, splitInRow=1)
        table.setStyle(TableStyle([*BARE, *LINED_PLAIN]))
        yield table
    if entry.readings:
        yield grid_table(
            Grid(
                (_("Reading"), _("Figure"), _("Limit"), _("Result"), _("Source of the limit")),
                (28, 18, 18, 12, 24),
                entry.readings,
            )
        )
    for each in entry.steps:
        yield body(each, style=CELL)
    for label, value in entry.facts:
        yield Paragraph(
            f'<font name="{SANS_BOLD}">{text(label, face=SANS_BOLD)}:</font> {text(value)}', CELL
        )
    if entry.photos:
        yield _gallery(entry)


def _gallery(entry: Entry) -> Table:
    """The photos of a record, three a row, each with its number and what it is of."""
    wide = WIDTH / 3
    side = wide - 3 * mm
    cells = [
        [
            Thumbnail(each.jpeg, width=side, height=side * 0.75 if each.jpeg else 8 * mm),
            body(
                _("{entry}, photo {number}: {of}. {why}")
                .format(entry=entry.number, number=each.number, of=each.of, why=each.why)
                .rstrip(),
                style=SMALL,
            ),
        ]
        for each in entry.photos
    ]
    rows: list[list[Any]] = [cells[n : n + 3] for n in range(0, len(cells), 3)]
    rows[-1] += [""] * (3 - len(rows[-1]))
    table = Table(rows, colWidths=[wide] * 3, hAlign="LEFT")
    ruled = [("TOPPADDING", (0, 0), (-1, -1), 4), ("RIGHTPADDING", (0, 0), (-1, -1), 3 * mm)]
    table.setStyle(TableStyle([*BARE, *ruled]))
    return table


LARGE = ParagraphStyle("large", fontName=SANS_BOLD, fontSize=26, leading=32)
TITLE = ParagraphStyle("title", fontName=SANS_BOLD, fontSize=13, leading=17, keepWithNext=1)
CELL = ParagraphStyle("cell", parent=BODY, fontSize=8.2, leading=10)
CELL_STRONG = ParagraphStyle("cell strong", parent=CELL, fontName=SANS_BOLD)
FIGURE_SMALL = ParagraphStyle("figure small", parent=FIGURE, fontSize=7.4, leading=9.4)
SEAL = ParagraphStyle("seal", parent=FIGURE_SMALL, alignment=2)
_LINE_GREY = Color(0.45, 0.45, 0.45)
LINED_PLAIN: list[tuple[Any, ...]] = [
    ("LINEBELOW", (0, 0), (-1, -1), HAIR, _LINE_GREY),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ("RIGHTPADDING", (0, 0), (-2, -1), 4),
]
LINED: list[tuple[Any, ...]] = [*LINED_PLAIN, ("LINEBELOW", (0, 0), (-1, 0), THIN, _LINE_GREY)]
