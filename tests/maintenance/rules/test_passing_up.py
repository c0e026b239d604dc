"""A stop is passed up after fifteen minutes in which the depot works, by the clock on its wall."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.rules.passing_up import due_at, is_working

LONDON = ZoneInfo("Europe/London")
CHRISTMAS = {date(2026, 12, 25), date(2026, 12, 28)}


def is_open(day: date) -> bool:
    return day.isoweekday() <= 5 and day not in CHRISTMAS


@pytest.mark.parametrize(
    ("told", "due"),
    [
        ("2026-11-25 07:12", "2026-11-25 07:27"),
        ("2026-11-25 05:00", "2026-11-25 07:15"),
        ("2026-11-25 16:45", "2026-11-25 17:00"),
        # Five minutes of today, ten of the next day.
        ("2026-11-25 16:55", "2026-11-26 07:10"),
        ("2026-11-25 17:00", "2026-11-26 07:15"),
        ("2026-11-27 16:55", "2026-11-30 07:10"),
        # Friday and Monday are closed, the days between are a weekend.
        ("2026-12-24 16:50", "2026-12-29 07:05"),
        # The clocks went back in the night before.
        ("2026-10-23 16:55", "2026-10-26 07:10"),
    ],
)
def test_only_working_minutes_count(told: str, due: str) -> None:
    heard = datetime.fromisoformat(told).replace(tzinfo=LONDON)
    expected = datetime.fromisoformat(due).replace(tzinfo=LONDON)

    assert due_at(heard, zone=LONDON, is_open=is_open) == expected


@given(
    st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)),
    st.sampled_from(["Europe/London", "America/New_York", "Pacific/Auckland", "Asia/Kolkata"]),
)
@settings(max_examples=60, deadline=None)
def test_a_clock_that_is_read_each_minute_finds_the_same_moment(told: datetime, zone: str) -> None:
    """The other way: minute by minute with dateutil, which reads the zones by code of its own."""
    told = told.replace(second=0, microsecond=0)
    wall, at, left = tz.gettz(zone), told, 15
    while left:
        local = at.astimezone(wall)
        minutes = local.hour * 60 + local.minute
        left -= is_open(local.date()) and 7 * 60 <= minutes < 17 * 60
        at += timedelta(minutes=1)

    assert due_at(told, zone=ZoneInfo(zone), is_open=is_open) == at
    assert is_working(at - timedelta(minutes=1), zone=ZoneInfo(zone), is_open=is_open)


def test_a_depot_that_never_opens_passes_nothing_up() -> None:
    told = datetime(2026, 11, 25, 9, tzinfo=UTC)

    assert due_at(told, zone=LONDON, is_open=lambda day: False) is None
    assert not is_working(told, zone=LONDON, is_open=lambda day: False)
