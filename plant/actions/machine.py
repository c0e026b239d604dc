"""Adds machines to the register and changes them, by hand or many at once."""

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from django.utils.translation import gettext

from plant.actions.refusal import Refused
from plant.models import Counter, Depot, Drive, Machine, MachineKind, Measure, Meter, Place, User
from plant.models.machine import new_short_code
from plant.rights import Right, depots_where, role_for
from plant.text import TextRefused, number_key

# A short code is one of 923 521; with so many drawn at once some are always drawn twice.
_SPARE = 20


@dataclass(frozen=True, slots=True)
class NewMachine:
    """What a machine begins with.

    plate: other fields of Machine; hours_tenths: [0.1 h] what its meter shows, read at hours_at;
    counts: what its counters show, by what they count, read at the same moment;
    drive: fields of Drive for its first stage, or None.
    """

    depot: Depot
    kind: MachineKind
    number: str
    supply: str
    plate: Mapping[str, Any] = field(default_factory=dict)
    hours_tenths: int | None = None
    hours_at: datetime | None = None
    counts: Mapping[str, int] = field(default_factory=dict)
    drive: Mapping[str, Any] | None = None


@transaction.atomic
def add_machine(new: NewMachine, *, by: User, at: datetime) -> Machine:
    """Adds one machine. It is not yet passed until somebody has looked it over.

    Raises:
        Refused: the number is in use, or cannot be a number.
        PermissionError: the person may not add machines to this depot.
    """
    role_for(by, Right.REGISTER, new.depot.pk)
    _refuse_taken(new.number, by=by)
    try:
        with transaction.atomic():
            return add_machines([new], at=at)[0]
    except IntegrityError as taken:  # somebody else was quicker
        raise Refused(gettext("This number is taken."), field="number") from taken


def add_machines(new: Sequence[NewMachine], *, at: datetime) -> list[Machine]:
    """Adds many, with the same few queries however many there are. Call inside a transaction.

    The caller has seen to it that the numbers are free and that the person may add them.

    Raises:
        IntegrityError: a number is taken after all; nothing was added.
    """
    codes = free_short_codes(len(new))
    machines = Machine.objects.bulk_create(
        _machine(one, short_code=code, at=at) for one, code in zip(new, codes, strict=True)
    )
    pairs = list(zip(new, machines, strict=True))
    Meter.objects.bulk_create(
        Meter(machine=machine, fitted_at=machine.hours_at or at)
        for one, machine in pairs
        if one.kind.has_meter or one.hours_tenths is not None
    )
    counted = [
        (machine, Measure(measure), count, one.hours_at or at)
        for one, machine in pairs
        for measure, count in one.counts.items()
    ]
    Meter.objects.bulk_create(
        Meter(machine=machine, measure=measure, fitted_at=read_at)
        for machine, measure, _, read_at in counted
    )
    Counter.objects.bulk_create(
        Counter(machine=machine, measure=measure, total_tenths=10 * count, total_at=read_at)
        for machine, measure, count, read_at in counted
    )
    Drive.objects.bulk_create(
        Drive(machine=machine, stage=1, **one.drive) for one, machine in pairs if one.drive
    )
    return machines


def _machine(new: NewMachine, *, short_code: str, at: datetime) -> Machine:
    has_hours = new.hours_tenths is not None
    return Machine(
        depot=new.depot,
        kind=new.kind,
        number=new.number.strip(),
        number_key=number_key(new.number),
        supply=new.supply,
        hours_tenths=new.hours_tenths,
        hours_at=(new.hours_at or at) if has_hours else None,
        short_code=short_code,
        look_wanted_at=at,
        added_at=at,
        **{"place": Place.YARD} | dict(new.plate),
    )


@transaction.atomic
def change_machine(
    *,
    machine: Machine,
    by: User,
    changes: Mapping[str, Any],
    typed: Mapping[str, str | None] | None = None,
) -> Machine:
    """Changes the named fields and no others, so that two people at once lose nothing.

    Args:
        changes: fields of Machine to their new values; not its depot, place or hours, which have
            acts of their own.
        typed: plate figures as they were typed; None takes one away.

    Raises:
        Refused: the new number is in use, or cannot be a number.
        PermissionError: the person may not change machines of this depot.
    """
    machine = Machine.objects.select_for_update().get(pk=machine.pk)
    role_for(by, Right.REGISTER, machine.depot_id)
    changed = dict(changes)
    if forbidden := changed.keys() & {"depot", "place", "site", "hours_tenths", "hours_at"}:
        raise ValueError(f"not changed here: {', '.join(sorted(forbidden))}")
    if "number" in changed:
        changed["number"] = changed["number"].strip()
        key = _key(changed["number"])
        if key != machine.number_key:
            _refuse_taken(changed["number"], by=by)
        changed["number_key"] = key
    if typed:
        kept = {**machine.plate_typed, **typed}
        changed["plate_typed"] = {name: text for name, text in kept.items() if text}
    for name, value in changed.items():
        setattr(machine, name, value)
    try:
        with transaction.atomic():
            machine.save(update_fields=list(changed))
    except IntegrityError as taken:
        raise Refused(gettext("This number is taken."), field="number") from taken
    return machine


@transaction.atomic
def set_photo(*, machine: Machine, photo: bytes, by: User) -> Machine:
    """Puts a photo on the machine's page in place of the one before.

    Args:
        photo: a picture already cleaned (plant/photos.py).

    Raises:
        PermissionError: the person may not change machines of this depot.
    """
    machine = Machine.objects.select_for_update().get(pk=machine.pk)
    role_for(by, Right.REGISTER, machine.depot_id)
    storage, before = machine.photo.storage, machine.photo.name
    machine.photo.save(f"{secrets.token_hex(16)}.jpg", ContentFile(photo), save=False)
    machine.save(update_fields=["photo"])
    if before:
        transaction.on_commit(lambda: storage.delete(before))
    return machine


def _key(number: str) -> str:
    try:
        return number_key(number)
    except TextRefused as wrong:
        raise Refused(str(wrong), field="number") from wrong


def _refuse_taken(number: str, *, by: User) -> None:
    there = Machine.objects.filter(number_key=_key(number)).select_related("depot").first()
    if there is None:
        return
    # Of another depot's machine nothing is said but that the number is taken.
    if there.depot_id not in depots_where(by, Right.SEE):
        raise Refused(gettext("This number is taken. Give the machine another."), field="number")
    told = (
        gettext("{there} is in the register already, at {depot} and is gone.")
        if there.place == Place.GONE
        else gettext("{there} is in the register already, at {depot}.")
    )
    raise Refused(told.format(there=there.number, depot=there.depot), field="number")


def free_short_codes(count: int) -> list[str]:
    """So many codes that no machine has; the database still refuses one given meanwhile."""
    free: list[str] = []
    while len(free) < count:
        drawn = {new_short_code() for _ in range(count - len(free) + _SPARE)} - set(free)
        taken = Machine.objects.filter(short_code__in=drawn).values_list("short_code", flat=True)
        free += sorted(drawn - set(taken))
    return free[:count]
