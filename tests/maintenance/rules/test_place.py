"""The moves of a machine between places."""

from itertools import product
from typing import Any, get_args

import pytest

from maintenance.rules.fitness import DO_NOT_USE, MARKS, NOT_YET_PASSED, OK_TO_USE, Mark
from maintenance.rules.place import (
    EVERYBODY,
    MOVES,
    NEEDS,
    PLACES,
    PlaceKey,
    move,
    moves_from,
    refusal,
    word,
)

ALLOWED = {
    ("in yard", "out"),
    ("in yard", "in workshop"),
    ("in workshop", "in yard"),
    ("in yard", "moving"),
    ("in workshop", "moving"),
    ("moving", "in yard"),
    ("moving", "in workshop"),
    ("out", "in yard"),
    ("out", "out"),
    ("in yard", "laid up"),
    ("laid up", "in yard"),
    ("in yard", "missing"),
    ("in workshop", "missing"),
    ("out", "missing"),
    ("moving", "missing"),
    ("laid up", "missing"),
    ("missing", "in yard"),
    ("in yard", "gone"),
    ("in workshop", "gone"),
    ("laid up", "gone"),
    ("missing", "gone"),
}
KEYS = [place.key for place in PLACES]


def asked(start: PlaceKey, to: PlaceKey, mark: Mark = OK_TO_USE, **changed: Any) -> str:
    usual: dict[str, Any] = {"roles": EVERYBODY, "met": set(NEEDS)}
    return refusal(start=start, to=to, mark=mark, **(usual | changed))


@pytest.mark.parametrize(("start", "to"), list(product(KEYS, KEYS)))
def test_every_pair_of_places(start: PlaceKey, to: PlaceKey) -> None:
    assert (asked(start, to) == "") is ((start, to) in ALLOWED)


def test_every_place_has_a_word_and_a_shape_of_its_own() -> None:
    assert set(KEYS) == set(get_args(PlaceKey))
    assert len({place.shape for place in PLACES}) == len({p.word for p in PLACES}) == 7
    assert word("in workshop") == "In workshop"
    assert len({(each.start, each.to) for each in MOVES}) == len(MOVES)


def test_a_machine_that_may_not_be_used_does_not_go_out() -> None:
    assert "Do not use" in asked("in yard", "out", DO_NOT_USE)
    assert "Not yet passed" in asked("in yard", "out", NOT_YET_PASSED)
    assert "Do not use" in asked("out", "out", DO_NOT_USE)


def test_saying_that_it_is_fit_does_not_make_it_fit() -> None:
    assert "Do not use" in asked("in yard", "out", DO_NOT_USE, met={"fit", "passport"})


def test_a_note_is_shown_to_the_hirer_before_it_goes_out() -> None:
    assert "note is shown" in asked("in yard", "out", met={"passport"}, has_note=True)
    assert asked("in yard", "out", met={"passport"}) == ""
    assert "passport" in asked("in yard", "out", met=set())


@pytest.mark.parametrize(("start", "to"), sorted(ALLOWED - {("in yard", "out"), ("out", "out")}))
@pytest.mark.parametrize("mark", MARKS)
def test_a_stopped_machine_can_still_be_brought_in(
    start: PlaceKey, to: PlaceKey, mark: Mark
) -> None:
    assert asked(start, to, mark) == ""


@pytest.mark.parametrize(
    ("start", "to", "roles"),
    [
        ("in yard", "out", {"fitter", "operator"}),
        ("in yard", "in workshop", {"desk"}),
        ("in yard", "laid up", {"desk", "fitter"}),
        ("missing", "in yard", {"desk"}),
        ("missing", "gone", {"foreman"}),
        ("in yard", "missing", {"administrator"}),
    ],
)
def test_each_move_needs_its_role(start: PlaceKey, to: PlaceKey, roles: set[str]) -> None:
    assert "another role" in asked(start, to, roles=roles)


@pytest.mark.parametrize(
    ("start", "to"),
    [("out", "in yard"), ("out", "out"), ("laid up", "in yard"), ("missing", "in yard")],
)
def test_what_comes_back_needs_a_first_look(start: PlaceKey, to: PlaceKey) -> None:
    found = move(start=start, to=to)

    assert found is not None
    assert found.look_wanted == "always"


def test_gone_is_the_end() -> None:
    assert moves_from("gone") == ()
    assert "Enter it afresh" in asked("gone", "in yard")
    assert "cannot go from Out to Gone" in asked("out", "gone")
    assert "job is called off" in asked("missing", "gone", met={"reason"})
