"""Keeps the processes of a small depot running: starts, restarts the dead, stops them all."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from types import FrameType

# A process that ran this long is taken to have started well; its next restart is prompt again.
GOOD_RUN_S = 30.0
LONGEST_WAIT_S = 30.0
# What a stopping process gets to finish what it has in hand.
# Longer than a stretch of printing.
PATIENCE_S = 25.0
_PR_SET_PDEATHSIG = 1


def _die_with_parent() -> None:
    """In the child: have the kernel stop it when the supervisor is killed (Linux alone)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


@dataclass
class Process:
    """One program that is to be running."""

    name: str
    command: Sequence[str]
    environment: dict[str, str]
    wait_s: float = 1.0
    not_before: float = 0.0
    started: float = 0.0
    running: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> None:
        self.started = time.monotonic()
        # A group of its own, so that Ctrl-C reaches the supervisor alone, which then stops each
        # in turn; preexec_fn is safe here, since the supervisor has no threads.
        self.running = subprocess.Popen(  # noqa: S603 - our own fixed command lines
            self.command,
            env=self.environment,
            start_new_session=True,
            preexec_fn=_die_with_parent,
        )

    def look(self, say: Callable[[str], None]) -> None:
        """Restarts the program when it has ended, waiting longer each time it ends soon."""
        now = time.monotonic()
        if self.running is not None:
            code = self.running.poll()
            if code is None:
                return
            self._end_group()  # a killed worker may leave its timer behind: never run two
            good = now - self.started >= GOOD_RUN_S
            self.wait_s = 1.0 if good else min(self.wait_s * 2, LONGEST_WAIT_S)
            self.not_before = now + (0.0 if good else self.wait_s)
            self.running = None
            say(f"{self.name} ended (code {code}); starting it again")
        if now >= self.not_before:
            self.start()

    def ask_to_stop(self) -> None:
        """Asks the program alone; it lets its own children finish what they have in hand."""
        if self.running is not None and self.running.poll() is None:
            self.running.terminate()

    def end(self, patience_s: float) -> None:
        """Waits, then ends what is left of its whole group."""
        if self.running is None:
            return
        with suppress(subprocess.TimeoutExpired):
            self.running.wait(max(0.1, patience_s))
        self._end_group()
        self.running.wait()

    def _end_group(self) -> None:
        if self.running is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.running.pid, signal.SIGKILL)


def run(processes: Sequence[Process], *, say: Callable[[str], None]) -> None:
    """Runs until Ctrl-C or SIGTERM, then stops all, the last started first."""
    stopping: list[int] = []

    def stop(number: int, frame: FrameType | None) -> None:
        stopping.append(number)

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        while not stopping:
            for process in processes:
                process.look(say)
            time.sleep(0.2)
        say("Stopping: what is in hand is finished first.")
        for process in reversed(processes):
            process.ask_to_stop()
        until = time.monotonic() + PATIENCE_S
        for process in reversed(processes):
            process.end(until - time.monotonic())
        say("Stopped.")
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
