"""A backup made, restored and taken out, beside a bare copy of the database.

python tests/benchmarks/bench_backup.py [records, default 100000]
"""

import sqlite3
import sys
import tempfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from measure import empty_database, table, timed

NOW = datetime(2026, 11, 28, 12, tzinfo=UTC)
BLOCK = 5000


def main(count: int) -> None:
    with empty_database(), tempfile.TemporaryDirectory() as scratch:
        from django.conf import settings
        from django.db import connection, transaction

        from elsewhere import empty_database as another
        from elsewhere import run
        from plant.actions.checkpoint import sign_chains
        from plant.actions.record import seal
        from plant.models import Depot, Record
        from reports.actions.archive import make_archive
        from reports.actions.backup import make_backup

        folder = Path(scratch)
        settings.CHECKPOINT_KEY = folder / "apart.key"
        depot = Depot.objects.create(code="big", name="Big yard")
        for start in range(0, count, BLOCK):
            with transaction.atomic():
                for number in range(start, min(start + BLOCK, count)):
                    seal(
                        kind=Record.Kind.METER, depot=depot,
                        data={"dial": {"si": str(number), "typed": f"{number} h", "unit": "s"}},
                        happened_at=NOW, received_at=NOW, by=None, role="label",
                        by_name="Somebody", texts={"note": "As every day."},
                    )  # fmt: skip
        sign_chains(at=NOW)

        def bare() -> None:
            with closing(sqlite3.connect(folder / "copy")) as copy:
                own = sqlite3.connect(str(connection.settings_dict["NAME"]))
                with closing(own):
                    own.backup(copy)

        def restored() -> None:
            with another("bench_restored") as database:
                done = run("restore", str(folder / "b.zip"), data=folder / "r", database=database)
            assert done.returncode == 0, done.stdout + done.stderr

        def brought() -> None:
            with another("bench_brought") as database:
                there = folder / "i"
                assert run("migrate", data=there, database=database).returncode == 0
                done = run("import_all", str(folder / "a.zip"), data=there, database=database)
            assert done.returncode == 0, done.stdout + done.stderr

        rows = [
            ("backup", timed(lambda: make_backup(folder / "b.zip", at=NOW)), "s"),
            ("restore, with every record read", timed(restored), "s"),
            ("export_all", timed(lambda: make_archive(folder / "a.zip", at=NOW)), "s"),
            ("import_all, with every record read", timed(brought), "s"),
        ]
        if connection.vendor == "sqlite":
            rows.append(("the engine's own copy alone", timed(bare), "s"))
        table(f"{count:,} records with two texts each", rows)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
