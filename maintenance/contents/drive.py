"""A belt drive as it stands: its data, the last readings of it, and the work-out."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import degrees, radians
from typing import Any, TypeVar, cast

from django.db.models import Prefetch, QuerySet, prefetch_related_objects
from django.utils.translation import gettext as _

from maintenance.contents.test import sheet_of
from maintenance.models import (
    AlignmentReading,
    MeterReading,
    PulleyReading,
    RideReading,
    SlotReading,
    TensionReading,
    WidthReading,
)
from maintenance.models.reading import BeltReading
from maintenance.rules.words import day_text
from plant import units
from plant.contents.drive import (
    FIELDS,
    fitted_since,
    given_of,
    running_in,
    with_place,
    with_tension,
    with_width,
)
from plant.contents.workout import ToldDrive, ToldInput, for_reader, told
from plant.contents.workout_results import ToldResult
from plant.drives import marks, pulleys
from plant.drives.doubt import Doubtful
from plant.drives.errors import DriveError
from plant.drives.facts import Fact, Trust
from plant.drives.sections import System
from plant.drives.working import alignment_lines
from plant.drives.workout import DriveGiven, DriveWorkout, Verdict, work_out
from plant.length_words import length_text, spread_text
from plant.models import Drive, Machine, Measure
from plant.tool_words import tool_words
from plant.units import LENGTH

Row = TypeVar("Row", bound=BeltReading)
Entries = Mapping[str, Mapping[str, str]]
SIDES = ("driver", "driven")
MOVED = "moved with the slot"


# So long after a reading another is of the same visit, whichever was told first.
VISIT = timedelta(hours=4)


@dataclass(frozen=True, kw_only=True)
class Seen:
    """The last readings of a drive beside width and tension; None: not read.

    slot: where the motor stands since the drive's data were told; slot_new: the first place read
    with this belt while it was new; rides, rides_new: by pulley, now and while the belt was new;
    shines: by pulley, looked at with this belt; grooves: by pulley, whatever belt was on.
    """

    slot: SlotReading | None = None
    tight: bool | None = None
    slot_new: SlotReading | None = None
    rides: Mapping[str, RideReading]
    rides_new: Mapping[str, RideReading]
    shines: Mapping[str, PulleyReading]
    alignment: AlignmentReading | None = None
    grooves: Mapping[str, PulleyReading]


@dataclass(frozen=True, kw_only=True)
class DriveNow:
    """A drive with its last readings worked out.

    workout: None when the figures contradict one another; refusal then says how.
    width, tension: the last readings of the belt that is fitted; None: not measured.
    alignment, grooves: judged against the rule sheet; None and nothing where not measured.
    """

    drive: Drive
    workout: DriveWorkout | None
    refusal: str
    width: WidthReading | None
    tension: TensionReading | None
    seen: Seen
    alignment: pulleys.Alignment | None
    grooves: tuple[pulleys.Groove, ...]


def drive_now(drive: Drive, *, at: datetime) -> DriveNow:
    """Works out a belt drive with what was last read of it. Never raises for odd figures."""
    width, tension, seen = last_width(drive), last_tension(drive), seen_of(drive)
    workout, refusal = None, ""
    try:
        workout = work_out(given_now(drive, at=at, width=width, tension=tension, seen=seen))
    except DriveError as refused:
        refusal = sentence(refused)
    alignment: pulleys.Alignment | None = None
    grooves: tuple[pulleys.Groove, ...] = ()
    if seen.alignment is not None or seen.grooves:
        limits = limits_for(drive.machine, at=at)
        alignment = aligned(seen.alignment, span=span_of(workout), limit=limits["belt_alignment"])
        grooves = tuple(
            groove_of(seen.grooves[side], limit=limits["groove_dish"])
            for side in SIDES
            if side in seen.grooves
        )
    return DriveNow(
        drive=drive, workout=workout, refusal=refusal, width=width, tension=tension, seen=seen,
        alignment=alignment, grooves=grooves,
    )  # fmt: skip


def mark_ways(drive: Drive) -> tuple[str, ...]:
    """The ways in which the belt's mark can be read, while nobody has said which; else none."""
    if not drive.belt_mark or drive.belt_datum_m is not None:
        return ()
    try:
        read = marks.read(drive.belt_mark, system=System(given_of(drive).length_system))
    except DriveError:
        return ()
    return tuple(each.words for each in read.readings) if len(read.readings) > 1 else ()


def given_now(
    drive: Drive,
    *,
    at: datetime,
    width: WidthReading | None,
    tension: TensionReading | None = None,
    seen: Seen | None = None,
) -> DriveGiven:
    """What the sums take: the drive's data with these readings, and the stage of the belt.

    Args:
        seen: the other readings; None reads the last of each.
    """
    seen = seen or seen_of(drive)
    if width is not None:
        seen = at_width(seen, width.at)
    given = _with_seen(drive, given_of(drive), seen)
    if width is not None:
        typed = ", ".join(each["typed"] for each in _told(width.record.content)["readings"])
        given = with_width(given, width=width.width_m, u=width.u_m, typed=typed)
        given = worn_since(drive, given, at=width.at, tension=tension, seen=seen)
    if running_in(drive, hours_tenths=hours_at(drive.machine, at), at=at):
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


def last_width(drive: Drive, *, by: datetime | None = None) -> WidthReading | None:
    """The last width of the belt that is fitted, up to a moment."""
    return _newest(_of_this_belt(WidthReading, drive, by=by))


def worn_since(
    drive: Drive,
    given: DriveGiven,
    *,
    at: datetime,
    tension: TensionReading | None,
    seen: Seen,
) -> DriveGiven:
    """The same with the width of the belt when its slot was read tight, if it has worn since.

    Args:
        at: the moment at which the width now was measured.
    """
    placed = seen.slot.at if seen.slot is not None else placed_at(drive)
    since = fitted_since(drive)
    if placed is None or at <= placed + VISIT or not given.belt_tight:
        return given
    if since is not None and placed < since:
        return given
    if tension is not None and tension.at >= at and tension.verdict != "under":
        return given  # tight where it stands, so what is left is what was read
    then = last_width(drive, by=placed + VISIT)
    if then is not None:
        return replace(given, width_placed=then.width_m, width_placed_u=then.u_m)
    if seen.slot is not None and seen.slot.stage == "new" and drive.belt_new_width_m is not None:
        u = drive.belt_new_width_u_m or 0.0
        return replace(given, width_placed=drive.belt_new_width_m, width_placed_u=u)
    # How wide it was then nobody knows: the slot counts by the belt's length.
    return replace(given, belt_tight=None)


def at_width(seen: Seen, at: datetime) -> Seen:
    """The same without rides and dull floors of before that width: the belt has worn since.

    A floor that shone shines on; a ride of the belt when it was new tells how the groove is worn.

    Args:
        at: the moment at which the width was measured.
    """
    old = at - VISIT
    first = {side: row for side, row in seen.rides.items() if row.at < old and row.stage == "new"}
    return replace(
        seen,
        rides={side: row for side, row in seen.rides.items() if row.at >= old},
        rides_new={**first, **seen.rides_new},
        shines={side: row for side, row in seen.shines.items() if row.shines or row.at >= old},
    )


def widths_of(drive: Drive) -> list[WidthReading]:
    """The widths of the belt that is fitted, newest first."""
    return list(_of_this_belt(WidthReading, drive, by=None))


def last_tension(drive: Drive, *, by: datetime | None = None) -> TensionReading | None:
    """The last tension of the belt that is fitted, up to a moment."""
    return _newest(_of_this_belt(TensionReading, drive, by=by))


def seen_of(drive: Drive, *, by: datetime | None = None) -> Seen:
    """The last of every other reading of a drive, up to a moment."""
    slots = list(_counting(SlotReading, drive, by=by))
    rides = list(_of_this_belt(RideReading, drive, by=by))
    looked = list(_counting(PulleyReading, drive, by=by))
    since = fitted_since(drive)
    return seen_from(
        drive,
        slots=slots,
        rides=rides,
        looked=looked,
        alignment=_newest(_counting(AlignmentReading, drive, by=by)),
        since=since,
    )


def seen_from(
    drive: Drive,
    *,
    slots: Sequence[SlotReading],
    rides: Sequence[RideReading],
    looked: Sequence[PulleyReading],
    alignment: AlignmentReading | None,
    since: datetime | None,
) -> Seen:
    """The same from rows in hand, each newest first."""
    told = placed_at(drive)
    moved = [row for row in slots if told is None or row.at > told]
    this_belt = [row for row in slots if since is None or row.at >= since]
    new = [row for row in this_belt if row.stage == "new" and row.tight is not False]
    now: dict[str, RideReading] = {}
    first: dict[str, RideReading] = {}
    for side in SIDES:
        own = [row for row in rides if getattr(row, f"{side}_m") is not None]
        if own:
            now[side] = own[0]
        earlier = [row for row in own[1:] if row.stage == "new"]
        if earlier:
            first[side] = earlier[-1]
    grooves: dict[str, PulleyReading] = {}
    shines: dict[str, PulleyReading] = {}
    for row in looked:
        grooves.setdefault(row.pulley, row)
        if row.shines is not None and (since is None or row.at >= since):
            shines.setdefault(row.pulley, row)
    return Seen(
        slot=moved[0] if moved else None,
        tight=next((row.tight for row in moved if row.tight is not None), None),
        slot_new=new[-1] if new else None,
        rides=now,
        rides_new=first,
        shines=shines,
        alignment=alignment,
        grooves=grooves,
    )


@dataclass(frozen=True, kw_only=True)
class PlaceNow:
    """Where the motor stands by the drive's data and the slot read since.

    values: centre distance and slot [m] by field; entries: those of the drive with these as they
    stand now, each with what was typed, so that a form can begin with them.
    """

    values: Mapping[str, float | None]
    entries: Entries


def place_now(drive: Drive, *, seen: Seen | None = None) -> PlaceNow:
    """Centre distance and slot as they stand now, and how each figure of the drive is known.

    Args:
        seen: the last readings; None reads them.
    """
    entries = {name: dict(entry) for name, entry in drive.entries.items()}
    values: dict[str, float | None] = {
        name: getattr(drive, name) for name in ("centres_m", "slot_in_m", "slot_out_m")
    }
    if seen is None and drive.pk:
        seen = seen_of(drive)
    if seen is not None and seen.slot is not None:
        given = _with_seen(drive, given_of(drive), seen)
        told = seen.slot.at.isoformat()
        values = {
            "centres_m": given.centres, "slot_in_m": given.slot_in, "slot_out_m": given.slot_out,
        }  # fmt: skip
        for name in ("centres_m", "slot_in_m"):
            if values[name] is not None and values[name] != getattr(drive, name):
                shown = units.show(values[name] or 0.0, LENGTH)
                entries[name] = {
                    "mark": Drive.Mark.GUESS, "tool": "", **entries.get(name, {}),
                    "typed": shown, "told": told, "how": MOVED,
                }  # fmt: skip
        typed = typed_of(seen.slot, "slot_out")
        entries["slot_out_m"] = {
            "typed": f"{typed} {LENGTH.unit}" if typed[-1:].isdigit() else typed,
            "mark": Drive.Mark.MEASURED, "tool": seen.slot.tool, "told": told,
        }  # fmt: skip
        if seen.tight is not None:
            entries["belt_tight"] = {
                "typed": "yes" if seen.tight else "no", "mark": Drive.Mark.MEASURED, "tool": "",
                "told": told,
            }  # fmt: skip
    return PlaceNow(values=values, entries=entries)


def placed_at(drive: Drive) -> datetime | None:
    """When centre distance and slot were told together; later readings of the slot move them."""
    told = drive.entries.get("place", {}).get("told", "")
    return datetime.fromisoformat(told) if told else None


def _with_seen(drive: Drive, given: DriveGiven, seen: Seen) -> DriveGiven:
    if seen.slot is not None:
        given = with_place(
            given, out=seen.slot.out_m, tool=seen.slot.tool, typed=typed_of(seen.slot, "slot_out"),
            tight=seen.tight,
        )  # fmt: skip
    values: dict[str, Any] = {}
    typed: dict[str, str] = {}
    marks: dict[str, str] = {}
    if seen.slot_new is not None and seen.slot_new != seen.slot:
        values["slot_out_new"] = seen.slot_new.out_m
    for which, rows in (("ride", seen.rides), ("ride_new", seen.rides_new)):
        for side, row in rows.items():
            values[f"{side}_{which}"] = getattr(row, f"{side}_m")
            marks[f"{side}_{which}"] = "measured"
            typed[f"{side}_{which}"] = typed_of(row, side)
    if doubts := [row.u_m for rows in (seen.rides, seen.rides_new) for row in rows.values()]:
        values["ride_u"] = max(doubts)
    for side, looked in seen.shines.items():
        values[f"{side}_shines"] = looked.shines
    return replace(given, **values, marks={**given.marks, **marks}, typed={**given.typed, **typed})


def typed_of(row: BeltReading, name: str) -> str:
    """What was typed for one figure of a reading."""
    told = _told(row.record.content).get(name)
    return str(told["typed"]) if told else ""


# --- the pulleys ---------------------------------------------------------------------------------


def limits_for(machine: Machine, *, at: datetime) -> dict[str, Fact]:
    """The limits [SI] of alignment and groove: of the rule sheet in force, else of the sums."""
    found = {"belt_alignment": pulleys.ALIGNMENT, "groove_dish": pulleys.DISH}
    sheet = sheet_of(machine, at=at)
    for limit in sheet.limits if sheet is not None else ():
        if limit.key in found and limit.most is not None:
            value = radians(limit.most) if limit.unit == "deg" else limit.most / 1e3
            trust = Trust.SECOND_HAND if limit.trust == "secondary" else Trust(limit.trust)
            found[limit.key] = Fact(value, limit.source, trust)
    return found


def aligned(
    row: AlignmentReading | None, *, span: float | None, limit: Fact
) -> pulleys.Alignment | None:
    """The alignment worked out; None when it was not measured or the span is not known."""
    if row is None or span is None:
        return None
    try:
        return pulleys.alignment(
            near=row.near_m, far=row.far_m, across=row.across_m, span=span, u_gap=row.u_m,
            limit=limit,
        )  # fmt: skip
    except DriveError:
        return None


def groove_of(row: PulleyReading, *, limit: Fact) -> pulleys.Groove:
    """The groove of a pulley, judged."""
    return pulleys.groove(
        name=row.get_pulley_display().lower(),
        dish=None if row.dish_m is None else Doubtful(row.dish_m, row.u_m or 0.0),
        shines=row.shines,
        step=row.step,
        corroded=row.corroded,
        limit=limit,
    )


def span_of(workout: DriveWorkout | None) -> float | None:
    """[m] the free span as the belt stands, else of a new one."""
    shape = workout.geometry if workout is not None else None
    if shape is None:
        return None
    return shape.span_now if shape.span_now is not None else shape.span_new


def told_now(now: DriveNow) -> ToldDrive | None:
    """The drive in words for page and sheet alike, its pulleys with it; None when refused."""
    if now.workout is None:
        return None
    said = told(now.workout)
    results, lines = list(said.results), list(said.lines)
    warnings: list[str] = []
    if now.alignment is not None:
        found = now.alignment
        results.append(
            ToldResult(
                "alignment",
                _("pulleys out of line, worst groove"),
                f"{degrees(found.worst.value):.2f}°",
                f"± {degrees(2 * found.worst.u):.2f}°",
                _("limit {limit}°, {trust}; {offset} over {span}").format(
                    limit=f"{degrees(found.limit.value):.2f}",
                    trust=found.limit.trust,
                    offset=length_text(found.offset.value),
                    span=length_text(found.span, 0),
                ),
            )
        )
        lines += [for_reader(line) for line in alignment_lines(found)]
        if found.lies != pulleys.Lies.WITHIN:
            warnings.append(found.words)
    worn = [groove.name for groove in now.grooves if groove.worn]
    if now.workout.wear is not None:
        for seat in (now.workout.wear.driver, now.workout.wear.driven):
            if seat.groove_worn is not None and seat.groove_worn.shown and seat.name not in worn:
                worn.append(seat.name)
    for groove in now.grooves:
        if groove.dish is not None:
            results.append(
                ToldResult(
                    _("dish {groove}").format(groove=groove.name),
                    _("dish of the groove, {groove}").format(groove=groove.name),
                    f"{length_text(groove.dish.value)}",
                    f"± {spread_text(2 * groove.dish.u)}",
                    _("limit {limit}, {trust}").format(
                        limit=length_text(groove.limit.value), trust=groove.limit.trust
                    ),
                )
            )
        if groove.worn or groove.corroded or groove.lies == pulleys.Lies.UNSURE:
            warnings.append(groove.words)
    to_do = said.to_do
    if now.workout.verdict == Verdict.CHANGE:
        out = now.alignment is not None and now.alignment.lies == pulleys.Lies.OVER
        more = [
            _("Change the {name} with it: its groove is worn.").format(name=name) for name in worn
        ]
        more += [_("Line the pulleys up before the new belt is fitted.")] if out else []
        to_do = (*to_do[:1], *more, *to_do[1:])
    elif worn and now.workout.given.stage == "new":
        warnings.insert(
            0, _("A new belt runs in a worn groove: it wears early. Change the pulley.")
        )
    return replace(
        said, to_do=to_do, warnings=(*warnings, *said.warnings), results=tuple(results),
        lines=tuple(lines), inputs=_inputs(now, said.inputs),
    )  # fmt: skip


def _inputs(now: DriveNow, inputs: tuple[ToldInput, ...]) -> tuple[ToldInput, ...]:
    """The figures with the tool and the day of each one's own entry."""
    zone = now.drive.machine.depot.zone
    told: dict[str, tuple[str, datetime]] = {}
    for name, entry in place_now(now.drive, seen=now.seen).entries.items():
        if name in FIELDS and entry.get("told"):
            moved = _("moved with the slot") if entry.get("how") == MOVED else ""
            tool = tool_words(entry.get("tool", "").partition(",")[0])
            tool = ", ".join(filter(None, (moved, tool)))
            told[FIELDS[name]] = (tool, datetime.fromisoformat(entry["told"]))
    if now.width is not None:
        told["width_now"] = (tool_words(now.width.tool), now.width.at)
    for which, rows in (("ride", now.seen.rides), ("ride_new", now.seen.rides_new)):
        for side, row in rows.items():
            told[f"{side}_{which}"] = (tool_words(row.tool), row.at)
    if now.seen.slot_new is not None:
        told["slot_out_new"] = (tool_words(now.seen.slot_new.tool), now.seen.slot_new.at)
    dated = []
    for each in inputs:
        if each.field in told:
            tool, at = told[each.field]
            words = (each.note, tool, day_text(at.astimezone(zone)))
            each = replace(each, note=", ".join(filter(None, words)))
        dated.append(each)
    return tuple(dated)


# --- rows ----------------------------------------------------------------------------------------


def hours_at(machine: Machine, at: datetime) -> int | None:
    """[0.1 h] running hours as last read up to that moment; None: never read till then."""
    if machine.hours_at is None or at >= machine.hours_at:
        return machine.hours_tenths
    found = (
        MeterReading.objects.counting()
        .filter(meter__machine=machine, meter__measure=Measure.HOURS, at__lte=at)
        .order_by("-at", "-pk")
        .first()
    )
    return None if found is None else found.total_tenths


def read_ahead(drives: Sequence[Drive]) -> None:
    """Reads what was read of many drives at once; each then answers from what is in hand."""
    prefetch_related_objects(drives, *(
        Prefetch(field, rows.objects.counting().select_related("record").newest_first(),
                 to_attr=f"{field}_ahead")
        for rows, field in _FIELDS.items()
    ))  # fmt: skip


_FIELDS: dict[type[BeltReading], str] = {
    rows: f"{name}_readings"
    for rows, name in (
        (WidthReading, "width"), (TensionReading, "tension"), (SlotReading, "slot"),
        (RideReading, "ride"), (PulleyReading, "pulley"), (AlignmentReading, "alignment"),
    )
}  # fmt: skip


def _counting(
    rows: type[Row], drive: Drive, *, by: datetime | None, since: datetime | None = None
) -> "QuerySet[Row] | list[Row]":
    ahead: list[Row] | None = getattr(drive, f"{_FIELDS[rows]}_ahead", None)
    if ahead is not None:
        return [
            row
            for row in ahead
            if (by is None or row.at <= by) and (since is None or row.at >= since)
        ]
    found = rows.objects.counting().filter(drive=drive).select_related("record")
    if by is not None:
        found = found.filter(at__lte=by)
    if since is not None:
        found = found.filter(at__gte=since)
    return cast("QuerySet[Row]", found.newest_first())


def _of_this_belt(
    rows: type[Row], drive: Drive, *, by: datetime | None
) -> "QuerySet[Row] | list[Row]":
    return _counting(rows, drive, by=by, since=fitted_since(drive))


def _newest(rows: "QuerySet[Row] | list[Row]") -> Row | None:
    return next(iter(rows), None) if isinstance(rows, list) else rows.first()


def sentence(refused: Exception) -> str:
    """What the sums refused, as a sentence."""
    text = str(refused).strip()
    text = f"{text[:1].upper()}{text[1:]}"
    return text if text.endswith((".", "?")) else f"{text}."


def _told(content: str) -> dict[str, Any]:
    return cast("dict[str, Any]", json.loads(content)["data"])
