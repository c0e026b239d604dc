"""What answers to a check mean."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.check import (
    ANSWERS,
    COULD_NOT,
    LEVELS,
    OK,
    WRONG,
    Answer,
    CheckRefused,
    Given,
    Item,
    Level,
    outcome,
)

ITEMS = (
    Item(key="guard", level="always", short="Belt guard"),
    Item(key="label", level="stops", short="Test label"),
    Item(key="wheels", level="decide", short="Wheels"),
)


def answers(**given: Answer) -> dict[str, Given]:
    all_ok: dict[str, Answer] = {"guard": OK, "label": OK, "wheels": OK}
    return {key: Given(answer=a, word="seen") for key, a in (all_ok | given).items()}


@pytest.mark.parametrize(
    ("given_", "mark"),
    [
        ({}, "passed"),
        ({"wheels": COULD_NOT}, "passed"),
        ({"guard": COULD_NOT}, "not passed"),
        ({"label": COULD_NOT}, "not passed"),
        ({"wheels": WRONG}, "decide"),
        ({"wheels": WRONG, "guard": COULD_NOT}, "decide"),
        ({"label": WRONG}, "stop"),
        ({"guard": WRONG, "wheels": WRONG}, "stop"),
    ],
)
def test_the_gravest_answer_makes_the_mark(given_: dict[str, Answer], mark: str) -> None:
    assert outcome(answers(**given_), ITEMS).mark == mark


def test_each_list_keeps_the_order_asked() -> None:
    found = outcome(answers(guard=WRONG, label=WRONG, wheels=COULD_NOT), ITEMS)

    assert found.stops == ("guard", "label")
    assert found.always == ("guard",)
    assert found.decides == ()
    assert found.could_not == ("wheels",)


def test_a_missing_answer_is_refused() -> None:
    some = answers()
    del some["guard"]

    with pytest.raises(CheckRefused) as refused:
        outcome(some, ITEMS)
    assert list(refused.value.problems) == ["guard"]


def test_an_answer_to_what_was_not_asked_is_refused() -> None:
    with pytest.raises(CheckRefused, match="horn: this was not asked"):
        outcome(answers(horn=OK), ITEMS)


@pytest.mark.parametrize("answer", [WRONG, COULD_NOT])
def test_wrong_and_could_not_check_need_a_word(answer: Answer) -> None:
    some = answers() | {"guard": Given(answer=answer, word="  ")}

    with pytest.raises(CheckRefused, match="Belt guard: say in a word"):
        outcome(some, ITEMS)


def test_an_answer_that_does_not_exist_is_refused() -> None:
    some = answers() | {"guard": Given(answer="fine", word="seen")}  # type: ignore[arg-type]

    with pytest.raises(CheckRefused, match="OK, Wrong or Could not check"):
        outcome(some, ITEMS)


@pytest.mark.parametrize(
    ("items", "message"),
    [
        ((), "at least one question"),
        ((*ITEMS, ITEMS[0]), "asked twice"),
        ((Item(key="guard", level="minor"),), "level must be"),  # type: ignore[arg-type]
    ],
)
def test_questions_that_make_no_sense_are_refused(items: tuple[Item, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        outcome(answers(), items)


@given(rows=st.lists(st.tuples(st.sampled_from(LEVELS), st.sampled_from(ANSWERS)), min_size=1))
def test_passed_means_that_nothing_was_wrong_and_all_critical_items_were_seen(
    rows: list[tuple[Level, Answer]],
) -> None:
    items = [Item(key=str(n), level=level) for n, (level, _) in enumerate(rows)]
    given_ = {str(n): Given(answer=a, word="seen") for n, (_, a) in enumerate(rows)}

    found = outcome(given_, items)

    clean = all(a == OK or (a == COULD_NOT and level == "decide") for level, a in rows)
    assert (found.mark == "passed") is clean
    wrong = [str(n) for n, (_, a) in enumerate(rows) if a == WRONG]
    assert sorted((*found.stops, *found.decides), key=int) == wrong
    assert (found.mark == "stop") is any(a == WRONG and level != "decide" for level, a in rows)
