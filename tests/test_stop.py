"""Asked to stop, a part finishes what it has in hand, within thirty seconds."""

import os
import signal
import socket
import subprocess
import threading
import time
import urllib.request
from functools import partial
from pathlib import Path
from typing import Any

from plant.management.commands.depot import web_command
from reports.models import Batch
from reports.tasks import print_batch
from test_crash import (
    _asked,
    _assert_each_printed_once,
    _in_hand,
    _is_hit_now,
    _queue,
    _wait,
    _worker,
)

ROOT = Path(__file__).parents[1]
LONGEST_S = 30


def test_web_finishes_the_request_that_it_has(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "plant.config.settings",
        "DATA_DIR": str(tmp_path),
        "DATABASE_URL": "",
        "BROKER_URL": "filesystem://",
        "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}",
    }
    command = web_command(host="127.0.0.1", port=port, workers=2, tls=[], site="slow_site")
    web = subprocess.Popen(command, cwd=ROOT, env=environment, start_new_session=True)
    answers: list[tuple[int, bytes]] = []
    begun = tmp_path / "begun"

    def ask() -> None:
        address = f"http://127.0.0.1:{port}/slow?{begun}"
        with urllib.request.urlopen(address, timeout=LONGEST_S) as answer:
            answers.append((answer.status, answer.read()))

    try:
        until = time.monotonic() + LONGEST_S
        while True:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/alive", timeout=5).read()
                break
            except OSError:
                assert time.monotonic() < until, "it never answered"
                time.sleep(0.1)
        asking = threading.Thread(target=ask)
        asking.start()
        while not begun.exists():
            assert time.monotonic() < until + LONGEST_S, "the request never came"
            time.sleep(0.02)
        web.terminate()
        told = time.monotonic()
        assert answers == []  # it was in hand when it was asked
        web.wait(LONGEST_S)
        asking.join(5)
        assert answers == [(200, b"finished")]
        assert 2 < time.monotonic() - told < LONGEST_S
        assert web.returncode in (0, -signal.SIGTERM)
    finally:
        if web.poll() is None:
            os.killpg(web.pid, signal.SIGKILL)


def test_a_worker_finishes_what_it_has_in_hand(
    transactional_db: None, tmp_path: Path, settings: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"
    batch = _asked()
    with _queue("filesystem://", tmp_path) as queue:
        print_batch.apply_async((batch.pk,), connection=queue)
        with _worker("filesystem://", tmp_path) as worker:
            _wait(partial(_is_hit_now, batch, 2), "no sheet was begun")
            worker.terminate()
            told = time.monotonic()
            worker.wait(LONGEST_S)
        assert worker.returncode == 0
        assert time.monotonic() - told < LONGEST_S
        assert _in_hand(batch) == 0
        # What was not its turn any more waits for another worker.
        if Batch.objects.get(pk=batch.pk).state != "done":
            with _worker("filesystem://", tmp_path):
                _wait(lambda: Batch.objects.get(pk=batch.pk).state == "done", "not finished")
    _assert_each_printed_once(batch, tmp_path / "media")
