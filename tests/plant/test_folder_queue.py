"""The embedded queue gives each message once, whole, in order, to one reader of many."""

import multiprocessing
from collections.abc import Iterator
from pathlib import Path
from queue import Empty
from typing import Any

import pytest
from kombu.connection import Connection

from plant.config import celery_app
from plant.folder_queue import Transport


def connected(folder: Path) -> Any:
    for name in ("q", "ctl"):
        (folder / name).mkdir(exist_ok=True)
    queue = str(folder / "q")
    options = {
        "data_folder_in": queue,
        "data_folder_out": queue,
        "control_folder": str(folder / "ctl"),
    }
    connection: Any = Connection
    return connection(transport=Transport, transport_options=options)


@pytest.fixture(autouse=True)
def _no_queue_known_yet() -> None:
    """A process remembers which queues it has set up, whatever the folder."""
    state: Any = Transport.global_state
    state.clear()


@pytest.fixture
def connection(tmp_path: Path) -> Iterator[Any]:
    with connected(tmp_path) as open_one:
        yield open_one


def read_all(connection: Any) -> list[int]:
    queue = connection.SimpleQueue("work")
    numbers: list[int] = []
    while True:
        try:
            message = queue.get_nowait()
        except Empty:
            return numbers
        message.ack()
        numbers.append(message.payload["number"])


def test_messages_come_in_the_order_of_sending_and_leave_no_file(
    connection: Any, tmp_path: Path
) -> None:
    queue = connection.SimpleQueue("work")
    for number in range(20):
        queue.put({"number": number})

    assert sorted(read_all(connection)) == list(range(20))
    assert list((tmp_path / "q").iterdir()) == []


def test_a_message_of_another_queue_is_left_for_it(connection: Any) -> None:
    connection.SimpleQueue("other").put({"number": 1})

    assert read_all(connection) == []
    assert connection.SimpleQueue("other").get_nowait().payload == {"number": 1}


def test_a_message_half_written_by_a_sender_that_died_is_not_seen(
    connection: Any, tmp_path: Path
) -> None:
    (tmp_path / "q" / ".000000000000001_x.work.msg.new").write_text('{"bo')

    assert read_all(connection) == []


def send(folder: Path, first: int, count: int) -> None:
    with connected(folder) as open_one:
        queue = open_one.SimpleQueue("work")
        for number in range(first, first + count):
            queue.put({"number": number})


def receive(folder: Path, wanted: int, total: Any, got: Any) -> None:
    with connected(folder) as open_one:
        queue = open_one.SimpleQueue("work")
        while total.value < wanted:
            try:
                message = queue.get_nowait()
            except Empty:
                continue
            message.ack()
            with total.get_lock():
                total.value += 1
            got.put(message.payload["number"])


def test_readers_that_look_all_the_time_meet_no_message_half_written(tmp_path: Path) -> None:
    """The transport that ours is made from gives two or three such in a hundred here."""
    context = multiprocessing.get_context("fork")
    with connected(tmp_path) as open_one:
        open_one.SimpleQueue("work").close()  # so that the queue is there before its writers
    total, got = context.Value("i"), context.Queue()
    readers = [
        context.Process(target=receive, args=(tmp_path, 600, total, got), daemon=True)
        for _ in range(2)
    ]
    writers = [
        context.Process(target=send, args=(tmp_path, first, 300), daemon=True) for first in (0, 300)
    ]
    for process in (*readers, *writers):
        process.start()

    numbers = [got.get(timeout=30) for _ in range(600)]
    for process in (*readers, *writers):
        process.join(10)

    assert sorted(numbers) == list(range(600))
    assert [process.exitcode for process in (*readers, *writers)] == [0, 0, 0, 0]


def test_the_name_filesystem_leads_here() -> None:
    app: Any = celery_app

    with app.connection_for_write("filesystem://") as open_one:
        assert isinstance(open_one.transport, Transport)
