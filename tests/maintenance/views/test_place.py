"""Out and in, and the pages that move a machine."""

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.stay import Going, issue
from maintenance.actions.stop import stop_machine
from maintenance.models import DueLine, Job, PlanLine, Skill, Stay, Transfer
from make import make_competence, make_machine
from plant.models import Depot, Machine, Place, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet")


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def address(name: str, pk: int) -> str:
    # The issue lies with the paper that goes with it.
    return reverse(f"{'reports' if name == 'issue' else 'maintenance'}:{name}", args=[pk])


def form(**more: str) -> dict[str, str]:
    given = {
        "entry": str(uuid.uuid4()), "hirer": "Ash Groundworks", "site": "Plot 4",
        "site_phone": "01632 960 200", "passport": "on",
        "due_back_on": (now() + timedelta(days=10)).date().isoformat(),
    }  # fmt: skip
    return given | more


def text(response: Any) -> str:
    return str(response.content.decode())


def line(machine: Machine, days: int, **more: Any) -> DueLine:
    kept = PlanLine.objects.create(
        machine=machine, key=f"own-{machine.pk}", title="Service A", every_months=3,
        source="made up", trust="test", **more,
    )  # fmt: skip
    today = now().date()
    return DueLine.objects.create(
        machine=machine, line=kept, start_on=today, due_on=today + timedelta(days=days),
        worked_out_at=now(),
    )  # fmt: skip


def test_three_figures_answer_yes(machine: Machine, desk: User) -> None:
    shown = text(signed_in(desk).get(reverse("maintenance:out_in"), {"q": "203"}))

    assert "<strong>Yes.</strong>" in shown
    assert address("issue", machine.pk) in shown


def test_three_figures_answer_no_with_what_can_go_instead(
    machine: Machine, depot: Depot, desk: User, operator: User
) -> None:
    stop_machine(machine=machine, told="guard gone", at=now(), by=operator)
    other = make_machine(depot, "MX-777")

    shown = text(signed_in(desk).get(reverse("maintenance:out_in"), {"q": "203"}))

    assert "<strong>No.</strong>" in shown
    assert "guard gone" in shown
    assert address("issue", other.pk) in shown


def test_stopped_while_out_stands_first_with_the_site_phone(
    machine: Machine, desk: User, operator: User
) -> None:
    signed_in(desk).post(address("issue", machine.pk), form())
    stop_machine(machine=machine, told="guard gone", at=now(), by=operator)

    shown = text(signed_in(desk).get(reverse("maintenance:out_in")))
    today = text(signed_in(desk).get(reverse("reports:today")))

    assert "01632 960 200" in shown
    assert "01632 960 200" in today
    assert "01632 960 200" not in text(signed_in(operator).get(reverse("reports:today")))
    assert "01632 960 200" not in text(signed_in(operator).get(address("machine", machine.pk)))


def test_the_page_costs_the_same_for_few_and_many(depot: Depot, desk: User) -> None:
    counts = []
    client = signed_in(desk)
    for number in (2, 9):
        for _ in range(number):
            machine = make_machine(depot)
            going = Going(site="Plot", site_phone="01632 960 200", due_back_on=now().date())
            issue(machine=machine, going=going, at=now(), by=desk, passport=True)
            stop_machine(machine=machine, told="bent", at=now(), by_name="Ola")
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("maintenance:out_in"))
        counts.append(len(queries))

    assert counts[0] == counts[1]


def test_issue_from_the_page_and_pressed_twice(machine: Machine, desk: User) -> None:
    given = form()
    client = signed_in(desk)

    first = client.post(address("issue", machine.pk), given)
    client.post(address("issue", machine.pk), given)

    assert first.status_code == 302
    assert Stay.objects.get().site == "Plot 4"
    assert Record.objects.filter(kind="place").count() == 1


def test_a_plan_is_asked_for_once_something_falls_due(machine: Machine, desk: User) -> None:
    line(machine, 3)
    client, given = signed_in(desk), form()
    assert "What is done about it?" not in text(client.get(address("issue", machine.pk)))

    asked = client.post(address("issue", machine.pk), given)
    assert asked.status_code == 422
    assert "Falls due while out: Service A" in text(asked)
    assert "What is done about it?" in text(asked)
    assert 'value="Plot 4"' in text(asked)
    done = client.post(address("issue", machine.pk), given | {"plan": "swap", "plan_reason": ""})

    assert done.status_code == 302
    assert Stay.objects.get().plan == "swap"


def test_the_work_may_come_first(machine: Machine, desk: User) -> None:
    line(machine, 3)

    response = signed_in(desk).post(
        address("issue", machine.pk), form(plan="before", plan_reason=""), follow=True
    )

    assert "It stays here until its work is done" in text(response)
    assert Job.objects.get().title == "Service A"
    assert not Stay.objects.exists()


def test_issue_of_a_stopped_machine_is_refused_and_kept(
    machine: Machine, desk: User, operator: User
) -> None:
    stop_machine(machine=machine, told="guard gone", at=now(), by=operator)
    client = signed_in(desk)
    assert "Issue it" not in text(client.get(address("issue", machine.pk)))

    response = client.post(address("issue", machine.pk), form())

    assert response.status_code == 422
    assert "guard gone" in text(response)
    shown = text(client.get(address("machine", machine.pk)))
    assert "Issue refused: Do not use" in shown


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"site": ""}, "Fill this in."),
        ({"site_phone": ""}, "Fill this in."),
        ({"due_back_on": "2001-01-01"}, "or a later day"),
        ({"due_back_on": "soon"}, "Write the day"),
        ({"passport": ""}, "Print or send it"),
        ({"site": "x" * 121}, "That is 121 letters"),
    ],
)
def test_an_issue_that_cannot_be_comes_back_filled_in(
    machine: Machine, desk: User, change: dict[str, str], message: str
) -> None:
    response = signed_in(desk).post(address("issue", machine.pk), form(**change))

    assert response.status_code == 422
    assert message in text(response)
    assert 'value="Ash Groundworks"' in text(response)
    assert not Stay.objects.exists()


def test_taken_back_leads_who_is_competent_to_the_look_over(machine: Machine, desk: User) -> None:
    make_competence(desk, machine.depot, Skill.INSPECT)
    client = signed_in(desk)
    client.post(address("issue", machine.pk), form(condition="a scratch"))
    assert "a scratch" in text(client.get(address("take_back", machine.pk)))

    response = client.post(
        address("take_back", machine.pk), {"entry": str(uuid.uuid4()), "condition": "two"}
    )

    assert response["Location"] == address("look_over", machine.pk)
    machine.refresh_from_db()
    assert machine.place == Place.YARD
    assert "Not yet passed" in text(client.get(address("machine", machine.pk)))


def test_passed_on_and_kept_longer(machine: Machine, desk: User) -> None:
    client = signed_in(desk)
    client.post(address("issue", machine.pk), form())

    passed = client.post(address("pass_on", machine.pk), form(site="Plot 9", taken_by="Ola"))
    later = (now() + timedelta(days=40)).date()
    kept = client.post(
        address("tell_stay", machine.pk), form(site="Plot 9", due_back_on=later.isoformat())
    )

    assert (passed.status_code, kept.status_code) == (302, 302)
    assert Stay.objects.open().get().due_back_on == later
    assert Stay.objects.count() == 2


def test_sent_by_name_and_received_there(
    machine: Machine, desk: User, other_depot: Depot, outsider: User
) -> None:
    odd = signed_in(desk).post(
        address("send", machine.pk), {"entry": str(uuid.uuid4()), "to": "Nowhere"}
    )
    assert odd.status_code == 422

    signed_in(desk).post(
        address("send", machine.pk), {"entry": str(uuid.uuid4()), "to": "south YARD"}
    )
    transfer = Transfer.objects.get()
    moving = {"list": "moving"}
    there = signed_in(outsider)
    assert address("receive", transfer.pk) in text(there.get(reverse("maintenance:out_in"), moving))
    assert there.get(address("turn_back", transfer.pk)).status_code == 403
    assert signed_in(desk).get(address("receive", transfer.pk)).status_code == 403
    response = there.post(
        address("receive", transfer.pk), {"entry": str(uuid.uuid4()), "where": "yard"}
    )

    assert response["Location"] == address("machine", machine.pk)
    assert "Send: In yard to Moving, south" in text(there.get(response["Location"]))
    sent = Record.objects.get(depot=machine.depot, kind="place")
    assert there.get(reverse("maintenance:record", args=[sent.pk])).status_code == 200


def test_the_move_page_offers_what_the_role_may(
    machine: Machine, operator: User, fitter: User, manager: User
) -> None:
    asked = {
        person: text(signed_in(person).get(address("move", machine.pk)))
        for person in (operator, fitter, manager)
    }

    assert "It is missing" in asked[operator]
    assert "Into the workshop" not in asked[operator]
    assert "Into the workshop" in asked[fitter]
    assert address("write_off", machine.pk) not in asked[fitter]
    assert address("write_off", machine.pk) in asked[manager]
    assert address("issue", machine.pk) in asked[manager]


def test_a_plain_move_that_is_not_offered_is_not_made(machine: Machine, operator: User) -> None:
    response = signed_in(operator).post(
        address("move", machine.pk), {"entry": str(uuid.uuid4()), "move": "lay-up", "reason": ""}
    )

    assert response.status_code == 422
    machine.refresh_from_db()
    assert machine.place == Place.YARD


def test_a_machine_is_reported_missing_from_the_page(machine: Machine, operator: User) -> None:
    client = signed_in(operator)
    data = {"entry": str(uuid.uuid4()), "move": "missing", "reason": ""}
    assert client.post(address("move", machine.pk), data).status_code == 422

    client.post(address("move", machine.pk), data | {"reason": "not behind the hut"})

    assert "Missing: In yard to Missing: not behind the hut" in text(
        client.get(address("machine", machine.pk))
    )


def test_written_off_from_the_page(machine: Machine, manager: User, operator: User) -> None:
    stop_machine(machine=machine, told="guard gone", at=now(), by=operator)
    job = Job.objects.get()
    data = {"entry": str(uuid.uuid4()), "reason": "sold for scrap"}
    client = signed_in(manager)
    refused = client.post(address("write_off", machine.pk), data)
    assert job.number in text(refused)

    client.post(address("write_off", machine.pk), data | {"jobs": [str(job.pk)]})

    machine.refresh_from_db()
    assert machine.place == Place.GONE
