"""The find box over a large fleet, beside the bare SQL of the same request and an empty page.

    python tests/benchmarks/bench_find.py [machines, default 100000]

The fleet is that of bench_lists.py with serials and nicknames, half of it out with one of 300
hirers, a belt drive on two machines in five, 500 parts, and an open job on one in a hundred. A
request is what the server does for it, from address to bytes.
"""

import sys
from datetime import date

from bench_lists import NOW, fill
from measure import cpu, empty_database, peak_mb, table, timed

RUNS = 5
WORDS = (
    ("three figures", "203"),
    ("half a serial", "SN70"),
    ("a place", "quarry lane"),
    ("a hirer", "hirer 17"),
    ("a kind and a place", "kind quarry"),
    ("a belt mark in another form", "13x660 Li"),
    ("a number with a slip", "M-00O203"),
    ("nothing", "qwertz"),
)
# Mark, section, datum length [m].
MARKS = (("A26", "A", 0.6904), ("13A690", "A", 0.69), ("A 30", "A", 0.792), ("B40", "B", 1.056))


def more(machines: int) -> None:
    """What a fleet has beside its numbers."""
    from django.db import connection, transaction

    from maintenance.models import Hirer, Part, Stay
    from plant.actions.record import seal
    from plant.models import Depot, Drive, Machine, Record, User

    depot, user = Depot.objects.get(), User.objects.get()
    rows = list(Machine.objects.order_by("pk"))
    for n, machine in enumerate(rows):
        machine.serial = f"SN-{7_000_000 + 37 * n}"
        machine.nickname = f"Old {n}" if n % 20 == 0 else ""
        machine.site = f"Quarry Lane {n % 400}" if n % 2 else ""
    Machine.objects.bulk_update(rows, ["serial", "nickname", "site"], batch_size=500)
    Drive.objects.bulk_create(
        (
            Drive(
                machine=machine, belt_mark=MARKS[n % 4][0], section=MARKS[n % 4][1],
                length_system="ISO/DIN", belt_datum_m=MARKS[n % 4][2],
            )
            for n, machine in enumerate(rows[::5] + rows[1::5])
        ),
        batch_size=2000,
    )  # fmt: skip
    Part.objects.bulk_create(
        Part(depot=depot, name=f"Seal {n}", name_key=f"SEAL{n}") for n in range(500)
    )
    hirers = Hirer.objects.bulk_create(Hirer(depot=depot, name=f"Hirer {n}") for n in range(300))
    out = [machine for machine in rows if machine.place == "out"]
    with transaction.atomic():
        # Each stay has a record of its own; here one a stay is enough, sealed as any other.
        for first in range(0, len(out), 500):
            records = [
                seal(
                    kind=Record.Kind.PLACE, depot=depot, data={}, happened_at=NOW,
                    received_at=NOW, by=user, role="manager",
                )
                for _ in out[first : first + 500]
            ]  # fmt: skip
            Stay.objects.bulk_create(
                Stay(
                    machine=machine, hirer=hirers[machine.pk % 300], site=machine.site,
                    out_at=NOW, due_back_on=date(2027, 1, 1), record=record,
                )
                for machine, record in zip(out[first : first + 500], records, strict=True)
            )  # fmt: skip
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
        more(machines)
        plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
        files = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
        with override_settings(STORAGES={"default": files, "staticfiles": plain}):
            client = Client(SERVER_NAME="localhost")
            client.force_login(User.objects.get())

            def empty() -> None:
                assert client.get(reverse("reports:batch_list")).status_code == 200

            empty()
            nothing = timed(empty, runs=RUNS)
            for said, words in WORDS:

                def page(words: str = words) -> None:
                    answer = client.get(reverse("maintenance:find"), {"q": words})
                    assert answer.status_code in (200, 302), words

                page()
                with CaptureQueriesContext(connection) as caught:
                    page()
                statements = [each["sql"] for each in caught if each["sql"].startswith("SELECT")]

                def bare(statements: list[str] = statements) -> None:
                    with connection.cursor() as cursor:
                        for statement in statements:
                            cursor.execute(statement)
                            cursor.fetchall()

                table(
                    f"{connection.vendor}, {machines:,} machines: {said}, {words!r}, "
                    f"{len(caught)} statements",
                    [
                        ("by the clock", timed(page, runs=RUNS) * 1e3, "ms"),
                        ("processor time here", cpu(page, runs=RUNS) * 1e3, "ms"),
                        ("an empty page, by the clock", nothing * 1e3, "ms"),
                        ("bound: its statements bare", timed(bare, runs=RUNS) * 1e3, "ms"),
                    ],
                )
                if "-v" in sys.argv:
                    for statement in statements:
                        took = timed(lambda sql=statement: bare([sql])) * 1e3
                        print(f"    {took:8.1f} ms  {statement[:1500]}")
        print(f"\nmost memory held: {peak_mb():.0f} MB")


if __name__ == "__main__":
    given = [word for word in sys.argv[1:] if word.isdigit()]
    main(int(given[0]) if given else 100_000)
