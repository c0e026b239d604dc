"""The texts of the help: short, sourced, whole; no page asks for one that is not there."""

import copy
import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template
from PIL import Image

from maintenance.rules.sheet import read as read_sheet
from maintenance.templatetags.pictures import pictures
from maintenance.views.drive import MEASURES
from plant.contents.help import drawing, of_figure
from plant.contents.workout import told
from plant.drives.workout import work_out
from plant.help_texts import BELT_DRAWINGS, FILE, HelpRefused, help_texts, read
from plant.templatetags.marks import mark_of

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def sheet():
    return read_sheet(json.loads(FILE.with_name("rule_sheet_gb.json").read_text(encoding="utf-8")))


def test_why_is_said_in_80_words_with_its_source():
    for each in help_texts().whys.values():
        assert len(each.words.split()) <= 80, each.key
        assert each.source, each.key
        assert not each.drawing or each.drawing in {*BELT_DRAWINGS, *pictures()}, each.key


def test_every_question_of_the_check_says_why_from_the_source_of_the_question(sheet):
    for question in sheet.questions:
        why = help_texts().whys[f"check.{question.key}"]
        assert (why.title, why.drawing) == (question.short, question.drawing)
        assert (why.source, why.trust) == (question.source, question.trust)


def test_every_electrical_reading_and_every_measure_says_why(sheet):
    asked = {f"reading.{each.key}" for form in sheet.test_forms for each in form.asked}
    measures = {f"measure.{address}" for _, address in MEASURES}

    assert asked | measures <= help_texts().whys.keys()


def test_every_figure_of_a_drive_says_what_it_means():
    results = told(work_out(help_texts().drive)).results

    assert len(results) > 15
    assert [each.key for each in results if of_figure(each.key) is None] == []


def test_no_page_asks_for_a_text_that_is_not_there():
    asked = set()
    for page in ROOT.glob("*/templates/**/*.html"):
        asked |= set(re.findall(r'{% why "([^"]+)"', page.read_text(encoding="utf-8")))
    for view in ROOT.glob("*/views/*.py"):
        asked |= set(re.findall(r'reason="([^"]+)"', view.read_text(encoding="utf-8")))

    assert {"marks", "isolate", "due", "planned_point", "belt.verdict"} <= asked
    assert asked <= help_texts().whys.keys()


def test_a_text_that_is_missing_is_refused_but_one_of_a_strange_rule_sheet_is_left_out():
    with pytest.raises(HelpRefused):
        Template('{% load help %}{% why "no_such" %}').render(Context())
    assert not Template('{% load help %}{% why_of "check" "no_such" %}').render(Context()).strip()


def test_a_file_that_says_too_much_or_the_same_twice_is_refused():
    content = json.loads(FILE.read_text(encoding="utf-8"))
    long, twice, bare = copy.deepcopy(content), copy.deepcopy(content), copy.deepcopy(content)
    long["why"][0]["words"] = "word " * 81
    twice["words"].append(twice["words"][0])
    del bare["why"][0]["source"]

    for broken in (long, twice, bare):
        with pytest.raises(HelpRefused):
            read(broken)


def test_a_guide_is_a_page_of_300_to_500_words_with_pictures_that_exist():
    guides = help_texts().guides
    assert guides.keys() == {
        "operator", "fitter", "foreman", "desk", "builder", "manager", "safety", "administrator",
    }  # fmt: skip
    for guide in guides.values():
        assert 300 <= len(guide.text.split()) <= 500, guide.key
        assert any(step.pictures or step.drawing or step.marks for step in guide.steps), guide.key
        assert any(step.care for step in guide.steps), guide.key
        for step in guide.steps:
            assert set(step.pictures) <= pictures().keys(), (guide.key, step.head)
            assert all(mark_of(word) for word in step.marks)
            assert not step.drawing or drawing(step.drawing), (guide.key, step.head)


def test_words_follow_our_own_rules():
    texts = help_texts()
    said = [each.words for each in texts.whys.values()] + [each.means for each in texts.words]
    said += [each.text for each in texts.guides.values()]

    for words in said:
        assert not re.search(r"!|\be\.g\.|\bi\.e\.|\betc\b|stretch", words), words
        # A figure of length or force stands with its unit.
        assert not re.search(r"\d(mm|N|ms|ohm|h)\b", words), words


def test_every_guide_has_pictures_of_its_pages_light_told_in_words_and_of_the_size_that_is_said():
    folder = Path(settings.BASE_DIR) / "plant" / "static"
    shots = [
        (guide.key, step.shot)
        for guide in help_texts().guides.values()
        for step in guide.steps
        if step.shot
    ]

    for key in help_texts().guides:
        assert 2 <= sum(of == key for of, _ in shots) <= 3, key
    for _, shot in shots:
        file = folder / shot.file
        assert file.stat().st_size <= 40_000, shot.file
        with Image.open(file) as picture:
            assert picture.size == shot.size, shot.file
        assert len(shot.words.split()) >= 12, shot.name
    kept = {f"plant/guide/{each.name}" for each in (folder / "plant/guide").iterdir()}
    assert kept == {shot.file for _, shot in shots}


def test_the_pictures_of_the_guide_that_phones_keep_are_kept_with_it(client):
    worker = client.get("/sw.js").content.decode()
    guide = client.get("/help/guides/operator").content.decode()

    shown = re.findall(r'<img src="([^"]+)"', guide)
    assert len(shown) == 3
    assert all(f'"{address}"' in worker for address in shown)
