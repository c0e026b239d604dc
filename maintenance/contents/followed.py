"""Failures of one machine, each with what was done about it and how long that took."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from maintenance.contents.record import summary, who
from maintenance.models import Check, ElectricalTest, Inspection, Stop
from plant.models import Machine, Record


@dataclass(frozen=True)
class Act:
    """One thing that was done about a failure; record: the sealed one behind it, or None."""

    at: datetime
    what: str
    who: str
    record: Record | None = None


@dataclass(frozen=True)
class Followed:
    """A failure with everything that followed.

    found: its record; words: what was wrong; acts: oldest first; ended_at: when it was freed, or a
    check passed where it stopped nothing; None while it is open; nothing: nobody did anything;
    stands: how its job stands now, where it is open.
    """

    found: Record
    words: str
    acts: tuple[Act, ...]
    ended_at: datetime | None
    nothing: bool
    stands: str = ""


def followed_of(
    machine: Machine, records: Iterable[Record], *, begin: datetime, end: datetime
) -> list[Followed]:
    """The failures that were found in the period or stood open in it, oldest first.

    Args:
        records: of the machine, all of them up to now, with ``by``, ``depot`` and texts read ahead.
    """
    records = list(records)
    by_pk = {record.pk: record for record in records}
    by_job, by_stop = _by_job(records), _by_stop(records)
    found = []
    stops = Stop.objects.filter(machine=machine, since__lt=end).select_related("job__given_to")
    for stop in stops.order_by("since", "pk"):
        record, freed = by_pk.get(stop.record_id), None
        if stop.released_by_id is not None:
            freed = by_pk.get(stop.released_by_id)
        if record is None or (freed is not None and freed.happened_at < begin):
            continue
        decided = by_stop.get((str(stop.record_id), stop.item_key), [])
        worked = by_job.get(stop.job.number, []) if stop.job else []
        # A job that was open before took this up too; what was done before did not answer it.
        since = [each for each in (*decided, *worked) if each.happened_at >= stop.since]
        found.append(_of_stop(stop, record, freed, since, by_pk))
    told = {each.found.pk for each in found}
    passes = _passes(machine)
    for record in records:
        if record.pk not in told and begin <= record.happened_at < end and _failed(record):
            found.append(_without_stop(record, passes, by_pk))
    return sorted(found, key=lambda each: (each.found.happened_at, each.found.seq, each.words))


def _of_stop(
    stop: Stop,
    record: Record,
    freed: Record | None,
    since: list[Record],
    by_pk: dict[UUID, Record],
) -> Followed:
    acts = {each.pk: _act(each) for each in (*since, *_retests(stop, record, by_pk))}
    if freed is not None:
        acts[freed.pk] = _act(freed)
    bare, stands = [], ""
    if (job := stop.job) is not None:
        told = (
            _("Job {job} opened")
            if job.opened_at >= stop.since
            else _("Job {job} was open already")
        )
        bare.append(Act(max(job.opened_at, stop.since), told.format(job=job.number), ""))
        stands = _("Job {job}: {state}").format(
            job=job.number, state=job.get_state_display().lower()
        )
        if job.given_to and job.is_open:
            stands = _("{job}, with {person}").format(job=stands, person=job.given_to.name)
    done = [act for act in acts.values() if act.record and act.record.kind != Record.Kind.ANSWER]
    return Followed(
        found=record,
        words=stop.words,
        acts=tuple(sorted([*bare, *acts.values()], key=lambda act: act.at)),
        ended_at=freed.happened_at if freed else None,
        nothing=not done,
        stands=stands,
    )


def _without_stop(
    record: Record, passes: list[tuple[datetime, UUID]], by_pk: dict[UUID, Record]
) -> Followed:
    """A check or a look that could not be passed and stopped nothing: the next one that was."""
    later = next(((at, pk) for at, pk in passes if at > record.happened_at), None)
    passed = by_pk.get(later[1]) if later else None
    return Followed(
        found=record,
        words=summary(record),
        acts=(_act(passed),) if passed else (),
        ended_at=passed.happened_at if passed else None,
        nothing=passed is None,
    )


def _act(record: Record) -> Act:
    return Act(record.happened_at, _whole(record), who(record), record)


def _whole(record: Record) -> str:
    """The line of the story; for work done the cause too, which that line leaves out."""
    told = summary(record)
    cause = next((text.text for text in record.texts.all() if text.name == "cause"), "")
    reason = next((text.text for text in record.texts.all() if text.name == "reason"), "")
    if record.kind == Record.Kind.JOB and cause:
        return f"{told}. Cause: {cause}"
    if record.kind == Record.Kind.DECISION and reason:
        return f"{told}. Reason: {reason}"
    return told


def _by_job(records: list[Record]) -> dict[str, list[Record]]:
    """The records that name a job: work done, sent back, countersigned, decided, answered."""
    kinds = (Record.Kind.JOB, Record.Kind.FINDING, Record.Kind.DECISION, Record.Kind.ANSWER)
    found: dict[str, list[Record]] = {}
    for record in records:
        if record.kind in kinds:
            number = json.loads(record.content)["data"].get("job")
            if number:
                found.setdefault(number, []).append(record)
    return found


def _by_stop(records: list[Record]) -> dict[tuple[str, str], list[Record]]:
    """The decisions on stops, by the record that made the stop and its item."""
    found: dict[tuple[str, str], list[Record]] = {}
    for record in records:
        if record.kind == Record.Kind.DECISION:
            data = json.loads(record.content)["data"]
            if "stop" in data:
                found.setdefault((data["stop"], data["item"]), []).append(record)
    return found


def _retests(stop: Stop, record: Record, by_pk: dict[UUID, Record]) -> list[Record]:
    """After a failed test the first one of the same form that passed."""
    if record.kind != Record.Kind.TEST:
        return []
    failed = ElectricalTest.objects.filter(record=record).first()
    if failed is None:
        return []
    again = ElectricalTest.objects.filter(
        machine=stop.machine_id, form=failed.form, passed=True, at__gt=failed.at
    ).order_by("at", "pk")
    pk = again.values_list("record", flat=True).first()
    return [by_pk[pk]] if pk is not None and pk in by_pk else []


def _failed(record: Record) -> bool:
    """Whether the record tells of something that was not right, by its own word."""
    data = json.loads(record.content)["data"]
    if record.kind in (Record.Kind.CHECK, Record.Kind.INSPECTION):
        return bool(data.get("mark") != Check.Mark.PASSED)
    if record.kind == Record.Kind.TEST:
        return not data.get("passed")
    return record.kind in (Record.Kind.FAULT, Record.Kind.STOP)


def _passes(machine: Machine) -> list[tuple[datetime, UUID]]:
    checks = Check.objects.filter(machine=machine, mark=Check.Mark.PASSED)
    looks = Inspection.objects.filter(machine=machine, mark=Check.Mark.PASSED)
    return sorted(
        [*checks.values_list("at", "record"), *looks.values_list("at", "record")],
        key=lambda each: each[0],
    )
