"""When a competence counts.

The notice of 30 days is our own aim; that only competent people test and free machines is the duty
that HSG107 of HSE and the Provision and Use of Work Equipment Regulations 1998 speak of (memory).
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.competence import NOTICE, Held, counting, dates_refusal, ends_soon, refusal

TODAY = date(2026, 11, 4)
_days = st.dates(date(2026, 1, 1), date(2027, 12, 31))
_families = st.sampled_from(["", "mixer", "saw"])


def held(number: str = "N-1", **more: object) -> Held:
    usual: dict[str, object] = {"family": "", "valid_from": date(2025, 1, 1)}
    return Held(number=number, **(usual | more))  # type: ignore[arg-type]


def why(*given: Held, family: str = "mixer", on: date = TODAY) -> str:
    return refusal(given, what="release checks", family=family, on=on)


def test_the_last_day_still_counts_and_the_next_does_not() -> None:
    one = held(valid_until=date(2026, 11, 3))

    assert why(one, on=date(2026, 11, 3)) == ""
    assert why(one, on=date(2026, 11, 4)) == (
        "Your competence for release checks ended on 3 Nov 2026. Ask a foreman or the manager."
    )


def test_what_was_ended_by_hand_counts_no_more_on_that_day() -> None:
    one = held(valid_until=date(2027, 1, 1), ended_on=TODAY)

    assert why(one, on=TODAY - timedelta(days=1)) == ""
    assert "was ended on 4 Nov 2026" in why(one)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((), "You hold no competence for release checks."),
        ((held(family="saw"),), "is for other machines"),
        ((held(valid_from=date(2026, 12, 1)),), "begins on 1 Dec 2026"),
        # The later of two ends is told.
        (
            (held(valid_until=date(2026, 5, 1)), held(valid_until=date(2026, 10, 1))),
            "ended on 1 Oct 2026",
        ),
        # One that begins later does not hide that the last one ran out.
        (
            (held(valid_until=date(2026, 5, 1)), held(valid_from=date(2026, 12, 1))),
            "ended on 1 May 2026",
        ),
    ],
)
def test_what_is_missing_is_said(given: tuple[Held, ...], words: str) -> None:
    assert words in why(*given)


def test_of_several_the_one_that_runs_longest_is_kept() -> None:
    short = held("N-1", valid_until=date(2026, 12, 1))
    long = held("N-2", valid_until=date(2027, 12, 1))
    endless = held("N-3")

    def kept(*given: Held) -> str:
        found = counting(given, family="mixer", on=TODAY)
        assert found is not None
        return found.number

    assert kept(long, short) == "N-2"
    assert kept(endless, long, short) == "N-3"


_one = st.builds(
    lambda family, start, runs, ended: Held(
        number="N-1",
        family=family,
        valid_from=start,
        valid_until=None if runs is None else start + timedelta(days=runs),
        ended_on=ended,
    ),
    _families,
    _days,
    st.none() | st.integers(0, 800),
    st.none() | _days,
)


@given(st.lists(_one, max_size=5), st.sampled_from(["mixer", "saw"]), _days)
def test_one_is_refused_exactly_when_nothing_counts(
    given: list[Held], family: str, on: date
) -> None:
    by_hand = [
        each
        for each in given
        if each.family in ("", family)
        and each.valid_from <= on
        and not (each.valid_until is not None and each.valid_until < on)
        and not (each.ended_on is not None and each.ended_on <= on)
    ]

    assert (refusal(given, what="tests", family=family, on=on) == "") == bool(by_hand)
    assert (counting(given, family=family, on=on) is not None) == bool(by_hand)


@given(st.integers(-400, 400))
def test_an_end_is_said_within_thirty_days_and_not_after_it(days: int) -> None:
    assert timedelta(days=30) == NOTICE
    assert ends_soon(valid_until=TODAY + timedelta(days=days), on=TODAY) == (0 <= days <= 30)


def test_what_has_no_end_never_ends_soon() -> None:
    assert not ends_soon(valid_until=None, on=TODAY)


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (TODAY, None, ""),
        (TODAY, TODAY, ""),
        (TODAY, TODAY - timedelta(days=1), "before its first"),
        (date(2020, 1, 1), TODAY - timedelta(days=1), "past already"),
        (TODAY, date(2037, 1, 1), "ten years"),
    ],
)
def test_days_that_cannot_be_are_refused(first: date, last: date | None, words: str) -> None:
    told = dates_refusal(valid_from=first, valid_until=last, on=TODAY)

    assert (words in told) if words else told == ""
