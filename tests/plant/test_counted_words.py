"""A figure with its noun: told in the reader's language, sealed as written."""

from collections.abc import Iterator

import pytest

from maintenance.rules.words import either_text, figure_as_written, figure_text, interval_text
from plant import translate
from plant.counted_words import _COUNTED, count_text, counted_name
from plant.models import Measure


@pytest.fixture
def elsewhere() -> Iterator[None]:
    one, counted = translate._one[:], translate._counted[:]
    translate.look_up_by(
        lambda text: f"⟦{text}⟧",
        lambda singular, plural, count: f"⟦{singular if count == 1 else plural}⟧",
    )
    yield
    translate._one[:], translate._counted[:] = one, counted


@pytest.mark.parametrize("noun", _COUNTED)
def test_one_is_told_apart_from_several(noun: str) -> None:
    assert (count_text(1, noun), count_text(2, noun)) == (f"1 {noun}", f"2 {noun}s")


@pytest.mark.parametrize("measure", Measure.values)
def test_what_any_meter_counts_can_be_told(measure: str) -> None:
    assert counted_name(measure) == measure
    assert figure_text(4200, measure) == ("420.0 h" if measure == "hours" else f"420 {measure}")


@pytest.mark.usefixtures("elsewhere")
@pytest.mark.parametrize("measure", Measure.values)
def test_a_figure_is_sealed_in_one_language(measure: str) -> None:
    hours = measure == "hours"
    assert figure_as_written(10, measure) == ("1.0 h" if hours else f"1 {measure[:-1]}")
    assert figure_as_written(4200, measure) == ("420.0 h" if hours else f"420 {measure}")
    assert ("⟦" in interval_text(4200, measure)) is not hours


def test_what_comes_first_of_two_or_three() -> None:
    assert either_text(["100 h"]) == "100 h"
    assert either_text(["100 h", "3 months"]) == "100 h or 3 months"
    assert either_text(["100 h", "3 months", "2 weeks"]) == "100 h or 3 months or 2 weeks"
