"""Jobs until the work is done: opened, given out, begun, waited with; or called off."""

import uuid
from collections.abc import Collection
from datetime import date, datetime

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext, gettext_noop

from maintenance.actions.again import link_again
from maintenance.actions.answer import answer_words, is_told, keep_answer
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.actions.step import keep_steps
from maintenance.models import Answer, DueLine, Job, Stop
from maintenance.rules import jobs as rule
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, may, role_for
from plant.sealing import Canonical

# Confirmed before any cover comes off.
ISOLATED: tuple[tuple[str, str], ...] = (
    ("stopped", gettext_noop("It is stopped")),
    ("cut_off", gettext_noop("It is unplugged, the fuel is off, or its hose or battery is off")),
    (
        "energy_gone",
        gettext_noop("Stored energy is gone: springs, pressure, hot parts, raised parts"),
    ),
    ("tag_on", gettext_noop("The tag is on, with my name")),
)


@transaction.atomic
def open_job(
    *,
    machine: Machine,
    kind: Job.Kind,
    title: str,
    at: datetime,
    by: User,
    symptom: str = "",
    is_safety: bool = False,
    due_line: DueLine | None = None,
    due_on: date | None = None,
) -> Job:
    """Books work that nobody reported as a fault.

    Raises:
        Refused: no title.
    """
    machine = locked(machine)
    role_for(by, Right.WORK, machine.depot_id)
    job = Job.objects.create(
        machine=machine,
        kind=kind,
        title=words(title, field="title", what=gettext("what is to be done"), low=1, high=120),
        symptom=words(symptom, field="symptom", what="symptom"),
        state=Job.State.REPORTED,
        state_since=at,
        opened_at=at,
        is_safety=is_safety,
        due_line=due_line,
        cycle=due_line.cycle if due_line else None,
        due_on=due_on,
    )
    link_again(job, at=at)
    return job


@transaction.atomic
def give_out(*, job: Job, to: User, for_day: date, at: datetime, by: User) -> Job:
    """Gives the job to a person for a day; may be given to somebody else while not begun.

    Raises:
        Refused: still to be decided, begun already, the person does no work here, or a day past.
    """
    job = locked_job(job)
    role_for(by, Right.GIVE_OUT, job.machine.depot_id)
    if not may(to, Right.WORK, job.machine.depot_id):
        raise Refused(
            gettext("This person does no jobs at this depot. Choose somebody else."), field="to"
        )
    if for_day < job.machine.depot.day_of(at):
        raise Refused(gettext("The day is past. Give today or a later day."), field="for_day")
    if job.state == Job.State.GIVEN_OUT:
        move_job(job, "looked at", at=at)
    _given_out(job, to=to, for_day=for_day, at=at)
    job.save()
    return job


@transaction.atomic
def start_job(*, job: Job, confirmed: Collection[str], at: datetime, by: User) -> Job:
    """Begins or goes on with a job, the machine isolated first. Taking one's own work is allowed.

    Args:
        confirmed: keys of ISOLATED; all are needed, except for a test, which needs the supply.

    Raises:
        Refused: not isolated, or the job's state does not allow it.
    """
    job = locked_job(job)
    role_for(by, Right.WORK, job.machine.depot_id)
    if job.needs_isolation or confirmed:
        _isolate(job, confirmed=confirmed, at=at, by=by)
    if job.state in (Job.State.REPORTED, Job.State.LOOKED_AT):
        _given_out(job, to=by, for_day=job.machine.depot.day_of(at), at=at)
    if job.state == Job.State.DONE:
        raise Refused(gettext("The work is done. To go on with it, send it back with a reason."))
    move_job(job, "under way", at=at)
    job.waiting_for, job.expected_on = "", None
    job.save()
    keep_steps(job)
    return job


@transaction.atomic
def isolate_job(*, job: Job, confirmed: Collection[str], at: datetime, by: User) -> Job:
    """Confirms afresh that the machine is isolated, while the job is under way.

    Raises:
        Refused: something is not confirmed, or the job is not under way.
    """
    job = locked_job(job)
    role_for(by, Right.WORK, job.machine.depot_id)
    if job.state != Job.State.UNDER_WAY:
        raise Refused(gettext("Start the job first. Nothing was changed."))
    _isolate(job, confirmed=confirmed, at=at, by=by)
    job.save()
    return job


@transaction.atomic
def wait_job(
    *, job: Job, waiting_for: str, at: datetime, by: User, expected_on: date | None = None
) -> Job:
    """Puts the job down until a part, the hirer, an outside repairer or help is there.

    A job that waits already may wait for something else or longer; since when it waits stays.

    Raises:
        Refused: for nothing named, a day past, or it is neither under way nor waiting.
    """
    job = locked_job(job)
    role_for(by, Right.WORK, job.machine.depot_id)
    if expected_on is not None and expected_on < job.machine.depot.day_of(at):
        raise Refused(gettext("That day is past. Give today or a later day."), field="expected_on")
    if job.state == Job.State.WAITING:
        if waiting_for not in rule.WAITING_FOR:
            raise Refused(
                gettext("Say what it waits for: {waiting_for}.").format(
                    waiting_for=", ".join(gettext(each) for each in rule.WAITING_FOR)
                ),
                field="waiting_for",
            )
    else:
        move_job(job, "waiting", at=at, waiting_for=waiting_for)
    job.waiting_for, job.expected_on = waiting_for, expected_on
    job.save()
    return job


@transaction.atomic
def call_off_job(
    *,
    job: Job,
    reason: str,
    at: datetime,
    by: User,
    answer: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Job:
    """Calls the job off with a reason. Stops that led to it go on standing.

    Args:
        answer: words to the one who told it; needed where somebody did.

    Raises:
        Refused: no reason, no answer where one is waited for, or work was begun and not put down.
    """
    job = locked_job(job)
    machine = job.machine
    role = role_for(by, Right.GIVE_OUT, machine.depot_id)
    reason = words(reason, field="reason", what="reason")
    data: dict[str, Canonical] = {"job": job.number, "decision": "called off"}
    told = is_told(job)
    answer = answer_words(answer) if answer.strip() else ""
    texts = {"reason": reason, "answer": answer}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.DECISION, machine=machine, by=by,
        told=data, texts=texts,
    ):  # fmt: skip
        return job
    if job.state == Job.State.GIVEN_OUT:
        move_job(job, "looked at", at=at)
    move_job(job, "called off", at=at, reason=reason, field="reason")
    if told:
        answer = answer_words(answer)
    record = seal(
        kind=Record.Kind.DECISION, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    job.called_off_because = reason
    job.closed_at, job.closed_by = at, by
    job.save()
    keep_answer(job=job, kind=Answer.Kind.CALLED_OFF, record=record, at=at)
    return job


def locked_job(job: Job) -> Job:
    """The job read afresh, its machine locked before it. For actions of this app."""
    machine = locked(job.machine)
    job = (
        Job.objects.select_for_update(of=("self",)).select_related("due_line__line").get(pk=job.pk)
    )
    job.machine = machine
    return job


def _given_out(job: Job, *, to: User, for_day: date, at: datetime) -> None:
    if job.state == Job.State.REPORTED:
        waits = job.stops.standing().filter(kind=Stop.Kind.UNDECIDED).exists()
        move_job(job, "looked at", at=at, decided=not waits)
    move_job(job, "given out", at=at, given_to=to.name, for_day=True)
    if (job.given_to_id, job.given_for) != (to.pk, for_day) or not job.day_place:
        same_day = Job.objects.filter(
            given_to=to, given_for=for_day, machine__depot=job.machine.depot_id
        ).exclude(pk=job.pk)
        job.day_place = (same_day.aggregate(last=Max("day_place"))["last"] or 0) + 1
    job.given_to, job.given_for = to, for_day


def _isolate(job: Job, *, confirmed: Collection[str], at: datetime, by: User) -> None:
    left = [gettext(what) for key, what in ISOLATED if key not in confirmed]
    if left:
        raise Refused(
            gettext("Isolate first. Not confirmed yet: {left}.").format(left="; ".join(left)),
            field="confirmed",
        )
    job.isolated_at, job.isolated_by = at, by


def move_job(
    job: Job,
    to: rule.JobState,
    *,
    at: datetime,
    field: str = "",
    reason: str = "",
    decided: bool = False,
    given_to: str = "",
    for_day: bool = False,
    waiting_for: str = "",
    by: str = "",
    done_by: Collection[str] = (),
    done_by_learner: bool = False,
    still_blank: Collection[str] = (),
    countersign_wanted: bool = False,
) -> None:
    state = next(each for each in rule.MOVES if each == job.state)
    refused = rule.refusal(
        state,
        to,
        reason=reason,
        decided=decided,
        given_to=given_to,
        for_day=for_day,
        waiting_for=waiting_for,
        by=by,
        done_by=done_by,
        done_by_learner=done_by_learner,
        still_blank=still_blank,
        countersign_wanted=countersign_wanted,
    )
    if refused:
        raise Refused(refused, field=field)
    job.state, job.state_since = Job.State(to), at
