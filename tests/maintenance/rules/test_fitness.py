"""May it be used: no order of news ever leaves an unreleased failure usable."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule

from maintenance.rules.fitness import (
    DO_NOT_USE,
    MARKS,
    NOT_YET_PASSED,
    OK_TO_USE,
    WITH_A_NOTE,
    Correction,
    Decision,
    Event,
    Failure,
    LookWanted,
    Passed,
    Release,
    Stop,
    Wants,
    carry_on_refusal,
    fitness_of,
    fold,
    looks,
    may_be_used,
    may_carry_on,
)

DAY = date(2026, 5, 4)
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def at(minutes: int) -> datetime:
    return NOON + timedelta(minutes=minutes)


def used(
    *stops: Stop,
    look: datetime | None = None,
    looked: datetime | None = None,
    check: datetime | None = None,
    passed: datetime | None = NOON,
) -> Any:
    wants = Wants(look_wanted_at=look, looked_at=looked, check_wanted_at=check, passed_at=passed)
    return may_be_used(stops=stops, wants=wants, on=DAY)


STOPPED = Stop(kind="stop", critical=False, reason="guard loose")
WAITING = Stop(kind="undecided", critical=False, reason="wheel flat")
NOTED = Stop(kind="carry on", critical=False, until=DAY, reason="lamp cracked")


def test_marks_rank_from_the_gravest() -> None:
    assert MARKS == ("Do not use", "Not yet passed", "Use, with a note", "OK to use")
    assert used().mark == OK_TO_USE
    assert used(NOTED).mark == WITH_A_NOTE
    assert used(NOTED, look=at(1)).mark == NOT_YET_PASSED
    assert used(NOTED, STOPPED, look=at(1)).mark == DO_NOT_USE
    assert used(WAITING).mark == DO_NOT_USE


def test_every_reason_is_given_the_gravest_first() -> None:
    assert used(NOTED, WAITING, STOPPED, passed=None).reasons == (
        "Waiting for a decision: wheel flat",
        "Stopped: guard loose",
        "No check has been passed yet",
        "Carry on until 4 May 2026: lamp cracked",
    )


def test_a_note_stands_on_its_last_day_and_stops_the_next() -> None:
    ended = may_be_used(stops=[NOTED], wants=Wants(passed_at=NOON), on=DAY + timedelta(days=1))

    assert used(NOTED).mark == WITH_A_NOTE
    assert ended.mark == DO_NOT_USE
    assert ended.reasons == ("The note ended on 4 May 2026: lamp cracked",)


def test_a_new_machine_is_not_yet_passed() -> None:
    assert used(passed=None).mark == NOT_YET_PASSED


def test_a_check_that_is_wanted_is_met_by_a_later_pass_only() -> None:
    assert used(check=at(0), passed=at(1)).mark == OK_TO_USE
    assert used(check=at(0), passed=at(0)).mark == NOT_YET_PASSED
    assert used(check=at(0), passed=at(-1)).mark == NOT_YET_PASSED


def test_a_first_look_is_met_by_a_competent_persons_later_look_over_only() -> None:
    for looked in (None, at(-1), at(0)):
        checked = used(look=at(0), looked=looked, passed=at(9))
        assert checked.mark == NOT_YET_PASSED
        assert checked.reasons == ("Checked. It still needs a first look by a competent person",)
    unchecked = used(look=at(0), passed=at(0))
    assert unchecked.reasons == ("A first look by a competent person is needed before use",)

    assert used(look=at(0), looked=at(1), passed=at(1)).mark == OK_TO_USE


def test_a_look_over_does_not_stand_in_for_a_check_that_was_wanted_later() -> None:
    assert used(look=at(0), looked=at(1), check=at(2), passed=at(1)).mark == NOT_YET_PASSED


def test_a_note_on_an_always_critical_fault_counts_for_nothing() -> None:
    assert used(Stop(kind="carry on", critical=True, until=DAY)).mark == DO_NOT_USE


@pytest.mark.parametrize(
    ("kind", "until"), [("carry on", None), ("stop", DAY), ("undecided", DAY), ("parked", None)]
)
def test_a_stop_that_makes_no_sense_is_refused(kind: Any, until: date | None) -> None:
    with pytest.raises(ValueError, match=r"kind is stop|has a last day"):
        Stop(kind=kind, critical=False, until=until)


def test_nobody_may_carry_on_with_an_always_critical_fault() -> None:
    critical = Stop(kind="stop", critical=True)

    assert "always critical" in may_carry_on(critical)
    assert may_carry_on(STOPPED) == ""
    reason = "spare is coming"
    assert "always critical" in carry_on_refusal(critical, on=DAY, until=DAY, reason=reason)
    assert carry_on_refusal(STOPPED, on=DAY, until=DAY, reason=reason) == ""
    assert "last day" in carry_on_refusal(STOPPED, on=DAY, until=None, reason=reason)
    past, far = DAY - timedelta(days=1), DAY + timedelta(days=91)
    assert "or later" in carry_on_refusal(STOPPED, on=DAY, until=past, reason=reason)
    assert "90 days" in carry_on_refusal(STOPPED, on=DAY, until=far, reason=reason)
    assert "reason" in carry_on_refusal(STOPPED, on=DAY, until=DAY, reason="ok")


FAILED = Failure(id="f1", at=at(0), critical=False, by="ann", reason="guard loose")


def test_a_pass_frees_nothing() -> None:
    assert fitness_of([FAILED, Passed(id="p1", at=at(9))], on=DAY).mark == DO_NOT_USE


def test_a_release_frees_what_it_names_and_nothing_else() -> None:
    other = Failure(id="f2", at=at(5), critical=True, by="ann")
    released = Release(id="r1", at=at(9), frees=frozenset({"f1"}))

    assert [stop.id for stop in fold([FAILED, other, released])] == ["f2"]


def test_a_late_failure_is_a_stop_unless_a_release_names_it() -> None:
    passed = Passed(id="p1", at=at(30))
    unrelated = Release(id="r1", at=at(40), frees=frozenset({"f9"}))
    naming = Release(id="r2", at=at(50), frees=frozenset({"f1"}))

    assert fitness_of([passed, unrelated, FAILED], on=DAY).mark == DO_NOT_USE
    assert fitness_of([passed, unrelated, naming, FAILED], on=DAY).mark == OK_TO_USE


def test_the_latest_decision_counts_and_stop_outranks_carry_on() -> None:
    carry = Decision(id="d1", at=at(1), failure="f1", carry_on_until=DAY)
    halt = Decision(id="d2", at=at(2), failure="f1", carry_on_until=None)
    same_time = Decision(id="d3", at=at(1), failure="f1", carry_on_until=None)

    assert fold([FAILED, carry])[0].kind == "carry on"
    assert fold([FAILED, halt, carry])[0].kind == "stop"
    assert fold([FAILED, same_time, carry])[0].kind == "stop"


def test_a_decision_to_carry_on_leaves_an_always_critical_failure_a_stop() -> None:
    critical = Failure(id="f1", at=at(0), critical=True, by="ann", decided=False)
    carry = Decision(id="d1", at=at(1), failure="f1", carry_on_until=DAY)

    assert [stop.kind for stop in fold([carry, critical])] == ["stop"]


def test_of_two_notes_given_at_once_the_shorter_counts() -> None:
    days = [DAY + timedelta(days=n) for n in (9, 3)]
    notes = [
        Decision(id=f"d{n}", at=at(1), failure="f1", carry_on_until=day)
        for n, day in enumerate(days)
    ]

    assert fold([FAILED, *notes])[0].until == days[1]


def test_wrong_on_an_ordinary_item_waits_for_a_decision() -> None:
    waiting = Failure(id="f1", at=at(0), critical=False, by="ann", decided=False)

    assert fold([waiting])[0].kind == "undecided"


def test_a_failure_is_corrected_by_a_second_person_only() -> None:
    own = Correction(id="c1", at=at(5), failure="f1", by="ann")
    second = Correction(id="c2", at=at(5), failure="f1", by="bob")

    assert [stop.id for stop in fold([own, FAILED])] == ["f1"]
    assert fold([second, own, FAILED]) == ()


def test_two_events_cannot_share_an_id() -> None:
    twin = Failure(id="f1", at=at(0), critical=True, by="ann")

    with pytest.raises(ValueError, match="share the id f1"):
        fold([FAILED, twin])
    assert len(fold([FAILED, FAILED])) == 1


def test_the_last_look_and_the_last_pass_are_found_in_any_order() -> None:
    events: list[Event] = [
        LookWanted(id="l2", at=at(5)),
        LookWanted(id="l1", at=at(1)),
        LookWanted(id="l3", at=at(9), competent=False),
        Passed(id="p1", at=at(7)),
        Passed(id="p2", at=at(2), competent=True),
    ]

    assert looks(events) == Wants(
        look_wanted_at=at(5), looked_at=at(2), check_wanted_at=at(9), passed_at=at(7)
    )
    assert looks([]) == Wants()


EVENTS: st.SearchStrategy[Event] = st.one_of(
    st.builds(
        Failure,
        id=st.sampled_from(["f1", "f2", "f3"]),
        at=st.just(NOON),
        critical=st.just(False),
        by=st.just("ann"),
    ),
    st.builds(
        Decision,
        id=st.uuids().map(str),
        at=st.integers(0, 3).map(at),
        failure=st.sampled_from(["f1", "f2", "f3"]),
        carry_on_until=st.none() | st.integers(0, 3).map(lambda n: DAY + timedelta(days=n)),
    ),
    st.builds(
        Release,
        id=st.uuids().map(str),
        at=st.integers(0, 3).map(at),
        frees=st.frozensets(st.sampled_from(["f1", "f2", "f3"])),
    ),
    *(
        st.builds(
            kind, id=st.uuids().map(str), at=st.integers(0, 3).map(at), competent=st.booleans()
        )
        for kind in (LookWanted, Passed)
    ),
)


@given(events=st.lists(EVENTS, max_size=15), data=st.data())
def test_the_order_of_arrival_and_repeats_make_no_difference(
    events: list[Event], data: st.DataObject
) -> None:
    repeats = data.draw(st.lists(st.sampled_from(events)) if events else st.just([]))
    shuffled = data.draw(st.permutations(events + repeats))

    assert fitness_of(shuffled, on=DAY) == fitness_of(events, on=DAY)
    assert fold(shuffled) == fold(events)


class NewsInAnyOrder(RuleBasedStateMachine):
    """Things happen, and the news of them arrives late, out of order and more than once.

    Beside the events the machine keeps plain sets of what was heard, and works out from those
    alone what must never be usable.
    """

    failures = Bundle("failures")

    @initialize()
    def begin(self) -> None:
        self.number = 0
        self.sent: list[Event] = []
        self.heard: list[Event] = []
        self.on = DAY
        self.facts: dict[str, tuple[bool, str]] = {}
        self.heard_failures: set[str] = set()
        self.named: set[str] = set()
        self.corrected: dict[str, set[str]] = {}
        self.carried: dict[str, list[date]] = {}
        self.wanted: dict[bool, set[datetime]] = {True: set(), False: set()}
        self.passed: dict[bool, set[datetime]] = {True: set(), False: set()}

    def send(self, event: Event, *, now: bool) -> None:
        self.sent.append(event)
        if now:
            self.hear(event)

    def hear(self, event: Event) -> None:
        self.heard.append(event)
        if isinstance(event, Failure):
            self.heard_failures.add(event.id)
        elif isinstance(event, Release):
            self.named |= event.frees
        elif isinstance(event, Correction):
            self.corrected.setdefault(event.failure, set()).add(event.by)
        elif isinstance(event, LookWanted):
            self.wanted[event.competent].add(event.at)
        elif isinstance(event, Passed):
            self.passed[event.competent].add(event.at)
        elif isinstance(event, Decision) and event.carry_on_until is not None:
            self.carried.setdefault(event.failure, []).append(event.carry_on_until)

    def new_id(self) -> str:
        self.number += 1
        return f"e{self.number}"

    @rule(
        target=failures,
        minutes=st.integers(0, 90),
        critical=st.booleans(),
        decided=st.booleans(),
        by=st.sampled_from(["ann", "bob"]),
        now=st.booleans(),
    )
    def fail(self, minutes: int, critical: bool, decided: bool, by: str, now: bool) -> str:
        key = self.new_id()
        self.facts[key] = (critical, by)
        self.send(
            Failure(id=key, at=at(minutes), critical=critical, by=by, decided=decided), now=now
        )
        return key

    @rule(failure=failures, minutes=st.integers(0, 90), days=st.integers(0, 5), now=st.booleans())
    def carry_on(self, failure: str, minutes: int, days: int, now: bool) -> None:
        until = self.on + timedelta(days=days)
        self.send(
            Decision(id=self.new_id(), at=at(minutes), failure=failure, carry_on_until=until),
            now=now,
        )

    @rule(failure=failures, minutes=st.integers(0, 90), now=st.booleans())
    def stop(self, failure: str, minutes: int, now: bool) -> None:
        self.send(
            Decision(id=self.new_id(), at=at(minutes), failure=failure, carry_on_until=None),
            now=now,
        )

    @rule(frees=st.lists(failures, min_size=1, max_size=2), minutes=st.integers(0, 90))
    def release(self, frees: list[str], minutes: int) -> None:
        self.send(Release(id=self.new_id(), at=at(minutes), frees=frozenset(frees)), now=False)

    @rule(failure=failures, minutes=st.integers(0, 90), by=st.sampled_from(["ann", "bob"]))
    def correct(self, failure: str, minutes: int, by: str) -> None:
        self.send(Correction(id=self.new_id(), at=at(minutes), failure=failure, by=by), now=True)

    @rule(minutes=st.integers(0, 90), competent=st.booleans(), now=st.booleans())
    def pass_a_check_or_look_over(self, minutes: int, competent: bool, now: bool) -> None:
        self.send(Passed(id=self.new_id(), at=at(minutes), competent=competent), now=now)

    @rule(minutes=st.integers(0, 90), competent=st.booleans())
    def want_a_look(self, minutes: int, competent: bool) -> None:
        self.send(LookWanted(id=self.new_id(), at=at(minutes), competent=competent), now=True)

    @rule(which=st.integers(min_value=0))
    def late_or_repeated_news(self, which: int) -> None:
        if self.sent:
            self.hear(self.sent[which % len(self.sent)])

    @rule()
    def a_day_passes(self) -> None:
        self.on += timedelta(days=1)

    def unreleased(self) -> set[str]:
        return {
            key
            for key in self.heard_failures - self.named
            if not self.corrected.get(key, set()) - {self.facts[key][1]}
        }

    @invariant()
    def an_unreleased_failure_is_never_plainly_usable(self) -> None:
        found = fitness_of(self.heard, on=self.on)
        left = self.unreleased()
        assert {stop.id for stop in fold(self.heard)} == left
        if left:
            assert found.mark != OK_TO_USE
        for key in left:
            notes = [day for day in self.carried.get(key, []) if day >= self.on]
            if self.facts[key][0] or not notes:
                assert found.mark == DO_NOT_USE

    @invariant()
    def a_wish_for_a_competent_look_is_met_by_nothing_less(self) -> None:
        mark = fitness_of(self.heard, on=self.on).mark
        usable = mark in (OK_TO_USE, WITH_A_NOTE)
        if self.wanted[True] and not any(m > max(self.wanted[True]) for m in self.passed[True]):
            assert not usable
        if self.wanted[False] and not any(
            m > max(self.wanted[False]) for m in self.passed[True] | self.passed[False]
        ):
            assert not usable

    @invariant()
    def what_is_freed_is_not_stopped_for_ever(self) -> None:
        if not self.unreleased():
            assert fitness_of(self.heard, on=self.on).mark in (OK_TO_USE, NOT_YET_PASSED)

    @invariant()
    def the_order_heard_makes_no_difference(self) -> None:
        backwards = list(reversed(self.heard))
        assert fitness_of(backwards, on=self.on) == fitness_of(self.heard, on=self.on)


TestNewsInAnyOrder = NewsInAnyOrder.TestCase
TestNewsInAnyOrder.settings = settings(max_examples=500, stateful_step_count=50, deadline=None)
