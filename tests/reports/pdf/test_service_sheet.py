from dataclasses import fields, is_dataclass, replace
from io import BytesIO
from itertools import pairwise
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from pydantic import TypeAdapter
from pypdf import PdfReader
from pypdf.generic import ContentStream

from reports.contents.service_sheet import BEFORE_START
from reports.pdf.drive_block import DriveBlock
from reports.pdf.service_sheet import OpenFault, ServiceSheet, Signature, Step, Tick, render

MM = 72 / 25.4


def read_by_pypdf(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


def read_by_pdfium(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return "\n".join(page.get_textpage().get_text_range() for page in document)


def close(words: str) -> str:
    """Without white space, so that a line break in a cell does not matter."""
    return "".join(words.split())


@pytest.fixture(params=[read_by_pypdf, read_by_pdfium], ids=["pypdf", "pdfium"])
def read(request: pytest.FixtureRequest) -> Any:
    return request.param


def test_a_machine_with_twelve_steps_and_one_drive_takes_one_leaf(sheet: ServiceSheet) -> None:
    assert len(sheet.steps) == 12
    assert len(sheet.drives) == 1

    # With the ticks as they are printed for every machine.
    pdf = render(replace(sheet, before_start=tuple(Tick(words) for words in BEFORE_START)))

    assert len(PdfReader(BytesIO(pdf)).pages) == 2
    assert len(pypdfium2.PdfDocument(pdf)) == 2


def test_everything_on_the_sheet_can_be_read_back(sheet: ServiceSheet, read: Any) -> None:
    seen = close(read(render(sheet)))

    for words in every_text(replace(sheet, link="")):
        # Hashes are cut to sixteen digits in fours; the picture's names are drawn as they are.
        if len(words) == 64:
            words = words[:16]
        assert close(words) in seen or close(words).upper() in seen, words


def test_the_page_tells_where_it_belongs(sheet: ServiceSheet, read: Any) -> None:
    seen = read(render(sheet))

    assert "page 1 of 2" in seen
    assert "page 2 of 2" in seen
    assert seen.count("printed 25 Nov 2026 07:31 by Edda Morcombe, as at 25 Nov 2026 07:30") == 2
    assert "record 1042, hash 7f3a 90bc 11de 4a02" in seen


def test_equal_sheets_are_equal_bytes(sheet: ServiceSheet) -> None:
    again = TypeAdapter(ServiceSheet).validate_json(TypeAdapter(ServiceSheet).dump_json(sheet))

    assert again == sheet
    assert render(again) == render(sheet)
    assert render(replace(sheet, meter_now="168.4")) != render(sheet)


def test_typed_markup_prints_as_typed(sheet: ServiceSheet, read: Any) -> None:
    typed = '<b>slip <5 %</b> & <img src="x"> <a href="y">z</a> &lt; </para>'
    sheet = replace(
        sheet,
        why_now=(typed,),
        open_faults=(OpenFault(typed, typed, typed),),
        steps=(Step(typed, target=typed, unit=typed, reading=typed, note=typed),),
        found=typed,
        done_by=Signature(name=typed, date=typed),
        plate=replace(sheet.plate, number=typed, kind=typed, serial=typed),
        drives=(),
    )

    seen = close(read(render(sheet)))

    assert seen.count(close(typed)) >= 13


@pytest.mark.parametrize("name", ["Łukasz Wiśniewski", "Ελένη", "Петренко", "Šimůnek", "Nguyễn Ơn"])
def test_names_print_right(sheet: ServiceSheet, read: Any, name: str) -> None:
    sheet = replace(
        sheet,
        printed=replace(sheet.printed, by=name),
        done_by=Signature(name=name),
        plate=replace(sheet.plate, depot=name, number=name),
        drives=(),
    )

    seen = read(render(sheet))

    assert seen.count(name) >= 4
    assert "U+" not in seen


def test_a_letter_that_no_face_holds_is_named(sheet: ServiceSheet, read: Any) -> None:
    sheet = replace(sheet, found="ก 鉄 \u202e \x07 end", plate=replace(sheet.plate, number="鉄-1"))

    seen = close(read(render(sheet)))

    assert "[U+0E01][U+9244][U+202E][U+0007]end" in seen
    assert "[U+9244]-1" in seen


def test_all_letters_are_embedded(sheet: ServiceSheet) -> None:
    fonts: dict[str, Any] = {}
    for page in PdfReader(BytesIO(render(sheet))).pages:
        resources: Any = page["/Resources"]
        for font in resources["/Font"].values():
            fonts[font["/BaseFont"]] = font

    used = {name for name in fonts if "+" in name}
    assert any("FiraSans" in name for name in used)
    assert any("IBMPlexMono" in name for name in used)
    for name in used:
        assert "/FontFile2" in fonts[name]["/FontDescriptor"], name
    # ReportLab names one built-in face in every file; no letter is set in it.
    for character in letters(render(sheet)):
        assert "+" in character or "FiraSans" in character or "IBMPlexMono" in character


def test_the_document_says_what_it_is(sheet: ServiceSheet) -> None:
    reader = PdfReader(BytesIO(render(sheet)))

    assert reader.metadata is not None
    assert reader.metadata.title == "Service sheet 318: QR-0427, Cement mixer, 90 litres"
    assert str(reader.root_object["/Lang"]) == "en-GB"


def test_a_guess_is_marked_in_words(sheet: ServiceSheet, drive: DriveBlock, read: Any) -> None:
    plain = replace(
        drive,
        warnings=(),
        inputs=tuple(replace(item, certainty="measured") for item in drive.inputs),
        grooves=tuple(replace(picture, depth_guessed=False) for picture in drive.grooves),
    )

    assert "guess" not in read(render(replace(sheet, drives=(plain,))))
    # Once beside the figure, once in each of the two pictures, once in the warning.
    assert read(render(sheet)).count("guess") == 4


def test_boxes_are_eight_millimetres_high_after_a_two_per_cent_shrink(
    sheet: ServiceSheet,
) -> None:
    pdf = render(sheet)

    # The frame round the word guess is a rectangle too; it is lower and not written in.
    boxes = [height for width, height in rectangles(pdf) if width > 7 * MM and height > 11]
    ticks, labelled, answers, readings, part_cells = 8, 12 + 3 + 4, 3 * 12, 6, 3 * 4
    assert len(boxes) == ticks + labelled + answers + readings + part_cells
    assert min(boxes) * 0.98 >= 8 * MM


def test_everything_stays_on_the_paper_and_inside_the_margins(sheet: ServiceSheet) -> None:
    for pdf in (render(sheet), render(longer(sheet))):
        for left, bottom, right, top in [*paths(pdf), *words_boxes(pdf)]:
            assert 14 * MM <= left <= right <= 196 * MM
            assert 5.5 * MM <= bottom <= top <= 290 * MM


def test_texts_three_times_as_long_are_printed_whole(sheet: ServiceSheet, read: Any) -> None:
    long = longer(sheet)

    pdf = render(long)
    seen = close(read(pdf))

    assert len(PdfReader(BytesIO(pdf)).pages) <= 6
    for words in (*long.why_now, *(step.words for step in long.steps), long.drives[0].verdict):
        assert close(words) in seen
    assert close(long.plate.maker_and_type) in seen


def test_a_word_without_a_break_is_not_cut(sheet: ServiceSheet, read: Any) -> None:
    word = "".join(f"x{number:03d}" for number in range(100))
    sheet = replace(sheet, steps=(Step(word, target=word),), found=word, drives=())

    assert close(read(render(sheet))).count(word) == 3


def test_a_sheet_with_nothing_but_its_plate_prints(sheet: ServiceSheet, read: Any) -> None:
    bare = ServiceSheet(sheet_number="1", plate=sheet.plate, printed=sheet.printed)

    seen = read(render(bare))

    assert "None known when this was printed." in seen
    assert "page 1 of 1" in seen


def test_what_was_filled_in_is_shown(sheet: ServiceSheet, read: Any) -> None:
    step = Step("Insulation", target="1.0 MΩ or more", unit="MΩ", reading="4.7", answer="OK")
    filled = replace(sheet, steps=(step,), drives=())
    blank = replace(sheet, steps=(replace(step, answer=""),), drives=())

    assert "4.7" in read(render(filled))
    # The tick is drawn, not lettered: it shows as one more stroke.
    assert len(paths(render(filled))) == len(paths(render(blank))) + 1


def test_the_code_on_the_sheet_leads_to_the_machine(sheet: ServiceSheet) -> None:
    import zxingcpp

    page = pypdfium2.PdfDocument(render(sheet))[0]
    read = zxingcpp.read_barcodes(page.render(scale=3, grayscale=True).to_numpy())

    assert [code.text for code in read] == [sheet.link]


def longer(value: Any) -> Any:
    """The same content with every sentence three times as long."""
    if isinstance(value, str):
        return " ".join([value] * 3) if " " in value else value
    if isinstance(value, tuple):
        return tuple(longer(part) for part in value)
    if is_dataclass(value) and not isinstance(value, type):
        kept = ("certainty", "strength", "word", "answer", "link")
        return replace(
            value,
            **{
                field.name: longer(getattr(value, field.name))
                for field in fields(value)
                if field.name not in kept
            },
        )
    return value


def every_text(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value] if value else []
    if isinstance(value, tuple):
        return [text for part in value for text in every_text(part)]
    if is_dataclass(value) and not isinstance(value, type):
        # Of a formula line the unit stands in its result.
        return [text for field in fields(value) for text in every_text(getattr(value, field.name))]
    return []


def paths(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Left, bottom, right, top [pt] of everything that is drawn."""
    return [
        item.get_bounds()
        for page in pypdfium2.PdfDocument(pdf)
        for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=8)
    ]


def words_boxes(pdf: bytes) -> list[tuple[float, float, float, float]]:
    return [
        item.get_bounds()
        for page in pypdfium2.PdfDocument(pdf)
        for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=8)
    ]


def letters(pdf: bytes) -> set[str]:
    """Names of the faces in which anything is set."""
    names: set[str] = set()
    for page in PdfReader(BytesIO(pdf)).pages:

        def visit(text: str, cm: Any, tm: Any, font: Any, size: Any) -> None:
            if text.strip() and font:
                names.add(str(font["/BaseFont"]))

        page.extract_text(visitor_text=visit)
    return names


def rectangles(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height [pt] of every stroked rectangle."""
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        operations = ContentStream(page.get_contents(), page.pdf).operations
        for (operands, operator), (_, following) in pairwise(operations):
            if operator == b"re" and following == b"S":
                found.append((float(operands[2]), float(operands[3])))
    return found
