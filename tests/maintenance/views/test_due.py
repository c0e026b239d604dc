"""The pages of due work: one line whole, putting off, corrections, the weeks ahead, open days."""

import csv
import io
from datetime import date, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from maintenance.actions.plan import give_plans, record_done
from maintenance.contents.due import announced, announced_in_turn, old_lines
from maintenance.models import ClosedDay, Completion, DueLine, PlanLine, PutOff, WeekDay
from make import MONDAY, make_depot, make_machine, make_user
from plant.models import Depot, Machine, Place, Role, User

TODAY = MONDAY.date()


@pytest.fixture
def depot(db: None) -> Depot:
    return make_depot()


@pytest.fixture
def manager(depot: Depot) -> User:
    return make_user("Marit Manager", (depot, Role.MANAGER))


@pytest.fixture
def line(depot: Depot) -> DueLine:
    machine = make_machine(depot, "MX-203", place=Place.OUT, hours_at=MONDAY)
    PlanLine.objects.create(
        kind=machine.kind, key="grease", title="Grease the ring", every_days=60, notice_days=60,
        minutes=45, source="made up", trust="common practice, no source",
    )  # fmt: skip
    give_plans([Machine.objects.select_related("kind", "depot").get()], at=MONDAY)
    return DueLine.objects.get()


@pytest.fixture
def client(client: Client, manager: User) -> Client:
    client.force_login(manager)
    return client


def test_the_list_says_by_which_open_day_to_do_it(client: Client, line: DueLine) -> None:
    """Due on Friday 1 May; closed that day, so by Thursday."""
    assert line.due_on == date(2026, 5, 1)
    ClosedDay.objects.create(depot=line.machine.depot, on=date(2026, 5, 1), name="Holiday")

    with time_machine.travel(MONDAY, tick=False):
        page = client.get(reverse("maintenance:due_list")).content.decode()

    assert "30 Apr 2026" in page
    assert "1 May 2026" in page


def test_the_list_as_csv_holds_every_line_and_guards_formulas(
    client: Client, line: DueLine
) -> None:
    PlanLine.objects.update(title="=1+1")

    with time_machine.travel(MONDAY, tick=False):
        answer = client.get(reverse("maintenance:due_list"), {"csv": "1"})

    rows = list(csv.DictReader(io.StringIO(answer.getvalue().decode("utf-8-sig"))))
    assert [row["Machine"] for row in rows] == ["MX-203"]
    assert rows[0]["Work"] == "'=1+1"
    assert rows[0]["Due on"] == "2026-05-01"


def test_one_line_shows_its_reason_its_doing_and_its_steps(client: Client, line: DueLine) -> None:
    line.line.steps.create(position=1, text="Grease it.", caution="Isolate first.")
    record_done(due_line=line, on=date(2026, 3, 1), tenths=None, at=MONDAY)

    page = client.get(reverse("maintenance:due_line", args=[line.pk])).content.decode()

    for words in ("Every 60 days", "1 Mar 2026", "Isolate first.", "45 min", "Put off"):
        assert words in page


def test_putting_off_is_kept_with_its_reason(client: Client, line: DueLine) -> None:
    with time_machine.travel(MONDAY, tick=False):
        answer = client.post(
            reverse("maintenance:put_off", args=[line.pk]),
            {"to": "2026-05-05", "reason": "The ring gear is on order."},
        )
        page = client.get(reverse("maintenance:due_line", args=[line.pk])).content.decode()

    assert answer.status_code == 302
    assert PutOff.objects.get().to_on == date(2026, 5, 5)
    assert "The ring gear is on order." in page


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"to": "2026-06-30", "reason": "The ring gear is on order."}, "by 6 days at most"),
        ({"to": "2026-05-03", "reason": "short"}, "10 letters or more"),
        ({"to": "05/03/26", "reason": "The ring gear is on order."}, "error"),
    ],
)
def test_a_put_off_that_is_refused_keeps_what_was_typed(
    client: Client, line: DueLine, told: dict[str, str], words: str
) -> None:
    with time_machine.travel(MONDAY, tick=False):
        answer = client.post(reverse("maintenance:put_off", args=[line.pk]), told)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert told["reason"] in page
    assert not PutOff.objects.exists()


def test_a_correction_strikes_the_first_word_and_keeps_it(client: Client, line: DueLine) -> None:
    done = record_done(due_line=line, on=date(2026, 3, 1), tenths=None, at=MONDAY)
    with time_machine.travel(MONDAY, tick=False):
        answer = client.post(
            reverse("maintenance:correct_done", args=[done.pk]),
            {"what": "done", "on": "2026-02-20", "reason": "Read off the wrong card."},
        )
        again = client.get(reverse("maintenance:correct_done", args=[done.pk]))

    assert answer.status_code == 302
    line.refresh_from_db()
    assert line.last_done_on == date(2026, 2, 20)
    assert Completion.objects.count() == 2
    assert again.status_code == 404, "what was struck out is not corrected again"


def test_the_weeks_ahead_hold_the_work_against_the_fitters_hours(
    client: Client, line: DueLine
) -> None:
    WeekDay.objects.create(depot=line.machine.depot, weekday=4, fitter_minutes=480)
    with time_machine.travel(date(2026, 4, 27), tick=False):
        page = client.get(reverse("maintenance:look_ahead")).content.decode()

    assert "0.8 h needed this week" in page
    assert "of 8.0 h that the fitters have" in page
    assert "<svg" in page


def test_without_hours_the_weeks_ahead_say_so(client: Client, line: DueLine) -> None:
    page = client.get(reverse("maintenance:look_ahead")).content.decode()

    assert "Nobody has said how many hours the fitters have." in page


def test_the_week_is_set_in_hours_and_a_closed_day_can_be_opened_again(
    client: Client, depot: Depot
) -> None:
    week = {f"open_{n}": "on" for n in range(5)} | {f"hours_{n}": "16" for n in range(5)}
    address = reverse("maintenance:open_days", args=[depot.pk])

    assert client.post(address, week).status_code == 302
    found = dict(WeekDay.objects.values_list("weekday", "fitter_minutes"))
    assert found == dict.fromkeys(range(5), 960) | {5: 0, 6: 0}
    assert set(WeekDay.objects.filter(is_open=False).values_list("weekday", flat=True)) == {5, 6}

    coming = (TODAY + timedelta(days=4000)).isoformat()
    day = (date.today() + timedelta(days=30)).isoformat()
    close = reverse("maintenance:close_day", args=[depot.pk])
    assert client.post(close, {"on": coming, "name": "Far"}).status_code == 422
    assert client.post(close, {"on": day, "name": "Stock-taking"}).status_code == 302
    assert "Stock-taking" in client.get(address).content.decode()
    opened = client.post(reverse("maintenance:open_day", args=[ClosedDay.objects.get().pk]))
    assert opened.status_code == 302
    assert not ClosedDay.objects.exists()


def test_a_week_without_an_open_day_is_refused(client: Client, depot: Depot) -> None:
    answer = client.post(reverse("maintenance:open_days", args=[depot.pk]), {"hours_0": "8"})

    assert answer.status_code == 422
    assert "at least one day open" in answer.content.decode()
    assert not WeekDay.objects.exists()


def test_old_due_dates_are_shouted_about(client: Client, line: DueLine) -> None:
    address = reverse("maintenance:due_list")
    with time_machine.travel(MONDAY + timedelta(hours=23), tick=False):
        assert "more than a day ago" not in client.get(address).content.decode()
    with time_machine.travel(MONDAY + timedelta(hours=25), tick=False):
        assert "more than a day ago" in client.get(address).content.decode()


def test_walked_in_turn_the_lines_are_those_that_are_announced(
    depot: Depot, manager: User, line: DueLine
) -> None:
    test = PlanLine.objects.create(
        kind=line.machine.kind, key="test", title="Test it", every_days=60, is_test=True,
        source="made up", trust="common practice, no source",
    )  # fmt: skip
    for where in (depot, make_depot("south")):
        for n, place in enumerate(Place.values):
            machine = make_machine(where, kind=line.machine.kind, place=place)
            for plan, days in ((line.line, n % 3), (test, -n), (line.line, 90)):
                on = TODAY + timedelta(days=days)
                DueLine.objects.get_or_create(
                    machine=machine, line=plan,
                    defaults={
                        "start_on": on, "plan_on": on if n else None, "raise_on": on,
                        "hours_near": days == 2, "worked_out_at": MONDAY,
                    },
                )  # fmt: skip

    found = list(announced_in_turn(manager, TODAY))

    assert found == list(announced(manager, TODAY))
    assert {each.machine.place for each in found} == set(Place.values) - {"gone", "missing"}
    assert {each.line for each in found if each.machine.place == "laid up"} == {test}


def test_days_that_nobody_worked_out_for_a_day_are_counted_for_who_sees_them(
    manager: User, line: DueLine
) -> None:
    old = MONDAY - timedelta(hours=25)
    outsider = make_user("Odd Outsider", (make_depot("south"), Role.MANAGER))
    DueLine.objects.update(worked_out_at=MONDAY - timedelta(hours=23))
    assert old_lines(manager, at=MONDAY) == 0

    DueLine.objects.update(worked_out_at=old)
    assert old_lines(manager, at=MONDAY) == 1
    assert old_lines(outsider, at=MONDAY) == 0

    Machine.objects.update(place=Place.GONE)
    assert old_lines(manager, at=MONDAY) == 0
