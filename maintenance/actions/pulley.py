"""Readings of the pulleys: how deep the belt rides in them, how they line up, how worn they are."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.belt_record import Correction, begin, figure_of, outcome, si, worked_out
from maintenance.contents.drive import (
    SIDES,
    aligned,
    drive_now,
    given_now,
    groove_of,
    last_width,
    limits_for,
    seen_of,
    span_of,
)
from maintenance.models import AlignmentReading, PulleyReading, RideReading
from plant import units
from plant.actions.refusal import Refused
from plant.drives import doubt
from plant.drives.workout import SUMS_VERSION
from plant.length_words import as_kept, length_text
from plant.models import Drive, Record, User
from plant.sealing import Canonical
from plant.units import Typed

RIDE_TOOLS = ("depth gauge", "calliper", "steel rule")
GAP_TOOLS = ("feeler blades", "straight edge", "steel rule")
DISH_TOOLS = ("groove gauge", "feeler blades")
MOST_RIDE, MOST_GAP, MOST_DISH = 30e-3, 100e-3, 20e-3  # [m]
LEAST_ACROSS, MOST_ACROSS = 0.01, 3.0  # [m]


@dataclass(frozen=True, kw_only=True)
class Ride:
    """The top of the belt against the rim: how far, and on which side of it."""

    typed: Typed
    above: bool = False

    @property
    def metres(self) -> float:
        """[m] above the rim; below it negative."""
        return self.typed.value_si if self.above else -self.typed.value_si


@transaction.atomic
def record_ride(
    *,
    drive: Drive,
    rides: Mapping[str, Ride],
    tool: str,
    at: datetime,
    by: User,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
    correction: Correction | None = None,
) -> RideReading:
    """Keeps how deep the belt rides; it outranks what its width says, and tells worn grooves.

    Args:
        rides: by pulley, "driver" and "driven", one or both; tool: one of ``RIDE_TOOLS``.

    Raises:
        Refused: no ride given, or one that no belt has.
    """
    act = begin(
        drive=drive, kind=Record.Kind.RIDE, at=at, by=by, note=note, received_at=received_at,
        record_id=record_id, correction=correction,
    )  # fmt: skip
    if tool not in RIDE_TOOLS:
        raise Refused(_("Choose one of these tools."), field="tool")
    if not rides or set(rides) - set(SIDES):
        raise Refused(_("Give the ride of one pulley or of both."), field="driver")
    for side, ride in rides.items():
        if not 0 <= ride.typed.value_si <= MOST_RIDE:
            most = length_text(MOST_RIDE)
            raise Refused(
                _("Give 0 to {most}, and above or below. Not saved.").format(most=most), field=side
            )
    told: dict[str, Canonical] = {
        "drive": str(act.drive.pk),
        "tool": tool,
        **{
            side: {
                **figure_of(ride.typed, "m"),
                "typed": f"{ride.typed.text_as_typed} {'above' if ride.above else 'below'}",
                "si": units.decimal_string(ride.metres),
            }
            for side, ride in rides.items()
        },
    }
    if before := act.before(told):
        return before.ride_row
    act.refuse_earlier_belt()
    u = doubt.tool(tool).value
    row = RideReading(
        drive=act.drive, at=act.at, u_m=u, tool=tool, sums_version=SUMS_VERSION,
        **{f"{side}_m": ride.metres for side, ride in rides.items()},
    )  # fmt: skip
    width = last_width(act.drive, by=act.at)
    given = given_now(act.drive, at=act.at, width=width, seen=seen_of(act.drive, by=act.at))
    given = replace(
        given, driver_ride=row.driver_m if "driver" in rides else given.driver_ride,
        driven_ride=row.driven_m if "driven" in rides else given.driven_ride, ride_u=u,
    )  # fmt: skip
    found = worked_out(given, field=next(iter(rides)))
    record = act.seal({**told, "u": si(u, "m"), **outcome(found)}, now=str(row))
    row.stage, row.verdict, row.record = given.stage, str(found.verdict), record
    row.save()
    act.close(record)
    return row


@transaction.atomic
def record_alignment(
    *,
    drive: Drive,
    near: Typed,
    far: Typed,
    tool: str,
    at: datetime,
    by: User,
    across: Typed | None = None,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
    correction: Correction | None = None,
) -> AlignmentReading:
    """Keeps the gaps under a straight edge, and says whether the pulleys are in line.

    Args:
        near, far: gaps to the face of the other pulley, at its nearer and its farther edge.
        across: distance between these points; None: the diameter of the smaller pulley.

    Raises:
        Refused: the span is not known yet, or a gap is absurd.
    """
    act = begin(
        drive=drive, kind=Record.Kind.ALIGNMENT, at=at, by=by, note=note, received_at=received_at,
        record_id=record_id, correction=correction,
    )  # fmt: skip
    if tool not in GAP_TOOLS:
        raise Refused(_("Choose one of these tools."), field="tool")
    for field, gap in (("near", near), ("far", far)):
        if not 0 <= gap.value_si <= MOST_GAP:
            most = length_text(MOST_GAP)
            raise Refused(_("Give a gap of 0 to {most}. Not saved.").format(most=most), field=field)
    if across is not None and not LEAST_ACROSS <= across.value_si <= MOST_ACROSS:
        ends = _("{least_across} to {most_across}").format(
            least_across=length_text(LEAST_ACROSS), most_across=length_text(MOST_ACROSS)
        )
        raise Refused(_("Give {ends}. Not saved.").format(ends=ends), field="across")
    told: dict[str, Canonical] = {
        "drive": str(act.drive.pk),
        "near": figure_of(near, "m"),
        "far": figure_of(far, "m"),
        "across": figure_of(across, "m") if across else None,
        "tool": tool,
    }
    if before := act.before(told):
        return before.alignment_row
    pulleys = [each for each in (act.drive.driver_m, act.drive.driven_m) if each is not None]
    span = span_of(drive_now(act.drive, at=act.at).workout)
    if span is None or not pulleys:
        raise Refused(
            _("The span is not known yet. Enter both pulleys, and the belt or the centre distance.")
        )
    row = AlignmentReading(
        drive=act.drive, at=act.at, near_m=near.value_si, far_m=far.value_si,
        across_m=across.value_si if across else min(pulleys), u_m=doubt.tool(tool).value,
        tool=tool, sums_version=SUMS_VERSION,
    )  # fmt: skip
    limit = limits_for(act.machine, at=act.at)["belt_alignment"]
    found = aligned(row, span=span, limit=limit)
    if found is None:
        raise Refused(
            _("These gaps are of no pulley pair. Not saved. Measure again."), field="near"
        )
    row.verdict = str(found.lies)
    row.record = act.seal(
        {
            **told,
            "sums": SUMS_VERSION,
            "verdict": row.verdict,
            "results": {
                "span": si(span, "m"),
                "offset": si(found.offset.value, "m"),
                "turn": si(found.turn, "rad"),
                "worst": si(found.worst.value, "rad"),
                "worst_u": si(found.worst.u, "rad"),
            },
            "limit": si(limit.value, "rad"),
            "source": limit.source,
            "trust": str(limit.trust),
        },
        now=str(row),
    )
    row.save()
    act.close(row.record)
    return row


@transaction.atomic
def record_pulley(
    *,
    drive: Drive,
    pulley: PulleyReading.Pulley,
    at: datetime,
    by: User,
    dish: Typed | None = None,
    tool: str = "",
    shines: bool | None = None,
    step: bool | None = None,
    corroded: bool | None = None,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
    correction: Correction | None = None,
) -> PulleyReading:
    """Keeps how the groove of a pulley was found, and says whether a new belt lasts on it.

    Args:
        dish: largest gap between flank and groove gauge; tool: one of ``DISH_TOOLS`` with it.
        shines, step, corroded: what was seen; None: not looked at.

    Raises:
        Refused: nothing was told, or a gap that no groove has.
    """
    act = begin(
        drive=drive, kind=Record.Kind.PULLEY, at=at, by=by, note=note, received_at=received_at,
        record_id=record_id, correction=correction,
    )  # fmt: skip
    if pulley not in PulleyReading.Pulley.values:
        raise Refused(_("Choose one of these."), field="pulley")
    if dish is None and shines is step is corroded is None:
        raise Refused(_("Say what you saw, or give the gap under the gauge."), field="shines")
    if dish is not None and tool not in DISH_TOOLS:
        raise Refused(_("Choose one of these tools."), field="tool")
    if dish is not None and not 0 <= dish.value_si <= MOST_DISH:
        raise Refused(
            _("Give a gap of 0 to {most_dish}. Not saved.").format(
                most_dish=length_text(MOST_DISH)
            ),
            field="dish",
        )
    seen: dict[str, Canonical] = {
        name: {True: "yes", False: "no", None: "not looked at"}[value]
        for name, value in (("shines", shines), ("step", step), ("corroded", corroded))
    }
    told: dict[str, Canonical] = {
        "drive": str(act.drive.pk),
        "pulley": str(pulley),
        "dish": figure_of(dish, "m") if dish else None,
        "tool": tool if dish else "",
        **seen,
    }
    if before := act.before(told):
        return before.pulley_row
    row = PulleyReading(
        drive=act.drive, at=act.at, pulley=pulley, dish_m=dish.value_si if dish else None,
        u_m=doubt.tool(tool).value if dish else None, tool=tool if dish else "", shines=shines,
        step=step, corroded=corroded, sums_version=SUMS_VERSION,
    )  # fmt: skip
    limit = limits_for(act.machine, at=act.at)["groove_dish"]
    with as_kept():
        words = groove_of(row, limit=limit).words
    found = groove_of(row, limit=limit)
    row.verdict = "worn" if found.worn else str(found.lies or "")
    row.record = act.seal(
        {
            **told,
            "sums": SUMS_VERSION,
            "verdict": row.verdict or "not gauged",
            "limit": si(limit.value, "m"),
            "source": limit.source,
            "trust": str(limit.trust),
        },
        now=words,
    )
    row.save()
    act.close(row.record)
    return row
