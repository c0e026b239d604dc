"""RCD trip tests.

Limits as trade tables quote them: BS EN 61008-1 at most 300 ms at the rated current and 40 ms at
five times; BS 7288 socket-outlets of the older issues 200 ms at the rated current.
"""

import json
from datetime import date

import pytest

from maintenance.actions.test import Trip, record_rcd_test
from maintenance.contents.fitness import fitness_of
from maintenance.models import ElectricalTest, Job, Stop
from make import MONDAY, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Membership, Record, Role, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")
HELD = Trip(typed="no trip", seconds=None)


def ms(figure: float) -> Trip:
    return Trip(typed=f"{figure:g} ms", seconds=figure / 1000)


def record(machine: Machine, by: User, **more: object) -> ElectricalTest:
    given: dict[str, object] = {
        "profile": "general_61008",
        "readings": {"half": HELD, "rated": ms(28), "five": ms(12)},
        "instrument": "Tester 4",
        "calibrated_until": date(2026, 12, 31),
        "at": MONDAY,
    }
    return record_rcd_test(machine=machine, by=by, **given | more)


@pytest.mark.parametrize(
    ("profile", "half", "rated", "five", "passed"),
    [
        ("general_61008", HELD, ms(300), ms(40), True),
        ("general_61008", HELD, ms(300.5), ms(40), False),
        ("general_61008", HELD, ms(28), ms(41), False),
        ("general_61008", ms(900), ms(28), ms(12), False),
        ("general_61008", HELD, HELD, ms(12), False),
        # Between the two limits: passes one device and fails the other.
        ("general_61008", HELD, ms(250), ms(30), True),
        ("socket_7288", HELD, ms(250), ms(30), False),
        ("socket_7288", HELD, ms(200), ms(30), True),
    ],
)
def test_the_result_is_worked_out(
    machine: Machine, fitter: User, profile: str, half: Trip, rated: Trip, five: Trip, passed: bool
) -> None:
    test = record(
        machine, fitter, profile=profile, readings={"half": half, "rated": rated, "five": five}
    )

    assert test.passed is passed
    assert json.loads(test.record.content)["data"]["passed"] is passed


def test_a_failure_stops_the_machine_always_and_raises_a_job(
    machine: Machine, fitter: User
) -> None:
    record(machine, fitter, readings={"half": HELD, "rated": ms(310), "five": ms(12)})

    stop = Stop.objects.get()
    assert (stop.kind, stop.always, stop.job) == ("stop", True, Job.objects.get())
    assert "310 ms is longer than 300 ms" in stop.words
    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"


@pytest.mark.parametrize("until", [None, date(2026, 3, 1)])
def test_an_instrument_out_of_date_passes_nothing_but_fails(
    machine: Machine, fitter: User, until: date | None
) -> None:
    with pytest.raises(Refused) as refused:
        record(machine, fitter, calibrated_until=until)
    assert refused.value.field == "calibrated_until"

    bad = {"half": HELD, "rated": ms(310), "five": ms(12)}
    assert not record(machine, fitter, calibrated_until=until, readings=bad).passed


def test_a_learner_passes_nothing_alone_but_a_failure_counts(
    machine: Machine, depot: Depot
) -> None:
    learner = make_user("Lena Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)
    with pytest.raises(Refused, match="learner"):
        record(machine, learner)
    assert not Record.objects.filter(kind=Record.Kind.TEST).exists()

    record(machine, learner, readings={"half": HELD, "rated": HELD, "five": ms(12)})

    assert Stop.objects.standing().count() == 1


def test_a_reading_left_out_or_a_standard_unknown(machine: Machine, fitter: User) -> None:
    with pytest.raises(Refused) as refused:
        record(machine, fitter, readings={"half": HELD, "rated": ms(28)})
    assert refused.value.field == "five"

    with pytest.raises(Refused) as refused:
        record(machine, fitter, profile="another")
    assert refused.value.field == "profile"


def test_sent_twice_it_is_one_test(machine: Machine, fitter: User) -> None:
    record_id = new_id()

    tests = {record(machine, fitter, record_id=record_id).pk for _ in range(2)}

    assert len(tests) == 1


def test_an_operator_does_not_test(machine: Machine, operator: User) -> None:
    with pytest.raises(PermissionError):
        record(machine, operator)
