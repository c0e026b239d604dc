"""Back again inside 30 days: linked by itself, whoever reports it and however."""

from datetime import datetime, timedelta

import pytest

from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.work_done import Part, close_job, finish_job
from maintenance.models import Job, Stop
from make import MONDAY, make_machine
from plant.models import Depot, Machine, User

ALL = [key for key, _ in ISOLATED]
pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")


def do(
    job: Job,
    by: User,
    *,
    at: datetime,
    symptom: str = "as told",
    part: str = "",
) -> None:
    start_job(job=job, confirmed=ALL, at=at, by=by)
    finish_job(
        job=job, symptom=symptom, cause="worn", action="new one", minutes=20, at=at, by=by,
        parts=[Part(what=part)] if part else [],
    )  # fmt: skip


def fault(machine: Machine, by: User, *, at: datetime, part: str = "drum", told: str) -> Job:
    return report_fault(machine=machine, part=part, told=told, stop_now=True, at=at, by=by)


@pytest.fixture
def first(machine: Machine, operator: User, fitter: User, foreman: User) -> Job:
    """The drum ground, was mended and released on that day."""
    job = fault(machine, operator, at=MONDAY, told="grinds")
    do(job, fitter, at=MONDAY, part="Drum bearing 6203")
    release_machine(
        machine=machine, frees=Stop.objects.standing(), looks={k: "right" for k, _ in LOOKS},
        at=MONDAY, by=foreman,
    )  # fmt: skip
    job.refresh_from_db()
    assert job.state == "closed"
    return job


def again(job: Job) -> Job | None:
    job.refresh_from_db()
    return job.back_again_of


def test_the_same_item_on_the_same_machine_within_30_days(
    first: Job, machine: Machine, operator: User
) -> None:
    at = MONDAY + timedelta(days=30)

    assert again(fault(machine, operator, at=at, told="squeals now")) == first


def test_not_after_31_days_nor_on_another_machine_nor_another_item(
    first: Job, machine: Machine, depot: Depot, operator: User
) -> None:
    soon = MONDAY + timedelta(days=3)
    other = make_machine(depot, "MX-9", kind=machine.kind)

    assert again(fault(other, operator, at=soon, told="grinds")) is None
    assert again(fault(machine, operator, at=soon, part="paint", told="flakes")) is None
    assert again(fault(machine, operator, at=MONDAY + timedelta(days=31), told="x")) is None


def test_the_same_symptom_in_other_letters(first: Job, machine: Machine, fitter: User) -> None:
    job = open_job(
        machine=machine, kind=Job.Kind.BELT, title="Look at it", symptom="As  Told!",
        at=MONDAY + timedelta(days=3), by=fitter,
    )  # fmt: skip

    assert again(job) == first


def test_the_same_part_tells_when_it_goes_in(first: Job, machine: Machine, fitter: User) -> None:
    at = MONDAY + timedelta(days=5)
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="Noise", at=at, by=fitter)
    assert again(job) is None

    do(job, fitter, at=at, symptom="noise", part="drum bearing 6203")

    assert again(job) == first


def test_a_job_that_is_open_or_called_off_is_no_job_before(machine: Machine, fitter: User) -> None:
    for state in (Job.State.UNDER_WAY, Job.State.CALLED_OFF, Job.State.DONE):
        job = open_job(machine=machine, kind=Job.Kind.BELT, title="Noise", at=MONDAY, by=fitter)
        assert again(job) is None
        Job.objects.filter(pk=job.pk).update(state=state, closed_at=MONDAY)


def test_work_that_a_plan_asks_for_is_never_back_again(
    first: Job, machine: Machine, fitter: User
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=800))
    for days in (1, 9):
        raise_due_work(depot=machine.depot, at=MONDAY + timedelta(days=days))
    assert Job.objects.filter(due_line__isnull=False).exists()

    assert not Job.objects.filter(back_again_of__isnull=False).exists()


def test_work_opened_by_hand_goes_back_to_work_opened_by_hand(
    machine: Machine, fitter: User
) -> None:
    job = open_job(machine=machine, kind=Job.Kind.SERVICE, title="Grease", at=MONDAY, by=fitter)
    do(job, fitter, at=MONDAY, symptom="dry")
    close_job(job=job, at=MONDAY, by=fitter)
    at = MONDAY + timedelta(days=2)

    later = open_job(machine=machine, kind=Job.Kind.SERVICE, title="grease", at=at, by=fitter)

    assert again(later) == job
