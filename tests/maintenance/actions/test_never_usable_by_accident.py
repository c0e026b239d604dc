"""No sequence of checks, reports, decisions, work and releases leaves a failure usable unreleased.

The machine's mark is compared after each step with a model of four lines kept by the test itself:
what was found wrong, what a release named, and which notes run.
"""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, call_off_job, start_job
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.actions.work_done import finish_job
from maintenance.contents.fitness import fitness_of
from maintenance.models import Job, Skill, Stop
from maintenance.rules.check import Given
from make import MONDAY, make_competence, make_depot, make_machine, make_user
from plant.actions.refusal import Refused
from plant.models import Chain, Machine, Record, Role
from plant.sealing import Link, verify

WORK = {"symptom": "as found", "cause": "not found", "action": "put right", "minutes": 5}
ITEMS = ("cable_plug", "mixer_guards", "drum", "stands_level", "nothing_loose")
ALWAYS = {"cable_plug", "mixer_guards"}
_items = st.sampled_from(ITEMS)
_answers = st.sampled_from(["ok", "wrong", "could not check"])


class Yard(RuleBasedStateMachine):
    """One machine and everybody around it; each run is rolled back."""

    @initialize()
    def open_yard(self) -> None:
        self.undo = transaction.atomic()
        self.undo.__enter__()
        depot = make_depot("yard")
        self.machine = make_machine(depot, "ZZ-1")
        self.operator = make_user("Olwen", (depot, Role.OPERATOR))
        self.fitter = make_user("Finn", (depot, Role.FITTER))
        self.foreman = make_user("Freya", (depot, Role.FOREMAN))
        for person in (self.fitter, self.foreman):
            make_competence(person, depot, Skill.RELEASE)
        self.now = MONDAY
        self.newest = 0
        # Key of a stop to the item that failed and, where a note runs, its last day.
        self.failed: dict[int, tuple[str, date | None]] = {}

    def tick(self) -> datetime:
        self.now += timedelta(minutes=7)
        return self.now

    def note_new(self, item: str) -> None:
        made = list(Stop.objects.filter(pk__gt=self.newest).values_list("pk", flat=True))
        assert made, "what was found wrong stands against the machine"
        for pk in made:
            self.failed[pk] = (item, None)
            self.newest = max(self.newest, pk)

    def fresh(self) -> Machine:
        return Machine.objects.select_related("depot", "kind").get(pk=self.machine.pk)

    @rule(item=_items, answer=_answers, late=st.booleans())
    def check(self, item: str, answer: Any, late: bool) -> None:
        at = self.tick() - timedelta(days=1 if late else 0)
        _, asked = questions(self.fresh(), at=at)
        given = {each.key: Given(answer="ok") for each in asked}
        given[item] = Given(answer=answer, word="" if answer == "ok" else "seen")
        record_check(
            machine=self.machine, answers=given, at=at, received_at=self.now, by=self.operator
        )
        if answer == "wrong":
            self.note_new(item)

    @rule(item=_items, now=st.booleans(), label=st.booleans())
    def report(self, item: str, now: bool, label: bool) -> None:
        who: dict[str, Any] = {"by_name": "Ola"} if label else {"by": self.operator}
        report_fault(
            machine=self.machine, part=item, told="noise", stop_now=now, at=self.tick(), **who
        )
        self.note_new(item)

    @rule()
    def stop(self) -> None:
        stop_machine(machine=self.machine, told="odd smell", at=self.tick(), by_name="Ola")
        self.note_new("")

    @precondition(lambda self: self.failed)
    @rule(data=st.data(), days=st.sampled_from([None, 0, 1, 20]))
    def decide(self, data: Any, days: int | None) -> None:
        pk = data.draw(st.sampled_from(sorted(self.failed)))
        at = self.tick()
        until = None if days is None else at.date() + timedelta(days=days)
        item, _ = self.failed[pk]
        stop = Stop.objects.get(pk=pk)
        try:
            decide_stop(
                stop=stop,
                carry_on_until=until,
                reason="seen and judged",
                answer="Seen, carry on.",
                at=at,
                by=self.foreman,
            )
        except Refused:
            assert until is not None
            assert item in ALWAYS or stop.always
            return
        assert item not in ALWAYS or until is None
        self.failed[pk] = (item, until)

    @rule(data=st.data(), off=st.booleans())
    def work(self, data: Any, off: bool) -> None:
        jobs = list(Job.objects.open())
        if not jobs:
            return
        job = data.draw(st.sampled_from(jobs))
        try:
            if off:
                call_off_job(
                    job=job,
                    reason="not so",
                    answer="It is not so.",
                    at=self.tick(),
                    by=self.foreman,
                )
            else:
                if job.state != Job.State.UNDER_WAY:
                    confirmed = [key for key, _ in ISOLATED]
                    start_job(job=job, confirmed=confirmed, at=self.tick(), by=self.fitter)
                finish_job(job=job, **WORK, at=self.tick(), by=self.fitter)
        except Refused:
            return

    @precondition(lambda self: self.failed)
    @rule(data=st.data(), well=st.booleans(), own=st.booleans())
    def release(self, data: Any, well: bool, own: bool) -> None:
        picked = data.draw(st.sets(st.sampled_from(sorted(self.failed)), min_size=1))
        stops = list(Stop.objects.filter(pk__in=picked))
        looks = {key: "right" for key, _ in LOOKS} | ({} if well else {"runs": "not right"})
        try:
            release_machine(
                machine=self.machine,
                frees=stops,
                looks=looks,
                at=self.tick(),
                by=self.fitter if own else self.foreman,
            )
        except Refused:
            return
        assert well
        for pk in picked:
            del self.failed[pk]

    @rule()
    def a_week_passes(self) -> None:
        self.now += timedelta(days=7)

    @invariant()
    def no_failure_is_usable_unreleased(self) -> None:
        if not hasattr(self, "failed"):
            return
        on = self.now.date()
        mark = fitness_of(self.fresh(), on).mark
        stands = [until for _, until in self.failed.values() if until is None or until < on]
        assert (mark == "Do not use") == bool(stands)
        if self.failed:
            assert mark != "OK to use"
        assert set(Stop.objects.standing().values_list("pk", flat=True)) == set(self.failed)

    @invariant()
    def no_job_is_closed_over_a_standing_stop(self) -> None:
        if hasattr(self, "failed"):
            closed = Job.objects.filter(state=Job.State.CLOSED, stops__released_by__isnull=True)
            assert not closed.filter(stops__isnull=False).exists()

    def teardown(self) -> None:
        if not hasattr(self, "undo"):
            return
        try:
            head = Chain.objects.filter(depot=self.machine.depot).first()
            links = [
                Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash)
                for r in Record.objects.order_by("seq")
            ]
            if head:
                report = verify(links, head_seq=head.head_seq, head_hash=head.head_hash)
                assert report.what == ""
        finally:
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)


@pytest.mark.usefixtures("rule_sheet")
def test_no_sequence_leaves_an_unreleased_failure_usable() -> None:
    run_state_machine_as_test(
        Yard,
        settings=settings(
            max_examples=40,
            stateful_step_count=30,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
