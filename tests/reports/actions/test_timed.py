"""Paper that is printed by itself: each turn once, in its depot's time, and never in silence."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from maintenance.models import DueLine, Job, PlanLine
from make import make_depot, make_machine, make_user
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Membership, Role, User
from reports.actions import timed
from reports.actions.timed import end, set_up, take_turns
from reports.models import Batch, TimedPrint, TimedTurn

pytestmark = pytest.mark.django_db
What = TimedPrint.What
# A Friday; what is set up then waits for Monday, 30 November, six o'clock.
FRIDAY = datetime(2026, 11, 27, 9, 0, tzinfo=UTC)
SIX = datetime(2026, 11, 30, 6, 0, tzinfo=UTC)


@pytest.fixture
def due(machine: Machine) -> DueLine:
    line = PlanLine.objects.create(
        kind=machine.kind, key="service", title="Service", every_months=3, source="s", trust="t"
    )
    return DueLine.objects.create(
        machine=machine,
        line=line,
        start_on=date(2026, 9, 4),
        due_on=date(2026, 12, 4),
        plan_on=date(2026, 12, 4),
        worked_out_at=FRIDAY,
    )


@pytest.fixture
def weekly(depot: Depot, foreman: User) -> TimedPrint:
    return set_up(depot=depot, kind=What.SERVICE, days=[0], clock=time(6, 0), by=foreman, at=FRIDAY)


def test_the_sheets_of_the_week_come_on_monday_at_six_and_once(
    weekly: TimedPrint, due: DueLine, foreman: User
) -> None:
    assert take_turns(at=SIX - timedelta(seconds=1)) == []

    batches = take_turns(at=SIX)

    assert take_turns(at=SIX) == take_turns(at=SIX + timedelta(days=2)) == []
    batch = Batch.objects.get(pk=batches[0])
    assert (batch.asked_by, batch.kind) == (foreman, Batch.Kind.SERVICE)
    assert [sheet.machine for sheet in batch.sheets.all()] == [due.machine]
    assert TimedTurn.objects.get().day == date(2026, 11, 30)
    assert len(take_turns(at=SIX + timedelta(days=7))) == 1


def test_after_a_silence_the_newest_turn_alone_is_taken(weekly: TimedPrint, due: DueLine) -> None:
    assert len(take_turns(at=SIX + timedelta(days=17))) == 1
    assert TimedTurn.objects.get().day == date(2026, 12, 14)


def test_a_board_of_yesterday_is_not_printed(depot: Depot, foreman: User) -> None:
    set_up(depot=depot, kind=What.BOARD, days=[0], clock=time(6, 0), by=foreman, at=FRIDAY)
    assert take_turns(at=SIX + timedelta(days=1)) == []
    assert "too late for that day" in TimedTurn.objects.get().why
    assert len(take_turns(at=SIX + timedelta(days=7))) == 1


def test_that_nothing_is_due_is_said_and_prints_nothing(weekly: TimedPrint) -> None:
    assert take_turns(at=SIX) == []
    assert "Nothing falls due" in TimedTurn.objects.get().why
    assert Batch.objects.count() == 0


def test_what_is_laid_up_missing_or_later_is_not_printed(
    weekly: TimedPrint, due: DueLine, depot: Depot
) -> None:
    later = make_machine(depot, "MX-900")
    DueLine.objects.create(
        machine=later,
        line=due.line,
        start_on=date(2026, 9, 8),
        due_on=date(2026, 12, 8),
        plan_on=date(2026, 12, 8),
        worked_out_at=FRIDAY,
    )
    Machine.objects.filter(pk=due.machine_id).update(place="laid up")
    assert take_turns(at=SIX) == []
    Machine.objects.filter(pk=due.machine_id).update(place="out")
    TimedTurn.objects.all().delete()
    batch = take_turns(at=SIX)[0]
    assert [each.machine for each in Batch.objects.get(pk=batch).sheets.all()] == [due.machine]


def test_it_ends_and_says_so_when_its_person_may_no_longer_print(
    weekly: TimedPrint, due: DueLine, foreman: User, manager: User
) -> None:
    Membership.objects.filter(user=foreman).delete()
    assert take_turns(at=SIX) == []
    weekly.refresh_from_db()
    assert weekly.ended_at == SIX
    assert foreman.name in weekly.why
    client = Client()
    client.force_login(manager)
    assert weekly.why in client.get(reverse("reports:timed_list")).content.decode()


def test_each_depot_by_its_own_clock(foreman: User) -> None:
    far = make_depot("far", time_zone="Pacific/Auckland")
    person = make_user("Far", (far, Role.FOREMAN))
    set_up(depot=far, kind=What.BOARD, days=[0], clock=time(6, 0), by=person, at=FRIDAY)
    # Six in the morning of Monday there is five in the afternoon of Sunday here.
    assert take_turns(at=datetime(2026, 11, 29, 16, 59, tzinfo=UTC)) == []
    assert len(take_turns(at=datetime(2026, 11, 29, 17, 0, tzinfo=UTC))) == 1


def test_who_is_slower_finds_the_turn_taken(weekly: TimedPrint, due: DueLine) -> None:
    """Both have looked before either took it."""
    assert timed._take(weekly.pk, at=SIX, turn_at=SIX) is not None
    assert timed._take(weekly.pk, at=SIX, turn_at=SIX) is None
    assert Batch.objects.count() == 1


def test_what_cannot_be_set_up(depot: Depot, foreman: User, fitter: User) -> None:
    asked: dict[str, Any] = {
        "depot": depot, "kind": What.BOARD, "clock": time(6, 0), "at": FRIDAY,
    }  # fmt: skip
    with pytest.raises(Refused, match="at least one day"):
        set_up(days=[], by=foreman, **asked)
    set_up(days=[0, 4], by=foreman, **asked)
    with pytest.raises(Refused, match="already"):
        set_up(days=[4, 0, 0], by=foreman, **asked)
    with pytest.raises(PermissionError):
        set_up(days=[1], by=fitter, **asked)
    assert TimedPrint.objects.get().days_text == "Mon, Fri"


def test_what_is_ended_prints_no_more(weekly: TimedPrint, due: DueLine, foreman: User) -> None:
    end(timed=weekly, by=foreman, at=FRIDAY + timedelta(hours=1))
    assert take_turns(at=SIX) == []


@pytest.fixture
def client(foreman: User) -> Client:
    client = Client()
    client.force_login(foreman)
    return client


def test_a_foreman_sets_it_up_and_ends_it(client: Client, depot: Depot) -> None:
    typed = {"kind": "board", "depot": depot.pk, "days": ["0", "4"], "at": "25:00"}
    refused = client.post(reverse("reports:add_timed"), typed)
    assert refused.status_code == 422
    assert "from 00:00 to 23:59" in refused.content.decode()
    assert 'value="25:00"' in refused.content.decode()

    client.post(reverse("reports:add_timed"), typed | {"at": "06:15"})

    made = TimedPrint.objects.get()
    shown = client.get(reverse("reports:timed_list")).content.decode()
    assert "Mon, Fri at 06:15" in shown
    client.post(reverse("reports:end_timed", args=[made.pk]))
    made.refresh_from_db()
    assert made.ended_at is not None


def test_job_lists_of_a_day_without_jobs_are_not_printed(client: Client, depot: Depot) -> None:
    answer = client.post(
        reverse("reports:ask_day_paper"),
        {"kind": "job list", "depot": depot.pk, "on": "30 Nov 2026"},
    )
    assert answer.status_code == 422
    assert "No job is given out for 30 Nov 2026." in answer.content.decode()
    assert Job.objects.count() == Batch.objects.count() == 0
