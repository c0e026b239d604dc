"""Every question of the check has a drawing of its own, and nothing else is ever put on a page."""

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.template import engines
from django.test import Client
from django.urls import reverse
from django.utils.html import escape
from django.utils.timezone import now

from maintenance.actions.check import questions
from maintenance.rules.sheet import read
from maintenance.templatetags import pictures
from maintenance.templatetags.pictures import FOLDER, KEY, PictureRefused, picture
from plant.models import Machine

SHEETS = sorted(Path(__file__).parents[3].glob("fixtures/reference/rule_sheet_*.json"))
FILES = sorted(FOLDER.glob("*.svg"))
SHAPES = {"svg", "g", "path", "circle", "ellipse", "rect"}
SAID = {
    "viewBox", "transform", "d", "cx", "cy", "r", "rx", "ry", "x", "y", "width", "height",
    "fill", "fill-opacity", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin",
    "stroke-dasharray",
}  # fmt: skip
SVG = "{http://www.w3.org/2000/svg}"
every_file = pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)


def keys_asked() -> set[str]:
    sheets = [read(json.loads(path.read_text(encoding="utf-8"))) for path in SHEETS]
    return {question.drawing for sheet in sheets for question in sheet.questions}


def elements(path: Path) -> list[ElementTree.Element]:
    return list(ElementTree.parse(path).iter())


def test_every_question_has_its_picture_and_no_picture_is_left_over() -> None:
    assert len(keys_asked()) > 50
    assert {path.stem for path in FILES} == keys_asked()


@every_file
def test_file_holds_shapes_only(path: Path) -> None:
    found = elements(path)

    assert {each.tag.removeprefix(SVG) for each in found} <= SHAPES
    assert {name for each in found for name in each.attrib} <= SAID
    assert not any((each.text or "").strip() or (each.tail or "").strip() for each in found)
    assert len(found) > 3
    assert KEY.fullmatch(path.stem)


@every_file
def test_file_is_small(path: Path) -> None:
    assert path.stat().st_size < 1200


@every_file
def test_file_takes_the_ink_of_its_page_and_one_tone_of_it(path: Path) -> None:
    found = elements(path)

    colours = {each.get(name) for each in found for name in ("fill", "stroke")}
    tones = {each.get("fill-opacity") for each in found}

    assert colours <= {None, "none", "currentColor"}
    assert tones <= {None, ".2"}


@every_file
def test_all_pictures_have_one_frame_and_one_weight(path: Path) -> None:
    top = elements(path)[0]

    assert top.attrib == {
        "viewBox": "0 0 96 72",
        "fill": "none",
        "stroke": "currentColor",
        "stroke-width": "2.5",
        "stroke-linecap": "round",
        "stroke-linejoin": "round",
    }


def test_no_two_pictures_are_alike() -> None:
    drawn = {
        re.sub(r"\s", "", "".join(str(sorted(each.attrib.items())) for each in elements(path)))
        for path in FILES
    }

    assert len(drawn) == len(FILES)


def test_picture_stands_in_the_page_and_is_not_read_out() -> None:
    template = engines["django"].from_string("{% load pictures %}{% picture key %}")

    text = template.render({"key": "belt_guard"})

    assert text.startswith('<svg class="picture" ')
    assert 'aria-hidden="true"' in text
    assert text.count("<svg") == text.count("</svg>") == 1
    assert "xmlns" not in text
    drawn = ElementTree.fromstring(text)
    assert [each.attrib for each in drawn.iter()][1:] == [
        each.attrib for each in elements(FOLDER / "belt_guard.svg")[1:]
    ]


@pytest.mark.parametrize(
    "key", ["", "no_such_part", "../pictures/disc", "disc.svg", "DISC", "<script>", None, 7]
)
def test_unknown_key_gives_a_frame_with_nothing_in_it(key: object) -> None:
    text = picture(key)

    assert len(list(ElementTree.fromstring(text).iter())) == 2
    assert "<rect" in text
    assert "script" not in text


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("Disc 2.svg", "<svg><path d='M0 0'/></svg>"),
        ("disc.svg", "<p>no drawing</p>"),
        ("disc.svg", "<svg><path d='M0 0'/></svg><script>1</script>"),
    ],
    ids=["name", "no drawing", "more than a drawing"],
)
def test_file_that_is_no_picture_is_refused(
    name: str, content: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / name).write_text(content)
    monkeypatch.setattr(pictures, "FOLDER", tmp_path)

    with pytest.raises(PictureRefused, match=re.escape(name)):
        pictures.pictures.__wrapped__()


@pytest.mark.usefixtures("rule_sheet")
def test_each_question_of_a_check_stands_beside_its_own_picture(machine: Machine) -> None:
    page = Client().get(reverse("maintenance:label_check", args=[machine.label_code]))

    legends = re.findall(r"<legend>(.*?)</legend>", page.content.decode(), re.DOTALL)
    _, asked = questions(machine, at=now())
    beside = [text for text in legends if 'class="picture"' in text]
    assert len(beside) == len(asked) > 5
    for text, question in zip(beside, asked, strict=True):
        assert picture(question.drawing) in text
        assert f"<b>{escape(question.short)}.</b> {escape(question.words)}" in text
