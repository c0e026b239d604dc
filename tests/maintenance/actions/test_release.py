"""The release check: what it frees, who may do it, and what it closes."""

import json
from datetime import date, timedelta

import pytest

from bench import CLASS_I, class_i, ohm
from bench import record as record_electrical
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, call_off_job, open_job, start_job
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stop import decide_stop
from maintenance.actions.work_done import finish_job
from maintenance.contents.fitness import fitness_of
from maintenance.models import Job, RuleSheet, Stop
from make import MONDAY, make_instrument, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, MachineKind, Membership, Record, Role, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")
LATER = MONDAY + timedelta(hours=3)
ALL = [key for key, _ in ISOLATED]
RIGHT = {key: "right" for key, _ in LOOKS}
WORK = {"symptom": "cut", "cause": "dragged", "action": "new lead", "minutes": 20}


def fault(machine: Machine, by: User, part: str = "cable_plug") -> Job:
    return report_fault(machine=machine, part=part, told="cut", stop_now=True, at=MONDAY, by=by)


def work(job: Job, by: User) -> None:
    start_job(job=job, confirmed=ALL, at=MONDAY, by=by)
    finish_job(job=job, **WORK, at=MONDAY, by=by)


def test_it_frees_what_it_names_and_closes_the_job(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    job = fault(machine, operator)
    work(job, fitter)

    record = release_machine(
        machine=machine, frees=[Stop.objects.get()], looks=RIGHT, at=LATER, by=foreman
    )

    job.refresh_from_db()
    machine.refresh_from_db()
    assert (job.state, job.closed_by) == ("closed", foreman)
    assert Stop.objects.get().released_by == record
    assert machine.passed_at == LATER
    assert fitness_of(machine, MONDAY.date()).mark == "OK to use"
    assert json.loads(record.content)["data"]["own_work"] is False


def test_what_it_does_not_name_goes_on_standing(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    for part in ("cable_plug", "drum"):
        work(fault(machine, operator, part), fitter)

    release_machine(
        machine=machine,
        frees=Stop.objects.filter(item_key="drum"),
        looks=RIGHT,
        at=LATER,
        by=foreman,
    )

    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"
    assert [job.state for job in Job.objects.order_by("pk")] == ["work done", "closed"]


def test_a_job_closes_when_its_last_stop_is_freed(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    job = fault(machine, operator)
    fault(machine, fitter)
    work(job, fitter)
    first, second = Stop.objects.order_by("pk")

    release_machine(machine=machine, frees=[first], looks=RIGHT, at=LATER, by=foreman)
    job.refresh_from_db()
    assert job.state == "work done"

    release_machine(machine=machine, frees=[second], looks=RIGHT, at=LATER, by=foreman)
    job.refresh_from_db()
    assert job.state == "closed"


def test_open_work_is_named(machine: Machine, operator: User, foreman: User) -> None:
    job = fault(machine, operator)

    with pytest.raises(Refused, match=job.number):
        release_machine(
            machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=foreman
        )
    assert Stop.objects.standing().count() == 1


def test_called_off_work_can_be_released(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    job = fault(machine, operator)
    call_off_job(
        job=job, reason="cable was never cut", answer="The cable is whole.", at=MONDAY, by=foreman
    )
    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"

    release_machine(machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=fitter)

    job.refresh_from_db()
    assert job.state == "called off"
    assert fitness_of(machine, MONDAY.date()).mark != "Do not use"


@pytest.mark.parametrize("key", [key for key, _ in LOOKS])
@pytest.mark.parametrize("answer", ["not right", "", "perhaps"])
def test_what_is_not_right_frees_nothing(
    machine: Machine, operator: User, fitter: User, foreman: User, key: str, answer: str
) -> None:
    work(fault(machine, operator), fitter)

    with pytest.raises(Refused) as refused:
        release_machine(
            machine=machine,
            frees=Stop.objects.all(),
            looks={**RIGHT, key: answer},
            at=LATER,
            by=foreman,
        )
    assert refused.value.field == key
    assert Stop.objects.standing().count() == 1


def test_nothing_named_is_no_release(machine: Machine, foreman: User) -> None:
    with pytest.raises(Refused, match="Name what"):
        release_machine(machine=machine, frees=[], looks=RIGHT, at=LATER, by=foreman)


def test_nobody_frees_his_own_work(machine: Machine, operator: User, fitter: User) -> None:
    work(fault(machine, operator), fitter)

    with pytest.raises(Refused, match="second person"):
        release_machine(machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=fitter)


def test_in_a_one_person_depot_with_a_written_reason(
    machine: Machine, depot: Depot, operator: User, fitter: User
) -> None:
    depot.one_person = True
    depot.save()
    work(fault(machine, operator), fitter)
    freed = Stop.objects.all()
    with pytest.raises(Refused) as refused:
        release_machine(machine=machine, frees=freed, looks=RIGHT, at=LATER, by=fitter)
    assert refused.value.field == "reason"

    record = release_machine(
        machine=machine,
        frees=freed,
        looks=RIGHT,
        at=LATER,
        by=fitter,
        reason="I am the only one in the yard today.",
    )

    assert json.loads(record.content)["data"]["own_work"] is True
    assert record.texts.filter(name="reason").exists()


def test_who_joined_the_work_does_not_release_it(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    job = fault(machine, operator)
    work(job, fitter)
    finish_job(job=job, **WORK, at=MONDAY, by=foreman)

    with pytest.raises(Refused, match="second person"):
        release_machine(
            machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=foreman
        )


def test_a_learner_never_releases(
    machine: Machine, depot: Depot, operator: User, fitter: User
) -> None:
    learner = make_user("Lena Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)
    work(fault(machine, operator), fitter)

    with pytest.raises(Refused, match="learner"):
        release_machine(
            machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=learner
        )


def test_neither_operator_nor_desk_releases(machine: Machine, operator: User, desk: User) -> None:
    fault(machine, operator)

    for person in (operator, desk):
        with pytest.raises(PermissionError):
            release_machine(
                machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=person
            )


@pytest.fixture
def tested(depot: Depot, rule_sheet: RuleSheet, manager: User) -> Machine:
    """A machine of class I at 110 V, and an instrument to test it with."""
    make_instrument(depot, manager)
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, kind=kind, supply="e110", protection="I")


def test_a_failed_test_needs_a_passed_one(tested: Machine, fitter: User, foreman: User) -> None:
    class_i(tested, fitter, readings=CLASS_I | {"earth": ohm("2")})
    work(Job.objects.get(), fitter)
    release = {"machine": tested, "frees": Stop.objects.all(), "looks": RIGHT, "by": foreman}
    with pytest.raises(Refused, match="retest"):
        release_machine(**release, at=LATER)

    class_i(tested, fitter, at=MONDAY + timedelta(hours=1))

    release_machine(**release, at=LATER)
    tested.refresh_from_db()
    assert fitness_of(tested, MONDAY.date()).mark == "OK to use"


def test_a_pass_of_something_else_or_before_the_failure_frees_nothing(
    tested: Machine, fitter: User, foreman: User
) -> None:
    class_i(tested, fitter, at=MONDAY - timedelta(hours=1))
    class_i(tested, fitter, readings=CLASS_I | {"earth": ohm("2")})
    work(Job.objects.get(), fitter)
    record_electrical(tested, fitter, at=MONDAY + timedelta(hours=1))  # its RCD

    with pytest.raises(Refused, match=r"retest of the electrical test \(Machine of class I"):
        release_machine(machine=tested, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=foreman)


def test_where_the_plate_was_put_right_a_pass_by_its_new_form_frees(
    tested: Machine, fitter: User, foreman: User
) -> None:
    class_i(tested, fitter, readings=CLASS_I | {"earth": ohm("> 19.99")})
    work(Job.objects.get(), fitter)
    Machine.objects.filter(pk=tested.pk).update(protection="II")
    readings = {key: each for key, each in CLASS_I.items() if key != "earth"}
    class_i(
        tested, fitter, form="class_2_110", readings=readings, lead=None,
        at=MONDAY + timedelta(hours=1),
    )  # fmt: skip

    release_machine(machine=tested, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=foreman)

    assert not Stop.objects.standing().exists()


def test_a_note_is_freed_by_name_too(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    report_fault(
        machine=machine, part="stands_level", told="flat", stop_now=False, at=MONDAY, by=operator
    )
    stop = Stop.objects.get()
    until = date(2026, 3, 20)
    decide_stop(
        stop=stop,
        carry_on_until=until,
        reason="on level ground only",
        answer="Level ground only.",
        at=MONDAY,
        by=foreman,
    )
    work(Job.objects.get(), fitter)

    release_machine(machine=machine, frees=[stop], looks=RIGHT, at=LATER, by=foreman)

    machine.refresh_from_db()
    assert fitness_of(machine, MONDAY.date()).mark == "OK to use"


def test_safety_work_that_stopped_nothing_is_closed_by_the_same_look(
    machine: Machine, fitter: User, foreman: User
) -> None:
    job = open_job(
        machine=machine, kind=Job.Kind.BELT, title="New guard", at=MONDAY, by=fitter, is_safety=True
    )
    work(job, fitter)

    release_machine(machine=machine, frees=[], jobs=[job], looks=RIGHT, at=LATER, by=foreman)

    job.refresh_from_db()
    assert job.state == "closed"


def test_signed_twice_it_is_one_record(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    work(fault(machine, operator), fitter)
    record_id = new_id()
    stops = list(Stop.objects.all())

    for _ in range(2):
        release_machine(
            machine=machine, frees=stops, looks=RIGHT, at=LATER, by=foreman, record_id=record_id
        )

    assert Record.objects.filter(kind=Record.Kind.RELEASE).count() == 1


def test_another_machines_stop_is_not_freed(
    machine: Machine, depot: Depot, operator: User, fitter: User, foreman: User
) -> None:
    other = make_machine(depot)
    work(fault(other, operator), fitter)

    with pytest.raises(Refused, match="not of this machine"):
        release_machine(
            machine=machine, frees=Stop.objects.all(), looks=RIGHT, at=LATER, by=foreman
        )
    assert Stop.objects.standing().count() == 1
