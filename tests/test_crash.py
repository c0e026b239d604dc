"""A real worker on a real queue is killed at odd moments; each sheet is printed once still."""

import hashlib
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.utils.timezone import now
from kombu.connection import Connection
from pypdf import PdfReader
from redis import Redis

from make import make_depot, make_machine, make_reference, make_user
from plant.config import celery_app
from plant.models import Chain, Depot, Record, Role
from plant.sealing import Link, verify
from reports.actions.sheet import GRACE, ask_sheets, left_behind
from reports.models import Batch, Sheet
from reports.tasks import print_batch

ROOT = Path(__file__).parent.parent
# Three blocks that a worker takes at once and half of one; what was killed is taken alone after.
SHEETS, KILLS = 70, 4
LIMIT_S = 50.0


@pytest.mark.parametrize(
    "broker", ["filesystem://", pytest.param("redis", marks=pytest.mark.services)]
)
def test_sheets_survive_a_worker_killed_again_and_again(
    broker: str, transactional_db: None, tmp_path: Path, settings: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"
    address = broker if broker == "filesystem://" else settings.CELERY_BROKER_URL
    assert broker == "filesystem://" or address.startswith("redis://")
    dice = random.Random(20261125)
    batch, hits = _asked(), 0

    with _queue(address, tmp_path) as queue:
        print_batch.apply_async((batch.pk,), connection=queue)
        for _ in range(KILLS):
            done = _done(batch)
            with _worker(address, tmp_path) as worker:
                wanted = done + dice.randint(1, 2)
                _wait(partial(_is_hit_now, batch, wanted), "no sheet was begun")
                time.sleep(dice.uniform(0, 0.03))
                os.killpg(worker.pid, signal.SIGKILL)
                worker.wait()
            assert worker.returncode == -signal.SIGKILL
            # The proof that it was hit: what it had in hand is in hand still, by nobody.
            hits += _in_hand(batch)
            assert _done(batch) < SHEETS
            _two_minutes_pass(batch)
            assert left_behind(now()) == [batch.pk]
            print_batch.apply_async((batch.pk,), connection=queue)
        assert hits >= KILLS // 2
        with _worker(address, tmp_path):
            _wait(lambda: Batch.objects.get(pk=batch.pk).state == "done", "not finished")

    _assert_each_printed_once(batch, tmp_path / "media")


def _asked() -> Batch:
    make_reference()
    depot = make_depot()
    machines = [make_machine(depot, f"PC-{n:03d}") for n in range(1, SHEETS + 1)]
    foreman = make_user("Freya Foreman", (depot, Role.FOREMAN))
    at = now() - GRACE - timedelta(seconds=1)
    return ask_sheets(depot=depot, machines=machines, by=foreman, at=at)


@contextmanager
def _queue(address: str, folder: Path) -> Iterator[Any]:
    # On a server that others use, what they left behind is not taken for ours: what a killed worker
    # held comes back to a Redis queue after an hour, and two would print at once.
    options = {"global_keyprefix": _prefix(folder)}
    if address == "filesystem://":
        for name in ("q", "ctl"):
            (folder / "queue" / name).mkdir(parents=True)
        queue = str(folder / "queue" / "q")
        options = {
            "data_folder_in": queue,
            "data_folder_out": queue,
            "control_folder": str(folder / "queue" / "ctl"),
        }
    connect: Any = Connection
    app: Any = celery_app
    with connect(address, transport_options=options) as connected:
        app.conf.task_always_eager = False
        try:
            yield connected
        finally:
            app.conf.task_always_eager = True
            if address != "filesystem://":
                _empty(Redis.from_url(address), _prefix(folder))


def _empty(server: Any, prefix: str) -> None:
    for key in server.scan_iter(f"{prefix}*"):
        server.delete(key)


def _prefix(folder: Path) -> str:
    return f"{hashlib.sha256(str(folder).encode()).hexdigest()[:16]}-{os.getpid()}:"


@contextmanager
def _worker(address: str, folder: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A Celery worker with two children, in a process group of its own."""
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "worker_settings",
        "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}",
        "DATA_DIR": str(folder),
        "BROKER_URL": address,
        "TEST_DATABASE": str(connection.settings_dict["NAME"]),
        "TEST_QUEUE": "" if address == "filesystem://" else _prefix(folder),
        "C_FORCE_ROOT": "1",
    }
    command = [sys.executable, "-m", "celery", "-q", "-A", "plant.config", "worker"]
    command += ["--concurrency", "2", "--without-gossip", "--without-mingle", "-l", "ERROR"]
    worker = subprocess.Popen(command, cwd=ROOT, env=environment, start_new_session=True)
    try:
        yield worker
    finally:
        if worker.poll() is None:
            os.killpg(worker.pid, signal.SIGKILL)
            worker.wait()


def _two_minutes_pass(batch: Batch) -> None:
    """What a dead worker held is free after its lease; the test does not sit it out."""
    gone = now() - timedelta(seconds=1)
    for rows in (Sheet.objects.filter(batch=batch), Batch.objects.filter(pk=batch.pk)):
        rows.filter(state="working").update(lease_until=gone)


def _wait(until: Callable[[], bool], otherwise: str) -> None:
    end = time.monotonic() + LIMIT_S
    while not until():
        assert time.monotonic() < end, otherwise
        time.sleep(0.005)


def _is_hit_now(batch: Batch, wanted: int) -> bool:
    """Whether so many are done and another is in hand."""
    return _done(batch) >= wanted and _in_hand(batch) > 0


def _done(batch: Batch) -> int:
    return int(Sheet.objects.filter(batch=batch, state="done").count())


def _in_hand(batch: Batch) -> int:
    return int(Sheet.objects.filter(batch=batch, state="working").count())


def _assert_each_printed_once(batch: Batch, media: Path) -> None:
    batch.refresh_from_db()
    sheets = list(batch.sheets.order_by("position"))
    odd = [(s.position, s.state, s.attempts, s.why) for s in sheets if s.state != "done"]
    assert odd == []
    records = Record.objects.filter(kind=Record.Kind.SHEET)
    assert sorted(records.values_list("pk", flat=True)) == sorted(s.record_id for s in sheets)
    for sheet in sheets:
        assert hashlib.sha256(Path(sheet.file.path).read_bytes()).hexdigest() == sheet.sha256
    whole = Path(batch.file.path)
    assert hashlib.sha256(whole.read_bytes()).hexdigest() == batch.sha256
    titles = [getattr(entry, "title", "") for entry in PdfReader(whole).outline]
    assert titles == [sheet.machine.number for sheet in sheets]
    assert len(list(media.rglob("all-*.pdf"))) == 1
    _assert_chain_is_whole(batch.depot)


def _assert_chain_is_whole(depot: Depot) -> None:
    rows = Record.objects.filter(depot=depot).order_by("seq")
    links = [Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows]
    head = Chain.objects.get(depot=depot)
    report = verify(links, head_seq=head.head_seq, head_hash=head.head_hash)
    # One for each sheet, and those that hold the hashes of the files.
    assert (report.count, report.bad_seq) == (len(links), None)
    assert len(links) > SHEETS
