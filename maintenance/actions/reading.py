"""Belt readings: width and tension, averaged with their doubt, judged, sealed, and acted on."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from maintenance.actions.again import link_again
from maintenance.actions.belt_life import belt_moved
from maintenance.actions.signing import locked, sealed_before, signing_role, words
from maintenance.contents.drive import given_now, last_width, sentence
from maintenance.models import Job, TensionReading, WidthReading
from maintenance.rules import belt as rule
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.contents.drive import with_tension, with_width
from plant.drives import doubt, tension
from plant.drives.doubt import Doubtful
from plant.drives.errors import DriveError
from plant.drives.outcome import LABELS, Setting
from plant.drives.sections import section
from plant.drives.workout import DriveGiven, DriveWorkout, Verdict, work_out
from plant.models import Drive, Machine, Record, User
from plant.rights import Right
from plant.sealing import Canonical
from plant.units import FORCE, LENGTH, WIDTH, Typed

# The tools of ``doubt.TOOLS`` that such a reading is taken with, the usual one first.
WIDTH_TOOLS = ("calliper", "steel rule")
TENSION_TOOLS = {
    "force": ("spring gauge", "tension pen"),
    "frequency": ("span frequency, share of the reading",),
}
MOST_READINGS = 6
LONGEST_NOTE = 2000
LEAST_WIDTH, MOST_WIDTH = 2e-3, 60e-3  # [m]


class Questioned(Refused):
    """The figure looks like a slip; the person says that it is right, or types it again."""


@transaction.atomic
def record_width(
    *,
    drive: Drive,
    widths: Sequence[Typed],
    tool: str,
    at: datetime,
    by: User,
    slot_out: Typed | None = None,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> WidthReading:
    """Keeps the top width of the fitted belt, and says what it means.

    Several readings are averaged; the tool's own error stays whole. A verdict of "change now"
    raises a job of belt work unless one is open. It does not stop the machine: a worn belt slips
    or breaks behind its guard, which costs a day and hurts nobody; where it holds a load, a
    person stops the machine with one press.

    Args:
        widths: 1 to 6 readings of the same belt; tool: one of ``WIDTH_TOOLS``.
        slot_out: room left outwards in the slot as it stands now, where it was looked at; the
            centre distance then moves with it.

    Raises:
        Refused: no reading, a width no belt has, or a tool that is not held.
    """
    machine = locked(drive.machine)
    drive = _locked_drive(drive, machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.WORK)
    note = words(note, field="note", what="note", high=LONGEST_NOTE)
    if tool not in WIDTH_TOOLS:
        raise Refused("Choose one of these tools.", field="tool")
    if not 1 <= len(widths) <= MOST_READINGS:
        raise Refused(f"Give 1 to {MOST_READINGS} readings.", field="width_1")
    for number, one in enumerate(widths, 1):
        if not LEAST_WIDTH <= one.value_si <= MOST_WIDTH:
            ends = " to ".join(units.show(end, WIDTH) for end in (LEAST_WIDTH, MOST_WIDTH))
            raise Refused(f"A belt is {ends} wide. Not saved.", field=f"width_{number}")
    told: dict[str, Canonical] = {
        "drive": str(drive.pk),
        "readings": [_figure(one, "m") for one in widths],
        "tool": tool,
        "slot_out": _figure(slot_out, "m") if slot_out else None,
    }
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.WIDTH, machine=machine, by=by, by_name="",
        told=told, texts={"note": note},
    ):  # fmt: skip
        return before.width_row
    if slot_out is not None:
        _move_motor(drive, slot_out)
    width, u = doubt.average([one.value_si for one in widths], tool_floor=doubt.tool(tool).value)
    typed = ", ".join(one.text_as_typed for one in widths)
    given = with_width(given_now(drive, at=at, width=None), width=width, u=u, typed=typed)
    found = _worked_out(given, field="width_1")
    record = seal(
        kind=Record.Kind.WIDTH, depot=machine.depot, machine=machine,
        data={
            **told,
            "width": _si(width, "m"),
            "u": _si(u, "m"),
            **_outcome(found),
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts={"note": note},
        record_id=record_id,
    )  # fmt: skip
    reading = WidthReading.objects.create(
        drive=drive, at=at, width_m=width, u_m=u, tool=tool, hours_tenths=machine.hours_tenths,
        verdict=str(found.verdict), sums_version=found.sums_version, record=record,
    )  # fmt: skip
    _raise_belt_job(drive, found, record=record, at=at)
    belt_moved(drive, at=received_at or at)
    return reading


@transaction.atomic
def record_tension(
    *,
    drive: Drive,
    method: TensionReading.Method,
    figure: Typed,
    tool: str,
    at: datetime,
    by: User,
    depth: Typed | None = None,
    slot_out: Typed | None = None,
    confirmed: bool = False,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> TensionReading:
    """Keeps a tension reading of one belt, and says how it lies in its band.

    Args:
        method: a force at mid-span, or the frequency of the plucked span.
        figure: the force [N] or the frequency [Hz].
        depth: how deep the span was pressed; None: by a 64th of the span.
        slot_out: room left outwards in the slot as it stands now, where it was looked at.
        confirmed: the person looked again at a figure that was questioned.

    Raises:
        Questioned: the figure looks like kilogram-force typed as newtons (or the other way), or
            like a higher mode of the span.
        Refused: the drive's data are too thin for a tension, or the figure is absurd.
    """
    machine = locked(drive.machine)
    drive = _locked_drive(drive, machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.WORK)
    note = words(note, field="note", what="note", high=LONGEST_NOTE)
    if method not in TensionReading.Method.values:
        raise Refused("Choose one of these.", field="method")
    is_force = method == TensionReading.Method.FORCE
    field = "force" if is_force else "frequency"
    if tool not in TENSION_TOOLS[field]:
        raise Refused("Choose one of these tools.", field="tool")
    told: dict[str, Canonical] = {
        "drive": str(drive.pk),
        "method": str(method),
        "reading": _figure(figure, "N" if is_force else "Hz"),
        "depth": _figure(depth, "m") if depth and is_force else None,
        "tool": tool,
        "slot_out": _figure(slot_out, "m") if slot_out else None,
    }
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.TENSION, machine=machine, by=by, by_name="",
        told=told, texts={"note": note},
    ):  # fmt: skip
        return before.tension_row
    if slot_out is not None:
        _move_motor(drive, slot_out)
    given = given_now(drive, at=at, width=last_width(drive))
    setting = _setting(given)
    question = _question(given, setting, figure=figure, is_force=is_force)
    if question and not confirmed:
        raise Questioned(
            f"{question} Not saved. Type it again, or say that it is right.", field=field
        )
    u = doubt.tool(tool).value * (1 if is_force else figure.value_si)
    found = _worked_out(
        with_tension(
            given, method=field, value=figure.value_si, u=u,
            depth=depth.value_si if depth else None, typed=figure.text_as_typed,
        ),
        field=field,
    )  # fmt: skip
    if found.tension is None or found.tension.reading is None:
        raise Refused(
            "No tension can be told from this: no stiffness or mass is held for the section. "
            "Not saved.",
            field=field,
        )
    reading = found.tension.reading
    required = reading.tension.value / reading.ratio if reading.ratio else setting.required.value
    if slot_out is not None:
        drive.entries = drive.entries | {
            "belt_tight": {"typed": "yes", "mark": Drive.Mark.MEASURED, "tool": ""}
        }
        drive.save(update_fields=["entries"])
    record = seal(
        kind=Record.Kind.TENSION, depot=machine.depot, machine=machine,
        data={
            **told,
            "reading_u": _si(u, "N" if is_force else "Hz"),
            "questioned": question,
            "tension": _si(reading.tension.value, "N"),
            "u": _si(reading.tension.u, "N"),
            "required": _si(required, "N"),
            "stage": given.stage,
            "lies": reading.verdict,
            **_outcome(found),
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts={"note": note},
        record_id=record_id,
    )  # fmt: skip
    row = TensionReading.objects.create(
        drive=drive, at=at, method=method, tension_n=reading.tension.value,
        u_n=reading.tension.u, required_n=required, stage=given.stage,
        verdict=reading.verdict, sums_version=found.sums_version, record=record,
    )  # fmt: skip
    _raise_belt_job(drive, found, record=record, at=at)
    belt_moved(drive, at=received_at or at)
    return row


def _locked_drive(drive: Drive, machine: Machine) -> Drive:
    drive = Drive.objects.select_for_update(of=("self",)).get(pk=drive.pk, machine=machine)
    drive.machine = machine
    return drive


def _worked_out(given: DriveGiven, *, field: str) -> DriveWorkout:
    try:
        return work_out(given)
    except DriveError as refused:
        raise Refused(f"{sentence(refused)} Not saved.", field=field) from refused


def _setting(given: DriveGiven) -> Setting:
    """The setting against which a figure is questioned; what is missing for it is named."""
    part = _worked_out(given, field="").tension
    if part is not None:
        return part.this_belt or part.new_belt
    wanted = [
        LABELS[name]
        for name in ("driver", "driven", "section", "length", "motor_power", "motor_speed")
        if getattr(given, name) in (None, "")
    ]
    raise Refused(
        f"The tension cannot be told yet. Enter first: {', '.join(wanted)}."
        if wanted
        else "No mass for each metre is held for this section, so no tension can be told."
    )


def _question(given: DriveGiven, setting: Setting, *, figure: Typed, is_force: bool) -> str:
    """What is odd about a figure, in words; empty when nothing is."""
    if not is_force:
        try:
            read = tension.read_frequency(
                frequency=figure.value_si, mass=setting.mass, span=setting.span,
                height=section(given.section).height, expected=setting.required.value,
            )  # fmt: skip
        except DriveError as refused:
            raise Refused(f"{sentence(refused)} Not saved.", field="frequency") from refused
        return read.words if read.questioned else ""
    if setting.force_low is None or setting.force_high is None:
        return ""
    unit = rule.gravity_slip(force=figure.value_si, low=setting.force_low, high=setting.force_high)
    if not unit:
        return ""
    wanted = f"{setting.force_low:.1f} to {setting.force_high:.1f} N"
    read_as = units.show(figure.value_si, FORCE)
    return f"{figure.text_as_typed} is {read_as}, and {wanted} is wanted. Was it read in {unit}?"


def _move_motor(drive: Drive, slot_out: Typed) -> None:
    """Moves the motor along its slot to where it stands now; the slot's ends stay."""
    if not 0 <= slot_out.value_si <= 1:
        raise Refused("A slot has 0.0 mm to 1000.0 mm of room. Not saved.", field="slot_out")
    if drive.slot_out_m is not None:
        moved = drive.slot_out_m - slot_out.value_si
        if drive.centres_m is not None:
            drive.centres_m += moved
            drive.entries = drive.entries | {
                "centres_m": {
                    **drive.entries.get("centres_m", {"mark": Drive.Mark.GUESS, "tool": ""}),
                    "typed": units.show(drive.centres_m, LENGTH),
                    "how": "moved with the slot",
                }
            }
        if drive.slot_in_m is not None:
            if drive.slot_in_m + moved < -1e-3:
                raise Refused(
                    "The slot is not that long by the drive's data. Not saved. Look again, or "
                    "change the drive's data first.",
                    field="slot_out",
                )
            drive.slot_in_m = max(drive.slot_in_m + moved, 0.0)
    drive.slot_out_m = slot_out.value_si
    text = slot_out.text_as_typed
    drive.entries = drive.entries | {
        "slot_out_m": {
            "typed": f"{text} {LENGTH.unit}" if text[-1].isdigit() else text,
            "mark": Drive.Mark.MEASURED,
            "tool": "",
        }
    }
    drive.save(update_fields=["slot_out_m", "slot_in_m", "centres_m", "entries", "changed_at"])


def _raise_belt_job(
    drive: Drive, found: DriveWorkout, *, record: Record, at: datetime
) -> Job | None:
    """A job of belt work where the belt is to be changed now, unless one is open for this drive."""
    if found.verdict != Verdict.CHANGE:
        return None
    machine = drive.machine
    title = f"Change the belt: {drive.name}"
    open_jobs = Job.objects.open().filter(machine=machine, kind=Job.Kind.BELT, belt_work="")
    # A job does not name its drive: on a machine with one belt any open belt job is for it.
    if machine.drives.filter(kind=Drive.Kind.BELT).count() > 1:
        open_jobs = open_jobs.filter(title=title)
    if open_jobs.exists():
        return None
    job = Job.objects.create(
        machine=machine,
        drive=drive,
        kind=Job.Kind.BELT,
        state=Job.State.REPORTED,
        state_since=at,
        title=title,
        symptom=" ".join(found.verdict_words)[:400],
        opened_at=at,
        opened_by_record=record,
        due_on=machine.depot.day_of(at),
    )
    link_again(job, at=at)
    return job


def _outcome(found: DriveWorkout) -> dict[str, Canonical]:
    """The verdict, what it rests on and the main figures, as they are sealed."""
    return {
        "sums": found.sums_version,
        "verdict": str(found.verdict),
        "why": list(found.verdict_words),
        "started_from": {
            used.field: {**_figure_si(used.value, used.unit), "mark": used.mark}
            for used in found.used
        },
        "results": {
            name: _si(value, unit)
            for name, (value, unit) in _figures(found).items()
            if value is not None
        },
    }


def _figures(found: DriveWorkout) -> Mapping[str, tuple[float | None, str]]:
    figures: dict[str, tuple[float | None, str]] = {}
    worn, tensioned = found.wear, found.tension
    if worn is not None:
        figures |= {
            "width_lost": (_value(worn.loss), "m"),
            "extra_centres_free": (_value(worn.extra_free), "m"),
            "extra_centres": (_value(worn.extra), "m"),
        }
        for name, seat in (("driver", worn.driver), ("driven", worn.driven)):
            figures |= {
                f"{name}_drop_free": (_value(seat.drop_free), "m"),
                f"{name}_drop": (seat.drop.value, "m"),
                f"{name}_room": (seat.room.value, "m"),
                f"{name}_ride": (seat.ride.value, "m"),
                f"{name}_odds_on_floor": (seat.odds_bottoms, "1"),
            }
        if worn.take_up is not None:
            figures |= {
                "take_up_used": (worn.take_up.used.value, "m"),
                "take_up_left": (worn.take_up.left.value, "m"),
            }
    if tensioned is not None:
        setting = tensioned.this_belt or tensioned.new_belt
        figures |= {
            "tension_low": (setting.low, "N"),
            "tension_high": (setting.high, "N"),
            "span": (setting.span, "m"),
        }
    return figures


def _value(figure: Doubtful | None) -> float | None:
    return None if figure is None else figure.value


def _figure(typed: Typed, unit: str) -> dict[str, Canonical]:
    return {"typed": typed.text_as_typed, **_figure_si(typed.value_si, unit)}


def _figure_si(value: float, unit: str) -> dict[str, Canonical]:
    return {"si": units.decimal_string(value), "unit": unit or "1"}


def _si(value: float | None, unit: str) -> Canonical:
    return None if value is None else _figure_si(value, unit)
