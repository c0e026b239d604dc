"""Belt drives entered and changed: every figure with how it is known, checked, sealed, kept."""

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from math import pi

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext, gettext_noop

from maintenance.actions.belt_life import belt_moved
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.contents.drive import Entries, given_now, last_width, place_now, sentence
from maintenance.rules import belt as rule
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.contents.drive import FIELDS, given_of
from plant.drives import doubt, grooves
from plant.drives.errors import BeltTooShort, DriveError, PulleysOverlap
from plant.drives.marks import BeltReading
from plant.drives.outcome import LABELS
from plant.drives.sections import System
from plant.drives.workout import SUMS_VERSION, DriveWorkout, Verdict, work_out
from plant.length_words import both_text, kept, length_text
from plant.models import Drive, Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical
from plant.units import ANGLE, LENGTH, POWER, SPEED, WIDTH, Measure, Typed

DATUM, RIM = "datum", "rim"
MOST_GEARS = 2
_DEGREE = pi / 180

# Field of a drive: its measure, and the range [SI] in which the sums hold.
MEASURES: dict[str, tuple[Measure, float, float]] = {
    "driver_m": (LENGTH, 0.01, 3.0),
    "driven_m": (LENGTH, 0.01, 3.0),
    "driver_angle_rad": (ANGLE, 20 * _DEGREE, 60 * _DEGREE),
    "driven_angle_rad": (ANGLE, 20 * _DEGREE, 60 * _DEGREE),
    "driver_depth_m": (LENGTH, 0.001, 0.06),
    "driven_depth_m": (LENGTH, 0.001, 0.06),
    "belt_datum_m": (LENGTH, 0.05, 9.99),
    "belt_new_width_m": (WIDTH, 0.003, 0.06),
    "centres_m": (LENGTH, 0.01, 9.99),
    "slot_in_m": (LENGTH, 0.0, 1.0),
    "slot_out_m": (LENGTH, 0.0, 1.0),
    "motor_power_w": (POWER, 1.0, 500e3),
    "motor_speed_rpm": (SPEED, 1.0, 1200.0),
}


# What such a figure is measured with, the usual tool first; the rest is read off plates.
_LENGTH_TOOLS = ("steel rule", "calliper", "tape", "depth gauge", "groove gauge")
TOOLS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("driver_m", "driven_m", "driver_depth_m", "driven_depth_m"), _LENGTH_TOOLS),
    **dict.fromkeys(("driver_angle_rad", "driven_angle_rad"), ("groove angle gauge",)),
    "belt_datum_m": ("tape round the belt",),
    "belt_new_width_m": ("calliper", "steel rule"),
    **dict.fromkeys(("centres_m", "slot_in_m", "slot_out_m"), ("tape", "steel rule", "calliper")),
    "motor_speed_rpm": ("tachometer, share of the reading",),
}
# Told together, as the motor stands at that moment.
PLACE = ("centres_m", "slot_in_m", "slot_out_m")


class BeltUnclear(Refused):
    """The mark can be read in several ways; the person chooses one of ``readings``."""

    def __init__(self, message: str, *, readings: tuple[BeltReading, ...]) -> None:
        super().__init__(message, field="belt_choice" if len(readings) > 1 else "belt_mark")
        self.readings = readings


class ChangedSince(Refused):
    """Somebody else changed the drive since it was shown; saved again it takes the place."""


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A figure as typed; mark: "measured", "plate" or "guess"; tool: its name, or empty;
    how: "rim" where it was taken from the rim and not from the datum line."""

    typed: Typed
    mark: str
    tool: str = ""
    how: str = DATUM


@dataclass(frozen=True, kw_only=True)
class DriveEntry:
    """What a fitter tells of one belt drive. Figures that nobody took are left out.

    figures: by field of Drive; belt_mark: as it stands on the belt; belt_choice: key of the
    reading that was chosen; section: by hand; belt_tight: "yes", "no" or "" as centre distance
    and slot were read; gears: teeth in and out of each stage after the belt; fitted_on: the day
    on which the belt was fitted.
    """

    name: str = gettext_noop("Belt drive")
    figures: Mapping[str, Figure] = field(default_factory=dict)
    belt_mark: str = ""
    belt_choice: str = ""
    section: str = ""
    belts: int = 1
    fitted_on: date | None = None
    groove_system: str = grooves.ISO
    belt_tight: str = ""
    load: str = Drive.Load.MEDIUM
    hard_start: bool = False
    hours_a_day: float = 8.0
    gears: Sequence[tuple[int, int]] = ()


@transaction.atomic
def save_drive(
    *,
    machine: Machine,
    entry: DriveEntry,
    at: datetime,
    by: User,
    drive: Drive | None = None,
    seen: datetime | None = None,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Drive:
    """Keeps a belt drive, new or changed, seals what was told, and works it out once to check it.

    Args:
        entry: all that is told; a figure that is left out is no longer known.
        drive: the drive to change; None adds one after the machine's other stages.
        seen: when the drive that was shown had been changed last; None: not asked.

    Raises:
        ChangedSince: somebody changed it since.
        BeltUnclear: the mark can be read in several ways, or in none.
        Refused: a figure is absurd, or the figures contradict one another; at the field.
    """
    machine = locked(machine)
    role = role_for(by, Right.WORK, machine.depot_id)
    name = words(entry.name, field="name", what="name", low=1, high=60)
    mark = words(entry.belt_mark, field="belt_mark", what="mark", high=200)
    told = _as_told(entry, mark=mark)
    texts = {"name": name}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.DRIVE, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return Drive.objects.get(pk=json.loads(before.content)["data"]["drive"], machine=machine)
    if drive is None:
        last = machine.drives.aggregate(last=Max("stage"))["last"] or 0
        drive = Drive(machine=machine, stage=last + 1, kind=Drive.Kind.BELT)
    else:
        drive = Drive.objects.select_for_update(of=("self",)).get(pk=drive.pk, machine=machine)
        if seen is not None and drive.changed_at != seen:
            raise ChangedSince(
                gettext(
                    "Somebody changed this drive since this page "
                    "was opened. Not saved; what you typed "
                    "stands below. Look at theirs first. Saved again, yours takes its place."
                )
            )
    drive.machine = machine
    drive.name = name
    found = fill(drive, entry, mark=mark, at=at)
    drive.save()
    _gears(drive, entry.gears)
    seal(
        kind=Record.Kind.DRIVE, depot=machine.depot, machine=machine,
        data={
            **told,
            "drive": str(drive.pk),
            "belt": {
                "section": drive.section,
                "length": _si(drive.belt_datum_m, "m"),
                "system": drive.length_system,
                "read_as": found.read_as,
            },
            "taken_as": {
                one: _si(getattr(drive, one), measure.si)
                if one != "motor_speed_rpm"
                else _si(drive.motor_speed_rpm, "rpm")
                for one, (measure, _, _) in MEASURES.items()
            },
            "sums": SUMS_VERSION,
            "verdict": str(found.verdict),
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    belt_moved(drive, at=received_at or at)
    return drive


@dataclass(frozen=True, kw_only=True)
class Filled:
    """What came of an entry: how the mark was read, in words, and the work-out."""

    read_as: str
    workout: DriveWorkout

    @property
    def verdict(self) -> Verdict:
        return self.workout.verdict


def fill(drive: Drive, entry: DriveEntry, *, mark: str, at: datetime) -> Filled:
    """Puts an entry on a drive in memory and works it out; nothing is saved.

    Args:
        drive: with its machine; changed in place. mark: as it stands on the belt, cleaned.
        at: the moment of telling, which every figure keeps that was not told so before.

    Raises:
        BeltUnclear, Refused: as ``save_drive``.
    """
    _check_choices(entry)
    before = place_now(drive).entries
    stood = {name: getattr(drive, name) for name in PLACE}
    stood_entries = {name: drive.entries[name] for name in (*PLACE, "belt_tight", "place")
                     if name in drive.entries}  # fmt: skip
    read_as = _belt(drive, entry, mark=mark)
    drive.entries = _figures(drive, entry)
    drive.load, drive.hard_start = Drive.Load(entry.load), entry.hard_start
    drive.hours_a_day, drive.belts = entry.hours_a_day, entry.belts
    _fitted(drive, entry, at=at)
    drive.entries |= {
        "groove_system": {"typed": entry.groove_system, "mark": Drive.Mark.GUESS, "tool": ""},
        "belt_tight": {"typed": entry.belt_tight, "mark": Drive.Mark.MEASURED, "tool": ""},
        "belt_choice": {"typed": entry.belt_choice, "mark": Drive.Mark.PLATE, "tool": ""},
    }
    _dated(drive, before=before, at=at)
    if all(_same(drive.entries, before, name) for name in (*PLACE, "belt_tight")):
        # As it stood: what was read of the slot since goes on counting from there.
        for name, value in stood.items():
            setattr(drive, name, value)
        drive.entries |= stood_entries
    else:
        drive.entries["place"] = {"told": at.isoformat()}
    try:
        found = work_out(
            given_now(drive, at=at, width=last_width(drive)) if drive.pk else given_of(drive)
        )
    except DriveError as refused:
        raise _at_field(refused, drive) from refused
    return Filled(read_as=read_as, workout=found)


def _dated(drive: Drive, *, before: Entries, at: datetime) -> None:
    """Gives every figure the moment of its own entry; one told as it stood keeps its old one."""
    for name, entry in drive.entries.items():
        if name == "belt_fitted_on":
            continue
        told = before.get(name, {}).get("told", "")
        if not _same(drive.entries, before, name):
            entry["told"] = at.isoformat()
        elif told:
            entry["told"] = told


def _same(now: Entries, before: Entries, name: str) -> bool:
    new, old = now.get(name, {}), before.get(name, {})
    return new.get("from", DATUM) == old.get("from", DATUM) and all(
        new.get(key, "") == old.get(key, "") for key in ("typed", "mark", "tool")
    )


def _check_choices(entry: DriveEntry) -> None:
    if not 1 <= entry.belts <= 50:
        raise Refused(gettext("Enter 1 to 50 belts."), field="belts")
    if not 0 < entry.hours_a_day <= 24:
        raise Refused(gettext("Enter more than 0 and at most 24 hours a day."), field="hours_a_day")
    if entry.load not in Drive.Load.values:
        raise Refused(gettext("Choose one of these."), field="load")
    if entry.groove_system not in grooves.SYSTEMS:
        raise Refused(gettext("Choose one of these."), field="groove_system")
    if entry.belt_tight not in ("", "yes", "no"):
        raise Refused(gettext("Choose one of these."), field="belt_tight")
    if len(entry.gears) > MOST_GEARS:
        raise Refused(
            gettext("At most {most_gears} gear stages.").format(most_gears=MOST_GEARS),
            field="gear_1_in",
        )
    for number, stage in enumerate(entry.gears, 1):
        for teeth, end in zip(stage, ("in", "out"), strict=True):
            if not 5 <= teeth <= 500:
                raise Refused(gettext("Enter 5 to 500 teeth."), field=f"gear_{number}_{end}")
    for name, figure in entry.figures.items():
        if name not in MEASURES:
            raise Refused(gettext("{name} is no figure of a drive.").format(name=name))
        if figure.mark not in Drive.Mark.values:
            raise Refused(gettext("Say how it is known."), field=name)
        if figure.tool and figure.tool not in TOOLS.get(name, ()):
            raise Refused(gettext("Choose one of these tools."), field=name)
        measure, low, high = MEASURES[name]
        if not low <= figure.typed.value_si <= high:
            ends = " to ".join(_end(end, measure) for end in (low, high))
            label = gettext(LABELS[FIELDS[name]]).capitalize()
            raise Refused(
                gettext("{label}: enter {ends}. Not saved.").format(label=label, ends=ends),
                field=name,
            )


def _end(value: float, measure: Measure) -> str:
    return length_text(value) if measure.si == "m" else units.show(value, measure)


def _as_told(entry: DriveEntry, *, mark: str) -> dict[str, Canonical]:
    """What the sender decides, in the form in which it is sealed; names stand apart."""
    return {
        "figures": {
            name: {
                "typed": figure.typed.text_as_typed,
                "si": units.decimal_string(figure.typed.value_si),
                "unit": MEASURES[name][0].si,
                "mark": figure.mark,
                "tool": figure.tool,
                "from": figure.how,
            }
            for name, figure in entry.figures.items()
        },
        "told": {
            "mark": mark,
            "choice": entry.belt_choice,
            "section": entry.section,
            "belts": str(entry.belts),
            "fitted_on": entry.fitted_on.isoformat() if entry.fitted_on else None,
            "groove_system": entry.groove_system,
            "belt_tight": entry.belt_tight,
            "load": str(entry.load),
            "hard_start": entry.hard_start,
            "hours_a_day": units.decimal_string(entry.hours_a_day),
            "gears": [[str(teeth) for teeth in stage] for stage in entry.gears],
        },
    }


def _belt(drive: Drive, entry: DriveEntry, *, mark: str) -> str:
    """Puts section, length and system on the drive; how the mark was read, in words."""
    length = entry.figures.get("belt_datum_m")
    try:
        found = kept(
            lambda: rule.belt_of(
                mark=mark,
                by_hand=entry.section,
                length=length.typed.value_si if length else None,
                choice=entry.belt_choice,
                system=System(drive.machine.depot.length_system),
            )
        )
    except rule.MarkUnclear as unclear:
        raise BeltUnclear(str(unclear), readings=unclear.readings) from unclear
    except DriveError as refused:
        raise Refused(sentence(refused), field="section") from refused
    drive.belt_mark = mark
    drive.section = found.section if found else ""
    drive.belt_datum_m = found.length if found else None
    drive.length_system = found.system if found else ""
    return found.words if found else ""


def _figures(drive: Drive, entry: DriveEntry) -> dict[str, dict[str, str]]:
    """Puts the figures on the drive, from the rim turned to the datum line; their entries."""
    kept: dict[str, dict[str, str]] = {}
    for name, (measure, _, _) in MEASURES.items():
        figure = entry.figures.get(name)
        if figure is None:
            if name != "belt_datum_m":
                setattr(drive, name, None)
            elif drive.belt_datum_m is not None:
                kept[name] = {"typed": drive.belt_mark, "mark": Drive.Mark.PLATE, "tool": ""}
            continue
        kept[name] = {
            "typed": _with_unit(figure.typed, measure), "mark": figure.mark, "tool": figure.tool,
        }  # fmt: skip
        value = figure.typed.value_si
        if figure.how == RIM:
            value, kept[name]["how"] = _from_rim(drive, entry, name=name, value=value)
            kept[name]["from"] = RIM
        if name == "motor_speed_rpm":
            value = round(value * 30 / pi, 6)
        if name != "belt_datum_m":
            setattr(drive, name, value)
    width = entry.figures.get("belt_new_width_m")
    drive.belt_new_width_u_m = None
    if width is not None:
        drive.belt_new_width_u_m = doubt.tool(width.tool or "steel rule").value
    return kept


def _with_unit(typed: Typed, measure: Measure) -> str:
    """What was typed, with the field's own unit where only a number was."""
    text = typed.text_as_typed
    return f"{text} {measure.unit}" if text[-1].isdigit() else text


def _from_rim(drive: Drive, entry: DriveEntry, *, name: str, value: float) -> tuple[float, str]:
    if not drive.section:
        raise Refused(
            gettext(
                "From the rim the datum line is found by the belt's section. Give the mark or the "
                "section first, or the datum figure."
            ),
            field=name,
        )
    try:
        if name in ("driver_m", "driven_m"):
            return kept(
                lambda: rule.from_rim(
                    section_code=drive.section, outside=value, system=entry.groove_system
                )
            )
        diameter = getattr(drive, name.replace("depth_", ""))
        if diameter is None:
            raise Refused(gettext("Give the diameter of this pulley too."), field=name)
        return kept(
            lambda: rule.depth_from_rim(
                section_code=drive.section,
                depth=value,
                diameter=diameter,
                system=entry.groove_system,
            )
        )
    except DriveError as refused:
        raise Refused(sentence(refused), field=name) from refused


def _fitted(drive: Drive, entry: DriveEntry, *, at: datetime) -> None:
    """Keeps when the belt was fitted, with the meter when that is told on the day itself."""
    day = drive.machine.depot.day_of(at)
    if entry.fitted_on is not None and entry.fitted_on > day:
        raise Refused(
            gettext("That day is still to come. Give today or an earlier day."), field="fitted_on"
        )
    old = (
        Drive.objects.filter(pk=drive.pk).values_list("belt_fitted_on", "entries").first()
        if drive.pk
        else None
    )
    if old is not None and old[0] == entry.fitted_on:
        if before := old[1].get("belt_fitted_on"):
            drive.entries["belt_fitted_on"] = before
        return
    drive.belt_fitted_on = entry.fitted_on
    drive.belt_fitted_tenths = drive.machine.hours_tenths if entry.fitted_on == day else None
    if entry.fitted_on is not None:
        drive.entries["belt_fitted_on"] = {
            "typed": entry.fitted_on.isoformat(), "mark": Drive.Mark.MEASURED, "tool": "",
            "told": at.isoformat(),
        }  # fmt: skip


def _gears(drive: Drive, stages: Sequence[tuple[int, int]]) -> None:
    """Makes the gear stages after this belt those told, up to the machine's next belt."""
    after = list(drive.machine.drives.filter(stage__gt=drive.stage).order_by("stage"))
    own = []
    for each in after:
        if each.kind != Drive.Kind.GEAR:
            break
        own.append(each)
    for each, (teeth_in, teeth_out) in zip(own, stages, strict=False):
        each.teeth_in, each.teeth_out = teeth_in, teeth_out
        each.save(update_fields=["teeth_in", "teeth_out", "changed_at"])
    for each in own[len(stages) :]:
        each.delete()
    last = drive.machine.drives.aggregate(last=Max("stage"))["last"] or drive.stage
    for number, (teeth_in, teeth_out) in enumerate(stages[len(own) :], last + 1):
        Drive.objects.create(
            machine=drive.machine, stage=number, name="Gears", kind=Drive.Kind.GEAR,
            teeth_in=teeth_in, teeth_out=teeth_out,
        )  # fmt: skip


def _at_field(refused: DriveError, drive: Drive) -> Refused:
    """The refusal of the sums at the field which it is about, in the units that are typed."""
    pulleys = " and ".join(
        length_text(each) for each in (drive.driver_m, drive.driven_m) if each is not None
    )
    if isinstance(refused, PulleysOverlap) and drive.centres_m is not None:
        least = length_text(((drive.driver_m or 0) + (drive.driven_m or 0)) / 2)
        return Refused(
            gettext(
                "Pulleys of {pulleys} overlap at {centres}. Not saved. The centres "
                "are more than {least} apart: measure again."
            ).format(pulleys=pulleys, centres=length_text(drive.centres_m), least=least),
            field="centres_m",
        )
    if isinstance(refused, BeltTooShort) and drive.belt_datum_m is not None:
        length = both_text(drive.belt_datum_m, 1)
        field = "belt_mark" if drive.belt_mark else "belt_datum_m"
        return Refused(
            gettext(
                "A belt of {length} does not reach round pulleys of {pulleys}. Not "
                "saved. Read the mark and measure the pulleys again."
            ).format(length=length, pulleys=pulleys),
            field=field,
        )
    text = gettext("{refused} Not saved.").format(refused=sentence(refused))
    for name, ours in FIELDS.items():
        if str(refused).startswith(LABELS[ours]):
            return Refused(text, field=name)
    return Refused(text)


def _si(value: float | None, unit: str) -> Canonical:
    return None if value is None else {"si": units.decimal_string(value), "unit": unit}
