"""The list of jobs, and one job from start to close."""

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.job import ISOLATED, open_job
from maintenance.models import Job, Labour, PartUsed
from make import make_machine
from plant.models import Depot, Machine, User

ALL = [key for key, _ in ISOLATED]


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def post(user: User, name: str, job: Job, **data: Any) -> Any:
    given = {"entry": str(uuid.uuid4())} | data
    return signed_in(user).post(reverse(f"maintenance:{name}", args=[job.pk]), given)


WORK = {
    "symptom": "slips",
    "cause": "worn belt",
    "action": "new belt",
    "minutes": "35",
    "part_1": "V-belt 13A690",
    "quantity_1": "1",
    "from_1": "van",
}


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    return open_job(
        machine=machine, kind=Job.Kind.SERVICE, title="Grease the ring", at=now(), by=fitter
    )


def test_from_start_to_close(job: Job, machine: Machine, fitter: User) -> None:
    assert post(fitter, "start_job", job, confirmed=ALL).status_code == 302
    assert post(fitter, "finish_job", job, **WORK).status_code == 302
    assert post(fitter, "close_job", job).status_code == 302

    job.refresh_from_db()
    assert (job.state, job.closed_by) == ("closed", fitter)
    page = signed_in(fitter).get(reverse("maintenance:job", args=[job.pk])).content.decode()
    for part in ("Checked and closed", "35 min", "1 of V-belt 13A690", "from van"):
        assert part in page


def test_not_isolated_comes_back_with_the_ticks_kept(job: Job, fitter: User) -> None:
    response = post(fitter, "start_job", job, confirmed=ALL[:2])

    page = response.content.decode()
    assert response.status_code == 422
    assert "Isolate first." in page
    assert page.count(" checked") == 2
    job.refresh_from_db()
    assert job.state == "reported"


def test_work_done_with_a_blank_keeps_what_was_typed(job: Job, fitter: User) -> None:
    post(fitter, "start_job", job, confirmed=ALL)

    response = post(fitter, "finish_job", job, **{**WORK, "cause": ""})

    page = response.content.decode()
    assert response.status_code == 422
    assert "new belt" in page
    assert 'value="V-belt 13A690"' in page
    assert Labour.objects.count() == 0


def test_closed_twice_says_so_and_takes_no_part_twice(
    job: Job, fitter: User, foreman: User
) -> None:
    post(fitter, "start_job", job, confirmed=ALL)
    entry = str(uuid.uuid4())
    for _ in range(2):
        assert post(fitter, "finish_job", job, **WORK, entry=entry).status_code == 302
    assert PartUsed.objects.count() == 1

    joined = {"symptom": "slips", "cause": "worn", "action": "guard on", "minutes": "10"}
    assert post(foreman, "finish_job", job, **joined).status_code == 302
    assert sorted(Labour.objects.values_list("minutes", flat=True)) == [10, 35]

    assert post(fitter, "close_job", job).status_code == 302
    again = post(fitter, "close_job", job)
    assert again.status_code == 422
    assert "stays so" in again.content.decode()


def test_the_second_sees_what_the_first_wrote(job: Job, fitter: User, foreman: User) -> None:
    post(fitter, "start_job", job, confirmed=ALL)
    post(fitter, "finish_job", job, **WORK)

    page = signed_in(foreman).get(reverse("maintenance:finish_job", args=[job.pk]))

    assert "worn belt" in page.content.decode()
    assert "Already written" in page.content.decode()


def test_given_out_and_called_off_by_the_foreman_alone(
    job: Job, fitter: User, foreman: User
) -> None:
    day = now().date().isoformat()
    assert post(fitter, "give_out_job", job, to=fitter.pk, for_day=day).status_code == 403
    assert post(fitter, "call_off_job", job, reason="not needed").status_code == 403

    assert post(foreman, "give_out_job", job, to=fitter.pk, for_day=day).status_code == 302
    assert post(foreman, "call_off_job", job, reason="not needed").status_code == 302

    job.refresh_from_db()
    assert job.state == "called off"


def test_a_job_waits_for_something_named(job: Job, fitter: User) -> None:
    post(fitter, "start_job", job, confirmed=ALL)
    assert post(fitter, "wait_job", job, waiting_for="weather").status_code == 422

    assert post(fitter, "wait_job", job, waiting_for="part").status_code == 302
    page = signed_in(fitter).get(reverse("maintenance:job_list")).content.decode()

    assert "Waiting" in page
    assert "for part" in page


def test_a_job_is_opened_on_a_machine(machine: Machine, fitter: User, operator: User) -> None:
    where = reverse("maintenance:add_job", args=[machine.pk])
    data = {"entry": str(uuid.uuid4()), "kind": "belt", "title": "New belt"}
    assert signed_in(operator).post(where, data).status_code == 403

    signed_in(fitter).post(where, data)

    assert Job.objects.get().title == "New belt"


def test_another_depots_job_does_not_exist(job: Job, outsider: User) -> None:
    client = signed_in(outsider)

    for name in ("job", "start_job", "finish_job", "close_job", "call_off_job", "give_out_job"):
        assert client.get(reverse(f"maintenance:{name}", args=[job.pk])).status_code == 404
    assert "Grease the ring" not in client.get(reverse("maintenance:job_list")).content.decode()


def test_the_list_filters_and_counts_in_words(
    job: Job, machine: Machine, depot: Depot, fitter: User, foreman: User
) -> None:
    post(fitter, "start_job", job, confirmed=ALL)
    other = make_machine(depot, "QQ-999")
    open_job(machine=other, kind=Job.Kind.BELT, title="New belt", at=now(), by=fitter)
    client = signed_in(fitter)

    def listed(**query: str) -> str:
        return client.get(reverse("maintenance:job_list"), query).content.decode()

    assert "2 open jobs" in listed()
    assert "1 reported, 1 under way" in listed()
    for query, shown in (
        ({"state": "under way"}, True),
        ({"state": "reported"}, False),
        ({"mine": "1"}, True),
        ({"mine": "none"}, False),
        ({"kind": "service"}, True),
        ({"q": "mx 203"}, True),
        ({"q": "QQ"}, False),
        ({"state": "closed"}, False),
    ):
        assert ("Grease the ring" in listed(**query)) is shown, query


def test_the_list_costs_no_query_a_row(depot: Depot, machine: Machine, fitter: User) -> None:
    client = signed_in(fitter)
    counts = []
    for more in (1, 20):
        for _ in range(more):
            open_job(machine=machine, kind=Job.Kind.BELT, title="Belt", at=now(), by=fitter)
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("maintenance:job_list"))
        counts.append(len(queries))

    assert counts[0] == counts[1]


def test_an_empty_list_says_how_to_begin(depot: Depot, fitter: User) -> None:
    page = signed_in(fitter).get(reverse("maintenance:job_list")).content.decode()

    assert "0 open jobs" in page
    assert "stands here by itself" in page
