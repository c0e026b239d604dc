"""Real processes: started, started again when killed, all stopped at the end, none left behind."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

ROOT = Path(__file__).parent.parent.parent
LIMIT_S = 20.0

# A program with a child of its own; both write down who they are.
CHILD = """
import os, pathlib, signal, subprocess, sys, time
folder, name, stubborn = pathlib.Path(sys.argv[1]), sys.argv[2], sys.argv[3] == "stubborn"
if stubborn:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
own = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
(folder / f"{name}-{os.getpid()}").write_text(f"{os.getpid()} {own.pid}")
time.sleep(600)
"""

SUPERVISOR = """
import os, sys
from plant import supervisor
from plant.supervisor import Process, run
supervisor.PATIENCE_S = 1.0
folder, program, *kinds = sys.argv[1:]
run(
    [
        Process(kind, [sys.executable, "-c", program, folder, kind, kind], dict(os.environ))
        for kind in kinds
    ],
    say=lambda words: print(words, flush=True),
)
"""


class Supervised:
    """A supervisor at work, and what its programs wrote down."""

    def __init__(self, folder: Path, *kinds: str) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-c", SUPERVISOR, str(folder), CHILD, *kinds],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.kinds = kinds

    def written(self, kind: str) -> list[list[int]]:
        files = sorted(self.folder.glob(f"{kind}-*"), key=lambda file: file.stat().st_mtime_ns)
        return [[int(pid) for pid in file.read_text().split()] for file in files]

    def pids(self, kind: str, *, start: int = 1) -> list[int]:
        """Program and its own child, once it was started for the so-manyth time."""
        wait(lambda: len(self.written(kind)) >= start and len(self.written(kind)[-1]) == 2)
        return self.written(kind)[-1]

    def everybody(self) -> list[int]:
        return [pid for kind in self.kinds for pids in self.written(kind) for pid in pids]

    def stop(self, number: int) -> str:
        self.process.send_signal(number)
        said, _ = self.process.communicate(timeout=LIMIT_S)
        return str(said)


def wait(until: Callable[[], bool]) -> None:
    end = time.monotonic() + LIMIT_S
    while not until():
        assert time.monotonic() < end
        time.sleep(0.02)


def alive(pid: int) -> bool:
    try:
        return bool(psutil.Process(pid).status() != psutil.STATUS_ZOMBIE)
    except psutil.NoSuchProcess:
        return False


@pytest.fixture
def supervise(tmp_path: Path) -> Iterator[Callable[..., Supervised]]:
    begun: list[Supervised] = []

    def begin(*kinds: str) -> Supervised:
        begun.append(Supervised(tmp_path, *kinds))
        return begun[-1]

    yield begin
    for one in begun:
        one.process.kill()
        one.process.wait()
        if one.process.stdout:
            one.process.stdout.close()
        for pid in one.everybody():
            if alive(pid):
                os.kill(pid, signal.SIGKILL)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_all_are_started_and_all_are_stopped(
    supervise: Callable[..., Supervised], number: int
) -> None:
    supervised = supervise("web", "worker")
    pids = supervised.pids("web") + supervised.pids("worker")
    assert all(alive(pid) for pid in pids)

    said = supervised.stop(number)

    assert supervised.process.returncode == 0
    assert said.splitlines()[-1] == "Stopped."
    wait(lambda: not any(alive(pid) for pid in pids))


def test_a_killed_program_is_started_again_and_its_own_children_do_not_live_on(
    supervise: Callable[..., Supervised],
) -> None:
    supervised = supervise("web", "worker")
    web, (worker, its_own) = supervised.pids("web"), supervised.pids("worker")

    os.kill(worker, signal.SIGKILL)

    again = supervised.pids("worker", start=2)
    assert again[0] != worker
    assert not alive(its_own)
    assert all(alive(pid) for pid in (*web, *again))
    assert "worker ended (code -9); starting it again" in supervised.stop(signal.SIGTERM)


def test_a_program_that_will_not_stop_is_ended(supervise: Callable[..., Supervised]) -> None:
    supervised = supervise("stubborn")
    pids = supervised.pids("stubborn")

    supervised.stop(signal.SIGTERM)

    assert supervised.process.returncode == 0
    wait(lambda: not any(alive(pid) for pid in pids))


def test_programs_do_not_outlive_a_killed_supervisor(
    supervise: Callable[..., Supervised],
) -> None:
    """Where the kernel is Linux, which tells them; they then stop in their own order."""
    supervised = supervise("web", "worker")
    programs = [supervised.pids("web")[0], supervised.pids("worker")[0]]

    supervised.process.kill()
    supervised.process.wait()

    wait(lambda: not any(alive(pid) for pid in programs))
