"""A row of a tester's file: nothing in a cell breaks it, and its identity is its content."""

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.rules import sheet as sheet_rule
from maintenance.rules import tester_file
from maintenance.rules.tester_columns import READING, columns_of, measure_of
from maintenance.rules.tester_file import Facts, InstrumentWords, RowReader
from plant import units

SHEET = sheet_rule.read(
    json.loads((Path(__file__).parents[3] / "fixtures/reference/rule_sheet_gb.json").read_text())
)
COLUMNS = columns_of(SHEET)
FIELDS = list(COLUMNS.by_field)
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
TESTED = tester_file.Tested(family="mixer", supply="e230", protection="I", power_w=550.0, last={})
RIGHT = {
    "confirm": {"isolated": "right"},
    "look": dict.fromkeys(("case", "cable", "plug", "plug_fuse", "runs", "button"), "right"),
    "instrument": {"": "1"},
}


def read(cells: dict[str, str], answers: dict[str, Any] | None = None) -> Facts:
    reader = RowReader(
        columns=COLUMNS,
        headings=FIELDS,
        matched={field: field for field in FIELDS},
        answers=RIGHT if answers is None else answers,
        sheet_on=lambda day: SHEET,
        instruments=[InstrumentWords(pk=1, name="Bench tester 1", serial="S-1")],
        zone=ZoneInfo("Europe/London"),
        now=NOW,
    )
    facts = reader.row(2, [cells.get(field, "") for field in FIELDS], TESTED)
    reader.finished()
    return facts


def rcd(rated: str, **more: str) -> dict[str, str]:
    return {
        "number": "MX-203", "on": "2026-03-02", "time": "10:20", "profile": "BS EN 61008",
        "rated_current": "30 mA", f"{READING}half": "no trip", f"{READING}rated": rated,
        f"{READING}five": "12 ms", **more,
    }  # fmt: skip


ODD = st.text(max_size=30) | st.sampled_from(
    ["> ", "<", "> 9 ms", "1e9", "٣ ohm", "no trip", "pass", "0.1 ohm", "5 m", "1.5 mm²", "24:00",
     "2026-03-02 10:20", "02/03/26 2:30 pm", "9999-99-99", "=1+1", "30 mA", "nan", "-0"]
)  # fmt: skip


@settings(max_examples=100, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.sampled_from(FIELDS), ODD, max_size=10), st.booleans())
def test_nothing_in_a_cell_breaks_a_row_and_what_is_taken_can_be_read_again(
    cells: dict[str, str], answered: bool
) -> None:
    facts = read({"number": "MX-203", "on": "2026-03-02"} | cells, None if answered else {})

    for asked in facts.form.asked if facts.form else ():
        measure, text = measure_of(asked), facts.readings.get(asked.key)
        if measure is not None and text is not None and "no trip" not in text:
            assert units.read_open(text, measure).text_as_typed == text
        elif text is not None and measure is None:
            assert text in ("right", "not right", "none on it")
    if facts.at is not None:
        assert date(2000, 1, 1) <= facts.at.date() <= NOW.date()


@given(st.integers(1, 1999), st.integers(1, 1999))
def test_the_same_figure_in_another_unit_is_the_same_row_and_another_figure_is_not(
    one: int, other: int
) -> None:
    in_ms, in_s = read(rcd(f"{one} ms")), read(rcd(f"{one / 1000:.3f} s"))
    more = read(rcd(f"{other} ms"))

    assert in_ms.identity(machine="1") == in_s.identity(machine="1")
    assert in_ms.identity(machine="1") != in_ms.identity(machine="2")
    assert (in_ms.identity(machine="1") == more.identity(machine="1")) == (one == other)


def test_what_was_answered_or_taken_from_an_earlier_test_is_no_part_of_the_identity() -> None:
    number = read(rcd("28 ms")).identity(machine="1")

    assert number.version == 8
    assert (
        read(rcd("28 ms", instrument="S-1", said="fail", note="x")).identity(machine="1") == number
    )
    assert read(rcd("28 ms", item_serial="R-2")).identity(machine="1") != number
    assert read(rcd("28 ms", time="10:21")).identity(machine="1") != number
    assert read(rcd("28 ms", time="10:20 am")).identity(machine="1") == number
