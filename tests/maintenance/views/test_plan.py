"""The pages of plans: a change is shown before it is kept."""

from datetime import date
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from maintenance.actions.due import rework_old
from maintenance.actions.plan import give_plans
from maintenance.models import DueLine, PlanLine
from make import MONDAY, make_depot, make_machine, make_user
from plant.models import Depot, Machine, Role


@pytest.fixture
def depot(db: None) -> Depot:
    return make_depot()


@pytest.fixture
def line(depot: Depot) -> PlanLine:
    machine = make_machine(depot, "MX-203", hours_at=MONDAY)
    made = PlanLine.objects.create(
        kind=machine.kind, key="grease", title="Grease", every_months=3, source="-", trust="-"
    )
    made.steps.create(position=1, text="Grease it.", target="12 to 18 N", low=12, high=18, unit="N")
    give_plans([Machine.objects.select_related("kind", "depot").get()], at=MONDAY)
    return made


@pytest.fixture
def client(client: Client, depot: Depot) -> Client:
    client.force_login(make_user("Marit", (depot, Role.MANAGER)))
    return client


def filled(**more: str) -> dict[str, Any]:
    return {
        "title": "Grease", "measure": "hours", "every_months": "2", "counts_from": "done",
        "notice_days": "14",
        "notice_hours": "10 h", "minutes": "30", "level": "0", "source": "our own plan",
        "from_on": "2026-03-02", "reason": "The handbook was printed anew.",
        "steps-TOTAL_FORMS": "1", "steps-INITIAL_FORMS": "0", "steps-0-text": "Wipe, then grease.",
    } | more  # fmt: skip


def test_a_change_is_shown_first_and_kept_at_the_second_press(
    client: Client, line: PlanLine
) -> None:
    address = reverse("maintenance:change_plan_line", args=[line.pk])
    with time_machine.travel(MONDAY, tick=False):
        assert "12 to 18 N" in client.get(address).content.decode()
        shown = client.post(address, filled())
        page = shown.content.decode()
        assert PlanLine.objects.count() == 1
        seen = page.split('name="seen" value="')[1].split('"')[0]
        other = client.post(address, filled(seen=seen, every_months="1"))
        assert PlanLine.objects.count() == 1, "another change than the one shown is shown first"
        kept = client.post(address, filled(seen=seen))
        rework_old(at=MONDAY)  # as the timer does within the minute

    assert (shown.status_code, other.status_code, kept.status_code) == (200, 200, 302)
    assert "2 Jun 2026" in page
    assert "2 May 2026" in page
    assert DueLine.objects.get().due_on == date(2026, 5, 2)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"every_months": ""}, "hours, months or days"),
        ({"every_months": "two"}, "whole number"),
        ({"every_hours": "1,5"}, "Use a point for decimals"),
        ({"reason": ""}, "required"),
        ({"from_on": "2026-02-01", "seen": "x"}, ""),
        ({"steps-0-text": "", "steps-0-caution": "Hot."}, "Say what is done"),
        ({"steps-TOTAL_FORMS": "a"}, ""),
        ({"steps-TOTAL_FORMS": "900"}, ""),
    ],
)
def test_a_change_that_cannot_be_says_so_and_keeps_what_was_typed(
    client: Client, line: PlanLine, more: dict[str, str], words: str
) -> None:
    with time_machine.travel(MONDAY, tick=False):
        answer = client.post(
            reverse("maintenance:change_plan_line", args=[line.pk]), filled(**more)
        )

    page = answer.content.decode()
    assert answer.status_code in (200, 422)
    assert words in page
    assert PlanLine.objects.count() == 1


def test_a_new_line_is_kept_at_once(client: Client, line: PlanLine) -> None:
    address = reverse("maintenance:add_plan_line", args=[line.kind_id])
    with time_machine.travel(MONDAY, tick=False):
        answer = client.post(address, filled(title="Look at the tyres"))

    assert answer.status_code == 302
    assert DueLine.objects.filter(line__title="Look at the tyres").exists()


def test_a_line_that_counts_starts_takes_whole_ones(client: Client, line: PlanLine) -> None:
    address = reverse("maintenance:add_plan_line", args=[line.kind_id])
    asked = filled(title="Brushes", measure="starts", every_months="", notice_hours="50")
    refused = client.post(address, asked | {"every_hours": "500 h"})
    assert b"Enter a whole number of starts, without a unit." in refused.content

    assert client.post(address, asked | {"every_hours": "500"}).status_code == 302
    made = PlanLine.objects.get(title="Brushes")
    assert (made.measure, made.every_tenths, made.notice_tenths) == ("starts", 5000, 500)
    page = client.get(reverse("maintenance:change_plan_line", args=[made.pk])).content.decode()
    assert "Its meter counts: starts." in page
    assert "Running hours" not in page


def test_plans_are_read_by_all_and_changed_by_a_manager(line: PlanLine, depot: Depot) -> None:
    client = Client()
    client.force_login(make_user("Olwen", (depot, Role.OPERATOR)))

    page = client.get(reverse("maintenance:kind_plan", args=[line.kind_id])).content.decode()

    assert "Every 3 months, counted from when last done" in page
    assert "Change" not in page
    refused = client.get(reverse("maintenance:change_plan_line", args=[line.pk]))
    assert refused.status_code == 403


def test_a_line_is_taken_off_and_asked_again(client: Client, line: PlanLine) -> None:
    due_line = DueLine.objects.get()
    address = reverse("maintenance:rest_line", args=[due_line.pk])
    for words in ("It has no ring gear.", "It has one after all."):
        assert client.post(address, {"reason": words}).status_code == 302
        page = client.get(reverse("maintenance:machine_plan", args=[due_line.machine_id]))
        assert ("taken off" in page.content.decode()) == (words == "It has no ring gear.")
