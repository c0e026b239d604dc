from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pypdfium2
import pytest
from pypdf import PdfReader

from reports.pdf import batch
from reports.pdf.batch import Part
from reports.pdf.service_sheet import ServiceSheet, render


def merge(parts: list[Part], *, title: str) -> bytes:
    file = BytesIO()
    batch.merge(parts, title=title, file=file)
    return file.getvalue()


@pytest.fixture
def parts(sheet: ServiceSheet, tmp_path: Path) -> list[Part]:
    other = replace(sheet, drives=(), plate=replace(sheet.plate, number="QR-0611"))
    file = tmp_path / "other.pdf"
    file.write_bytes(render(other))
    again = replace(other, sheet_number="320")
    return [
        Part("QR-0427, Cement mixer", render(sheet)),
        Part("QR-0611, Łuk", file),
        Part("QR-0611, Łuk", render(again)),
    ]


def test_each_machine_has_one_bookmark_to_its_first_page(parts: list[Part]) -> None:
    document = pypdfium2.PdfDocument(merge(parts, title="Sheets of 25 Nov 2026"))

    found = [(mark.get_title(), mark.get_dest().get_index()) for mark in document.get_toc()]

    assert found == [("QR-0427, Cement mixer", 0), ("QR-0611, Łuk", 2)]


def test_pages_keep_their_text_and_order(parts: list[Part]) -> None:
    reader = PdfReader(BytesIO(merge(parts, title="Sheets of 25 Nov 2026")))
    seen = [page.extract_text() for page in reader.pages]

    assert len(seen) == 6
    assert ["QR-0611" in words for words in seen] == [False, False, True, True, True, True]
    assert "SERVICE SHEET 320" in seen[4]
    assert reader.metadata is not None
    assert reader.metadata.title == "Sheets of 25 Nov 2026"
    assert str(reader.root_object["/Lang"]) == "en-GB"


def test_equal_parts_are_equal_bytes(parts: list[Part]) -> None:
    assert merge(parts, title="a") == merge(parts, title="a")
    assert merge(parts, title="a") != merge(parts[:2], title="a")


def test_equal_letters_are_written_once_and_equal_pages_twice(sheet: ServiceSheet) -> None:
    one = render(sheet)
    twice = merge([Part("a", one), Part("b", one)], title="a")

    assert len(twice) < 1.1 * len(one)
    pages = PdfReader(BytesIO(twice)).pages
    # A page object stands in one place of the tree only (ISO 32000-1, 7.7.3.2).
    assert len({page.indirect_reference.idnum for page in pages if page.indirect_reference}) == 4
    assert pages[0].extract_text() == pages[2].extract_text()


def test_words_that_look_like_the_format_stay_words(sheet: ServiceSheet) -> None:
    odd = replace(sheet, open_faults=(), found="7 0 R endobj (stream >> endstream", drives=())
    alone = render(odd)

    whole = PdfReader(BytesIO(merge([Part("9 0 R)", alone)] * 2, title="(1 0 R")))

    said = [page.extract_text() for page in PdfReader(BytesIO(alone)).pages]
    assert "7 0 R endobj (stream >> endstream" in " ".join(said)
    assert [page.extract_text() for page in whole.pages] == said * 2
    assert [getattr(mark, "title", "") for mark in whole.outline] == ["9 0 R)"]
    assert whole.metadata is not None
    assert whole.metadata.title == "(1 0 R"


def test_a_file_that_is_not_ours_is_refused() -> None:
    with pytest.raises(ValueError, match="not a PDF of ours"):
        merge([Part("a", b"%PDF-1.7 and more")], title="a")


def test_nothing_to_merge_is_refused() -> None:
    with pytest.raises(ValueError, match="no parts"):
        merge([], title="a")
