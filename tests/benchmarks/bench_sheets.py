"""Service sheets a second: drawn, and by the whole way of printing, beside bare ReportLab pages.

    python tests/benchmarks/bench_sheets.py [sheets of the large batch, default 1000]

The bound is bare_page.bare(): every stroke and every word of the same sheet at the same places in
the same embedded faces, played back on a bare canvas: no layout and no database. It is told twice:
with the squares of the QR code given like any other stroke, and with the code worked out and drawn
by the library's own means, as a bare page of the same content holds it.

Whole path and bounds take turns, each in a process of its own, and are told by processor time: the
median of the turns, and the median of what each pair comes to.
"""

import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from multiprocessing import Pipe, get_context
from statistics import median
from time import perf_counter, process_time
from typing import Any

from measure import empty_database, peak_mb

NOW = datetime.now(UTC)
TURNS = 5


def fleet(count: int):
    """So many mixers out of the demo's mould: all their work due, one worn belt drive each."""
    from maintenance.actions.plan import give_plans
    from maintenance.actions.reading import record_width
    from maintenance.actions.reference import load_reference
    from make import make_depot, make_drive, make_machine, make_user
    from plant import units
    from plant.actions.machine import free_short_codes
    from plant.models import MachineKind, Role
    from plant.units import WIDTH

    load_reference()
    depot = make_depot()
    foreman = make_user("Freya Foreman", (depot, Role.FOREMAN))
    kind = MachineKind.objects.get(key="mixer_electric")
    codes = free_short_codes(count)
    machines = [
        make_machine(
            depot, f"MX-{n:03d}", kind=kind, place="out", site="Quarry Lane", short_code=code
        )
        for n, code in enumerate(codes, start=1)
    ]
    give_plans(machines, at=NOW - timedelta(days=400))
    for machine in machines:
        drive = make_drive(machine, belt_fitted_on=date(2025, 11, 3))
        width = [units.read("11.8", WIDTH)]
        record_width(drive=drive, widths=width, tool="calliper", at=NOW, by=foreman)
    return depot, machines, foreman


def alone(act: Callable[[], object]) -> tuple[float, float]:
    """Does it in a process of its own: its processor time [s] and the most memory it held [MB]."""
    reader, writer = Pipe(duplex=False)

    def run() -> None:
        from django.db import connections

        connections.close_all()
        began = process_time()
        act()
        writer.send((process_time() - began, peak_mb()))

    process = get_context("fork").Process(target=run)
    process.start()
    told = reader.recv()
    process.join()
    return told


def together(acts: list[Callable[[], object]]) -> tuple[float, float]:
    """Each in a process of its own, at once: wall [s] until all ended, CPU [s] of all."""
    began = perf_counter()
    with ThreadPoolExecutor(len(acts)) as threads:
        spent = [cpu for cpu, _ in threads.map(alone, acts)]
    return perf_counter() - began, sum(spent)


def main(count: int) -> None:
    with empty_database():
        from bare_page import bare, library_faces, taken_down
        from django.conf import settings
        from django.db import connection

        from reports.actions.sheet import ask_sheets, print_batch
        from reports.contents.paper import paper_of
        from reports.models import Batch, Sheet
        from reports.pdf.service_sheet import render

        settings.MEDIA_ROOT = settings.DATA_DIR / "media"
        depot, machines, foreman = fleet(count)

        def asked(of: list[Any]) -> Batch:
            return ask_sheets(depot=depot, machines=of, by=foreman, at=NOW)

        def work(batch: Batch) -> None:
            until = datetime.now(UTC) + timedelta(days=1)
            while print_batch(batch.pk, clock=lambda: datetime.now(UTC), until=until):
                pass

        # Each part once, so that no figure holds what a process does only once.
        first = asked(machines[:20])
        work(first)
        contents = [
            paper_of(first).content.validate_python(sheet.content) for sheet in first.sheets.all()
        ]
        calls = [taken_down(lambda content=content: render(content)) for content in contents]
        faces = library_faces()
        bare(calls[0], faces)

        def plainly(many: int, *, coded: bool = False) -> None:
            for number in range(many):
                which = number % len(calls)
                bare(calls[which], faces, f"{contents[which].link}{number}" if coded else "")

        few = min(count, 200)
        turns: list[tuple[float, ...]] = []
        for _ in range(TURNS):
            batch = asked(machines[:few])
            turns.append(
                tuple(
                    alone(act)[0] / few
                    for act in (
                        lambda batch=batch: work(batch),
                        lambda: plainly(few),
                        lambda: plainly(few, coded=True),
                        lambda: [render(contents[n % len(contents)]) for n in range(few)],
                    )
                )
            )
        names = (
            "gathered, sealed, drawn, kept, merged",
            "bare canvas, all the same strokes and words",
            "the same, its QR code by the library's means",
            "drawn alone, codes and set blocks kept: render()",
        )
        print(f"\n{connection.vendor}: service sheets of two pages, {few} each, {TURNS} turns")
        print(f"  {'what':<50} {'CPU ms each':>12}")
        for words, each in zip(names, zip(*turns, strict=True), strict=True):
            print(f"  {words:<50} {median(each) * 1e3:>12.1f}")
        for at, words in ((1, "the bare rate"), (2, "the bare rate with the code")):
            rates = [turn[at] / turn[0] for turn in turns]
            print(
                f"  whole path at {median(rates):.2f} of {words} "
                f"(turns {min(rates):.2f} to {max(rates):.2f})"
            )

        costs: list[float] = []
        for _ in range(TURNS):
            batch = asked(machines[:few])
            two, two_cpu = together([lambda batch=batch: work(batch)] * 2)
            bare_two, bare_cpu = together([lambda: plainly(few // 2)] * 2)
            assert not Sheet.objects.filter(batch=batch).exclude(state="done").exists()
            whole, bound = (
                alone(lambda: work(asked(machines[:few])))[0],
                alone(lambda: plainly(few))[0],
            )
            costs.append((bare_cpu / bound) / (two_cpu / whole))
            print(
                f"  two workers {two_cpu / few * 1e3:.1f} ms CPU, {two / few * 1e3:.1f} wall each; "
                f"two bare {bare_cpu / few * 1e3:.1f} ms CPU, {bare_two / few * 1e3:.1f} wall each"
            )
        print(
            f"  what the second worker costs, beside the second bare process: {median(costs):.2f}"
        )

        batch = asked(machines)
        began = perf_counter()
        spent, held = alone(lambda: work(batch))
        batch.refresh_from_db()
        assert batch.state == "done", batch.why
        assert Sheet.objects.filter(batch=batch, state="done").count() == count
        print(f"  one file of {count} sheets: {batch.file.size / 1e6:.1f} MB, {spent:.0f} s CPU, ")
        print(
            f"  {perf_counter() - began:.0f} s wall; the most that its worker held: {held:.0f} MB"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
