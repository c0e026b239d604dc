"""The list of jobs by what is asked for, its order, its file; how often trouble returns."""

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.day import plan_job
from maintenance.actions.job import ISOLATED, give_out, open_job, start_job, wait_job
from maintenance.actions.work_done import close_job, countersign_job, finish_job
from maintenance.models import Job
from make import make_user
from plant.models import Depot, Machine, Membership, Role, User

ALL = [key for key, _ in ISOLATED]
WORK = {"symptom": "a", "cause": "b", "action": "c", "minutes": 20}


@pytest.fixture
def learner(depot: Depot) -> User:
    learner = make_user("Lena Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)
    return learner


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def opened(machine: Machine, title: str, by: User, **more: Any) -> Job:
    given = {"kind": Job.Kind.BELT, "at": now()} | more
    return open_job(machine=machine, title=title, by=by, **given)


def titles(client: Client, names: list[str], **query: str) -> list[str]:
    """Which of these stand in the list, in its order."""
    page = client.get(reverse("maintenance:job_list"), query).content.decode()
    rows = page.partition("<tbody>")[2]
    return sorted((name for name in names if name in rows), key=rows.index)


def test_each_filter_finds_its_jobs(
    machine: Machine, depot: Depot, fitter: User, foreman: User, learner: User
) -> None:
    guard = opened(machine, "Guard", fitter, is_safety=True)
    late, soon = opened(machine, "Late", fitter), opened(machine, "Soon", fitter)
    for job, part, days in ((late, "part", -1), (soon, "hirer", 3)):
        start_job(job=job, confirmed=ALL, at=now(), by=fitter)
        wait_job(job=job, waiting_for=part, at=now(), by=fitter)
        Job.objects.filter(pk=job.pk).update(expected_on=now().date() + timedelta(days=days))
    signed = opened(machine, "Signed", fitter)
    start_job(job=signed, confirmed=ALL, at=now(), by=learner)
    finish_job(job=signed, **WORK, at=now(), by=learner)
    back = opened(machine, "Back", fitter)
    Job.objects.filter(pk=back.pk).update(back_again_of=guard)
    give_out(job=guard, to=foreman, for_day=now().date(), at=now(), by=foreman)
    client = signed_in(foreman)
    names = ["Guard", "Late", "Soon", "Signed", "Back"]

    for query, found in (
        ({"flag": "safety"}, ["Guard"]),
        ({"flag": "back again"}, ["Back"]),
        ({"flag": "countersign"}, ["Signed"]),
        ({"flag": "late"}, ["Late"]),
        ({"waiting": "hirer"}, ["Soon"]),
        ({"person": str(learner.pk)}, ["Signed"]),
        ({"person": str(foreman.pk)}, ["Guard"]),
        ({"flag": "nonsense", "waiting": "weather", "person": "x"}, sorted(names)),
    ):
        assert sorted(titles(client, names, **query)) == found, query
    page = client.get(reverse("maintenance:job_list"), {"flag": "late"}).content.decode()
    assert "for part since" in page
    assert ", late" in page


def test_what_waits_longest_stands_first(machine: Machine, fitter: User) -> None:
    for days, title in ((1, "New"), (9, "Old"), (4, "Middle")):
        job = opened(machine, title, fitter)
        start_job(job=job, confirmed=ALL, at=now(), by=fitter)
        wait_job(job=job, waiting_for="part", at=now() - timedelta(days=days), by=fitter)

    names = ["New", "Old", "Middle"]
    assert titles(signed_in(fitter), names, state="waiting") == ["Old", "Middle", "New"]


def test_ones_own_stand_first(machine: Machine, fitter: User, foreman: User) -> None:
    mine = opened(machine, "Mine", fitter)
    opened(machine, "Later", fitter)
    give_out(job=mine, to=fitter, for_day=now().date(), at=now(), by=foreman)

    assert titles(signed_in(fitter), ["Mine", "Later"]) == ["Mine", "Later"]
    assert titles(signed_in(foreman), ["Mine", "Later"]) == ["Later", "Mine"]


def test_the_order_asked_for_is_kept_until_the_usual_one_is_asked_for(
    machine: Machine, fitter: User
) -> None:
    for title in ("Beta", "Alpha"):
        opened(machine, title, fitter)
    client, names = signed_in(fitter), ["Alpha", "Beta"]
    assert titles(client, names) == ["Alpha", "Beta"]

    assert titles(client, names, sort="-title") == ["Beta", "Alpha"]
    assert titles(client, names) == ["Beta", "Alpha"]
    assert titles(client, names, order="usual") == ["Alpha", "Beta"]
    client.cookies["jobs-order"] = "password; DROP"
    assert titles(client, names) == ["Alpha", "Beta"]


def test_the_same_list_as_a_file_for_who_may_send_lists_out(
    machine: Machine, fitter: User, manager: User
) -> None:
    opened(machine, "=SUM(A1)", fitter)
    where = reverse("maintenance:job_list") + "?csv=1"

    file = signed_in(manager).get(where)

    told = b"".join(file.streaming_content).decode()  # type: ignore[attr-defined]
    assert file["Content-Type"] == "text/csv"
    assert "'=SUM(A1)" in told
    assert told.count("\r\n") == 2
    assert signed_in(fitter).get(where)["Content-Type"].startswith("text/html")


def test_how_often_it_comes_back_counts_only_what_had_its_30_days(
    machine: Machine, depot: Depot, fitter: User, outsider: User
) -> None:
    def closed(days: int) -> Job:
        at = now() - timedelta(days=days)
        job = opened(machine, f"Trouble {days}", fitter, at=at)
        start_job(job=job, confirmed=ALL, at=at, by=fitter)
        finish_job(job=job, **WORK | {"symptom": f"x{days}"}, at=at, by=fitter)
        return close_job(job=job, at=at, by=fitter)

    old = [closed(days) for days in range(100, 112)]
    closed(5)
    Job.objects.filter(pk=opened(machine, "Again", fitter).pk).update(back_again_of=old[0])

    page = signed_in(fitter).get(reverse("maintenance:back_again")).content.decode()

    assert "1 of 12 closed jobs" in page
    assert "1 of 12, 8.3 %" in page
    elsewhere = signed_in(outsider).get(reverse("maintenance:back_again")).content.decode()
    assert "0 of 0 closed jobs" in elsewhere


@pytest.mark.usefixtures("competent")
def test_today_says_what_the_workshop_has_to_look_at(
    machine: Machine, fitter: User, foreman: User, learner: User, operator: User
) -> None:
    job, wait = opened(machine, "Wobble", fitter), opened(machine, "Clutch", fitter)
    start_job(job=job, confirmed=ALL, at=now(), by=learner)
    finish_job(job=job, **WORK, at=now(), by=learner)
    start_job(job=wait, confirmed=ALL, at=now(), by=fitter)
    wait_job(job=wait, waiting_for="part", at=now(), by=fitter)
    Job.objects.filter(pk=wait.pk).update(expected_on=now().date() - timedelta(days=1))
    plan_job(job=wait, minutes=None, promised_at=now() + timedelta(hours=2), at=now(), by=foreman)

    page = signed_in(foreman).get("/").content.decode()

    assert f"Countersign {job.number}" in page
    assert "waits for part since" in page
    assert "promised for" in page
    assert "Workshop" not in signed_in(operator).get("/").content.decode()
    countersign_job(job=job, at=now(), by=foreman)
    assert f"Countersign {job.number}" not in signed_in(foreman).get("/").content.decode()


def test_the_line_before_the_folded_filters_says_which_are_set(
    machine: Machine, fitter: User, learner: User
) -> None:
    client = signed_in(fitter)

    def line(query: str = "") -> tuple[str, bool]:
        page = client.get(reverse("maintenance:job_list") + query).content.decode()
        found = re.search(
            r'<details class="folded not-on-paper"( open)?>\s*<summary>(.*?)</summary>', page
        )
        assert found
        return unescape(found[2]), bool(found[1])

    assert line() == ("Filters: none set", False)
    assert line(f"?state=waiting&person={learner.pk}&depot={machine.depot.pk}&q=mixer") == (
        f"Filters: Depot: {machine.depot}; How far it is: Waiting; With: Lena Learner; "
        "Job, machine or words: mixer",
        False,
    )
    # What cannot be read is told beside its field, so the fold is open.
    assert line("?depot=0&mine=1") == ("Filters: Whose: Given to me", True)
