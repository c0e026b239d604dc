"""A turn of the clock comes once on its day, whatever the clocks do in between."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.timed import last_turn, moment, next_turn

LONDON = ZoneInfo("Europe/London")
ZONES = ("Europe/London", "America/St_Johns", "Pacific/Auckland", "UTC")
MONDAY = {0}
SIX = time(6, 0)
LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)


def at(words: str) -> datetime:
    return datetime.fromisoformat(words).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("now", "day"),
    [
        ("2026-11-30 05:59", "2026-11-23"),
        ("2026-11-30 06:00", "2026-11-30"),
        # Silent until Thursday: the turn of Monday is still the newest.
        ("2026-12-03 11:00", "2026-11-30"),
        # In summer six o'clock is five of UTC.
        ("2026-07-06 04:59", "2026-06-29"),
        ("2026-07-06 05:00", "2026-07-06"),
    ],
)
def test_the_newest_turn_that_has_come(now: str, day: str) -> None:
    found = last_turn(MONDAY, SIX, zone=LONDON, now=at(now), since=LONG_AGO)
    assert found == date.fromisoformat(day)


def test_no_turn_from_before_it_was_set_up() -> None:
    since, now = at("2026-11-30 06:00"), at("2026-12-02 09:00")
    assert last_turn(MONDAY, SIX, zone=LONDON, now=now, since=since) is None
    assert last_turn(MONDAY, SIX, zone=LONDON, now=at("2026-12-07 06:00"), since=since) == date(
        2026, 12, 7
    )
    assert last_turn(set(), SIX, zone=LONDON, now=now, since=LONG_AGO) is None
    assert next_turn(set(), SIX, zone=LONDON, now=now) is None


def test_a_time_that_the_clock_leaves_out_is_as_long_after_the_gap() -> None:
    """Clocks in Great Britain go on at 01:00 UTC of the last Sunday of March (2000/84/EC)."""
    assert moment(date(2026, 3, 29), time(1, 30), LONDON) == at("2026-03-29 01:30")


def test_a_time_that_comes_twice_is_the_first() -> None:
    """Clocks in Great Britain go back at 01:00 UTC of the last Sunday of October (2000/84/EC)."""
    assert moment(date(2026, 10, 25), time(1, 30), LONDON) == at("2026-10-25 00:30")


@given(
    now=st.datetimes(datetime(2000, 1, 9), datetime(2100, 1, 1), timezones=st.just(UTC)),
    name=st.sampled_from(ZONES),
    clock=st.times().map(lambda each: each.replace(second=0, microsecond=0)),
    days=st.sets(st.integers(0, 6), min_size=1),
)
def test_turns_follow_each_other_without_one_left_out(
    now: datetime, name: str, clock: time, days: set[int]
) -> None:
    zone = ZoneInfo(name)
    before = last_turn(days, clock, zone=zone, now=now, since=LONG_AGO)
    after = next_turn(days, clock, zone=zone, now=now)
    assert before is not None
    assert after is not None
    assert moment(before, clock, zone) <= now < after
    assert last_turn(days, clock, zone=zone, now=after, since=LONG_AGO) == (
        after.astimezone(zone).date()
    )
    between = (before + timedelta(days=n) for n in range(1, 9))
    missed = [
        day for day in between
        if day.weekday() in days and moment(day, clock, zone) < after
    ]  # fmt: skip
    assert missed == []
    if before.year > 2036:  # what dateutil reads of a zone ends there
        return
    wall = datetime.combine(before, clock, tzinfo=tz.gettz(name) or tz.UTC)
    assert moment(before, clock, zone) == tz.resolve_imaginary(wall).astimezone(UTC)
