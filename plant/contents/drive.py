"""Turns a drive as it is kept into what the sums take."""

from dataclasses import replace
from datetime import datetime, time
from math import pi

from plant.drives import grooves
from plant.drives.workout import DriveGiven
from plant.models import Drive

# Field of the drive -> field of the sums.
FIELDS = {
    "driver_m": "driver",
    "driven_m": "driven",
    "driver_angle_rad": "driver_angle",
    "driven_angle_rad": "driven_angle",
    "driver_depth_m": "driver_depth",
    "driven_depth_m": "driven_depth",
    "belt_datum_m": "length",
    "belt_new_width_m": "width_new",
    "centres_m": "centres",
    "slot_in_m": "slot_in",
    "slot_out_m": "slot_out",
    "motor_power_w": "motor_power",
    "motor_speed_rpm": "motor_speed",
}


def given_of(drive: Drive) -> DriveGiven:
    """What is known of a belt drive, without any reading of today.

    Gear stages that come after it on the same machine are taken along.
    """
    gears = tuple(
        (stage.teeth_in, stage.teeth_out)
        for stage in drive.machine.drives.all()
        if stage.kind == Drive.Kind.GEAR and stage.stage > drive.stage
        if stage.teeth_in and stage.teeth_out
    )
    speed = None if drive.motor_speed_rpm is None else drive.motor_speed_rpm * 2 * pi / 60
    standard = drive.typed("groove_system")
    return DriveGiven(
        driver=drive.driver_m,
        driven=drive.driven_m,
        driver_angle=drive.driver_angle_rad,
        driven_angle=drive.driven_angle_rad,
        driver_depth=drive.driver_depth_m,
        driven_depth=drive.driven_depth_m,
        groove_system=standard if standard in grooves.SYSTEMS else grooves.ISO,
        section=drive.section,
        length=drive.belt_datum_m,
        length_system=drive.length_system or drive.machine.depot.length_system,
        belts=drive.belts,
        width_new=drive.belt_new_width_m,
        width_new_u=drive.belt_new_width_u_m,
        centres=drive.centres_m,
        slot_in=drive.slot_in_m,
        slot_out=drive.slot_out_m,
        belt_tight={"yes": True, "no": False}.get(drive.typed("belt_tight")),
        motor_power=drive.motor_power_w,
        motor_speed=speed,
        load=str(drive.load),
        hard_start=drive.hard_start,
        hours_a_day=drive.hours_a_day,
        gears=gears,
        marks={ours: drive.mark_of(kept) for kept, ours in FIELDS.items()},
        typed={ours: _as_typed(drive, kept) for kept, ours in FIELDS.items() if drive.typed(kept)},
        tools={ours: drive.tool_of(kept) for kept, ours in FIELDS.items() if drive.tool_of(kept)},
    )


def _as_typed(drive: Drive, field: str) -> str:
    """What was typed; a figure taken from the rim also says how it was turned."""
    entry = drive.entries[field]
    return str(entry["how"] if entry.get("from") == "rim" else entry["typed"])


def with_width(given: DriveGiven, *, width: float, u: float, typed: str = "") -> DriveGiven:
    """The same with the top width [m] as measured and its standard uncertainty [m]."""
    return replace(
        given,
        width_now=width,
        width_now_u=u,
        marks={**given.marks, "width_now": "measured"},
        typed={**given.typed, "width_now": typed} if typed else given.typed,
    )


def with_place(
    given: DriveGiven, *, out: float, tool: str = "", typed: str = "", tight: bool | None = None
) -> DriveGiven:
    """The same with the motor where its slot was read last; the ends of the slot stay.

    Args:
        out: [m] room left outwards; the centre distance and the room inwards move with it.
        tight: whether the belt was tight there; None leaves what was told before.
    """
    found = replace(
        given,
        slot_out=out,
        belt_tight=given.belt_tight if tight is None else tight,
        marks={**given.marks, "slot_out": "measured"},
        typed={**given.typed, "slot_out": typed},
        tools={**given.tools, "slot_out": tool},
    )
    if given.slot_out is None:
        return found
    moved = given.slot_out - out
    place: dict[str, float] = {}
    if given.centres is not None:
        place["centres"] = given.centres + moved
    if given.slot_in is not None:
        place["slot_in"] = max(given.slot_in + moved, 0.0)
    typed_still = {k: v for k, v in found.typed.items() if not moved or k not in place}
    return replace(found, **place, typed=typed_still)  # type: ignore[arg-type]


def fitted_since(drive: Drive) -> datetime | None:
    """The moment from which readings are of the belt that is fitted; None: not known.

    The day is kept with the drive; on that day itself the moment at which it was told counts,
    since the old belt may have been measured that morning.
    """
    if drive.belt_fitted_on is None:
        return None
    start = datetime.combine(drive.belt_fitted_on, time.min, tzinfo=drive.machine.depot.zone)
    told = drive.entries.get("belt_fitted_on", {}).get("told", "")
    if not told:
        return start
    at = datetime.fromisoformat(told)
    return at if drive.machine.depot.day_of(at) == drive.belt_fitted_on else start


def belt_key(drive: Drive) -> str:
    """Which fitted belt it is: told when, the day, or empty for the one that was always there."""
    told = drive.entries.get("belt_fitted_on", {}).get("told", "")
    return str(told) or (drive.belt_fitted_on.isoformat() if drive.belt_fitted_on else "")


def running_in(drive: Drive, *, hours_tenths: int | None, at: datetime) -> bool:
    """Whether the belt is still to be judged by the band of a new one: under 4 h of running.

    Common practice, no source: a look after 4 to 24 h, judged as a belt that has run in.
    """
    if drive.belt_fitted_tenths is not None and hours_tenths is not None:
        return hours_tenths - drive.belt_fitted_tenths < 40
    return drive.belt_fitted_on == drive.machine.depot.day_of(at)


def with_tension(
    given: DriveGiven,
    *,
    method: str,
    value: float,
    u: float,
    depth: float | None = None,
    typed: str = "",
) -> DriveGiven:
    """The same with a tension reading.

    Args:
        method: "force" or "frequency".
        value, u: [N or Hz] the reading and its standard uncertainty.
        depth: [m] how deep the span was pressed; None: by a 64th of the span.
    """
    name = "reading_force" if method == "force" else "reading_frequency"
    kept = {**given.typed, name: typed} if typed else given.typed
    if method == "force":
        return replace(
            given, reading_force=value, reading_force_u=u, reading_depth=depth, typed=kept
        )
    return replace(given, reading_frequency=value, reading_frequency_u=u, typed=kept)
