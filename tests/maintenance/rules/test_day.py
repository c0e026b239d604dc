"""How full a day is, and the order within it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.day import load_text, moved, share


@pytest.mark.parametrize(
    ("planned", "unknown", "minutes", "words"),
    [
        (95, 0, 420, "95 of 420 min"),
        (455, 0, 420, "455 of 420 min, 35 min too many"),
        (60, 2, None, "60 min given out, 2 jobs without an estimate"),
        (0, 0, 0, "off this day"),
        (30, 1, 0, "off this day, yet 30 min given out, 1 job without an estimate"),
    ],
)
def test_how_full_a_day_is(planned: int, unknown: int, minutes: int | None, words: str) -> None:
    assert load_text(planned=planned, unknown=unknown, minutes=minutes) == words


@given(st.integers(0, 10_000), st.integers(0, 40))
def test_the_shares_never_come_to_more_than_the_depot_has(minutes: int, fitters: int) -> None:
    one = share(depot_minutes=minutes, fitters=fitters)

    assert 0 <= one * fitters <= minutes
    assert fitters == 0 or minutes - one * fitters < fitters


@given(st.lists(st.integers(), unique=True, min_size=1), st.data(), st.booleans())
def test_one_moves_a_place_and_the_others_keep_their_order(
    order: list[int], data: st.DataObject, earlier: bool
) -> None:
    which = data.draw(st.sampled_from(order))

    new = moved(order, which, earlier=earlier)

    assert [each for each in new if each != which] == [each for each in order if each != which]
    step = new.index(which) - order.index(which)
    end = order[0 if earlier else -1] == which
    assert step == (0 if end else -1 if earlier else 1)
