"""A dial fitted, reset, gone round to nought, or broken: the total runs on all the same."""

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F, QuerySet
from django.db.models.functions import Greatest
from django.utils.translation import gettext as _

from maintenance.actions.meter import HOURS, counting, figure, keep_standing, moved
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.contents.known import counted_of, known_of
from maintenance.contents.meter import Standing, dial, standing
from maintenance.models import Completion, DueLine, MeterReading, Stay, WidthReading
from maintenance.rules import meter as rule
from maintenance.rules.words import figure_as_written, figure_text
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Meter, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical


@transaction.atomic
def change_meter(
    *,
    machine: Machine,
    dial_tenths: int,
    typed: str,
    at: datetime,
    by: User,
    reason: str,
    measure: str = HOURS,
    blind_tenths: int = 0,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> MeterReading:
    """A dial was fitted, mended or reset: the total goes on from where it stood.

    This ends the time without a dial where the old one was told to be broken.

    Args:
        dial_tenths: [0.1 of the measure] what the new dial shows; typed: as it was typed.
        blind_tenths: [0.1 of the measure] estimate of what was run without a dial.
        reason: why, in a word.

    Raises:
        Refused: no reason, out of range, or before the last figure that counts.
    """
    machine = locked(machine)
    role = role_for(by, Right.WORK, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=1)
    told: dict[str, Canonical] = {
        "dial": figure(dial_tenths, typed, measure),
        "estimated": figure(blind_tenths, figure_as_written(blind_tenths, measure), measure),
        "changed": True,
        **counting(measure),
    }
    texts = {"reason": reason}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before.meter_row
    now = standing(machine, measure)
    total = (now.tenths or 0) + blind_tenths
    _not_before(now, at=at)
    if blind_tenths < 0 or total > rule.highest(measure):
        raise Refused(_("Enter {measure}.").format(measure=rule.range_text(measure)), field="blind")
    record = seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine,
        data={
            **told,
            "total": figure(total, figure_as_written(total, measure), measure),
            "questioned": "",
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    reading = _fit(
        machine, measure, dial_tenths=dial_tenths, total=total, blind=blind_tenths, at=at,
        record=record,
    )  # fmt: skip
    moved(machine, at=received_at or at)
    return reading


@transaction.atomic
def roll_over(
    *,
    machine: Machine,
    dial_tenths: int,
    typed: str,
    at: datetime,
    by: User,
    measure: str = HOURS,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> MeterReading:
    """The same dial went past its last figure to nought: the total goes on by what it gained.

    Raises:
        Refused: it would have gained more than it can since the last figure, so it was something
            else; or nothing is known from before.
    """
    machine = locked(machine)
    role = role_for(by, Right.WORK, machine.depot_id)
    told: dict[str, Canonical] = {
        "dial": figure(dial_tenths, typed, measure),
        "rolled_over": True,
        **counting(measure),
    }
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by,
        told=told, texts={},
    ):  # fmt: skip
        return before.meter_row
    now, meter = standing(machine, measure), dial(machine, measure)
    if now.tenths is None or now.at is None or meter is None:
        raise Refused(_("No figure is known from before. Enter this one alone."), field="dial")
    if now.broken_at is not None:
        raise Refused(_("This meter was told to be broken. Press Meter changed."), field="dial")
    _not_before(now, at=at)
    last_dial = rule.dial_at(total_tenths=now.tenths, offset_tenths=meter.offset_tenths)
    turn = rule.turn_after(max(last_dial, 0))
    total = now.tenths + turn - last_dial + dial_tenths
    most = turn - (1 if measure == HOURS else 10)
    try:
        asked = rule.question(
            last=(now.at, now.tenths), next_=None, at=at, tenths=total, measure=measure
        )
    except ValueError as wrong:
        raise Refused(
            _("Enter {measure}.").format(measure=rule.range_text(measure)), field="dial"
        ) from wrong
    far = turn - last_dial + dial_tenths > turn // 2
    if asked or far:
        raise Refused(
            _(
                "It stood at {last_dial}, too far from {past} to have gone past "
                "it. Not saved. Read it again, or press Meter changed."
            ).format(last_dial=figure_text(last_dial, measure), past=figure_text(most, measure)),
            field="dial",
        )
    record = seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine,
        data={
            **told,
            "past": figure_as_written(most, measure),
            "total": figure(total, figure_as_written(total, measure), measure),
            "questioned": "",
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, record_id=record_id,
    )  # fmt: skip
    reading = _fit(
        machine, measure, dial_tenths=dial_tenths, total=total, blind=None, at=at, record=record
    )
    moved(machine, at=received_at or at)
    return reading


@transaction.atomic
def tell_broken(
    *,
    machine: Machine,
    since: datetime,
    reason: str,
    at: datetime,
    by: User,
    measure: str = HOURS,
    record_id: uuid.UUID | None = None,
) -> None:
    """The dial tells nothing any more, since that moment; no figure of it is asked for.

    Raises:
        Refused: there is no dial, it is broken already, a figure from later counts, or no reason.
    """
    machine = locked(machine)
    role = role_for(by, Right.WORK, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=1)
    told: dict[str, Canonical] = {
        "meter_is": "broken",
        "since": since.isoformat(),
        **counting(measure),
    }
    texts = {"reason": reason}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return
    now, meter = standing(machine, measure), dial(machine, measure)
    if now.broken_at is not None:
        raise Refused(_("It is told to be broken already. Nothing was changed."))
    if since > at:
        raise Refused(_("That day is still to come."), field="since")
    if now.at is not None and machine.depot.day_of(since) < machine.depot.day_of(now.at):
        raise Refused(_("A figure from after that day counts. Give a later day."), field="since")
    since = max(since, now.at) if now.at else since
    seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine, data=told, happened_at=at,
        received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    if meter is None:
        meter = Meter(machine=machine, fitted_at=since, measure=measure)
    meter.broken_at = since
    meter.save()
    keep_standing(machine, Standing(measure, now.tenths, now.at, since))
    moved(machine, at=at)


@transaction.atomic
def estimate_blind(
    *,
    machine: Machine,
    tenths: int,
    reason: str,
    at: datetime,
    by: User,
    measure: str = HOURS,
    record_id: uuid.UUID | None = None,
) -> None:
    """What was run without a dial, as somebody estimates it; a later estimate takes its place.

    While the dial is broken it counts from then to now. Afterwards it corrects the estimate that
    was joined when the dial of today was fitted, and every total since then moves with it.

    Args:
        tenths: [0.1 of the measure] the whole time without a dial.

    Raises:
        Refused: no time without a dial is known, out of range, or no reason.
    """
    machine = locked(machine)
    role = role_for(by, Right.GIVE_OUT, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=1)
    told: dict[str, Canonical] = {
        "meter_is": "estimated for the time without a dial",
        "estimated": figure(tenths, figure_as_written(tenths, measure), measure),
        **counting(measure),
    }
    texts = {"reason": reason}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.METER, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return
    now, meter = standing(machine, measure), dial(machine, measure)
    if (
        meter is None
        or now.tenths is None
        or (now.broken_at is None and meter.blind_tenths is None)
    ):
        raise Refused(_("No time without a dial is known. Nothing was changed."))
    shift = tenths if now.broken_at else tenths - (meter.blind_tenths or 0)
    if tenths < 0 or not 0 <= now.tenths + shift <= rule.highest(measure):
        raise Refused(_("Enter {measure}.").format(measure=rule.range_text(measure)), field="blind")
    was = meter.since_broken_tenths if now.broken_at else meter.blind_tenths
    if was is not None:
        told["was"] = figure(was, figure_as_written(was, measure), measure)
    seal(
        kind=Record.Kind.METER, depot=machine.depot, machine=machine, data=told, happened_at=at,
        received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    if now.broken_at is not None:
        meter.since_broken_tenths, meter.since_broken_at = tenths, at
        meter.save(update_fields=["since_broken_tenths", "since_broken_at"])
    else:
        meter.blind_tenths = tenths
        meter.offset_tenths += shift
        meter.save(update_fields=["blind_tenths", "offset_tenths"])
        _shift(machine, meter, shift)
        keep_standing(machine, Standing(measure, now.tenths + shift, now.at))
    moved(machine, at=at)


def estimated_blind(machine: Machine, measure: str, *, at: datetime) -> int | None:
    """[0.1] What was run since the dial broke, by estimate; None where it is not broken."""
    if standing(machine, measure).broken_at is None:
        return None
    if measure == HOURS:
        known = known_of([machine.pk], at=at)[machine.pk]
    else:
        known = counted_of([machine.pk], at=at)[machine.pk, measure]
    if known.total_tenths is None or not known.blind:
        return None
    return known.blind[-1][1] - known.total_tenths


def _not_before(now: Standing, *, at: datetime) -> None:
    if now.at is not None and at < now.at:
        raise Refused(_("A later figure counts already. Enter the change after it."), field="dial")


def _fit(
    machine: Machine,
    measure: str,
    *,
    dial_tenths: int,
    total: int,
    blind: int | None,
    at: datetime,
    record: Record,
) -> MeterReading:
    """Ends the old dial and begins the new one at the total, with its first figure."""
    machine.meters.filter(removed_at__isnull=True, measure=measure).update(removed_at=at)
    meter = Meter.objects.create(
        machine=machine, fitted_at=at, measure=measure, blind_tenths=blind,
        offset_tenths=rule.offset_for(
            total_tenths=total - (blind or 0), dial_tenths=dial_tenths, blind_tenths=blind or 0
        ),
    )  # fmt: skip
    keep_standing(machine, Standing(measure, total, at))
    return MeterReading.objects.create(
        meter=meter, at=at, dial_tenths=dial_tenths, total_tenths=total, record=record
    )


def _shift(machine: Machine, meter: Meter, shift: int) -> None:
    """Moves every total that was worked out since the dial was fitted; what is sealed stays."""

    def move(rows: QuerySet[Any], name: str) -> None:
        known = rows.filter(**{f"{name}__isnull": False})
        known.update(**{name: Greatest(F(name) + shift, 0)})

    since, on = meter.fitted_at, machine.depot.day_of(meter.fitted_at)
    lines = DueLine.objects.filter(machine=machine, line__measure=meter.measure)
    move(MeterReading.objects.filter(meter=meter), "total_tenths")
    move(lines.filter(start_on__gt=on), "start_tenths")
    move(Completion.objects.filter(due_line__in=lines, on__gt=on), "tenths")
    if meter.measure == HOURS:
        stays = Stay.objects.filter(machine=machine)
        widths = WidthReading.objects.filter(drive__machine=machine)
        move(stays.filter(out_at__gte=since), "out_tenths")
        move(stays.filter(back_at__gte=since), "back_tenths")
        move(widths.filter(at__gte=since), "hours_tenths")
        move(machine.drives.filter(belt_fitted_on__gt=on), "belt_fitted_tenths")
