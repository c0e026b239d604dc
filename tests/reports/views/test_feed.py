"""The calendar by its link: read back as a calendar program does, and dead when it should be."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from maintenance.actions.job import call_off_job, give_out, open_job
from maintenance.models import DueLine, Job, PlanLine
from make import make_machine, make_user
from plant.links import code_of
from plant.models import Depot, Machine, Membership, Place, Role, User
from plant.models.attempt import VISITS_BY_LINK
from reports.models import Feed
from test_access import without_tokens

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
TODAY = AT.date()
pytestmark = pytest.mark.usefixtures("rule_sheet")


@pytest.fixture(autouse=True)
def _clock() -> Any:
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def feed(foreman: User, depot: Depot) -> Feed:
    return Feed.objects.create(user=foreman, depot=depot, made_at=AT)


def address(feed: Feed) -> str:
    return reverse("reports:feed", args=(code_of("feed", feed.uid),))


def fetch(feed: Feed, **more: Any) -> Any:
    return Client(raise_request_exception=False).get(address(feed), **more)


def events(feed: Feed) -> dict[str, Any]:
    answer = fetch(feed)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    return {str(e["UID"]): e for e in Calendar.from_ical(answer.content).walk("VEVENT")}


def due(
    machine: Machine, *, on: date | None, title: str = "Grease the ring", **more: Any
) -> DueLine:
    plan = {"every_months": 3, "source": "-", "trust": "-"} | more
    line, _ = PlanLine.objects.get_or_create(kind=machine.kind, key=title, title=title, **plan)
    return DueLine.objects.create(
        machine=machine, line=line, start_on=TODAY, due_on=on, plan_on=on, worked_out_at=AT
    )


def test_due_work_stands_on_the_day_to_plan_for_with_the_reason(
    feed: Feed, machine: Machine
) -> None:
    line = due(machine, on=TODAY + timedelta(days=9))

    found = events(feed)

    (uid,) = found
    one = found[uid]
    assert uid == f"due-{line.pk}-1@localhost"
    assert one["DTSTART"].dt == date(2026, 12, 4)
    assert str(one["SUMMARY"]) == "MX-203 Grease the ring"
    assert "4 Dec 2026" in str(one["DESCRIPTION"])
    assert str(one["URL"]) == f"http://localhost:8000/machines/{machine.pk}"


def test_work_that_moves_keeps_its_name_and_says_that_it_changed(
    feed: Feed, machine: Machine
) -> None:
    line = due(machine, on=TODAY + timedelta(days=9))
    (before,) = events(feed).values()
    DueLine.objects.filter(pk=line.pk).update(plan_on=TODAY + timedelta(days=12))

    with time_machine.travel(AT + timedelta(hours=2), tick=False):
        (after,) = events(feed).values()

    assert before["UID"] == after["UID"]
    assert after["DTSTART"].dt - before["DTSTART"].dt == timedelta(days=3)
    assert after["SEQUENCE"] > before["SEQUENCE"]
    assert after["LAST-MODIFIED"].dt > before["LAST-MODIFIED"].dt


def test_working_out_afresh_to_the_same_answer_is_no_change(feed: Feed, machine: Machine) -> None:
    """RFC 5545, section 3.8.7.4: a revision is a change that matters to who reads it."""
    line = due(machine, on=TODAY + timedelta(days=9))
    first = fetch(feed).content
    DueLine.objects.filter(pk=line.pk).update(worked_out_at=AT + timedelta(hours=2))

    with time_machine.travel(AT + timedelta(hours=2), tick=False):
        assert fetch(feed).content == first


def test_what_is_past_says_so_and_what_nobody_waits_for_is_left_out(
    feed: Feed, depot: Depot, machine: Machine
) -> None:
    past = due(machine, on=TODAY - timedelta(days=2))
    DueLine.objects.filter(pk=past.pk).update(past_after=TODAY - timedelta(days=2))
    due(make_machine(depot, place=Place.GONE), on=TODAY)
    due(make_machine(depot, place=Place.MISSING), on=TODAY)
    due(make_machine(depot, place=Place.LAID_UP), on=TODAY)
    due(machine, on=None, title="No day known")
    due(machine, on=TODAY, title="Wipe it", every_days=7)
    due(machine, on=TODAY + timedelta(days=400), title="In the far future")

    (one,) = events(feed).values()

    assert str(one["SUMMARY"]) == "Needed before use: MX-203 Grease the ring"


@pytest.fixture
def given(machine: Machine, fitter: User, foreman: User) -> Job:
    job = open_job(
        machine=machine, kind=Job.Kind.FAULT, title="Cord; torn, twice", symptom="a\nb", at=AT,
        by=foreman,
    )  # fmt: skip
    return give_out(job=job, to=fitter, for_day=TODAY + timedelta(days=1), at=AT, by=foreman)


def test_a_job_stands_on_the_day_it_is_given_out_for_and_moves_with_it(
    feed: Feed, given: Job, fitter: User, foreman: User
) -> None:
    (one,) = events(feed).values()
    assert str(one["UID"]) == f"job-{given.pk}@localhost"
    assert one["DTSTART"].dt == date(2026, 11, 26)
    assert str(one["SUMMARY"]) == f"{given.number} MX-203 Cord; torn, twice"
    assert "Isolate and lock off".lower() in str(one["DESCRIPTION"]).lower()
    # Calendars travel: the name of who has the job stays here.
    assert fitter.name not in fetch(feed).content.decode()

    later = AT + timedelta(minutes=5)
    give_out(job=given, to=fitter, for_day=TODAY + timedelta(days=6), at=later, by=foreman)
    (moved,) = events(feed).values()
    assert (moved["UID"], moved["DTSTART"].dt) == (one["UID"], date(2026, 12, 1))
    assert moved["SEQUENCE"] > one["SEQUENCE"]


def test_a_job_called_off_is_cancelled_for_a_month_and_a_closed_one_vanishes(
    feed: Feed, given: Job, foreman: User
) -> None:
    Job.objects.filter(pk=given.pk).update(state=Job.State.CLOSED)
    assert events(feed) == {}

    Job.objects.filter(pk=given.pk).update(state=Job.State.GIVEN_OUT)
    call_off_job(job=given, reason="Twice the same job", at=AT, by=foreman)
    (one,) = events(feed).values()
    assert str(one["STATUS"]) == "CANCELLED"

    Job.objects.filter(pk=given.pk).update(state_since=AT - timedelta(days=31))
    assert events(feed) == {}


def test_due_work_that_is_given_out_stands_once_on_the_day_of_its_job(
    feed: Feed, given: Job, machine: Machine
) -> None:
    line = due(machine, on=TODAY + timedelta(days=9))
    Job.objects.filter(pk=given.pk).update(due_line=line, cycle=line.cycle)

    assert list(events(feed)) == [f"job-{given.pk}@localhost"]


def test_only_ones_own_jobs_where_that_was_chosen(
    depot: Depot, given: Job, fitter: User, foreman: User, machine: Machine
) -> None:
    due(machine, on=TODAY)
    theirs = Feed.objects.create(user=foreman, depot=depot, what=Feed.What.MINE, made_at=AT)
    own = Feed.objects.create(user=fitter, depot=depot, what=Feed.What.MINE, made_at=AT)

    assert events(theirs) == {}
    (one,) = events(own).values()
    assert "given out to you" in str(one["DESCRIPTION"])


def test_nothing_of_another_depot_is_in_it(feed: Feed, other_depot: Depot, outsider: User) -> None:
    theirs = make_machine(other_depot, "ZVARB-1")
    due(theirs, on=TODAY)
    open_job(
        machine=theirs, kind=Job.Kind.FAULT, title="Zvarb", symptom="zvarb", at=AT, by=outsider
    )
    Job.objects.update(given_for=TODAY, given_to=outsider, state=Job.State.GIVEN_OUT)
    Membership.objects.create(user=feed.user, depot=other_depot, role=Role.FOREMAN)

    assert b"ZVARB" not in fetch(feed).content.upper()


@pytest.mark.parametrize("end", ["withdrawn", "disabled", "left the depot", "moved elsewhere"])
def test_a_link_that_ended_answers_like_one_that_never_was(
    feed: Feed, other_depot: Depot, end: str
) -> None:
    assert fetch(feed).status_code == 200
    if end == "withdrawn":
        Feed.objects.update(withdrawn_at=AT)
    elif end == "disabled":
        User.objects.filter(pk=feed.user_id).update(is_active=False)
    else:
        Membership.objects.filter(user=feed.user).delete()
        if end == "moved elsewhere":
            Membership.objects.create(user=feed.user, depot=other_depot, role=Role.FOREMAN)

    ended, made_up = fetch(feed), Client().get(reverse("reports:feed", args=("A" * 44,)))

    assert ended.status_code == made_up.status_code == 404
    assert without_tokens(ended.content) == without_tokens(made_up.content)
    assert dict(ended.headers) == dict(made_up.headers)


def test_a_calendar_that_has_not_changed_is_not_sent_again(feed: Feed, machine: Machine) -> None:
    due(machine, on=TODAY)
    first = fetch(feed)
    assert first["Cache-Control"] == "private, max-age=900"

    again = fetch(feed, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")

    due(machine, on=TODAY + timedelta(days=1), title="Change the oil")
    assert fetch(feed, headers={"If-None-Match": first["ETag"]}).status_code == 200


def test_who_asks_too_often_waits_and_a_made_up_link_slows_no_good_one(feed: Feed) -> None:
    client = Client(raise_request_exception=False)
    codes = [client.get(f"/calendar/{n:044d}.ics").status_code for n in range(VISITS_BY_LINK + 1)]
    assert codes == [404] * VISITS_BY_LINK + [429]

    answers = [fetch(feed) for _ in range(VISITS_BY_LINK + 1)]
    assert [each.status_code for each in answers] == [200] * VISITS_BY_LINK + [429]
    assert int(answers[-1]["Retry-After"]) == 600

    with time_machine.travel(AT + timedelta(minutes=10), tick=False):
        assert fetch(feed).status_code == 200


def test_the_page_makes_shows_and_withdraws_a_link(foreman: User, desk: User, depot: Depot) -> None:
    client = Client()
    client.force_login(foreman)
    page = reverse("reports:messages")
    assert "No calendar yet" in client.get(page).content.decode()

    made = client.post(reverse("reports:add_feed"), {"depot": depot.pk, "what": "mine"})
    assert made.status_code == 302
    feed = Feed.objects.get()
    assert address(feed) in client.get(page).content.decode()

    other = Client()
    other.force_login(desk)
    assert address(feed) not in other.get(page).content.decode()
    for pk in (str(feed.pk), "x", "9" * 30, ""):
        other.post(reverse("reports:withdraw_feed"), {"feed": pk})
    assert fetch(feed).status_code == 200

    client.post(reverse("reports:withdraw_feed"), {"feed": feed.pk})
    assert fetch(feed).status_code == 404
    assert address(feed) not in client.get(page).content.decode()


def test_a_calendar_of_another_depot_cannot_be_made(foreman: User, other_depot: Depot) -> None:
    client = Client()
    client.force_login(foreman)

    answer = client.post(reverse("reports:add_feed"), {"depot": other_depot.pk, "what": "all"})

    assert answer.status_code == 422
    assert not Feed.objects.exists()


def test_nobody_makes_calendars_without_end(foreman: User, depot: Depot) -> None:
    client = Client()
    client.force_login(foreman)
    for _ in range(12):
        answer = client.post(reverse("reports:add_feed"), {"depot": depot.pk, "what": "all"})

    assert answer.status_code == 422
    assert "Withdraw one first" in answer.content.decode()
    assert Feed.objects.count() == 10


def test_the_calendar_asks_as_often_for_many_as_for_few(
    feed: Feed, depot: Depot, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    by = make_user("By", (depot, Role.FOREMAN), (depot, Role.FITTER))
    asked = []
    for count in (3, 30):
        for _ in range(count):
            machine = make_machine(depot)
            due(machine, on=TODAY)
            job = open_job(
                machine=machine, kind=Job.Kind.FAULT, title="Cord", symptom="torn", at=AT, by=by
            )
            give_out(job=job, to=by, for_day=TODAY, at=AT, by=by)
        with CaptureQueriesContext(connection) as found:
            assert len(events(feed)) >= 2 * count
        asked.append(len(found))

    assert asked[0] == asked[1]
