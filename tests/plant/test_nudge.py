"""Waking a worker never fails a request, nor holds it up, whatever the queue does."""

import socket
import time
from collections.abc import Iterator
from typing import Any

import pytest
from celery import Celery
from django.db import transaction

from plant.nudge import nudge


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    """Takes connections and never answers one."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        listening.settimeout(5)
        yield listening


def task_sent_to(port: int) -> Any:
    app = Celery("waits", broker=f"redis://127.0.0.1:{port}/0", set_as_current=False)

    def waits(pk: int) -> None: ...

    return app.task(name="waits", shared=False)(waits)


def seconds_for(task: object, commit: Any) -> float:
    began = time.monotonic()
    with commit(execute=True):
        nudge(task, 7)
    return time.monotonic() - began


def test_a_queue_that_refuses_costs_nothing(
    db: None, caplog: pytest.LogCaptureFixture, django_capture_on_commit_callbacks: Any
) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound, not listening: whoever comes is refused
        spent = seconds_for(
            task_sent_to(taken.getsockname()[1]), django_capture_on_commit_callbacks
        )

    assert spent < 1.5
    assert "nobody woken" in caplog.text


def test_a_queue_that_never_answers_holds_nobody_up(
    db: None,
    listener: socket.socket,
    caplog: pytest.LogCaptureFixture,
    django_capture_on_commit_callbacks: Any,
) -> None:
    task = task_sent_to(listener.getsockname()[1])

    spent = seconds_for(task, django_capture_on_commit_callbacks)

    with listener.accept()[0]:  # somebody did try
        pass
    assert spent < 1.5
    assert "nobody woken" in caplog.text


def test_nobody_is_woken_for_what_is_rolled_back(
    transactional_db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    task = task_sent_to(1)
    sent: list[int] = []
    monkeypatch.setattr(task, "apply_async", lambda *args, **more: sent.append(1))

    def undone() -> None:
        with transaction.atomic():
            nudge(task, 7)
            raise ValueError("undone")

    with pytest.raises(ValueError, match="undone"):
        undone()
    assert sent == []

    nudge(task, 7)
    assert sent == [1]
