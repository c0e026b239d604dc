"""Where the motor stands in its slot: read by itself, or with a width or a tension."""

import uuid
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.belt_record import Act, Correction, begin, figure_of, outcome, worked_out
from maintenance.contents.drive import given_now, last_width, seen_of
from maintenance.models import SlotReading
from plant import units
from plant.actions.refusal import Refused
from plant.contents.drive import with_place
from plant.drives import doubt
from plant.drives.parts.known import HALF_WIDTHS
from plant.drives.workout import DriveGiven, DriveWorkout
from plant.length_words import length_text
from plant.models import Drive, Record, User
from plant.sealing import Canonical
from plant.units import LENGTH, Typed

SLOT_TOOLS = ("steel rule", "calliper", "tape")
MOST_ROOM = 1.0  # [m]


@transaction.atomic
def record_slot(
    *,
    drive: Drive,
    out: Typed,
    tool: str,
    tight: bool | None,
    at: datetime,
    by: User,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
    correction: Correction | None = None,
) -> SlotReading:
    """Keeps where the motor stands in its slot; centre distance and room inwards move with it.

    Args:
        out: room left outwards; tool: one of ``SLOT_TOOLS``.
        tight: whether the belt was tight there; None: not sure.

    Raises:
        Refused: no slot has that much room, or not by the drive's data.
    """
    act = begin(
        drive=drive, kind=Record.Kind.RIDE, at=at, by=by, note=note, received_at=received_at,
        record_id=record_id, correction=correction,
    )  # fmt: skip
    if tool not in SLOT_TOOLS:
        raise Refused(_("Choose one of these tools."), field="tool")
    told: dict[str, Canonical] = {
        "drive": str(act.drive.pk),
        "slot_out": figure_of(out, "m"),
        "tight": {True: "yes", False: "no", None: "not sure"}[tight],
        "tool": tool,
    }
    if before := act.before(told):
        return before.slot_row
    width = last_width(act.drive, by=act.at)
    given = given_now(act.drive, at=act.at, width=width, seen=seen_of(act.drive, by=act.at))
    found = worked_out(moved_to(given, out=out, tool=tool, tight=tight), field="slot_out")
    record = act.seal({**told, **outcome(found)}, now=units.show(out.value_si, LENGTH))
    row = keep_slot(act, out=out, tool=tool, tight=tight, found=found, record=record)
    act.close(record)
    return row


def moved_to(given: DriveGiven, *, out: Typed, tool: str, tight: bool | None) -> DriveGiven:
    """The drive with its motor at this place of the slot.

    Raises:
        Refused: no slot has that much room, or not by the drive's data; at ``slot_out``.
    """
    if not 0 <= out.value_si <= MOST_ROOM:
        raise Refused(
            _("A slot has 0 to {most_room} of room. Not saved.").format(
                most_room=length_text(MOST_ROOM)
            ),
            field="slot_out",
        )
    moved = 0.0 if given.slot_out is None else given.slot_out - out.value_si
    if given.slot_in is not None and given.slot_in + moved < -1e-3:
        raise Refused(
            _(
                "The slot is not that long by the drive's "
                "data. Not saved. Look again, or change the "
                "drive's data first."
            ),
            field="slot_out",
        )
    return with_place(given, out=out.value_si, tool=tool, typed=out.text_as_typed, tight=tight)


def keep_slot(
    act: Act,
    *,
    out: Typed,
    tool: str,
    tight: bool | None,
    found: DriveWorkout,
    record: Record,
) -> SlotReading:
    """The row of a slot reading, on the record that it was sealed in."""
    u = doubt.tool(tool).value if tool else doubt.rectangular(half_width=HALF_WIDTHS["slot"][0])
    return SlotReading.objects.create(
        drive=act.drive,
        at=act.at,
        out_m=out.value_si,
        u_m=u,
        tool=tool,
        tight=tight,
        stage=found.given.stage,
        verdict=str(found.verdict),
        sums_version=found.sums_version,
        record=record,
    )
