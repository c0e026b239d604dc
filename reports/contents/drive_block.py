"""Fills the belt-drive block of a sheet with the same figures as the drive's page."""

from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.belt_life import end_words
from maintenance.contents.drive import DriveNow, drive_now, place_now, told_now
from maintenance.contents.width_chart import WidthChart, width_chart
from maintenance.models import BeltLife, TensionReading, WidthReading
from maintenance.models.reading import BeltReading
from maintenance.rules.words import day_text
from plant.contents.drive import belt_key
from plant.contents.workout import ToldDrive
from plant.contents.workout_results import doubt_text
from plant.drives.doubt import Doubtful
from plant.drives.formula import FormulaLine
from plant.length_words import length_text
from plant.models import Drive, Machine
from plant.tool_words import tool_words
from reports.pdf.drive_block import (
    Certainty,
    DriveBlank,
    DriveBlock,
    DriveInput,
    DriveResult,
    WidthPicture,
)

_CERTAIN: Final[dict[str, Certainty]] = {
    "measured": "measured",
    "from plate": "from plate",
    "guess": "guess",
}
_SIDES: Final = (
    ("driver", gettext_noop("motor pulley")), ("driven", gettext_noop("driven pulley")),
)  # fmt: skip
_NEVER: Final = gettext_noop("not measured yet")
# What a fitter works from; the drive's page has every line.
LINES: Final = (
    "C",
    "Δw",
    "t",
    "y1",
    "r1",
    "y2",
    "r2",
    "C'",
    "x",
    "xs",
    "s",
    "Pd",
    "Ts",
    "Tl",
    "δ",
    "F",
    "φ",
    "θ",
    "ψ",
)
FORECAST: Final = ("r", "wn", "Hs", "Hf", "order")
# What stands where a sheet has no room for all of them.
NEEDED: Final = (
    "y1",
    "r1",
    "y2",
    "r2",
    "C'",
    "x",
    "s",
    "F",
    "r",
    "Hs",
    "Hf",
    "order",
)
RESULTS: Final = (
    "loss",
    "driver_drop",
    "driver_room",
    "driven_drop",
    "driven_room",
    "extra",
    "left",
    "force",
    "tension_read",
    "alignment",
    gettext_noop("dish motor pulley"),
    gettext_noop("dish driven pulley"),
)
UNNOTED: Final = ("tension_read",)
LEFT_OUT: Final = (
    "slot_in", "friction", "slip", "reading_force", "reading_frequency", "reading_depth"
)  # fmt: skip
MOST_REASONS = 3
MOST_WARNINGS = 2
# Shorter than on screen, so that a row is one line.
PAPER_NAMES: Final = {
    "driver": gettext_noop("motor pulley, datum"),
    "driven": gettext_noop("driven pulley, datum"),
    "driver_depth": gettext_noop("groove depth, motor pulley"),
    "driven_depth": gettext_noop("groove depth, driven pulley"),
    "slot_out": gettext_noop("slot: room left outwards"),
}


def blocks_of(machine: Machine, *, at: datetime) -> tuple[DriveBlock, ...]:
    """A block for each belt drive of the machine, with its last readings, to be filled in today.

    Args:
        machine: its depot must be read already.
        at: the moment of gathering.
    """
    drives = [drive for drive in machine.drives.all() if drive.kind == Drive.Kind.BELT]
    blocks = []
    for drive in sorted(drives, key=lambda drive: drive.stage):
        drive.machine = machine
        life: BeltLife | None = getattr(drive, "belt_life", None)
        if life is not None and life.belt_key != belt_key(drive):
            life = None
        now = drive_now(drive, at=at)
        blocks.append(_block(now, life=life, chart=width_chart(now, at=at)))
    return tuple(blocks)


def _block(now: DriveNow, *, life: BeltLife | None, chart: WidthChart | None) -> DriveBlock:
    drive = now.drive
    named = drive.name.casefold() != "belt drive"
    title = _("Belt drive: {drive}").format(drive=drive.name) if named else _("Belt drive")
    elsewhere = _("on the page of this drive, under {machine}, Drive").format(
        machine=drive.machine.number
    )
    if now.workout is None:
        return DriveBlock(
            title=title,
            belt=drive.belt_mark,
            verdict=_("The figures kept for this drive contradict one another."),
            because=(now.refusal, _("Measure again, and change the drive's data.")),
            blanks=_blanks(now, None),
            last=_last(now),
            widths=_widths(chart),
            elsewhere=elsewhere,
        )
    said = told_now(now)
    assert said is not None
    belt = said.belt
    if drive.belt_mark:
        belt = _("{belt}, marked {mark}").format(belt=belt, mark=drive.belt_mark)
    ends = filter(None, (end_words(life),))
    return DriveBlock(
        title=title,
        belt=belt,
        verdict=said.verdict,
        because=(*said.to_do, *ends, *said.because[:MOST_REASONS]),
        warnings=_warnings(said, drive.section)[:MOST_WARNINGS],
        inputs=tuple(
            DriveInput(
                name=_(PAPER_NAMES[each.field]) if each.field in PAPER_NAMES else each.name,
                value=each.figure,
                certainty=_CERTAIN[each.known],
                symbol=each.symbol,
                # Where an assumed figure comes from always stands beside it.
                note=each.note if each.known == "guess" else "",
            )
            for each in said.inputs
            if each.field not in LEFT_OUT
        ),
        blanks=_blanks(now, said),
        last=_last(now),
        results=tuple(
            DriveResult(
                name=each.name,
                value=each.figure,
                # How the reading lies is drawn beside it, in the band.
                note="" if each.key in UNNOTED else each.note,
            )
            for each in said.results
            if each.key in RESULTS
        ),
        lines=(*_lines(said), *_forecast(life, chart)),
        sums_version=said.sums_version,
        grooves=said.grooves,
        layout=said.layout,
        band=said.band,
        widths=_widths(chart),
        needed=NEEDED,
        elsewhere=elsewhere,
    )


def _widths(chart: WidthChart | None) -> WidthPicture | None:
    if chart is None:
        return None
    line = chart.line
    return WidthPicture(
        reads=tuple((read.hours, read.width, read.doubt) for read in chart.reads),
        limits=tuple((limit.name, limit.width) for limit in chart.limits),
        now=chart.now,
        line=None
        if line is None
        else (line.slope, line.intercept, line.var_slope, line.var_intercept, line.covariance),
    )


def _forecast(life: BeltLife | None, chart: WidthChart | None) -> tuple[FormulaLine, ...]:
    """The hours left as on the chart, and the day by which the next belt is ordered."""
    lines = chart.working() if chart is not None else ()
    if life is None or life.early_on is None or life.order_by_on is None:
        return lines
    order = FormulaLine(
        symbol="order",
        name=_("day to order the next belt by"),
        expression=_("early day of its end − days to get a belt"),
        figures=f"{day_text(life.early_on)} − {life.lead_days} d",
        result=day_text(life.order_by_on),
        unit="",
        value=0.0,
        source=_("the early day: before it the belt ends in 5 cases of 100"),
        validity=_("the machine used as of late"),
        trust="common practice, no source",
    )
    return (*lines, order)


def _warnings(said: ToldDrive, section: str) -> tuple[str, ...]:
    """First the guess that most hangs on, since it can be measured while the guard is off.

    A second guess is marked in the table; a remark on the section stands on the drive's page.
    """
    guesses = [warning for warning in said.warnings if "is a guess" in warning]
    others = [
        warning
        for warning in said.warnings
        if warning not in guesses and not warning.startswith(f"{section}: ")
    ]
    return (*guesses[:1], *others)


def _lines(said: ToldDrive) -> tuple[FormulaLine, ...]:
    """The lines for paper, of a figure by two methods both ends of its range."""
    kept: dict[tuple[str, str], FormulaLine] = {}
    for line in said.lines:
        if line.symbol in LINES:
            kept.setdefault((line.symbol, line.name if line.symbol == "F" else ""), line)
    return tuple(kept.values())


def _blanks(now: DriveNow, said: ToldDrive | None) -> tuple[DriveBlank, ...]:
    pressed = said.result("deflection") if said else None
    force = _("force at mid-span")
    if pressed:
        force = _("force at mid-span, pressed {pressed}").format(pressed=pressed.value)
    rides = [
        DriveBlank(_("top to rim, {name}").format(name=_(name)), "mm", last=_last_ride(now, side))
        for side, name in _SIDES
    ]
    dishes = [
        DriveBlank(
            _("dish of the groove, {name}").format(name=_(name)), "mm", last=_last_dish(now, side)
        )
        for side, name in _SIDES
    ]
    return (
        DriveBlank(_("top width"), "mm", last=_last_width(now.width, now.drive)),
        DriveBlank(_("tool"), ""),
        DriveBlank(_("slot: room left outwards"), "mm", last=_last_slot(now)),
        *rides,
        DriveBlank(force, "N", last=_last_tension(now.tension, now.drive)),
        DriveBlank(_("in line: gap at the near rim"), "mm", last=_last_gap(now, "near_m")),
        DriveBlank(_("in line: gap at the far rim"), "mm", last=_last_gap(now, "far_m")),
        *dishes,
    )


def _last(now: DriveNow) -> str:
    if now.width is None and now.tension is None:
        return _("This belt was not measured yet.")
    return ""


def _last_width(reading: WidthReading | None, drive: Drive) -> str:
    if reading is None:
        return _(_NEVER)
    value = f"{length_text(reading.width_m)} {doubt_text(Doubtful(reading.width_m, reading.u_m))}"
    return _("last {value}, {tool}, {at}").format(
        value=value, tool=tool_words(reading.tool), at=_day(reading.at, drive)
    )


def _last_slot(now: DriveNow) -> str:
    if now.seen.slot is not None:
        return _("last {out}, {slot}").format(
            out=length_text(now.seen.slot.out_m), slot=_how(now.seen.slot, now.drive)
        )
    out = place_now(now.drive, seen=now.seen).values["slot_out_m"]
    return "" if out is None else _("last {out}").format(out=length_text(out))


def _last_ride(now: DriveNow, side: str) -> str:
    row = now.seen.rides.get(side)
    if row is None:
        return _(_NEVER)
    ride = row.driver_m if side == "driver" else row.driven_m
    told = _("last {what} below, {row}") if (ride or 0) < 0 else _("last {what} above, {row}")
    return told.format(what=length_text(abs(ride or 0)), row=_how(row, now.drive))


def _last_gap(now: DriveNow, name: str) -> str:
    row = now.seen.alignment
    if row is None:
        return _(_NEVER)
    told = _("last {what}, {across} apart, {row}") if name == "far_m" else _("last {what}, {row}")
    return told.format(
        what=length_text(getattr(row, name)),
        across=length_text(row.across_m, 0) if name == "far_m" else "",
        row=_how(row, now.drive),
    )


def _last_dish(now: DriveNow, side: str) -> str:
    row = now.seen.grooves.get(side)
    if row is None or row.dish_m is None:
        return _(_NEVER)
    return _("last {dish}, {row}").format(dish=length_text(row.dish_m), row=_how(row, now.drive))


def _how(row: BeltReading, drive: Drive) -> str:
    return ", ".join(filter(None, (tool_words(row.tool), _day(row.at, drive))))


def _last_tension(reading: TensionReading | None, drive: Drive) -> str:
    if reading is None:
        return _("tension not read yet")
    value = _("{tension} ± {doubt} N tension").format(
        tension=f"{reading.tension_n:.0f}", doubt=f"{2 * reading.u_n:.0f}"
    )
    return _("last {value}, {reading}").format(value=value, reading=_how(reading, drive))


def _day(at: datetime, drive: Drive) -> str:
    return day_text(drive.machine.depot.day_of(at))
