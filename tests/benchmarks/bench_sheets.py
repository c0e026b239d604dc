"""Service sheets a second: drawn, and by the whole way of printing, beside bare ReportLab pages.

    python tests/benchmarks/bench_sheets.py [sheets, default 100]

The bound is the same lines of text, at the same places in the same embedded fonts on as many
pages, put straight on a canvas: no story, no tables, no frames, no pictures.
"""

import sys
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from time import perf_counter, process_time

from measure import empty_database, peak_mb

NOW = datetime.now(UTC)


def lines_of(data: bytes) -> list[list[tuple[float, float, bool, float, str]]]:
    """Page by page: where each piece of text stands, whether in the figures' face, how large."""
    from pypdf import PdfReader

    pages = []
    for page in PdfReader(BytesIO(data)).pages:
        pieces: list[tuple[float, float, bool, float, str]] = []

        def take(text, matrix, inside, font, size, pieces=pieces) -> None:
            if text.strip():
                mono = "Mono" in str((font or {}).get("/BaseFont", ""))
                x = inside[4] * matrix[0] + matrix[4]
                y = inside[5] * matrix[3] + matrix[5]
                pieces.append((float(x), float(y), mono, float(size), text.strip()))

        page.extract_text(visitor_text=take)
        pages.append(pieces)
    return pages


def bare(pages: list[list[tuple[float, float, bool, float, str]]]) -> bytes:
    from reportlab.lib.pagesizes import A4
    from reportlab.pdfgen.canvas import Canvas

    from reports.pdf.fonts import MONO, SANS, register

    register()
    file = BytesIO()
    canvas = Canvas(file, pagesize=A4, invariant=1, pageCompression=1)
    for pieces in pages:
        for x, y, mono, size, text in pieces:
            canvas.setFont(MONO if mono else SANS, size)
            canvas.drawString(x, y, text)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


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

        texts = [lines_of(data) for data in drawn[:20]]
        bare(texts[0])
        began, cpu_began = perf_counter(), process_time()
        plain = [bare(pages) for pages in texts]
        each = len(texts)
        bound, bound_cpu = perf_counter() - began, process_time() - cpu_began
        assert [len(pages) for pages in texts] == [len(lines_of(data)) for data in plain]

        pages = sum(sheet.pages for sheet in batch.sheets.all()) / count
        print(f"\n{connection.vendor}: {count} service sheets of {pages:.2g} pages")
        print(f"  {'what':<44} {'sheets/s':>9} {'CPU ms each':>12} {'x bound':>8}")
        rows = [
            ("asked, gathered, sealed, drawn, kept, merged", whole / count, whole_cpu / count),
            ("drawn alone: render()", drawing / count, drawing_cpu / count),
            ("bare canvas, same text and fonts and pages", bound / each, bound_cpu / each),
        ]
        for words, seconds, cpu_seconds in rows:
            ratio = cpu_seconds / (bound_cpu / each)
            print(f"  {words:<44} {1 / seconds:>9.1f} {cpu_seconds * 1e3:>12.1f} {ratio:>8.2f}")
        print(
            f"  the file: {batch.file.size / 1e6:.1f} MB; memory it took above idle: {held:.0f} MB"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
