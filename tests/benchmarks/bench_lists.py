"""The lists and Today over a large fleet, beside their bare SQL and beside an empty page.

    python tests/benchmarks/bench_lists.py [machines, default 100000]

Three plan lines a machine; one machine in ten is overdue, three in ten are due soon, one in a
hundred is stopped. A request is what the server does for it, from address to bytes; the bare SQL
is the same statements with their rows fetched.
"""

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO

from measure import empty_database, peak_mb, side_by_side, table, timed

NOW = datetime.now(UTC)
RUNS = 15
PAGES = [
    ("Today", "reports:today", ""),
    ("Machines", "maintenance:machine_list", ""),
    ("Machines, stopped", "maintenance:machine_list", "?use=do-not-use"),
    ("Machines, OK to use", "maintenance:machine_list", "?use=ok"),
    ("Machines found by a word", "maintenance:machine_list", "?q=tarn"),
    ("Machines, page 1000", "maintenance:machine_list", "?page=1000"),
    ("Due", "maintenance:due_list", ""),
    ("Due, overdue and out", "maintenance:due_list", "?state=overdue"),
    ("Jobs", "maintenance:job_list", ""),
]
EMPTY = ("Paper, with nothing on it", "reports:batch_list", "")


def short_code(number: int) -> str:
    letters = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
    return "".join(letters[number // 31**place % 31] for place in range(4))


def fill(machines: int) -> None:
    from django.core.management import call_command
    from django.db import connection, transaction

    from maintenance.models import DueLine, Job, PlanLine, Stop
    from plant.actions.heartbeat import beat
    from plant.actions.record import seal
    from plant.models import Depot, Machine, MachineKind, Membership, Record, Role, User

    call_command("rule_sheets", stdout=StringIO())
    depot = Depot.objects.create(code="big", name="Big yard")
    user = User.objects.create(sign_in="mara", name="Mara Manager")
    Membership.objects.create(user=user, depot=depot, role=Role.MANAGER)
    beat(name="background", at=NOW)
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
                supply="petrol", added_at=NOW, passed_at=NOW, hours_tenths=1000,
                short_code=short_code(n), place="out" if n % 2 else "yard",
                maker="Tarnhow" if n % 50 == 0 else "Ostrey", site="Quarry Lane" if n % 2 else "",
            )
            for n in range(machines)
        ),
        batch_size=2000,
    )  # fmt: skip
    pks = list(Machine.objects.order_by("number_key").values_list("pk", flat=True))
    day = depot.day_of(NOW)
    first = {0: -3, 1: -3, 2: 5, 3: 5, 4: 10}

    def due_lines():
        for n, pk in enumerate(pks):
            for m, line in enumerate(lines):
                in_days = first.get(n % 20 // 2, 60) if m == 0 else 60
                due = day + timedelta(days=in_days)
                yield DueLine(
                    machine_id=pk, line=line, start_on=day - timedelta(days=90), due_on=due,
                    past_after=due, due_tenths=9000, raise_on=due - timedelta(days=14),
                    plan_on=due, raise_tenths=8900,
                    worked_out_at=NOW,
                )  # fmt: skip

    DueLine.objects.bulk_create(due_lines(), batch_size=5000)
    with transaction.atomic():
        record = seal(
            kind=Record.Kind.STOP, depot=depot, data={}, happened_at=NOW, received_at=NOW,
            by=user, role="manager",
        )  # fmt: skip
    stopped = pks[::100]
    Job.objects.bulk_create(
        (
            Job(machine_id=pk, kind="fault", title="grinds", opened_at=NOW, opened_by_record=record)
            for pk in stopped
        ),
        batch_size=2000,
    )
    Stop.objects.bulk_create(
        (
            Stop(machine_id=pk, kind="stop", words="grinds", since=NOW, record=record)
            for pk in stopped
        ),
        batch_size=2000,
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def main(machines: int) -> None:
    with empty_database():
        from django.db import connection
        from django.test import Client, override_settings
        from django.test.utils import CaptureQueriesContext
        from django.urls import reverse

        from plant.models import User

        fill(machines)
        plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
        files = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
        with override_settings(STORAGES={"default": files, "staticfiles": plain}):
            client = Client(SERVER_NAME="localhost")
            client.force_login(User.objects.get())

            def ask(name: str, query: str) -> Callable[[], None]:
                address = reverse(name) + query

                def asked() -> None:
                    assert client.get(address).status_code == 200, address

                return asked

            def bare(statements: list[str]) -> Callable[[], None]:
                def executed() -> None:
                    with connection.cursor() as cursor:
                        for statement in statements:
                            cursor.execute(statement)
                            cursor.fetchall()

                return executed

            nothing = ask(*EMPTY[1:])
            nothing()
            for words, name, query in PAGES:
                page = ask(name, query)
                page()
                with CaptureQueriesContext(connection) as caught:
                    page()
                count = len(caught)  # the next page empties it
                statements = [each["sql"] for each in caught if each["sql"].startswith("SELECT")]
                alone = bare(statements)
                title = f"{connection.vendor}, {machines:,} machines: {words}"
                asked, bared, emptied = side_by_side((page, alone, nothing), runs=RUNS)
                table(
                    f"{title}, {count} statements",
                    [
                        ("by the clock", asked.wall * 1e3, "ms"),
                        ("its statements bare, by the clock", bared.wall * 1e3, "ms"),
                        ("an empty page, by the clock", emptied.wall * 1e3, "ms"),
                        ("processor time here", asked.cpu * 1e3, "ms"),
                        ("its statements bare, processor time here", bared.cpu * 1e3, "ms"),
                        (
                            "bound: these and three empty pages, processor time",
                            (bared.cpu + 3 * emptied.cpu) * 1e3,
                            "ms",
                        ),
                    ],
                )
                if "-v" in sys.argv:
                    for statement in statements:
                        print(f"    {timed(bare([statement])) * 1e3:8.1f} ms  {statement}")
        print(f"\nmost memory held: {peak_mb():.0f} MB")


if __name__ == "__main__":
    given = [word for word in sys.argv[1:] if word.isdigit()]
    main(int(given[0]) if given else 100_000)
