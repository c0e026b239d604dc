"""People's spreadsheets: read as they are meant, or refused in plain words."""

import io
import re
import struct
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from time import process_time

import openpyxl
import pytest
import xlsxwriter

from plant.csv_out import rows_to_csv
from plant.spreadsheets import FileRefused, Row, Sheet, read

HEADINGS = ["Number", "Kind", "Hours"]
OLD_WORKBOOK = bytes.fromhex("D0CF11E0A1B11AE1") + b"\0" * 1_000


@pytest.fixture(autouse=True)
def quick() -> Iterator[None]:
    """No file, however hostile, may run away with the processor."""
    start = process_time()
    yield
    assert process_time() - start < 20


def read_all(data: bytes, name: str = "machines") -> tuple[tuple[str, ...], list[Row]]:
    sheet: Sheet = read(io.BytesIO(data), name)
    return sheet.headings, list(sheet.rows)


def refusal(data: bytes, name: str = "machines") -> str:
    with pytest.raises(FileRefused) as refused:
        read_all(data, name)
    words = str(refused.value)
    assert 4 <= len(words.split()) <= 25
    return words


def by_openpyxl(rows: Iterable[Sequence[object]]) -> bytes:
    workbook = openpyxl.Workbook(write_only=True)
    sheet = workbook.create_sheet()
    for row in rows:
        sheet.append(row)
    out = io.BytesIO()
    workbook.save(out)
    return out.getvalue()


def by_xlsxwriter(fill: Callable[[xlsxwriter.Workbook], None]) -> bytes:
    out = io.BytesIO()
    workbook = xlsxwriter.Workbook(out)
    fill(workbook)
    workbook.close()
    return out.getvalue()


def with_parts(data: bytes, parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, parts.pop(name) if name in parts else old.read(name))
        for name, content in parts.items():
            new.writestr(name, content)
    return out.getvalue()


PLAIN = by_openpyxl([list(HEADINGS), ["MX-203", "mixer", 407]])
SHEET = "xl/worksheets/sheet1.xml"


def part(data: bytes, name: str) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return package.read(name)


# CSV


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("opening", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_each_usual_form_of_csv_is_read(separator: str, opening: bytes, line_end: str) -> None:
    lines = [HEADINGS, ["00412", "Łódź pump", "1300.0"], [], ["MX 203", "", ""]]
    data = opening + line_end.join(separator.join(cells) for cells in lines).encode()

    assert read_all(data) == (
        ("Number", "Kind", "Hours"),
        [Row(2, ("00412", "Łódź pump", "1300.0")), Row(4, ("MX 203", "", ""))],
    )


def test_quoted_cells_and_decimal_commas_do_not_confuse_the_separator() -> None:
    data = b'Number;Width\nMX-203;12,5\n"A;1";"two\nlines, ""quoted"""\n'

    assert read_all(data)[1] == [
        Row(2, ("MX-203", "12,5")),
        Row(3, ("A;1", 'two\nlines, "quoted"')),
    ]


def test_a_line_that_names_the_separator_is_obeyed() -> None:
    assert read_all(b"sep=;\r\nNumber, name;Hours\r\nA, b;1,5\r\n") == (
        ("Number, name", "Hours"),
        [Row(3, ("A, b", "1,5"))],
    )


def test_a_doubtful_separator_is_refused() -> None:
    assert "not clear which mark" in refusal(b"Belt, size;Hours\nA, 1250;12\n")


def test_one_column_is_a_table() -> None:
    assert read_all(b"Number\nMX-203\n") == (("Number",), [Row(2, ("MX-203",))])


def test_what_we_wrote_comes_back() -> None:
    rows = [["=cmd", "-5 mm", "O'Hara"], ["'=x", "\tx", ""], ["a,b;c", 'say "no"', "two\r\nlines"]]

    data = b"".join(rows_to_csv(["a", "b", "c"], rows))

    assert [list(row.cells) for row in read_all(data)[1]] == rows


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b" \r\n\r\n", "empty"),
        (b"\xef\xbb\xbf\n,,\n", "empty"),
        (b"a,b\n1,\0\n", "not a spreadsheet"),
        ("a,b\n1,é\n".encode("latin-1"), "Line 2 holds letters that are not UTF-8"),
        ("a,b\n1,2\n".encode("utf-16"), "UTF-16"),
        (b"a,b\n1,2,3\n", "Row 2 has more cells"),
        (b'a,b\n1,2\n1,"2\n', "Row 3: a quotation mark"),
        (b'a,b\n1,"2"x\n', "Row 2: a quotation mark"),
        (b"a,b\n1," + b"2" * 200_000, "Row 2: a cell has more than 131072 characters. Shorten it"),
        (b"a;b\n1;" + b"2" * 200_000, "Row 2: a cell has more than 131072 characters. Shorten it"),
        (b"a,,c\n1,2,3\n", "Column 2 has no heading"),
        (b"a,A\n1,2\n", 'Two columns are called "A"'),
        (b"a,b\n1," + b"x" * 1001, 'Row 2, column "b": more than 1000 characters'),
        (b",".join(b"h%d" % one for one in range(61)), "more than 60 columns"),
        (b"a,b\n" + b"1,2\n" * 10_001, "more than 10 000 rows"),
        (b"a,b\n" + b"1,2\n" * 1_400_000, "larger than 5 MiB"),
        (b"x" * 20 * 2**20, "larger than 5 MiB"),
        (b"%PDF-1.7\n\x00", "is a PDF"),
        (b"<html><table><tr><td>1</td></tr></table></html>", "page or document"),
        (b"\xef\xbb\xbf<?xml version='1.0'?><a/>", "page or document"),
        (b"\x89PNG\r\n\x1a\n\0\0\0", "not a spreadsheet"),
        (OLD_WORKBOOK, "Save it as .xlsx or .csv"),
        (OLD_WORKBOOK + "EncryptedPackage".encode("utf-16-le"), "has a password"),
    ],
)
def test_what_is_not_a_sound_csv_is_refused(data: bytes, words: str) -> None:
    assert words in refusal(data, "machines.csv")


def test_the_largest_csv_is_taken() -> None:
    data = b"a,b\n" + b"1,%s\n" % (b"x" * 500) * 10_000

    assert len(read_all(data)[1]) == 10_000


def test_sixty_columns_and_a_thousand_characters_are_taken() -> None:
    cells = ["x" * 1000, *["y"] * 59]
    data = ",".join(f"h{one}" for one in range(60)) + "\n" + ",".join(cells)

    assert read_all(data.encode())[1] == [Row(2, tuple(cells))]


def test_the_name_never_decides() -> None:
    assert read_all(b"Number,Kind\nMX-203,mixer\n", "machines.xlsx")[0] == ("Number", "Kind")
    assert read_all(PLAIN, "machines.csv")[0] == tuple(HEADINGS)
    assert "is a PDF" in refusal(b"%PDF-1.4 ...", "machines.xlsx")


def test_a_hostile_name_stays_one_short_line() -> None:
    words = refusal(b"%PDF-1.4", "a\n\u202e" * 500)

    assert "\n" not in words
    assert "\u202e" not in words
    assert len(words) < 120


# XLSX


def test_cells_written_by_one_library_become_text_without_rotting() -> None:
    data = by_openpyxl(
        [
            ["a", "b", "c", "d", "e", "f", "g"],
            ["00412", 412, 1300.0, 0.29, True, date(2026, 3, 4), datetime(2026, 3, 4, 7, 30)],
            [],
            ["  x ", -1.5e-7, 1e22, 2**53, False, time(4, 30), timedelta(hours=28, minutes=30)],
        ]
    )

    assert read_all(data)[1] == [
        Row(2, ("00412", "412", "1300", "0.29", "yes", "2026-03-04", "2026-03-04T07:30:00")),
        Row(4, ("  x ", "-0.00000015", "1" + "0" * 22, str(2**53), "no", "04:30", "28:30")),
    ]


def test_cells_written_by_another_library_become_text_as_they_show() -> None:
    def fill(workbook: xlsxwriter.Workbook) -> None:
        hidden = workbook.add_worksheet("hidden")
        sheet = workbook.add_worksheet("list")
        sheet.activate()
        sheet.set_first_sheet()
        hidden.hide()
        hidden.write_row(0, 0, ["not this one"])
        sheet.write_row(1, 0, ["number", "slip", "lines", "sum", "day", "share", "quoted"])
        sheet.write_number(2, 0, 412, workbook.add_format({"num_format": "00000"}))
        sheet.write_number(2, 1, 0.055, workbook.add_format({"num_format": "0.0%"}))
        sheet.write_string(2, 2, "two\r\nlines")
        sheet.write_formula(2, 3, "=1+1", None, 2)
        sheet.write_datetime(
            2, 4, datetime(2026, 11, 25), workbook.add_format({"num_format": "dd/mm/yyyy"})
        )
        sheet.write_number(2, 5, 1, workbook.add_format({"num_format": "0%"}))
        sheet.write_number(2, 6, 0.5, workbook.add_format({"num_format": '0.0" %"'}))

    assert read_all(by_xlsxwriter(fill)) == (
        ("number", "slip", "lines", "sum", "day", "share", "quoted"),
        [Row(3, ("00412", "5.5 %", "two\nlines", "2", "2026-11-25", "100 %", "0.5"))],
    )


def test_formulas_worked_out_as_text_are_read_even_when_empty() -> None:
    def fill(workbook: xlsxwriter.Workbook) -> None:
        sheet = workbook.add_worksheet()
        sheet.write_row(0, 0, ["a", "b"])
        sheet.write_formula(1, 0, '="x"', None, "x")
        sheet.write_number(1, 1, 2)

    data = by_xlsxwriter(fill)
    emptied = part(data, SHEET).replace(b"<v>x</v>", b"<v></v>")

    assert read_all(data)[1] == [Row(2, ("x", "2"))]
    assert b't="str"' in emptied
    assert read_all(with_parts(data, {SHEET: emptied}))[1] == [Row(2, ("", "2"))]


def test_a_formula_that_nobody_worked_out_is_never_read_as_empty() -> None:
    assert "no saved result" in refusal(by_openpyxl([["a"], ["=1+1"]]))


def test_false_sizes_in_the_sheet_hide_no_cells() -> None:
    lying = re.sub(rb"<sheetData>", b'<dimension ref="A1:A1"/><sheetData>', part(PLAIN, SHEET))

    assert read_all(with_parts(PLAIN, {SHEET: lying})) == (
        tuple(HEADINGS),
        [Row(2, ("MX-203", "mixer", "407"))],
    )


def test_the_largest_workbook_is_taken_and_one_row_more_is_not() -> None:
    rows: list[Sequence[object]] = [["a"], *[[one] for one in range(10_000)]]

    assert read_all(by_openpyxl(rows))[1][-1] == Row(10_001, ("9999",))
    assert "more than 10 000 rows" in refusal(by_openpyxl([*rows, [1]]))


def test_a_row_far_down_is_refused_not_lost() -> None:
    far = part(PLAIN, SHEET).replace(
        b"</sheetData>", b'<row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData>'
    )

    assert "more than 10 000 rows" in refusal(with_parts(PLAIN, {SHEET: far}))


def test_a_cell_far_right_is_refused_not_lost() -> None:
    far = part(PLAIN, SHEET).replace(
        b"</row></sheetData>", b'<c r="XFD2"><v>1</v></c></row></sheetData>'
    )

    assert far != part(PLAIN, SHEET)
    assert "more cells than there are headings" in refusal(with_parts(PLAIN, {SHEET: far}))


def test_sixty_one_headings_are_refused() -> None:
    assert "more than 60 columns" in refusal(by_openpyxl([[f"h{one}" for one in range(61)]]))


def test_an_empty_workbook_is_refused() -> None:
    assert "The sheet is empty" in refusal(by_openpyxl([]))


@pytest.mark.parametrize("name", ["xl/media/a.png", SHEET, "xl/sharedStrings.xml"])
def test_a_part_that_swells_is_refused(name: str) -> None:
    data = with_parts(PLAIN, {name: b"<a>" + b" " * 20_000_000})

    assert len(data) < 100_000
    assert "unpacks to far more" in refusal(data)


def test_many_parts_that_swell_together_are_refused() -> None:
    # Each stays under 100 times its size, but together they pass 50 MiB.
    block = b"".join(struct.pack("<I", one * 2_654_435_761 % 2**32) * 75 for one in range(8_000))
    data = with_parts(PLAIN, {f"xl/media/{one}.bin": block for one in range(24)})

    assert len(data) < 5 * 2**20
    assert "unpacks to far more" in refusal(data)


def test_a_directory_that_understates_a_part_is_refused() -> None:
    bomb = with_parts(PLAIN, {"xl/media/a.bin": b" " * 20_000_000})
    size = struct.pack("<I", 20_000_000)
    assert bomb.count(size) == 2

    assert "damaged" in refusal(bomb.replace(size, struct.pack("<I", 2_000)))


@pytest.mark.parametrize(
    "declaration",
    [
        b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>',
        b'<!DOCTYPE x SYSTEM "file:///etc/hosts">',
    ],
)
@pytest.mark.parametrize("name", [SHEET, "xl/workbook.xml", "xl/styles.xml", "_rels/.rels"])
def test_a_document_type_is_refused_in_every_part(declaration: bytes, name: str) -> None:
    content = re.sub(rb"^<\?xml[^>]*\?>\s*", b"", part(PLAIN, name))

    assert "document type" in refusal(with_parts(PLAIN, {name: declaration + content}))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "cp037"])
def test_a_document_type_cannot_hide_in_other_letters(encoding: str) -> None:
    hidden = ('<?xml version="1.0"?><!DOCTYPE x>' + part(PLAIN, SHEET).decode()).encode(encoding)

    assert "damaged" in refusal(with_parts(PLAIN, {SHEET: hidden}))


def test_a_part_that_states_other_letters_is_refused() -> None:
    stated = b'<?xml version="1.0" encoding="utf-7"?>' + part(PLAIN, SHEET)

    assert "damaged" in refusal(with_parts(PLAIN, {SHEET: stated}))


def test_three_hundred_parts_are_refused() -> None:
    data = with_parts(PLAIN, {f"xl/media/{one}.bin": b"x" for one in range(300)})

    assert "more than 200 parts" in refusal(data)


def test_macros_are_refused() -> None:
    types = part(PLAIN, "[Content_Types].xml").replace(
        b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml",
        b"application/vnd.ms-excel.sheet.macroEnabled.main+xml",
    )

    assert "macros" in refusal(with_parts(PLAIN, {"xl/vbaProject.bin": b"x"}))
    assert "macros" in refusal(with_parts(PLAIN, {"xl/macrosheets/sheet1.xml": b"<a/>"}))
    assert "macros" in refusal(with_parts(PLAIN, {"[Content_Types].xml": types}))


def test_a_locked_package_is_refused() -> None:
    directory = PLAIN.index(b"PK\x01\x02")
    locked = bytearray(PLAIN)
    locked[directory + 8] |= 1

    assert "password" in refusal(bytes(locked))


def test_another_kind_of_package_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr("content.xml", "<a/>")

    assert "Save it as .xlsx or .csv" in refusal(out.getvalue())


def test_a_workbook_cut_short_anywhere_is_refused() -> None:
    for length in range(4, len(PLAIN), 97):
        assert refusal(PLAIN[:length])


def test_a_workbook_with_any_byte_turned_is_read_or_refused() -> None:
    for place in range(0, len(PLAIN), 101):
        turned = bytearray(PLAIN)
        turned[place] ^= 0xFF
        try:
            headings, _ = read_all(bytes(turned))
        except FileRefused:
            continue
        assert headings == tuple(HEADINGS)


@pytest.mark.parametrize(
    "sheet",
    [
        b"<worksheet>",
        b"<a/>",
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        b'<row r="1"><c r="A1" t="s"><v>99999</v></c></row></sheetData></worksheet>',
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        b'<row r="1"><c r="A1"><v>abc</v></c></row></sheetData></worksheet>',
    ],
)
def test_a_sheet_that_makes_no_sense_is_refused(sheet: bytes) -> None:
    assert refusal(with_parts(PLAIN, {SHEET: sheet}))
