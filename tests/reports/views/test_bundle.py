"""An inspector's bundle from the machine's page to the file: who may, which days, and its hash."""

import hashlib
import re
import time
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.check import questions, record_check
from maintenance.rules.check import Given
from make import MONDAY
from plant.models import Machine, Record, User
from reports import tasks
from reports.actions import sheet as action
from reports.actions.sheet import Wanted, ask_paper
from reports.models import Batch

pytestmark = pytest.mark.usefixtures("rule_sheet")


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def test_a_hundred_records_from_the_machine_to_the_file(
    machine: Machine, operator: User, foreman: User, django_capture_on_commit_callbacks: Any
) -> None:
    """Three presses: the bundle on the machine's page, the time is chosen already, print, take."""
    machine.added_at = now() - timedelta(days=200)
    machine.save()
    _, asked = questions(machine, at=MONDAY)
    given = {q.key: Given(answer="ok") for q in asked}
    for n in range(100):
        at = now() - timedelta(days=100 - n, hours=1)
        record_check(machine=machine, answers=given, at=at, by=operator)
    client = signed_in(foreman)
    address = reverse("reports:ask_bundle", args=[machine.pk])
    assert address in client.get(reverse("maintenance:machine", args=[machine.pk])).content.decode()
    shown = client.get(address).content.decode()
    assert re.search(r'<input[^>]*value="24"[^>]*checked', shown)

    begun = time.process_time()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(address, {"period": "24"})
    taken_s = time.process_time() - begun

    batch = Batch.objects.get()
    assert answer.headers["Location"] == reverse("reports:batch", args=[batch.pk])
    assert batch.title.startswith("Inspector's bundle of MX-203, ")
    assert (batch.state, batch.sheets.get().state) == ("done", "done")
    page = client.get(reverse("reports:batch", args=[batch.pk])).content.decode()
    taken: Any = client.get(reverse("reports:batch_file", args=[batch.pk]))
    assert taken.streaming
    data = b"".join(taken.streaming_content)
    assert hashlib.sha256(data).hexdigest() == batch.sha256 == batch.sheets.get().sha256
    assert batch.sha256 in page
    record = Record.objects.get(kind=Record.Kind.SHEET)
    assert (record.machine, record.by) == (machine, foreman)
    # The promise is 60 s for a hundred records; processor time, since others share this computer.
    assert taken_s < 60


def test_a_long_paper_says_how_far_it_is_and_a_second_worker_only_draws(
    machine: Machine, operator: User, foreman: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, asked = questions(machine, at=MONDAY)
    given = {q.key: Given(answer="ok") for q in asked}
    for n in range(3):
        at = now() - timedelta(days=3 - n, hours=1)
        record_check(machine=machine, answers=given, at=at, by=operator)
    days = ((now() - timedelta(days=30)).date(), now().date())
    batch = ask_paper(
        depot=machine.depot, wanted=[Wanted(machine)], by=foreman, at=now(),
        kind=Batch.Kind.BUNDLE, days=days,
    )  # fmt: skip
    address = reverse("reports:batch_progress", args=[batch.pk])
    client, pages = signed_in(foreman), []
    telling = action._telling

    def watched(held: Any) -> Any:
        tell = telling(held)

        def each(doing: str, done: int, of: int) -> None:
            tell(doing, done, of)
            pages.append(" ".join(client.get(address).content.decode().split()))
            if len(pages) == kill_at:
                raise SystemExit  # as a worker that is killed

        return each

    monkeypatch.setattr(action, "EACH_S", 0.0)
    monkeypatch.setattr(action, "_telling", watched)
    kill_at = 6  # while the first record is set on its page
    with pytest.raises(SystemExit):
        action.print_batch(batch.pk, clock=now, until=now() + timedelta(minutes=1))
    assert 'value="0" max="6"' in pages[1]
    assert "Looking for gaps. You may leave" in pages[1]
    assert 'value="2" max="6"' in pages[3]
    assert "Gathered: record 2 of 3. You" in pages[3]
    assert 'value="4" max="6"' in pages[5]
    assert "Set on pages: record 1 of 3. You" in pages[5]

    # Another message for it takes nothing from the worker that may still be alive.
    action.print_batch(batch.pk, clock=now, until=now() + timedelta(minutes=1))
    assert len(pages) == kill_at

    pages.clear()
    kill_at = 0
    later = now() + timedelta(hours=1)
    action.print_batch(batch.pk, clock=lambda: later, until=later + timedelta(minutes=1))
    assert [re.findall("(Gathered|Set on pages): record (\\d)", page) for page in pages] == [
        [("Set on pages", str(n))] for n in (1, 2, 3)
    ]
    assert "1 of 1 bundle printed" in client.get(address).content.decode()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"period": "days"}, "Write the day"),
        ({"period": "days", "first": "2026-03-02", "last": "2026-03-01"}, "lies before"),
        ({"period": "days", "first": "2027-01-01", "last": "2027-02-01"}, "still to come"),
        ({"period": "forever"}, "Choose one"),
        ({}, "Choose one"),
    ],
)
def test_days_that_are_none_are_refused_at_their_field(
    machine: Machine, foreman: User, typed: dict[str, str], field: str, time_machine: Any
) -> None:
    time_machine.move_to(MONDAY + timedelta(days=30))

    answer = signed_in(foreman).post(reverse("reports:ask_bundle", args=[machine.pk]), typed)

    assert answer.status_code == 422
    assert field in answer.content.decode()
    assert not Batch.objects.exists()


def test_two_days_are_the_period_of_the_bundle(
    machine: Machine, foreman: User, django_capture_on_commit_callbacks: Any
) -> None:
    typed = {"period": "days", "first": "2026-03-01", "last": "2026-03-31"}

    with django_capture_on_commit_callbacks():
        signed_in(foreman).post(reverse("reports:ask_bundle", args=[machine.pk]), typed)

    batch = Batch.objects.get()
    assert batch.title == "Inspector's bundle of MX-203, 1 Mar 2026 to 31 Mar 2026"
    assert str(batch.first_day) == "2026-03-01"
    tasks.print_batch(batch.pk)
    content = batch.sheets.get().content
    assert content["period"] == "1 Mar 2026 to 31 Mar 2026"
