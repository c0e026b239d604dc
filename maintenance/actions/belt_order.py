"""The next belt is ordered, or one that lies here is kept for it: the job to order it is done."""

import uuid
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions import rack
from maintenance.actions.job import locked_job
from maintenance.actions.signing import sealed_before, words
from maintenance.contents.rack import length_on, part_of
from maintenance.models import Job
from maintenance.rules.words import day_text
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical


@transaction.atomic
def order_belt(
    *,
    job: Job,
    lies_here: bool,
    at: datetime,
    by: User,
    ordered_from: str = "",
    expected_on: date | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Seals that the belt is ordered, or that one which lies here is kept for it; closes the job.

    Where the depot keeps such a belt as a part, the order stands there too.

    Args:
        expected_on: the day it should come; None: not said.

    Raises:
        Refused: it is no job to order a belt, it is closed, or a day that is past.
    """
    job = locked_job(job)
    machine, drive = job.machine, job.drive
    role = role_for(by, Right.WORK, machine.depot_id)
    ordered_from = words(ordered_from, field="ordered_from", what=_("where from"), high=60)
    told: dict[str, Canonical] = {
        "job": job.number,
        "move": "kept" if lies_here else "ordered",
        "expected_on": expected_on.isoformat() if expected_on and not lies_here else None,
    }
    texts = {"from": ordered_from}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.JOB, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before
    if job.belt_work != Job.BeltWork.ORDER or drive is None:
        raise Refused(_("This is no job to order a belt. Nothing was changed."))
    if not job.is_open:
        raise Refused(_("{job} is closed already. Nothing was changed.").format(job=job.number))
    if expected_on is not None and expected_on < machine.depot.day_of(at):
        raise Refused(_("That day is past. Give today or a later day."), field="expected_on")
    record = seal(
        kind=Record.Kind.JOB, depot=machine.depot, machine=machine,
        data={**told, "mark": drive.belt_mark}, happened_at=at, received_at=at, by=by, role=role,
        texts=texts, record_id=record_id,
    )  # fmt: skip
    part = None
    length = length_on(drive)
    if not lies_here and drive.section and length is not None:
        part = part_of(machine.depot, drive.section, length)
    if part is not None:
        rack.order_part(
            part=part, quantity=drive.belts, at=at, by=by, entry=record.pk,
            expected_on=expected_on,
        )  # fmt: skip
    job.cause = job.cause or _("The belt on it runs out")
    job.action = _done(lies_here=lies_here, ordered_from=ordered_from, expected_on=expected_on)
    job.state, job.state_since = Job.State.CLOSED, at
    job.done_at, job.done_by, job.closed_at, job.closed_by = at, by, at, by
    job.save()
    return record


def _done(*, lies_here: bool, ordered_from: str, expected_on: date | None) -> str:
    if lies_here:
        if ordered_from:
            return _("One lies here and is kept for it: {what}.").format(what=ordered_from)
        return _("One lies here and is kept for it.")
    day = day_text(expected_on) if expected_on else ""
    if ordered_from and day:
        told = _("Ordered from {ordered_from}, expected {day}.")
    elif ordered_from:
        told = _("Ordered from {ordered_from}.")
    else:
        told = _("Ordered, expected {day}.") if day else _("Ordered.")
    return told.format(ordered_from=ordered_from, day=day)
