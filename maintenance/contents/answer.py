"""What became of what somebody told: the present answer, in lines, for the one who told it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import (
    BooleanField,
    Exists,
    ExpressionWrapper,
    OuterRef,
    Prefetch,
    QuerySet,
    Subquery,
    TextField,
    Value,
    prefetch_related_objects,
)
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from maintenance.models import Answer, Job, Stop
from maintenance.rules.words import day_text
from plant.models import Record, RecordText, User


@dataclass(frozen=True)
class Reply:
    """One job, and what is to be said about it now."""

    job: Job
    lines: tuple[str, ...]


# Whether everything that stood against the machine for this job has been released.
_STOPS = Stop.objects.filter(job=OuterRef("pk"))
FREED = ExpressionWrapper(
    Exists(_STOPS) & ~Exists(_STOPS.filter(released_by__isnull=True)), BooleanField()
)


def jobs_of(records: Iterable[Record]) -> QuerySet[Job]:
    """The jobs that these records raised or joined, with all that a reply reads."""
    return (
        Job.objects.filter(stops__record__in=[record.pk for record in records])
        .distinct()
        .annotate(freed=FREED)
        .select_related("machine__depot", "given_to", "has_it")
        .prefetch_related(_answers())
        .order_by("pk")
    )


def told_by(user: User, by: Any, *, since: Any) -> QuerySet[Stop]:
    """What somebody told lately that the person sees, as far as it was raised as a job.

    by: the key of who told it; since: a moment; both may be Givens.
    """
    mine = Record.objects.visible_to(user).filter(by=by, happened_at__gte=since)
    kinds = (Record.Kind.CHECK, Record.Kind.FAULT, Record.Kind.STOP)
    return Stop.objects.filter(record__in=mine.filter(kind__in=kinds), job__isnull=False)


def replies(jobs: Iterable[Job]) -> list[Reply]:
    """The present answers to who told them; one query more, whatever their number.

    The jobs are annotated with ``FREED`` already.
    """
    jobs = list(jobs)
    prefetch_related_objects(jobs, _answers())
    return [reply(job, own=True) for job in jobs]


def _answers() -> "Prefetch[str]":
    """The answers of jobs, each with its words as ``words``: none where they were erased."""
    texts = RecordText.objects.filter(record=OuterRef("record"), name="answer")
    words = Coalesce(Subquery(texts.values("text")[:1]), Value("", TextField()))
    return Prefetch("answers", Answer.objects.annotate(words=words).select_related("record__by"))


def reply(job: Any, *, own: bool) -> Reply:
    """The present answer.

    Args:
        own: for who told it, or is signed in and sees the depot: names, and the words written to
            him. Anybody else who holds the label reads roles and no words.
    """
    answers = list(job.answers.all())
    said = [_said(each, job, own=own) for each in answers if each.kind != Answer.Kind.HAS_IT]
    has_it = next((each for each in reversed(answers) if each.kind == Answer.Kind.HAS_IT), None)
    lines = [line for line in said if line]
    if has_it is not None:
        who = _who(has_it, own=own)
        lines.insert(0, _("{who} has it, since {at}.").format(who=who, at=_moment(has_it.at, job)))
    elif job.given_to is not None and job.given_for is not None:
        name = job.given_to.name if own else "a fitter"
        lines.insert(
            0,
            _("Given to {name} for {given_for}.").format(
                name=name, given_for=day_text(job.given_for)
            ),
        )
    elif job.is_open and job.done_at is None:
        lines.insert(0, _("Nobody has it yet. It is on the foreman's list."))
    if job.done_at is not None:
        lines.append(_("Work done, {done_at}.").format(done_at=_moment(job.done_at, job)))
    if job.is_open and job.freed:
        lines.append(_("Freed by a release check."))
    if job.state == Job.State.CLOSED and job.closed_at is not None:
        lines.append(
            _("Checked and closed, {closed_at}.").format(closed_at=_moment(job.closed_at, job))
        )
    return Reply(job, tuple(lines))


def _said(answer: Any, job: Job, *, own: bool) -> str:
    who, words = _who(answer, own=own), answer.words if own else ""
    because = f" {words}" if words else ""
    if answer.kind == Answer.Kind.CARRY_ON and answer.until is not None:
        return _("{who} decided: carry on with a note until {until}.{because}").format(
            who=who, until=day_text(answer.until), because=because
        )
    if answer.kind == Answer.Kind.STOP:
        return _("{who} decided: it stays stopped.{because}").format(who=who, because=because)
    if answer.kind == Answer.Kind.CALLED_OFF:
        return _("{who} called the job off, {at}.{because}").format(
            who=who, at=_moment(answer.at, job), because=because
        )
    if not own:
        return _("{who} has written an answer to the one who told it.").format(who=who)
    return _("{who} answers: {words}").format(who=who, words=words or _("erased by law"))


def _who(answer: Answer, *, own: bool) -> str:
    role = answer.record.role or "person"
    if own and answer.record.by is not None:
        return f"{answer.record.by.name}, {role},"
    return f"{'An' if role[0] in 'aeiou' else 'A'} {role}"


def _moment(at: datetime, job: Job) -> str:
    then = at.astimezone(job.machine.depot.zone)
    return _("{then} on {what}").format(then=f"{then:%H:%M}", what=day_text(then.date()))
