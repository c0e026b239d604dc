"""Service sheets a second: drawn, and by the whole way of printing, beside bare ReportLab pages.

    python tests/benchmarks/bench_sheets.py [sheets, default 100]

The bound is bare_page.bare(): every stroke and every word of the same sheet at the same places in
the same embedded faces, played back on a bare canvas: no layout and no database.
"""

import sys
from datetime import UTC, date, datetime, timedelta
from time import perf_counter, process_time

from measure import empty_database, peak_mb

NOW = datetime.now(UTC)


def fleet(count: int):
    """So many mixers out of the demo's mould: all their work due, one worn belt drive each."""
    from maintenance.actions.plan import give_plans
    from maintenance.actions.reading import record_width
    from maintenance.actions.reference import load_reference
    from make import make_depot, make_drive, make_machine, make_user
    from plant import units
    from plant.models import MachineKind, Role
    from plant.units import WIDTH

    load_reference()
    depot = make_depot()
    foreman = make_user("Freya Foreman", (depot, Role.FOREMAN))
    kind = MachineKind.objects.get(key="mixer_electric")
    machines = [
        make_machine(depot, f"MX-{n:03d}", kind=kind, place="out", site="Quarry Lane")
        for n in range(1, count + 1)
    ]
    give_plans(machines, at=NOW - timedelta(days=400))
    for machine in machines:
        drive = make_drive(machine, belt_fitted_on=date(2025, 11, 3))
        width = [units.read("11.8", WIDTH)]
        record_width(drive=drive, widths=width, tool="calliper", at=NOW, by=foreman)
    return depot, machines, foreman


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
        before = peak_mb()
        batch = ask_sheets(depot=depot, machines=machines, by=foreman, at=NOW)
        began, cpu_began = perf_counter(), process_time()
        while print_batch(batch.pk, clock=lambda: datetime.now(UTC), until=NOW + timedelta(days=1)):
            pass
        whole, whole_cpu = perf_counter() - began, process_time() - cpu_began
        batch = Batch.objects.get(pk=batch.pk)
        assert batch.state == "done", batch.why
        assert Sheet.objects.filter(state="done").count() == count
        held = peak_mb() - before

        contents = [
            paper_of(batch).content.validate_python(sheet.content) for sheet in batch.sheets.all()
        ]
        began, cpu_began = perf_counter(), process_time()
        drawn = [render(content) for content in contents]
        drawing, drawing_cpu = perf_counter() - began, process_time() - cpu_began

        calls = [taken_down(lambda content=content: render(content)) for content in contents[:20]]
        faces = library_faces()
        bare(calls[0], faces)
        began, cpu_began = perf_counter(), process_time()
        plain = [bare(pages, faces) for pages in calls]
        each = len(calls)
        bound, bound_cpu = perf_counter() - began, process_time() - cpu_began
        size = sum(map(len, drawn)) / count, sum(map(len, plain)) / each

        pages = sum(sheet.pages for sheet in batch.sheets.all()) / count
        print(f"\n{connection.vendor}: {count} service sheets of {pages:.2g} pages")
        print(f"  {'what':<44} {'sheets/s':>9} {'CPU ms each':>12} {'x bound':>8}")
        rows = [
            ("asked, gathered, sealed, drawn, kept, merged", whole / count, whole_cpu / count),
            ("drawn alone: render()", drawing / count, drawing_cpu / count),
            ("bare canvas, all the same strokes and words", bound / each, bound_cpu / each),
        ]
        for words, seconds, cpu_seconds in rows:
            ratio = cpu_seconds / (bound_cpu / each)
            print(f"  {words:<44} {1 / seconds:>9.1f} {cpu_seconds * 1e3:>12.1f} {ratio:>8.2f}")
        print(f"  a sheet: {size[0] / 1e3:.0f} kB, bare {size[1] / 1e3:.0f} kB")
        print(
            f"  the file: {batch.file.size / 1e6:.1f} MB; memory it took above idle: {held:.0f} MB"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
