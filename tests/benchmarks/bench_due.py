"""Raising due work over a large fleet, beside the bare statements on rows worked out beforehand.

    python tests/benchmarks/bench_due.py [machines, default 100000]

Three plan lines a machine, of which one in three has come due.
"""

import sys
from datetime import UTC, date, datetime, timedelta

from measure import empty_database, table, timed

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def short_code(number: int) -> str:
    letters = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
    return "".join(letters[number // 31**place % 31] for place in range(4))


def main(machines: int) -> None:
    with empty_database():
        from django.db import connection

        from maintenance.actions.plan import raise_due_work
        from maintenance.models import DueLine, Job, PlanLine
        from plant.models import Depot, Machine, MachineKind

        depot = Depot.objects.create(code="big", name="Big yard")
        kind = MachineKind.objects.create(key="k", name="Kind", family="mixer")
        lines = [
            PlanLine.objects.create(
                kind=kind, key=f"line{n}", title=f"Line {n}", every_months=3, source="-", trust="-"
            )
            for n in range(3)
        ]
        Machine.objects.bulk_create(
            (
                Machine(
                    depot=depot, kind=kind, number=f"M-{n:06d}", number_key=f"M{n:06d}",
                    supply="petrol", added_at=NOW, hours_tenths=1000, short_code=short_code(n),
                )
                for n in range(machines)
            ),
            batch_size=2000,
        )  # fmt: skip
        pks = list(Machine.objects.values_list("pk", flat=True))
        day = depot.day_of(NOW)

        def due_lines():
            for n, pk in enumerate(pks):
                for m, line in enumerate(lines):
                    due = day + timedelta(days=0 if m == n % 3 else 60)
                    yield DueLine(
                        machine_id=pk, line=line, start_on=date(2026, 1, 1), due_on=due,
                        past_after=due, raise_on=due, worked_out_at=NOW,
                    )  # fmt: skip

        DueLine.objects.bulk_create(due_lines(), batch_size=5000)
        total = DueLine.objects.count()
        with connection.cursor() as cursor:
            cursor.execute("CREATE TEMPORARY TABLE ready AS SELECT * FROM maintenance_dueline")
            cursor.execute("CREATE UNIQUE INDEX ready_pk ON ready (id)")
            cursor.execute("ANALYZE")

        raised: list[int] = []

        def ours() -> None:
            raised.append(raise_due_work(depot=depot, at=NOW))

        first = timed(ours)
        again = timed(ours)
        with connection.cursor() as cursor:
            cursor.execute("CREATE TEMPORARY TABLE jobs AS SELECT * FROM maintenance_job")
            cursor.execute("DELETE FROM maintenance_job")

        def bare_insert() -> None:
            with connection.cursor() as cursor:
                cursor.execute("INSERT INTO maintenance_job SELECT * FROM jobs")

        def bare_update() -> None:
            with connection.cursor() as cursor:
                cursor.execute(
                    "UPDATE maintenance_dueline SET due_on = ready.due_on, "
                    "raise_on = ready.raise_on, worked_out_at = ready.worked_out_at "
                    "FROM ready WHERE ready.id = maintenance_dueline.id"
                )

        inserted = timed(bare_insert)
        updated = timed(bare_update)
        assert Job.objects.count() == raised[0]
        title = f"{connection.vendor}: {len(pks):,} machines, {total:,} lines, {raised[0]:,} due"
        table(
            title,
            [
                ("raise_due_work, first run", first, "s"),
                ("raise_due_work, run again (nothing new)", again, "s"),
                ("bare INSERT of the same jobs, worked out beforehand", inserted, "s"),
                ("bare UPDATE of all lines, worked out beforehand", updated, "s"),
            ],
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
