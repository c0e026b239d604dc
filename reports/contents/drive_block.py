"""Fills the belt-drive block of a sheet with the same figures as the drive's page."""

from dataclasses import asdict
from datetime import datetime
from typing import Final

from maintenance.contents.drive import DriveNow, drive_now
from maintenance.models import TensionReading, WidthReading
from plant.contents.workout import ToldDrive, doubt_mm, mm, told
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
# What a fitter needs to get the printed answers again; the drive's page has every line.
PAPER_LINES: Final = (
    "C", "Δw", "t", "y1", "r1", "y2", "r2", "C'", "x", "s", "Pd", "Ts", "Tl", "Th", "δ", "F",
)  # fmt: skip
PAPER_RESULTS: Final = (
    "loss", "driver_drop", "driver_room", "driven_drop", "driven_room", "extra", "left",
    "centres_needed", "span", "band", "deflection", "force", "frequency", "tension_read",
    "output_speed",
)  # fmt: skip
# The rest of the reasons and warnings stand on the drive's page.
MOST_REASONS = 4
MOST_WARNINGS = 2


def blocks_of(machine: Machine, *, at: datetime) -> tuple[DriveBlock, ...]:
    """A block for each belt drive of the machine, with its last readings, to be filled in today.

    Args:
        machine: its depot must be read already.
        at: the moment of gathering.
    """
    drives = machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage")
    blocks = []
    for drive in drives:
        drive.machine = machine
        blocks.append(_block(drive_now(drive, at=at)))
    return tuple(blocks)


def _block(now: DriveNow) -> DriveBlock:
    drive = now.drive
    title = f"Belt drive: {drive.name}"
    if now.workout is None:
        return DriveBlock(
            title=title,
            belt=drive.belt_mark,
            verdict="The figures kept for this drive contradict one another.",
            because=(now.refusal, "Measure again, and change the drive's data."),
            blanks=_blanks(now, None),
            last=_last(now),
        )
    said = told(now.workout)
    marked = f", marked {drive.belt_mark}" if drive.belt_mark else ""
    return DriveBlock(
        title=title,
        belt=f"{said.belt}{marked}",
        verdict=said.verdict,
        because=(*said.to_do, *said.because[:MOST_REASONS]),
        warnings=said.warnings[:MOST_WARNINGS],
        inputs=tuple(
            DriveInput(
                name=each.name,
                value=each.value,
                certainty=_CERTAIN[each.known],
                doubt=each.doubt,
                symbol=each.symbol,
                note=each.note,
            )
            for each in said.inputs
        ),
        blanks=_blanks(now, said),
        last=_last(now),
        results=tuple(
            DriveResult(name=each.name, value=each.value, doubt=each.doubt, note=each.note)
            for each in said.results
            if each.key in PAPER_RESULTS
        ),
        lines=_lines(said),
        sums_version=said.sums_version,
        grooves=tuple(GroovePicture(**asdict(shown)) for shown in said.grooves),
        layout=LayoutPicture(**asdict(said.layout)) if said.layout else None,
        band=BandPicture(**asdict(said.band)) if said.band else None,
    )


def _lines(said: ToldDrive) -> tuple[FormulaLine, ...]:
    return tuple(line for line in said.lines if line.symbol in PAPER_LINES)


def _blanks(now: DriveNow, said: ToldDrive | None) -> tuple[DriveBlank, ...]:
    pressed = said.result("deflection") if said else None
    force = "force at mid-span" + (f", pressed {pressed.value}" if pressed else "")
    return (
        DriveBlank("top width", "mm", last=_last_width(now.width, now.drive)),
        DriveBlank("tool", ""),
        DriveBlank(
            "slot: room left outwards",
            "mm",
            last="" if now.drive.slot_out_m is None else f"last {mm(now.drive.slot_out_m)}",
        ),
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


def _last_tension(reading: TensionReading | None, drive: Drive) -> str:
    if reading is None:
        return "tension not read yet"
    value = f"{reading.tension_n:.0f} ± {2 * reading.u_n:.0f} N tension"
    return f"last {value}, {_day(reading.at, drive)}"


def _day(at: datetime, drive: Drive) -> str:
    return f"{drive.machine.depot.day_of(at):%-d %b %Y}"
