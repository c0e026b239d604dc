"""A whole depot as it runs for people: web, worker, database and queue in processes of their own.

For the tests that break one of them, and for the load test. Nothing here uses the database of the
test run, nor a server that others use.
"""

import http.client
import json
import os
import re
import secrets
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from glob import glob
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import psutil

ROOT = Path(__file__).parent.parent
LIMIT_S = 60.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait(until: Callable[[], Any], otherwise: str, limit_s: float = LIMIT_S) -> Any:
    end = time.monotonic() + limit_s
    while not (found := until()):
        assert time.monotonic() < end, otherwise
        time.sleep(0.05)
    return found


@dataclass
class Running:
    """One depot; ``start`` and ``kill`` take "web", "worker", "redis" and "postgres"."""

    folder: Path
    postgres: bool = False
    redis: bool = False
    web_workers: int = 2
    web_port: int = field(default_factory=free_port)
    postgres_port: int = field(default_factory=free_port)
    redis_port: int = field(default_factory=free_port)
    cast: dict[str, Any] = field(default_factory=dict)
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)

    @property
    def environment(self) -> dict[str, str]:
        kept = {key: value for key, value in os.environ.items() if key in {"PATH", "LANG", "HOME"}}
        more = {
            "DATA_DIR": str(self.folder / "data"),
            "DJANGO_SETTINGS_MODULE": "plant.config.settings",
            "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}",
            "SECRET_KEY": "a long key of the tests, " * 4,
            "LOG_LEVEL": "ERROR",
            "C_FORCE_ROOT": "1",
            "PYTHONWARNINGS": "ignore",
        }
        if self.postgres:
            more["DATABASE_URL"] = f"postgresql://postgres@127.0.0.1:{self.postgres_port}/postgres"
        if self.redis:
            more["BROKER_URL"] = f"redis://127.0.0.1:{self.redis_port}/0"
        return kept | more

    def set_up(self, *, phones: int = 4, desks: int = 1, machines: int = 8) -> None:
        """Starts database and queue, and fills the depot."""
        for name in ("postgres", "redis"):
            if getattr(self, name):
                self.start(name)
        counts = [str(n) for n in (phones, desks, machines)]
        made = self.run(sys.executable, str(ROOT / "tests/running_cast.py"), *counts)
        self.cast = json.loads(made.splitlines()[-1])

    def run(self, *command: str, well: bool = True) -> str:
        done = subprocess.run(
            command, env=self.environment, cwd=ROOT, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0 or not well, done.stdout[-2000:] + done.stderr[-4000:]
        return done.stdout

    def start(self, name: str, **limits: Any) -> None:
        command, user = getattr(self, f"_{name}")()
        log = (self.folder / f"{name}.log").open("ab")
        self.running[name] = subprocess.Popen(
            command, env=self.environment, cwd=ROOT if user is None else "/", user=user,
            group=user, start_new_session=True, stdout=log, stderr=log, **limits,
        )  # fmt: skip
        log.close()
        ready = getattr(self, f"_{name}_ready")
        wait(ready, f"{name} did not start: {(self.folder / f'{name}.log').read_text()[-2000:]}")

    def kill(self, name: str) -> None:
        """As the power or the kernel would: all its processes, at once; and sees that it is so."""
        process = self.running.pop(name)
        family = [process, *psutil.Process(process.pid).children(recursive=True)]
        for each in family:
            with suppress(psutil.NoSuchProcess, ProcessLookupError):
                os.kill(each.pid, signal.SIGKILL)
        assert process.wait(10) == -signal.SIGKILL
        psutil.wait_procs(family[1:], timeout=10)
        assert not any(
            psutil.pid_exists(each.pid) and psutil.Process(each.pid).status() != "zombie"
            for each in family[1:]
        )

    def revive(self, name: str) -> None:
        """What whoever runs it does: starts it again where it ended by itself.

        A worker with a task in hand may end when its Redis is killed.
        """
        if name in self.running and self.running[name].poll() is not None:
            self.start(name)

    def stop(self) -> None:
        for name in reversed(list(self.running)):
            with suppress(Exception):
                self.kill(name)

    # --- What is started
    def _web(self) -> tuple[list[str], str | None]:
        return [
            sys.executable, "-m", "granian", "--interface", "wsgi", "--no-ws", "--host",
            "127.0.0.1", "--port", str(self.web_port), "--workers", str(self.web_workers),
            "--blocking-threads", "4", "--log-level", "warning", "plant.config.wsgi:application",
        ], None  # fmt: skip

    def _web_ready(self) -> bool:
        with suppress(OSError, http.client.HTTPException):
            return Person(self).get("/sign-in").status == 200
        return False

    def _worker(self) -> tuple[list[str], str | None]:
        return [
            sys.executable, "-m", "celery", "-q", "-A", "plant.config", "worker", "--concurrency",
            "2", "--without-gossip", "--without-mingle", "-l", "ERROR",
        ], None  # fmt: skip

    def _worker_ready(self) -> bool:
        process = psutil.Process(self.running["worker"].pid)
        return len(process.children()) >= 2

    def _redis(self) -> tuple[list[str], str | None]:
        return [
            "redis-server", "--port", str(self.redis_port), "--bind", "127.0.0.1", "--save", "",
            "--appendonly", "no", "--dir", str(self.folder),
        ], None  # fmt: skip

    def _redis_ready(self) -> bool:
        return _answers(self.redis_port)

    def _postgres(self) -> tuple[list[str], str | None]:
        bin_ = sorted(glob("/usr/lib/postgresql/*/bin"))[-1]
        user = "postgres" if os.geteuid() == 0 else None
        data = self.folder / "postgres"
        if not data.exists():
            data.mkdir(mode=0o700)
            if user:
                shutil.chown(data, user, user)
            subprocess.run(
                [f"{bin_}/initdb", "-D", str(data), "-A", "trust", "-U", "postgres"], check=True,
                user=user, group=user, cwd="/", stdout=subprocess.DEVNULL,
            )  # fmt: skip
        (data / "postmaster.pid").unlink(missing_ok=True)  # of one that was killed
        return [
            f"{bin_}/postgres", "-D", str(data), "-p", str(self.postgres_port), "-c",
            "listen_addresses=127.0.0.1", "-c", f"unix_socket_directories={data}",
        ], user  # fmt: skip

    def _postgres_ready(self) -> bool:
        import psycopg

        with suppress(psycopg.Error):
            psycopg.connect(self._dsn).close()
            return True
        return False

    # --- What is in it
    @property
    def _dsn(self) -> str:
        return f"host=127.0.0.1 port={self.postgres_port} user=postgres dbname=postgres"

    def sql(self, query: str) -> list[tuple[Any, ...]]:
        """Asked of the database itself, past the program."""
        if self.postgres:
            import psycopg

            with psycopg.connect(self._dsn) as connection:
                found = connection.execute(query)  # type: ignore[call-overload]
                return found.fetchall() if found.description else []
        file = self.folder / "data/plant.sqlite3"
        with closing(sqlite3.connect(file, timeout=20)) as connection, connection:
            return connection.execute(query).fetchall()

    def kept(self) -> list[str]:
        """The numbers of all records that came from phones, each as often as it stands there."""
        rows = self.sql("select id from plant_record where kind in ('check', 'stop', 'fault')")
        return [str(uuid.UUID(str(row[0]))) for row in rows]

    def assert_as_sealed(self) -> None:
        """The program's own reading of the chain, all that follows from it included."""
        assert "all as sealed" in self.run(sys.executable, "manage.py", "verify_chain")


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@contextmanager
def a_depot(**more: Any) -> Iterator[Running]:
    # Where another account, that of the database server, can go in too.
    folder = Path(tempfile.mkdtemp(prefix="plant-running-"))
    folder.chmod(0o755)
    depot = Running(folder, **more)
    try:
        yield depot
    finally:
        depot.stop()
        shutil.rmtree(folder, ignore_errors=True)


class HeldBack(Exception):
    """This phone sent as often as it may in a minute; after so many seconds it may again."""


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    text: str


class Person:
    """Somebody with a browser or a phone: keeps cookies, sends a form with its page's token."""

    def __init__(self, depot: Running, timeout_s: float = 40.0) -> None:
        self.port, self.timeout_s = depot.web_port, timeout_s
        self.cookies: dict[str, str] = {}
        self.token = ""
        self.line: http.client.HTTPConnection | None = None

    def __del__(self) -> None:
        if self.line is not None:
            self.line.close()

    def ask(self, method: str, path: str, body: bytes | None = None, kind: str = "") -> Answer:
        headers = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())}
        if kind:
            headers["Content-Type"] = kind
        self.line = self.line or http.client.HTTPConnection(
            "127.0.0.1", self.port, timeout=self.timeout_s
        )
        try:
            self.line.request(method, path, body=body, headers=headers)
            response = self.line.getresponse()
            text = response.read().decode("utf-8", "replace")
        except (OSError, http.client.HTTPException):
            self.line.close()
            self.line = None
            raise
        for name, value in response.getheaders():
            if name.lower() == "set-cookie":
                key, _, rest = value.partition("=")
                self.cookies[key] = rest.partition(";")[0]
        if found := re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', text):
            self.token = found[1]
        headers = {name.lower(): value for name, value in response.getheaders()}
        return Answer(response.status, headers, text)

    def get(self, path: str) -> Answer:
        kept = self.line is not None
        try:
            return self.ask("GET", path)
        except http.client.RemoteDisconnected:
            if not kept:
                raise
            # A line that was kept open and closed meanwhile: a browser asks again.
            return self.ask("GET", path)

    def post(self, path: str, **given: str) -> Answer:
        body = urlencode(given | {"csrfmiddlewaretoken": self.token}).encode()
        return self.ask("POST", path, body, "application/x-www-form-urlencoded")

    def sign_in(self, name: str, password: str) -> None:
        self.get("/sign-in")
        answer = self.post("/sign-in", sign_in=name, password=password)
        assert answer.status == 302, answer.text[-2000:]

    def send(self, entry: dict[str, Any]) -> bool:
        """Sends one kept entry; whether the server said that it holds it.

        Raises:
            HeldBack: it was told to wait, which is an answer and no fault.
        """
        body = json.dumps({"sent_at": datetime.now(UTC).isoformat(), "entries": [entry]})
        answer = self.ask("POST", "/phone/entries", body.encode(), "application/json")
        if answer.status == 429:
            raise HeldBack(answer.headers["retry-after"])
        if answer.status != 200:
            return False
        return bool(json.loads(answer.text)["results"][0]["state"] == "kept")


def an_entry(depot: Running, phone: int, kind: str = "check") -> dict[str, Any]:
    """What phone number so many keeps of a machine of its own."""
    machines = depot.cast["machines"]
    entry: dict[str, Any] = {
        "id": str(uuid.uuid4()), "schema": "1", "kind": kind, "by_name": "",
        "machine": str(machines[phone % len(machines)]), "permit": depot.cast["permits"][phone],
        "device_time": datetime.now(UTC).isoformat(),
    }  # fmt: skip
    if kind == "check":
        answers = {key: {"answer": "ok", "word": ""} for key in depot.cast["questions"]}
        return entry | {"answers": answers}
    return entry | {"told": f"smokes {secrets.token_hex(4)}"}
