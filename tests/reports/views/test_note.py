"""The weekly note and its link: five lines, seven days, one depot, to read only."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse

from mailing import wants
from maintenance.actions.fault import report_fault
from maintenance.models import DueLine, Job, Labour, PartUsed, PlanLine, Stop
from make import make_machine
from plant.links import code_of
from plant.models import Depot, Machine, Membership, Message, Place, Record, User
from reports.actions.message import promise, send_waiting
from reports.actions.note import note_for
from reports.contents.note import MOST_LINES
from reports.models import WeeklyNote
from test_access import without_tokens

# Monday, half past six in London.
MONDAY = datetime(2026, 11, 23, 6, 30, tzinfo=UTC)
TODAY = MONDAY.date()
pytestmark = pytest.mark.usefixtures("rule_sheet")


def due(machine: Machine, *, in_days: int, title: str = "Grease the ring") -> DueLine:
    on = TODAY + timedelta(days=in_days)
    line, _ = PlanLine.objects.get_or_create(
        kind=machine.kind, key=title, title=title, every_months=3, minutes=25, source="-", trust="-"
    )
    return DueLine.objects.create(
        machine=machine, line=line, start_on=TODAY, due_on=on, plan_on=on, past_after=on,
        raise_on=on - timedelta(days=14), worked_out_at=MONDAY,
    )  # fmt: skip


def stop(machine: Machine) -> Job:
    return report_fault(
        machine=machine, part="drum", told="grinds", stop_now=True, at=MONDAY, by_name="Wim"
    )


@pytest.fixture
def builder(foreman: User, depot: Depot) -> User:
    wants(foreman, weekly_for=depot)
    return foreman


def turn(at: datetime = MONDAY) -> list[Any]:
    before = len(mail.outbox)
    promise(at=at)
    send_waiting(clock=lambda: at, until=at + timedelta(seconds=1))
    return mail.outbox[before:]


def made(user: User, depot: Depot, *, week_of: date = TODAY, at: datetime = MONDAY) -> WeeklyNote:
    note = note_for(person=user, depot=depot, week_of=week_of, at=at)
    assert note is not None
    return note


def opened(note: WeeklyNote, *, at: datetime = MONDAY, client: Client | None = None) -> Any:
    with time_machine.travel(at, tick=False):
        return (client or Client(raise_request_exception=False)).get(
            reverse("reports:note", args=(code_of("note", note.uid),))
        )


def test_at_most_five_things_the_gravest_first_each_with_reason_minutes_and_parts(
    builder: User, depot: Depot
) -> None:
    stopped, out, late, soon = (make_machine(depot, f"MX-{n}") for n in "1234")
    Machine.objects.filter(pk=out.pk).update(place=Place.OUT)
    stop(stopped)
    due(soon, in_days=5)
    due(late, in_days=-40)
    line = due(out, in_days=-2)
    record = Record.objects.get()
    job = Job.objects.create(
        machine=out, kind=Job.Kind.SERVICE, title="x", due_line=line, cycle=0,
        state=Job.State.CLOSED, opened_at=MONDAY, closed_at=MONDAY,
    )  # fmt: skip
    Labour.objects.create(job=job, person=builder, minutes=40, record=record)
    PartUsed.objects.create(job=job, what="belt 13A690", quantity=1, record=record)
    for n in range(4):
        due(make_machine(depot, f"PC-{n}"), in_days=6)
    due(make_machine(depot, "FAR-1"), in_days=8)

    (one,) = turn()

    order = [one.body.index(number) for number in ("MX-1 ", "MX-2 ", "MX-3 ", "MX-4 ", "PC-0 ")]
    assert order == sorted(order)
    assert one.body.count("\n- ") == MOST_LINES == 5
    assert "Drum and lock: grinds" in one.body
    assert "Takes 40 min, as last time; 1 x belt 13A690, as last time." in one.body
    assert "Do it by 28 Nov 2026. Takes about 25 min, a guess; no parts noted so far." in one.body
    assert "3 more wait on the page Due." in one.body
    assert "FAR-1" not in one.body
    assert one.subject == "North yard: 5 things to do, week of 23 Nov 2026"


def test_the_link_opens_without_a_password_and_shows_those_machines_alone(
    builder: User, depot: Depot, other_depot: Depot
) -> None:
    due(make_machine(depot, "MX-1"), in_days=3)
    due(make_machine(other_depot, "ZVARB-1"), in_days=-3)
    (one,) = turn()
    due(make_machine(depot, "LATER-1"), in_days=3)

    answer = opened(WeeklyNote.objects.get())

    page = answer.content.decode()
    assert answer.status_code == 200
    assert WeeklyNote.objects.get().ends_at - MONDAY == timedelta(days=7)
    assert code_of("note", WeeklyNote.objects.get().uid) in one.body
    assert "MX-1" in page
    for left_out in ("ZVARB", "LATER-1", builder.name, builder.email, "<form"):
        assert left_out not in page
    assert answer["Cache-Control"] == "no-store"


def test_a_line_that_was_done_says_so_and_nothing_can_be_done_there(
    builder: User, depot: Depot
) -> None:
    line = due(make_machine(depot, "MX-1"), in_days=3)
    note = made(builder, depot)
    DueLine.objects.filter(pk=line.pk).update(cycle=2)

    assert "Done since" in opened(note).content.decode()
    address = reverse("reports:note", args=(code_of("note", note.uid),))
    assert Client().post(address).status_code == 405


def test_a_machine_that_went_to_another_depot_is_not_shown(
    builder: User, depot: Depot, other_depot: Depot
) -> None:
    machine = make_machine(depot, "MX-1")
    due(machine, in_days=3)
    stop(machine)
    note = made(builder, depot)
    assert len(note.lines) == 2
    Machine.objects.filter(pk=machine.pk).update(depot=other_depot)

    answer = opened(note)

    assert answer.status_code == 200
    assert "MX-1" not in answer.content.decode()


@pytest.mark.parametrize(
    "end", ["seven days", "withdrawn", "the next note", "disabled", "left the depot"]
)
def test_a_link_that_ended_answers_like_one_that_never_was(
    builder: User, depot: Depot, end: str
) -> None:
    note, at = made(builder, depot), MONDAY
    assert opened(note, at=MONDAY + timedelta(days=7, seconds=-1)).status_code == 200
    client = Client()
    client.force_login(builder)
    if end == "seven days":
        at = MONDAY + timedelta(days=7)
    elif end == "withdrawn":
        with time_machine.travel(MONDAY, tick=False):
            client.post(reverse("reports:withdraw_note"))
    elif end == "the next note":
        made(builder, depot, week_of=TODAY + timedelta(days=7))
    elif end == "disabled":
        User.objects.filter(pk=builder.pk).update(is_active=False)
    else:
        Membership.objects.filter(user=builder).delete()

    ended = opened(note, at=at)
    with time_machine.travel(at, tick=False):
        made_up = Client().get(reverse("reports:note", args=("A" * 44,)))

    assert ended.status_code == made_up.status_code == 404
    assert without_tokens(ended.content) == without_tokens(made_up.content)


def test_a_calendars_code_opens_no_note(builder: User, depot: Depot) -> None:
    note = made(builder, depot)
    with time_machine.travel(MONDAY, tick=False):
        answer = Client().get(reverse("reports:note", args=(code_of("feed", note.uid),)))

    assert answer.status_code == 404


def test_a_withdrawn_note_is_not_sent_again_and_not_made_again(builder: User, depot: Depot) -> None:
    due(make_machine(depot, "MX-1"), in_days=3)
    assert len(turn()) == 1
    WeeklyNote.objects.update(withdrawn_at=MONDAY)
    Message.objects.update(state=Message.State.ASKED)

    assert turn(MONDAY + timedelta(hours=1)) == []
    assert WeeklyNote.objects.count() == 1


def test_one_note_a_week_also_where_monday_was_missed(builder: User, depot: Depot) -> None:
    due(make_machine(depot, "MX-1"), in_days=3)
    tuesday = MONDAY + timedelta(days=1, hours=3)

    assert [len(turn(at)) for at in (tuesday, tuesday + timedelta(minutes=1))] == [1, 0]
    assert len(turn(MONDAY + timedelta(days=7))) == 1
    assert WeeklyNote.objects.filter(withdrawn_at=None).count() == 1


def test_nothing_to_do_sends_nothing_unless_that_was_chosen(builder: User, depot: Depot) -> None:
    assert turn() == []
    wants(builder, weekly_for=depot, when_well=True)
    Message.objects.all().delete()

    (one,) = turn(MONDAY + timedelta(minutes=1))
    assert one.subject == "North yard: nothing to do this week"


def test_what_is_carried_on_with_is_not_a_thing_to_do(builder: User, depot: Depot) -> None:
    stop(make_machine(depot, "MX-1"))
    Stop.objects.update(kind=Stop.Kind.CARRY_ON, until=TODAY + timedelta(days=3))

    assert turn() == []


@pytest.mark.parametrize(
    ("is_estimate", "how"), [(True, "Estimated from the days out."), (False, "Read the meter.")]
)
def test_hours_that_are_likely_up_say_since_when_and_what_to_do(
    builder: User, depot: Depot, is_estimate: bool, how: str
) -> None:
    line = due(make_machine(depot, "MX-1"), in_days=40)
    DueLine.objects.filter(pk=line.pk).update(
        plan_on=TODAY - timedelta(days=2), is_estimate=is_estimate
    )

    (one,) = turn()
    assert f"Likely due since 21 Nov 2026. {how} Takes about 25 min" in one.body
