from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from reports.pdf.fonts import MONO, SANS, face_for, plain, register, text

register()


@given(st.text(max_size=60))
def test_any_text_at_all_can_be_set(words: str) -> None:
    for face in (SANS, MONO):
        style = ParagraphStyle("any", fontName=face, fontSize=9, leading=11)
        paragraph = Paragraph(text(words, face=face), style)
        canvas = Canvas(BytesIO(), invariant=1)

        paragraph.wrap(200, 5000)
        paragraph.drawOn(canvas, 0, 0)
        canvas.drawString(0, 0, plain(words, face=face))


@pytest.mark.parametrize(
    ("typed", "markup"),
    [
        ("slip <5 %", "slip &lt;5 %"),
        ("&lt;", "&amp;lt;"),
        ("first\nsecond\r\nthird", "first<br/>second<br/>third"),
        ("e\u0301", "é"),
        ("\u0e01", "[U+0E01]"),
        ("\U0001f527", "[U+1F527]"),
        ("\ud800", "[U+D800]"),
        ("a\u200bb", "a[U+200B]b"),
        ("", ""),
    ],
)
def test_typed_text_becomes_harmless_markup(typed: str, markup: str) -> None:
    assert text(typed) == markup


def test_the_stamped_face_borrows_what_it_lacks() -> None:
    assert text("α1", face=MONO) == f'<font name="{SANS}">α</font>1'


def test_a_number_that_cannot_be_stamped_takes_the_other_face() -> None:
    assert face_for("MX-1") != face_for("Ελ-1")


def test_all_marks_of_measure_are_held() -> None:
    marks = "±×÷≤≥≈√°²³−→µΩπαβθ½·…"

    assert text(marks) == marks


def test_no_letter_vanishes() -> None:
    file = BytesIO()
    canvas = Canvas(file, invariant=1)
    canvas.setFont(SANS, 9)
    canvas.drawString(50, 50, plain("Wartość 鉄 ± 0,6"))
    canvas.save()

    assert PdfReader(file).pages[0].extract_text().strip() == "Wartość [U+9244] ± 0,6"
