"""Sets up an empty database of a benchmark's own, times things side by side, prints a table."""

import math
import os
import resource
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent


@contextmanager
def empty_database() -> Iterator[None]:
    """A migrated database in a folder that goes afterwards; PostgreSQL where DATABASE_URL says so.

    On PostgreSQL the tables are made in a new database beside the one named.
    """
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    folder = tempfile.mkdtemp(prefix="plant-bench-")
    os.environ["DATA_DIR"] = folder
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.config.settings")
    os.environ.setdefault("LOG_LEVEL", "ERROR")
    import django

    django.setup()
    from django.db import connection
    from django.test.utils import setup_databases, teardown_databases

    made = (
        setup_databases(verbosity=0, interactive=False) if connection.vendor != "sqlite" else None
    )
    if made is None:
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
    try:
        yield
    finally:
        if made is not None:
            teardown_databases(made, verbosity=0)
        shutil.rmtree(folder, ignore_errors=True)


def timed(act: Callable[[], object], *, runs: int = 1) -> float:
    """[s] the median of so many runs, by the wall clock."""
    times = []
    for _ in range(runs):
        started = time.perf_counter()
        act()
        times.append(time.perf_counter() - started)
    return statistics.median(times)


def cpu(act: Callable[[], object], *, runs: int = 1) -> float:
    """[s] processor time of this process for one run, the median of so many."""
    times = []
    for _ in range(runs):
        started = time.process_time()
        act()
        times.append(time.process_time() - started)
    return statistics.median(times)


@dataclass(frozen=True)
class Took:
    """[s] by the wall clock, and of this process's processor."""

    wall: float
    cpu: float


def side_by_side(acts: Sequence[Callable[[], object]], *, runs: int) -> list[Took]:
    """The least that each took of so many runs in turn: what others do on the computer is left out
    of all of them alike."""
    least = [[math.inf, math.inf] for _ in acts]
    for _ in range(runs):
        for act, took in zip(acts, least, strict=True):
            wall, used = time.perf_counter(), time.process_time()
            act()
            used, wall = time.process_time() - used, time.perf_counter() - wall
            took[:] = min(took[0], wall), min(took[1], used)
    return [Took(*each) for each in least]


def table(title: str, rows: list[tuple[str, float, str]]) -> None:
    """Prints name, figure and unit; the last row is the bound, to which the others are held."""
    print(f"\n{title}")
    bound = rows[-1][1]
    for name, figure, unit in rows:
        print(f"  {name:<58} {figure:>12,.4g} {unit:<6} {figure / bound:>7.2f} x bound")


def peak_mb() -> float:
    """[MB] the most memory that this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
