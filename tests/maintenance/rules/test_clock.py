"""The moment that counts for news from a phone, whatever its clock says."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.clock import AGREES, OLD, effective

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
spans = st.timedeltas(timedelta(days=-900), timedelta(days=900))
waits = st.timedeltas(timedelta(0), timedelta(days=60))


def test_a_right_clock_is_taken_at_its_word() -> None:
    told = effective(
        device=NOON - timedelta(hours=5), sent=NOON - timedelta(seconds=3), received=NOON
    )

    assert (told.at, told.clock, told.held) == (NOON - timedelta(hours=5), "", False)


def test_a_slow_clock_is_put_right_and_said_so() -> None:
    slow = timedelta(hours=3, minutes=5)
    told = effective(device=NOON - slow - timedelta(hours=1), sent=NOON - slow, received=NOON)

    assert told.at == NOON - timedelta(hours=1)
    assert told.clock == "The phone's clock was 3 h 5 min slow."


def test_a_fast_clock_is_put_right_and_said_so() -> None:
    fast = timedelta(days=365, hours=2)
    told = effective(device=NOON + fast - timedelta(hours=1), sent=NOON + fast, received=NOON)

    assert told.at == NOON - timedelta(hours=1)
    assert told.clock == "The phone's clock was 365 d 2 h fast."


def test_a_clock_changed_between_entry_and_sending_cannot_put_it_in_time_to_come() -> None:
    told = effective(device=NOON + timedelta(days=2), sent=NOON, received=NOON)

    assert told.at == NOON
    assert "time of arrival counts" in told.clock


def test_the_offset_of_the_phone_does_not_matter() -> None:
    there = timezone(timedelta(hours=11))
    told = effective(
        device=(NOON - timedelta(hours=2)).astimezone(there),
        sent=NOON.astimezone(there),
        received=NOON,
    )

    assert told.at == NOON - timedelta(hours=2)


@pytest.mark.parametrize(("age", "held"), [(OLD, False), (OLD + timedelta(minutes=1), True)])
def test_old_news_is_held_for_a_manager(age: timedelta, held: bool) -> None:
    assert effective(device=NOON - age, sent=NOON, received=NOON).held is held


def test_a_moment_without_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        effective(device=datetime(2026, 1, 1), sent=NOON, received=NOON)


@given(error=spans, waited=waits, travel=st.timedeltas(timedelta(0), AGREES))
def test_a_steady_clock_however_wrong_gives_the_true_moment_to_the_travel_time(
    error: timedelta, waited: timedelta, travel: timedelta
) -> None:
    true = NOON - waited - travel
    told = effective(device=true + error, sent=NOON - travel + error, received=NOON)

    # A clock that is off by no more than this cannot be told from a slow line, and is left alone.
    assert abs(told.at - true) <= AGREES + travel
    assert told.at <= NOON


@given(first=waits, second=waits, error=spans)
def test_the_order_of_two_events_on_one_phone_is_kept(
    first: timedelta, second: timedelta, error: timedelta
) -> None:
    earlier, later = sorted((first, second), reverse=True)
    moments = [
        effective(device=NOON - wait + error, sent=NOON + error, received=NOON).at
        for wait in (earlier, later)
    ]

    assert moments == sorted(moments)
