"""Bringing in 10 000 machines, beside the bare insertion of the same rows in the same run.

Run: python tests/benchmarks/bench_import.py [count]
"""

import csv
import io
import sys
from datetime import UTC, datetime
from typing import Any

from measure import empty_database, peak_mb, table, timed

COUNT = 10_000
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
HEADINGS = [
    "Machine number", "Kind", "Supply", "Maker", "Type", "Serial number", "Year made", "Class",
    "Power", "Speed", "Mass", "Place", "Meter", "Note",
]  # fmt: skip


def rows(count: int) -> list[list[object]]:
    return [
        [
            f"MX-{n:05}", "Cement mixer, engine", "petrol", "Hollin", f"M {n % 90}", f"H-{n}",
            2000 + n % 25, "", f"{1 + n % 9 / 2} hp", "3000 rpm", f"{50 + n % 40} kg", "yard",
            f"{n % 900}.5 h", "from the old list",
        ]
        for n in range(count)
    ]  # fmt: skip


def as_csv(count: int) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([HEADINGS, *rows(count)])
    return text.getvalue().encode()


def as_xlsx(count: int) -> bytes:
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"constant_memory": True})
    sheet = book.add_worksheet()
    for at, row in enumerate([HEADINGS, *rows(count)]):
        sheet.write_row(at, 0, row)
    book.close()
    return out.getvalue()


def small_letters(number: int) -> str:
    """Four small letters, which no drawn code has."""
    return "".join(chr(97 + number // 26**place % 26) for place in range(4))


def main(count: int) -> None:
    with empty_database():
        from django.db import connection, transaction

        from maintenance.actions.machine import give_missing_plans
        from maintenance.actions.reference import load_reference
        from make import make_depot, make_user
        from plant.actions import machine_import as actions
        from plant.models import Depot, Machine, Meter, Role
        from plant.models.machine import new_label_code

        load_reference()
        depot = make_depot("north")
        by = make_user("Mara Manager", (depot, Role.MANAGER))

        def asked(data: bytes, name: str) -> Any:
            return actions.ask_import(
                file=io.BytesIO(data), file_name=name, depot=depot, by=by, at=AT
            )

        csv_data, xlsx_data = as_csv(count), as_xlsx(count)
        run = asked(csv_data, "a.csv")
        take_csv = timed(lambda: asked(csv_data, "b.csv"))
        read_csv = timed(lambda: actions.read_import(run=run, at=AT))
        xlsx_run = asked(xlsx_data, "a.xlsx")
        read_xlsx = timed(lambda: actions.read_import(run=xlsx_run, at=AT))
        actions.say_yes(run=run, by=by, at=AT)
        save = timed(lambda: actions.save_import(run=run, at=AT))
        assert Machine.objects.count() == count, "not every machine was added"
        again = asked(csv_data, "again.csv")
        read_again = timed(lambda: actions.read_import(run=again, at=AT))
        assert set(again.rows.values_list("verdict", flat=True)) == {"same"}
        plans = timed(lambda: give_missing_plans(at=AT))

        # The bound: the same ready-made rows, with nothing read, judged or sealed.
        second = Depot.objects.create(code="south", name="South yard")
        machines = [
            Machine(
                **{
                    field.attname: getattr(one, field.attname)
                    for field in Machine._meta.concrete_fields
                    if field.attname != "id"
                }
                | {
                    "depot_id": second.pk,
                    "number": f"B{one.number}",
                    "number_key": f"B{one.number_key}",
                    "label_code": new_label_code(),
                    "short_code": small_letters(at),
                }
            )
            for at, one in enumerate(Machine.objects.all())
        ]
        meters: list[Meter] = []

        def bare() -> None:
            for at in range(0, count, actions.BLOCK):
                with transaction.atomic():
                    made = Machine.objects.bulk_create(machines[at : at + actions.BLOCK])
                    meters.extend(Meter(machine=one, fitted_at=AT) for one in made)
                    Meter.objects.bulk_create(meters[at : at + actions.BLOCK])

        bound = timed(bare)
        table(
            f"{count} machines, {connection.vendor}",
            [
                ("Take in the CSV file (in the request)", take_csv, "s"),
                ("Read and sort the CSV file", read_csv, "s"),
                ("Read and sort the XLSX file", read_xlsx, "s"),
                ("Save after the yes, with meters and seals", save, "s"),
                ("Read and sort the same file again: all known", read_again, "s"),
                ("Give all of them their plans", plans, "s"),
                ("Bound: the same rows by bulk_create, nothing else", bound, "s"),
            ],
        )
        print(f"  {count / save:,.0f} machines a second saved; peak memory {peak_mb():,.0f} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else COUNT)
