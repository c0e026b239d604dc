"""Labels read back from their own paper: the code by another reader, the number by its size."""

import io
import itertools
from math import radians, tan
from random import Random
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from hypothesis import example, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFilter
from pypdf import PdfReader
from reportlab.lib.units import mm

from reports.pdf.label import A_PAGE, Label, on_a4, one_a_page
from reports.pdf.page import Printed

CODE = "aB3_xY-9kLmN0pQrStUvWz"
LINK = f"https://plant.example.org/q/{CODE}"
PRINTED = Printed(at="25 Nov 2026 07:31", by="Edda Morcombe")
# What common label printers put on a millimetre: 203 and 300 dots an inch.
DOTS = (203, 300)


def label(number: str = "MX-203", **more: Any) -> Label:
    given = {"link": LINK, "short_code": "7F3K", "kind": "Cement mixer", "phone": "01632 960 101"}
    return Label(number=number, **(given | more))


def picture(data: bytes, *, dpi: float, page: int = 0) -> Image.Image:
    """A page as a printer without grey would put it down."""
    drawn = pypdfium2.PdfDocument(data)[page].render(scale=dpi / 72).to_pil().convert("L")
    return drawn.point(lambda grey: 255 if grey > 127 else 0)


def read(image: Image.Image) -> list[str]:
    return [code.text for code in zxingcpp.read_barcodes(image)]


def caps(data: bytes) -> dict[str, float]:
    """[mm] the height of the capitals of each line of lettering, from the PDF itself."""
    found: dict[str, float] = {}

    def look(text: str, _: Any, matrix: Any, font: Any, size: float) -> None:
        if text.strip() and font is not None:
            rise = font["/FontDescriptor"]["/CapHeight"] if "/FontDescriptor" in font else 700
            found[text.strip()] = float(rise) / 1000 * size * abs(matrix[3]) / mm

    PdfReader(io.BytesIO(data)).pages[0].extract_text(visitor_text=look)
    return found


def words(data: bytes, page: int = 0) -> str:
    return " ".join(PdfReader(io.BytesIO(data)).pages[page].extract_text().split())


@pytest.mark.parametrize("dpi", DOTS)
def test_another_reader_reads_the_link_of_a_label(dpi: int) -> None:
    """zxing-cpp, which is no part of what draws it."""
    assert read(picture(one_a_page([label()], title="Labels"), dpi=dpi)) == [LINK]


def test_the_code_gives_back_a_quarter_of_itself() -> None:
    """ISO/IEC 18004: level Q recovers about 25 % of the code words; from memory."""
    (code,) = zxingcpp.read_barcodes(picture(one_a_page([label()], title="Labels"), dpi=203))

    assert code.ec_level in ("Q", "H")


@pytest.mark.parametrize("seed", range(12))
def test_it_is_read_under_splashes_of_cement(seed: int) -> None:
    """A tenth of the code is covered, away from its three corners, and the rest is unsharp."""
    image = picture(one_a_page([label()], title="Labels"), dpi=300)
    (code,) = zxingcpp.read_barcodes(image)
    corners = [code.position.top_left, code.position.top_right, code.position.bottom_left]
    left, top = corners[0].x, corners[0].y
    side = corners[1].x - left
    dice, draw, covered = Random(seed), ImageDraw.Draw(image), 0.0
    while covered < 0.10 * side * side:
        radius = side * dice.uniform(0.03, 0.09)
        x, y = left + side * dice.random(), top + side * dice.random()
        if all(abs(x - c.x) + abs(y - c.y) > 0.62 * side for c in corners):
            draw.ellipse(
                (x - radius, y - radius, x + radius, y + radius), fill=dice.choice((0, 90, 255))
            )
            covered += 3.14 * radius * radius

    assert covered > 0.09 * side * side
    assert read(image.filter(ImageFilter.GaussianBlur(1.5))) == [LINK]


@pytest.mark.parametrize("share", [0.75, 0.5])
def test_it_is_read_small_and_unsharp(share: float) -> None:
    image = picture(one_a_page([label()], title="Labels"), dpi=300)
    small = image.resize((round(image.width * share), round(image.height * share)))

    assert read(small.filter(ImageFilter.GaussianBlur(0.8))) == [LINK]


def test_what_is_covered_for_the_most_part_is_not_read() -> None:
    """The checks above could not fail if the reader read what is not there."""
    image = picture(one_a_page([label()], title="Labels"), dpi=300)
    ImageDraw.Draw(image).rectangle((60, 60, 220, 220), fill=128)

    assert read(image) == []


def test_squares_are_whole_dots_of_a_label_printer_and_the_quiet_zone_is_white() -> None:
    data = one_a_page([label()], title="Labels")
    # At 8 dots a millimetre, as such printers have them.
    image = picture(data, dpi=8 * 25.4)
    (code,) = zxingcpp.read_barcodes(image)
    ink = image.point(lambda grey: 255 - grey)
    corner = code.position.top_left
    column = [image.getpixel((corner.x + 1, corner.y + n)) for n in range(60)]

    run = next(n for n, grey in enumerate(column) if grey)
    assert run % 7 == 0  # the corner is seven squares high: ISO/IEC 18004, finder pattern
    quiet = 4 * run // 7
    box = (corner.x - quiet + 1, corner.y - quiet + 1, corner.x - 1, code.position.bottom_left.y)
    assert ink.crop(box).getbbox() is None


def test_a_label_is_fifty_by_thirty_millimetres_and_its_ink_keeps_off_the_edge() -> None:
    data = one_a_page([label(), label("PC-101")], title="Labels")
    pages = PdfReader(io.BytesIO(data)).pages

    assert len(pages) == 2
    assert [float(side) / mm for side in pages[0].mediabox[2:]] == pytest.approx([50, 30], abs=0.01)
    dpmm = 20
    image = picture(data, dpi=dpmm * 25.4)
    box = image.point(lambda grey: 255 - grey).getbbox()
    assert box is not None
    assert min(box[0], box[1], 50 * dpmm - box[2], 30 * dpmm - box[3]) >= dpmm


@pytest.mark.parametrize("number", ["X1", "00412", "MX-203", "GN-1013", "MX-203/12", "A 12 345-B"])
def test_the_number_is_legible_at_two_metres(number: str) -> None:
    """Normal eyesight just reads letters of 5 minutes of arc (ISO 8596, from memory): 2.9 mm at
    2 m. On site it shall be more than half as large again, also when a printer shrinks by 2 %."""
    just_read = 2000 * tan(radians(5 / 60))
    found = caps(one_a_page([label(number)], title="Labels"))
    lines = [size for text, size in found.items() if text in number]

    assert lines
    assert 0.98 * min(lines) >= 5.0 > 1.5 * just_read


def test_the_number_is_the_largest_thing_and_stands_whole() -> None:
    found = caps(one_a_page([label("MX-203")], title="Labels"))

    assert max(found, key=lambda text: found[text]) == "MX-203"
    assert found["7F3K"] > 3


def test_a_label_says_number_code_kind_and_telephone_and_nothing_else() -> None:
    assert words(one_a_page([label()], title="Labels")) in (
        "Wrong? Scan, or ring 01632 960 101 MX-203 Code 7F3K Cement mixer",
        "Wrong? Scan, or ring 01632 960 101 MX-203 Code 7F3KCement mixer",
    )


def test_without_telephone_and_kind_the_rest_stands() -> None:
    data = one_a_page([label(phone="", kind="")], title="Labels")

    assert "MX-203" in words(data)
    assert "Something wrong? Scan it." in words(data)
    assert read(picture(data, dpi=203)) == [LINK]


@pytest.mark.parametrize("host", ["http://localhost:8000", "https://" + "long." * 20 + "example"])
def test_short_and_long_addresses_are_both_read(host: str) -> None:
    link = f"{host}/q/{CODE}"
    data = one_a_page([label(link=link)], title="Labels")

    assert read(picture(data, dpi=300)) == [link]


@settings(max_examples=30, deadline=None)
@example(number="0", kind="0\r\x08\x1b\u0530", phone="")  # one long word
@given(
    number=st.text("ABCMWX0123456789-./ ", min_size=1, max_size=32).map(str.strip).filter(bool),
    kind=st.text(max_size=80),
    phone=st.text(max_size=40),
)
def test_nothing_runs_over_the_edge_or_into_the_code(number: str, kind: str, phone: str) -> None:
    data = one_a_page([label(number, kind=kind, phone=phone)], title="Labels")
    dpmm = 8
    image = picture(data, dpi=dpmm * 25.4)
    box = image.point(lambda grey: 255 - grey).getbbox()

    assert box is not None
    assert min(box[0], box[1], 50 * dpmm - box[2], 30 * dpmm - box[3]) >= 4
    assert read(image) == [LINK]


def test_a4_holds_a_grid_of_labels_of_full_size_each_read() -> None:
    numbers = [f"MX-{n:03d}" for n in range(A_PAGE + 2)]
    labels = [label(n, link=f"{LINK[:-3]}{n[-3:]}") for n in numbers]
    data = on_a4(labels, title="Labels", printed=PRINTED)
    pages = PdfReader(io.BytesIO(data)).pages

    assert len(pages) == 2
    # ISO 216: A4 is 210 by 297 mm.
    sides = [float(side) / mm for side in pages[0].mediabox[2:]]
    assert sides == pytest.approx([210, 297], abs=0.2)
    assert sorted(read(picture(data, dpi=300))) == [each.link for each in labels[:A_PAGE]]
    assert sorted(read(picture(data, dpi=300, page=1))) == [each.link for each in labels[A_PAGE:]]
    assert "page 1 of 2" in words(data)
    assert "MX-000 to MX-023" in words(data)
    assert "printed 25 Nov 2026 07:31 by Edda Morcombe" in words(data)


def test_crosses_stand_fifty_by_thirty_apart_and_survive_a_shrinking_printer() -> None:
    data = on_a4([label()] * A_PAGE, title="Labels", printed=PRINTED)
    content = PdfReader(io.BytesIO(data)).pages[0].get_contents()
    assert content is not None
    lines = [
        tuple(float(each) / mm for each in (*start, *end))
        for start, end in _lines(content.get_data().decode("latin-1"))
    ]
    across = {round((a + c) / 2 if b != d else a, 1) for a, b, c, d in lines if a == c}
    up = {round(b, 1) for a, b, c, d in lines if b == d and abs(a - c) < 10}

    assert sorted(across) == [30.0, 80.0, 130.0, 180.0]
    steps = sorted(up)
    assert [round(b - a, 1) for a, b in itertools.pairwise(steps)] == [30.0] * 8
    # Ink keeps 5 mm off the paper's edge, also after 2 % are lost on each side.
    dpmm = 8
    image = picture(data, dpi=dpmm * 25.4)
    box = image.point(lambda grey: 255 - grey).getbbox()
    assert box is not None
    assert min(box[0], box[1], 210 * dpmm - box[2], 297 * dpmm - box[3]) >= 5 * dpmm
    small = image.resize((round(0.98 * image.width), round(0.98 * image.height)))
    assert len(read(small)) == A_PAGE


def _lines(content: str) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The straight strokes of a page: moved to a point, drawn to another."""
    found = []
    tokens = content.split()
    for at, token in enumerate(tokens):
        if token == "l" and tokens[at - 3] == "m":
            start = (float(tokens[at - 5]), float(tokens[at - 4]))
            found.append((start, (float(tokens[at - 2]), float(tokens[at - 1]))))
    return found


def test_equal_labels_give_equal_bytes_and_none_are_refused() -> None:
    assert one_a_page([label()], title="A") == one_a_page([label()], title="A")
    many = [label()] * 3
    assert on_a4(many, title="A", printed=PRINTED) == on_a4(many, title="A", printed=PRINTED)
    with pytest.raises(ValueError, match="no labels"):
        one_a_page([], title="A")
    with pytest.raises(ValueError, match="no labels"):
        on_a4([], title="A", printed=PRINTED)


def test_labels_are_black_and_white_alone() -> None:
    content = PdfReader(io.BytesIO(one_a_page([label()], title="A"))).pages[0].get_contents()
    assert content is not None
    lines = content.get_data().decode("latin-1").split("\n")
    colours = {line[:-3].strip() for line in lines if line.endswith((" rg", " RG"))}
    colours |= {line[:-2].strip() for line in lines if line.endswith((" g", " G"))}

    assert colours <= {"0 0 0", "1 1 1", "0", "1"}
