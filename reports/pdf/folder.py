"""The folder: every machine of a depot, a page each, with contents and what is missing first."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak, Spacer

from plant.translate import gettext as _
from reports.pdf.book import ContentsLine, Place, Tell, build_book, quiet
from reports.pdf.boxes import SMALL, STRONG, Heading, body
from reports.pdf.bundle import LARGE, TITLE, Grid, Section, facts_table, grid_table, section_story
from reports.pdf.page import WIDTH, Printed, Running
from reports.pdf.plate import Plate, PlateBlock


@dataclass(frozen=True)
class MachinePage:
    """One machine as it stood: answer in words with its reasons; facts: labels and values; parts:
    tables under a heading each, of which an empty one says so."""

    plate: Plate
    answer: str
    because: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    parts: tuple[Section, ...]


@dataclass(frozen=True)
class Folder:
    """A folder; every text is ready to print.

    as_at: day and time; front: labels and values; gaps: what is past or may not be used; shopping:
    None where there is nothing to say of it.
    """

    number: str
    depot: str
    printed: Printed
    as_at: str
    front: tuple[tuple[str, str], ...]
    gaps: Section
    shopping: Section | None
    machines: tuple[MachinePage, ...]
    defer: str = field(
        default_factory=lambda: _(
            "It tells how each machine stood when it was printed; check each before use. It gives "
            "way to the maker's handbook, the law and the rules of the site."
        )
    )


def render(folder: Folder, tell: Tell = quiet) -> bytes:
    """Draws the folder.

    Returns:
        A PDF; equal folders give equal bytes.
    """
    running = Running(
        title=_("Folder"),
        subject=_("{depot}, as at {as_at}").format(depot=folder.depot, as_at=folder.as_at),
        printed=folder.printed,
    )
    return build_book(_story(folder, tell), running=running)[0]


def _story(folder: Folder, tell: Tell) -> Iterator[Flowable]:
    yield Place("front", _("Front page"))
    yield Spacer(0, 6 * mm)
    yield body(_("Machines of {depot}").format(depot=folder.depot), style=LARGE)
    yield body(_("As at {as_at}").format(as_at=folder.as_at), style=TITLE)
    yield facts_table(folder.front)
    yield Spacer(0, 8)
    yield from section_story(folder.gaps, level=0)
    yield Spacer(0, 8)
    yield Place("contents", _("Contents"))
    yield body(_("Contents"), style=TITLE)
    yield ContentsLine(folder.gaps.key, folder.gaps.title)
    if folder.shopping is not None:
        yield ContentsLine(folder.shopping.key, folder.shopping.title)
    for machine in folder.machines:
        yield ContentsLine(_key(machine), _name(machine), level=1)
    yield Spacer(0, 8)
    yield body(folder.defer, style=SMALL)
    if folder.shopping is not None:
        yield PageBreak()
        yield from section_story(folder.shopping, level=0)
    count = len(folder.machines)
    for number, machine in enumerate(folder.machines, 1):
        tell(
            _("Set on pages: machine {number} of {count}").format(number=number, count=count),
            number,
            count,
        )
        yield PageBreak()
        yield from _machine(machine)


def _machine(machine: MachinePage) -> Iterator[Flowable]:
    yield Place(_key(machine), _name(machine))
    yield PlateBlock(machine.plate, width=WIDTH)
    yield Spacer(0, 6)
    yield body(machine.answer, style=TITLE)
    for each in machine.because:
        yield body(each, style=STRONG)
    yield facts_table(machine.facts)
    for part in machine.parts:
        yield Spacer(0, 6)
        yield Heading(part.title)
        if part.grid is None or not part.grid.rows:
            yield body(part.none)
        else:
            yield grid_table(Grid(part.grid.heads, part.grid.shares, part.grid.rows))
        yield from (body(each, style=SMALL) for each in part.words)


def _key(machine: MachinePage) -> str:
    return _("machine {plate}").format(plate=machine.plate.number)


def _name(machine: MachinePage) -> str:
    return f"{machine.plate.number}, {machine.plate.kind}"
