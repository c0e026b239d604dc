"""Meter figures: the dial as read, the running hours it stands for, and what is questioned."""

import uuid
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from maintenance.actions import belt_life, due
from maintenance.actions.signing import locked, sealed_before, signing_role, words
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
    role: str = "",
    beside: Mapping[str, Canonical] | None = None,
) -> MeterReading:
    """Keeps what the dial shows. A figure that does not fit is kept as questioned, moving nothing.

    Args:
        dial_tenths: [0.1 h] what the dial shows; typed: as it was typed.
        at: when it was read; a figure told late takes its place between its neighbours.
        confirmed: the person looked again, or the figure comes from a phone that was offline; a
            figure that does not fit is then kept as questioned.
        role: settled already by a permit (actions/permit.py); empty: found from the right.
        beside: what else the record says, the check that it came with for instance.

    Raises:
        Refused: out of range, or it does not fit and nobody has looked again.
    """
    machine = locked(machine)
    role = role or signing_role(machine=machine, by=by, by_name=by_name, right=Right.CHECK)
    told: dict[str, Canonical] = {"dial": figure(dial_tenths, typed)}
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
            "total": figure(total, hours_text(total)),
            "questioned": question,
            **(beside or {}),
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
    if not question:
        _moved(machine, at=received_at or at)
    return reading


@transaction.atomic
def change_meter(
    *,
    machine: Machine,
    dial_tenths: int,
    typed: str,
    at: datetime,
    by: User,
    reason: str,
    blind_tenths: int = 0,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> MeterReading:
    """A dial was fitted, reset or rolled over: the running hours go on from where they stood.

    Args:
        dial_tenths: [0.1 h] what the new dial shows; typed: as it was typed.
        blind_tenths: [0.1 h] estimate of what was run without a dial.
        reason: why, in a word.

    Raises:
        Refused: no reason, out of range, or before the last figure that counts.
    """
    machine = locked(machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.WORK)
    reason = words(reason, field="reason", what="reason", low=1)
    total = (machine.hours_tenths or 0) + blind_tenths
    told: dict[str, Canonical] = {
        "dial": figure(dial_tenths, typed),
        "estimated": figure(blind_tenths, hours_text(blind_tenths)),
        "changed": True,
    }
    texts = {"reason": reason}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by, by_name="",
        told=told, texts=texts,
    ):  # fmt: skip
        return before.meter_row
    if machine.hours_at is not None and at < machine.hours_at:
        raise Refused("A later figure counts already. Enter the change after it.", field="dial")
    if blind_tenths < 0 or total > rule.HIGHEST_TENTHS:
        raise Refused("Enter 0 to 999 999.9 h.", field="blind")
    record = seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine,
        data={**told, "total": figure(total, hours_text(total)), "questioned": ""},
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    machine.meters.filter(removed_at__isnull=True).update(removed_at=at)
    offset = rule.offset_for(
        total_tenths=total - blind_tenths, dial_tenths=dial_tenths, blind_tenths=blind_tenths
    )
    meter = Meter.objects.create(machine=machine, fitted_at=at, offset_tenths=offset)
    machine.hours_tenths, machine.hours_at = total, at
    machine.save(update_fields=["hours_tenths", "hours_at"])
    reading = MeterReading.objects.create(
        meter=meter, at=at, dial_tenths=dial_tenths, total_tenths=total, record=record
    )
    _moved(machine, at=received_at or at)
    return reading


@transaction.atomic
def accept_meter(
    *,
    reading: MeterReading,
    reason: str,
    at: datetime,
    by: User,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> MeterReading:
    """Lets a questioned figure count after all.

    Raises:
        Refused: no reason; or it lies below the one before or above the one after it, which no
            running machine does, so the dial must have been changed.
    """
    machine = locked(reading.meter.machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.GIVE_OUT)
    reason = words(reason, field="reason", what="reason", low=1)
    reading = MeterReading.objects.select_related("meter").get(pk=reading.pk)
    data: dict[str, Canonical] = {"figure": str(reading.record_id), "decision": "the figure counts"}
    texts = {"reason": reason}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.DECISION, machine=machine, by=by, by_name="",
        told=data, texts=texts,
    ):  # fmt: skip
        return reading
    if not reading.questioned:
        raise Refused("This figure counts already. Nothing was changed.")
    before, after = _neighbours(machine, reading.at)
    if (before and reading.total_tenths < before[1]) or (after and reading.total_tenths > after[1]):
        raise Refused(f"{reading.questioned} It cannot count. Was the meter changed?")
    seal(
        kind=Record.Kind.DECISION, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    reading.questioned = ""
    reading.save(update_fields=["questioned"])
    if machine.hours_at is None or reading.at >= machine.hours_at:
        machine.hours_tenths, machine.hours_at = reading.total_tenths, reading.at
        machine.save(update_fields=["hours_tenths", "hours_at"])
    _moved(machine, at=received_at or at)
    return reading


def _moved(machine: Machine, *, at: datetime) -> None:
    """What a figure moves: due dates, and the days on which its belts run out."""
    due.rework(machine, at=at)
    belt_life.machine_moved(machine, at=at)


def figure(tenths: int, typed: str) -> Canonical:
    """A meter figure as it is sealed: as it was typed, and in seconds."""
    si = units.decimal_string(units.seconds_of_tenths(tenths))
    return {"typed": typed, "si": si, "unit": "s"}


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
    before, after = _neighbours(machine, at)
    try:
        return rule.question(last=before, next_=after, at=at, tenths=tenths)
    except ValueError as wrong:
        raise Refused("Enter 0 to 999 999.9 h.", field="dial") from wrong


def _neighbours(machine: Machine, at: datetime) -> tuple[rule.Reading | None, rule.Reading | None]:
    """The figures that count before and after that moment, as moment and running hours."""
    counting = MeterReading.objects.filter(meter__machine=machine).counting()
    last = counting.filter(at__lte=at).order_by("-at", "-pk").first()
    later = counting.filter(at__gt=at).order_by("at", "pk").first()
    before = (last.at, last.total_tenths) if last else None
    # The register may hold a figure that no reading stands for, brought in with the machine.
    if machine.hours_at is not None and machine.hours_tenths is not None:
        known = (machine.hours_at, machine.hours_tenths)
        if known[0] <= at and (before is None or before[0] < known[0]):
            before = known
    return before, (later.at, later.total_tenths) if later else None
