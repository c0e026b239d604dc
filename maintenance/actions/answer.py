"""Answers to the one who told a fault: somebody has it, and words to him."""

import uuid
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.signing import locked, sealed_before, words
from maintenance.models import Answer, Job
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

LONGEST_ANSWER = 400
SHORTEST_ANSWER = 10


@transaction.atomic
def have_it(*, job: Job, at: datetime, by: User, record_id: uuid.UUID | None = None) -> Job:
    """A named person has the job in hand, and whoever told it reads so. Pressed again: no change.

    Raises:
        Refused: the job is closed or called off.
    """
    machine, job = _locked(job)
    role = role_for(by, Right.WORK, machine.depot_id)
    if not job.is_open:
        raise Refused(_("This job is at its end. Nothing was changed."))
    if job.has_it_id == by.pk:
        return job
    data: dict[str, Canonical] = {"job": job.number, "answer": Answer.Kind.HAS_IT.value}
    record = seal(
        kind=Record.Kind.ANSWER, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=at, by=by, role=role, record_id=record_id,
    )  # fmt: skip
    job.has_it, job.has_it_since = by, at
    job.save(update_fields=["has_it", "has_it_since"])
    keep_answer(job=job, kind=Answer.Kind.HAS_IT, record=record, at=at)
    return job


@transaction.atomic
def answer_report(
    *, job: Job, answer: str, at: datetime, by: User, record_id: uuid.UUID | None = None
) -> Record:
    """Writes to the one who told the fault; also after the job has ended.

    Raises:
        Refused: nobody told this job, or the words are too short or too long.
    """
    machine, job = _locked(job)
    role = role_for(by, Right.WORK, machine.depot_id)
    answer = answer_words(answer)
    data: dict[str, Canonical] = {"job": job.number, "answer": Answer.Kind.TOLD.value}
    texts = {"answer": answer}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.ANSWER, machine=machine, by=by,
        told=data, texts=texts,
    ):  # fmt: skip
        return before
    if not is_told(job):
        raise Refused(_("Nobody reported this job, so nobody waits for an answer."))
    record = seal(
        kind=Record.Kind.ANSWER, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    keep_answer(job=job, kind=Answer.Kind.TOLD, record=record, at=at)
    return record


def keep_answer(
    *, job: Job, kind: Answer.Kind, record: Record, at: datetime, until: date | None = None
) -> None:
    """Notes on the job what the record answers. For actions of this app, in their transaction."""
    Answer.objects.create(job=job, kind=kind, record=record, at=at, until=until)


def answer_words(answer: str) -> str:
    """The words to the one who told it, as they are stored.

    Raises:
        Refused: under ten letters, too long, or with characters that cannot be kept.
    """
    return words(answer, field="answer", what="answer", low=SHORTEST_ANSWER, high=LONGEST_ANSWER)


def is_told(job: Job) -> bool:
    """Whether somebody reported what the job is about: a check, a fault report or a stop."""
    return job.opened_by_record_id is not None or job.stops.exists()


def _locked(job: Job) -> tuple[Machine, Job]:
    machine = locked(job.machine)
    return machine, Job.objects.select_for_update(of=("self",)).get(pk=job.pk)
