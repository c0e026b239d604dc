from functools import cache
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from plant.drawings.face import COMMON
from reports.pdf.fonts import MONO, SANS, face_for, lettered, plain, register, text, width_of
from reports.pdf.pen import Pen
from reports.pdf.pieces import Style, body

register()


@given(st.text(max_size=60))
def test_any_text_at_all_can_be_set(words: str) -> None:
    for face in (SANS, MONO):
        canvas = Canvas(BytesIO(), invariant=1)

        body(words, style=Style(face=face), width=60).put(Pen(canvas), 0, 0)
        canvas.drawString(0, 0, plain(words, face=face))


@given(st.lists(st.text("aiWé Ωш", max_size=30), min_size=1, max_size=4), st.integers(30, 300))
def test_lines_hold_every_letter_and_no_line_is_too_long(typed: list[str], width: int) -> None:
    words = body("\n".join(typed), style=Style(size=9, leading=11), width=width)

    set_lines = ["".join(letters for _, _, letters in pieces) for _, pieces in words.lines]
    assert "".join("".join(set_lines).split()) == "".join("".join(typed).split())
    for line, (wide, _) in zip(set_lines, words.lines, strict=True):
        assert wide * 9 <= width + 0.02
        assert wide * 9 == pytest.approx(width_of(line, size=9))
    assert words.height == 11 * len(words.lines)


@given(st.text(COMMON + "Жω", max_size=40))
def test_the_width_of_words_is_that_of_the_library(words: str) -> None:
    assert width_of(words, size=9) == pytest.approx(pdfmetrics.stringWidth(words, SANS, 9))


@given(st.text(COMMON + "ЖωŐ\u00a0", min_size=1, max_size=60))
def test_common_letters_are_coded_and_cut_out_as_by_the_library(words: str) -> None:
    """Both write the same text: by ours with its fixed first part, and by the library's own."""
    read = []
    for face in (SANS, _library_face()):
        file = BytesIO()
        canvas = Canvas(file, invariant=1)
        canvas.setFont(face, 9)
        canvas.drawString(50, 50, words)
        canvas.save()
        read.append(PdfReader(file).pages[0].extract_text())
    assert read[0] == read[1]


@cache
def _library_face() -> str:
    ours = pdfmetrics.getFont(SANS)
    assert isinstance(ours, TTFont)
    pdfmetrics.registerFont(TTFont("LibraryOwn", ours.face.filename))
    return "LibraryOwn"


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("slip <5 %", ["slip <5 %"]),
        ("&lt;", ["&lt;"]),
        ("first\nsecond\r\nthird", ["first", "second", "third"]),
        ("e\u0301", ["é"]),
        ("\u0e01", ["[U+0E01]"]),
        ("\U0001f527", ["[U+1F527]"]),
        ("\ud800", ["[U+D800]"]),
        ("a\u200bb", ["a[U+200B]b"]),
        ("", [""]),
    ],
)
def test_typed_text_prints_as_typed(typed: str, printed: list[str]) -> None:
    lines = lettered(typed)

    assert ["".join(letters for _, letters in line) for line in lines] == printed
    assert plain(typed) == " ".join(printed)


def test_the_stamped_face_borrows_what_it_lacks() -> None:
    assert lettered("α1", face=MONO) == [[(SANS, "α"), (MONO, "1")]]


def test_markup_in_typed_text_is_harmless_in_a_story() -> None:
    """A drawing library reads tags in a paragraph; ours are typed text, and one borrows a face."""
    assert text("<b>&\n<img src=x>") == "&lt;b&gt;&amp;<br/>&lt;img src=x&gt;"
    assert text("α1", face=MONO) == f'<font name="{SANS}">α</font>1'


def test_a_number_that_cannot_be_stamped_takes_the_other_face() -> None:
    assert face_for("MX-1") != face_for("Ελ-1")


def test_all_marks_of_measure_are_held() -> None:
    marks = "±×÷≤≥≈√°²³−→µΩπαβθ½·…"

    assert plain(marks) == marks


def test_no_letter_vanishes() -> None:
    file = BytesIO()
    canvas = Canvas(file, invariant=1)
    canvas.setFont(SANS, 9)
    canvas.drawString(50, 50, plain("Wartość 鉄 ± 0,6"))
    canvas.save()

    assert PdfReader(file).pages[0].extract_text().strip() == "Wartość [U+9244] ± 0,6"
