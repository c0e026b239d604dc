"""Stops: raised by what was found, set by a person, and decided by who may decide."""

import uuid
from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.again import link_again
from maintenance.actions.answer import answer_words, keep_answer
from maintenance.actions.signing import locked, sealed_before, signing_role, words
from maintenance.models import Answer, Job, Stop
from maintenance.rules import fitness
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

LONGEST_STOP = 200
LONGEST_TITLE = 120


def raise_stop(
    *,
    machine: Machine,
    record: Record,
    at: datetime,
    kind: Stop.Kind,
    what: str,
    told: str,
    item_key: str = "",
    always: bool = False,
) -> Stop:
    """Stops the machine for one thing, and links a job to it. Call inside the record's transaction.

    A job that is still open for the same item takes the stop too, unless its work was done before
    this was found: then the work did not put it right, and a new job is raised.

    Args:
        machine: locked by the caller.
        what: the part or the item, short; empty where the words say it all.
        told: what was said about it; it becomes the symptom.
        item_key: the check item, or another lasting name of the thing; empty for none.
    """
    is_safety = kind == Stop.Kind.STOP
    job = _open_job(machine=machine, item_key=item_key, at=at)
    if job is None:
        job = Job.objects.create(
            machine=machine,
            kind=Job.Kind.FAULT,
            # A stop that nobody has to decide on is decided: the job can be given out at once.
            state=Job.State.LOOKED_AT if is_safety else Job.State.REPORTED,
            state_since=at,
            title=shortened(what, told, longest=LONGEST_TITLE),
            symptom=shortened("", told, longest=400),
            opened_at=at,
            opened_by_record=record,
            is_safety=is_safety,
        )
        link_again(job, at=at, items=[item_key])
    elif is_safety and not job.is_safety:
        job.is_safety = True
        job.save(update_fields=["is_safety"])
    return Stop.objects.create(
        machine=machine,
        kind=kind,
        item_key=item_key,
        words=shortened(what, told, longest=LONGEST_STOP),
        always=always,
        since=at,
        job=job,
        record=record,
    )


@transaction.atomic
def stop_machine(
    *,
    machine: Machine,
    told: str,
    at: datetime,
    received_at: datetime | None = None,
    by: User | None = None,
    by_name: str = "",
    record_id: uuid.UUID | None = None,
    role: str = "",
    beside: Mapping[str, Canonical] | None = None,
) -> Stop:
    """Anybody stops a machine at once, with a word why; a job is raised so that it is looked at.

    Raises:
        Refused: no reason, or no name from somebody without an account.
    """
    machine = locked(machine)
    role = role or signing_role(machine=machine, by=by, by_name=by_name, right=Right.STOP)
    told = words(told, field="told", what=_("why it is stopped"), low=1)
    texts = {"why": told}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.STOP, machine=machine, by=by, by_name=by_name,
        told={}, texts=texts,
    ):  # fmt: skip
        return before.stops_made.get()
    record = seal(
        kind=Record.Kind.STOP, depot=machine.depot, machine=machine,
        data={"stop": "do not use", **(beside or {})},
        happened_at=at, received_at=received_at or at, by=by, by_name=by_name, role=role,
        texts=texts, record_id=record_id,
    )  # fmt: skip
    return raise_stop(
        machine=machine, record=record, at=at, kind=Stop.Kind.STOP, what="", told=told
    )


@transaction.atomic
def decide_stop(
    *,
    stop: Stop,
    carry_on_until: date | None,
    reason: str,
    at: datetime,
    by: User,
    answer: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """A foreman stops the machine for a fault, or lets it carry on with a note until a day.

    Args:
        carry_on_until: the last day of the note; None: the decision is to stop it.
        reason: why; needed to carry on, in 10 letters or more.
        answer: words to the one who told it; needed to carry on.

    Raises:
        Refused: always critical, freed already, no last day or too far off, or no reason
            or no answer.
    """
    machine = locked(stop.machine)
    role = role_for(by, Right.DECIDE, machine.depot_id)
    stop = Stop.objects.select_for_update(of=("self",)).select_related("job").get(pk=stop.pk)
    reason = words(reason, field="reason", what="reason")
    answer = answer_words(answer) if answer.strip() else ""
    on = carry_on_until
    data = {
        "stop": str(stop.record_id),
        "item": stop.item_key,
        "decision": "carry on" if on else "stop",
        "until": on.isoformat() if on else None,
    }
    texts = {"reason": reason, "answer": answer}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.DECISION, machine=machine, by=by,
        told=data, texts=texts,
    ):  # fmt: skip
        return before
    if stop.released_by_id is not None:
        raise Refused(_("A release check has freed this already. Nothing was changed."))
    if on is not None:
        refused = fitness.carry_on_refusal(
            fitness.Stop(kind="undecided", critical=stop.always),
            on=machine.depot.day_of(at),
            until=on,
            reason=reason,
        )
        if refused:
            raise Refused(refused, field="until" if "day" in refused else "reason")
        answer = answer_words(answer)
    record = seal(
        kind=Record.Kind.DECISION, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    stop.kind = Stop.Kind.CARRY_ON if on else Stop.Kind.STOP
    stop.until = on
    stop.note = reason
    stop.decided_by = record
    stop.save(update_fields=["kind", "until", "note", "decided_by"])
    _job_decided(stop, at=at)
    if stop.job is not None:
        kind = Answer.Kind.CARRY_ON if on else Answer.Kind.STOP
        keep_answer(job=stop.job, kind=kind, record=record, at=at, until=on)
    return record


def shortened(what: str, told: str, *, longest: int) -> str:
    """The part and what was said of it on one line; the record keeps the whole."""
    line = " ".join(f"{what}: {told}".split()) if what else " ".join(told.split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def _open_job(*, machine: Machine, item_key: str, at: datetime) -> Job | None:
    if not item_key:
        return None
    jobs = Job.objects.open().filter(machine=machine, stops__item_key=item_key).distinct()
    return next((job for job in jobs if job.done_at is None or job.done_at >= at), None)


def _job_decided(stop: Stop, *, at: datetime) -> None:
    job = stop.job
    if job is None:
        return
    changed = []
    waits = job.stops.standing().filter(kind=Stop.Kind.UNDECIDED).exists()
    if job.state == Job.State.REPORTED and not waits:
        job.state, job.state_since = Job.State.LOOKED_AT, at
        changed += ["state", "state_since"]
    if stop.kind == Stop.Kind.STOP and not job.is_safety:
        job.is_safety = True
        changed.append("is_safety")
    if changed:
        job.save(update_fields=changed)
