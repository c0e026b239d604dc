"""No sequence of checks, moves, decisions, late news and releases lets a failure go out unreleased.

Beside the machine's mark the test keeps a model of its own: what was found wrong and not named by
a release, which notes run, when a competent look or a check was last wanted and last passed. An
issue or a pass on that succeeds while the model says no is the one unforgivable error.
"""

from calendar import monthrange
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

from maintenance.actions import place
from maintenance.actions.check import questions, record_check
from maintenance.actions.inspection import Told, points, record_inspection
from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stay import Going, issue, pass_on, take_back
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.actions.transfer import receive, send, turn_back
from maintenance.actions.work_done import finish_job
from maintenance.contents.fitness import fitness_of
from maintenance.contents.out_in import can_go
from maintenance.models import Job, Move, Skill, Stay, Stop, Transfer
from maintenance.rules.check import Given
from make import MONDAY, make_competence, make_depot, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Chain, Depot, Machine, Place, Record, Role, User
from plant.sealing import Link, verify

WORK: dict[str, Any] = {
    "symptom": "as found", "cause": "not found", "action": "put right", "minutes": 5
}  # fmt: skip
ITEMS = ("cable_plug", "mixer_guards", "drum", "stands_level")
_items = st.sampled_from(ITEMS)
_answers = st.sampled_from(["ok", "ok", "wrong", "could not check"])
STAYS_PUT = {"to_workshop", "to_yard", "lay_up"}


class TwoDepots(RuleBasedStateMachine):
    """One machine, two depots, and everybody in both; each run is rolled back."""

    @initialize()
    def open_depots(self) -> None:
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.depots = [make_depot("one"), make_depot("two")]
        self.machine = make_machine(self.depots[0], "ZZ-1")
        self.people = {
            depot.pk: {role: make_user(f"{role} {depot.code}", (depot, role)) for role in Role}
            for depot in self.depots
        }
        for depot in self.depots:
            for role in (Role.FITTER, Role.FOREMAN):
                for skill in (Skill.RELEASE, Skill.INSPECT):
                    make_competence(self.people[depot.pk][role], depot, skill)
        self.now = MONDAY
        self.newest = 0
        self.failed: dict[int, date | None] = {}
        self.look_at: datetime | None = None
        self.looked_at: datetime | None = None
        self.check_at: datetime | None = None
        self.passed_at: datetime = MONDAY

    def tick(self) -> datetime:
        self.now += timedelta(minutes=7)
        return self.now

    def fresh(self) -> Machine:
        return Machine.objects.select_related("depot", "kind").get(pk=self.machine.pk)

    def who(self, role: Role) -> User:
        # Read afresh, since a person keeps their roles for as long as a request lasts.
        return User.objects.get(pk=self.people[self.fresh().depot_id][role].pk)

    def other(self) -> Depot:
        here = self.fresh().depot_id
        return next(depot for depot in self.depots if depot.pk != here)

    def note_new(self) -> None:
        made = list(Stop.objects.filter(pk__gt=self.newest).values_list("pk", flat=True))
        assert made, "what was found wrong stands against the machine"
        for pk in made:
            self.failed[pk] = None
            self.newest = max(self.newest, pk)

    def wants_look(self, at: datetime) -> None:
        self.look_at = at if self.look_at is None else max(self.look_at, at)

    def wants_check(self, at: datetime) -> None:
        self.check_at = at if self.check_at is None else max(self.check_at, at)

    def stops(self) -> bool:
        on = self.now.date()
        return any(until is None or until < on for until in self.failed.values())

    def waits_for_a_look(self) -> bool:
        if self.look_at and (self.looked_at is None or self.looked_at <= self.look_at):
            return True
        return self.check_at is not None and self.passed_at <= self.check_at

    def look_over_is_past(self) -> bool:
        """110 V, monthly: HSE HSG107, 3rd ed., 2013, in a second-hand table."""
        if self.looked_at is None:
            return False
        day = self.looked_at.date()
        year, month = divmod(day.year * 12 + day.month, 12)
        last = date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
        return last < self.now.date()

    def going(self, days: int) -> Going:
        return Going(
            site="Plot 4", site_phone="01632 960 200", hirer="Ash",
            due_back_on=self.now.date() + timedelta(days=days),
        )  # fmt: skip

    @rule(item=_items, answer=_answers, late=st.booleans(), label=st.booleans())
    def check(self, item: str, answer: Any, late: bool, label: bool) -> None:
        at = self.tick() - timedelta(days=1 if late else 0)
        _, asked = questions(self.fresh(), at=at)
        given = {each.key: Given(answer="ok") for each in asked}
        given[item] = Given(answer=answer, word="" if answer == "ok" else "seen")
        who: dict[str, Any] = {"by_name": "Ola"} if label else {"by": self.who(Role.OPERATOR)}
        made = record_check(machine=self.machine, answers=given, at=at, received_at=self.now, **who)
        if answer == "wrong":
            self.note_new()
        if made.mark == "passed":
            self.passed_at = max(self.passed_at, at)
        level = next(each.level for each in asked if each.key == item)
        if answer == "could not check" and level != "decide":
            self.wants_check(at)

    @rule(
        key=st.sampled_from(["cable", "belt_guard", "tilt_lock", "clean_enough"]),
        answer=_answers,
        part=st.sampled_from(["look-over", "inspection"]),
        isolated=st.booleans(),
        late=st.booleans(),
    )
    def look_over(self, key: str, answer: str, part: str, isolated: bool, late: bool) -> None:
        at = self.tick() - timedelta(days=1 if late else 0)
        by = self.who(Role.FOREMAN)
        told = {each.key: Told(answer="ok") for each in points(self.fresh(), part, at=at)[1]}
        told[key] = Told(answer=answer, word="" if answer == "ok" else "seen")
        may, sealed = part == "look-over" or isolated, Record.objects.count()
        try:
            made = record_inspection(
                machine=self.machine, kind=part, told=told, at=at, received_at=self.now, by=by,
                isolated_at=at if isolated else None,
            )  # fmt: skip
        except Refused:
            assert not may
            assert Record.objects.count() == sealed
            return
        assert may, "isolated points were kept without isolation"
        if answer == "wrong":
            self.note_new()
        if made.mark == "passed":
            self.passed_at = max(self.passed_at, at)
            self.looked_at = at if self.looked_at is None else max(self.looked_at, at)
        if answer == "could not check" and key != "clean_enough":
            self.wants_look(at)

    @rule()
    def stop(self) -> None:
        stop_machine(machine=self.machine, told="odd smell", at=self.tick(), by_name="Ola")
        self.note_new()

    @precondition(lambda self: self.failed)
    @rule(data=st.data(), days=st.sampled_from([None, 0, 1, 20]))
    def decide(self, data: Any, days: int | None) -> None:
        pk = data.draw(st.sampled_from(sorted(self.failed)))
        at = self.tick()
        until = None if days is None else at.date() + timedelta(days=days)
        try:
            decide_stop(
                stop=Stop.objects.get(pk=pk), carry_on_until=until, reason="seen and judged",
                answer="Seen, it may go on.",
                at=at, by=self.who(Role.FOREMAN),
            )  # fmt: skip
        except Refused:
            assert until is not None
            assert Stop.objects.get(pk=pk).always
            return
        self.failed[pk] = until

    @rule(data=st.data())
    def work(self, data: Any) -> None:
        jobs = list(Job.objects.open())
        if not jobs:
            return
        job = data.draw(st.sampled_from(jobs))
        by = self.who(Role.FITTER)
        try:
            if job.state != Job.State.UNDER_WAY:
                confirmed = [key for key, _ in ISOLATED]
                start_job(job=job, confirmed=confirmed, at=self.tick(), by=by)
            finish_job(job=job, **WORK, at=self.tick(), by=by)
        except Refused:
            return

    @precondition(lambda self: self.failed)
    @rule(data=st.data(), well=st.booleans())
    def release(self, data: Any, well: bool) -> None:
        picked = data.draw(st.sets(st.sampled_from(sorted(self.failed)), min_size=1))
        looks = {key: "right" for key, _ in LOOKS} | ({} if well else {"runs": "not right"})
        at = self.tick()
        try:
            release_machine(
                machine=self.machine, frees=list(Stop.objects.filter(pk__in=picked)),
                looks=looks, at=at, by=self.who(Role.FOREMAN),
            )  # fmt: skip
        except Refused:
            return
        assert well
        for pk in picked:
            del self.failed[pk]
        self.passed_at = max(self.passed_at, at)

    @rule(role=st.sampled_from([Role.DESK, Role.FOREMAN, Role.MANAGER]), twice=st.booleans())
    def issue(self, role: Role, twice: bool) -> None:
        before, at, number = self.fresh().place, self.tick(), new_id()
        stopped = self.stops()
        waits = self.waits_for_a_look() or self.look_over_is_past()
        sealed = Record.objects.count()
        try:
            for _ in range(2 if twice else 1):
                issue(
                    machine=self.machine, going=self.going(5), at=at, by=self.who(role),
                    note_shown=True, passport=True, record_id=number,
                )  # fmt: skip
        except Refused:
            assert self.fresh().place == before
            if before == Place.YARD:
                assert stopped or waits
                assert Record.objects.count() == sealed + 1, "the attempt is on record"
            return
        assert before == Place.YARD
        assert not stopped, "a stopped machine was issued"
        assert not waits, "a machine that waits for a look was issued"
        assert Record.objects.count() == sealed + 1

    @rule()
    def pass_on(self) -> None:
        before, at, stopped = self.fresh().place, self.tick(), self.stops()
        try:
            pass_on(
                machine=self.machine, going=self.going(9), taken_by="Ola", at=at,
                by=self.who(Role.DESK), note_shown=True,
            )  # fmt: skip
        except Refused:
            assert before != Place.OUT or stopped
            return
        assert before == Place.OUT
        assert not stopped, "a stopped machine was passed on"
        self.wants_check(at)

    @rule()
    def take_back(self) -> None:
        at = self.tick()
        try:
            take_back(machine=self.machine, at=at, by=self.who(Role.DESK))
        except Refused:
            return
        self.wants_look(at)

    @rule(act=st.sampled_from(["to_workshop", "to_yard", "lay_up", "bring_back", "found"]))
    def plain(self, act: str) -> None:
        at = self.tick()
        try:
            getattr(place, act)(machine=self.machine, at=at, by=self.who(Role.MANAGER))
        except Refused:
            return
        if act not in STAYS_PUT:
            self.wants_look(at)

    @rule()
    def lose(self) -> None:
        try:
            place.report_missing(
                machine=self.machine, reason="not there", at=self.tick(),
                by=self.who(Role.OPERATOR),
            )  # fmt: skip
        except Refused:
            return

    @rule()
    def send(self) -> None:
        try:
            send(machine=self.machine, to=self.other(), at=self.tick(), by=self.who(Role.DESK))
        except Refused:
            return

    @rule(back=st.booleans(), workshop=st.booleans())
    def arrive(self, back: bool, workshop: bool) -> None:
        transfer = Transfer.objects.open().first()
        if transfer is None:
            return
        at = self.tick()
        if back:
            by = self.people[transfer.from_depot_id][Role.DESK]
            turn_back(transfer=transfer, reason="no room", at=at, by=by)
        else:
            by = self.people[transfer.to_depot_id][Role.DESK]
            receive(transfer=transfer, at=at, by=by, workshop=workshop)
        self.wants_look(at)

    @rule()
    def a_week_passes(self) -> None:
        self.now += timedelta(days=7)

    @invariant()
    def the_mark_is_that_of_the_model(self) -> None:
        if not hasattr(self, "failed"):
            return
        machine, on = self.fresh(), self.now.date()
        mark = fitness_of(machine, on).mark
        assert (mark == "Do not use") == self.stops()
        if not self.stops():
            assert (mark == "Not yet passed") == self.waits_for_a_look()
        usable = mark in ("OK to use", "Use, with a note")
        may_go = usable and machine.place == Place.YARD and not self.look_over_is_past()
        assert can_go(machine, on).yes == may_go
        assert set(Stop.objects.standing().values_list("pk", flat=True)) == set(self.failed)

    @invariant()
    def it_is_at_one_place_and_its_papers_say_so(self) -> None:
        if not hasattr(self, "failed"):
            return
        machine = self.fresh()
        assert Stay.objects.open().count() == (1 if machine.place == Place.OUT else 0)
        assert Transfer.objects.open().count() == (1 if machine.place == Place.MOVING else 0)
        last = Move.objects.order_by("pk").last()
        assert last is None or last.to == machine.place

    def teardown(self) -> None:
        if not hasattr(self, "undo"):
            return
        try:
            for depot in self.depots:
                head = Chain.objects.filter(depot=depot).first()
                rows = Record.objects.filter(depot=depot).order_by("seq")
                links = [
                    Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows
                ]
                if head:
                    report = verify(links, head_seq=head.head_seq, head_hash=head.head_hash)
                    assert report.what == ""
        finally:
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)


@pytest.mark.usefixtures("rule_sheet")
def test_no_sequence_lets_an_unreleased_failure_be_used_or_go_out() -> None:
    run_state_machine_as_test(
        TwoDepots,
        settings=settings(
            max_examples=40,
            stateful_step_count=30,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
