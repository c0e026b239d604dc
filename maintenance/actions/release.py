"""The release check that frees a stopped machine: the only thing that does."""

import uuid
from collections.abc import Collection, Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext, gettext_noop

from maintenance.actions.signing import held_as_learner, locked, sealed_before, words
from maintenance.actions.work_done import close, worked_on
from maintenance.contents.competence import standing
from maintenance.contents.test import forms_of, sheet_of
from maintenance.models import ElectricalTest, Job, Skill, Stop
from maintenance.rules import release as rule
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

RIGHT, NOT_RIGHT, NONE_ON_IT = "right", "not right", "none on it"
ANSWERS = (RIGHT, NOT_RIGHT, NONE_ON_IT)

# What is looked at, and how it is asked.
LOOKS: tuple[tuple[str, str], ...] = (
    ("guards_on", gettext_noop("Are all guards and covers back on and fixed?")),
    ("runs", gettext_noop("Does it run as it should?")),
    ("stop_works", gettext_noop("Does its stop control stop it?")),
)
_ENDED = (Job.State.DONE, Job.State.CLOSED, Job.State.CALLED_OFF)


@transaction.atomic
def release_machine(
    *,
    machine: Machine,
    frees: Collection[Stop],
    looks: Mapping[str, str],
    at: datetime,
    by: User,
    jobs: Collection[Job] = (),
    reason: str = "",
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Frees the machine of the stops named, and closes the jobs that stopped it for nothing else.

    Args:
        frees: the stops of this machine that it names; all others go on standing.
        looks: "right" or "none on it" for each of LOOKS; "not right" frees nothing.
        jobs: safety jobs that stopped nothing, closed by the same look.
        reason: in a one-person depot, why nobody else can check one's own work.

    Raises:
        Refused: nothing named, something not right, a job still open, a failed test not passed
            again, a learner, no competence that counts, or the person did the work.
    """
    machine = locked(machine)
    role = role_for(by, Right.RELEASE, machine.depot_id)
    stops = list(
        Stop.objects.select_for_update(of=("self",))
        .filter(machine=machine, pk__in=[stop.pk for stop in frees])
        .select_related("job", "record")
    )
    bare = list(
        Job.objects.filter(machine=machine, is_safety=True, pk__in=[job.pk for job in jobs])
    )
    reason = words(reason, field="reason", what="reason")
    note = words(note, field="note", what="note", high=2000)
    told: dict[str, Canonical] = {
        "frees": list(map(str, sorted(stop.pk for stop in stops))),
        "jobs": [job.number for job in sorted(bare, key=lambda job: job.pk)],
        "looks": {key: looks.get(key, "") for key, _ in LOOKS},
    }
    texts = {"reason": reason, "note": note}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.RELEASE, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before
    if len(stops) != len(frees) or len(bare) != len(jobs):
        raise Refused(gettext("Something named here is not of this machine. Nothing was freed."))
    if any(stop.released_by_id is not None for stop in stops):
        raise Refused(
            gettext("A part of this was freed already. Open the page afresh."), field="frees"
        )
    _refuse_looks(looks)
    concerned = {stop.job.pk: stop.job for stop in stops if stop.job} | {j.pk: j for j in bare}
    done_by = worked_on(concerned.values())
    competence = standing(
        by, depot_id=machine.depot_id, skill=Skill.RELEASE, family=machine.kind.family,
        on=machine.depot.day_of(at),
    )  # fmt: skip
    refused = rule.refusal(
        releaser=str(by.pk),
        done_by=[str(pk) for pk in done_by],
        learner=held_as_learner(by, machine.depot),
        one_person_depot=machine.depot.one_person,
        reason=reason,
        not_competent=competence.refusal,
        jobs_open=[job.number for job in concerned.values() if job.state not in _ENDED],
        frees=[str(stop.pk) for stop in stops] + [job.number for job in bare],
        tests_open=_tests_open(machine, stops, at=at),
        not_countersigned=[job.number for job in concerned.values() if job.countersign_wanted],
    )
    if refused:
        own_work = by.pk in done_by and machine.depot.one_person
        raise Refused(refused, field="reason" if own_work else "")
    record = seal(
        kind=Record.Kind.RELEASE, depot=machine.depot, machine=machine,
        data={
            **told,
            "stops": [
                {"record": str(stop.record_id), "item": stop.item_key, "job": _number(stop)}
                for stop in sorted(stops, key=lambda stop: stop.pk)
            ],
            "own_work": by.pk in done_by,
            "competence": competence.kept,
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    Stop.objects.filter(pk__in=[stop.pk for stop in stops]).update(released_by=record)
    for job in concerned.values():
        if job.state == Job.State.DONE and not job.stops.standing().exists():
            close(job, at=at, by=by)
    if machine.passed_at is None or at > machine.passed_at:
        machine.passed_at = at
        machine.save(update_fields=["passed_at"])
    return record


def _refuse_looks(looks: Mapping[str, str]) -> None:
    for key, asked in LOOKS:
        answer = looks.get(key, "")
        if answer not in ANSWERS:
            raise Refused(gettext("{asked} Answer this first.").format(asked=asked), field=key)
        if answer == NOT_RIGHT:
            raise Refused(
                gettext("This is not right, so nothing was freed. Put it right first."), field=key
            )


def _tests_open(machine: Machine, stops: Collection[Stop], *, at: datetime) -> list[str]:
    """Failed tests behind these stops that no later test of the same thing has passed.

    Of the same form; where the plate was put right since, so that the machine has that form no
    more, of the same item. A pass in doubt does not count.
    """
    told = []
    failed = ElectricalTest.objects.filter(record__in=[s.record_id for s in stops], passed=False)
    sheet = sheet_of(machine, at=at)
    forms = {form.key for form in forms_of(machine, sheet)} if sheet else set()
    for test in failed:
        same = {"form": test.form} if test.form in forms else {"item": test.item}
        later = ElectricalTest.objects.counting().filter(machine=machine, at__gt=test.at, **same)
        if not later.exists():
            told.append(gettext("the electrical test ({test})").format(test=test.title))
    return told


def _number(stop: Stop) -> str | None:
    return stop.job.number if stop.job else None
