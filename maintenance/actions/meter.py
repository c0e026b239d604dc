"""Meter figures: the dial as read, the running hours it stands for, and what is questioned."""

import uuid
from datetime import datetime

from django.db import transaction

from maintenance.actions.signing import locked, sealed_before, signing_role
from maintenance.models import MeterReading
from maintenance.rules import meter as rule
from maintenance.rules.words import hours_text
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Meter, Record, User
from plant.rights import Right
from plant.sealing import Canonical


@transaction.atomic
def record_meter(
    *,
    machine: Machine,
    dial_tenths: int,
    typed: str,
    at: datetime,
    received_at: datetime | None = None,
    by: User | None = None,
    by_name: str = "",
    confirmed: bool = False,
    record_id: uuid.UUID | None = None,
) -> MeterReading:
    """Keeps what the dial shows. A figure that does not fit is kept as questioned, moving nothing.

    Args:
        dial_tenths: [0.1 h] what the dial shows; typed: as it was typed.
        at: when it was read; a figure told late takes its place between its neighbours.
        confirmed: the person looked again, or the figure comes from a phone that was offline; a
            figure that does not fit is then kept as questioned.

    Raises:
        Refused: out of range, or it does not fit and nobody has looked again.
    """
    machine = locked(machine)
    role = signing_role(machine=machine, by=by, by_name=by_name, right=Right.CHECK)
    told: dict[str, Canonical] = {
        "dial": {
            "typed": typed,
            "si": units.decimal_string(units.seconds_of_tenths(dial_tenths)),
            "unit": "s",
        }
    }
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by, by_name=by_name,
        told=told, texts={},
    ):  # fmt: skip
        return before.meter_row
    meter = _meter_at(machine, at)
    total = rule.total(dial_tenths=dial_tenths, offset_tenths=meter.offset_tenths)
    question = _question(machine, at=at, tenths=total)
    if question and not confirmed:
        again = "Not saved. Read it again, or say that it is right."
        raise Refused(f"{question} {again}", field="dial")
    record = seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine,
        data={
            **told,
            "total": {
                "typed": hours_text(total),
                "si": units.decimal_string(units.seconds_of_tenths(total)),
                "unit": "s",
            },
            "questioned": question,
        },
        happened_at=at, received_at=received_at or at, by=by, by_name=by_name, role=role,
        record_id=record_id,
    )  # fmt: skip
    reading = MeterReading.objects.create(
        meter=meter,
        at=at,
        dial_tenths=dial_tenths,
        total_tenths=total,
        questioned=question[:200],
        record=record,
    )
    if not question and (machine.hours_at is None or at >= machine.hours_at):
        machine.hours_tenths, machine.hours_at = total, at
        machine.save(update_fields=["hours_tenths", "hours_at"])
    return reading


def _meter_at(machine: Machine, at: datetime) -> Meter:
    """The dial that was on the machine then; the first figure ever told starts one."""
    meters = list(machine.meters.order_by("fitted_at"))
    on_then = [
        meter
        for meter in meters
        if meter.fitted_at <= at and (meter.removed_at is None or at < meter.removed_at)
    ]
    if on_then:
        return on_then[-1]
    return meters[0] if meters else Meter.objects.create(machine=machine, fitted_at=at)


def _question(machine: Machine, *, at: datetime, tenths: int) -> str:
    counting = MeterReading.objects.filter(meter__machine=machine).counting()
    last = counting.filter(at__lte=at).order_by("-at", "-pk").first()
    after = counting.filter(at__gt=at).order_by("at", "pk").first()
    before = (last.at, last.total_tenths) if last else None
    # The register may hold a figure that no reading stands for, brought in with the machine.
    if machine.hours_at is not None and machine.hours_tenths is not None:
        known = (machine.hours_at, machine.hours_tenths)
        if known[0] <= at and (before is None or before[0] < known[0]):
            before = known
    try:
        return rule.question(
            last=before,
            next_=(after.at, after.total_tenths) if after else None,
            at=at,
            tenths=tenths,
        )
    except ValueError as wrong:
        raise Refused("Enter 0 to 999 999.9 h.", field="dial") from wrong
