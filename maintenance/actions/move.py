"""What every move shares: who may, whether it is allowed, its record. A move frees nothing."""

import uuid
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from maintenance.actions.signing import sealed_before
from maintenance.contents.fitness import fitness_of
from maintenance.models import Job, Move, Stop
from maintenance.rules import fitness as fitness_rule
from maintenance.rules import place as rule
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.lazy_text import as_written
from plant.models import Machine, Place, Record, User
from plant.rights import Right, roles
from plant.sealing import Canonical

# The right behind each allowed move; a test holds this to the roles of rules/place.py.
RIGHTS: dict[tuple[rule.PlaceKey, rule.PlaceKey], Right] = {
    (each.start, each.to): (
        Right.WRITE_OFF
        if each.to == "gone"
        else Right.CHECK
        if each.to == "missing"
        else Right.LAY_UP
        if "laid up" in (each.start, each.to) or each.start == "missing"
        else Right.WORK
        if {each.start, each.to} == {"in yard", "in workshop"}
        else Right.MOVE
    )
    for each in rule.MOVES
}


def place_key(place: str) -> rule.PlaceKey:
    label = as_written(Place(place).label).lower()
    return next(each.key for each in rule.PLACES if each.key == label)


def place_word(machine: Machine) -> str:
    return as_written(Place(machine.place).label)


def mark_at(machine: Machine, at: datetime) -> fitness_rule.Mark:
    return fitness_of(machine, machine.depot.day_of(at)).mark


def refuse_move(
    machine: Machine,
    to: rule.PlaceKey,
    *,
    by: User,
    mark: fitness_rule.Mark,
    met: Collection[Any] = (),
    has_note: bool = False,
    depot_id: int | None = None,
) -> None:
    held = roles(by).get(depot_id or machine.depot_id, frozenset())
    refused = rule.refusal(
        start=place_key(machine.place), to=to, roles=[str(role) for role in held], mark=mark,
        met=met, has_note=has_note,
    )  # fmt: skip
    if refused:
        raise Refused(refused)


def moved_before(
    machine: Machine,
    record_id: uuid.UUID | None,
    *,
    by: User,
    told: Mapping[str, Canonical],
    texts: Mapping[str, str],
) -> Record | None:
    return sealed_before(
        record_id=record_id, kind=Record.Kind.PLACE, machine=machine, by=by,
        told=told, texts=texts,
    )  # fmt: skip


def seal_move(
    machine: Machine,
    to: str,
    *,
    told: Mapping[str, Canonical],
    texts: Mapping[str, str],
    at: datetime,
    by: User,
    role: str,
    record_id: uuid.UUID | None,
    photos: Mapping[str, bytes] | None = None,
) -> Record:
    return seal(
        kind=Record.Kind.PLACE, depot=machine.depot, machine=machine,
        data={"from": place_word(machine), "to": to} | dict(told), happened_at=at, received_at=at,
        by=by, role=role, texts=texts, photos=photos, record_id=record_id,
    )  # fmt: skip


def go(
    machine: Machine,
    to: Place,
    record: Record,
    *,
    at: datetime,
    site: str = "",
    look: bool = False,
    check: bool = False,
    reason: str = "",
) -> Move:
    """Writes where it is now. Of the mark it touches only the wishes for a look or a check."""
    move = Move.objects.create(
        machine=machine, start=machine.place, to=to, at=at, record=record, reason=reason
    )
    machine.place = to
    machine.site = machine.site if to == Place.MISSING else site
    if look and (machine.look_wanted_at is None or at > machine.look_wanted_at):
        machine.look_wanted_at = at
    if check and (machine.check_wanted_at is None or at > machine.check_wanted_at):
        machine.check_wanted_at = at
    machine.save(update_fields=["place", "site", "depot", "look_wanted_at", "check_wanted_at"])
    return move


def open_on(machine: Machine) -> dict[str, Canonical]:
    """What stands open on it and goes with it: stops by their records, jobs by their numbers."""
    stops = Stop.objects.standing().filter(machine=machine).order_by("pk")
    jobs = Job.objects.open().filter(machine=machine).order_by("pk")
    carried: list[Canonical] = [str(stop.record_id) for stop in stops]
    numbers: list[Canonical] = [job.number for job in jobs]
    return {"stops": carried, "jobs": numbers}
