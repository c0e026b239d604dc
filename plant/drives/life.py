"""When a belt comes to its end: its wear line against the end of the slot and the floor."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt, tan

from plant.drives.forecast import First, wear_line, which_first
from plant.drives.outcome import Seat, WearPart


@dataclass(frozen=True, slots=True)
class Limits:
    """Widths [m] at which a belt comes to its end, with their standard uncertainties [m].

    slot: the take-up ends; bottom: it stands on the floor of a groove. None: not within a quarter
    of its width, or not known. depth_measured: no groove depth that it rests on is a guess.
    """

    slot: float | None
    u_slot: float
    bottom: float | None
    u_bottom: float
    depth_measured: bool


def limits(worn: WearPart, *, placed: WearPart | None = None) -> Limits:
    """The widths at which this belt comes to its end.

    Args:
        worn: [m] the belt as it was last measured.
        placed: [m] the belt as it was when the slot was read, where that was another day: a belt
            that was tight there then has worn since.

    Returns:
        [m] both widths. The doubt of a width that is counted down from the last reading holds
        that reading's own; one counted down from the new width holds the new width's.

    Raises:
        Nothing: a limit that is not known is None.

    Source:
        A belt in a V groove sinks by its loss of width over 2 tan(half the groove angle); doubts
        to the first order (JCGM 100:2008, clause 5.1.2). A measured ride outranks the model.
    """
    now = worn.width_now
    if now is None:
        return Limits(None, 0.0, None, 0.0, depth_measured=True)
    slot, u_slot = _slot(placed or worn)
    found = [
        floor
        for seat in (worn.driver, worn.driven)
        if (floor := _floor(seat, now_width=now.value, u_now=now.u)) is not None
    ]
    # Who is widest meets the floor first; a guess at either depth leaves that in the dark.
    bottom, u_bottom = max(found) if found else (None, 0.0)
    return Limits(
        slot=slot,
        u_slot=u_slot,
        bottom=bottom,
        u_bottom=u_bottom,
        depth_measured=not (worn.driver.depth_guessed or worn.driven.depth_guessed),
    )


def _slot(worn: WearPart) -> tuple[float | None, float]:
    """Width [m] at which the take-up ends, and its standard uncertainty [m]."""
    found, now = worn.take_up, worn.width_now
    if found is None or now is None or not worn.per_width:
        return None, 0.0
    own = worn.width_new.u if found.travel_from_geometry else now.u
    room = found.travel if found.travel_from_geometry else found.left
    return worn.width_ends_slot, hypot(own, room.u / worn.per_width)


def _floor(seat: Seat, *, now_width: float, u_now: float) -> tuple[float, float] | None:
    """Width [m] at which the belt reaches this floor, and its standard uncertainty [m]."""
    if seat.width_bottoms is None and not seat.measured:
        return None
    half = 2 * tan(seat.angle / 2)
    reach = half * seat.room.u
    if seat.measured:
        return now_width - half * seat.room.value, hypot(reach, u_now)
    assert seat.width_bottoms is not None
    # The room by the width holds the reading's error already; the line counts it by itself.
    return seat.width_bottoms, sqrt(max(reach**2 - u_now**2, 0.0))


def ends(
    readings: Sequence[tuple[float, float, float]],
    *,
    worn: WearPart,
    now: float,
    placed: WearPart | None = None,
) -> First:
    """When the belt comes to its end, by its take-up or on the floor.

    Args:
        readings: [h, m, m] running hours, width and standard uncertainty of each reading.
        worn, placed: [m] as in limits().
        now: [h] running hours now.

    Returns:
        [h] both ends and which is sooner, with intervals of 90 in 100.

    Raises:
        TooFewReadings: they do not carry a date yet; the words say when to measure again.
        OutOfRange: a figure is outside its range.

    Source:
        forecast.wear_line() and forecast.which_first().
    """
    line = wear_line(readings)
    found = limits(worn, placed=placed)
    return which_first(
        line,
        slot_width=found.slot,
        bottom_width=found.bottom,
        now=now,
        u_slot=found.u_slot,
        u_bottom=found.u_bottom,
        depth_measured=found.depth_measured,
    )
