"""A belt drive as it stands: its data, the last readings of its belt, and the work-out."""

import json
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, cast

from maintenance.models import TensionReading, WidthReading
from plant.contents.drive import fitted_since, given_of, running_in, with_tension, with_width
from plant.drives.errors import DriveError
from plant.drives.workout import DriveGiven, DriveWorkout, work_out
from plant.models import Drive


@dataclass(frozen=True, kw_only=True)
class DriveNow:
    """A drive with its last readings worked out.

    workout: None when the figures contradict one another; refusal then says how.
    width, tension: the last readings of the belt that is fitted; None: not measured.
    """

    drive: Drive
    workout: DriveWorkout | None
    refusal: str
    width: WidthReading | None
    tension: TensionReading | None


def drive_now(drive: Drive, *, at: datetime) -> DriveNow:
    """Works out a belt drive with what was last read of it. Never raises for odd figures."""
    width, tension = last_width(drive), last_tension(drive)
    workout, refusal = None, ""
    try:
        workout = work_out(given_now(drive, at=at, width=width, tension=tension))
    except DriveError as refused:
        refusal = sentence(refused)
    return DriveNow(drive=drive, workout=workout, refusal=refusal, width=width, tension=tension)


def given_now(
    drive: Drive,
    *,
    at: datetime,
    width: WidthReading | None,
    tension: TensionReading | None = None,
) -> DriveGiven:
    """What the sums take: the drive's data with these readings, and the stage of the belt."""
    given = given_of(drive)
    if width is not None:
        typed = ", ".join(each["typed"] for each in _told(width.record.content)["readings"])
        given = with_width(given, width=width.width_m, u=width.u_m, typed=typed)
    if running_in(drive, hours_tenths=drive.machine.hours_tenths, at=at):
        given = replace(given, stage="new")
    if tension is not None:
        told = _told(tension.record.content)
        depth = told["depth"]
        given = with_tension(
            given,
            method=tension.method,
            value=float(told["reading"]["si"]),
            u=float(told["reading_u"]["si"]),
            depth=float(depth["si"]) if depth else None,
            typed=told["reading"]["typed"],
        )
    return given


def last_width(drive: Drive) -> WidthReading | None:
    """The last width of the belt that is fitted."""
    readings = WidthReading.objects.filter(drive=drive).select_related("record")
    since = fitted_since(drive)
    return (readings.filter(at__gte=since) if since else readings).order_by("-at", "-pk").first()


def last_tension(drive: Drive) -> TensionReading | None:
    """The last tension of the belt that is fitted."""
    readings = TensionReading.objects.filter(drive=drive).select_related("record")
    since = fitted_since(drive)
    found = (readings.filter(at__gte=since) if since else readings).order_by("-at", "-pk").first()
    return cast("TensionReading | None", found)


def sentence(refused: Exception) -> str:
    """What the sums refused, as a sentence."""
    text = str(refused).strip()
    text = f"{text[:1].upper()}{text[1:]}"
    return text if text.endswith((".", "?")) else f"{text}."


def _told(content: str) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(content)["data"]
    return data
