"""A machine that is issued takes its passport along: asked for with it, once, never waited for."""

import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from pypdf import PdfReader

from maintenance.actions.stop import stop_machine
from maintenance.models import Stay
from plant.models import Machine, Record, User
from reports import tasks
from reports.models import Batch

pytestmark = pytest.mark.usefixtures("rule_sheet")


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def address(machine: Machine) -> str:
    return reverse("reports:issue", args=[machine.pk])


def given(**more: str) -> dict[str, str]:
    return {
        "entry": str(uuid.uuid4()), "hirer": "Ash Groundworks", "site": "Plot 4",
        "site_phone": "01632 960 200", "passport": "on",
        "due_back_on": (now() + timedelta(days=10)).date().isoformat(),
    } | more  # fmt: skip


def test_the_issue_leads_to_its_passport_which_prints_by_itself(
    machine: Machine, desk: User, django_capture_on_commit_callbacks: Any
) -> None:
    client = signed_in(desk)

    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(address(machine), given())

    batch = Batch.objects.get()
    assert answer["Location"] == reverse("reports:batch", args=[batch.pk])
    assert (batch.kind, batch.state) == ("passport", "done")
    assert batch.issue == Stay.objects.get().record
    shown = client.get(answer["Location"]).content.decode()
    assert "is out at Plot 4. Sealed." in shown
    assert "print it, or send the file, before it leaves" in shown
    words = " ".join(PdfReader(Path(batch.file.path)).pages[0].extract_text().split())
    for part in ("Ash Groundworks", "Plot 4", "MX-203"):
        assert part in words
    # The site's telephone is the desk's.
    assert "01632 960 200" not in words


def test_it_is_not_waited_for_where_nobody_prints(machine: Machine, desk: User) -> None:
    answer = signed_in(desk).post(address(machine), given())

    batch = Batch.objects.get()
    assert (answer.status_code, batch.state) == (302, "asked")
    shown = signed_in(desk).get(answer["Location"]).content.decode()
    assert "0 of 1 passport printed" in shown
    Batch.objects.update(asked_at=now() - timedelta(minutes=1))
    assert tasks.sweep_prints() == 1
    batch.refresh_from_db()
    assert batch.state == "done"


def test_sent_twice_there_is_one_issue_and_one_passport(machine: Machine, desk: User) -> None:
    client, form = signed_in(desk), given()

    first = client.post(address(machine), form)
    again = client.post(address(machine), form)

    assert first["Location"] == again["Location"]
    assert Batch.objects.count() == Stay.objects.count() == 1


def test_a_refused_issue_asks_for_nothing_and_is_kept_on_record(
    machine: Machine, desk: User, operator: User
) -> None:
    stop_machine(machine=machine, told="guard gone", at=now(), by=operator)

    answer = signed_in(desk).post(address(machine), given())

    assert answer.status_code == 422
    assert not Batch.objects.exists()
    assert Record.objects.filter(kind="place", content__contains='"refused"').exists()


def test_without_the_tick_nothing_goes_and_nothing_is_asked_for(
    machine: Machine, desk: User
) -> None:
    form = given()
    del form["passport"]

    answer = signed_in(desk).post(address(machine), form)

    assert answer.status_code == 422
    assert not Batch.objects.exists()
    assert not Stay.objects.exists()


def test_what_cannot_be_asked_for_is_not_issued_either(
    machine: Machine, desk: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both or neither: no machine is out whose passport was lost on the way."""

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("reports.actions.passport.ask_sheets", broken)
    client = Client(raise_request_exception=False)
    client.force_login(desk)

    answer = client.post(address(machine), given())

    machine.refresh_from_db()
    assert answer.status_code == 500
    assert machine.place == "yard"
    assert not Stay.objects.exists()
    assert not Record.objects.exists()
