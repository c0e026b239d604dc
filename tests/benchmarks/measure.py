"""Sets up an empty database of a benchmark's own, times things side by side, prints a table."""

import os
import resource
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
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


def table(title: str, rows: list[tuple[str, float, str]]) -> None:
    """Prints name, figure and unit; the last row is the bound, to which the others are held."""
    print(f"\n{title}")
    bound = rows[-1][1]
    for name, figure, unit in rows:
        print(f"  {name:<58} {figure:>12,.4g} {unit:<6} {figure / bound:>7.2f} x bound")


def peak_mb() -> float:
    """[MB] the most memory that this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
