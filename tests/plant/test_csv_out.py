"""CSV out: nothing runs when it is opened, and what went out comes back."""

import csv
import io
from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from decimal import Decimal
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.csv_out import plain_number, rows_to_csv, safe_cell, without_guard


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r", "\0", "\n", "'=", "''@"])
def test_text_that_could_start_a_formula_is_guarded_and_comes_back(first: str) -> None:
    text = f"{first}SUM(A1:A9)"

    assert safe_cell(text) == f"'{text}"
    assert without_guard(safe_cell(text)) == text


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (-5, "-5"),
        ("-5", "'-5"),
        (-0.5, "-0.5"),
        (1300.0, "1300"),
        (1e-7, "0.0000001"),
        (1e22, "10000000000000000000000"),
        (-0.0, "0"),
        (Decimal("1.50"), "1.5"),
        (10**400, "1" + "0" * 400),
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (date(2026, 3, 4), "2026-03-04"),
        (datetime(2026, 3, 4, 7, 30, tzinfo=UTC), "2026-03-04T07:30:00+00:00"),
        (time(4, 30), "04:30:00"),
        ("O'Hara", "O'Hara"),
        ("'quoted'", "'quoted'"),
        ("00412", "00412"),
    ],
)
def test_a_value_has_one_plain_text(value: object, cell: str) -> None:
    assert safe_cell(value) == cell


@pytest.mark.parametrize("value", [nan, inf, Decimal("NaN")])
def test_what_is_no_number_is_refused(value: float | Decimal) -> None:
    with pytest.raises(ValueError, match="not a number"):
        safe_cell(value)


@given(st.text())
def test_every_text_comes_back(text: str) -> None:
    cell = safe_cell(text)

    assert without_guard(cell) == text
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\0"))


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_comes_back(value: float) -> None:
    assert float(plain_number(value)) == value


@given(
    st.lists(
        st.tuples(st.text(st.characters(exclude_categories=["Cs"]), max_size=9), st.integers()),
        max_size=20,
    )
)
def test_another_reader_finds_the_same_table(rows: list[tuple[str, int]]) -> None:
    data = b"".join(rows_to_csv(["name", "count"], rows))

    assert data.startswith(b"\xef\xbb\xbfname,count\r\n")
    table = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert [(without_guard(name), int(count)) for name, count in table[1:]] == rows


def test_rows_are_streamed_in_blocks() -> None:
    asked = 0

    def rows() -> Iterator[list[str]]:
        nonlocal asked
        for _ in range(10_000):
            asked += 1
            yield ["x" * 50]

    blocks = rows_to_csv(["a"], rows(), bom=False)

    first = next(blocks)
    assert first.startswith(b"a\r\nxxx")
    assert asked < 1_000
    assert (first + b"".join(blocks)).count(b"\r\n") == 10_001


def test_a_row_of_another_width_is_refused() -> None:
    with pytest.raises(ValueError, match="row 2 has 1 values for 2 headings"):
        list(rows_to_csv(["a", "b"], [["1", "2"], ["3"]]))
