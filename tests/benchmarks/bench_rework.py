"""The full rework of a fleet's due dates, beside a bare UPDATE of the same rows in the same run.

    python tests/benchmarks/bench_rework.py [machines, default 100000] [-p: show where time goes]
    python tests/benchmarks/bench_rework.py 10000 30000 100000 300000

Several sizes run one after the other, each in a process and a database of its own; the time for
each machine says whether it grows in step with the fleet.

Three plan lines and ten readings a machine; work done, put off, raised; half of the machines out,
one in five without a meter. Before each run the rows stand as they began, so that the rework
changes every one of them. The bound writes the same columns of the same rows, with values worked
out beforehand, by the fastest ordinary way of the driver (executemany on SQLite, UPDATE from
arrays on PostgreSQL), in one transaction. Both are run several times in turn; the best of each
counts, since other work may share the processor. Sealed records are left out: nothing here reads
them.
"""

import cProfile
import pstats
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from statistics import median
from typing import Any

from measure import empty_database, peak_mb

NOW = datetime(2026, 11, 25, 3, tzinfo=UTC)
TURNS = 3
LINES, READINGS, ONE_BY_ONE = 3, 10, 200
LINE = (
    "last_done_on", "last_done_tenths", "cycle", "due_on", "due_tenths", "put_off_to", "early_on",
    "likely_on", "late_on", "is_estimate", "plan_on", "raise_on", "raise_tenths", "past_after",
    "hours_near", "hours_past", "worked_out_at",
)  # fmt: skip
RATE = ("basis", "low", "likely", "high", "readings", "first_on", "last_on", "worked_out_at")


def moment(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M:%S}"


def record(number: int) -> str:
    return f"{number:032x}"


def pour(table: str, rows: Iterable[dict[str, Any]]) -> None:
    """Rows straight into a table, by the driver's own fastest way."""
    from django.db import connection

    rows = iter(rows)
    first = next(rows)
    names = ", ".join(f'"{name}"' for name in first)

    def values() -> Iterator[tuple[Any, ...]]:
        yield tuple(first.values())
        for row in rows:
            yield tuple(row.values())

    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for each in values():
                    copy.write_row(each)
        else:
            marks = ", ".join("%s" for _ in first)
            cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", values())


def short_code(number: int) -> str:
    letters = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
    return "".join(letters[number // 31**place % 31] for place in range(4))


def fill(machines: int) -> None:
    """The fleet, with everything that moves its due dates."""
    from django.db import connection, transaction

    from maintenance.models import PlanLine
    from plant.models import Depot, Machine, MachineKind, Membership, Role, User

    draw = random.Random(1)
    depots = [
        Depot.objects.create(code=f"d{n}", name=f"Yard {n}", time_zone=zone)
        for n, zone in enumerate(("Europe/London", "Europe/Berlin"))
    ]
    user = User.objects.create(sign_in="mara", name="Mara Manager")
    for depot in depots:
        Membership.objects.create(user=user, depot=depot, role=Role.FITTER)
    lines: list[list[int]] = []
    kinds = [MachineKind.objects.create(key=f"k{n}", name=f"Kind {n}") for n in range(4)]
    for n, kind in enumerate(kinds):
        given: list[dict[str, Any]] = [
            {"every_tenths": 1500 + 500 * n, "every_months": 6, "first_tenths": 200, "level": 1},
            {"every_months": 3, "is_test": True},
            {"every_tenths": 5000, "counts_from": "planned", "level": 2},
        ]
        lines.append(
            [
                PlanLine.objects.create(
                    kind=kind, key=f"l{m}", title=f"Line {m}", source="-", trust="-", **more
                ).pk
                for m, more in enumerate(given)
            ]
        )
    added = NOW - timedelta(days=400)
    has_meter = [n % 5 != 0 for n in range(machines)]
    is_out = [n % 2 == 1 for n in range(machines)]
    figures = [
        [(NOW - timedelta(days=9 * back + n % 8, hours=n % 11), 4000 - back * (120 + n % 97))
         for back in range(READINGS * 5 // 4)][::-1] if has_meter[n] else []
        for n in range(machines)
    ]  # fmt: skip
    blank = {
        field.column: ""
        for field in Machine._meta.concrete_fields
        if field.get_internal_type() in ("CharField", "FileField") and field.blank
    }
    pour("plant_machine", (
        blank | {
            "id": n + 1, "depot_id": depots[n % 2].pk, "kind_id": kinds[n % 4].pk,
            "number": f"M-{n:06d}", "number_key": f"M{n:06d}", "supply": "petrol",
            "plate_typed": "{}", "place": "out" if is_out[n] else "yard",
            "hours_tenths": figures[n][-1][1] if has_meter[n] else None,
            "hours_at": moment(figures[n][-1][0]) if has_meter[n] else None,
            "label_code": f"{n:022d}", "short_code": short_code(n), "added_at": moment(added),
        }
        for n in range(machines)
    ))  # fmt: skip
    pour("plant_meter", (
        {
            "id": n + 1, "machine_id": n + 1, "fitted_at": moment(added), "measure": "hours",
            "offset_tenths": 0, "blind_tenths": 0,
        }
        for n in range(machines) if has_meter[n]
    ))  # fmt: skip
    # From here on rows point to records that are not there.
    if connection.vendor == "sqlite":
        connection.disable_constraint_checking()
    with transaction.atomic():
        if connection.vendor == "postgresql":
            connection.cursor().execute("SET LOCAL session_replication_role = replica")
        pour("maintenance_meterreading", (
            {
                "meter_id": n + 1, "at": moment(at), "dial_tenths": tenths, "total_tenths": tenths,
                "questioned": "", "record_id": record(n * 1000 + place),
            }
            for n in range(machines) for place, (at, tenths) in enumerate(figures[n])
        ))  # fmt: skip
        pour("maintenance_dueline", (
            {
                "id": n * LINES + m + 1, "machine_id": n + 1, "line_id": lines[n % 4][m],
                "start_on": added.date().isoformat(), "cycle": 1, "passed_over": 0,
                "start_tenths": 1000 if has_meter[n] else None, "resting_because": "",
                "is_estimate": False, "hours_near": False, "hours_past": False,
                "worked_out_at": moment(NOW - timedelta(days=2)),
            }
            for n in range(machines) for m in range(LINES)
        ))  # fmt: skip
        pour("maintenance_completion", (
            {
                "due_line_id": n * LINES + m + 1, "at": moment(NOW - timedelta(days=days)),
                "on": (NOW - timedelta(days=days)).date().isoformat(),
                "tenths": 4000 - 13 * days if has_meter[n] and days % 2 else None,
            }
            for n in range(machines) for m in range(LINES)
            for days in ((200 + draw.randrange(99), 30 + draw.randrange(99)) if n % 3 else ())
        ))  # fmt: skip
        pour("maintenance_putoff", (
            {
                "due_line_id": n * LINES + 1, "cycle": 3, "due_on": None, "reason": "A part.",
                "to_on": (NOW + timedelta(days=9)).date().isoformat(), "by_id": user.pk,
                "at": moment(NOW), "record_id": record(n),
            }
            for n in range(machines) if n % 20 == 1
        ))  # fmt: skip
        pour("maintenance_stay", (
            {
                "machine_id": n + 1, "site": "Quarry Lane", "site_phone": "", "went_with": "",
                "out_at": moment(NOW - timedelta(days=40 + n % 90)), "condition_out": "",
                "due_back_on": "2026-12-24", "fuel_out": "", "clean_out": "", "plan": "",
                "plan_reason": "", "record_id": record(n), "came_with": "", "condition_in": "",
                "back_at": None if is_out[n] else moment(NOW - timedelta(days=n % 30)),
                "missing_in": "", "fuel_in": "", "clean_in": "",
            }
            for n in range(machines)
        ))  # fmt: skip
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("ANALYZE")


def bare(table: str, key: str, columns: tuple[str, ...]) -> Callable[[], None]:
    """The rows as they stand now, to be written again by one bare UPDATE."""
    from django.apps import apps
    from django.db import connection, transaction

    model = next(each for each in apps.get_models() if each._meta.db_table == table)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(columns)}, {key} FROM {table} ORDER BY {key}")
        rows = cursor.fetchall()
    if connection.vendor == "postgresql":
        fields = [model._meta.get_field(name) for name in columns]
        types = [*(str(field.rel_db_type(connection)) for field in fields), "bigint"]
        names = ", ".join(columns)
        arrays = ", ".join(f"%s::{kind}[]" for kind in types)
        statement = (
            f"UPDATE {table} AS kept SET ({names}) = ROW({', '.join(f'new.{n}' for n in columns)}) "
            f"FROM unnest({arrays}) AS new({names}, pk) WHERE kept.{key} = new.pk"
        )

        def write() -> None:
            with transaction.atomic(), connection.cursor() as cursor:
                for start in range(0, len(rows), 5000):
                    part = rows[start : start + 5000]
                    cursor.execute(statement, [list(column) for column in zip(*part, strict=True)])
    else:
        sets = ", ".join(f"{name} = %s" for name in columns)

        def write() -> None:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.executemany(f"UPDATE {table} SET {sets} WHERE {key} = %s", rows)

    return write


def taken(act: Callable[[], object]) -> tuple[float, float]:
    """[s] by the clock, and processor time of this process."""
    clock, own = time.perf_counter(), time.process_time()
    act()
    return time.perf_counter() - clock, time.process_time() - own


def main(machines: int, *, profile: bool) -> None:
    with empty_database():
        from django.db import connection

        from maintenance.actions.due import rework_old
        from maintenance.actions.meter import record_meter
        from maintenance.models import DueLine, UseRate
        from plant.models import Machine, User

        fill(machines)
        with connection.cursor() as cursor:
            cursor.execute("CREATE TABLE begun AS SELECT * FROM maintenance_dueline")
            cursor.execute("CREATE UNIQUE INDEX begun_by_key ON begun (id)")

        def begin() -> None:
            """Every row as it stood before."""
            sets = ", ".join(f"{name} = begun.{name}" for name in LINE)
            with connection.cursor() as cursor:
                cursor.execute(
                    f"UPDATE maintenance_dueline SET {sets} FROM begun "
                    "WHERE begun.id = maintenance_dueline.id"
                )
                cursor.execute("UPDATE maintenance_userate SET likely = -1, last_on = first_on")
                cursor.execute("VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE")

        def whole(at: datetime) -> Callable[[], None]:
            def reworked() -> None:
                found = 0
                while count := rework_old(at=at):
                    found += count
                assert found == machines, found

            return reworked

        if profile:
            with cProfile.Profile() as seen:
                whole(NOW)()
            pstats.Stats(seen).sort_stats("tottime").print_stats(35)
            return
        whole(NOW)()  # the rates are rows from now on
        write_lines = bare("maintenance_dueline", "id", LINE)
        write_rates = bare("maintenance_userate", "machine_id", RATE)
        answers = list(DueLine.objects.order_by("pk").values_list("pk", *LINE))

        def both() -> None:
            write_lines()
            write_rates()

        ours, bound = [], []
        for _ in range(TURNS):
            begin()
            ours.append(taken(whole(NOW)))
            assert answers == list(DueLine.objects.order_by("pk").values_list("pk", *LINE))
            begin()
            bound.append(taken(both))
        again = [taken(whole(NOW + timedelta(days=day))) for day in range(1, TURNS + 1)]

        by = User.objects.get()
        read = Machine.objects.filter(hours_at__isnull=False).order_by("pk")[:ONE_BY_ONE]

        def one(machine: Machine) -> None:
            record_meter(
                machine=machine, dial_tenths=(machine.hours_tenths or 0) + 5, typed="x", at=NOW,
                by=by,
            )  # fmt: skip

        told = [taken(lambda machine=machine: one(machine)) for machine in read]
        waited, spent = (median(column) * 1e3 for column in zip(*told, strict=True))
        lines, rates = DueLine.objects.count(), UseRate.objects.count()
        print(
            f"\n{connection.vendor}: {machines:,} machines, {lines:,} lines, {rates:,} rates, "
            f"{machines * READINGS:,} readings; best of {TURNS} in turn"
        )
        rows = [
            ("full rework, every row changes", ours),
            ("full rework a day later, few rows change", again),
            ("bare UPDATE of the same rows", bound),
        ]
        least = [min(column) for column in zip(*bound, strict=True)]
        for words, times in rows:
            clock, own = (min(column) for column in zip(*times, strict=True))
            each = f"{clock / machines * 1e6:7.1f} us a machine, {own / machines * 1e6:6.1f} here"
            print(
                f"  {words:<44} {clock:8.2f} s {clock / least[0]:6.2f} x   processor here "
                f"{own:8.2f} s {own / least[1]:6.2f} x   {each}"
            )
        print("  each turn [s]:", *(
            f"{mine[0]:.2f}/{other[0]:.2f}" for mine, other in zip(ours, bound, strict=True)
        ))  # fmt: skip
        print(
            f"  one reading: sealed, its machine worked out, committed: {waited:.2f} ms by the "
            f"clock, processor here {spent:.2f} ms"
        )
        print(f"  most memory held: {peak_mb():.0f} MB")


if __name__ == "__main__":
    given = [word for word in sys.argv[1:] if word.isdigit()]
    if len(given) > 1:
        for size in given:
            subprocess.run([sys.executable, __file__, size], check=True)
    else:
        main(int(given[0]) if given else 100_000, profile="-p" in sys.argv)
