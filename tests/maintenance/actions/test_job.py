"""Jobs from opening to close, alone and for two."""

from datetime import date, timedelta
from functools import partial

import pytest

from maintenance.actions.fault import report_fault
from maintenance.actions.job import (
    ISOLATED,
    call_off_job,
    give_out,
    isolate_job,
    open_job,
    start_job,
    wait_job,
)
from maintenance.actions.plan import give_plans
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stop import stop_machine
from maintenance.actions.work_done import (
    Part,
    close_job,
    countersign_job,
    finish_job,
    send_back_job,
)
from maintenance.contents.record import summary
from maintenance.models import DueLine, Job, Labour, PartUsed, PlanLine, Skill
from make import MONDAY, make_competence, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Membership, Record, Role, User

ALL = [key for key, _ in ISOLATED]
WORK = {"symptom": "slips when loaded", "cause": "worn belt", "action": "new belt, tension set"}
BELT = Part(what="V-belt 13A690", quantity=1, taken_from="van")


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    return open_job(
        machine=machine, kind=Job.Kind.SERVICE, title="Grease the ring", at=MONDAY, by=fitter
    )


@pytest.fixture
def under_way(job: Job, foreman: User, fitter: User) -> Job:
    give_out(job=job, to=fitter, for_day=MONDAY.date(), at=MONDAY, by=foreman)
    return start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)


def test_given_out_to_a_person_for_a_day(job: Job, foreman: User, fitter: User) -> None:
    job = give_out(job=job, to=fitter, for_day=date(2026, 3, 3), at=MONDAY, by=foreman)

    assert (job.state, job.given_to, job.given_for) == ("given out", fitter, date(2026, 3, 3))
    assert job.state_since == MONDAY


def test_not_given_to_who_does_no_work_here(job: Job, foreman: User, outsider: User) -> None:
    with pytest.raises(Refused) as refused:
        give_out(job=job, to=outsider, for_day=MONDAY.date(), at=MONDAY, by=foreman)

    assert refused.value.field == "to"


def test_a_fitter_gives_nothing_out(job: Job, fitter: User) -> None:
    with pytest.raises(PermissionError):
        give_out(job=job, to=fitter, for_day=MONDAY.date(), at=MONDAY, by=fitter)


@pytest.mark.parametrize("left_out", ALL)
def test_no_work_begins_before_all_is_isolated(job: Job, fitter: User, left_out: str) -> None:
    with pytest.raises(Refused, match="Isolate first"):
        start_job(job=job, confirmed=[key for key in ALL if key != left_out], at=MONDAY, by=fitter)

    job.refresh_from_db()
    assert (job.state, job.isolated_by) == ("reported", None)


def test_started_by_the_fitter_himself_it_keeps_who_isolated_it(job: Job, fitter: User) -> None:
    job = start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)

    assert (job.state, job.isolated_by, job.isolated_at) == ("under way", fitter, MONDAY)
    assert job.given_to == fitter


@pytest.mark.usefixtures("rule_sheet")
def test_an_undecided_fault_is_decided_before_anybody_starts(
    machine: Machine, operator: User, fitter: User
) -> None:
    job = report_fault(
        machine=machine, part="paint", told="flakes", stop_now=False, at=MONDAY, by=operator
    )

    with pytest.raises(Refused, match="Decide first"):
        start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)


def test_a_test_needs_the_supply_so_it_starts_without(machine: Machine, fitter: User) -> None:
    job = open_job(machine=machine, kind=Job.Kind.TEST, title="RCD", at=MONDAY, by=fitter)

    assert start_job(job=job, confirmed=[], at=MONDAY, by=fitter).isolated_at is None


def test_waiting_says_for_what_and_goes_on(under_way: Job, fitter: User) -> None:
    job = wait_job(
        job=under_way, waiting_for="part", expected_on=date(2026, 3, 9), at=MONDAY, by=fitter
    )
    assert (job.state, job.waiting_for) == ("waiting", "part")

    job = start_job(job=job, confirmed=ALL, at=MONDAY + timedelta(days=1), by=fitter)

    assert (job.state, job.waiting_for, job.expected_on) == ("under way", "", None)
    assert job.isolated_at == MONDAY + timedelta(days=1)


def test_waiting_longer_keeps_since_when(under_way: Job, fitter: User) -> None:
    wait_job(job=under_way, waiting_for="part", at=MONDAY, by=fitter)

    later = MONDAY + timedelta(days=4)
    job = wait_job(
        job=under_way, waiting_for="help", expected_on=date(2026, 3, 12), at=later, by=fitter
    )

    assert (job.waiting_for, job.expected_on) == ("help", date(2026, 3, 12))
    assert job.state_since == MONDAY
    with pytest.raises(Refused, match="what it waits for"):
        wait_job(job=under_way, waiting_for="weather", at=later, by=fitter)


def test_nothing_is_expected_on_a_day_past(under_way: Job, fitter: User) -> None:
    with pytest.raises(Refused, match="That day is past") as refused:
        wait_job(
            job=under_way, waiting_for="part", expected_on=date(2026, 3, 1), at=MONDAY, by=fitter
        )

    assert refused.value.field == "expected_on"


def test_waiting_for_something_else_is_refused(under_way: Job, fitter: User) -> None:
    with pytest.raises(Refused, match="what it waits for"):
        wait_job(job=under_way, waiting_for="weather", at=MONDAY, by=fitter)


def test_isolated_afresh_by_a_second_person(under_way: Job, foreman: User) -> None:
    at = MONDAY + timedelta(hours=2)

    job = isolate_job(job=under_way, confirmed=ALL, at=at, by=foreman)

    assert (job.isolated_by, job.isolated_at) == (foreman, at)


def test_work_done_is_sealed_with_its_time_and_parts(under_way: Job, fitter: User) -> None:
    record = finish_job(job=under_way, **WORK, minutes=35, parts=[BELT], at=MONDAY, by=fitter)

    under_way.refresh_from_db()
    assert (under_way.state, under_way.done_by) == ("work done", fitter)
    assert under_way.cause == "worn belt"
    assert Labour.objects.get().minutes == 35
    assert (PartUsed.objects.get().what, PartUsed.objects.get().taken_from) == (
        "V-belt 13A690",
        "van",
    )
    assert record.kind == Record.Kind.JOB
    assert '"typed":"35 min"' in record.content
    assert "worn belt" not in record.content


@pytest.mark.parametrize("blank", ["symptom", "cause", "action"])
def test_all_three_are_needed(under_way: Job, fitter: User, blank: str) -> None:
    with pytest.raises(Refused) as refused:
        finish_job(job=under_way, **{**WORK, blank: ""}, minutes=35, at=MONDAY, by=fitter)

    assert refused.value.field == blank
    assert Record.objects.count() == 0


def test_cause_not_found_is_an_answer(under_way: Job, fitter: User) -> None:
    finish_job(job=under_way, **{**WORK, "cause": "not found"}, minutes=5, at=MONDAY, by=fitter)

    under_way.refresh_from_db()
    assert under_way.cause == "not found"


@pytest.mark.parametrize("minutes", [0, 1441])
def test_minutes_out_of_range(under_way: Job, fitter: User, minutes: int) -> None:
    with pytest.raises(Refused, match="1 to 1440"):
        finish_job(job=under_way, **WORK, minutes=minutes, at=MONDAY, by=fitter)


def test_not_started_is_not_finished(job: Job, fitter: User) -> None:
    with pytest.raises(Refused, match="Start the job first"):
        finish_job(job=job, **WORK, minutes=10, at=MONDAY, by=fitter)


def test_the_second_closer_joins_and_nothing_is_lost(
    under_way: Job, fitter: User, foreman: User
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, parts=[BELT], at=MONDAY, by=fitter)
    guard = Part(what="Guard screw M6", quantity=4)

    second = finish_job(
        job=under_way,
        symptom="guard loose",
        cause="screws missing",
        action="guard fixed",
        minutes=10,
        parts=[guard],
        at=MONDAY + timedelta(minutes=20),
        by=foreman,
    )

    under_way.refresh_from_db()
    assert (under_way.done_by, under_way.cause) == (fitter, "worn belt")
    assert sorted(Labour.objects.values_list("person__name", "minutes")) == [
        ("Finn Fitter", 35),
        ("Freya Foreman", 10),
    ]
    assert sorted(PartUsed.objects.values_list("what", "quantity")) == [
        ("Guard screw M6", 4),
        ("V-belt 13A690", 1),
    ]
    assert second.texts.get(name="cause").text == "screws missing"


def test_the_same_submission_takes_no_part_twice(under_way: Job, fitter: User) -> None:
    record_id = new_id()

    for _ in range(3):
        finish_job(
            job=under_way,
            **WORK,
            minutes=35,
            parts=[BELT],
            at=MONDAY,
            by=fitter,
            record_id=record_id,
        )

    assert [PartUsed.objects.count(), Labour.objects.count(), Record.objects.count()] == [1, 1, 1]


def test_closed_once_and_no_way_back(under_way: Job, fitter: User) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=fitter)
    job = close_job(job=under_way, at=MONDAY, by=fitter)
    assert (job.state, job.closed_by) == ("closed", fitter)

    with pytest.raises(Refused, match="stays so"):
        close_job(job=under_way, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="stays so"):
        finish_job(job=under_way, **WORK, minutes=5, at=MONDAY, by=fitter)


@pytest.mark.usefixtures("rule_sheet")
def test_what_stopped_the_machine_is_not_closed_without_a_release(
    machine: Machine, operator: User, fitter: User
) -> None:
    job = report_fault(
        machine=machine, part="drum", told="grinds", stop_now=False, at=MONDAY, by=operator
    )
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    finish_job(job=job, **WORK, minutes=35, at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="release check"):
        close_job(job=job, at=MONDAY, by=fitter)


@pytest.fixture
def learner(depot: Depot) -> User:
    learner = make_user("Lena Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)
    return learner


@pytest.mark.usefixtures("competent")
def test_a_learners_work_is_closed_only_after_somebody_competent_countersigned_it(
    under_way: Job, learner: User, fitter: User, foreman: User
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=learner)
    under_way.refresh_from_db()
    assert under_way.countersign_wanted

    with pytest.raises(Refused, match="learner"):
        close_job(job=under_way, at=MONDAY, by=learner)
    with pytest.raises(Refused, match="countersigns it first"):
        close_job(job=under_way, at=MONDAY, by=fitter)
    record = countersign_job(job=under_way, at=MONDAY, by=foreman)

    assert summary(record) == f"Countersigned: {under_way.number}: work of Lena Learner"
    assert (record.by, record.texts.get(name="learner_1").text) == (foreman, "Lena Learner")
    with pytest.raises(Refused, match="learner"):
        close_job(job=under_way, at=MONDAY, by=learner)
    assert close_job(job=under_way, at=MONDAY, by=fitter).state == "closed"


def test_who_is_not_competent_countersigns_nothing(
    under_way: Job, learner: User, fitter: User
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=learner)

    with pytest.raises(Refused, match="no competence for countersigning a learner's work"):
        countersign_job(job=under_way, at=MONDAY, by=fitter)


@pytest.mark.usefixtures("competent")
def test_who_was_the_learner_then_countersigns_his_own_work_never(
    under_way: Job, learner: User, depot: Depot
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=learner)
    Membership.objects.filter(user=learner).update(learner=False)
    make_competence(learner, depot, Skill.COUNTERSIGN)

    with pytest.raises(Refused, match="their own work"):
        countersign_job(job=under_way, at=MONDAY, by=learner)


@pytest.mark.usefixtures("competent")
def test_countersigned_twice_is_sealed_once_and_other_work_waits_for_nothing(
    under_way: Job, learner: User, fitter: User, foreman: User
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=learner)
    entry = new_id()
    for _ in range(2):
        countersign_job(job=under_way, at=MONDAY, by=foreman, record_id=entry, note="Looked well")
    assert Record.objects.filter(kind=Record.Kind.JOB).count() == 2

    with pytest.raises(Refused, match="Nothing here waits"):
        countersign_job(job=under_way, at=MONDAY, by=foreman)
    finish_job(job=under_way, **WORK, minutes=5, at=MONDAY, by=fitter)
    under_way.refresh_from_db()
    assert not under_way.countersign_wanted


@pytest.mark.usefixtures("competent")
def test_a_learner_who_adds_to_work_that_was_countersigned_waits_again(
    under_way: Job, learner: User, foreman: User
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=learner)
    countersign_job(job=under_way, at=MONDAY, by=foreman)

    finish_job(job=under_way, **WORK, minutes=5, at=MONDAY, by=learner)

    under_way.refresh_from_db()
    assert under_way.countersign_wanted


@pytest.mark.usefixtures("competent")
def test_a_machine_is_not_released_over_a_learners_work(
    machine: Machine, learner: User, foreman: User, operator: User
) -> None:
    stop = stop_machine(machine=machine, told="smokes", at=MONDAY, by=operator)
    assert stop.job is not None
    start_job(job=stop.job, confirmed=ALL, at=MONDAY, by=learner)
    finish_job(job=stop.job, **WORK, minutes=35, at=MONDAY, by=learner)
    release = partial(
        release_machine, machine=machine, frees=[stop],
        looks={key: "right" for key, _ in LOOKS}, at=MONDAY, by=foreman,
    )  # fmt: skip

    with pytest.raises(Refused, match="Countersign that first"):
        release()
    countersign_job(job=stop.job, at=MONDAY, by=foreman)
    release()

    stop.job.refresh_from_db()
    assert stop.job.state == "closed"


def test_sent_back_with_a_reason_it_is_isolated_again(
    under_way: Job, fitter: User, foreman: User
) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=fitter)
    with pytest.raises(Refused):
        send_back_job(job=under_way, reason="", at=MONDAY, by=foreman)

    entry = new_id()
    for _ in range(2):
        job = send_back_job(
            job=under_way, reason="guard still on the bench", at=MONDAY, by=foreman,
            record_id=entry,
        )  # fmt: skip

    assert (job.state, job.isolated_at, job.done_by) == ("under way", None, None)
    assert Labour.objects.count() == 1
    told = Record.objects.filter(kind=Record.Kind.JOB).order_by("seq").last()
    assert told is not None
    assert summary(told) == f"Sent back: {job.number}: guard still on the bench"
    assert Record.objects.count() == 2


def test_a_learner_sends_nothing_back(under_way: Job, fitter: User, learner: User) -> None:
    finish_job(job=under_way, **WORK, minutes=35, at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="learner sends nothing back"):
        send_back_job(job=under_way, reason="not good", at=MONDAY, by=learner)


def test_called_off_with_a_reason(job: Job, foreman: User) -> None:
    with pytest.raises(Refused) as refused:
        call_off_job(job=job, reason=" ", at=MONDAY, by=foreman)
    assert refused.value.field == "reason"

    job = call_off_job(job=job, reason="repeats J-1042", at=MONDAY, by=foreman)

    assert (job.state, job.called_off_because) == ("called off", "repeats J-1042")
    assert Record.objects.get().kind == Record.Kind.DECISION


def test_given_out_work_is_called_off_but_not_work_under_way(
    job: Job, foreman: User, fitter: User
) -> None:
    give_out(job=job, to=fitter, for_day=MONDAY.date(), at=MONDAY, by=foreman)
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="Waiting and Work done"):
        call_off_job(job=job, reason="not needed", at=MONDAY, by=foreman)

    wait_job(job=job, waiting_for="hirer", at=MONDAY, by=fitter)

    assert call_off_job(job=job, reason="not needed", at=MONDAY, by=foreman).state == "called off"


@pytest.mark.usefixtures("rule_sheet")
def test_a_closed_service_moves_its_due_line_on(machine: Machine, fitter: User) -> None:
    PlanLine.objects.create(
        kind=machine.kind,
        key="grease",
        title="Grease",
        every_months=3,
        source="common practice, no source",
        trust="common practice, no source",
    )
    give_plans([machine], at=MONDAY)
    due_line = DueLine.objects.get(line__key="grease")
    job = open_job(
        machine=machine, kind=Job.Kind.SERVICE, title="Grease", at=MONDAY, by=fitter,
        due_line=due_line, due_on=due_line.due_on,
    )  # fmt: skip
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    finish_job(job=job, **WORK, minutes=20, at=MONDAY, by=fitter)

    close_job(job=job, at=MONDAY + timedelta(days=3), by=fitter)

    due_line.refresh_from_db()
    assert due_line.last_done_on == MONDAY.date()
    assert due_line.last_done_tenths == 1000
    assert due_line.due_on == date(2026, 6, 2)
