"""Fills the belt-drive block of a sheet with the same figures as the drive's page."""

from dataclasses import asdict
from datetime import datetime
from typing import Final

from maintenance.contents.belt_life import end_words
from maintenance.contents.drive import DriveNow, drive_now, place_now, told_now
from maintenance.models import BeltLife, TensionReading, WidthReading
from plant.contents.drive import belt_key
from plant.contents.workout import ToldDrive, doubt_mm, mm
from plant.drives.doubt import Doubtful
from plant.drives.formula import FormulaLine
from plant.models import Drive, Machine
from reports.pdf.drive_block import (
    BandPicture,
    Certainty,
    DriveBlank,
    DriveBlock,
    DriveInput,
    DriveResult,
    GroovePicture,
    LayoutPicture,
)

_CERTAIN: Final[dict[str, Certainty]] = {
    "measured": "measured",
    "from plate": "from plate",
    "guess": "guess",
}
# What goes on one leaf: beside a few steps, and beside a dozen. The drive's page has every line.
LINES: Final = (
    "C", "Δw", "t", "y1", "r1", "y2", "r2", "C'", "x", "xs", "s", "Pd", "Ts", "Tl", "δ", "F",
    "φ", "θ", "ψ",
)  # fmt: skip
CLOSE_LINES: Final = ("y1", "r1", "y2", "r2", "C'", "x", "s", "F")
RESULTS: Final = (
    "loss", "driver_drop", "driver_room", "driven_drop", "driven_room", "extra", "left",
    "force", "tension_read", "alignment", "dish motor pulley", "dish driven pulley",
)  # fmt: skip
CLOSE_RESULTS: Final = tuple(
    key for key in RESULTS if key not in ("loss", "tension_read", "alignment") and "dish" not in key
)
UNNOTED: Final = ("tension_read",)
CLOSE_UNNOTED: Final = (*UNNOTED, "driver_drop", "driven_drop")
LEFT_OUT: Final = (
    "slot_in", "friction", "slip", "reading_force", "reading_frequency", "reading_depth"
)  # fmt: skip
CLOSE_LEFT_OUT: Final = (*LEFT_OUT, "motor_power", "motor_speed", "length")
MOST_REASONS, CLOSE_REASONS = 3, 1
MOST_WARNINGS, CLOSE_WARNINGS = 2, 1
# Shorter than on screen, so that a row is one line.
PAPER_NAMES: Final = {
    "driver": "motor pulley, datum",
    "driven": "driven pulley, datum",
    "driver_depth": "groove depth, motor pulley",
    "driven_depth": "groove depth, driven pulley",
    "slot_out": "slot: room left outwards",
}
# Beside many steps, where every row counts.
CLOSE_NAMES: Final = {
    "driver_room": "room, motor pulley",
    "driven_room": "room, driven pulley",
    "extra": "take-up used by wear",
}


def blocks_of(machine: Machine, *, at: datetime, close: bool = False) -> tuple[DriveBlock, ...]:
    """A block for each belt drive of the machine, with its last readings, to be filled in today.

    Args:
        machine: its depot must be read already.
        at: the moment of gathering.
        close: whether it stands beside many steps; the working of the tension is then left to
            the drive's page.
    """
    drives = machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage")
    blocks = []
    for drive in drives:
        drive.machine = machine
        life = BeltLife.objects.filter(drive=drive, belt_key=belt_key(drive)).first()
        blocks.append(_block(drive_now(drive, at=at), ends=end_words(life), close=close))
    return tuple(blocks)


def _block(now: DriveNow, *, ends: str, close: bool) -> DriveBlock:
    drive = now.drive
    title = f"Belt drive: {drive.name}"
    if now.workout is None:
        return DriveBlock(
            title=title,
            belt=drive.belt_mark,
            verdict="The figures kept for this drive contradict one another.",
            because=(now.refusal, "Measure again, and change the drive's data."),
            blanks=_blanks(now, None, close=close),
            last=_last(now),
        )
    said = told_now(now)
    assert said is not None
    marked = f", marked {drive.belt_mark}" if drive.belt_mark else ""
    return DriveBlock(
        title=title,
        belt=f"{said.belt}{marked}",
        verdict=said.verdict,
        because=(*said.to_do[:1], *filter(None, (ends,)), *said.because[:CLOSE_REASONS])
        if close
        else (*said.to_do, *filter(None, (ends,)), *said.because[:MOST_REASONS]),
        warnings=_warnings(said, drive.section)[: CLOSE_WARNINGS if close else MOST_WARNINGS],
        inputs=tuple(
            DriveInput(
                name=PAPER_NAMES.get(each.field, each.name),
                value=each.figure,
                certainty=_CERTAIN[each.known],
                symbol=each.symbol,
                # Where an assumed figure comes from always stands beside it.
                note=each.note if each.known == "guess" else "",
            )
            for each in said.inputs
            if each.field not in (CLOSE_LEFT_OUT if close else LEFT_OUT)
        ),
        blanks=_blanks(now, said, close=close),
        last=_last(now),
        results=tuple(
            DriveResult(
                name=CLOSE_NAMES.get(each.key, each.name) if close else each.name,
                value=each.figure,
                # How the reading lies is drawn beside it, in the band.
                note="" if each.key in (CLOSE_UNNOTED if close else UNNOTED) else each.note,
            )
            for each in said.results
            if each.key in (CLOSE_RESULTS if close else RESULTS)
        ),
        lines=_lines(said, close=close),
        sums_version=said.sums_version,
        grooves=tuple(GroovePicture(**asdict(shown)) for shown in said.grooves),
        layout=LayoutPicture(**asdict(said.layout)) if said.layout else None,
        band=BandPicture(**asdict(said.band)) if said.band else None,
    )


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


def _lines(said: ToldDrive, *, close: bool) -> tuple[FormulaLine, ...]:
    """The lines for paper; a figure by two methods once, by the first, which is the one used."""
    kept: dict[tuple[str, str], FormulaLine] = {}
    for line in said.lines:
        if line.symbol in (CLOSE_LINES if close else LINES):
            both_ends = line.symbol == "F" and not close
            kept.setdefault((line.symbol, line.name if both_ends else ""), line)
    return tuple(kept.values())


def _blanks(now: DriveNow, said: ToldDrive | None, *, close: bool) -> tuple[DriveBlank, ...]:
    pressed = said.result("deflection") if said else None
    force = "force at mid-span" + (f", pressed {pressed.value}" if pressed else "")
    # Beside many steps there is no room for a third figure of the same belt.
    rides = [
        DriveBlank(f"top to rim, {name}", "mm", last=_last_ride(now, side))
        for side, name in (("driver", "motor pulley"), ("driven", "driven pulley"))
        if not close
    ]
    return (
        DriveBlank("top width", "mm", last=_last_width(now.width, now.drive)),
        DriveBlank("tool", ""),
        DriveBlank(
            "slot: room left outwards",
            "mm",
            last=_last_slot(now),
        ),
        *rides,
        DriveBlank(force, "N", last=_last_tension(now.tension, now.drive)),
    )


def _last(now: DriveNow) -> str:
    if now.width is None and now.tension is None:
        return "This belt was not measured yet."
    return ""


def _last_width(reading: WidthReading | None, drive: Drive) -> str:
    if reading is None:
        return "not measured yet"
    value = f"{mm(reading.width_m)} {doubt_mm(Doubtful(reading.width_m, reading.u_m))}"
    return f"last {value}, {reading.tool}, {_day(reading.at, drive)}"


def _last_slot(now: DriveNow) -> str:
    if now.seen.slot is not None:
        return f"last {mm(now.seen.slot.out_m)}, {_day(now.seen.slot.at, now.drive)}"
    out = place_now(now.drive, seen=now.seen).values["slot_out_m"]
    return "" if out is None else f"last {mm(out)}"


def _last_ride(now: DriveNow, side: str) -> str:
    row = now.seen.rides.get(side)
    if row is None:
        return "not measured yet"
    ride = row.driver_m if side == "driver" else row.driven_m
    where = "below" if (ride or 0) < 0 else "above"
    return f"last {mm(abs(ride or 0))} {where}, {_day(row.at, now.drive)}"


def _last_tension(reading: TensionReading | None, drive: Drive) -> str:
    if reading is None:
        return "tension not read yet"
    value = f"{reading.tension_n:.0f} ± {2 * reading.u_n:.0f} N tension"
    return f"last {value}, {_day(reading.at, drive)}"


def _day(at: datetime, drive: Drive) -> str:
    return f"{drive.machine.depot.day_of(at):%-d %b %Y}"
