"""Marks of many machines: the same as one by one, and in one query."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from maintenance.actions.stop import stop_machine
from maintenance.contents.fitness import due_state_of_many, fitness_of, fitness_of_many
from maintenance.models import DueLine, PlanLine
from make import MONDAY, make_machine
from plant.models import Depot, Machine, Place, User

ON = MONDAY.date()


def test_many_are_read_in_one_query(depot: Depot, operator: User) -> None:
    machines = [make_machine(depot) for _ in range(5)]
    stop_machine(machine=machines[2], told="smells", at=MONDAY, by=operator)

    with CaptureQueriesContext(
        connection,
    ) as queries:
        marks = fitness_of_many(machines, ON)

    assert len(queries) == 1
    assert [marks[m.pk].mark for m in machines] == ["OK to use"] * 2 + ["Do not use"] + [
        "OK to use"
    ] * 2
    assert marks[machines[2].pk] == fitness_of(machines[2], ON)


def _line(machine: Machine, *, due_on: date, is_test: bool = False) -> None:
    line = PlanLine.objects.create(
        machine=machine,
        key=f"line-{due_on}-{is_test}",
        title="Grease",
        every_months=3,
        is_test=is_test,
        source="common practice, no source",
        trust="common practice, no source",
    )
    DueLine.objects.create(
        machine=machine, line=line, start_on=ON, due_on=due_on, worked_out_at=MONDAY
    )


@pytest.mark.parametrize(
    ("place", "due_on", "is_test", "state"),
    [
        (Place.OUT, date(2026, 3, 1), False, "overdue"),
        (Place.YARD, date(2026, 3, 1), False, "needed before use"),
        (Place.YARD, date(2026, 3, 2), False, "due soon"),
        (Place.YARD, date(2026, 3, 17), False, "nothing"),
        (Place.LAID_UP, date(2026, 3, 1), False, "nothing"),
        (Place.LAID_UP, date(2026, 3, 1), True, "needed before use"),
        (Place.GONE, date(2026, 3, 1), False, "nothing"),
    ],
)
def test_what_is_due_depends_on_where_the_machine_is(
    depot: Depot, place: Place, due_on: date, is_test: bool, state: str
) -> None:
    machine = make_machine(depot, place=place)
    _line(machine, due_on=due_on, is_test=is_test)

    assert due_state_of_many([machine], ON) == {machine.pk: state}


def test_the_worst_line_counts(depot: Depot) -> None:
    machine = make_machine(depot, place=Place.OUT)
    _line(machine, due_on=date(2026, 3, 10))
    _line(machine, due_on=date(2026, 2, 1), is_test=True)

    with CaptureQueriesContext(connection) as queries:
        states = due_state_of_many([machine, make_machine(depot)], ON)

    assert states[machine.pk] == "overdue"
    assert sum("maintenance_dueline" in query["sql"] for query in queries) == 1
