"""Plain moves: workshop and yard, laid up, missing and found; and a machine written off."""

import uuid
from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions.job import call_off_job
from maintenance.actions.move import (
    RIGHTS,
    go,
    mark_at,
    moved_before,
    place_key,
    place_word,
    refuse_move,
    seal_move,
)
from maintenance.actions.signing import locked, words
from maintenance.actions.stay import end_stay
from maintenance.actions.transfer import end_transfer
from maintenance.models import Job, Move, Transfer
from maintenance.rules.words import list_text
from plant.actions.refusal import Refused
from plant.lazy_text import as_written
from plant.models import Machine, Place, User
from plant.rights import Right, role_for
from plant.sealing import Canonical


def to_workshop(**given: Any) -> Move:
    """From the yard into the workshop; see _plain."""
    return _plain(gettext("To the workshop"), Place.YARD, Place.WORKSHOP, **given)


def to_yard(**given: Any) -> Move:
    """From the workshop into the yard. It frees nothing."""
    return _plain(gettext("To the yard"), Place.WORKSHOP, Place.YARD, **given)


def lay_up(**given: Any) -> Move:
    """Stores a machine on purpose; its services rest, its tests are needed before use."""
    return _plain(gettext("Lay up"), Place.YARD, Place.LAID_UP, **given)


def bring_back(**given: Any) -> Move:
    """Brings a machine back from lay-up; it is *Not yet passed*."""
    return _plain(gettext("Bring back"), Place.LAID_UP, Place.YARD, look=True, **given)


def found(**given: Any) -> Move:
    """A missing machine is in the yard again; it is *Not yet passed*."""
    return _plain(gettext("Found"), Place.MISSING, Place.YARD, look=True, **given)


def report_missing(**given: Any) -> Move:
    """A machine is not where it should be. A stay or a way that it was on ends with it."""
    return _plain("Missing", None, Place.MISSING, low=1, **given)


@transaction.atomic
def _plain(
    move: str,
    start: Place | None,
    to: Place,
    *,
    machine: Machine,
    at: datetime,
    by: User,
    reason: str = "",
    look: bool = False,
    low: int = 0,
    record_id: uuid.UUID | None = None,
) -> Move:
    """One move that needs nothing but the right to it.

    Args:
        start: where it has to be; None: anywhere that allows the move.
        reason: why, or what is known; needed where ``low`` says so.

    Raises:
        NotAllowed: no role of the person's carries it.
        Refused: the machine is elsewhere, or the words are missing.
    """
    machine = locked(machine)
    right = RIGHTS[(place_key(start or Place.YARD), place_key(to))]
    role = role_for(by, right, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=low)
    told: dict[str, Canonical] = {"move": move}
    if before := moved_before(machine, record_id, by=by, told=told, texts={"reason": reason}):
        return before.move_row
    if start is not None and machine.place != start:
        raise Refused(
            gettext("{machine} is {place}, not {start}. Nothing was changed.").format(
                machine=machine, place=place_word(machine), start=start.label
            )
        )
    refuse_move(machine, place_key(to), by=by, mark=mark_at(machine, at))
    record = seal_move(
        machine, as_written(to.label), told=told, texts={"reason": reason}, at=at, by=by, role=role,
        record_id=record_id,
    )  # fmt: skip
    if to == Place.MISSING:
        end_stay(machine, record, at=at)
        for transfer in Transfer.objects.open().filter(machine=machine):
            end_transfer(transfer, record, at=at, end=Transfer.End.LOST)
    return go(machine, to, record, at=at, look=look, reason=reason)


@transaction.atomic
def write_off(
    *,
    machine: Machine,
    reason: str,
    jobs: Collection[Job],
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Move:
    """Writes a machine off: it is gone for good, and its history stays.

    Args:
        jobs: every job that is open on it, each named; they are called off with the reason.

    Raises:
        Refused: no reason, a job not named or under way, or it is out or moving.
    """
    machine = locked(machine)
    role = role_for(by, Right.WRITE_OFF, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=10)
    numbers: list[Canonical] = [*sorted(job.number for job in jobs)]
    told: dict[str, Canonical] = {"move": "Write off", "jobs": numbers}
    if before := moved_before(machine, record_id, by=by, told=told, texts={"reason": reason}):
        return before.move_row
    open_jobs = list(Job.objects.open().filter(machine=machine).order_by("pk"))
    named = {job.pk for job in jobs}
    if left := [job.number for job in open_jobs if job.pk not in named]:
        raise Refused(
            gettext("Still open: {left}. Tick each to call it off.").format(left=list_text(left)),
            field="jobs",
        )
    refuse_move(
        machine, "gone", by=by, mark=mark_at(machine, at), met={"reason", "jobs called off"}
    )
    for job in open_jobs:
        call_off_job(
            job=job,
            reason=f"Machine written off: {reason}"[:400],
            at=at,
            by=by,
            answer=gettext("The machine is written off and will not be used again."),
        )
    record = seal_move(
        machine, "Gone", told=told, texts={"reason": reason}, at=at, by=by, role=role,
        record_id=record_id,
    )  # fmt: skip
    return go(machine, Place.GONE, record, at=at, reason=reason)
