"""Work done: kept with its parts and minutes, countersigned, sent back, closed."""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions import plan
from maintenance.actions.again import link_again
from maintenance.actions.job import locked_job, move_job
from maintenance.actions.signing import held_as_learner, is_learner, sealed_before, words
from maintenance.actions.step import keep_steps, sealed_steps
from maintenance.contents.competence import standing
from maintenance.contents.finding import cause_choices
from maintenance.contents.step import open_positions, with_answers
from maintenance.contents.test import class_missing, forms_of, sheet_of
from maintenance.models import Job, Labour, PartUsed, Skill
from maintenance.rules import jobs as rule
from maintenance.rules.finding import OTHER
from maintenance.rules.step import still_open
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical
from plant.sealing import moment as sealed_moment

MOST_MINUTES = 1440
MOST_PARTS = 20
MOST_QUANTITY = 999
# Of a step's answer in the record: the words that its finisher did not type on the last page.
STEPS = "step_"


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part that went in: what, how many, and where it came from."""

    what: str
    quantity: int = 1
    taken_from: str = ""


@transaction.atomic
def finish_job(
    *,
    job: Job,
    symptom: str,
    cause: str,
    action: str,
    minutes: int,
    at: datetime,
    by: User,
    parts: Sequence[Part] = (),
    listed: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Keeps the work of one person. The first makes the job *Work done*, who follows joins him.

    Nothing of the first is overwritten: the second's minutes and parts are added, his words stand
    in his own record. The same submission sent again adds nothing.

    Args:
        cause: "not found" is an answer; left empty, the words of the listed one stand for it.
        listed: the cause as "symptom/cause" of the list, by which closed jobs are counted; after a
            finding an empty one counts as something else.
        minutes: [min] 1 to 1440.

    Raises:
        Refused: something blank or out of range, or the job is in no state to be finished.
    """
    job = locked_job(job)
    machine = job.machine
    role = role_for(by, Right.WORK, machine.depot_id)
    listed, listed_words = _listed(job, listed, at=at)
    told_words = {
        "symptom": words(symptom, field="symptom", what="symptom"),
        "cause": words(cause, field="cause", what="cause") or listed_words,
        "action": words(action, field="action", what="action", high=1000),
    }
    if not 1 <= minutes <= MOST_MINUTES:
        raise Refused(
            gettext("Enter 1 to {most_minutes} minutes.").format(most_minutes=MOST_MINUTES),
            field="minutes",
        )
    parts = _cleaned(parts)
    told: dict[str, Canonical] = {
        "job": job.number,
        "minutes": {
            "typed": gettext("{minutes} min").format(minutes=minutes),
            "si": str(minutes * 60),
            "unit": "s",
        },
        "parts": [
            {"text": f"part_{n}", "quantity": str(part.quantity)} for n, part in enumerate(parts, 1)
        ],
        **({"cause_listed": listed} if listed else {}),
    }
    texts = dict(told_words)
    for n, part in enumerate(parts, 1):
        texts |= {f"part_{n}": part.what, f"part_{n}_from": part.taken_from}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.JOB, machine=machine, by=by,
        told=told, texts=texts, beside=STEPS,
    ):  # fmt: skip
        return before
    blank = [name for name, text in told_words.items() if not text]
    joins = job.state == Job.State.DONE
    if joins and blank:
        raise Refused(
            gettext("Still to fill in: {join}.").format(join=", ".join(sorted(blank))),
            field=blank[0],
        )
    steps: list[Canonical] = []
    if not joins:
        steps, more_words = _stepped_through(job, blank=blank, at=at)
        texts |= more_words
    learner = is_learner(by, machine.depot_id)
    record = seal(
        kind=Record.Kind.JOB, depot=machine.depot, machine=machine,
        data={
            **told,
            "kind": job.kind,
            "joins": joins,
            "learner": learner,
            **({"steps": steps} if steps else {}),
            "isolated_at": sealed_moment(job.isolated_at) if job.isolated_at else None,
            "isolated_by": str(job.isolated_by_id) if job.isolated_by_id else None,
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    Labour.objects.create(job=job, person=by, minutes=minutes, learner=learner, record=record)
    PartUsed.objects.bulk_create(
        PartUsed(
            job=job, what=part.what, quantity=part.quantity, taken_from=part.taken_from,
            record=record,
        )
        for part in parts
    )  # fmt: skip
    if not joins:
        job.symptom, job.cause, job.action = told_words.values()
        job.symptom_key, _, job.cause_key = listed.partition("/")
        job.done_at, job.done_by, job.sent_back_because = at, by, ""
    job.countersign_wanted = job.countersign_wanted or learner
    job.save()
    # The symptom and the parts may tell only now that it is the same trouble again.
    link_again(job, at=job.opened_at)
    return record


def _stepped_through(
    job: Job, *, blank: Sequence[str], at: datetime
) -> tuple[list[Canonical], dict[str, str]]:
    """On to *Work done*; its steps and their words as they are sealed, none of them left open."""
    if job.state not in (Job.State.UNDER_WAY, Job.State.CLOSED, Job.State.CALLED_OFF):
        raise Refused(gettext("Start the job first: isolate the machine. Not saved."))
    move_job(job, "work done", at=at, still_blank=blank, field=blank[0] if blank else "")
    keep_steps(job)
    asked = with_answers(job)
    if not asked:
        return [], {}
    if left := still_open(open_positions(asked)):
        raise Refused(left, field="steps")
    return sealed_steps(asked)


def _listed(job: Job, listed: str, *, at: datetime) -> tuple[str, str]:
    """The cause of the list, with its words; after a finding always one, else maybe none."""
    groups, _ = cause_choices(job, on=job.machine.depot.day_of(at))
    known = {key: what for _, causes in groups for key, what in causes}
    if listed and listed not in known:
        raise Refused(gettext("Choose a cause of this list, or none."), field="listed")
    if not listed and (last := job.findings.filter(record__isnull=False).first()):
        return f"{last.symptom}/{OTHER}", ""
    return listed, known.get(listed, "")


def _cleaned(parts: Sequence[Part]) -> list[Part]:
    for part in parts:
        if not 1 <= part.quantity <= MOST_QUANTITY:
            raise Refused(
                gettext("Enter 1 to {most_quantity} of a part.").format(
                    most_quantity=MOST_QUANTITY
                ),
                field="parts",
            )
    if len(parts) > MOST_PARTS:
        raise Refused(
            gettext("At most {most_parts} parts at a time.").format(most_parts=MOST_PARTS),
            field="parts",
        )
    return [
        Part(
            what=words(part.what, field="parts", what="part", low=1, high=120),
            quantity=part.quantity,
            taken_from=words(part.taken_from, field="parts", what=gettext("where from"), high=60),
        )
        for part in parts
    ]


@transaction.atomic
def countersign_job(
    *,
    job: Job,
    at: datetime,
    by: User,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """A competent person has looked at a learner's work and answers for it; the record names both.

    It closes nothing: the usual closing or release check follows. In practice the learner plays
    that person.

    Raises:
        Refused: nothing waits for it, a learner, one's own work, or no competence that counts.
    """
    job = locked_job(job)
    machine = job.machine
    role = role_for(by, Right.RELEASE, machine.depot_id)
    note = words(note, field="note", what="note")
    told: dict[str, Canonical] = {"job": job.number, "move": "countersigned"}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.JOB, machine=machine, by=by,
        told=told, texts={"note": note}, beside="learner_",
    ):  # fmt: skip
        return before
    work = list(job.labour.filter(learner=True).select_related("person", "record__depot"))
    competence = standing(
        by, depot_id=machine.depot_id, skill=Skill.COUNTERSIGN, family=machine.kind.family,
        on=machine.depot.day_of(at),
    )  # fmt: skip
    refused = rule.countersign_refusal(
        wanted=job.countersign_wanted and job.state == Job.State.DONE,
        learner=held_as_learner(by, machine.depot),
        not_competent=competence.refusal,
        by=str(by.pk),
        learners=[] if machine.depot.is_practice else [str(each.person_id) for each in work],
    )
    if refused:
        raise Refused(refused)
    names = {each.person_id: each.person.name for each in work}
    record = seal(
        kind=Record.Kind.JOB, depot=machine.depot, machine=machine,
        data={
            **told,
            "learners": [str(pk) for pk in names],
            "looked_at": [each.record.number for each in work],
            "competence": competence.kept,
        },
        happened_at=at, received_at=received_at or at, by=by, role=role,
        texts={"note": note, **{f"learner_{n}": name for n, name in enumerate(names.values(), 1)}},
        record_id=record_id,
    )  # fmt: skip
    job.countersign_wanted = False
    job.save(update_fields=["countersign_wanted"])
    return record


@transaction.atomic
def send_back_job(
    *, job: Job, reason: str, at: datetime, by: User, record_id: uuid.UUID | None = None
) -> Job:
    """Sends done work back, with the reason, sealed; the record of what was done stays.

    Raises:
        Refused: no reason, the work is not done, or a learner sends back.
    """
    job = locked_job(job)
    machine = job.machine
    role = role_for(by, Right.RELEASE, machine.depot_id)
    reason = words(reason, field="reason", what="reason")
    told: dict[str, Canonical] = {"job": job.number, "move": "sent back"}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.JOB, machine=machine, by=by,
        told=told, texts={"reason": reason},
    ):  # fmt: skip
        return job
    if held_as_learner(by, machine.depot):
        raise Refused(gettext("A learner sends nothing back. Ask a competent person."))
    move_job(job, "under way", at=at, reason=reason, field="reason")
    seal(
        kind=Record.Kind.JOB, depot=machine.depot, machine=machine, data=told, happened_at=at,
        received_at=at, by=by, role=role, texts={"reason": reason}, record_id=record_id,
    )  # fmt: skip
    job.sent_back_because = reason
    job.done_at = job.done_by = None
    job.countersign_wanted = False
    # Covers come off again, so isolating is asked for again.
    job.isolated_at = job.isolated_by = None
    job.save()
    return job


@transaction.atomic
def close_job(*, job: Job, at: datetime, by: User) -> Job:
    """Checks and closes work that stopped nothing. What stopped the machine needs a release check.

    Raises:
        Refused: it needs a release check, the work is not done, or a learner closes his own.
    """
    job = locked_job(job)
    role_for(by, Right.RELEASE, job.machine.depot_id)
    # A test is its own proof; other safety work is looked over before it is closed.
    looked_over = job.is_safety and job.kind != Job.Kind.TEST
    if job.is_open and (looked_over or job.stops.standing().exists()):
        raise Refused(
            gettext("This needs a release check, which closes the job too. Nothing was changed.")
        )
    close(job, at=at, by=by)
    return job


def close(job: Job, *, at: datetime, by: User) -> None:
    """Closes done work, and tells the plan that the service was done. For actions of this app."""
    depot = job.machine.depot
    if held_as_learner(by, depot):
        raise Refused(gettext("A learner cannot check and close a job. Ask a competent person."))
    _refuse_untested(job, at=at)
    learners = set(job.labour.filter(learner=True).values_list("person_id", flat=True))
    move_job(
        job,
        "closed",
        at=at,
        by=str(by.pk),
        done_by=[str(pk) for pk in learners],
        done_by_learner=bool(learners) and not depot.is_practice,
        countersign_wanted=job.countersign_wanted,
        still_blank=[n for n in ("symptom", "cause", "action") if not getattr(job, n)],
    )
    job.closed_at, job.closed_by = at, by
    job.save()
    if job.due_line is not None:
        done_at = job.done_at or at
        plan.record_done(
            due_line=job.due_line,
            on=job.machine.depot.day_of(done_at),
            tenths=None,
            at=at,
            job=job,
        )


def _refuse_untested(job: Job, *, at: datetime) -> None:
    """A test that the plan asks for is done by its readings, never by words."""
    if job.due_line is None or (sheet := sheet_of(job.machine, at=at)) is None:
        return
    key = job.due_line.line.key
    asked = any(key in form.plan for form in sheet.test_forms)
    tested = job.due_line.completions.counting().filter(test__at__gte=job.opened_at)
    if not asked or tested.exists():
        return
    if class_missing(job.machine, sheet):
        raise Refused(
            gettext("Its class is missing on the plate, so it cannot be tested. Enter it first.")
        )
    if any(key in form.plan for form in forms_of(job.machine, sheet)):
        raise Refused(gettext("A passed test closes this job. Enter its readings as a test."))


def worked_on(jobs: Iterable[Job]) -> set[int]:
    """Everybody who put work into any of these jobs."""
    pks = [job.pk for job in jobs]
    people = set(Labour.objects.filter(job__in=pks).values_list("person_id", flat=True))
    people |= set(
        Job.objects.filter(pk__in=pks, done_by__isnull=False).values_list("done_by_id", flat=True)
    )
    return people
