"""Can it go, with all the reasons; the nearest that can; and the lists, at a constant cost."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from maintenance.actions import place
from maintenance.actions.stay import Going, issue
from maintenance.actions.stop import stop_machine
from maintenance.actions.transfer import send
from maintenance.contents import out_in
from maintenance.models import DueLine, PlanLine
from make import MONDAY, make_kind, make_machine
from plant.models import Depot, Machine, Place, User

pytestmark = pytest.mark.usefixtures("rule_sheet")
ON = MONDAY.date()


def out(machine: Machine, by: User, **more: Any) -> None:
    given: dict[str, Any] = {"site": "Plot 4", "site_phone": "01632 960 200"}
    days = more.pop("days", 5)
    issue(
        machine=machine, going=Going(due_back_on=ON + timedelta(days=days), **given | more),
        at=MONDAY, by=by, passport=True,
    )  # fmt: skip


def past_due(machine: Machine) -> DueLine:
    line = PlanLine.objects.create(
        machine=machine, key=f"own-{machine.pk}", title="RCD test", every_months=3, is_test=True,
        source="made up", trust="test",
    )  # fmt: skip
    return DueLine.objects.create(
        machine=machine, line=line, start_on=date(2025, 1, 1), due_on=ON - timedelta(days=3),
        past_after=ON - timedelta(days=3),
        raise_on=ON - timedelta(days=9), worked_out_at=MONDAY,
    )  # fmt: skip


def test_a_machine_that_is_fit_and_in_the_yard_can_go(machine: Machine) -> None:
    answer = out_in.can_go(machine, ON)

    assert (answer.yes, answer.reasons, answer.nearest) == (True, (), ())


def test_all_the_reasons_are_told_not_just_the_first(machine: Machine, operator: User) -> None:
    stop_machine(machine=machine, told="guard gone", at=MONDAY, by=operator)
    stop_machine(machine=machine, told="plug cut", at=MONDAY, by=operator)
    past_due(machine)
    Machine.objects.filter(pk=machine.pk).update(place=Place.WORKSHOP)
    machine.refresh_from_db()

    reasons = out_in.can_go(machine, ON).reasons

    assert [each.split(":")[0] for each in reasons] == [
        "In workshop, not in the yard", "Do not use", "Do not use", "Needed before use",
    ]  # fmt: skip
    assert "guard gone" in reasons[1]
    assert "plug cut" in reasons[2]


def test_one_that_is_out_says_where_and_until_when(machine: Machine, desk: User) -> None:
    out(machine, desk)
    machine.refresh_from_db()

    assert out_in.can_go(machine, ON).reasons == ("Out at Plot 4, due back on 7 Mar 2026",)


def test_the_nearest_that_can_go_instead(depot: Depot, other_depot: Depot, operator: User) -> None:
    kind, other_kind = make_kind("mixer_electric"), make_kind("mixer_engine")
    asked = make_machine(depot, "A-1", kind=kind, passed_at=None)
    make_machine(depot, "A-2", kind=kind, place=Place.WORKSHOP)
    stop_machine(machine=make_machine(depot, "A-3", kind=kind), told="bent", at=MONDAY, by=operator)
    past_due(make_machine(depot, "A-4", kind=kind))
    make_machine(other_depot, "A-5", kind=kind)
    make_machine(depot, "A-6", kind=make_kind("pump_surface"))
    engine = make_machine(depot, "A-7", kind=other_kind, supply="petrol")
    mains = make_machine(depot, "A-8", kind=kind, supply="e230")
    same = make_machine(depot, "A-9", kind=kind)

    assert out_in.can_go(asked, ON).nearest == (same, mains, engine)


def test_the_answer_costs_the_same_whatever_the_history(
    depot: Depot, machine: Machine, operator: User
) -> None:
    full = make_machine(depot)
    for _ in range(6):
        stop_machine(machine=full, told="again", at=MONDAY, by=operator)
    past_due(full)
    stop_machine(machine=machine, told="once", at=MONDAY, by=operator)

    counts = []
    for each in (machine, full):
        with CaptureQueriesContext(connection) as queries:
            out_in.can_go(each, ON)
        counts.append(len(queries))

    assert counts == [6, 6]


def test_the_lists(depot: Depot, desk: User, operator: User, other_depot: Depot) -> None:
    soon, later, stopped = (make_machine(depot) for _ in range(3))
    out(soon, desk, days=1)
    out(later, desk, days=30)
    out(stopped, desk, days=30)
    untold = make_machine(depot, place=Place.OUT)
    past_due(later)
    stop_machine(machine=stopped, told="guard gone", at=MONDAY, by=operator)
    gone = make_machine(depot)
    place.report_missing(machine=gone, reason="not there", at=MONDAY, by=operator)
    sent = send(machine=make_machine(depot), to=other_depot, at=MONDAY, by=desk)

    stays = out_in.stays_out(desk)
    assert {stay.machine for stay in stays} == {soon, later, stopped}
    assert [stay.machine for stay in out_in.due_back(stays, ON)] == [soon]
    assert [stay.machine for stay in out_in.due_for_service(stays, ON)] == [later]
    assert list(out_in.nobody_told(desk)) == [untold]
    assert list(out_in.on_the_way(desk)) == [sent]
    assert [(each.told_by, each.told) for each in out_in.missing(desk)] == [
        ("Olwen Operator", "not there")
    ]
    told = out_in.told_stopped(out_in.stopped_out(out_in.machines_out(desk), ON), ON)
    assert [(each.machine, each.stay and each.stay.site_phone, each.since) for each in told] == [
        (stopped, "01632 960 200", MONDAY)
    ]


def test_what_waits_for_one_depot_is_seen_there_and_nowhere_else(
    machine: Machine, desk: User, operator: User, other_depot: Depot, outsider: User
) -> None:
    sent = send(machine=machine, to=other_depot, at=MONDAY, by=desk)

    assert list(out_in.on_the_way(outsider)) == [sent]
    assert list(out_in.on_the_way(operator)) == []
