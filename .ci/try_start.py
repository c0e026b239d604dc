"""Runs the README's first command as printed, waits until it serves, and stops it by Ctrl-C.

Given a folder, the depot's data are made there and stay.
"""

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from contextlib import ExitStack
from pathlib import Path

import psutil

HERE = Path(__file__).parent
LONGEST_START_S = 600


def main() -> None:
    command = subprocess.run(
        [sys.executable, HERE / "quick_start.py", "1"], check=True, capture_output=True, text=True
    ).stdout.strip()
    print(command)
    with ExitStack() as left_behind:
        kept = sys.argv[1] if len(sys.argv) > 1 else ""
        data = kept or left_behind.enter_context(tempfile.TemporaryDirectory())
        started = time.monotonic()
        shell = subprocess.Popen(
            ["bash", "-c", command],
            cwd=HERE.parent,
            env={**os.environ, "DATA_DIR": data},
            start_new_session=True,
        )
        try:
            health = wait(shell, started)
            print(f"well {time.monotonic() - started:.0f} s after the command: {health}")
            family = psutil.Process(shell.pid).children(recursive=True)
            os.killpg(shell.pid, signal.SIGINT)
            code = shell.wait(40)
            left = [p.pid for p in family if p.is_running() and p.status() != "zombie"]
            if code not in (0, 130, -signal.SIGINT) or left:
                sys.exit(f"It did not stop cleanly: code {code}, still running {left}")
            print("stopped cleanly, nothing left running")
        finally:
            if shell.poll() is None:
                os.killpg(shell.pid, signal.SIGKILL)


def wait(shell: subprocess.Popen[bytes], started: float) -> object:
    last = ""
    while time.monotonic() - started < LONGEST_START_S:
        if shell.poll() is not None:
            sys.exit(f"The command ended by itself, code {shell.returncode}")
        try:
            with urllib.request.urlopen("http://localhost:8000/health.json", timeout=5) as answer:
                health = json.load(answer)
            if health["well"]:
                with urllib.request.urlopen("http://localhost:8000/", timeout=5) as page:
                    if page.status == 200 and "/sign-in" in page.url:
                        return health
        except (OSError, ValueError) as not_yet:
            last = str(not_yet)
        time.sleep(1)
    sys.exit(f"Not well within {LONGEST_START_S} s. Last answer: {last}")


if __name__ == "__main__":
    main()
