"""The working read off the paper and done again with a calculator gives the printed figures."""

import re
from io import BytesIO

import numpy as np
import pytest
from pypdf import PdfReader

from plant.contents.workout import told
from plant.drives.forecast import wear_line
from plant.drives.formula import FormulaLine
from plant.drives.life import Limits
from plant.drives.working import forecast_lines
from plant.drives.workout import work_out
from reports.pdf.drive_block import DriveBlock, draw_drive
from reports.pdf.page import Printed, Running, build
from tests.plant.drives.test_working import CASES, calculator, figure

# The three of the demo's kinds: a worn mixer, one run in with its tension read, a pair of belts.
DRIVES = ("worn out", "run in, force read", "two B belts")
# By hand: 0.5 mm in 100 h, 11.9 mm at 240 h, so 200 h to 10.9 mm and 300 h to 10.4 mm.
READS = [(20.0, 0.013, 1e-4), (120.0, 0.0125, 1e-4), (220.0, 0.012, 1e-4)]
ENDS = Limits(slot=0.0109, u_slot=1e-4, bottom=0.0104, u_bottom=1e-4, depth_measured=True)


def on_paper(lines: tuple[FormulaLine, ...], printed: Printed) -> str:
    block = DriveBlock(title="Belt drive", belt="A", verdict="Watch it.", lines=lines)
    running = Running(title="Belt drive", subject="MX-203", printed=printed)
    reader = PdfReader(BytesIO(build(draw_drive(block), running=running)))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def done_again(seen: str, line: FormulaLine) -> bool:
    """Whether what stands on the paper after this formula comes to the figure printed there."""
    result = re.escape(line.result)
    found = re.search(re.escape(f"{line.expression} = ") + f"(.+?) ({result})", seen)
    assert found, line
    sums = found[1].partition("; Note:")[0]
    put_in = sums.partition(" = ")
    wanted, decimals = figure(put_in[2] or found[2].replace(",", ""))
    return abs(calculator(put_in[0]) - wanted) <= 0.5 * 10**-decimals * (1 + 1e-6)


@pytest.mark.parametrize("name", DRIVES)
def test_a_fitter_with_a_calculator_gets_the_last_printed_figure(
    name: str, printed: Printed
) -> None:
    lines = {line.expression: line for line in told(work_out(CASES[name])).lines}
    alone = {line.expression: on_paper((line,), printed) for line in lines.values()}

    assert len(lines) > 8
    for expression, line in lines.items():
        assert done_again(alone[expression], line), (line.name, alone[expression])


def test_the_hours_left_are_those_worked_out_by_hand(printed: Printed) -> None:
    lines = forecast_lines(wear_line(READS), ends=ENDS, now=240.0)

    assert [(line.symbol, line.result) for line in lines] == [
        ("r", "0.50 mm"), ("wn", "11.9 mm"), ("Hs", "200 h"), ("Hf", "300 h"),
    ]  # fmt: skip
    for line in lines[1:]:
        assert done_again(on_paper((line,), printed), line)
    # An independent line through the same readings.
    slope, _ = np.polyfit([hours for hours, _, _ in READS], [width for _, width, _ in READS], 1)
    assert lines[0].value == pytest.approx(-slope)
