from dataclasses import replace
from io import BytesIO

import pypdfium2
import pytest
from pypdf import PdfReader

from plant.drives.formula import FormulaLine
from reports.pdf.drive_block import DriveBlock, draw_drive
from reports.pdf.page import Printed, Running, build


def words(block: DriveBlock, printed: Printed) -> str:
    running = Running(title="Belt drive", subject="QR-0427", printed=printed)
    pdf = build(draw_drive(block), running=running)
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_the_answer_comes_first(drive: DriveBlock, printed: Printed) -> None:
    seen = words(drive, printed)

    order = [
        seen.index(part)
        for part in (drive.verdict, drive.because[0], "What the sums start from", "The working")
    ]
    assert order == sorted(order)


def test_each_line_shows_formula_figures_result_and_doubt(
    drive: DriveBlock, printed: Printed
) -> None:
    seen = words(drive, printed)

    assert (
        "y1 drop, small pulley (W − w) / (2 tan(α1/2)) = (13.0 − 10.4) / (2 × 0.3057) "
        "4.25 mm ± 0.46 1"
    ) in seen


def test_a_source_is_printed_once_with_its_trust_and_range(
    drive: DriveBlock, printed: Printed
) -> None:
    seen = words(drive, printed)

    assert seen.count("Closed form of an open belt on two pulleys") == 1
    assert (
        "4 Machinery's Handbook, 31st ed., belt tensioning; from memory; range of f: one belt."
    ) in seen
    assert "Worked out by version 1.0 of the sums." in seen


def test_a_source_names_each_range_with_the_lines_it_is_for(
    drive: DriveBlock, printed: Printed
) -> None:
    first, second, third = (replace(line, source="One book") for line in drive.lines[:3])
    second = replace(second, validity="another range", trust=first.trust)

    seen = words(replace(drive, lines=(first, second, third)), printed)

    # The third is the same book, but seen where the others are computed.
    assert seen.count("One book") == 2
    assert "range of y1: width loss up to 25 % of the new width, both flanks worn alike" in seen
    assert "range of y2: another range" in seen


def test_a_warning_stands_at_its_line(drive: DriveBlock, printed: Printed) -> None:
    line = replace(drive.lines[0], warning="outside the range that was checked")

    seen = words(replace(drive, lines=(line,)), printed)

    assert "(2 × 0.3057); Note: outside the range that was checked" in seen


def test_how_a_figure_is_known_stands_beside_it(drive: DriveBlock, printed: Printed) -> None:
    seen = words(drive, printed)

    assert "80.0 mm ± 0.5 from plate" in seen
    assert "180.0 mm ± 1.0 measured" in seen


@pytest.mark.parametrize("grooves", [0, 1, 2])
@pytest.mark.parametrize("layout", [False, True])
def test_any_number_of_pictures_is_set(
    drive: DriveBlock, printed: Printed, grooves: int, layout: bool
) -> None:
    block = replace(
        drive,
        grooves=drive.grooves[:grooves],
        layout=drive.layout if layout else None,
        band=None,
    )

    seen = words(block, printed)

    assert seen.count("its top if on the floor") == grooves
    assert ("new 131.1 mm" in seen) == layout


def test_inputs_without_symbols_print(drive: DriveBlock, printed: Printed) -> None:
    inputs = tuple(replace(item, symbol="") for item in drive.inputs)

    for results in (drive.results, ()):
        seen = words(replace(drive, inputs=inputs, results=results), printed)
        assert "groove depth below datum; least depth of ISO 4183 (from memory)" in seen


def test_a_drive_of_which_only_the_answer_is_known_prints(printed: Printed) -> None:
    block = DriveBlock(title="Belt drive", belt="no mark", verdict="Measure again.")

    assert "Measure again." in words(block, printed)


def test_forty_lines_run_over_to_the_next_page_under_their_heading(
    drive: DriveBlock, printed: Printed
) -> None:
    many: tuple[FormulaLine, ...] = tuple(
        replace(drive.lines[0], symbol=f"y{number}") for number in range(1, 41)
    )
    running = Running(title="Belt drive", subject="QR-0427", printed=printed)

    document = pypdfium2.PdfDocument(build(draw_drive(replace(drive, lines=many)), running=running))

    pages = [page.get_textpage().get_text_range() for page in document]
    assert len(pages) == 2
    assert all("formula, and with its figures" in words for words in pages)
    assert "y40" in pages[1]
