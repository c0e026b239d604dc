"""Belt readings: width and tension, averaged with their doubt, judged, sealed, and acted on."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.belt_record import Correction, begin, figure_of, outcome, si, worked_out
from maintenance.actions.slot import keep_slot, moved_to
from maintenance.contents.drive import (
    at_width,
    given_now,
    hours_at,
    last_width,
    seen_of,
    sentence,
    worn_since,
)
from maintenance.models import TensionReading, WidthReading
from maintenance.rules import belt as rule
from plant import units
from plant.actions.refusal import Refused
from plant.contents.drive import with_tension, with_width
from plant.drives import doubt, tension
from plant.drives.errors import DriveError
from plant.drives.outcome import LABELS, Setting
from plant.drives.sections import section
from plant.drives.workout import DriveGiven
from plant.length_words import length_text
from plant.models import Drive, Record, User
from plant.sealing import Canonical
from plant.units import FORCE, WIDTH, Typed

# The tools of ``doubt.TOOLS`` that such a reading is taken with, the usual one first.
WIDTH_TOOLS = ("calliper", "steel rule")
TENSION_TOOLS = {
    "force": ("spring gauge", "tension pen"),
    "frequency": ("span frequency, share of the reading",),
}
MOST_READINGS = 6
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
    correction: Correction | None = None,
) -> WidthReading:
    """Keeps the top width of the fitted belt, and says what it means.

    Several readings are averaged; the tool's own error stays whole. Where the drive, with all that
    was read of it, then asks for a new belt, a job of belt work is raised unless one is open. It
    does not stop the machine: a worn belt slips or breaks behind its guard, which costs a day and
    hurts nobody; where it holds a load, a person stops the machine with one press.

    Args:
        widths: 1 to 6 readings of the same belt; tool: one of ``WIDTH_TOOLS``.
        at: the moment of measuring; received_at: the moment of telling, if later.
        slot_out: room left outwards in the slot as it stands now, where it was looked at.
        correction: the reading that this one puts right.

    Raises:
        Refused: no reading, a width no belt has, or a tool that is not held.
    """
    act = begin(
        drive=drive, kind=Record.Kind.WIDTH, at=at, by=by, note=note, received_at=received_at,
        record_id=record_id, correction=correction,
    )  # fmt: skip
    drive = act.drive
    if tool not in WIDTH_TOOLS:
        raise Refused(_("Choose one of these tools."), field="tool")
    if not 1 <= len(widths) <= MOST_READINGS:
        raise Refused(
            _("Give 1 to {most_readings} readings.").format(most_readings=MOST_READINGS),
            field="width_1",
        )
    for number, one in enumerate(widths, 1):
        if not LEAST_WIDTH <= one.value_si <= MOST_WIDTH:
            ends = " to ".join(length_text(end) for end in (LEAST_WIDTH, MOST_WIDTH))
            raise Refused(
                _("A belt is {ends} wide. Not saved.").format(ends=ends), field=f"width_{number}"
            )
    told: dict[str, Canonical] = {
        "drive": str(drive.pk),
        "readings": [figure_of(one, "m") for one in widths],
        "tool": tool,
        "slot_out": figure_of(slot_out, "m") if slot_out else None,
    }
    if before := act.before(told):
        return before.width_row
    width, u = doubt.average([one.value_si for one in widths], tool_floor=doubt.tool(tool).value)
    typed = ", ".join(one.text_as_typed for one in widths)
    act.refuse_earlier_belt()
    seen = at_width(seen_of(drive, by=act.at), act.at)
    given = given_now(drive, at=act.at, width=None, seen=seen)
    given = with_width(given, width=width, u=u, typed=typed)
    if slot_out is not None:
        given = moved_to(given, out=slot_out, tool="", tight=None)
    else:
        given = worn_since(drive, given, at=act.at, tension=None, seen=seen)
    found = worked_out(given, field="width_1")
    record = act.seal(
        {**told, "width": si(width, "m"), "u": si(u, "m"), **outcome(found)},
        now=units.show(width, WIDTH, doubt=2 * u),
    )
    reading = WidthReading.objects.create(
        drive=drive, at=act.at, width_m=width, u_m=u, tool=tool,
        hours_tenths=hours_at(act.machine, act.at), verdict=str(found.verdict),
        sums_version=found.sums_version, record=record,
    )  # fmt: skip
    if slot_out is not None:
        keep_slot(act, out=slot_out, tool="", tight=None, found=found, record=record)
    act.close(record)
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
    correction: Correction | None = None,
) -> TensionReading:
    """Keeps a tension reading of one belt, and says how it lies in its band.

    Args:
        method: a force at mid-span, or the frequency of the plucked span.
        figure: the force [N] or the frequency [Hz].
        depth: how deep the span was pressed; None: by a 64th of the span.
        slot_out: room left outwards in the slot as it stands now, where it was looked at; the
            belt is tight there.
        confirmed: the person looked again at a figure that was questioned.
        correction: the reading that this one puts right.

    Raises:
        Questioned: the figure looks like kilogram-force typed as newtons (or the other way), or
            like a higher mode of the span.
        Refused: the drive's data are too thin for a tension, or the figure is absurd.
    """
    act = begin(
        drive=drive, kind=Record.Kind.TENSION, at=at, by=by, note=note, received_at=received_at,
        record_id=record_id, correction=correction,
    )  # fmt: skip
    drive = act.drive
    if method not in TensionReading.Method.values:
        raise Refused(_("Choose one of these."), field="method")
    is_force = method == TensionReading.Method.FORCE
    field = "force" if is_force else "frequency"
    if tool not in TENSION_TOOLS[field]:
        raise Refused(_("Choose one of these tools."), field="tool")
    told: dict[str, Canonical] = {
        "drive": str(drive.pk),
        "method": str(method),
        "reading": figure_of(figure, "N" if is_force else "Hz"),
        "depth": figure_of(depth, "m") if depth and is_force else None,
        "tool": tool,
        "slot_out": figure_of(slot_out, "m") if slot_out else None,
    }
    if before := act.before(told):
        return before.tension_row
    act.refuse_earlier_belt()
    width = last_width(drive, by=act.at)
    given = given_now(drive, at=act.at, width=width, seen=seen_of(drive, by=act.at))
    if slot_out is not None:
        given = moved_to(given, out=slot_out, tool="", tight=True)
    setting = _setting(given)
    question = _question(given, setting, figure=figure, is_force=is_force)
    if question and not confirmed:
        raise Questioned(
            _("{question} Not saved. Type it again, or say that it is right.").format(
                question=question
            ),
            field=field,
        )
    u = doubt.tool(tool).value * (1 if is_force else figure.value_si)
    found = worked_out(
        with_tension(
            given, method=field, value=figure.value_si, u=u,
            depth=depth.value_si if depth else None, typed=figure.text_as_typed,
        ),
        field=field,
    )  # fmt: skip
    if found.tension is None or found.tension.reading is None:
        raise Refused(
            _(
                "No tension can be told from this: no stiffness or mass is held for the section. "
                "Not saved."
            ),
            field=field,
        )
    reading = found.tension.reading
    required = reading.tension.value / reading.ratio if reading.ratio else setting.required.value
    record = act.seal(
        {
            **told,
            "reading_u": si(u, "N" if is_force else "Hz"),
            "questioned": question,
            "tension": si(reading.tension.value, "N"),
            "u": si(reading.tension.u, "N"),
            "required": si(required, "N"),
            "stage": given.stage,
            "lies": reading.verdict,
            **outcome(found),
        },
        now=f"{reading.tension.value:.0f} N",
    )
    row = TensionReading.objects.create(
        drive=drive, at=act.at, method=method, tension_n=reading.tension.value,
        u_n=reading.tension.u, required_n=required, stage=given.stage, tool=tool,
        verdict=reading.verdict, sums_version=found.sums_version, record=record,
    )  # fmt: skip
    if slot_out is not None:
        keep_slot(act, out=slot_out, tool="", tight=True, found=found, record=record)
    act.close(record)
    return row


def _setting(given: DriveGiven) -> Setting:
    """The setting against which a figure is questioned; what is missing for it is named."""
    part = worked_out(given, field="").tension
    if part is not None:
        return part.this_belt or part.new_belt
    wanted = [
        _(LABELS[name])
        for name in ("driver", "driven", "section", "length", "motor_power", "motor_speed")
        if getattr(given, name) in (None, "")
    ]
    raise Refused(
        _("The tension cannot be told yet. Enter first: {wanted}.").format(wanted=", ".join(wanted))
        if wanted
        else _("No mass for each metre is held for this section, so no tension can be told.")
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
            raise Refused(
                _("{refused} Not saved.").format(refused=sentence(refused)), field="frequency"
            ) from refused
        return read.words if read.questioned else ""
    if setting.force_low is None or setting.force_high is None:
        return ""
    unit = rule.gravity_slip(force=figure.value_si, low=setting.force_low, high=setting.force_high)
    if not unit:
        return ""
    wanted = _("{force_low} to {force_high} N").format(
        force_low=f"{setting.force_low:.1f}", force_high=f"{setting.force_high:.1f}"
    )
    read_as = units.show(figure.value_si, FORCE)
    return _("{text_as_typed} is {read_as}, and {wanted} is wanted. Was it read in {unit}?").format(
        text_as_typed=figure.text_as_typed, read_as=read_as, wanted=wanted, unit=unit
    )
