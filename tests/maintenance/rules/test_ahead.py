"""The weeks ahead: what falls on which day, and nothing lost or counted twice."""

from datetime import date, timedelta

import pytest
from dateutil.rrule import DAILY, MONTHLY, rrule
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.ahead import Work, falls_on, look_ahead

WEDNESDAY = date(2026, 3, 4)


def weekdays(day: date) -> bool:
    return day.weekday() < 5


def told(works: list[Work], **more: object) -> dict[date, tuple[int, int]]:
    given = {"start": WEDNESDAY, "is_open": weekdays, "minutes_on": lambda day: 480} | more
    return {
        day.on: (day.needed, day.count)
        for week in look_ahead(works, **given)
        for day in week.days
        if day.count
    }


def test_the_first_week_ends_on_its_sunday_and_eight_are_shown() -> None:
    weeks = look_ahead([], start=WEDNESDAY, is_open=weekdays, minutes_on=lambda day: 480)

    assert [week.first for week in weeks][:2] == [WEDNESDAY, date(2026, 3, 9)]
    assert len(weeks) == 8
    assert weeks[-1].days[-1].on == date(2026, 4, 26)
    assert [week.available for week in weeks][:2] == [3 * 480, 5 * 480]


def test_work_on_a_closed_day_is_done_on_the_last_open_day_before_it() -> None:
    assert told([Work(on=date(2026, 3, 8), minutes=30)]) == {date(2026, 3, 6): (30, 1)}


def test_work_that_is_past_stands_on_today() -> None:
    assert told([Work(on=date(2026, 1, 1), minutes=30)]) == {WEDNESDAY: (30, 1)}


def test_on_a_closed_day_what_is_past_waits_for_the_first_open_one() -> None:
    found = told([Work(on=date(2026, 1, 1), minutes=30)], start=date(2026, 3, 7))

    assert found == {date(2026, 3, 9): (30, 1)}


def test_weekly_work_stands_in_every_week() -> None:
    found = told([Work(on=date(2026, 3, 6), minutes=15, every_days=7)])

    assert found == {date(2026, 3, 6) + timedelta(days=7 * n): (15, 1) for n in range(8)}


def test_a_depot_that_is_never_open_still_loses_no_work() -> None:
    weeks = look_ahead(
        [Work(on=WEDNESDAY, minutes=15)], start=WEDNESDAY, is_open=lambda day: False,
        minutes_on=lambda day: 480,
    )  # fmt: skip

    assert sum(week.needed for week in weeks) == 15
    assert sum(week.available for week in weeks) == 0


def test_looking_ahead_by_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="one week"):
        look_ahead([], start=WEDNESDAY, is_open=weekdays, minutes_on=lambda day: 0, weeks=0)


days = st.dates(date(2025, 6, 1), date(2026, 12, 31))


@given(on=days, every=st.integers(1, 60))
def test_days_come_back_as_in_the_calendar_rule(on: date, every: int) -> None:
    """Against dateutil's recurrence rules (RFC 5545), from what is past or from its own day."""
    until = WEDNESDAY + timedelta(days=55)
    start = max(on, WEDNESDAY)

    found = list(falls_on(Work(on=on, minutes=1, every_days=every), start=WEDNESDAY, until=until))

    outside = [each.date() for each in rrule(DAILY, interval=every, dtstart=start, until=until)]
    assert found == outside


@given(on=st.dates(date(2026, 3, 4), date(2026, 4, 30)).filter(lambda d: d.day <= 28))
def test_months_come_back_as_in_the_calendar_rule(on: date) -> None:
    until = date(2026, 12, 31)

    found = list(falls_on(Work(on=on, minutes=1, every_months=1), start=WEDNESDAY, until=until))

    outside = [each.date() for each in rrule(MONTHLY, dtstart=on, until=until)]
    assert found == outside


@given(
    works=st.lists(
        st.builds(
            Work, on=days, minutes=st.integers(1, 600),
            every_days=st.one_of(st.none(), st.integers(3, 90)),
        ),
        max_size=12,
    ),
    open_on=st.sets(st.integers(0, 6)),
)  # fmt: skip
def test_every_minute_stands_on_one_day_and_on_an_open_one(
    works: list[Work], open_on: set[int]
) -> None:
    weeks = look_ahead(
        works, start=WEDNESDAY, is_open=lambda day: day.weekday() in open_on,
        minutes_on=lambda day: 60,
    )  # fmt: skip

    last = weeks[-1].days[-1].on
    wanted = sum(
        work.minutes for work in works for _ in falls_on(work, start=WEDNESDAY, until=last)
    )
    assert sum(week.needed for week in weeks) == wanted
    if open_on:
        assert all(day.is_open for week in weeks for day in week.days if day.count)
