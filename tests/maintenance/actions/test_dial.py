"""Counters beside the hours, dials that break or go round to nought: totals and due dates go on."""

from datetime import timedelta

import pytest
from django.db import transaction

from maintenance.actions.dial import (
    change_meter,
    estimate_blind,
    estimated_blind,
    roll_over,
    tell_broken,
)
from maintenance.actions.due import rework
from maintenance.actions.meter import record_meter
from maintenance.actions.plan import give_plans, raise_due_work, record_done
from maintenance.actions.signing import locked
from maintenance.contents.due import told, why
from maintenance.contents.meter import standing
from maintenance.models import DueLine, MeterReading, PlanLine
from make import MONDAY
from plant.actions.refusal import Refused
from plant.models import Machine, Meter, Place, User

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def in_use(machine: Machine) -> None:
    Machine.objects.update(place=Place.OUT, added_at=MONDAY)


def add_line(machine: Machine, **more: object) -> DueLine:
    PlanLine.objects.create(
        kind=machine.kind, key="drop_hammer", title="Hammer", source="made up", trust="test", **more
    )
    give_plans([Machine.objects.select_related("kind", "depot").get()], at=MONDAY)
    return DueLine.objects.get()


def count(machine: Machine, days: float, number: int, by: User, **more: object) -> MeterReading:
    return record_meter(
        machine=machine, measure="drops", dial_tenths=number * 10, typed=str(number),
        at=MONDAY + days * DAY, by=by, **more,
    )  # fmt: skip


def due() -> DueLine:
    related = ("line", "machine__depot", "machine__use_rate", "counter__use_rate")
    return DueLine.objects.select_related(*related).get()


def work_out(days: float) -> DueLine:
    with transaction.atomic():
        rework(locked(Machine.objects.get()), at=MONDAY + days * DAY)
    return due()


def test_a_line_counts_drops_whichever_comes_first(machine: Machine, fitter: User) -> None:
    """200 drops a day from 1,000: 5,000 more are reached on day 25, long before twelve months."""
    add_line(machine, measure="drops", every_tenths=50_000, every_months=12, notice_tenths=2000)
    for day, number in ((0, 1000), (2, 1400), (4, 1800)):
        count(machine, day, number, fitter)

    line = due()
    assert (line.due_tenths, line.likely_on) == (60_000, MONDAY.date() + 25 * DAY)
    assert why(line) == (
        "Every 5000 drops or 12 months, whichever comes first, counted from when last done: not "
        "done yet, counted from 2 Mar 2026 at 1000 drops, so due at 6000 drops or 2 Mar 2027 (at "
        "200.0 drops a day, the drops are likely up 27 Mar 2026)."
    )
    assert Machine.objects.get().hours_tenths == 1000, "the hours are another meter"

    count(machine, 24, 5900, fitter)
    assert raise_due_work(depot=machine.depot, at=MONDAY + 24 * DAY) == 1
    count(machine, 26, 6001, fitter)
    assert told([due()], MONDAY.date() + 26 * DAY)[0].state == "overdue"

    record_done(due_line=due(), on=MONDAY.date() + 26 * DAY, tenths=None, at=MONDAY + 26 * DAY)
    assert due().due_tenths == 60_010 + 50_000


def test_hours_read_at_the_same_time_move_no_drops(machine: Machine, fitter: User) -> None:
    add_line(machine, measure="drops", every_tenths=5000)
    count(machine, 1, 1000, fitter)
    before = due().due_tenths
    record_meter(machine=machine, dial_tenths=1100, typed="110", at=MONDAY + 2 * DAY, by=fitter)

    assert due().due_tenths == before == 15_000


def test_a_count_that_does_not_fit_is_asked_about(machine: Machine, fitter: User) -> None:
    for day, number in ((0, 1000), (2, 1400), (4, 1800)):
        count(machine, day, number, fitter)

    with pytest.raises(Refused, match="180 drops is lower than the last reading, 1800 drops"):
        count(machine, 5, 180, fitter)
    with pytest.raises(Refused, match="17200 drops were added since 1800 drops"):
        count(machine, 6, 19_000, fitter)
    count(machine, 6, 2600, fitter)


def test_a_counter_is_started_by_who_works_on_it(
    machine: Machine, operator: User, fitter: User
) -> None:
    with pytest.raises(PermissionError):
        count(machine, 0, 1000, operator)
    count(machine, 0, 1000, fitter)
    count(machine, 1, 1100, operator)


def test_a_dial_that_went_round_goes_on_from_where_it_stood(machine: Machine, fitter: User) -> None:
    Machine.objects.update(hours_tenths=999_970, hours_at=MONDAY)
    given = {"machine": machine, "dial_tenths": 32, "typed": "3.2", "at": MONDAY + DAY}
    with pytest.raises(Refused, match="lower than the last"):
        record_meter(**given, by=fitter)

    reading = roll_over(**given, by=fitter)

    # 99,997.0 to 100,000.0 is 3.0 h, and 3.2 h after nought.
    assert reading.total_tenths == 1_000_032
    record_meter(machine=machine, dial_tenths=40, typed="4", at=MONDAY + 2 * DAY, by=fitter)
    assert Machine.objects.get().hours_tenths == 1_000_040


def test_a_slip_of_the_keyboard_is_no_turn_of_the_dial(machine: Machine, fitter: User) -> None:
    with pytest.raises(Refused, match=r"It stood at 100.0 h, too far from 999.9 h"):
        roll_over(machine=machine, dial_tenths=10, typed="1", at=MONDAY + DAY, by=fitter)
    assert not MeterReading.objects.exists()


def test_without_a_dial_use_is_estimated_and_never_makes_overdue(
    machine: Machine, operator: User, fitter: User
) -> None:
    """Out every day at 4 h a day out (common practice, no source): 50 h are run in 13 days."""
    add_line(machine, every_tenths=500, notice_days=2)
    tell_broken(machine=machine, since=MONDAY, reason="Glass broken", at=MONDAY + DAY, by=fitter)
    machine = Machine.objects.get()
    assert not machine.has_meter
    with pytest.raises(Refused, match="told to be broken on 2 Mar 2026"):
        record_meter(machine=machine, dial_tenths=1010, typed="x", at=MONDAY + DAY, by=operator)

    line = work_out(5)
    assert (line.is_estimate, line.likely_on) == (True, MONDAY.date() + 12 * DAY)
    assert "estimated" in why(line)
    assert why(line).endswith("Its meter is broken since 2 Mar 2026.")
    assert estimated_blind(machine, "hours", at=MONDAY + 5 * DAY) == 200
    line = work_out(60)
    assert told([line], MONDAY.date() + 60 * DAY)[0].state == "due soon"
    assert line.likely_on == MONDAY.date() + 13 * DAY, "the day when they were up, not today"


def test_work_done_without_a_dial_counts_from_the_estimate(machine: Machine, fitter: User) -> None:
    add_line(machine, every_tenths=500)
    tell_broken(machine=machine, since=MONDAY, reason="Dead", at=MONDAY, by=fitter)
    work_out(20)

    record_done(due_line=due(), on=MONDAY.date() + 13 * DAY, tenths=None, at=MONDAY + 20 * DAY)

    assert due().due_tenths == 1000 + 13 * 40 + 500


def test_a_new_dial_ends_the_blind_time_and_its_estimate_can_be_put_right(
    machine: Machine, fitter: User, foreman: User
) -> None:
    line = add_line(machine, every_tenths=1500)
    tell_broken(machine=machine, since=MONDAY, reason="Dead", at=MONDAY + DAY, by=fitter)
    estimate_blind(
        machine=machine, tenths=300, reason="Asked on site", at=MONDAY + 5 * DAY, by=foreman
    )
    blind = estimated_blind(Machine.objects.get(), "hours", at=MONDAY + 6 * DAY)
    assert blind == 340, "goes on from there"
    change_meter(
        machine=machine, dial_tenths=20, typed="2", blind_tenths=340, reason="New dial",
        at=MONDAY + 6 * DAY, by=fitter,
    )  # fmt: skip
    record_meter(machine=machine, dial_tenths=60, typed="6", at=MONDAY + 7 * DAY, by=fitter)
    assert standing(Machine.objects.get(), "hours").broken_at is None
    assert Machine.objects.get().hours_tenths == 1380
    estimate_blind(
        machine=machine, tenths=100, reason="The site's diary", at=MONDAY + 8 * DAY, by=foreman
    )

    assert Machine.objects.get().hours_tenths == 1140
    totals = MeterReading.objects.order_by("at").values_list("total_tenths", flat=True)
    assert list(totals) == [1100, 1140]
    line.refresh_from_db()
    assert line.due_tenths == 2500, "a correction moves no due figure"
    assert Meter.objects.get(removed_at=None).blind_tenths == 100


def test_no_estimate_where_a_dial_always_told(machine: Machine, foreman: User) -> None:
    with pytest.raises(Refused, match="No time without a dial"):
        estimate_blind(machine=machine, tenths=10, reason="Why", at=MONDAY, by=foreman)


def test_a_broken_counter_goes_on_at_its_own_rate(machine: Machine, fitter: User) -> None:
    add_line(machine, measure="drops", every_tenths=50_000)
    for day, number in ((0, 1000), (2, 1400), (4, 1800)):
        count(machine, day, number, fitter)
    tell_broken(
        machine=machine, measure="drops", since=MONDAY + 4 * DAY, reason="Dead",
        at=MONDAY + 4 * DAY, by=fitter,
    )  # fmt: skip

    line = work_out(10)
    assert (line.is_estimate, line.hours_past) == (True, False)
    assert line.likely_on == MONDAY.date() + 25 * DAY
    assert Machine.objects.get().has_meter, "the hours are still asked for"
