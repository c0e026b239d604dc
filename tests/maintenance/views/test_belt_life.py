"""The page Running out: worst first, with days, order and how old; and the days to get a belt."""

import csv
import io
from datetime import date, timedelta
from unittest.mock import patch

from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.belt_life import raise_belt_work, rework_belts
from maintenance.models import BeltLife, BeltLook, Job
from maintenance.rules.words import day_text
from make import make_drive, make_machine, make_user
from plant.models import Depot, Role, User


def page(user: User, query: str = "") -> str:
    client = Client()
    client.force_login(user)
    return client.get(reverse("maintenance:running_out") + query).content.decode()


def dated(depot: Depot, number: str, order_by: date, **more: object) -> BeltLife:
    drive = make_drive(make_machine(depot, number))
    given = {
        "state": BeltLife.State.DATED, "ends_by": "take-up", "lead_days": 14,
        "early_on": order_by + timedelta(days=14), "likely_on": order_by + timedelta(days=30),
        "order_by_on": order_by, "why": "by the line", "worked_out_at": now(),
    }  # fmt: skip
    return BeltLife.objects.create(drive=drive, **given | more)


def test_the_belt_to_change_stands_first_then_by_order_day_and_the_chart_names_the_dated(
    depot: Depot, fitter: User
) -> None:
    today = depot.day_of(now())
    dated(depot, "LATER-1", today + timedelta(days=50))
    dated(depot, "SOON-1", today - timedelta(days=1))
    dated(depot, "WORN-1", today, state=BeltLife.State.NOW, order_by_on=None)

    shown = page(fitter)
    rows = shown.split("<tbody>")[1]
    order = [rows.index(f">{number}<") for number in ("WORN-1", "SOON-1", "LATER-1")]
    assert order == sorted(order)
    assert "<strong>1 belt to order now</strong>, 1 to change now" in shown
    picture = shown.split("<svg")[1].split("</svg>")[0]
    assert "SOON-1" in picture
    assert "WORN-1" not in picture
    assert "LATER-1" not in page(fitter, "?state=order")


def test_due_work_names_each_belt_to_order_and_to_look_at_with_its_day_and_reason(
    depot: Depot, other_depot: Depot, fitter: User
) -> None:
    at = now()
    today = depot.day_of(at)
    for place, days in ((depot, 3), (depot, 1), (other_depot, 2)):
        dated(place, f"B-{days}", today - timedelta(days=days), belt_key=f"{days}")
    look = make_drive(make_machine(depot, "LOOK-1"))
    BeltLife.objects.create(
        drive=look, state="unknown", lead_days=14, why="", worked_out_at=at, belt_key="k"
    )
    BeltLook.objects.create(
        drive=look, number=1, hours=5.0, belt_key="k", worked_out_at=at,
        likely_on=today + timedelta(days=2),
    )  # fmt: skip
    for place in (depot, other_depot):
        raise_belt_work(depot=place, at=at)
    client = Client()
    client.force_login(fitter)

    def belts(query: str = "") -> str:
        shown = client.get(reverse("maintenance:due_list") + query).content.decode()
        return shown.split('id="belts"')[1] if 'id="belts"' in shown else ""

    shown = belts()
    order = [shown.index(f">{number}<") for number in ("B-3", "B-1", "LOOK-1")]
    assert order == sorted(order)
    assert "B-2" not in shown
    assert f"Take-up ends. Order the next belt by {day_text(today - timedelta(days=3))}." in shown
    assert "Read its tension after 4 to 24 h of running." in shown
    assert f"<strong>since</strong> {day_text(today - timedelta(days=1))}" in shown
    assert f"by {day_text(today + timedelta(days=2))}" in shown
    for job in Job.objects.filter(machine__depot=depot):
        assert reverse("maintenance:job", args=[job.pk]) in shown
    assert belts("?state=soon") == ""
    # The file holds them too, all of them, and by the same filters.
    client.force_login(make_user("Maja", (depot, Role.MANAGER)))
    with patch("maintenance.contents.belt_life.MOST_DUE", 1):
        told = in_file(client, "")
    assert [row["Machine"] for row in told] == ["B-3", "B-1", "LOOK-1"]
    assert (told[0]["Do by"], told[0]["How it stands"]) == (
        (today - timedelta(days=3)).isoformat(), "overdue",
    )  # fmt: skip
    assert "Take-up ends." in told[0]["Why"]
    assert in_file(client, "soon") == []
    client.force_login(fitter)
    assert "B-1" not in belts("?q=look")
    with patch("maintenance.contents.belt_life.MOST_DUE", 2):
        assert "1 more: " in belts()
        assert "LOOK-1" not in belts()


def in_file(client: Client, state: str) -> list[dict[str, str]]:
    answer = client.get(reverse("maintenance:due_list"), {"csv": "1", "state": state})
    rows = csv.DictReader(io.StringIO(answer.getvalue().decode("utf-8-sig")))
    return [row for row in rows if "belt" in row["Work"].lower()]


def test_days_that_are_old_are_said_aloud(depot: Depot, fitter: User) -> None:
    dated(depot, "OLD-1", date(2026, 1, 1), worked_out_at=now() - timedelta(days=2))

    assert "1 belt worked out more than a day ago" in page(fitter)
    assert rework_belts(depot=depot, at=now()) == 1
    assert "more than a day ago" not in page(fitter)


def test_another_depots_belts_are_not_there(
    depot: Depot, other_depot: Depot, fitter: User, outsider: User
) -> None:
    dated(other_depot, "THEIRS-1", date(2026, 1, 1))
    assert "THEIRS-1" not in page(fitter)
    assert "THEIRS-1" in page(outsider)
