"""Between depots: a machine sent, received, turned back."""

import uuid
from datetime import datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext

from maintenance.actions.move import (
    go,
    mark_at,
    moved_before,
    open_on,
    place_key,
    place_word,
    refuse_move,
    seal_move,
)
from maintenance.actions.signing import locked, words
from maintenance.models import Job, Transfer
from plant.actions.refusal import Refused
from plant.lazy_text import as_written
from plant.models import Depot, Machine, Membership, Place, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical


@transaction.atomic
def send(
    *,
    machine: Machine,
    to: Depot,
    at: datetime,
    by: User,
    went_with: str = "",
    record_id: uuid.UUID | None = None,
) -> Transfer:
    """Sends a machine to another depot. It counts here until it is received there.

    Raises:
        Refused: it is not in the yard or the workshop, or that is the depot where it is.
    """
    machine = locked(machine)
    role = role_for(by, Right.MOVE, machine.depot_id)
    went_with = words(went_with, field="went_with", what=gettext("what goes with it"))
    told: dict[str, Canonical] = {"move": "Send", "to_depot": to.code}
    texts = {"went_with": went_with}
    # What stands against it is written by us, from the rows, and so is no part of what was sent.
    if before := moved_before(machine, record_id, by=by, told=told, texts=texts):
        return before.transfer_sent
    if to.pk == machine.depot_id:
        raise Refused(gettext("It is at this depot already. Choose another."), field="to")
    if machine.depot.is_practice or to.is_practice:
        raise Refused(
            gettext("A practice machine goes to no real depot, nor the other way."), field="to"
        )
    if machine.place not in (Place.YARD, Place.WORKSHOP):
        raise Refused(
            gettext("{machine} is {place}. It is sent from the yard or the workshop.").format(
                machine=machine, place=place_word(machine)
            )
        )
    refuse_move(
        machine, "moving", by=by, mark=mark_at(machine, at), met={"destination", "faults listed"}
    )
    record = seal_move(
        machine, "Moving", told=told | open_on(machine), texts=texts, at=at, by=by, role=role,
        record_id=record_id,
    )  # fmt: skip
    go(machine, Place.MOVING, record, at=at)
    return Transfer.objects.create(
        machine=machine, from_depot=machine.depot, to_depot=to, sent_at=at, went_with=went_with,
        record=record,
    )  # fmt: skip


@transaction.atomic
def receive(
    *,
    transfer: Transfer,
    at: datetime,
    by: User,
    workshop: bool = False,
    came_with: str = "",
    condition: str = "",
    record_id: uuid.UUID | None = None,
) -> Transfer:
    """Receives a machine at the depot to which it was sent. From then on it counts there.

    Its faults, jobs and due work come with it; it is *Not yet passed* until it is looked over.

    Raises:
        Refused: it was received, turned back or lost meanwhile.
    """
    machine = locked(transfer.machine)
    transfer = Transfer.objects.select_related("to_depot", "from_depot").get(pk=transfer.pk)
    role = role_for(by, Right.MOVE, transfer.to_depot_id)
    came_with = words(came_with, field="came_with", what=gettext("what came with it"))
    condition = words(condition, field="condition", what="condition")
    to = Place.WORKSHOP if workshop else Place.YARD
    told: dict[str, Canonical] = {
        "move": "Receive", "from_depot": transfer.from_depot.code, "to": as_written(to.label),
    }  # fmt: skip
    texts = {"came_with": came_with, "condition": condition}
    if moved_before(machine, record_id, by=by, told=told, texts=texts):
        return transfer
    _refuse_ended(transfer)
    refuse_move(
        machine, place_key(to), by=by, mark=mark_at(machine, at), met={"received"},
        depot_id=transfer.to_depot_id,
    )  # fmt: skip
    start = place_word(machine)
    machine.depot = transfer.to_depot
    record = seal_move(
        machine, as_written(to.label), told=told | {"from": start} | open_on(machine),
        texts=texts, at=at, by=by, role=role, record_id=record_id,
    )  # fmt: skip
    go(machine, to, record, at=at, look=True)
    _hand_over_jobs(machine, at=at)
    return end_transfer(transfer, record, at=at, end=Transfer.End.RECEIVED)


@transaction.atomic
def turn_back(
    *,
    transfer: Transfer,
    reason: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Transfer:
    """The sender takes a machine in again that never got there.

    Raises:
        Refused: no reason, or it was received, turned back or lost meanwhile.
    """
    machine = locked(transfer.machine)
    transfer = Transfer.objects.select_related("to_depot", "from_depot").get(pk=transfer.pk)
    role = role_for(by, Right.MOVE, transfer.from_depot_id)
    reason = words(reason, field="reason", what="reason", low=1)
    told: dict[str, Canonical] = {
        "move": "Turned back",
        "from_depot": transfer.from_depot.code,
    }
    if moved_before(machine, record_id, by=by, told=told, texts={"reason": reason}):
        return transfer
    _refuse_ended(transfer)
    refuse_move(machine, "in yard", by=by, mark=mark_at(machine, at), met={"received"})
    record = seal_move(
        machine, "In yard", told=told, texts={"reason": reason}, at=at, by=by, role=role,
        record_id=record_id,
    )  # fmt: skip
    go(machine, Place.YARD, record, at=at, look=True, reason=reason)
    return end_transfer(transfer, record, at=at, end=Transfer.End.TURNED_BACK)


def end_transfer(
    transfer: Transfer, record: Record, *, at: datetime, end: Transfer.End
) -> Transfer:
    transfer.ended_at, transfer.end, transfer.ended = at, end, record
    transfer.save(update_fields=["ended_at", "end", "ended"])
    return transfer


def _refuse_ended(transfer: Transfer) -> None:
    if transfer.ended_at is not None:
        raise Refused(
            gettext("{end} already. Nothing was changed.").format(end=transfer.get_end_display())
        )


def _hand_over_jobs(machine: Machine, *, at: datetime) -> None:
    """Jobs in the hands of somebody who has no role at the new depot wait to be given out again."""
    here = Membership.objects.filter(depot_id=machine.depot_id).values("user")
    given = Job.objects.open().filter(machine=machine, given_to__isnull=False)
    theirs = given.exclude(given_to__in=here)
    theirs.filter(state=Job.State.GIVEN_OUT).update(
        state=Job.State.LOOKED_AT, state_since=at, given_to=None, given_for=None
    )
    theirs.filter(~Q(state=Job.State.GIVEN_OUT)).update(given_to=None, given_for=None)
