"""Due dates follow from what is known, and never from the order in which it was heard."""

from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from maintenance.actions.dial import change_meter
from maintenance.actions.due import correct_done, put_off, rework, rework_old
from maintenance.actions.job import open_job
from maintenance.actions.meter import accept_meter, record_meter
from maintenance.actions.plan import give_plans, raise_due_work, record_done
from maintenance.actions.signing import locked
from maintenance.models import Completion, DueLine, Job, MeterReading, PlanLine, UseRate
from maintenance.rules import due as due_rule
from make import MONDAY, make_depot, make_kind, make_machine, make_user, set_hours
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Place, Record, Role, User
from plant.rights import NotAllowed

START = MONDAY.date()
REASON = "The part comes on Friday."


@pytest.fixture
def depot(db: None) -> Depot:
    return make_depot()


@pytest.fixture
def foreman(depot: Depot) -> User:
    return make_user("Freya Foreman", (depot, Role.FOREMAN))


@pytest.fixture
def fitter(depot: Depot) -> User:
    return make_user("Finn Fitter", (depot, Role.FITTER))


@pytest.fixture
def machine(depot: Depot) -> Machine:
    return make_machine(depot, "MX-203", hours_at=MONDAY, place=Place.OUT)


def line(machine: Machine, key: str = "grease", **more: object) -> DueLine:
    given = {"title": key.title(), "source": "made up", "trust": "test"} | more
    PlanLine.objects.create(kind=machine.kind, key=key, **given)
    give_plans([Machine.objects.select_related("kind", "depot").get(pk=machine.pk)], at=MONDAY)
    return DueLine.objects.get(line__key=key)


def read(machine: Machine, days: float, tenths: int, by: User) -> MeterReading:
    return record_meter(
        machine=machine, dial_tenths=tenths, typed="x", at=MONDAY + timedelta(days=days), by=by,
        confirmed=True,
    )  # fmt: skip


def test_readings_give_the_hours_an_earliest_a_likely_and_a_latest_day(
    machine: Machine, fitter: User
) -> None:
    """Six hours a day from 100.0 h: 250.0 h is 25 days on, and with three figures from half to
    double that rate."""
    service = line(machine, every_tenths=1500)
    for days, tenths in ((2, 1120), (4, 1240), (6, 1360)):
        read(machine, days, tenths, fitter)

    service.refresh_from_db()
    assert service.likely_on == START + timedelta(days=25)
    # Half to double of 6 h a day from 136.0 h on the 8th: 9.5 and 38 days for the 114 h left.
    assert (service.early_on, service.late_on) == (date(2026, 3, 17), date(2026, 4, 15))
    assert not service.is_estimate
    rate = UseRate.objects.get()
    assert (rate.basis, rate.readings) == (UseRate.Basis.READINGS, 3)
    assert rate.likely == pytest.approx(6.0)


def test_without_a_meter_the_days_out_give_an_estimate_that_is_called_one(depot: Depot) -> None:
    """Out every day at 4 h a day out: 50 h are up 12 days after the start."""
    machine = make_machine(depot, hours_tenths=None, place=Place.OUT, added_at=MONDAY)
    service = line(machine, every_tenths=500, notice_days=3)
    with transaction.atomic():
        rework(locked(machine), at=MONDAY + timedelta(days=1))

    service.refresh_from_db()
    assert service.is_estimate
    assert (service.due_on, service.due_tenths) == (None, None)
    assert service.likely_on == START + timedelta(days=12)
    assert raise_due_work(depot=depot, at=MONDAY + timedelta(days=8)) == 0
    assert raise_due_work(depot=depot, at=MONDAY + timedelta(days=9)) == 1


def test_an_estimate_never_makes_anything_overdue(depot: Depot) -> None:
    machine = make_machine(depot, hours_tenths=None, place=Place.OUT, added_at=MONDAY)
    service = line(machine, every_tenths=500)
    with transaction.atomic():
        rework(locked(machine), at=MONDAY)

    on = START + timedelta(days=300)
    assert not DueLine.objects.past(on).exists()
    service.refresh_from_db()
    assert DueLine.objects.announced(on).exists()


def test_a_late_figure_moves_the_hours_of_work_done_before_it(
    machine: Machine, fitter: User
) -> None:
    """Done on day 8 without a figure: first 140.0 h of day 20 alone are known, then those of day 7.

    Evenly from 100.0 h: 16.0 h in 8 days of 20; then 1.9 h in 1 day of 13 from 115.0 h.
    """
    service = line(machine, every_tenths=500)
    read(machine, 20, 1400, fitter)
    record_done(due_line=service, on=START + timedelta(days=8), tenths=None, at=MONDAY)
    assert DueLine.objects.get().due_tenths == 1160 + 500

    read(machine, 7, 1150, fitter)

    assert DueLine.objects.get().due_tenths == 1169 + 500


def test_putting_off_moves_the_day_and_stands_on_the_record(
    machine: Machine, foreman: User
) -> None:
    service = line(machine, every_days=100)
    due_on = service.due_on
    assert due_on is not None
    at = MONDAY + timedelta(days=101)
    assert DueLine.objects.past(at.date()).exists()

    made = put_off(
        due_line=service, to=due_on + timedelta(days=7), reason=REASON, at=at, by=foreman
    )

    assert not DueLine.objects.past(at.date()).exists()
    assert DueLine.objects.past(due_on + timedelta(days=8)).exists()
    service.refresh_from_db()
    assert service.due_on == due_on, "the day it is due stays as it is"
    assert made.record.kind == Record.Kind.PUT_OFF
    assert made.record.texts.get(name="reason").text == REASON


def test_the_next_cycle_is_not_put_off(machine: Machine, foreman: User) -> None:
    service = line(machine, every_days=100)
    assert service.due_on is not None
    put_off(
        due_line=service, to=service.due_on + timedelta(days=7), reason=REASON, at=MONDAY,
        by=foreman,
    )  # fmt: skip
    record_done(due_line=service, on=date(2026, 6, 1), tenths=None, at=MONDAY)

    service.refresh_from_db()
    assert service.put_off_to is None
    assert service.past_after == service.due_on == date(2026, 9, 9)


def test_a_safety_test_of_a_machine_in_use_is_not_put_off(machine: Machine, foreman: User) -> None:
    service = line(machine, every_days=100, is_test=True)
    assert service.due_on is not None

    with pytest.raises(Refused, match="cannot be put off for a machine in use"):
        put_off(
            due_line=service, to=service.due_on + timedelta(days=2), reason=REASON, at=MONDAY,
            by=foreman,
        )  # fmt: skip
    assert not Record.objects.filter(kind=Record.Kind.PUT_OFF).exists()


def test_a_test_put_off_in_store_still_keeps_the_machine_in(depot: Depot, foreman: User) -> None:
    machine = make_machine(depot, hours_at=MONDAY, place=Place.YARD)
    service = line(machine, every_days=100, is_test=True)
    assert service.due_on is not None
    put_off(
        due_line=service, to=service.due_on + timedelta(days=9), reason=REASON, at=MONDAY,
        by=foreman,
    )  # fmt: skip

    assert DueLine.objects.past(service.due_on + timedelta(days=1)).exists()


@pytest.mark.parametrize(("days", "words"), [(11, "at most"), (0, "must be after")])
def test_putting_off_has_a_limit(machine: Machine, foreman: User, days: int, words: str) -> None:
    service = line(machine, every_days=100)
    assert service.due_on is not None

    with pytest.raises(Refused, match=words):
        put_off(
            due_line=service, to=service.due_on + timedelta(days=days), reason=REASON, at=MONDAY,
            by=foreman,
        )  # fmt: skip


def test_a_fitter_puts_nothing_off(machine: Machine, fitter: User) -> None:
    service = line(machine, every_days=100)

    with pytest.raises(NotAllowed):
        put_off(due_line=service, to=date(2026, 6, 12), reason=REASON, at=MONDAY, by=fitter)


def test_a_correction_moves_the_line_as_if_it_had_been_told_right(
    machine: Machine, foreman: User
) -> None:
    service = line(machine, every_months=3)
    wrong = record_done(due_line=service, on=date(2026, 6, 30), tenths=None, at=MONDAY)

    correct_done(
        completion=wrong, on=date(2026, 6, 3), reason="Written down on the wrong line.",
        at=MONDAY + timedelta(days=200), by=foreman,
    )  # fmt: skip

    service.refresh_from_db()
    assert (service.due_on, service.cycle) == (date(2026, 9, 3), 2)
    assert Completion.objects.count() == 2, "what was told first is still there"


def test_struck_out_work_was_never_done(machine: Machine, foreman: User) -> None:
    small = line(machine, "small", every_months=1, level=1)
    big = line(machine, "big", every_months=3, level=2)
    before = dict(DueLine.objects.values_list("line__key", "due_on"))
    done = record_done(due_line=big, on=date(2026, 5, 1), tenths=None, at=MONDAY)
    small.refresh_from_db()
    assert small.last_done_on == date(2026, 5, 1)

    correct_done(
        completion=done, on=None, reason="It was another machine.", at=MONDAY + timedelta(days=90),
        by=foreman,
    )  # fmt: skip

    assert dict(DueLine.objects.values_list("line__key", "due_on")) == before


def test_a_raised_job_goes_when_late_paper_says_it_was_done(machine: Machine) -> None:
    service = line(machine, every_months=3)
    raise_due_work(depot=machine.depot, at=datetime(2026, 6, 2, 9, tzinfo=UTC))

    record_done(
        due_line=service, on=date(2026, 5, 20), tenths=None,
        at=datetime(2026, 6, 3, 9, tzinfo=UTC),
    )  # fmt: skip

    job = Job.objects.get()
    assert job.state == Job.State.CALLED_OFF
    assert job.called_off_because == "Done already, on 20 May 2026."


def test_older_paper_leaves_the_raised_job_as_it_is(machine: Machine) -> None:
    service = line(machine, every_months=3)
    record_done(due_line=service, on=date(2026, 6, 1), tenths=None, at=MONDAY)
    later = datetime(2026, 9, 2, 9, tzinfo=UTC)
    raise_due_work(depot=machine.depot, at=later)

    record_done(due_line=service, on=date(2026, 4, 1), tenths=None, at=later)

    assert raise_due_work(depot=machine.depot, at=later) == 0
    job = Job.objects.get()
    assert (job.state, job.cycle, job.due_on) == (Job.State.LOOKED_AT, 3, date(2026, 9, 1))


def test_closing_the_same_job_twice_counts_once(machine: Machine, fitter: User) -> None:
    service = line(machine, every_months=3)
    job = open_job(
        machine=machine, kind=Job.Kind.SERVICE, title="Grease", at=MONDAY, by=fitter,
        due_line=service,
    )  # fmt: skip
    for _ in range(2):
        record_done(due_line=service, on=START, tenths=None, at=MONDAY, job=job)

    assert Completion.objects.count() == 1


def test_working_out_a_machine_takes_the_same_queries_whatever_its_history(
    machine: Machine, fitter: User
) -> None:
    for key in ("a", "b", "c"):
        line(machine, key, every_tenths=500)
    counts = []
    for _ in range(2):
        for n in range(5):
            read(machine, n + 1, 1000 + n, fitter)
            record_done(due_line=DueLine.objects.first(), on=START, tenths=None, at=MONDAY)
        with transaction.atomic(), CaptureQueriesContext(connection) as queries:
            rework(locked(machine), at=MONDAY)
        counts.append(len(queries))

    assert counts[0] == counts[1]


def test_a_changed_meter_moves_no_due_figure(machine: Machine, fitter: User) -> None:
    service = line(machine, every_tenths=1500)
    read(machine, 10, 1400, fitter)
    change_meter(
        machine=machine, dial_tenths=0, typed="0.0", at=MONDAY + timedelta(days=11), by=fitter,
        reason="Dead", blind_tenths=20,
    )  # fmt: skip

    service.refresh_from_db()
    assert (service.due_tenths, service.hours_past) == (2500, False)
    set_hours(machine, 2501, at=MONDAY + timedelta(days=90))
    service.refresh_from_db()
    assert service.hours_past


def test_a_new_version_of_a_plan_begins_on_its_day_and_not_before(machine: Machine) -> None:
    service = line(machine, every_months=3)
    PlanLine.objects.create(
        kind=machine.kind, key="grease", title="Grease, new", every_months=2,
        from_on=date(2026, 4, 1), source="made up", trust="test",
    )  # fmt: skip
    due = []
    for on in (date(2026, 3, 31), date(2026, 4, 1)):
        rework_old(at=datetime.combine(on, time(9), tzinfo=UTC))
        service.refresh_from_db()
        due.append((service.line.title, service.due_on))

    assert due == [("Grease", date(2026, 6, 2)), ("Grease, new", date(2026, 5, 2))]
    assert give_plans([machine], at=MONDAY + timedelta(days=60)) == 0, "not given beside the old"
    assert DueLine.objects.count() == 1


NEWS = st.lists(
    st.tuples(
        st.sampled_from(("read", "done", "put off", "job")),
        st.integers(0, 3),
        st.integers(1, 300),
    ),
    max_size=25,
)


@pytest.mark.django_db
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(news=NEWS)
def test_many_machines_are_worked_out_as_each_alone_would_be(
    news: list[tuple[str, int, int]],
) -> None:
    with transaction.atomic():
        yards = [make_depot("block"), make_depot("other", time_zone="Pacific/Auckland")]
        by = make_user("Freya", *((yard, Role.FOREMAN) for yard in yards))
        kind = make_kind("block_kind", belt_driven=True)
        for key, more in (
            ("hours", {"every_tenths": 700}),
            ("both", {"every_tenths": 2000, "every_months": 2, "level": 2}),
            ("small", {"every_days": 20, "counts_from": "planned", "level": 1}),
        ):
            PlanLine.objects.create(
                kind=kind, key=key, title=key.title(), source="made up", trust="test", **more
            )
        machines = [
            make_machine(
                yards[n // 2], kind=kind, place=Place.OUT if n % 2 else Place.YARD,
                added_at=MONDAY, **({"hours_tenths": None} if n == 1 else {"hours_at": MONDAY}),
            )
            for n in range(4)
        ]  # fmt: skip
        give_plans(Machine.objects.select_related("kind", "depot"), at=MONDAY)
        at = MONDAY + timedelta(days=301)
        for what, which, day in news:
            machine = machines[which]
            due_line = DueLine.objects.get(machine=machine, line__key=("both", "small")[day % 2])
            if what == "read" and which != 1:
                read(machine, day, 1000 + day * 7, by)
            elif what == "done":
                on = START + timedelta(days=day)
                record_done(due_line=due_line, on=on, tenths=None, at=at)
            elif what == "put off":
                with suppress(Refused):
                    put_off(
                        due_line=due_line, to=(due_line.due_on or START) + timedelta(days=2),
                        reason=REASON, at=at, by=by,
                    )  # fmt: skip
            elif what == "job":
                for yard in yards:
                    raise_due_work(depot=yard, at=MONDAY + timedelta(days=day))
        for machine in machines:
            rework(locked(machine), at=at)
        alone = everything_worked_out()
        assert len(alone[0]) == 12

        DueLine.objects.update(
            due_on=None, due_tenths=1, cycle=9, plan_on=START, hours_past=True,
            worked_out_at=at - timedelta(days=2),
        )  # fmt: skip
        UseRate.objects.update(likely=0.1, basis="readings")
        assert rework_old(at=at) == 4

        assert everything_worked_out() == alone
        transaction.set_rollback(True)


def everything_worked_out() -> tuple[list[dict[str, object]], ...]:
    rows = (DueLine.objects.order_by("pk"), UseRate.objects.order_by("pk"), Job.objects)
    return tuple(list(each.values()) for each in rows)


class AnyOrder(RuleBasedStateMachine):
    """Readings, closings, corrections and putting off, in any order and with any dates."""

    @initialize(rules=st.data())
    def begin(self, rules: st.DataObject) -> None:
        self.undo = transaction.atomic()
        self.undo.__enter__()
        depot = make_depot("order")
        self.by = make_user("Freya", (depot, Role.FOREMAN))
        kind = make_kind("order_kind", belt_driven=True)
        self.machine = make_machine(depot, kind=kind, hours_at=MONDAY, place=Place.OUT)
        for key, more in (
            ("hours", {"every_tenths": rules.draw(st.integers(100, 3000))}),
            ("months", {"every_months": rules.draw(st.integers(1, 12)), "level": 1}),
            ("both", {"every_tenths": 2000, "every_months": 6, "first_months": 1, "level": 2}),
            ("grid", {"every_days": rules.draw(st.integers(1, 90)), "counts_from": "planned"}),
        ):
            PlanLine.objects.create(
                kind=kind, key=key, title=key.title(), source="made up", trust="test", **more
            )
        give_plans([self.machine], at=MONDAY)
        self.done: list[Completion] = []

    @rule(day=st.integers(0, 400), tenths=st.integers(900, 9000))
    def read(self, day: int, tenths: int) -> None:
        read(self.machine, day, tenths, self.by)

    @rule()
    def accept(self) -> None:
        waiting = MeterReading.objects.filter(meter__machine=self.machine).exclude(questioned="")
        if reading := waiting.order_by("-pk").first():
            with suppress(Refused):
                accept_meter(reading=reading, reason="Right.", at=MONDAY, by=self.by)

    @rule(day=st.integers(0, 400), key=st.sampled_from(["hours", "months", "both", "grid"]))
    def close(self, day: int, key: str) -> None:
        due_line = DueLine.objects.get(machine=self.machine, line__key=key)
        on = START + timedelta(days=day)
        self.done.append(record_done(due_line=due_line, on=on, tenths=None, at=MONDAY))

    @rule(day=st.one_of(st.none(), st.integers(0, 400)), which=st.integers(0, 9))
    def correct(self, day: int | None, which: int) -> None:
        if self.done:
            completion = self.done.pop(which % len(self.done))
            on = None if day is None else START + timedelta(days=day)
            correct_done(
                completion=completion, on=on, reason="Told wrongly before.",
                at=MONDAY + timedelta(days=500), by=self.by,
            )  # fmt: skip
            again = Completion.objects.counting().filter(
                due_line=completion.due_line, included_in=None
            )
            known = {each.pk for each in self.done}
            self.done += [each for each in again if each.pk not in known]

    @rule(days=st.integers(1, 14), key=st.sampled_from(["hours", "months", "both", "grid"]))
    def put_off(self, days: int, key: str) -> None:
        due_line = DueLine.objects.get(machine=self.machine, line__key=key)
        with suppress(Refused):
            put_off(
                due_line=due_line, to=(due_line.due_on or START) + timedelta(days=days),
                reason=REASON, at=MONDAY, by=self.by,
            )  # fmt: skip

    def teardown(self) -> None:
        if hasattr(self, "undo"):
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)

    @invariant()
    def every_line_is_as_worked_out_from_scratch(self) -> None:
        if not hasattr(self, "machine"):
            return
        machine = Machine.objects.get(pk=self.machine.pk)
        figures = sorted(
            MeterReading.objects.counting()
            .filter(meter__machine=machine)
            .values_list("at", "total_tenths")
        )
        for due_line in DueLine.objects.filter(machine=machine).select_related("line"):
            done = sorted(
                (each.on, hours_on(each.on, figures))
                for each in due_line.completions.filter(struck_by=None)
            )
            expected = due_rule.next_due(
                due_line.line.rule, start_on=START, start_tenths=1000, done=tuple(done),
                notice_days=due_line.line.notice_days, notice_tenths=due_line.line.notice_tenths,
            )  # fmt: skip
            assert (due_line.due_on, due_line.due_tenths) == (expected.on, expected.tenths)
            assert due_line.cycle == len(done) + 1
            hours = machine.hours_tenths or 0
            put = due_line.put_off_to is not None
            past = not put and due_line.due_tenths is not None and hours > due_line.due_tenths
            assert due_line.hours_past == past


def hours_on(on: date, figures: list[tuple[datetime, int]]) -> int:
    """Evenly between the figures that counted; 100.0 h were in the register at the start."""
    by_day = {START.toordinal(): 1000}
    for at, figure in figures:
        day = at.date().toordinal()
        by_day[day] = max(figure, by_day.get(day, 0))
    never_falls = np.maximum.accumulate([by_day[day] for day in sorted(by_day)])
    return int(np.floor(np.interp(on.toordinal(), sorted(by_day), never_falls) + 1e-6))


@pytest.mark.django_db
def test_no_order_of_news_changes_when_a_line_is_due() -> None:
    run_state_machine_as_test(
        AnyOrder,
        settings=settings(
            max_examples=40,
            stateful_step_count=30,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
