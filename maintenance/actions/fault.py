"""Fault reports: from the label without an account, or by somebody signed in."""

import uuid
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions.check import questions
from maintenance.actions.signing import locked, sealed_before, signing_role, words
from maintenance.actions.stop import raise_stop
from maintenance.models import Job, Stop
from maintenance.rules.check import ALWAYS, DECIDE
from maintenance.rules.sheet import Question
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right
from plant.sealing import Canonical

LONGEST_PART = 40


@transaction.atomic
def report_fault(
    *,
    machine: Machine,
    part: str,
    told: str,
    stop_now: bool,
    at: datetime,
    received_at: datetime | None = None,
    by: User | None = None,
    by_name: str = "",
    by_label: bool = False,
    photos: Mapping[str, bytes] | None = None,
    record_id: uuid.UUID | None = None,
    role: str = "",
    beside: Mapping[str, Canonical] | None = None,
) -> Job:
    """Keeps the report, stops the machine (at once, or until a foreman decides), and gives the job.

    Args:
        part: the key of one of the machine's check items, or a word of the reporter's own.
        told: what is wrong.
        stop_now: stop it whoever decides; else the part's own level says whether it stops, and a
            part without a level waits for a foreman.

    Raises:
        Refused: no part, no words, or no name.
    """
    machine = locked(machine)
    role = role or signing_role(machine=machine, by=by, by_name=by_name, right=Right.CHECK)
    by_name = by_name.strip() if by is None else ""
    part = words(part, field="part", what="part", low=1, high=LONGEST_PART)
    told = words(told, field="told", what=gettext("what is wrong"), low=1)
    item = _item(machine, part, at=at)
    data: dict[str, Canonical] = {"item": item.key if item else None, "stop_now": stop_now}
    texts = {"told": told, "part": "" if item else part}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.FAULT, machine=machine, by=by, by_name=by_name,
        told=data, texts=texts,
    ):  # fmt: skip
        return _job_of(before)
    level = item.level if item else DECIDE
    stops = stop_now or level != DECIDE
    record = seal(
        kind=Record.Kind.FAULT, depot=machine.depot, machine=machine,
        data={
            **data, "short": item.short if item else None, "level": level, "by_label": by_label,
            **(beside or {}),
        },
        happened_at=at, received_at=received_at or at, by=by, by_name=by_name, role=role,
        texts=texts, photos=photos, record_id=record_id,
    )  # fmt: skip
    raise_stop(
        machine=machine,
        record=record,
        at=at,
        kind=Stop.Kind.STOP if stops else Stop.Kind.UNDECIDED,
        what=item.short if item else part,
        told=told,
        item_key=item.key if item else "",
        always=level == ALWAYS,
    )
    return _job_of(record)


def _item(machine: Machine, part: str, *, at: datetime) -> Question | None:
    try:
        _, items = questions(machine, at=at)
    except Refused:
        # A report is never lost because nobody brought in the questions.
        return None
    return next((item for item in items if item.key == part), None)


def _job_of(record: Record) -> Job:
    return Job.objects.get(stops__record=record)
