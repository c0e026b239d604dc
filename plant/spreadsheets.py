"""Reads the spreadsheets that people bring, CSV or XLSX, as plain text and within hard limits."""

import csv
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import islice
from typing import TYPE_CHECKING, BinaryIO

from plant.csv_out import plain_number, without_guard
from plant.translate import gettext, gettext_noop

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.workbook import Workbook

MOST_BYTES = 5 * 2**20
MOST_ROWS = 10_000
MOST_COLUMNS = 60
MOST_CHARACTERS = 1_000
MOST_PARTS = 200
MOST_UNPACKED = 50 * 2**20
MOST_TIMES_LARGER = 100


class FileRefused(ValueError):
    """The file cannot be taken; the message says what is wrong with it and what to do."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row under the headings: its number as a spreadsheet program shows it, and its text."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table with as many cells in each row as there are headings.

    rows is read as it is used, once; it raises FileRefused where a row cannot be taken.
    """

    headings: tuple[str, ...]
    rows: Iterator[Row]


def read(file: BinaryIO, name: str) -> Sheet:
    """The table in a CSV file, or on the first sheet that shows of an XLSX workbook.

    What the file holds decides how it is read; its name is only used in words. The first row that
    is not empty holds the headings; empty rows are left out, but counted.

    Cells become text as they are meant: 1300.0 is "1300", a share of 0.05 that shows as 5% is
    "5 %", a number made to show as 00412 is "00412", a date is "2026-03-04", a time "04:30", a
    length of time "28:30", truth "yes" or "no". Text is untouched, save for the one apostrophe
    that ``csv_out.safe_cell`` puts before what could be a formula.

    Args:
        file: open for reading, at its start.
        name: what the person calls it.

    Raises:
        FileRefused: too large, of another kind, damaged, or able to do harm.

    Source:
        The limits are our own. RFC 4180 for CSV; ECMA-376, part 2, for the package.
    """
    data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise FileRefused(
            gettext("The file is larger than {most_bytes} MiB. Split it.").format(
                most_bytes=MOST_BYTES // 2**20
            )
        )
    if not data.strip():
        raise FileRefused(gettext("The file is empty. Save it again with a row of headings."))
    if data.startswith(b"PK\x03\x04"):
        return _table(_workbook_rows(data))
    _refuse_other_kinds(data, name)
    return _table(_csv_rows(data))


# What both kinds share


def _table(numbered: Iterator[tuple[int, list[str]]]) -> Sheet:
    for _, cells in numbered:
        if any(cell.strip() for cell in cells):
            headings = _headings(cells)
            return Sheet(headings=headings, rows=_rows(numbered, headings=headings))
    raise FileRefused(gettext("The sheet is empty. Put the headings in its first row."))


def _headings(cells: list[str]) -> tuple[str, ...]:
    headings = [without_guard(cell).strip() for cell in cells]
    while not headings[-1]:
        headings.pop()
    if len(headings) > MOST_COLUMNS:
        raise FileRefused(
            gettext(
                "The sheet has more than {most_columns} columns. Take out those not needed."
            ).format(most_columns=MOST_COLUMNS)
        )
    seen = set()
    for number, heading in enumerate(headings, start=1):
        if not heading:
            raise FileRefused(
                gettext("Column {number} has no heading. Give it one, or take it out.").format(
                    number=number
                )
            )
        if len(heading) > MOST_CHARACTERS:
            raise FileRefused(
                gettext("The heading of column {number} is too long. Shorten it.").format(
                    number=number
                )
            )
        if heading.casefold() in seen:
            raise FileRefused(
                gettext(
                    'Two columns are called "{heading}". Give one of them another heading.'
                ).format(heading=_short(heading))
            )
        seen.add(heading.casefold())
    return tuple(headings)


def _rows(numbered: Iterator[tuple[int, list[str]]], *, headings: tuple[str, ...]) -> Iterator[Row]:
    width = len(headings)
    for number, cells in numbered:
        if number > MOST_ROWS + 1:
            raise FileRefused(
                gettext(
                    "The file has more than 10 000 rows. Split it, or delete empty rows at its end."
                )
            )
        if not any(cell.strip() for cell in cells):
            continue
        if any(cell.strip() for cell in cells[width:]):
            raise FileRefused(
                gettext(
                    "Row {number} has more cells than there are headings. Add a "
                    "heading, or empty those cells."
                ).format(number=number)
            )
        for heading, cell in zip(headings, cells, strict=False):
            if len(cell) > MOST_CHARACTERS:
                raise FileRefused(
                    gettext(
                        'Row {number}, column "{heading}": more than {most_characters} '
                        "characters. Shorten it."
                    ).format(
                        number=number, heading=_short(heading), most_characters=MOST_CHARACTERS
                    )
                )
        kept = [without_guard(cell) for cell in cells[:width]]
        yield Row(number=number, cells=tuple(kept + [""] * (width - len(kept))))


def _short(words: str, most: int = 30) -> str:
    shown = "".join(one if one.isprintable() else " " for one in words)
    return shown if len(shown) <= most else f"{shown[:most]}…"


def _refuse_other_kinds(data: bytes, name: str) -> None:
    """Refuses what people bring by mistake, each in its own words."""
    named = f'"{_short(name)}"' if name else gettext("The file")
    start = data[:512].lstrip()
    if data.startswith(bytes.fromhex("D0CF11E0A1B11AE1")):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise FileRefused(
                gettext("{named} has a password. Save it without one.").format(named=named)
            )
        raise FileRefused(
            gettext("{named} is in an old form of spreadsheet. Save it as .xlsx or .csv.").format(
                named=named
            )
        )
    if start.startswith(b"%PDF"):
        raise FileRefused(
            gettext("{named} is a PDF, not a spreadsheet. Send it as .xlsx or .csv.").format(
                named=named
            )
        )
    if re.match(
        rb"(\xef\xbb\xbf)?\s*(<(!doctype|html|head|body|table|\?xml)\b|\{\\rtf)",
        start,
        re.IGNORECASE,
    ):
        raise FileRefused(
            gettext("{named} is a page or document. Save it as .xlsx or .csv.").format(named=named)
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise FileRefused(
            gettext("{named} is in UTF-16. Save it as .xlsx, or as CSV in UTF-8.").format(
                named=named
            )
        )
    if b"\0" in data:
        raise FileRefused(
            gettext("{named} is not a spreadsheet. Save it as .xlsx or .csv.").format(named=named)
        )


# CSV


def _csv_rows(data: bytes) -> Iterator[tuple[int, list[str]]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        raise FileRefused(
            gettext(
                "Line {line} holds letters that are not UTF-8. Save it as CSV in UTF-8."
            ).format(line=line)
        ) from None
    told = re.match(r"sep=([,;\t])\r?\n", text)
    separator = told[1] if told else _separator(text)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    return _csv_numbered(lines, skip=1 if told else 0)


def _csv_numbered(lines: "Iterator[list[str]]", *, skip: int) -> Iterator[tuple[int, list[str]]]:
    number = 0
    try:
        for number, cells in enumerate(lines, start=1):
            if number > skip:
                yield number, cells
    except csv.Error as wrong:
        if "field limit" in str(wrong):
            raise FileRefused(
                gettext(
                    "Row {number}: a cell has more than {field_size_limit} characters. "
                    "Shorten it, or close the quotation mark where it begins."
                ).format(number=number + 1, field_size_limit=csv.field_size_limit())
            ) from None
        raise FileRefused(
            gettext(
                "Row {number}: a quotation mark is not closed, or stands in the "
                "wrong place. Put it right."
            ).format(number=number + 1)
        ) from None


def _separator(text: str) -> str:
    """What stands between the cells, when there is no doubt about it."""
    wide = []
    for mark in ",;\t":
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
        try:
            sample = [cells for cells in islice(lines, 20) if any(cells)]
        except csv.Error:
            continue
        widths = {len(cells) for cells in sample}
        if sample and len(sample[0]) > 1:
            wide.append((mark, len(widths) == 1))
    if len(wide) > 1:
        wide = [(mark, even) for mark, even in wide if even]
        if len(wide) != 1:
            raise FileRefused(
                gettext(
                    "It is not clear which mark stands between the cells. "
                    "Save it as .xlsx, or with semicolons only."
                )
            )
    return wide[0][0] if wide else ","


# XLSX


def _workbook_rows(data: bytes) -> Iterator[tuple[int, list[str]]]:
    _check_package(data)
    # Imported here because only the reading of a workbook needs it.
    from openpyxl import load_workbook

    # It warns of drawings and rules that it does not read; neither concerns the text of cells.
    warnings.filterwarnings("ignore", category=UserWarning, module=r"openpyxl\.")
    try:
        workbook = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    except Exception as damaged:  # openpyxl lets through whatever its parsing trips over
        raise FileRefused(gettext(_DAMAGED)) from damaged
    return _sheet_rows(workbook)


def _sheet_rows(workbook: "Workbook") -> Iterator[tuple[int, list[str]]]:
    showing = [sheet for sheet in workbook.worksheets if sheet.sheet_state == "visible"]
    if not showing:
        raise FileRefused(
            gettext("The workbook has no sheet that shows. Put the table on its first sheet.")
        )
    sheet = showing[0]
    # The size that the file states may be false; without it the rows themselves count.
    sheet.reset_dimensions()
    try:
        for number, cells in enumerate(sheet.iter_rows(), start=1):
            texts = [_cell_text(cell) for cell in cells]
            yield number, texts
    except Exception as damaged:  # as above
        raise FileRefused(gettext(_DAMAGED)) from damaged


_DAMAGED = gettext_noop("The workbook is damaged. Open it, save it again as .xlsx, and send that.")


def _cell_text(cell: "Cell | MergedCell") -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        # How the format writes a carriage return before a line break.
        return value.replace("_x000D_", "")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number_text(value, form=cell.number_format or gettext("General"))
    if isinstance(value, timedelta):
        return _duration_text(value)
    if isinstance(value, datetime):
        rounded = _to_second(value)
        return rounded.isoformat() if rounded.time() != time() else rounded.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        rounded = _to_second(datetime.combine(date(2000, 1, 1), value))
        return rounded.time().isoformat("seconds" if rounded.second else "minutes")
    return str(value)


def _number_text(value: float, *, form: str) -> str:
    text = plain_number(value)
    if re.fullmatch("0{2,32}", form) and text.isdigit():
        return text.zfill(len(form))
    if "%" in re.sub(r'"[^"]*"|\\.', "", form):
        return f"{plain_number(Decimal(text).scaleb(2))} %"
    return text


def _duration_text(value: timedelta) -> str:
    seconds = round(abs(value).total_seconds())
    sign = "-" if value < timedelta() else ""
    tail = f":{seconds % 60:02}" if seconds % 60 else ""
    return f"{sign}{seconds // 3600}:{seconds // 60 % 60:02}{tail}"


def _to_second(value: datetime) -> datetime:
    """Days are kept as fractions, which leaves a few microseconds of noise."""
    return (value + timedelta(microseconds=500_000)).replace(microsecond=0)


def _check_package(data: bytes) -> None:
    """Refuses a workbook that is damaged, locked, of another kind, or able to do harm.

    Every part is unpacked once and counted, because what the directory says may be false.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            parts = package.infolist()
            _check_directory(parts, packed=len(data))
            left = MOST_UNPACKED
            for part in parts:
                content = _unpack(package, part, left=left)
                left -= len(content)
                _check_part(part.filename, content)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        ValueError,
        RuntimeError,
    ) as wrong:
        if isinstance(wrong, FileRefused):
            raise
        raise FileRefused(gettext(_DAMAGED)) from wrong


def _check_directory(parts: list[zipfile.ZipInfo], *, packed: int) -> None:
    if len(parts) > MOST_PARTS:
        raise FileRefused(
            gettext(
                "The workbook has more than {most_parts} parts. Copy the table to a new one."
            ).format(most_parts=MOST_PARTS)
        )
    names = [part.filename.casefold() for part in parts]
    if any(part.flag_bits & 0x1 for part in parts):
        raise FileRefused(gettext("The workbook has a password. Save it without one."))
    if any(name.endswith("vbaproject.bin") or "/macrosheets/" in name for name in names):
        raise FileRefused(gettext(_MACROS))
    if "xl/workbook.xml" not in names or "[content_types].xml" not in names:
        raise FileRefused(gettext("The file is not an .xlsx workbook. Save it as .xlsx or .csv."))
    if len(set(names)) != len(names) or any(
        part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for part in parts
    ):
        raise FileRefused(gettext(_DAMAGED))
    unpacked = sum(part.file_size for part in parts)
    if unpacked > min(MOST_UNPACKED, MOST_TIMES_LARGER * packed) or any(
        _swells(part, part.file_size) for part in parts
    ):
        raise FileRefused(gettext(_TOO_LARGE))


def _unpack(package: zipfile.ZipFile, part: zipfile.ZipInfo, *, left: int) -> bytes:
    blocks = []
    size = 0
    with package.open(part) as stream:
        while block := stream.read(65_536):
            size += len(block)
            if size > left or _swells(part, size):
                raise FileRefused(gettext(_TOO_LARGE))
            blocks.append(block)
    return b"".join(blocks)


def _swells(part: zipfile.ZipInfo, size: int) -> bool:
    """Whether a part unpacks to more than it may; small ones can do no harm."""
    return size > 100_000 and size > MOST_TIMES_LARGER * part.compress_size


def _check_part(name: str, content: bytes) -> None:
    folded = name.casefold()
    start = content[:200].removeprefix(b"\xef\xbb\xbf").lstrip()
    if folded.endswith((".xml", ".rels", ".vml")) or b"<" in start[:4] or _UTF_16.match(content):
        encoding = _ENCODING.match(start)
        if (
            not start.startswith(b"<")
            or b"\0" in content
            or (encoding and encoding[1].lower() not in (b"utf-8", b"us-ascii"))
        ):
            # What declarations a part holds can only be seen in letters that we can read.
            raise FileRefused(gettext(_DAMAGED))
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        raise FileRefused(
            gettext(
                "The workbook holds a document type, which may do harm. "
                "Copy the table to a new workbook."
            )
        )
    if folded == "[content_types].xml" and b"macroenabled" in content.lower():
        raise FileRefused(gettext(_MACROS))
    if not folded.startswith("xl/worksheets/") and folded != "xl/sharedstrings.xml":
        if folded.endswith((".xml", ".rels")) and len(content) > _MOST_BESIDE:
            raise FileRefused(gettext(_TOO_LARGE))
    elif _NO_RESULT.search(content):
        raise FileRefused(
            gettext(
                "A formula has no saved result. Open the workbook, save it again, and send that."
            )
        )


_MACROS = gettext_noop("The workbook holds macros. Save it as .xlsx, without them.")
_TOO_LARGE = gettext_noop(
    "The workbook unpacks to far more than it should. Copy the table to a new one."
)
# Styles and the like are read whole before the first row; no honest table needs so much.
_MOST_BESIDE = 2 * 2**20
_UTF_16 = re.compile(rb"\xff\xfe|\xfe\xff")
_ENCODING = re.compile(rb"""<\?xml[^>]*?encoding\s*=\s*["']([^"']*)""")
# Without this a formula written by a program that works nothing out would read as an empty cell.
_NO_RESULT = re.compile(
    rb"<(?:\w+:)?c\b(?![^>]*\bt=[\"']str[\"'])[^>]*>\s*"
    rb"<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
