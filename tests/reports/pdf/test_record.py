"""The paper of a record, read back by two readers that are no part of what draws it."""

import io
import json
from base64 import b64encode
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pydantic import TypeAdapter
from pypdf import PdfReader

from maintenance.rules import sheet as sheet_rule
from maintenance.rules.sheet import Point, cited
from plant import photos
from reports.pdf.page import Printed
from reports.pdf.plate import Plate, PlateField
from reports.pdf.record import (
    LEAST_POINTS,
    Corrected,
    Due,
    FaultFound,
    Item,
    Measured,
    Photo,
    RecordPaper,
    render,
)
from reports.pdf.service_sheet import Caution

MM = 72 / 25.4
RULES = Path(__file__).parents[3] / "fixtures/reference/rule_sheet_gb.json"


def by_pypdf(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def by_pdfium(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return "\n".join(page.get_textpage().get_text_range() for page in document)


@pytest.fixture(params=[by_pypdf, by_pdfium], ids=["pypdf", "pdfium"])
def read(request: pytest.FixtureRequest) -> Any:
    return request.param


def close(words: str) -> str:
    return "".join(words.split())


def pages(pdf: bytes) -> int:
    return len(PdfReader(io.BytesIO(pdf)).pages)


def picture(shade: int = 90) -> str:
    kept = io.BytesIO()
    Image.new("RGB", (640, 480), (shade, 140, 160)).save(kept, "PNG")
    kept.seek(0)
    return b64encode(photos.thumbnail(photos.clean(kept))).decode()


@pytest.fixture(scope="module")
def paper() -> RecordPaper:
    return RecordPaper(
        title="Inspection",
        number="QM-1042",
        plate=Plate(
            number="QR-0427", kind="Cement mixer, 90 litres", serial="88-1204", depot="Quarry Mill",
            more=(PlateField("Date and time", "25 Nov 2026 07:31"),),
        ),
        printed=Printed(at="26 Nov 2026 08:00", by="Edda Morcombe"),
        weight="stop",
        answer="Stopped the machine: DO NOT USE",
        because=("How the machine stood at the printing: Do not use.",),
        cautions=(Caution("Stop", "Isolate and lock off before work."),),
        items=(
            Item("Is the belt guard whole?", "OK", group="Guards"),
            Item("Is the cable whole?", "Wrong", "Cut near the plug", group="Cable", photo="1"),
            Item("Does the RCD trip?", "Could not check", "No supply here", group="Cable"),
            Item("How wide is the gap?", "OK", figure="5 mm", limit="3 to 8 mm (a source)"),
            Item("Is the drain open?", "None on it"),
        ),
        photos=(
            Photo("1", "item 2", jpeg=picture()),
            Photo("2", "the machine", why="Erased on 26 Nov 2026."),
        ),
        bench=(PlateField("Instrument", "Bench tester, serial S-1"),),
        measured=(Measured("Earth path", "0.9 ohm", "at most 0.233 ohm", "A code", "Wrong"),),
        facts=(PlateField("Rule sheet", "Great Britain of 1 Nov 2026"),),
        words=(PlateField("Note", "Seen in the rain"),),
        faults=(FaultFound("Cable: cut", (PlateField("Decision", "Do not use"),)),),
        signed=(PlateField("Name as typed", "Bram Ostrowe"),),
        coming=(Due("Service A", "4 May 2027 or 171.5 h", "Not due yet"),),
        corrections=(
            Corrected("Belt width", "12.6 mm", "11.9 mm", "Bram Ostrowe", "Misread", "QM-1050"),
        ),
        hash="7f3a90bc11de4a02" * 4,
        sealed_at="https://plant.example.org/sealed",
        link="https://plant.example.org/sealed?number=QM-1042&digits=7f3a90bc11de4a02",
    )  # fmt: skip


def texts(value: Any) -> list[str]:
    """Every text of a paper as it is kept, but for what is drawn."""
    if isinstance(value, dict):
        return [
            each
            for key, part in value.items()
            if key not in ("jpeg", "link", "weight")
            for each in texts(part)
        ]
    if isinstance(value, list):
        return [each for part in value for each in texts(part)]
    return [value] if value else []


def kept(paper: RecordPaper) -> Any:
    return json.loads(TypeAdapter(RecordPaper).dump_json(paper))


def longer(value: Any, name: str = "") -> Any:
    """The same with every sentence three times as long, but for what is one of few words."""
    if isinstance(value, dict):
        return {key: longer(part, key) for key, part in value.items()}
    if isinstance(value, list):
        return [longer(part, name) for part in value]
    if name in ("jpeg", "link", "answer", "result", "weight", "strength", "number"):
        return value
    return " ".join([value] * 3) if " " in value else value


def test_everything_can_be_read_back(paper: RecordPaper, read: Any) -> None:
    pdf = render(paper)

    seen = close(read(pdf)).casefold()
    for words in texts(kept(paper)):
        assert close(words).casefold() in seen, words
    assert pages(pdf) == 1
    assert "page1of1" in seen


def test_the_items_stand_in_the_order_asked_each_with_its_word(
    paper: RecordPaper, read: Any
) -> None:
    seen = close(read(render(paper)))
    at = [seen.index(close(item.asked)) for item in paper.items]

    assert at == sorted(at)
    for item, start, end in zip(paper.items, at, [*at[1:], len(seen)], strict=True):
        assert close(item.answer) in seen[start:end]


def test_a_mark_is_a_shape_as_well_as_a_word(paper: RecordPaper) -> None:
    """What is drawn for each answer differs, so that the marks tell without their words."""

    def drawn(answer: str) -> list[tuple[float, ...]]:
        one = replace(
            paper, items=(Item("x", answer),), photos=(), measured=(), corrections=(), cautions=()
        )
        page = pypdfium2.PdfDocument(render(one))[0]
        found = page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=8)
        return [tuple(round(n, 1) for n in each.get_bounds()) for each in found]

    shapes = [drawn(answer) for answer in ("OK", "Wrong", "Could not check", "None on it")]
    assert all(a != b for n, a in enumerate(shapes) for b in shapes[n + 1 :])


def test_equal_papers_are_equal_bytes_after_they_were_kept(paper: RecordPaper) -> None:
    again = TypeAdapter(RecordPaper).validate_python(kept(paper))

    assert again == paper
    assert render(again) == render(paper)
    assert render(replace(paper, answer="Passed")) != render(paper)


def test_a_thumbnail_is_small_and_the_same_each_time() -> None:
    big = io.BytesIO()
    Image.effect_noise((2000, 1500), 60).convert("RGB").save(big, "JPEG")
    big.seek(0)
    data = photos.clean(big)

    small = photos.thumbnail(data)

    assert small == photos.thumbnail(data)
    assert Image.open(io.BytesIO(small)).size == (360, 270)
    assert len(small) < 60_000
    with pytest.raises(photos.PhotoRefused, match="cannot be read"):
        photos.thumbnail(data[:500])


def test_the_photos_are_on_the_paper_numbered(paper: RecordPaper, read: Any) -> None:
    pdf = render(replace(paper, photos=tuple(
        Photo(str(n), f"item {n}", jpeg=picture(40 * n)) for n in range(1, 7)
    )))  # fmt: skip

    images = [image for page in PdfReader(io.BytesIO(pdf)).pages for image in page.images]
    assert len(images) == 6
    seen = read(pdf)
    for n in range(1, 7):
        assert f"Photo {n}: item {n}." in " ".join(seen.split())


def test_typed_markup_prints_as_typed(paper: RecordPaper, read: Any) -> None:
    typed = '<b>slip <5 %</b> & <img src="x"> <a href="y">z</a> &lt; </para>'
    odd = replace(
        paper,
        items=(Item(typed, "Wrong", typed, typed, typed, typed),),
        photos=(Photo("1", typed),),
        measured=(Measured(typed, typed, typed, typed, "Wrong"),),
        faults=(FaultFound(typed, (PlateField(typed, typed),)),),
        words=(PlateField("Note", typed),),
        signed=(PlateField("Name as typed", typed),),
        corrections=(Corrected(typed, typed, typed, typed, typed, typed),),
    )

    assert close(read(render(odd))).count(close(typed)) >= 18


@pytest.mark.parametrize("name", ["Łukasz Wiśniewski", "Ελένη", "Петренко", "Šimůnek", "Nguyễn Ơn"])
def test_names_print_right(paper: RecordPaper, read: Any, name: str) -> None:
    seen = read(
        render(
            replace(
                paper,
                printed=replace(paper.printed, by=name),
                signed=(PlateField("Name as typed", name),),
                corrections=(replace(paper.corrections[0], who=name),),
            )
        )
    )

    assert seen.count(name) == 3
    assert "U+" not in seen


def test_texts_three_times_as_long_are_printed_whole(paper: RecordPaper, read: Any) -> None:
    long = TypeAdapter(RecordPaper).validate_python(longer(kept(paper)))

    pdf = render(long)

    seen = close(read(pdf)).casefold()
    for words in texts(kept(long)):
        # The running head is cut where it is longer than its line; it says nothing of its own.
        assert close(words).casefold() in seen, words
    for page in pypdfium2.PdfDocument(pdf):
        for each in page.get_objects(max_depth=8):
            left, bottom, right, top = each.get_bounds()
            assert 14 * MM <= left <= right <= 196 * MM
            assert 5.5 * MM <= bottom <= top <= 291 * MM


def longest_list() -> tuple[Point, ...]:
    """The most points that the rule sheet asks of any machine at once."""
    data = json.loads(RULES.read_text())
    rules = sheet_rule.read(data)
    return max(
        (
            rules.points_for(part, family=family, supply=supply, belt_driven=True)
            for family in {each for item in data["look_over"]["items"] for each in item["families"]}
            for supply in data["supplies"]
            for part in ("look-over", "inspection")
        ),
        key=len,
    )


def as_items(points: tuple[Point, ...], wrong: int = 0) -> tuple[Item, ...]:
    return tuple(
        Item(
            asked=point.words,
            answer="Wrong" if n < wrong else "OK",
            word="Cracked along the weld, about 40 mm long" if n < wrong else "",
            figure=f"5 {point.unit}" if point.unit else "",
            limit=f"{point.limit} ({cited(point.source, point.trust)})" if point.limit else "",
            group=point.group,
            photo=str(n) if n < wrong else "",
        )
        for n, point in enumerate(points)
    )


def test_the_longest_list_of_the_rule_sheet_stands_on_one_page(paper: RecordPaper) -> None:
    """One page with a fault and with as many photos as an inspection takes."""
    points = longest_list()
    assert len(points) >= 36  # a masonry saw at 230 V, counted by hand in the list
    full = replace(
        paper, items=as_items(points, wrong=1), measured=(), corrections=(), photos=tuple(
            Photo(str(n), f"item {n}", jpeg=picture()) for n in range(1, 7)
        ),
    )  # fmt: skip

    pdf = render(full)

    assert pages(pdf) == 1
    for read in (by_pypdf, by_pdfium):
        seen = close(read(pdf))
        assert all(close(point.words) in seen for point in points)
    asked = {close(point.words) for point in points}
    assert all(size >= LEAST_POINTS - 0.01 for words, size in letters(pdf) if close(words) in asked)


def letters(pdf: bytes) -> list[tuple[str, float]]:
    """Each piece of lettering and its size [pt]."""
    found = []
    for page in PdfReader(io.BytesIO(pdf)).pages:

        def look(text: str, _: Any, matrix: Any, font: Any, size: float) -> None:
            found.append((text, size * abs(matrix[3])))

        page.extract_text(visitor_text=look)
    return found


def test_what_needs_more_than_a_page_says_overleaf_that_it_goes_on(paper: RecordPaper) -> None:
    faults = tuple(FaultFound(f"Fault {n}: " + "cracked through " * 6) for n in range(30))
    full = replace(paper, items=as_items(longest_list(), wrong=20), faults=faults)

    pdf = render(full)

    assert pages(pdf) == 3
    for read in (by_pypdf, by_pdfium):
        seen = read(pdf)
        assert "What was looked at, continued" in " ".join(seen.split())
        assert "page 3 of 3" in seen
        assert all(close(item.asked) in close(seen) for item in full.items)


def test_its_code_leads_to_the_page_that_says_whether_it_is_as_sealed(paper: RecordPaper) -> None:
    """zxing-cpp, which is no part of what draws it."""
    page = pypdfium2.PdfDocument(render(paper))[0]

    (code,) = zxingcpp.read_barcodes(page.render(scale=3, grayscale=True).to_numpy())

    assert code.text == paper.link


LONG = st.text(max_size=400)


@settings(max_examples=8, deadline=None)
@given(words=LONG, many=st.integers(0, 8), dense=st.booleans())
def test_whatever_people_typed_it_prints(words: str, many: int, dense: bool) -> None:
    told = PlateField(words or "x", words)
    odd = RecordPaper(
        title="Check", number="A-1", plate=Plate(number=words or "x", kind=words),
        printed=Printed(at="now", by=words), weight="care", answer=words, because=(words,),
        items=(Item(words, "Wrong", words, words, words, words),) * many * (3 if dense else 1),
        measured=(Measured(words, words, words, words, "OK"),) * (many // 3),
        faults=(FaultFound(words, (told,) * 3),) * many, words=(told,), signed=(told,),
        corrections=(Corrected(words, words, words, words, words, "A-2"),) * (many // 2),
        photos=(Photo("1", words),) * min(many, 6), coming=(Due(words, words, words),),
    )  # fmt: skip

    data = render(odd)

    assert data == render(odd)
    assert pages(data) >= 1
