"""A sheet through a bad copier: one bit a dot, a hundred dots to the inch, and nothing is lost."""

from io import BytesIO
from typing import Any

import numpy as np
import pypdfium2
from pypdf import PdfReader
from pypdf.generic import ContentStream

from reports.pdf.service_sheet import ServiceSheet, render

DOTS = 100
# A shade lighter than this may come out white.
DARK = 0.4
THINNEST = 0.5


def operations(pdf: bytes) -> list[tuple[list[Any], bytes]]:
    found: list[tuple[list[Any], bytes]] = []
    for page in PdfReader(BytesIO(pdf)).pages:
        found += ContentStream(page.get_contents(), page.pdf).operations  # type: ignore[arg-type]
    return found


def test_no_line_is_thinner_than_half_a_point_nor_pale(sheet: ServiceSheet) -> None:
    done = operations(render(sheet))

    widths = [float(operands[0]) for operands, operator in done if operator == b"w"]
    greys = {float(operands[0]) for operands, operator in done if operator == b"G"}
    assert len(widths) > 20
    assert min(widths) >= THINNEST
    # White is for what stands on black.
    assert all(grey <= DARK or grey == 1 for grey in greys)


def test_no_lettering_is_pale(sheet: ServiceSheet) -> None:
    shade, set_in = 0.0, []
    for operands, operator in operations(render(sheet)):
        if operator == b"g":
            shade = float(operands[0])
        if operator == b"Tj":
            set_in.append(shade)

    assert len(set_in) > 200
    assert max(set_in) <= DARK


def test_every_box_still_has_its_four_sides(sheet: ServiceSheet) -> None:
    pdf = render(sheet)
    document = pypdfium2.PdfDocument(pdf)
    seen = 0

    for number, page in enumerate(PdfReader(BytesIO(pdf)).pages):
        picture = document[number].render(scale=DOTS / 72, grayscale=True).to_numpy()
        black = np.asarray(picture).reshape(picture.shape[0], -1) < 128
        high = float(page.mediabox.height)
        stream = ContentStream(page.get_contents(), page.pdf)
        for operands, operator in stream.operations:
            if operator != b"re" or float(operands[3]) < 20:
                continue
            left, bottom, wide, tall = (float(each) for each in operands)
            seen += 1
            for y in (bottom, bottom + tall):
                row = _dot(high - y)
                across = black[row - 1 : row + 2, _dot(left) + 1 : _dot(left + wide) - 1]
                assert across.any(axis=0).mean() > 0.95
            for x in (left, left + wide):
                column = _dot(x)
                top, foot = _dot(high - bottom - tall) + 1, _dot(high - bottom) - 1
                assert black[top:foot, column - 1 : column + 2].any(axis=1).mean() > 0.95
    assert seen > 60


def _dot(points: float) -> int:
    return round(points * DOTS / 72)
