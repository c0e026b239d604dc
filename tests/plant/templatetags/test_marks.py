"""Every mark is a shape and a word, and no two words of one set share a shape."""

import pytest
from django.template import engines
from django.template.loader import render_to_string

from maintenance.models import Job
from maintenance.rules import due, fitness
from maintenance.rules.place import PLACES
from plant.models import Place
from plant.templatetags.marks import NoSuchMark, caution, mark, mark_of

SETS: dict[str, list[str]] = {
    "place": [place.word for place in PLACES],
    "fitness": list(fitness.MARKS),
    "due": [due.NOTHING, due.DUE_SOON, due.OVERDUE, due.NEEDED_BEFORE_USE],
    "job": [state.label for state in Job.State],
    "answers": ["OK", "Wrong", "Could not check"],
    "cautions": ["Stop", "Take care", "Note"],
    "system": ["Well", "Not well"],
}


@pytest.mark.parametrize("words", SETS.values(), ids=SETS)
def test_shapes_alone_tell_the_words_of_a_set_apart(words: list[str]) -> None:
    shapes = [mark_of(word).shape for word in words]

    assert len(set(shapes)) == len(words)


def test_only_nothing_due_has_no_shape() -> None:
    bare = [word for words in SETS.values() for word in words if not mark_of(word).shape]

    assert bare == [due.NOTHING]


@pytest.mark.parametrize("place", Place)
def test_key_of_a_place_gives_its_word(place: Place) -> None:
    assert mark_of(place.value).word == place.label == mark_of(place.label).word


@pytest.mark.parametrize("state", Job.State)
def test_key_of_a_job_state_gives_its_word(state: Job.State) -> None:
    assert mark_of(state.value).word == state.label


def test_mark_is_read_out_as_its_word_only() -> None:
    text = mark("Do not use")

    assert 'aria-hidden="true"' in text
    assert text.endswith("<span>Do not use</span></span>")
    assert "style=" not in text


def test_unknown_word_is_named() -> None:
    with pytest.raises(NoSuchMark, match="'Broken'"):
        mark("Broken")


def test_caution_has_its_own_frame_and_escapes_its_words() -> None:
    text = caution("Take care", "Belt <b>.")

    assert text.startswith('<p class="take-care">')
    assert "<strong>Take care.</strong> Belt &lt;b&gt;." in text
    with pytest.raises(NoSuchMark):
        caution("OK", "No caution at all.")


def test_three_marks_stand_each_under_its_question() -> None:
    text = render_to_string(
        "_marks.html", {"place": "out", "fitness": "Do not use", "due": "overdue", "site": "Plot 4"}
    )

    assert [text.index(w) for w in ("Where it is", "Out", "Plot 4", "May it be used", "Do not use")]
    assert text.count("<svg") == 3


def test_tag_works_in_a_template() -> None:
    template = engines["django"].from_string("{% load marks %}{% mark word %}")

    assert "Laid up" in template.render({"word": "Laid up"})
