"""What the page says when something behind it breaks, by the fault itself."""

import errno
from typing import Any

import psycopg
import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.urls import reverse

from plant.models import User


def answer(user: User, monkeypatch: pytest.MonkeyPatch, fault: Any) -> Any:
    """A page whose reading meets this fault, through the handler that every page has."""

    def broken(*_: Any, **__: Any) -> None:
        fault()

    monkeypatch.setattr("maintenance.views.due.announced", broken)
    client = Client(raise_request_exception=False)
    client.force_login(user)
    return client.get(reverse("maintenance:due_list"))


def raises(fault: Exception, cause: Exception | None = None) -> Any:
    def act() -> None:
        raise fault from cause

    return act


@pytest.mark.parametrize(("fault", "cause", "status"), [
    (OSError(errno.ENOSPC, "x"), None, 507),
    (OperationalError("database or disk is full"), None, 507),
    # The server's number decides, since its words are in its own language.
    (OperationalError("kein Platz"), psycopg.errors.DiskFull("kein Platz"), 507),
    (OperationalError("too many"), psycopg.errors.TooManyConnections("too many"), 503),
    (OperationalError("gone"), psycopg.errors.AdminShutdown("gone"), 503),
    (OperationalError("database is locked"), None, 503),
    (OperationalError("no such table: x"), None, 500),
    (ValueError("53100"), None, 500),
])  # fmt: skip
def test_a_full_disk_is_told_from_a_database_that_is_away_and_from_our_own_fault(
    manager: User, monkeypatch: pytest.MonkeyPatch, fault: Exception, cause: Any, status: int
) -> None:
    response = answer(manager, monkeypatch, raises(fault, cause))
    assert response.status_code == status
    page = response.content.decode()
    assert str(fault) not in page
    assert ("disk" in page.lower()) == (status == 507)
    assert ("Retry-After" in response.headers) == (status != 500)


@pytest.mark.services
def test_what_the_database_server_itself_says_of_a_full_disk(
    manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The number of SQLSTATE 53100 (disk_full) is in PostgreSQL's manual, appendix A."""

    def full() -> None:
        with connection.cursor() as cursor:
            cursor.execute("DO $$ BEGIN RAISE EXCEPTION 'voll' USING ERRCODE = '53100'; END $$")

    assert answer(manager, monkeypatch, full).status_code == 507
