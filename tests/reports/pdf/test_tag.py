"""Tags read back from their own paper: large enough for a look across a yard, on both sides."""

import io
from dataclasses import replace
from math import radians, tan
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm

from reports.pdf.page import Printed
from reports.pdf.service_sheet import Caution
from reports.pdf.tag import HEIGHT, WIDTH, Reason, Tag, render

SEEN_FROM = 3000 * mm
TAG = Tag(
    number="MX-203",
    kind="Cement mixer, Quarry Mill",
    printed=Printed(
        at="25 Nov 2026 07:31", by="Edda Morcombe", record_number="QM-7", record_hash="7f" * 32
    ),
    what="Stopped",
    reasons=(Reason("Guard gone.", "Since 25 Nov 2026 07:12, by Bram Ostrowe. Job J-1042."),),
    facts=("Tested: RCD trip times.",),
    cautions=(Caution("Stop", "Live parts can kill. Unplug it, lock it off, keep the key."),),
    link="https://plant.example.org/q/aB3_xY-9kLmN0pQrStUvWz",
    scan="Scan it to see how MX-203 stands.",
    phone="Depot: 01632 960 101",
)


def close(words: str) -> str:
    return "".join(words.split())


def caps(pdf: bytes) -> dict[str, float]:
    """[pt] the height of the capitals of each line of lettering, from the PDF itself."""
    found: dict[str, float] = {}

    def look(text: str, _: Any, matrix: Any, font: Any, size: float) -> None:
        if text.strip() and font is not None:
            rise = font["/FontDescriptor"]["/CapHeight"] if "/FontDescriptor" in font else 700
            tall = float(rise) / 1000 * size * abs(matrix[3])
            found[text.strip()] = max(tall, found.get(text.strip(), 0.0))

    PdfReader(io.BytesIO(pdf)).pages[0].extract_text(visitor_text=look)
    return found


def panels(pdf: bytes) -> list[str]:
    """The words of the four quarters of the sheet: front and back, above and below."""
    page = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    return [
        page.get_text_bounded(left=left, bottom=level, right=left + WIDTH, top=level + HEIGHT)
        for level in (HEIGHT, 0)
        for left in (0, WIDTH)
    ]


def test_the_great_words_are_read_at_three_metres_after_a_printer_has_shrunk_the_page() -> None:
    """Who sees 6/6 reads letters of 5 minutes of arc (Snellen); for a glance in poor light we take
    three times that."""
    tall = caps(render(TAG))

    needed = 3 * SEEN_FROM * tan(radians(5 / 60))
    assert min(tall["DO NOT"], tall["USE"]) * 0.98 >= needed
    assert min(tall["DO NOT"], tall["USE"]) * 0.98 >= 15 * mm
    # On the back, and the machine's number, those five minutes twice over.
    assert tall["DO NOT USE"] * 0.98 >= 2 * needed / 3
    assert tall["MX-203"] * 0.98 >= 2 * needed / 3


def test_each_side_of_both_tags_says_it_and_whose_it_is() -> None:
    pdf = render(TAG)

    assert len(PdfReader(io.BytesIO(pdf)).pages) == 1
    for words in panels(pdf):
        seen = close(words)
        assert "DONOTUSE" in seen
        assert "MX-203" in seen
        assert close(TAG.keep) in seen
    for back in panels(pdf)[1::2]:
        for part in ("Guard gone.", "by Bram Ostrowe", "J-1042", "keep the key", "record QM-7"):
            assert close(part) in close(back)


def test_its_code_opens_the_label_of_the_machine() -> None:
    """zxing-cpp, which is no part of what draws it; once on each tag."""
    page = pypdfium2.PdfDocument(render(TAG))[0]

    codes = zxingcpp.read_barcodes(page.render(scale=3, grayscale=True).to_numpy())

    assert [code.text for code in codes] == [TAG.link] * 2
    assert all(code.ec_level in ("Q", "H") for code in codes)


def test_it_is_black_on_white_alone() -> None:
    image = pypdfium2.PdfDocument(render(TAG))[0].render(scale=1).to_pil().convert("RGB")

    assert all(len(set(pixel)) == 1 for _, pixel in image.getcolors(1 << 20) or [])


@pytest.mark.parametrize("name", ["Łukasz Wiśniewski", "Ελένη", "Петренко", "Šimůnek", "Nguyễn Ơn"])
def test_names_and_markup_print_as_typed(name: str) -> None:
    typed = f"{name} <b>x</b> & <img src='y'>"
    pdf = render(replace(TAG, reasons=(Reason(typed, name),), number=name))

    for reader in (panels(pdf)[1], PdfReader(io.BytesIO(pdf)).pages[0].extract_text()):
        assert close(typed) in close(reader)
        assert "U+" not in reader


def inside(pdf: bytes) -> bool:
    """Nothing lies outside the part of the sheet that a printer reaches, and no word across the
    fold or the cut."""
    for each in pypdfium2.PdfDocument(pdf)[0].get_objects(max_depth=8):
        left, bottom, right, top = each.get_bounds()
        if each.type == 1:  # lettering
            edge = 5 * mm
            if not (edge <= left <= right <= A4[0] - edge and edge <= bottom <= top):
                return False
            if left < WIDTH < right or bottom < HEIGHT < top:
                return False
    return True


def test_words_three_times_as_long_are_whole_and_stay_on_their_side() -> None:
    long = replace(
        TAG,
        kind=" ".join([TAG.kind] * 3),
        what="Failed electrical test " * 3,
        reasons=tuple(Reason("Guard gone. " * 3, TAG.reasons[0].told * 3) for _ in range(3)),
        facts=tuple(each * 3 for each in TAG.facts),
        cautions=tuple(replace(each, words=each.words * 3) for each in TAG.cautions),
        keep=TAG.keep * 3,
        scan=TAG.scan * 3,
        phone=TAG.phone * 3,
    )

    pdf = render(long)

    front, back = panels(pdf)[:2]
    assert inside(pdf)
    for words in (long.kind, long.what, long.keep, long.scan, long.phone):
        assert close(words) in close(front)
    for words in (long.reasons[0].told, long.cautions[0].words, long.keep, "record QM-7"):
        assert close(words) in close(back)


@settings(max_examples=15, deadline=None)
@given(
    words=st.text(max_size=200), many=st.integers(1, 12), number=st.text(min_size=1, max_size=32)
)
def test_whatever_stands_against_it_the_tag_says_do_not_use(
    words: str, many: int, number: str
) -> None:
    odd = replace(TAG, number=number, reasons=(Reason(words, words),) * many, kind=words)

    pdf = render(odd)

    assert pdf == render(odd)
    assert all("DONOTUSE" in close(each) for each in panels(pdf))
    assert inside(pdf)


def test_what_has_no_room_is_counted_and_the_cautions_stay() -> None:
    many = tuple(Reason(f"Fault {n}: " + "cracked " * 20, "Since today, by X.") for n in range(20))

    back = panels(render(replace(TAG, reasons=many)))[1]

    shown = sum(f"Fault {n}:" in " ".join(back.split()) for n in range(20))
    assert 0 < shown < 20
    assert f"And {20 - shown} more, on the machine's page." in " ".join(back.split())
    assert "keep the key" in " ".join(back.split())
