"""The day sheet: given out without a mouse, taken back, put in order, and who is there."""

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.day import change_place, plan_job, set_fitter_day, take_back
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, give_out, open_job, start_job
from maintenance.contents.day import day_sheet
from maintenance.models import ClosedDay, FitterDay, Job, WeekDay
from make import make_machine, make_user
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Role, User

TODAY = now().date()
ALL = [key for key, _ in ISOLATED]


@pytest.fixture
def second(depot: Depot) -> User:
    return make_user("Sefa Second", (depot, Role.FITTER))


@pytest.fixture
def jobs(machine: Machine, fitter: User) -> list[Job]:
    return [
        open_job(machine=machine, kind=Job.Kind.SERVICE, title=f"Work {n}", at=now(), by=fitter)
        for n in range(3)
    ]


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def act(user: User, **data: Any) -> Any:
    given = {"entry": str(uuid.uuid4()), "for_day": TODAY.isoformat(), "act": "give"} | data
    where = reverse("maintenance:give_out_day")
    return signed_in(user).post(f"{where}?on={TODAY}", given)


def page(user: User, **query: Any) -> str:
    return signed_in(user).get(reverse("maintenance:day"), query).content.decode()


def column(depot: Depot, person: User, on: date = TODAY) -> list[str]:
    sheet = day_sheet(depot, on=on, today=TODAY)
    return [j.title for c in sheet.columns if c.person == person for j in c.jobs]


def give(jobs: list[Job], to: User, by: User, on: date = TODAY) -> None:
    for job in jobs:
        give_out(job=job, to=to, for_day=on, at=now(), by=by)


def test_choose_a_job_choose_a_person_give_out(
    depot: Depot, jobs: list[Job], fitter: User, foreman: User
) -> None:
    assert "3 jobs not given out" in page(foreman)

    response = act(foreman, job=jobs[1].pk, to=fitter.pk)

    assert response.status_code == 302
    assert response["Location"].endswith(f"&job={jobs[1].pk}")
    assert column(depot, fitter) == ["Work 1"]
    assert "2 jobs not given out" in page(foreman)
    jobs[1].refresh_from_db()
    assert (jobs[1].state, jobs[1].given_for) == ("given out", TODAY)


def test_sent_twice_it_is_given_once(
    depot: Depot, jobs: list[Job], fitter: User, foreman: User
) -> None:
    for _ in range(2):
        assert act(foreman, job=jobs[0].pk, to=fitter.pk).status_code == 302

    assert column(depot, fitter) == ["Work 0"]


def test_given_to_somebody_else_for_another_day(
    depot: Depot, jobs: list[Job], fitter: User, second: User, foreman: User
) -> None:
    act(foreman, job=jobs[0].pk, to=fitter.pk)
    tomorrow = TODAY + timedelta(days=1)

    act(foreman, job=jobs[0].pk, to=second.pk, for_day=tomorrow.isoformat())

    assert (column(depot, fitter), column(depot, second)) == ([], [])
    assert column(depot, second, tomorrow) == ["Work 0"]


@pytest.mark.parametrize(
    ("left_out", "words"),
    [("to", "Choose a person first."), ("job", "Choose a job first."), ("for_day", "Fill this in")],
)
def test_what_is_missing_is_said_and_the_rest_kept(
    jobs: list[Job], fitter: User, foreman: User, left_out: str, words: str
) -> None:
    given = {"job": jobs[0].pk, "to": fitter.pk} | {left_out: ""}

    response = act(foreman, **given)

    assert response.status_code == 422
    assert words in response.content.decode()
    if left_out != "job":
        assert f'value="{jobs[0].pk}" checked' in response.content.decode()


def test_taken_back_it_is_nobodys(
    depot: Depot, jobs: list[Job], fitter: User, foreman: User
) -> None:
    act(foreman, job=jobs[0].pk, to=fitter.pk)

    assert act(foreman, job=jobs[0].pk, act="back").status_code == 302

    jobs[0].refresh_from_db()
    assert (jobs[0].state, jobs[0].given_to, jobs[0].given_for) == ("looked at", None, None)
    assert act(foreman, job=jobs[0].pk, act="back").status_code == 422


def test_begun_work_is_neither_taken_back_nor_given_to_another(
    jobs: list[Job], fitter: User, second: User, foreman: User
) -> None:
    start_job(job=jobs[0], confirmed=ALL, at=now(), by=fitter)

    with pytest.raises(Refused, match="not begun"):
        take_back(job=jobs[0], at=now(), by=foreman)
    assert act(foreman, job=jobs[0].pk, to=second.pk).status_code == 422


def test_the_order_is_changed_and_kept(
    depot: Depot, jobs: list[Job], fitter: User, foreman: User
) -> None:
    give(jobs, fitter, foreman)
    assert column(depot, fitter) == ["Work 0", "Work 1", "Work 2"]

    act(foreman, job=jobs[2].pk, act="earlier")
    assert column(depot, fitter) == ["Work 0", "Work 2", "Work 1"]
    for _ in range(4):
        change_place(job=jobs[0], earlier=False, at=now(), by=foreman)
    assert column(depot, fitter) == ["Work 2", "Work 1", "Work 0"]

    taken = take_back(job=jobs[1], at=now(), by=foreman)
    with pytest.raises(Refused, match="nobody's day"):
        change_place(job=taken, earlier=True, at=now(), by=foreman)


@pytest.mark.usefixtures("rule_sheet")
def test_an_undecided_fault_is_decided_before_it_can_be_chosen(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    job = report_fault(
        machine=machine, part="paint", told="flakes", stop_now=False, at=now(), by=operator
    )

    assert f"Decide on {job.number} first" in page(foreman)
    assert act(foreman, job=job.pk, to=fitter.pk).status_code == 422


def test_safety_first_then_promised_then_due(
    depot: Depot, machine: Machine, jobs: list[Job], fitter: User, foreman: User
) -> None:
    plan_job(job=jobs[2], minutes=20, promised_at=now() + timedelta(hours=3), at=now(), by=foreman)
    Job.objects.filter(pk=jobs[1].pk).update(due_on=TODAY)
    open_job(
        machine=machine, kind=Job.Kind.BELT, title="Guard", is_safety=True, at=now(), by=fitter
    )

    left = day_sheet(depot, on=TODAY, today=TODAY).left

    assert [job.title for job in left] == ["Guard", "Work 2", "Work 1", "Work 0"]


def test_the_hours_of_the_day_are_shared_and_somebody_off_has_none(
    depot: Depot, jobs: list[Job], fitter: User, second: User, foreman: User
) -> None:
    WeekDay.objects.create(depot=depot, weekday=TODAY.weekday(), fitter_minutes=900)
    plan_job(job=jobs[0], minutes=100, promised_at=None, at=now(), by=foreman)
    give(jobs[:2], fitter, foreman)
    assert "100 of 450 min, 1 job without an estimate" in page(foreman)

    where = reverse("maintenance:fitter_day", args=[fitter.pk])
    off = {"entry": str(uuid.uuid4()), "minutes": ["", "0"]}
    assert signed_in(foreman).post(f"{where}?on={TODAY}", off).status_code == 302

    shown = page(foreman)
    assert "Off this day, yet 100 min given out" in shown
    signed_in(foreman).post(f"{where}?on={TODAY}", off | {"minutes": ""})
    assert not FitterDay.objects.exists()


def test_a_closed_day_says_so(depot: Depot, fitter: User, foreman: User) -> None:
    ClosedDay.objects.create(depot=depot, on=TODAY, name="Stock-taking")

    assert "The depot is closed: Stock-taking" in page(foreman)
    assert "Off this day" in page(foreman)


def test_what_was_given_for_a_day_past_and_not_begun_comes_back_to_the_left(
    depot: Depot, jobs: list[Job], fitter: User, foreman: User
) -> None:
    give(jobs, fitter, foreman)
    start_job(job=jobs[1], confirmed=ALL, at=now(), by=fitter)
    later = TODAY + timedelta(days=2)

    sheet = day_sheet(depot, on=later, today=later)

    assert sorted(job.title for job in sheet.left) == ["Work 0", "Work 2"]
    assert [j.title for c in sheet.columns for j in c.jobs] == ["Work 1"]


def test_a_fitter_sees_the_day_and_gives_nothing_out(
    jobs: list[Job], fitter: User, operator: User, outsider: User
) -> None:
    shown = page(fitter)
    assert "Work 0" in shown
    assert "Give out" not in shown
    assert act(fitter, job=jobs[0].pk, to=fitter.pk).status_code == 403
    assert signed_in(operator).get(reverse("maintenance:day")).status_code == 403
    assert "Work 0" not in page(outsider)


def test_another_depots_day_job_or_person_is_not_there(
    depot: Depot, jobs: list[Job], fitter: User, outsider: User, other_depot: Depot
) -> None:
    assert act(outsider, job=jobs[0].pk, to=outsider.pk).status_code == 422
    assert "Work 0" not in page(outsider, depot=depot.pk)
    hours = reverse("maintenance:fitter_day", args=[fitter.pk])
    assert signed_in(outsider).get(f"{hours}?depot={depot.pk}").status_code == 404
    jobs[0].refresh_from_db()
    assert jobs[0].given_to is None


def test_nobody_of_another_depot_is_given_hours_here(
    depot: Depot, outsider: User, foreman: User
) -> None:
    with pytest.raises(Refused, match="no jobs at this depot"):
        set_fitter_day(depot=depot, person=outsider, on=TODAY, minutes=60, by=foreman)


@pytest.mark.parametrize("on", ["yesterday", "0000-00-00", "2026-02-30", "9999-12-31", "'"])
def test_a_day_that_cannot_be_read_is_today(foreman: User, on: str) -> None:
    assert f"{TODAY:%-d %B %Y}" in page(foreman, on=on)


def test_a_promise_is_for_today_or_later(jobs: list[Job], foreman: User) -> None:
    with pytest.raises(Refused, match="That day is past"):
        plan_job(
            job=jobs[0], minutes=None, promised_at=now() - timedelta(days=2), at=now(), by=foreman
        )


def test_sixty_jobs_and_eight_fitters_cost_as_many_queries_as_three_and_one(
    depot: Depot, jobs: list[Job], fitter: User, foreman: User
) -> None:
    def cost() -> int:
        client = signed_in(foreman)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(reverse("maintenance:day")).status_code == 200
        return len(asked)

    give(jobs[:1], fitter, foreman)
    few = cost()
    people = [make_user(f"Fitter {n}", (depot, Role.FITTER)) for n in range(7)]
    for n in range(57):
        job = open_job(
            machine=make_machine(depot), kind=Job.Kind.BELT, title="x", at=now(), by=fitter
        )
        if n % 2:
            give([job], people[n % 7], foreman)

    assert cost() == few
    assert few <= 25
