"""Which job is the trouble of an earlier one again."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.again import WINDOW, Closed, Trouble, before, is_same, plain, share_text

DAY = date(2026, 3, 31)


def words(*given: str) -> Trouble:
    return Trouble(words=frozenset(given))


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("Slips when loaded.", "slips  when LOADED", True),
        ("Réparé: câble", "repare cable", True),
        ("Slips when loaded", "Slips", False),
        ("", "", False),
        ("...", "?", False),
        ("１１０ V", "110 v", True),
    ],
)
def test_the_same_words_however_they_are_written(one: str, other: str, same: bool) -> None:
    assert is_same(words(one), words(other)) is same


def test_the_same_item_whatever_the_words() -> None:
    one = Trouble(items=frozenset({"drum"}), words=frozenset({"grinds"}))
    other = Trouble(items=frozenset({"drum", "cable_plug"}), words=frozenset({"stuck"}))

    assert is_same(one, other)
    assert not is_same(one, Trouble(items=frozenset({"stand"})))


@pytest.mark.parametrize(("days", "found"), [(0, 7), (30, 7), (31, None)])
def test_thirty_days_and_no_more(days: int, found: int | None) -> None:
    closed = [Closed(pk=7, on=DAY - timedelta(days=days), trouble=words("leaks"))]

    assert before(words("Leaks"), closed, on=DAY) == found


def test_the_latest_one_counts() -> None:
    closed = [
        Closed(pk=pk, on=DAY - timedelta(days=days), trouble=words("leaks"))
        for pk, days in ((3, 20), (9, 25), (4, 2))
    ]

    assert before(words("leaks"), closed, on=DAY) == 4


def test_too_few_jobs_give_no_share() -> None:
    assert share_text(again=2, closed=9) == "2 of 9: fewer than 10 jobs, too few for a share"
    assert share_text(again=3, closed=40) == "3 of 40, 7.5 %"


@given(st.text(max_size=60))
def test_plain_words_stay_what_they_are(text: str) -> None:
    assert plain(plain(text)) == plain(text)


@given(st.integers(-60, 60))
def test_nothing_later_and_nothing_older_than_the_window(days: int) -> None:
    closed = [Closed(pk=1, on=DAY - timedelta(days=days), trouble=words("x"))]

    assert (before(words("x"), closed, on=DAY) == 1) is (0 <= days <= WINDOW.days)
