"""A stop told at once that nobody takes goes up to the managers: once, and in working hours."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client

from mailing import text_of, wants
from maintenance.actions.answer import have_it
from maintenance.actions.fault import report_fault
from maintenance.actions.job import give_out
from maintenance.actions.open_days import close_day
from maintenance.models import Job
from make import make_machine
from plant.models import Depot, Machine, Message, MessageChoice, User
from reports.actions.message import promise, send_waiting

pytestmark = pytest.mark.usefixtures("rule_sheet")
# Wednesday, in London.
TOLD = datetime(2026, 11, 25, 7, 12, tzinfo=UTC)
DUE = TOLD + timedelta(minutes=15)


@pytest.fixture
def job(depot: Depot, manager: User) -> Job:
    wants(manager)
    return stop(make_machine(depot, "MX-1", place="out", site="Plot 4"))


def stop(machine: Machine, *, at: datetime = TOLD) -> Job:
    return report_fault(
        machine=machine, part="drum", told="guard gone", stop_now=True, at=at, by_name="Wim"
    )


def turn(at: datetime) -> list[Any]:
    before = len(mail.outbox)
    promise(at=at)
    send_waiting(clock=lambda: at, until=at + timedelta(seconds=1))
    return mail.outbox[before:]


def test_after_a_quarter_of_an_hour_it_goes_to_the_manager_once(job: Job, foreman: User) -> None:
    wants(foreman)

    assert turn(DUE - timedelta(minutes=1)) == []
    sent = turn(DUE)
    assert [each.to for each in sent] == [["mara.manager@plant.example"]]
    assert sent[0].subject == "Nobody has it: MX-1 stopped while it is out"
    for part in (
        "07:12 on 25 Nov 2026",
        "Drum and lock: guard gone",
        job.number,
        "It must not be used.",
    ):
        assert part in text_of(sent[0])
    assert turn(DUE + timedelta(minutes=1)) == turn(DUE + timedelta(days=2)) == []


def test_it_stays_with_whoever_has_it_or_was_given_it(
    job: Job, depot: Depot, foreman: User, fitter: User
) -> None:
    other = stop(make_machine(depot, "MX-2", place="out"))
    have_it(job=job, at=TOLD + timedelta(minutes=14), by=foreman)
    give_out(job=other, to=fitter, for_day=TOLD.date(), at=TOLD + timedelta(minutes=5), by=foreman)

    assert turn(DUE) == []


def test_who_takes_it_before_the_mail_goes_spares_the_manager(job: Job, foreman: User) -> None:
    assert promise(at=DUE) == 1
    have_it(job=job, at=DUE, by=foreman)

    assert turn(DUE) == []
    assert Message.objects.get().state == Message.State.DONE


def test_after_days_of_silence_it_goes_at_the_next_working_minute(
    job: Job, depot: Depot, manager: User
) -> None:
    close_day(depot=depot, on=datetime(2026, 11, 30).date(), name="Closed", by=manager)

    # The background work is back on Saturday, and Monday is closed.
    for day, hour in ((28, 10), (30, 10), (31, 6)):
        at = datetime(2026, 11, 1, hour, 59, tzinfo=UTC) + timedelta(days=day - 1)
        assert turn(at) == []
    assert len(turn(datetime(2026, 12, 1, 7, 0, tzinfo=UTC))) == 1


def test_a_machine_in_the_yard_and_a_manager_who_wants_no_such_message_are_left_alone(
    depot: Depot, manager: User, outsider: User
) -> None:
    wants(manager, passed_up=False)
    wants(outsider)
    stop(make_machine(depot, "MX-1", place="out"))
    assert turn(DUE) == []

    wants(manager, passed_up=True)
    stop(make_machine(depot, "MX-2"))
    assert [each.subject for each in turn(DUE)] == ["Nobody has it: MX-1 stopped while it is out"]


def test_today_begins_with_what_nobody_has(job: Job, depot: Depot, foreman: User) -> None:
    taken = stop(make_machine(depot, "AA-1", place="out"))
    have_it(job=taken, at=DUE, by=foreman)
    client = Client()
    client.force_login(foreman)

    page = client.get("/").content.decode()

    assert page.index("MX-1") < page.index("AA-1")
    assert "<strong>nobody has it since 25 Nov, 07:12</strong>" in page


def test_a_manager_may_choose_not_to_hear_and_nobody_else_is_asked(
    manager: User, foreman: User, client: Client
) -> None:
    wants(manager)
    client.force_login(manager)
    assert "When nobody has taken a stop" in client.get("/messages").content.decode()

    client.post("/messages", {"mail": manager.email, "morning": "on"})

    assert not MessageChoice.objects.get(user=manager).passed_up
    client.force_login(foreman)
    assert "When nobody has taken a stop" not in client.get("/messages").content.decode()
