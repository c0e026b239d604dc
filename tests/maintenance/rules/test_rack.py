"""How few parts may lie on the rack, and how old they are."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from maintenance.rules.rack import (
    lowest_count,
    lowest_in_place,
    oldest_left,
    smallest_with,
    store_words,
)

ON = date(2026, 11, 25)


def test_a_van_is_filled_by_what_was_taken_from_it_before_it_is_filled_again() -> None:
    # Poisson by scipy: the smallest n that more than n of come in a week in at most 5 of 100.
    for times in (5, 12, 60):
        taken = [(ON - timedelta(days=round(364 * n / (times - 1))), 2) for n in range(times)]
        found = lowest_in_place(taken, lead_days=30, is_van=True, on=ON)
        assert found is not None
        assert found.count == 2 * int(poisson.ppf(0.95, times * 7 / 365)) + 1
        assert "7 days until a van is filled again (guess; common practice, no source)" in found.why
        rack = lowest_in_place(taken, lead_days=30, is_van=False, on=ON)
        assert rack is not None
        assert rack.count == 2 * int(poisson.ppf(0.95, times * 30 / 365)) + 1
        assert "guess" not in rack.why
        guessed = lowest_in_place(taken, lead_days=None, is_van=False, on=ON)
        assert guessed is not None
        assert "order to rack (guess; common practice, no source)" in guessed.why


def test_a_place_from_which_little_was_taken_says_nothing_of_its_own() -> None:
    seldom = [(ON - timedelta(days=n), 1) for n in range(4)]
    assert lowest_in_place(seldom, lead_days=30, is_van=True, on=ON) is None


@given(mean=st.floats(0, 1500), risk=st.sampled_from([0.01, 0.05, 0.2]))
def test_the_least_number_is_that_of_poissons_distribution(mean: float, risk: float) -> None:
    # scipy.stats.poisson, an independent computation; over 500 the normal curve stands in.
    expected = int(poisson.isf(risk, mean))
    assert abs(smallest_with(mean=mean, risk=risk) - expected) <= (mean > 500) * 1


def test_a_part_seldom_taken_is_kept_once_and_the_reason_is_said() -> None:
    found = lowest_count([(ON - timedelta(days=d), 1) for d in (9, 200, 700)], lead_days=5, on=ON)
    assert found.count == 1
    assert "Keep one: taken 3 times in two years" in found.why


def test_use_and_lead_time_set_the_lowest_count() -> None:
    # 24 pieces in 720 days, 30 days to come: a mean of 1.0. Poisson tables: P(2 or fewer) 0.920,
    # P(3 or fewer) 0.981; so three may be asked for in the time, and one more is kept than three.
    taken = [(ON - timedelta(days=30 * n + 29), 1) for n in range(24)]
    assert lowest_count(taken, lead_days=30, on=ON).count == 4
    assert lowest_count(taken, lead_days=60, on=ON).count > 4
    assert "guess" in lowest_count(taken, lead_days=None, on=ON).why


def test_what_was_taken_more_than_two_years_ago_does_not_count() -> None:
    old = [(ON - timedelta(days=731 + n), 5) for n in range(20)]
    assert "taken 0 times" in lowest_count(old, lead_days=5, on=ON).why


@given(
    received=st.lists(st.tuples(st.dates(date(2015, 1, 1), ON), st.integers(1, 9)), max_size=8),
    left=st.integers(-3, 60),
)
def test_the_oldest_left_is_found_as_by_taking_the_oldest_one_by_one(
    received: list[tuple[date, int]], left: int
) -> None:
    pieces = sorted(day for day, count in received for _ in range(count))
    known = 0 < left <= len(pieces)
    assert oldest_left(received, left=left) == (pieces[-left] if known else None)


@pytest.mark.parametrize(
    ("came", "old"), [(date(2020, 11, 25), True), (date(2020, 11, 26), False), (None, False)]
)
def test_a_belt_of_six_years_is_said_to_be_old(came: date | None, old: bool) -> None:
    assert bool(store_words(came, on=ON)) is old
