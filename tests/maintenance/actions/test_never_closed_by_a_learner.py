"""No sequence of work, joining, countersigning and sending back lets a learner close a job alone.

Beside it a model of the test's own: the minutes and parts told, and whose work waits for a look.
"""

from collections import Counter
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from maintenance.actions.day import take_back
from maintenance.actions.job import (
    ISOLATED,
    call_off_job,
    give_out,
    isolate_job,
    open_job,
    start_job,
    wait_job,
)
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.step import Answer, tell_steps
from maintenance.actions.stop import stop_machine
from maintenance.actions.work_done import (
    Part,
    close_job,
    countersign_job,
    finish_job,
    send_back_job,
)
from maintenance.contents.step import last, with_answers
from maintenance.models import DueLine, Job, Labour, PartUsed, PlanLine, PlanStep, Skill, Stop
from maintenance.rules.step import Told
from make import MONDAY, make_competence, make_depot, make_machine, make_user
from plant.actions.refusal import Refused
from plant.models import Membership, Record, Role

ALL = [key for key, _ in ISOLATED]
PEOPLE = ("learner", "fitter", "foreman")
_who = st.sampled_from(PEOPLE)


class Bay(RuleBasedStateMachine):
    """One machine, three people, and whatever they do; each run is rolled back."""

    @initialize()
    def open_bay(self) -> None:
        self.undo = transaction.atomic()
        self.undo.__enter__()
        depot = make_depot("bay")
        self.machine = make_machine(depot, "ZZ-1")
        self.people = {
            "learner": make_user("Lena"),
            "fitter": make_user("Finn", (depot, Role.FITTER)),
            "foreman": make_user("Freya", (depot, Role.FOREMAN)),
        }
        Membership.objects.create(
            user=self.people["learner"], depot=depot, role=Role.FITTER, learner=True
        )
        for name, skills in (("fitter", [Skill.RELEASE]), ("foreman", list(Skill))):
            for skill in skills:
                make_competence(self.people[name], depot, skill)
        line = PlanLine.objects.create(
            kind=self.machine.kind,
            key="x",
            title="Service",
            every_months=3,
            source="x",
            trust="from memory",
        )
        PlanStep.objects.create(line=line, position=1, text="Cover off.", opens_guard=True)
        PlanStep.objects.create(line=line, position=2, text="Grease.")
        due_line = DueLine.objects.create(
            machine=self.machine, line=line, start_on=MONDAY.date(), worked_out_at=MONDAY
        )
        Job.objects.create(
            machine=self.machine, kind=Job.Kind.SERVICE, title="Service", due_line=due_line,
            cycle=1, state=Job.State.LOOKED_AT, opened_at=MONDAY,
        )  # fmt: skip
        self.now = MONDAY
        self.minutes: Counter[int] = Counter()
        self.parts: Counter[int] = Counter()
        # Jobs with a learner's work that nobody competent has looked at since.
        self.unseen: set[int] = set()

    def tick(self) -> datetime:
        self.now += timedelta(minutes=7)
        return self.now

    def one(self, data: Any) -> Job:
        job: Job = data.draw(st.sampled_from(list(Job.objects.order_by("pk"))))
        return job

    @rule()
    def stop(self) -> None:
        stop_machine(machine=self.machine, told="smokes", at=self.tick(), by=self.people["fitter"])

    @rule(data=st.data(), who=_who)
    def open(self, data: Any, who: str) -> None:
        title = data.draw(st.sampled_from(["noise", "leak"]))
        open_job(
            machine=self.machine, kind=Job.Kind.BELT, title=title, at=self.tick(),
            by=self.people[who],
        )  # fmt: skip

    @rule(data=st.data(), who=_who, full=st.booleans())
    def work(self, data: Any, who: str, full: bool) -> None:
        """Starts it, answers its steps, and says what was done; or only some of it."""
        job, by = self.one(data), self.people[who]
        minutes, parts = data.draw(st.integers(1, 90)), data.draw(st.integers(0, 2))
        try:
            if full and job.state != Job.State.DONE:
                if job.state != Job.State.UNDER_WAY:
                    start_job(job=job, confirmed=ALL, at=self.tick(), by=by)
                isolate_job(job=job, confirmed=ALL, at=self.tick(), by=by)
                answers = {
                    step.position: Answer(told=Told(is_done=True), seen=seen.pk if seen else 0)
                    for step in with_answers(job)
                    for seen in [last(step)]
                }
                tell_steps(job=job, answers=answers, at=self.tick(), by=by)
            finish_job(
                job=job, symptom="as found", cause="not found", action="put right",
                minutes=minutes, parts=[Part(what="Screw", quantity=3)] * parts, at=self.tick(),
                by=by,
            )  # fmt: skip
        except Refused:
            return
        self.minutes[job.pk] += minutes
        self.parts[job.pk] += 3 * parts
        if who == "learner":
            self.unseen.add(job.pk)

    @rule(data=st.data(), who=_who)
    def countersign(self, data: Any, who: str) -> None:
        job = self.one(data)
        try:
            countersign_job(job=job, at=self.tick(), by=self.people[who])
        except Refused:
            return
        assert who == "foreman"
        assert job.pk in self.unseen
        self.unseen.discard(job.pk)

    @rule(data=st.data(), who=_who)
    def send_back(self, data: Any, who: str) -> None:
        job = self.one(data)
        try:
            send_back_job(job=job, reason="not so", at=self.tick(), by=self.people[who])
        except Refused:
            return
        assert who != "learner"
        self.unseen.discard(job.pk)

    @rule(data=st.data(), who=_who)
    def close(self, data: Any, who: str) -> None:
        job = self.one(data)
        try:
            close_job(job=job, at=self.tick(), by=self.people[who])
        except Refused:
            return
        assert who != "learner"

    @rule(who=_who)
    def release(self, who: str) -> None:
        stops = list(Stop.objects.standing())
        looks = {key: "right" for key, _ in LOOKS}
        try:
            release_machine(
                machine=self.machine, frees=stops, looks=looks, at=self.tick(),
                by=self.people[who],
            )  # fmt: skip
        except Refused:
            return
        assert who != "learner"

    @rule(data=st.data(), what=st.sampled_from(["give", "back", "wait", "off"]))
    def order(self, data: Any, what: str) -> None:
        job, by, at = self.one(data), self.people["foreman"], self.tick()
        try:
            if what == "give":
                give_out(job=job, to=self.people["learner"], for_day=at.date(), at=at, by=by)
            elif what == "back":
                take_back(job=job, at=at, by=by)
            elif what == "wait":
                wait_job(job=job, waiting_for="part", at=at, by=by)
            else:
                call_off_job(job=job, reason="not needed", at=at, by=by)
        except Refused:
            return

    @invariant()
    def nothing_is_closed_before_a_learners_work_was_looked_at(self) -> None:
        if not hasattr(self, "unseen"):
            return
        closed = Job.objects.filter(state=Job.State.CLOSED)
        assert not closed.filter(pk__in=self.unseen).exists()
        assert not closed.filter(closed_by=self.people["learner"]).exists()
        wanted = Job.objects.filter(countersign_wanted=True)
        assert set(wanted.values_list("pk", flat=True)) == self.unseen

    @invariant()
    def nothing_is_closed_over_a_standing_stop(self) -> None:
        if hasattr(self, "unseen"):
            standing = Stop.objects.standing().filter(job__state=Job.State.CLOSED)
            assert not standing.exists()

    @invariant()
    def no_minute_and_no_part_is_lost(self) -> None:
        if not hasattr(self, "unseen"):
            return
        rows = Labour.objects.values_list("job").annotate(n=Sum("minutes"))
        assert dict(rows.values_list("job", "n")) == dict(+self.minutes)
        used = PartUsed.objects.values_list("job").annotate(n=Sum("quantity"))
        assert dict(used.values_list("job", "n")) == dict(+self.parts)
        done = Record.objects.filter(kind=Record.Kind.JOB, content__contains='"minutes"')
        assert done.count() == Labour.objects.count()

    def teardown(self) -> None:
        if hasattr(self, "undo"):
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)


@pytest.mark.django_db
def test_no_sequence_lets_a_learner_close_a_job_alone() -> None:
    run_state_machine_as_test(
        Bay,
        settings=settings(
            max_examples=40,
            stateful_step_count=30,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
