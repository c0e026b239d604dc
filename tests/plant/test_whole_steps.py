"""Changes of the schema, killed at odd moments by the kernel; the next run finishes them."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
KILLED = -signal.SIGKILL
# Kills itself at the n-th note of a step: after the step was done, before it is noted.
BEFORE_NOTE = """
import os, signal, sys
import django
django.setup()
from django.core.management import call_command
from django.db.migrations.recorder import MigrationRecorder
left = int(sys.argv[1])
own = MigrationRecorder.record_applied
def noted(self, app, name):
    global left
    left -= 1
    if left == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    return own(self, app, name)
MigrationRecorder.record_applied = noted
call_command("migrate", verbosity=0, interactive=False)
"""


def environment(data: Path) -> dict[str, str]:
    return os.environ | {
        "DJANGO_SETTINGS_MODULE": "plant.config.settings",
        "DATA_DIR": str(data),
        "DATABASE_URL": "",
        "BROKER_URL": "filesystem://",
        "PYTHONPATH": str(ROOT),
    }


@pytest.mark.embedded
def test_a_killed_migration_is_finished_by_the_next_run(tmp_path: Path) -> None:
    dice = random.Random(20261128)
    migrate = [sys.executable, "manage.py", "migrate", "-v", "0"]
    env = environment(tmp_path)
    # Between a step and its note, at each of the last steps: 41 old names are noted in one of them.
    for note in (1, 3, 17, 2, 5):
        command = [sys.executable, "-c", BEFORE_NOTE, str(note)]
        done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True)
        assert done.returncode == KILLED, done.stderr
    for _ in range(4):
        run = subprocess.Popen(migrate, cwd=ROOT, env=env)
        time.sleep(dice.uniform(0.6, 2.5))
        run.kill()
        run.wait()
    done = subprocess.run(migrate, cwd=ROOT, env=env, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    checks = (["migrate", "--check"], ["verify_chain"])
    for words in checks:
        done = subprocess.run(
            [sys.executable, "manage.py", *words], cwd=ROOT, env=env, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr
    _an_older_database_is_backed_up_first(tmp_path, env)


def _an_older_database_is_backed_up_first(data: Path, env: dict[str, str]) -> None:
    """And a backup of the older schema is restored by the newer program."""

    def run(*words: str, where: Path = data) -> str:
        command = [sys.executable, "manage.py", *words]
        more = env | {"DATA_DIR": str(where), "SECRET_KEY": "the same in both places, by chance"}
        done = subprocess.run(command, cwd=ROOT, env=more, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert "Backing" not in run("bring_up_to_date")
    run("migrate", "plant", "0001_squashed_0012_keep_and_erase", "-v", "0")
    assert "Backing it up first" in run("bring_up_to_date")
    (kept,) = (data / "backups").glob("before-update-*Z.zip")
    there = data / "there"
    assert "all as they were backed up" in run("restore", str(kept), where=there)
    run("migrate", "--check", where=there)
