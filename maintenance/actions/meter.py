"""Meter figures: the dial as read, the total that it stands for, and what is questioned.

A dial that was changed, went round to nought or is broken: actions/dial.py.
"""

import uuid
from collections.abc import Mapping
from datetime import datetime
from math import inf

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions import belt_life, due
from maintenance.actions.signing import locked, sealed_before, signing_role, words
from maintenance.contents.known import MOST_READINGS
from maintenance.contents.meter import Standing, neighbours, standing
from maintenance.models import DueLine, MeterReading
from maintenance.rules import meter as rule
from maintenance.rules import usage
from maintenance.rules.words import day_text, figure_as_written
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Counter, Machine, Measure, Meter, Record, User
from plant.rights import Right, role_for
from plant.rows import Seconds
from plant.sealing import Canonical

HOURS = str(Measure.HOURS)


@transaction.atomic
def record_meter(
    *,
    machine: Machine,
    dial_tenths: int,
    typed: str,
    at: datetime,
    measure: str = HOURS,
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
        dial_tenths: [0.1 of the measure] what the dial shows; typed: as it was typed.
        at: when it was read; a figure told late takes its place between its neighbours.
        measure: what the meter counts; the first figure of a counter starts it.
        confirmed: the person looked again, or the figure comes from a phone that was offline; a
            figure that does not fit is then kept as questioned.
        role: settled already by a permit (actions/permit.py); empty: found from the right.
        beside: what else the record says, the check that it came with for instance.

    Raises:
        Refused: out of range, or it does not fit and nobody has looked again.
    """
    machine = locked(machine)
    starts = measure != HOURS and not machine.meters.filter(measure=measure).exists()
    right = Right.WORK if starts else Right.CHECK
    role = role or signing_role(machine=machine, by=by, by_name=by_name, right=right)
    told: dict[str, Canonical] = {"dial": figure(dial_tenths, typed, measure), **counting(measure)}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by, by_name=by_name,
        told=told, texts={},
    ):  # fmt: skip
        return before.meter_row
    meter = _meter_at(machine, measure, at)
    total = rule.total(dial_tenths=dial_tenths, offset_tenths=meter.offset_tenths)
    question = _question(machine, measure, at=at, tenths=total)
    if meter.broken_at is not None and at >= meter.broken_at:
        on = machine.depot.day_of(meter.broken_at)
        question = _("This meter was told to be broken on {on}.").format(on=day_text(on))
    if question and not confirmed:
        again = _("Not saved. Read it again, or say that it is right.")
        raise Refused(f"{question} {again}", field="dial")
    record = seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine,
        data={
            **told,
            "total": figure(total, figure_as_written(total, measure), measure),
            "questioned": question,
            **(beside or {}),
        },
        happened_at=at, received_at=received_at or at, by=by, by_name=by_name, role=role,
        record_id=record_id,
    )  # fmt: skip
    if meter.pk is None:
        meter.save()
    reading = MeterReading.objects.create(
        meter=meter,
        at=at,
        dial_tenths=dial_tenths,
        total_tenths=total,
        questioned=question[:200],
        record=record,
    )
    if not question:
        take_figure(machine, measure, tenths=total, at=at)
        moved(machine, at=received_at or at)
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
    role = role_for(by, Right.GIVE_OUT, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=1)
    reading = MeterReading.objects.select_related("meter").get(pk=reading.pk)
    data: dict[str, Canonical] = {
        "figure": str(reading.record_id),
        "decision": "the figure counts",
    }
    texts = {"reason": reason}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.DECISION, machine=machine, by=by,
        told=data, texts=texts,
    ):  # fmt: skip
        return reading
    if not reading.questioned:
        raise Refused(_("This figure counts already. Nothing was changed."))
    meter = reading.meter
    before, after = neighbours(machine, meter.measure, reading.at)
    if (
        (before and reading.total_tenths < before[1])
        or (after and reading.total_tenths > after[1])
        or (meter.broken_at is not None and reading.at >= meter.broken_at)
    ):
        raise Refused(
            _("{questioned} It cannot count. Was the meter changed?").format(
                questioned=reading.questioned
            )
        )
    seal(
        kind=Record.Kind.DECISION, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    reading.questioned = ""
    reading.save(update_fields=["questioned"])
    take_figure(machine, meter.measure, tenths=reading.total_tenths, at=reading.at)
    moved(machine, at=received_at or at)
    return reading


def moved(machine: Machine, *, at: datetime) -> None:
    """What a figure moves: due dates, and the days on which its belts run out."""
    due.rework(machine, at=at)
    belt_life.machine_moved(machine, at=at)


def figure(tenths: int, typed: str, measure: str = HOURS) -> Canonical:
    """A meter figure as it is sealed: as it was typed, and in seconds; a count as it is."""
    if measure == HOURS:
        si = units.decimal_string(units.seconds_of_tenths(tenths))
        return {"typed": typed, "si": si, "unit": "s"}
    return {"typed": typed, "si": units.decimal_string(tenths / 10), "unit": "1"}


def counting(measure: str) -> dict[str, Canonical]:
    """What the meter counts, as it is sealed; the hours go without saying, as they always did."""
    return {} if measure == HOURS else {"counts": measure}


def take_figure(machine: Machine, measure: str, *, tenths: int, at: datetime) -> None:
    """Makes a figure that counts the machine's total, if it is the newest. Saves the row alone.

    The first figure of all is where lines that count by this meter begin.
    """
    now = standing(machine, measure)
    if now.at is None:
        DueLine.objects.filter(
            machine=machine, line__measure=measure, start_tenths__isnull=True
        ).update(start_tenths=tenths)
    if now.at is None or at >= now.at:
        keep_standing(machine, Standing(measure, tenths, at, now.broken_at))


def keep_standing(machine: Machine, now: Standing) -> None:
    """Writes where a total stands into its row."""
    if now.measure == HOURS:
        machine.hours_tenths, machine.hours_at = now.tenths, now.at
        machine.meter_broken_at = now.broken_at
        machine.save(update_fields=["hours_tenths", "hours_at", "meter_broken_at"])
        return
    Counter.objects.update_or_create(
        machine=machine,
        measure=now.measure,
        defaults={"total_tenths": now.tenths, "total_at": now.at, "broken_at": now.broken_at},
    )


def _meter_at(machine: Machine, measure: str, at: datetime) -> Meter:
    """The dial that was on the machine then; the first figure ever told starts one."""
    meters = list(machine.meters.filter(measure=measure).order_by("fitted_at"))
    on_then = [
        meter
        for meter in meters
        if meter.fitted_at <= at and (meter.removed_at is None or at < meter.removed_at)
    ]
    if on_then:
        return on_then[-1]
    return meters[0] if meters else Meter(machine=machine, fitted_at=at, measure=measure)


def _question(machine: Machine, measure: str, *, at: datetime, tenths: int) -> str:
    zone = machine.depot.zone
    before, after = (
        (each[0].astimezone(zone), each[1]) if each else None
        for each in neighbours(machine, measure, at)
    )
    usual = None if measure == HOURS else _usual_a_day(machine, measure)
    try:
        return rule.question(
            last=before, next_=after, at=at, tenths=tenths, measure=measure, usual_a_day=usual
        )
    except ValueError as wrong:
        raise Refused(
            _("Enter {measure}.").format(measure=rule.range_text(measure)), field="dial"
        ) from wrong


def _usual_a_day(machine: Machine, measure: str) -> float | None:
    """[1/d] The high end of what a counter gains; None until enough of its figures tell it."""
    readings = MeterReading.objects.counting().filter(
        meter__machine=machine, meter__measure=measure
    )
    newest = readings.order_by("-at", "-pk").values_list(Seconds("at"), "total_tenths")
    try:
        rate = usage.rate(usage.recent(list(newest[:MOST_READINGS])), most_a_day=inf)
    except ValueError:
        return None
    return rate.high if rate.readings >= usage.FEW_READINGS - 1 else None
