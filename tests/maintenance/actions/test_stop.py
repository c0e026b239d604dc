"""Stopping by a person, and deciding: stop it, or carry on with a note."""

from datetime import date, timedelta

import pytest

from maintenance.actions.fault import report_fault
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.contents.fitness import fitness_of
from maintenance.models import Job, Stop
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet")
REASON = "Runs true otherwise; a new tyre is on order."
ANSWER = "Use it on level ground until then."


@pytest.fixture
def undecided(machine: Machine, operator: User) -> Stop:
    report_fault(
        machine=machine,
        part="stands_level",
        told="flat tyre",
        stop_now=False,
        at=MONDAY,
        by=operator,
    )
    return Stop.objects.get()


def test_anybody_stops_a_machine_at_once(machine: Machine, operator: User) -> None:
    stop = stop_machine(machine=machine, told="smells of burning", at=MONDAY, by=operator)

    assert (stop.kind, stop.always) == ("stop", False)
    assert stop.job is not None
    assert stop.job.is_safety
    assert fitness_of(machine, MONDAY.date()).reasons == ("Stopped: smells of burning",)


def test_stopped_by_label_with_a_name(machine: Machine) -> None:
    stop = stop_machine(machine=machine, told="guard off", at=MONDAY, by_name="Ola Builder")

    assert (stop.record.by, stop.record.role) == (None, "label")


def test_pressed_twice_it_stops_once(machine: Machine, operator: User) -> None:
    record_id = new_id()

    for _ in range(2):
        stop_machine(machine=machine, told="guard off", at=MONDAY, by=operator, record_id=record_id)

    assert [Stop.objects.count(), Job.objects.count(), Record.objects.count()] == [1, 1, 1]


def test_without_a_reason_nothing_is_stopped(machine: Machine, operator: User) -> None:
    with pytest.raises(Refused) as refused:
        stop_machine(machine=machine, told=" ", at=MONDAY, by=operator)

    assert refused.value.field == "told"
    assert Stop.objects.count() == 0


def test_carry_on_with_a_note_until_a_day(undecided: Stop, machine: Machine, foreman: User) -> None:
    until = date(2026, 3, 16)

    record = decide_stop(
        stop=undecided, carry_on_until=until, reason=REASON, answer=ANSWER, at=MONDAY, by=foreman
    )

    undecided.refresh_from_db()
    assert (undecided.kind, undecided.until, undecided.decided_by) == ("carry on", until, record)
    assert Job.objects.get().state == "looked at"
    assert record.role == "foreman"
    assert fitness_of(machine, until).mark == "Use, with a note"
    assert fitness_of(machine, until + timedelta(days=1)).mark == "Do not use"


def test_decided_to_stop(undecided: Stop, machine: Machine, foreman: User) -> None:
    decide_stop(stop=undecided, carry_on_until=None, reason="", at=MONDAY, by=foreman)

    undecided.refresh_from_db()
    assert undecided.kind == "stop"
    assert Job.objects.get().is_safety
    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"


def test_nobody_carries_on_with_what_is_always_critical(
    machine: Machine, operator: User, manager: User
) -> None:
    report_fault(
        machine=machine, part="cable_plug", told="cut", stop_now=False, at=MONDAY, by=operator
    )
    stop = Stop.objects.get()

    with pytest.raises(Refused, match="always critical"):
        decide_stop(
            stop=stop,
            carry_on_until=date(2026, 3, 3),
            reason=REASON,
            answer=ANSWER,
            at=MONDAY,
            by=manager,
        )
    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"


@pytest.mark.parametrize(
    ("until", "reason", "field"),
    [
        (date(2026, 3, 1), REASON, "until"),
        (date(2026, 6, 1), REASON, "until"),
        (date(2026, 3, 9), "too short", "reason"),
    ],
)
def test_a_note_needs_a_coming_day_and_a_reason(
    undecided: Stop, foreman: User, until: date, reason: str, field: str
) -> None:
    with pytest.raises(Refused) as refused:
        decide_stop(
            stop=undecided,
            carry_on_until=until,
            reason=reason,
            answer=ANSWER,
            at=MONDAY,
            by=foreman,
        )

    assert refused.value.field == field
    undecided.refresh_from_db()
    assert undecided.kind == "undecided"


def test_who_may_not_decide(undecided: Stop, fitter: User, operator: User) -> None:
    for person in (fitter, operator):
        with pytest.raises(PermissionError):
            decide_stop(stop=undecided, carry_on_until=None, reason=REASON, at=MONDAY, by=person)
