"""Electrical tests: judged by the sheet, stopping the machine, and moving its plan.

Limits as trade tables quote them: BS EN 61008-1 at most 300 ms at the rated current and 40 ms at
five times; BS 7288 socket-outlets of the older issues 200 ms at the rated current. IET Code of
Practice (second hand, from memory): earth path 0.1 ohm + R, insulation 1 Mohm for class I.
"""

import json
from datetime import date, timedelta
from typing import Any

import pytest

from bench import CLASS_I, HELD, RCD, WRONG, class_i, device, lead, mohm, ms, ohm, record
from maintenance.actions.instrument import withdraw_instrument
from maintenance.actions.job import start_job
from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.actions.test import Reading
from maintenance.actions.work_done import close_job, finish_job
from maintenance.contents.fitness import fitness_of
from maintenance.contents.record import summary
from maintenance.contents.record_answers import measured
from maintenance.contents.test import last_told, last_used
from maintenance.models import DueLine, ElectricalTest, Instrument, Job, RuleSheet, Stop
from make import MONDAY, make_instrument, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, MachineKind, Membership, Record, Role, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")


@pytest.fixture
def machine(depot: Depot, rule_sheet: RuleSheet) -> Machine:
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, "MX-203", kind=kind, supply="e110", protection="I")


@pytest.fixture
def instrument(depot: Depot, manager: User) -> Instrument:
    return make_instrument(depot, manager)


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
    machine: Machine, fitter: User, instrument: Instrument,
    profile: str, half: Reading, rated: Reading, five: Reading, passed: bool,
) -> None:  # fmt: skip
    readings = RCD | {"half": half, "rated": rated, "five": five}
    test = record(machine, fitter, device=device(profile), readings=readings)

    assert test.passed is passed
    assert json.loads(test.record.content)["data"]["passed"] is passed


@pytest.mark.parametrize(
    ("change", "passed"),
    [
        ({}, True),
        ({"earth": ohm("0.233")}, True),  # 0.1 + 10 x 0.0133, worked check V14
        ({"earth": ohm("0.2331")}, False),
        ({"earth": ohm("233 mohm")}, True),
        ({"earth": ohm("> 19.99")}, False),
        ({"insulation": mohm("1")}, True),
        ({"insulation": mohm("999 kohm")}, False),
        ({"cable": WRONG}, False),
    ],
)
def test_a_machine_of_class_i_is_judged_by_looks_earth_path_and_insulation(
    machine: Machine, fitter: User, instrument: Instrument, change: dict[str, Reading], passed: bool
) -> None:
    assert class_i(machine, fitter, readings=CLASS_I | change).passed is passed


def test_the_sum_behind_the_earth_limit_stands_in_the_record(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    test = class_i(machine, fitter, lead=lead("25 m"))

    rows = {row.what: row for row in measured(test.record)}
    assert rows["Earth path"].limit == ("at most 0.1 ohm + 25 m x 0.0133 ohm/m = 0.4325 ohm")
    assert (rows["Earth path"].reading, rows["Earth path"].result) == ("0.12", "OK")
    assert rows["Insulation resistance"].reading == "> 99.9"
    assert all(row.source and row.trust for row in rows.values())
    told = "Electrical test: Machine of class I, 110 V centre-tapped: passed"
    assert summary(test.record) == told
    data = json.loads(test.record.content)["data"]
    assert data["sheet"].startswith("Great Britain, ")
    assert data["calibrated_until"] == "2026-12-31"


def test_a_failure_stops_the_machine_always_and_raises_a_job(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    class_i(machine, fitter, readings=CLASS_I | {"earth": ohm("0.4")})

    stop = Stop.objects.get()
    assert (stop.kind, stop.always, stop.job) == ("stop", True, Job.objects.get())
    assert "0.4 ohm is outside the limit" in stop.words
    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"


@pytest.mark.parametrize("calibrated", [(None, None), (date(2025, 1, 1), date(2026, 3, 1))])
def test_an_instrument_out_of_date_passes_nothing_but_fails(
    machine: Machine, fitter: User, depot: Depot, manager: User, calibrated: Any
) -> None:
    make_instrument(depot, manager, calibrated=calibrated)
    with pytest.raises(Refused, match="cannot make a pass") as refused:
        record(machine, fitter)
    assert refused.value.field == "instrument"

    assert not record(machine, fitter, readings=RCD | {"rated": ms(310)}).passed


def test_an_instrument_that_does_not_read_it_passes_nothing_but_fails(
    machine: Machine, fitter: User, depot: Depot, manager: User
) -> None:
    make_instrument(depot, manager, reads=["ms"])
    with pytest.raises(Refused, match="does not read insulation resistance and earth path"):
        class_i(machine, fitter)

    assert not class_i(machine, fitter, readings=CLASS_I | {"plug": WRONG}).passed
    assert record(machine, fitter).passed


def test_without_an_instrument_only_a_failure_is_kept(machine: Machine, fitter: User) -> None:
    with pytest.raises(Refused, match="names its instrument"):
        class_i(machine, fitter, instrument=None)

    assert not class_i(machine, fitter, instrument=None, readings=CLASS_I | {"plug": WRONG}).passed


def test_an_instrument_of_another_depot_or_withdrawn_is_refused(
    machine: Machine, fitter: User, manager: User, instrument: Instrument, other_depot: Depot
) -> None:
    boss = make_user("Other Manager", (other_depot, Role.MANAGER))
    for wrong in (
        make_instrument(other_depot, boss),
        withdraw_instrument(instrument=instrument, reason="lost", at=MONDAY, by=manager),
    ):
        with pytest.raises(Refused, match="in use at this depot"):
            record(machine, fitter, instrument=wrong)


def test_a_learner_passes_nothing_alone_but_a_failure_counts(
    machine: Machine, depot: Depot, instrument: Instrument
) -> None:
    learner = make_user("Lena Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)
    with pytest.raises(Refused, match="learner"):
        record(machine, learner)
    assert not Record.objects.filter(kind=Record.Kind.TEST).exists()

    record(machine, learner, readings=RCD | {"rated": HELD})

    assert Stop.objects.standing().count() == 1


def test_a_pass_needs_every_reading_and_a_failure_says_why_one_is_missing(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    short = {key: value for key, value in CLASS_I.items() if key != "insulation"}
    with pytest.raises(Refused, match="write below why") as refused:
        class_i(machine, fitter, readings=short)
    assert refused.value.field == "insulation"
    with pytest.raises(Refused, match="Nothing failed, so a pass needs every reading") as refused:
        class_i(machine, fitter, readings=short, not_tested="no time")
    assert refused.value.field == "insulation"

    test = class_i(
        machine, fitter, readings=short | {"earth": ohm("2")}, not_tested="earth path open"
    )

    assert not test.passed
    rows = {row.what: row for row in measured(test.record)}
    assert rows["Insulation resistance"].reading == "not tested"
    assert rows["Insulation resistance"].result == "Could not check"
    assert test.record.texts.get(name="not_tested").text == "earth path open"


def test_isolating_comes_before_everything(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    with pytest.raises(Refused, match="confirm this first") as refused:
        class_i(
            machine, fitter, readings={k: v for k, v in CLASS_I.items() if k != "isolated"},
            not_tested="hurry",
        )  # fmt: skip

    assert refused.value.field == "isolated"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"device": device("another")}, "profile"),
        ({"device": device("delayed_61008")}, "profile"),  # never of a portable tool
        ({"device": None}, "profile"),
        ({"form": "class_2_110"}, ""),
        ({"form": "lead_110"}, ""),
        ({"form": "no_such"}, ""),
        ({"readings": RCD | {"earth": ohm("0.1")}}, ""),
        ({"readings": RCD | {"rated": ms(0.31)}}, "rated"),
    ],
)
def test_what_is_no_test_of_this_machine_is_refused(
    machine: Machine, fitter: User, instrument: Instrument, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        record(machine, fitter, **change)

    assert refused.value.field == field
    assert not ElectricalTest.objects.exists()


def test_a_lead_left_out_or_of_an_odd_size_is_refused_at_its_field(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    with pytest.raises(Refused) as refused:
        class_i(machine, fitter, lead=None)
    assert refused.value.field == "lead_length"

    with pytest.raises(Refused, match="core size") as refused:
        class_i(machine, fitter, lead=lead(core=3))
    assert refused.value.field == "earth"


def test_an_end_of_range_that_does_not_decide_is_refused(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    with pytest.raises(Refused, match="use another range") as refused:
        class_i(machine, fitter, readings=CLASS_I | {"insulation": mohm("> 0.5")})

    assert refused.value.field == "insulation"


def test_sent_twice_it_is_one_test(machine: Machine, fitter: User, instrument: Instrument) -> None:
    record_id = new_id()

    tests = {record(machine, fitter, record_id=record_id).pk for _ in range(2)}

    assert len(tests) == 1
    with pytest.raises(Refused, match="Another entry"):
        record(machine, fitter, record_id=record_id, readings=RCD | {"rated": ms(29)})


def test_an_operator_does_not_test(
    machine: Machine, operator: User, instrument: Instrument
) -> None:
    with pytest.raises(PermissionError):
        record(machine, operator)


def test_the_next_test_begins_with_the_lead_and_the_device_of_the_last(
    machine: Machine, fitter: User, foreman: User, instrument: Instrument, rule_sheet: RuleSheet
) -> None:
    class_i(machine, fitter, lead=lead("25 m", 2.5))
    record(machine, fitter, device=device("socket_7288"), item_serial="R-417")

    told = last_told(machine, rule_sheet.rules.test_form("class_1_110"))
    assert told == {"lead_length": "25 m", "lead_core": "2.5"}
    told = last_told(machine, rule_sheet.rules.test_form("rcd_portable"))
    assert told == {
        "item_serial": "R-417", "profile": "socket_7288", "rated_current": "30 mA", "rcd_type": "A",
    }  # fmt: skip
    assert last_used(fitter, [instrument]) == instrument
    assert last_used(foreman, [instrument]) is None


def test_only_what_has_a_plate_of_its_own_is_named_by_its_serial(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    test = record(machine, fitter, item_serial="R-417")

    assert test.what.endswith(", serial R-417")
    assert ", serial R-417: passed" in summary(test.record)
    with pytest.raises(Refused, match="whose serial is on its plate"):
        class_i(machine, fitter, item_serial="R-417")


# --- The plan ----------------------------------------------------------------------------------


def due(machine: Machine) -> DueLine:
    return DueLine.objects.get(machine=machine, line__key="test_110")


def test_a_pass_moves_the_line_of_the_plan_on_and_closes_its_job(
    machine: Machine, fitter: User, instrument: Instrument, depot: Depot
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    raise_due_work(depot=depot, at=MONDAY - timedelta(days=10))
    job = Job.objects.get(due_line=due(machine))
    before = due(machine)

    test = class_i(machine, fitter)

    after = due(machine)
    assert (after.last_done_on, after.cycle) == (MONDAY.date(), before.cycle + 1)
    assert after.due_on == date(2026, 6, 2)  # three months, HSG107 second hand
    job.refresh_from_db()
    assert (job.state, job.closed_by, job.done_by) == ("closed", fitter, fitter)
    assert test.record.number in job.action


def test_a_failure_and_a_test_of_the_rcd_alone_move_no_line(
    machine: Machine, fitter: User, instrument: Instrument, depot: Depot
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    raise_due_work(depot=depot, at=MONDAY - timedelta(days=10))

    class_i(machine, fitter, readings=CLASS_I | {"earth": ohm("3")})
    record(machine, fitter)

    assert due(machine).last_done_on is None
    assert Job.objects.get(due_line=due(machine)).is_open


def test_words_close_no_test_that_the_plan_asks_for(
    machine: Machine, fitter: User, instrument: Instrument, depot: Depot, foreman: User
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    raise_due_work(depot=depot, at=MONDAY - timedelta(days=10))
    job = Job.objects.get(due_line=due(machine))
    job.due_line.line.steps.all().delete()
    start_job(job=job, confirmed=[], at=MONDAY, by=fitter)
    finish_job(
        job=job, symptom="Due", cause="Due by plan", action="Tested it", minutes=9, at=MONDAY,
        by=fitter,
    )  # fmt: skip

    with pytest.raises(Refused, match="A passed test closes this job"):
        close_job(job=job, at=MONDAY, by=foreman)
    Machine.objects.update(protection="")
    with pytest.raises(Refused, match="class is missing"):
        close_job(job=job, at=MONDAY, by=foreman)
    assert due(machine).last_done_on is None

    Machine.objects.update(protection="I")
    machine.refresh_from_db()
    class_i(machine, fitter, at=MONDAY + timedelta(hours=1))
    job.refresh_from_db()
    assert job.state == Job.State.CLOSED
    assert due(machine).last_done_on == MONDAY.date()
