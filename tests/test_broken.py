"""What the user sees when something behind the page breaks, and that nothing is left half done.

Here each fault is made in one process; test_crash.py and test_faults.py do it to real ones.
"""

import errno
import logging
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from celery.schedules import schedule
from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.test import Client
from django.urls import reverse

from addresses import ADDRESSES, NOW, World, signed_in
from maintenance.models import Stop
from plant.models import MachineImport, Record, Role
from plant.models.work import LATE, LEASE
from plant.nudge import DELAYED
from test_access import everybody_of
from test_headers import Inline, is_dressed

GONE = OSError(errno.ENOSPC, "No space left on device")
FAULTS: list[tuple[Exception, int, str]] = [
    (OperationalError("database is locked"), 503, "The records are out of reach"),
    (OperationalError("server closed the connection unexpectedly"), 503, "half a minute"),
    (OperationalError("connection to server on socket, No such file"), 503, "out of reach"),
    (InterfaceError("connection already closed"), 503, "out of reach"),
    (OperationalError("database or disk is full"), 507, "No room on the disk"),
    (OperationalError("disk I/O error"), 507, "Reading still works."),
    (OperationalError("could not extend file: No space left on device"), 507, "No room"),
    (GONE, 507, "was not saved"),
    (OSError(errno.EFBIG, "File too large"), 507, "unplug it and tell your foreman"),
    (OperationalError("no such table: secret_table"), 500, "The fault is ours."),
    (OSError(errno.EACCES, "/srv/secret"), 500, "Something broke here"),
    (RuntimeError("secret of the works"), 500, "write it on paper"),
]


def raising(fault: Exception) -> Any:
    def broken(*_: Any, **__: Any) -> None:
        raise fault

    return broken


@pytest.mark.parametrize(("fault", "status", "words"), FAULTS, ids=str)
def test_each_fault_has_its_page_with_a_reference_that_the_log_holds(
    db: None, fault: Exception, status: int, words: str, monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    monkeypatch.setattr("plant.views.sign_in.begin_attempt", raising(fault))
    client = Client(raise_request_exception=False)
    given = {"sign_in": "ida", "password": "a long enough one"}
    response = client.post(reverse("plant:sign_in"), given)

    page = response.content.decode()
    assert response.status_code == status
    assert words in page
    is_dressed(response, "fault")
    assert Inline(page).found == []
    assert response.headers.get("Retry-After") == (None if status == 500 else "30")
    for secret in ("secret", "Traceback", "Error", ".py", "django", "SELECT", "password"):
        assert secret not in page.replace("/static/plant/site.css", "")
    reference = re.search(r"Reference ([2-9A-Z]{5})\.", page)
    assert reference is not None
    noted = next(r for r in caplog.records if r.msg == "page broke")
    assert noted.reference == reference[1]  # type: ignore[attr-defined]
    assert noted.page == "plant:sign_in"  # type: ignore[attr-defined]


def test_a_full_disk_on_a_photo_saves_nothing_of_its_record(
    ours: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The photo goes first and the disk is full: neither record nor stop, and it works after."""
    client = signed_in(ours.people[Role.OPERATOR])
    client.raise_request_exception = False
    address = ours.address("maintenance:stop_machine")
    before = (Record.objects.count(), Stop.objects.count())
    with monkeypatch.context() as patch:
        patch.setattr("plant.actions.record.RecordText.objects.bulk_create", raising(GONE))
        assert client.post(address, {"told": "smokes"}).status_code == 507
        assert (Record.objects.count(), Stop.objects.count()) == before
        assert client.get(ours.address("maintenance:machine")).status_code == 200
    assert client.post(address, {"told": "smokes"}).status_code == 302
    assert (Record.objects.count(), Stop.objects.count()) == (before[0] + 1, before[1] + 1)


def test_the_wrong_method_and_too_much_at_once_have_a_page_too(ours: World) -> None:
    client = signed_in(everybody_of(ours))
    for name, page in ADDRESSES.items():
        if not page.post:
            response = client.post(ours.address(name))
            assert response.status_code == 405, name
            assert b"Not in this way" in response.content
            assert response["Allow"]
            # What a browser goes by; the test's own client reads on.
            assert int(response["Content-Length"]) == len(response.content)
            is_dressed(response, "405")
            break


def test_a_queue_that_is_down_costs_no_record_and_is_said(
    ours: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Inside a test nothing is committed; on a real one this runs before the answer goes out.
    monkeypatch.setattr("plant.nudge.transaction.on_commit", lambda send: send())
    monkeypatch.setattr("reports.tasks.print_batch.apply_async", raising(OSError("no broker")))
    client = signed_in(ours.people[Role.MANAGER])
    response = client.post(ours.address("reports:ask_sheet"))
    assert response.status_code == 302
    assert DELAYED in client.get(response["Location"]).content.decode()
    assert DELAYED not in client.get(response["Location"]).content.decode()  # said once


def test_work_that_waits_long_says_so(ours: World) -> None:
    run = MachineImport.objects.get(pk=ours.run.pk)  # type: ignore[attr-defined]
    run.state, run.step, run.lease_until = "asked", "read", None
    for asked_at, late in ((NOW - LATE, False), (NOW - LATE - timedelta(seconds=1), True)):
        run.asked_at = asked_at
        run.save()
        page = signed_in(ours.people[Role.MANAGER]).get(ours.address("plant:machine_import"))
        assert ("This waits longer than usual." in page.content.decode()) == late


def test_a_lease_of_before_the_clock_was_put_back_holds_nothing(ours: World) -> None:
    runs = MachineImport.objects.filter(pk=ours.run.pk)  # type: ignore[attr-defined]
    runs.update(state="asked", attempts=0)
    tomorrow = NOW + timedelta(days=1)
    assert MachineImport.objects.all().claim(ours.run.pk, at=tomorrow)  # type: ignore[attr-defined]
    assert MachineImport.objects.all().claim(ours.run.pk, at=NOW)  # type: ignore[attr-defined]
    assert not MachineImport.objects.all().claim(ours.run.pk, at=NOW)  # type: ignore[attr-defined]
    assert not runs.held(ours.run.pk, claimed_at=tomorrow).exists()  # type: ignore[attr-defined]
    assert runs.get().lease_until == NOW + LEASE


def test_the_timer_goes_on_after_the_clock_was_put_back_or_forward() -> None:
    now = datetime.now(UTC)
    for turn in settings.CELERY_BEAT_SCHEDULE.values():
        every = turn["schedule"]
        assert isinstance(every, schedule)
        seconds = every.run_every.total_seconds()
        for last in (now + timedelta(days=2), now):
            due, wait = every.is_due(last)
            assert not due
            assert wait <= seconds
        assert every.is_due(now - timedelta(days=400)).is_due
    # The library's own would sit it out.
    assert schedule(60).is_due(now + timedelta(days=2)).next > 86_400


def test_the_log_of_a_fault_holds_its_trace(
    db: None, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("plant.views.sign_in.begin_attempt", raising(RuntimeError("here")))
    Client(raise_request_exception=False).post(
        reverse("plant:sign_in"), {"sign_in": "ida", "password": "a long enough one"}
    )
    assert any(r.exc_info and r.levelno == logging.ERROR for r in caplog.records)
    assert "a long enough one" not in caplog.text
