"""The tasks of reports: long batches go on in a task of their own, lost ones are picked up."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils.timezone import now

from make import make_machine
from plant.models import Depot, User
from reports import tasks
from reports.actions.sheet import GRACE, ask_sheets
from reports.models import Batch

pytestmark = pytest.mark.usefixtures("rule_sheet")


@pytest.fixture
def batch(depot: Depot, foreman: User) -> Batch:
    machines = [make_machine(depot) for _ in range(3)]
    return ask_sheets(depot=depot, machines=machines, by=foreman, at=now())


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What is put into the queue, and stays there."""
    messages: list[Any] = []
    for name in ("delay", "apply_async"):
        monkeypatch.setattr(tasks.print_batch, name, lambda *a, **k: messages.append((a, k)))
    return messages


def test_a_long_batch_goes_on_in_a_task_of_its_own(
    batch: Batch, sent: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tasks, "STRETCH", timedelta(0))

    tasks.print_batch(batch.pk)

    assert sent == [((batch.pk,), {})]


def test_a_finished_batch_sends_nothing_more(batch: Batch, sent: list[Any]) -> None:
    tasks.print_batch(batch.pk)
    tasks.print_batch(batch.pk)

    batch.refresh_from_db()
    assert (batch.state, sent) == ("done", [])


def test_what_another_worker_holds_is_not_asked_for_over_and_over(
    batch: Batch, sent: list[Any]
) -> None:
    batch.sheets.update(state="working", lease_until=now() + timedelta(minutes=1), attempts=1)

    tasks.print_batch(batch.pk)

    assert sent == []


def test_a_lost_message_is_made_good_by_the_timer(batch: Batch, sent: list[Any]) -> None:
    assert (tasks.sweep_prints(), sent) == (0, [])

    Batch.objects.update(asked_at=now() - GRACE - timedelta(seconds=1))

    assert tasks.sweep_prints() == 1
    # A message that finds the batch finished, or that is long overdue, is dropped.
    assert sent == [(((batch.pk,),), {"expires": 55})]


def test_a_batch_that_is_not_there_any_more_is_nothing_to_do(db: None, sent: list[Any]) -> None:
    tasks.print_batch(4711)

    assert sent == []
