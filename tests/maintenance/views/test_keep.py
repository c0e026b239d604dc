"""What is kept: what will go and when, holding it back, and what went, on its record."""

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from maintenance.actions import keep
from maintenance.actions.fault import report_fault
from maintenance.actions.place import write_off
from maintenance.models import KeepHold, KeepListing, RuleSheet
from make import make_machine
from plant.models import Depot, Machine, Record, User
from reports.tasks import keep_times

SOLD = datetime(2020, 5, 3, 10, tzinfo=UTC)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def shown(user: User, name: str = "keep", *args: Any) -> str:
    answer = signed_in(user).get(reverse(f"maintenance:{name}", args=args))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.fixture
def sold(depot: Depot, manager: User, rule_sheet: RuleSheet) -> Machine:
    machine = make_machine(depot, "MX-900")
    job = report_fault(
        machine=machine, part="stands_level", told="Leans to one side", stop_now=False,
        at=SOLD - timedelta(days=30), by_name="Passer By", by_label=True,
    )  # fmt: skip
    write_off(machine=machine, reason="Sold to a dealer", jobs=[job], at=SOLD, by=manager)
    return machine


def test_empty_it_says_what_would_be_here_and_how_long_things_are_kept(
    manager: User, rule_sheet: RuleSheet
) -> None:
    page = shown(manager)

    assert "Nothing is listed to go." in page
    assert "6 years after the machine left" in page
    assert "Common practice, no source" in page
    assert "No machine's records are held" in page.replace("&#x27;", "'")


def test_a_listing_is_shown_held_and_released(
    sold: Machine, depot: Depot, manager: User, administrator: User, outsider: User
) -> None:
    with time_machine.travel(datetime(2026, 3, 2, 8, tzinfo=UTC), tick=False):
        keep_times()
        page = shown(administrator)
        assert "<strong>1 entry</strong> will go, the first on 1 Jun 2026" in page
        assert "6 years after it left on 3 May 2020" in page
        assert "Fault report: 2 texts" in page
        assert "MX-900" not in shown(outsider)

        data = {"entry": str(uuid.uuid4()), "number": "mx 900", "reason": "A claim is running"}
        client = signed_in(manager)
        for _ in range(2):  # sent twice it is held once
            answer = client.post(reverse("maintenance:hold_records"), data)
            assert answer.status_code == 302
        held = KeepHold.objects.get()
        page = shown(manager)
        assert "Nothing is listed to go." in page
        assert "A claim is running" in page
        assert "held back: A claim is running" in shown(manager, "record", held.record_id)

        address = reverse("maintenance:release_hold", args=[held.pk])
        answer = client.post(address, {"entry": str(uuid.uuid4()), "reason": "no"})
        assert answer.status_code == 422
        assert "at least 5 characters" in answer.content.decode()
        answer = client.post(address, {"entry": str(uuid.uuid4()), "reason": "It is settled"})
        assert answer.status_code == 302
        assert not KeepHold.objects.standing().exists()


def test_another_depots_machine_cannot_be_held(sold: Machine, outsider: User) -> None:
    data = {"entry": str(uuid.uuid4()), "number": "MX-900", "reason": "A claim is running"}

    answer = signed_in(outsider).post(reverse("maintenance:hold_records"), data)

    assert answer.status_code == 422
    assert "No machine of your depots has this number." in answer.content.decode()
    assert "MX-900" in answer.content.decode()  # what was typed is kept


def test_what_went_is_told_on_its_record_with_when_by_whom_and_how_long_it_was_kept(
    sold: Machine, depot: Depot, manager: User
) -> None:
    keep.list_month(depot=depot, at=datetime(2026, 3, 2, 8, tzinfo=UTC))
    assert KeepListing.objects.count() == 3
    keep.take_due(depot=depot, at=datetime(2026, 6, 1, 8, tzinfo=UTC))
    fault = Record.objects.get(kind="fault")

    page = shown(manager, "record", fault.pk)

    assert "erased on 1 Jun 2026 by rule, kept 6 years" in page
    assert "name erased, by label" in page
    assert "Leans" not in page
    erased = Record.objects.get(kind="erased", content__contains='"of_kind":"fault"')
    assert reverse("maintenance:record", args=[erased.pk]) in page
    page = shown(manager, "record", erased.pk)
    assert "By the rule sheet, nobody signed" in page
    assert "Fault report, 2 texts and 0 photos, kept 6 years" in page
    assert "Fault report, 2 texts and 0 photos, kept 6 years" in shown(manager)
    # The machine's own page and its story still open.
    assert "Words and photos erased" in shown(manager, "machine", sold.pk)


def test_a_file_that_will_not_go_keeps_nothing_else_back(
    sold: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails() -> int:
        raise OSError("the disk is away")

    monkeypatch.setattr("reports.tasks.remove_left_files", fails)
    with time_machine.travel(datetime(2026, 3, 2, 8, tzinfo=UTC), tick=False):
        keep_times()

    assert KeepListing.objects.open().count() == 3
