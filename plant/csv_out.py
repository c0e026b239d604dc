"""Rows out as CSV: safe to open in a spreadsheet program, and the same again when read back."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from math import isfinite

BLOCK_CHARACTERS = 32_768


def rows_to_csv(
    headings: Sequence[str], rows: Iterable[Sequence[object]], *, bom: bool = True
) -> Iterator[bytes]:
    """The table as UTF-8 CSV with CRLF line ends, in blocks, without holding it all.

    Args:
        headings: one for each column.
        rows: values; see ``safe_cell`` for how each is written.
        bom: opens with the byte order mark by which spreadsheet programs know UTF-8.

    Raises:
        ValueError: a row has more or fewer values than there are headings.

    Source:
        RFC 4180 for quoting and line ends.
    """
    block = io.StringIO(newline="")
    writer = csv.writer(block, lineterminator="\r\n")
    if bom:
        block.write("\ufeff")
    writer.writerow([safe_cell(heading) for heading in headings])
    for number, row in enumerate(rows, start=1):
        if len(row) != len(headings):
            raise ValueError(f"row {number} has {len(row)} values for {len(headings)} headings")
        writer.writerow([safe_cell(value) for value in row])
        if block.tell() >= BLOCK_CHARACTERS:
            yield block.getvalue().encode()
            block.seek(0)
            block.truncate()
    if block.tell():
        yield block.getvalue().encode()


def safe_cell(value: object) -> str:
    """The text of one cell, which no spreadsheet program takes for a formula.

    Numbers are written plainly, without exponent, and stay numbers even when negative; nothing is
    the empty text, yes and no stand for truth, dates and times are ISO 8601. Any other text that
    could start a formula gets one apostrophe in front.

    Raises:
        ValueError: the number is not finite.

    Source:
        OWASP Application Security Verification Standard 5.0, V1.2.10.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | Decimal):
        return plain_number(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    text = str(value)
    return f"'{text}" if _RISKY.match(text) else text


def without_guard(text: str) -> str:
    """The text before ``safe_cell`` put its apostrophe in front; any other is left alone."""
    return text[1:] if text.startswith("'") and _RISKY.match(text) else text


def plain_number(value: float | Decimal) -> str:
    """The shortest decimal text that means this number: no exponent, no ".0", no "-0"."""
    if not isinstance(value, int) and not isfinite(value):
        raise ValueError(f"{value} is not a number that a cell can hold")
    text = format(Decimal(repr(value) if isinstance(value, float) else value), "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


# A text that already has apostrophes before a risky character gets one more, so that taking one
# off on the way in always gives back what was there.
_RISKY = re.compile(r"'*[=+\-@\t\r\n\0]")
