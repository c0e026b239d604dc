"""One leaf for one drive, whatever is on the sheet: nothing cut, nothing over another."""

from dataclasses import replace
from io import BytesIO
from itertools import cycle, islice, pairwise
from typing import Any, TypeVar

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from reports.pdf.drive_block import DriveBlock, WidthPicture
from reports.pdf.page import BOTTOM, HEIGHT
from reports.pdf.service_sheet import OpenFault, ServiceSheet, pages_of, render

MM = 72 / 25.4
T = TypeVar("T")
FAULT = "Motor turns, drum does not when loaded; it smells of rubber and squeals on starting."


def so_many(things: tuple[T, ...], count: int) -> tuple[T, ...]:
    return tuple(islice(cycle(things), count))


def full(drive: DriveBlock) -> DriveBlock:
    """With as much as the fullest of our drives has."""
    lines = so_many(drive.lines, 23)
    return replace(
        drive,
        inputs=so_many(drive.inputs, 15),
        results=so_many(drive.results, 12),
        lines=tuple(replace(line, symbol=f"a{n}") for n, line in enumerate(lines)),
        needed=tuple(f"a{n}" for n in range(8)),
        elsewhere="on the page of this drive",
        warnings=so_many(drive.warnings, 3),
        blanks=so_many(drive.blanks, 10),
        widths=WidthPicture(
            reads=((20.0, 0.013, 0.0002), (90.0, 0.0122, 0.0002), (160.0, 0.0113, 0.0002)),
            limits=(("slot ends", 0.0108), ("floor", 0.0104)),
            now=168.0,
            line=(-1.2e-5, 0.01325, 1e-12, 1e-8, -8e-11),
        ),
    )


def crowded(
    sheet: ServiceSheet, *, steps: int, faults: int, stages: int, long: bool
) -> ServiceSheet:
    times = 3 if long else 1

    def name(words: str) -> str:
        return " ".join([words] * times)

    drive = full(sheet.drives[0])
    plate = sheet.plate
    return replace(
        sheet,
        plate=replace(
            plate,
            kind=name(plate.kind),
            maker_and_type=name(plate.maker_and_type),
            depot=name(plate.depot),
        ),
        printed=replace(sheet.printed, by=name(sheet.printed.by)),
        marks=tuple(replace(mark, since=name(mark.since)) for mark in sheet.marks),
        steps=so_many(sheet.steps, steps),
        open_faults=tuple(
            OpenFault(f"J-{n}", FAULT, "Carry on with a note until 3 Dec 2026")
            for n in range(faults)
        ),
        drives=tuple(
            replace(drive, title=name(f"Belt drive {n}, motor to drum"), belt=name(drive.belt))
            for n in range(stages)
        ),
    )


@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    steps=st.integers(0, 20), faults=st.integers(0, 6), stages=st.integers(1, 3), long=st.booleans()
)
@example(steps=20, faults=6, stages=1, long=True)
@example(steps=12, faults=2, stages=1, long=False)
@example(steps=20, faults=6, stages=3, long=True)
def test_one_drive_takes_one_leaf_and_nothing_is_cut_or_covered(
    sheet: ServiceSheet, steps: int, faults: int, stages: int, long: bool
) -> None:
    crowd = crowded(sheet, steps=steps, faults=faults, stages=stages, long=long)

    pages = pages_of(crowd)

    assert len(pages) <= (2 if stages == 1 else 2 + stages)
    for page in pages:
        for above, below in pairwise(page):
            assert below.y + below.piece.height <= above.y + 1e-6
        assert page[-1].y >= BOTTOM - 1e-6
        assert page[0].y + page[0].piece.height <= BOTTOM + HEIGHT + 1e-6
    pdf = render(crowd)
    seen = read(pdf)
    assert f"page {len(pages)} of {len(pages)}" in seen
    seen = close(seen)
    for words in (
        crowd.plate.kind, crowd.plate.depot, *(step.words for step in crowd.steps),
        *(fault.words for fault in crowd.open_faults), *(each.title for each in crowd.drives),
        *(mark.since for mark in crowd.marks), crowd.defer,
    ):  # fmt: skip
        assert close(words) in seen or close(words).upper() in seen, words
    for page in pypdfium2.PdfDocument(pdf):
        boxes = [
            item.get_bounds()
            for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=4)
        ]
        for left, bottom, right, top in boxes:
            # What a printer that shrinks by 2 % or cannot reach the outer 5 mm still shows.
            assert 14 * MM <= left <= right <= 196 * MM
            assert 5.5 * MM <= bottom <= top <= 290 * MM
        assert not covered(boxes)


def covered(boxes: list[Any]) -> list[tuple[Any, Any]]:
    """Pairs of lettering of which one lies over the other by more than a point each way."""
    found = []
    boxes = sorted(boxes)
    for at, (left, bottom, right, top) in enumerate(boxes):
        for other in boxes[at + 1 :]:
            if other[0] >= right - 1:
                break
            across = min(right, other[2]) - other[0]
            up = min(top, other[3]) - max(bottom, other[1])
            if across > 1 and up > 1:
                found.append(((left, bottom, right, top), other))
    return found


def test_what_has_no_room_is_told_with_where_it_is_to_be_read(sheet: ServiceSheet) -> None:
    crowd = crowded(sheet, steps=20, faults=6, stages=1, long=True)
    roomy = crowded(sheet, steps=2, faults=0, stages=1, long=False)

    seen = read(render(crowd))

    left = [
        line.symbol for line in crowd.drives[0].lines if line.symbol not in crowd.drives[0].needed
    ]
    assert f"No room here for the lines of {', '.join(left)}: read them on the page" in seen
    assert "No room here" not in read(render(roomy))


def test_a_second_drive_takes_further_pages_and_leaves_nothing_out(
    sheet: ServiceSheet,
) -> None:
    seen = read(render(crowded(sheet, steps=12, faults=2, stages=2, long=False)))

    assert "No room here" not in seen
    assert "page 3 of" in seen
    assert "continued" in seen.casefold()


@pytest.mark.parametrize("field", ["found", "cause", "done"])
def test_a_text_longer_than_a_page_goes_on_on_the_next(sheet: ServiceSheet, field: str) -> None:
    long = " ".join(f"word{n:04d}" for n in range(900))

    pdf = render(replace(sheet, **{field: long}))  # type: ignore[arg-type]

    seen = read(pdf)
    assert all(word in seen for word in long.split())
    for page in pypdfium2.PdfDocument(pdf):
        for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=4):
            assert item.get_bounds()[1] >= 5.5 * MM


def read(pdf: bytes) -> str:
    words = " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    return " ".join(words.split())


def close(words: str) -> str:
    return "".join(words.split())
