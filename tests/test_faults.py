"""Real processes are killed, locked out and starved under load: nothing that was taken is lost.

Each fault is first proved to have happened. Twice: with the embedded database and queue, and with
PostgreSQL and Redis servers of the test's own. FAULT_ROUNDS=20 kills longer, and also sits out
what takes minutes.
"""

import os
import random
import socket
import sqlite3
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from functools import partial
from http.client import HTTPException
from itertools import cycle

import psutil
import pytest

from benchmarks.bench_load import EACH_PHONE_S, Bench
from plant.nudge import DELAYED
from running import HeldBack, Person, Running, a_depot, an_entry, wait

ROUNDS = int(os.environ.get("FAULT_ROUNDS", "1"))
PHONES = 40
LOAD_S = 60.0
# A phone may send ten times a minute: these are not among those that send all the time.
ALONE = range(PHONES, PHONES + 5)
OLD = "'2026-01-01 00:00:00'"


@pytest.fixture(
    scope="module",
    params=[
        pytest.param("embedded", marks=pytest.mark.embedded),
        pytest.param("services", marks=pytest.mark.services),
    ],
)
def running(request: pytest.FixtureRequest) -> Iterator[Running]:
    services = request.param == "services"
    with a_depot(postgres=services, redis=services) as depot:
        depot.set_up(phones=PHONES + len(ALONE), desks=2, machines=PHONES + len(ALONE))
        depot.start("web")
        yield depot


@pytest.fixture
def desk(running: Running) -> Person:
    person = Person(running)
    person.sign_in(running.cast["desks"][0], running.cast["password"])
    return person


def call(running: Running, task: str, *args: object) -> None:
    """Wakes a worker, as the timer would within the minute."""
    command = [sys.executable, "-m", "celery", "-q", "-A", "plant.config", "call", task]
    running.run(*command, "--args", str(list(args)))


class Load:
    """Phones that send check after check and stop after stop, again until each was taken."""

    def __init__(self, running: Running, threads: int = 6) -> None:
        self.running, self.over = running, threading.Event()
        self.taken: list[str] = []
        self.failed = 0
        self.threads = [
            threading.Thread(target=self._send, args=(range(n, PHONES, threads),))
            for n in range(threads)
        ]

    def _send(self, phones: range) -> None:
        person = Person(self.running)
        for turn, phone in enumerate(cycle(phones)):
            entry = an_entry(self.running, phone, "stop" if turn % 3 == 0 else "check")
            while not self.over.is_set():
                taken = False
                try:
                    taken = person.send(entry)
                except HeldBack:
                    break
                except (OSError, HTTPException):
                    pass
                if taken:
                    self.taken.append(entry["id"])
                    break
                self.failed += 1
                time.sleep(0.1)
            if self.over.wait(0.15):
                return

    def __enter__(self) -> "Load":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()
        for thread in self.threads:
            thread.join(60)

    def goes_on(self, more: int = 4) -> None:
        """Waits until so many more were taken."""
        wanted = len(self.taken) + more
        wait(lambda: len(self.taken) >= wanted, "nothing is taken any more")

    def fails(self) -> None:
        """Waits until somebody was not answered, which proves the fault."""
        before = self.failed
        wait(lambda: self.failed > before, "nobody noticed")


def test_killed_again_and_again_under_load(running: Running, desk: Person) -> None:
    dice = random.Random(20261128)
    names = ["web", "worker", "web"] + (["redis", "postgres"] if running.redis else [])
    asked = set()  # the same machine again while its sheet waits is the same print
    running.start("worker")
    with Load(running) as load:
        for name in names * ROUNDS:
            load.goes_on()
            running.revive("worker")
            address = f"/machines/{dice.choice(running.cast['machines'])}"
            assert desk.get(address).status == 200
            answer = desk.post(f"{address}/sheet")
            assert answer.status == 302
            asked.add(int(answer.headers["location"].rpartition("/")[2]))
            time.sleep(dice.uniform(0, 0.2))
            running.kill(name)
            if name in {"web", "postgres"}:
                load.fails()
            else:
                load.goes_on()  # who saves a record needs neither queue nor worker
            running.start(name)
            wait(lambda: _signed_in_still(desk), "it did not come back by itself")
        load.goes_on()

    kept = running.kept()
    assert set(load.taken) <= set(kept)
    assert len(kept) == len(set(kept))
    # Each stop stopped its machine once, with one job.
    made = running.sql("select count(*), count(distinct record_id) from maintenance_stop")
    sealed = running.sql("select count(*) from plant_record where kind = 'stop'")
    assert made == [(sealed[0][0], sealed[0][0])]

    # Two minutes pass: what a dead worker held is free, and the timer comes round.
    running.revive("worker")
    running.kill("worker")
    running.sql(f"update reports_batch set asked_at = {OLD}")
    for table in ("reports_batch", "reports_sheet"):
        running.sql(f"update {table} set lease_until = {OLD} where state = 'working'")
    running.start("worker")

    def printed() -> bool:
        states = [row[0] for row in running.sql("select state from reports_sheet")]
        if states == ["done"] * len(asked):
            return True
        call(running, "reports.tasks.sweep_prints")
        return False

    with suppress(AssertionError):
        wait(printed, "not everything was printed")
    how = "select state, attempts, why, count(*) from reports_sheet group by 1, 2, 3"
    assert printed(), running.sql(how)
    rows = running.sql("select batch_id, record_id from reports_sheet")
    assert sorted(batch for batch, _ in rows) == sorted(asked)
    assert len({record for _, record in rows}) == len(asked)
    running.revive("worker")
    running.kill("worker")
    running.assert_as_sealed()


def _signed_in_still(desk: Person) -> bool:
    with suppress(OSError, HTTPException):
        return desk.get("/machines").status == 200
    return False


def test_phones_and_desks_at_once_lose_nothing(running: Running) -> None:
    """A minute of what bench_load.py does for ten minutes with a hundred phones, prints included.

    A phone that is answered at once sends three checks a minute; one that hung for half of it, one
    or two. Whoever waits longer than forty seconds was not answered.
    """
    running.start("worker")
    bench = Bench(running)
    bench.run(LOAD_S, PHONES, len(running.cast["desks"]))
    assert len(bench.taken) > 0.7 * PHONES * LOAD_S / EACH_PHONE_S
    kept = running.kept()
    assert set(bench.taken) <= set(kept)
    assert len(kept) == len(set(kept))
    unwell = [why for each in bench.failed.values() for why in each]
    assert not any(type(why) is int or why == "TimeoutError" for why in unwell)
    unprinted = "select count(*) from reports_sheet where state <> 'done'"
    wait(lambda: running.sql(unprinted) == [(0,)], "not everything was printed")
    running.kill("worker")


def test_work_that_kills_its_worker_three_times_is_parked_in_words(running: Running) -> None:
    if running.postgres and ROUNDS == 1:
        return  # the same rows by the same code; the long run does it there too
    pk = running.cast["import"]
    row = f"from plant_machineimport where id = {pk}"

    def is_begun(attempt: int) -> bool:
        return running.sql(f"select state, attempts {row}") == [("working", attempt)]

    for attempt in (1, 2, 3):
        running.start("worker")
        call(running, "plant.tasks.read_import", pk)
        # By the attempt, for it stands as working from the one before too.
        wait(partial(is_begun, attempt), "it was not begun")
        running.kill("worker")
        # The proof that it was hit: what it had in hand is in hand still, by nobody.
        assert is_begun(attempt)
        running.sql(f"update plant_machineimport set lease_until = {OLD} where id = {pk}")
    running.start("worker")
    call(running, "plant.tasks.sweep_imports")
    wait(lambda: running.sql(f"select state {row}") == [("failed",)], "it was not parked")
    assert "Tried three times" in running.sql(f"select why {row}")[0][0]
    assert running.sql("select count(*) from plant_machineimportrow") == [(0,)]
    running.kill("worker")


def test_an_answer_that_never_came_is_sent_again_and_kept_once(running: Running) -> None:
    """A slow network: the phone gives up before the answer; the server had taken it."""
    import json
    from datetime import UTC, datetime

    entry = an_entry(running, ALONE[0])
    body = json.dumps({"sent_at": datetime.now(UTC).isoformat(), "entries": [entry]}).encode()
    head = f"POST /phone/entries HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: {len(body)}\r\n"
    head += "Content-Type: application/json\r\n\r\n"
    with socket.create_connection(("127.0.0.1", running.web_port)) as line:
        for at in range(0, len(body), 200):  # in small pieces, and then no answer is read
            line.sendall(head.encode() * (at == 0) + body[at : at + 200])
            time.sleep(0.02)
        wait(lambda: entry["id"] in running.kept(), "it was not taken")
    person = Person(running)
    assert person.send(entry)
    assert person.send(entry)
    assert running.kept().count(entry["id"]) == 1


def test_a_queue_that_is_down_delays_printing_and_nothing_else(
    running: Running, desk: Person
) -> None:
    if not running.redis:
        return  # the embedded queue is a folder: test_broken.py
    address = f"/machines/{running.cast['machines'][0]}"
    desk.get(address)
    times = []
    for down in (False, True):
        if down:
            running.kill("redis")
            with pytest.raises(ConnectionRefusedError):
                socket.create_connection(("127.0.0.1", running.redis_port))
        began = time.monotonic()
        answer = desk.post(f"{address}/sheet")
        times.append(time.monotonic() - began)
        assert answer.status == 302
        page = desk.get(answer.headers["location"]).text
        assert (DELAYED in page) == down
    assert times[1] < times[0] + 1.5
    assert Person(running).send(an_entry(running, ALONE[1], "stop"))
    running.start("redis")


def test_a_database_that_goes_and_comes_back(running: Running, desk: Person) -> None:
    if not running.postgres:
        return  # the embedded one is a file: the next two
    web = psutil.Process(running.running["web"].pid)
    entry = an_entry(running, ALONE[2])
    running.kill("postgres")
    for answer in (desk.get("/machines"), desk.post("/scan", code="MX-0001")):
        assert answer.status == 503
        assert "The records are out of reach" in answer.text
        assert "This ends by itself when the database is back." in answer.text
        assert answer.headers["retry-after"] == "30"
    assert not Person(running).send(entry)
    running.start("postgres")
    assert wait(lambda: _signed_in_still(desk), "it did not come back by itself")
    assert Person(running).send(entry)
    assert web.is_running()


def test_a_database_file_that_somebody_holds(running: Running, desk: Person) -> None:
    if running.postgres:
        return  # rows are locked there, not the whole
    entry = an_entry(running, ALONE[3])
    with sqlite3.connect(running.folder / "data/plant.sqlite3", isolation_level=None) as holder:
        holder.execute("begin immediate")
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            sqlite3.connect(running.folder / "data/plant.sqlite3", timeout=0).execute(
                "update plant_depot set name = name"
            )
        taken: list[bool] = []
        phone = threading.Thread(target=lambda: taken.append(Person(running).send(entry)))
        phone.start()
        assert desk.get("/machines").status == 200  # who only reads is not held up
        phone.join(1.5)
        assert phone.is_alive()
        if ROUNDS > 1:  # longer than anybody waits: 20 s
            phone.join(40)
            assert taken == [False]
            refused = desk.post("/scan", code="MX-0001")
            assert (refused.status, "out of reach" in refused.text) == (503, True)
        holder.execute("rollback")
    phone.join(40)
    assert taken == [True] or Person(running).send(entry)
    assert running.kept().count(entry["id"]) == 1


def test_a_disk_that_takes_no_more(running: Running, desk: Person) -> None:
    """The web processes may write no file beyond 4 KiB, as on a full disk; then they may again."""
    if running.postgres:
        return  # its own server writes, which this limit does not reach
    main = psutil.Process(running.running["web"].pid)
    family = [main, *main.children(recursive=True)]
    before, entry = running.kept(), an_entry(running, ALONE[4], "stop")
    with sqlite3.connect(running.folder / "data/plant.sqlite3") as kept:
        kept.execute("pragma wal_checkpoint(truncate)")
    limits = [(each, each.rlimit(psutil.RLIMIT_FSIZE)) for each in family]
    for each, (_, hard) in limits:
        each.rlimit(psutil.RLIMIT_FSIZE, (4096, hard))
    try:
        person = Person(running)
        answer = desk.post("/scan", code="MX-0001")
        assert answer.status == 507
        assert "No room on the disk" in answer.text
        assert not person.send(entry)
        assert desk.get("/machines").status == 200
        assert running.kept() == before
        assert running.sql("select count(*) from maintenance_stop where words like 'smokes%'") == (
            running.sql("select count(*) from plant_record where kind = 'stop'")
        )
    finally:
        for each, limit in limits:
            each.rlimit(psutil.RLIMIT_FSIZE, limit)
    assert person.send(entry)
    assert running.kept().count(entry["id"]) == 1
    running.assert_as_sealed()
