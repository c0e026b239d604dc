"""Health tells each part apart: how it is, since when, and what to do."""

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from plant.actions.heartbeat import beat
from plant.contents import health as contents
from plant.contents.health import Part, health
from plant.models import Chore, Depot, User

DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def part(name: str, at: datetime) -> Part:
    return next(one for one in health(at) if one.name == name)


def done(kind: str, ended_at: datetime, **more: Any) -> Chore:
    return Chore.objects.create(
        kind=kind, asked_at=ended_at, not_before=ended_at, state="done", ended_at=ended_at, **more
    )


def test_timer_and_worker_are_told_apart(db: None) -> None:
    at = now()
    assert "never run" in part("Timer", at).words
    beat(name="timer", at=at)
    beat(name="background", at=at - 20 * timedelta(minutes=1))
    assert part("Timer", at).well
    worker = part("Worker", at)
    assert (worker.well, "20 minutes" in worker.words) == (False, True)
    assert "Start the worker" in worker.words
    silent = part("Worker", at + HOUR)
    assert "start the timer first" in silent.words
    assert "Silent since" in part("Timer", at + HOUR).words


@pytest.mark.parametrize(("kind", "name", "most"), [
    ("backup", "Backup", timedelta(hours=26)),
    ("rehearsal", "Restore rehearsal", timedelta(days=8)),
])  # fmt: skip
def test_a_backup_or_rehearsal_that_is_old_is_loud_and_a_new_system_is_not(
    db: None, kind: str, name: str, most: timedelta
) -> None:
    at = now()
    assert part(name, at).well  # nothing was ever asked for
    asked = Chore.objects.create(kind=kind, asked_at=at, not_before=at + HOUR)
    assert part(name, at + most - HOUR).well
    late = part(name, at + most + HOUR)
    assert (late.well, "too long ago" in late.words) == (False, True)
    Chore.objects.filter(pk=asked.pk).update(why="The disk is full.")
    assert "The newest try failed: The disk is full." in part(name, at).words
    done(kind, at + HOUR, size=2_000_000, told="12 sealed records.")
    well = part(name, at + HOUR + most)
    assert (well.well, "12 sealed records." in well.words) == (True, True)
    assert "failed" not in well.words
    assert not part(name, at + HOUR * 2 + most).well


@pytest.mark.parametrize(("why", "words"), [
    ("before-update", "before an update"), ("daily", "as each night"), ("by-hand", "made by hand"),
])  # fmt: skip
def test_whatever_made_the_last_backup_it_counts_and_says_why(
    db: None, why: str, words: str
) -> None:
    at = now()
    done("backup", at - 30 * HOUR, file="/b/daily-20260101T020000Z.zip")
    assert not part("Backup", at).well
    done("backup", at - HOUR, size=2_000_000, file=f"/b/{why}-20260102T020000Z.zip")
    told = part("Backup", at)
    assert told.well
    assert f" ago, {words}, 2.0 MB." in told.words


def test_the_disk_is_told_in_days_at_the_growth_between_backups(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = now()

    def free(size: int) -> Part:
        usage = type("Usage", (), {"free": size})
        monkeypatch.setattr(contents.shutil, "disk_usage", lambda path: usage)
        return part("Disk", at)

    assert "days" not in free(10**10).words
    done("backup", at - 10 * DAY, held=10**9)
    done("backup", at, held=2 * 10**9)
    # A gigabyte in ten days, and three are free.
    assert "that is 30 days" in free(3 * 10**9).words
    assert free(3 * 10**9).well
    assert not free(10**9).well
    assert not free(10**8).well


def test_a_clock_that_was_turned_back_or_is_apart_from_the_databases_is_told(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = now()
    assert part("Clock", at).well
    beat(name="background", at=at + HOUR)
    assert "turned back" in part("Clock", at).words
    assert part("Clock", at + HOUR).well
    monkeypatch.setattr(contents, "_apart_from_database", lambda: timedelta(seconds=-75))
    assert "75 s behind" in part("Clock", at + HOUR).words


def test_the_broker_is_tried_itself(db: None, settings: Any, tmp_path: Path) -> None:
    settings.CELERY_BROKER_URL = "filesystem://"
    settings.CELERY_BROKER_TRANSPORT_OPTIONS = {"data_folder_in": str(tmp_path)}
    (tmp_path / "one.celery.msg").touch()
    assert "1 are waiting" in part("Broker", now()).words
    settings.CELERY_BROKER_TRANSPORT_OPTIONS = {"data_folder_in": str(tmp_path / "gone")}
    assert not part("Broker", now()).well
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"  # nobody listens there
    broker = part("Broker", now())
    assert (broker.well, "Start Redis" in broker.words) == (False, True)


def test_the_page_says_of_each_part_in_a_mark_and_words_whether_it_is_well(
    db: None, client: Client, administrator: User
) -> None:
    client.force_login(administrator)
    page = client.get(reverse("plant:health")).content.decode()
    told = {
        name: (word, "<svg" in drawn)
        for name, drawn, word in re.findall(
            r'class="what">([^<]*)</span> <span class="mark[^>]*>(.*?)<span>([^<]*)<', page
        )
    }
    # Nothing beats in a test, so that the one who asks for work is silent.
    assert (told["Database"], told["Timer"]) == (("Well", True), ("Not well", True))
    assert told.keys() == {each.name for each in health(now())}


def test_machines_ask_alive_and_ready_without_learning_anything(
    db: None, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    alive, ready = reverse("plant:alive"), reverse("plant:ready")
    assert client.get(alive).content == b"alive\n"
    monkeypatch.setattr(contents, "_up_to_date", False)
    assert (client.get(ready).status_code, client.get(ready).content) == (200, b"ready\n")
    monkeypatch.setattr(contents, "_up_to_date", False)
    with connection.cursor() as cursor:
        # Of all steps, since what is written later than the one that is gone would hide it.
        cursor.execute("DELETE FROM django_migrations WHERE app = 'plant'")
    answer = client.get(ready)
    assert (answer.status_code, b"migrate" in answer.content) == (503, True)
    monkeypatch.setattr(contents, "_up_to_date", True)


def test_the_pages_for_the_wall_name_what_lies_where(
    db: None, client: Client, administrator: User, depot: Depot, settings: Any
) -> None:
    client.force_login(administrator)
    for name in ("plant:start_and_stop", "plant:restore_page"):
        page = client.get(reverse(name)).content.decode()
        assert f"DATA_DIR={settings.DATA_DIR}" in page
        # Without it a command of the paper would be about another place.
        for command in re.findall(r"<code>([^<]*manage\.py[^<]*)</code>", page):
            assert f"DATA_DIR={settings.DATA_DIR} " in command, command
            assert ("DATABASE_URL=… " in command) == (connection.vendor == "postgresql")
            assert ("BROKER_URL=… " in command) == ("redis" in settings.CELERY_BROKER_URL)
    assert str(settings.CHECKPOINT_KEY) in page
    assert "walk the yard" in page
