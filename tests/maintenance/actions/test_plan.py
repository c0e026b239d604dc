"""Plan lines on machines: given, moved on, and raised as work each once."""

from datetime import UTC, date, datetime, timedelta
from threading import Thread

import pytest
from django.db import connections
from django.test.utils import CaptureQueriesContext

from maintenance.actions.plan import give_plans, raise_due_work, record_done
from maintenance.models import DueLine, Job, PlanLine, RuleSheet
from make import MONDAY, make_depot, make_kind, make_machine, set_hours
from plant.models import Depot, Machine, MachineKind, Place


def make_line(kind: MachineKind, key: str = "grease", **more) -> PlanLine:
    given = {"title": key.title(), "every_months": 3, "source": "invented", "trust": "test"}
    return PlanLine.objects.create(kind=kind, key=key, **given | more)


def give(*machines: Machine, at: datetime = MONDAY) -> None:
    give_plans(machines, at=at)


def test_a_machine_gets_the_lines_of_its_kind_that_fit_its_supply(
    depot: Depot, rule_sheet: RuleSheet
) -> None:
    kind = MachineKind.objects.get(key="mixer_electric")
    give(make_machine(depot, kind=kind, supply="e110"))

    keys = set(DueLine.objects.values_list("line__key", flat=True))
    assert "test_110" in keys
    assert "test_230" not in keys


def test_giving_plans_again_adds_nothing(machine: Machine) -> None:
    make_line(machine.kind)
    give(machine)
    give(machine, at=MONDAY + timedelta(days=400))

    assert DueLine.objects.get().due_on == date(2026, 6, 2)


def test_the_newest_version_of_a_line_is_given(machine: Machine) -> None:
    make_line(machine.kind, every_months=3)
    make_line(machine.kind, every_months=6, from_on=date(2026, 1, 1))
    give(machine)

    assert DueLine.objects.get().due_on == date(2026, 9, 2)


def test_hours_and_calendar_both_stand_and_the_notice_comes_before(machine: Machine) -> None:
    make_line(machine.kind, first_tenths=200, every_tenths=1500, every_months=12)
    give(machine)

    due = DueLine.objects.get()
    assert (due.due_tenths, due.due_on) == (1200, date(2027, 3, 2))
    assert (due.raise_tenths, due.raise_on) == (1100, date(2027, 2, 16))


def test_work_is_raised_once_by_its_day_however_often_it_runs(machine: Machine) -> None:
    make_line(machine.kind, notice_days=0)
    give(machine)

    def run(at: datetime) -> int:
        return raise_due_work(depot=machine.depot, at=at)

    assert run(datetime(2026, 6, 1, 12, tzinfo=UTC)) == 0
    assert run(datetime(2026, 6, 2, 12, tzinfo=UTC)) == 1
    assert run(datetime(2026, 6, 2, 12, tzinfo=UTC)) == 0
    assert run(datetime(2026, 9, 9, 12, tzinfo=UTC)) == 0
    job = Job.objects.get()
    assert (job.title, job.kind, job.due_on, job.cycle) == (
        "Grease", "service", date(2026, 6, 2), 1,
    )  # fmt: skip


def test_the_day_is_the_depots_not_the_servers(db: None) -> None:
    far = make_depot("far", time_zone="Pacific/Auckland")
    machine = make_machine(far)
    make_line(machine.kind, notice_days=0)
    give(machine)  # 2 March at 22:00 in Auckland

    assert raise_due_work(depot=far, at=datetime(2026, 6, 1, 11, 59, tzinfo=UTC)) == 0
    assert raise_due_work(depot=far, at=datetime(2026, 6, 1, 12, 1, tzinfo=UTC)) == 1


def test_work_is_raised_by_the_meter_when_that_comes_first(machine: Machine) -> None:
    make_line(machine.kind, every_tenths=500, every_months=12, notice_tenths=50)
    give(machine)
    assert raise_due_work(depot=machine.depot, at=MONDAY) == 0
    set_hours(machine, 1450, at=MONDAY)

    assert raise_due_work(depot=machine.depot, at=MONDAY) == 1
    assert Job.objects.get().due_tenths == 1500


@pytest.mark.parametrize("place", [Place.GONE, Place.MISSING, Place.LAID_UP])
def test_nothing_is_raised_where_nobody_waits(machine: Machine, place: Place) -> None:
    make_line(machine.kind)
    give(machine)
    Machine.objects.update(place=place)

    assert raise_due_work(depot=machine.depot, at=MONDAY + timedelta(days=400)) == 0


def test_work_that_opens_a_guard_is_marked_for_a_release_check(machine: Machine) -> None:
    for key, opens in (("belt", True), ("wash", False)):
        line = make_line(machine.kind, key)
        line.steps.create(position=1, text="Do it.", opens_guard=opens)
    give(machine)

    raise_due_work(depot=machine.depot, at=MONDAY + timedelta(days=200))

    assert dict(Job.objects.values_list("title", "is_safety")) == {"Belt": True, "Wash": False}


def test_the_next_cycle_is_raised_after_the_work_was_done(machine: Machine) -> None:
    make_line(machine.kind, notice_days=0)
    give(machine)
    raise_due_work(depot=machine.depot, at=datetime(2026, 6, 5, tzinfo=UTC))
    record_done(
        due_line=DueLine.objects.get(), on=date(2026, 6, 10), tenths=None,
        at=datetime(2026, 6, 10, 9, tzinfo=UTC),
    )  # fmt: skip

    assert DueLine.objects.get().due_on == date(2026, 9, 10)
    assert raise_due_work(depot=machine.depot, at=datetime(2026, 9, 9, tzinfo=UTC)) == 0
    assert raise_due_work(depot=machine.depot, at=datetime(2026, 9, 10, 12, tzinfo=UTC)) == 1
    assert sorted(Job.objects.values_list("cycle", flat=True)) == [1, 2]


def test_a_larger_service_carries_the_smaller_with_it(machine: Machine) -> None:
    make_line(machine.kind, "small", level=1, every_tenths=500, every_months=None)
    big = make_line(machine.kind, "big", level=2, every_tenths=1000, every_months=None)
    alone = make_line(machine.kind, "alone", level=0, every_tenths=500, every_months=None)
    give(machine)
    set_hours(machine, 1600, at=MONDAY)
    raise_due_work(depot=machine.depot, at=MONDAY)

    record_done(due_line=big.due_lines.get(), on=MONDAY.date(), tenths=1600, at=MONDAY)

    due = dict(DueLine.objects.values_list("line__key", "due_tenths"))
    assert due == {"small": 2100, "big": 2600, "alone": 1500}
    small = Job.objects.get(due_line__line__key="small")
    assert small.state == Job.State.CALLED_OFF
    assert "Big" in small.called_off_because
    assert alone.due_lines.get().cycle == 1


def test_late_paper_does_not_move_a_line_back(machine: Machine) -> None:
    make_line(machine.kind)
    give(machine)
    for day in (date(2026, 6, 10), date(2026, 5, 1)):
        record_done(due_line=DueLine.objects.get(), on=day, tenths=None, at=MONDAY)

    assert DueLine.objects.get().due_on == date(2026, 9, 10)


def test_raising_is_one_statement_whatever_the_number(depot: Depot) -> None:
    make_line(make_kind(belt_driven=True))
    give(*(make_machine(depot) for _ in range(30)))

    with CaptureQueriesContext(connections["default"]) as queries:
        assert raise_due_work(depot=depot, at=MONDAY + timedelta(days=200)) == 30

    statements = [q["sql"] for q in queries if "SAVEPOINT" not in q["sql"]]
    assert len(statements) == 1


def test_two_raising_at_once_give_each_job_once(transactional_db: None) -> None:
    depot = make_depot()
    make_line(make_kind(belt_driven=True))
    give(*(make_machine(depot) for _ in range(50)))
    raised: list[int] = []

    def run() -> None:
        try:
            raised.append(raise_due_work(depot=depot, at=MONDAY + timedelta(days=200)))
        finally:
            connections.close_all()

    threads = [Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert len(raised) == 4
    assert sum(raised) == Job.objects.count() == 50
