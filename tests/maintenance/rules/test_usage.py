"""Hours a day and forecasts, checked against scipy's Theil-Sen slopes."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from maintenance.rules.usage import (
    DayFigure,
    Rate,
    Reading,
    TooFewReadings,
    forecast,
    plan_day,
    rate,
    recent,
)

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def reading(days: float, hours: float) -> Reading:
    return (NOON + timedelta(days=days)).timestamp(), round(hours * 10)


def figure(days: int, hours: float) -> DayFigure:
    return NOON.date() + timedelta(days=days), round(hours * 10)


STEADY = [reading(day, 2 * day) for day in range(8)]


def test_steady_use_is_found_exactly() -> None:
    found = rate(STEADY)

    assert (found.low, found.likely, found.high) == pytest.approx((2, 2, 2))
    assert found.readings == 8


def test_one_odd_reading_moves_the_rate_little() -> None:
    odd = [*STEADY[:4], reading(4, 13.9), *STEADY[7:]]

    assert rate(odd).likely == pytest.approx(2, abs=0.2)


@given(steps=st.lists(st.tuples(st.integers(1, 20), st.integers(0, 200)), min_size=4, max_size=25))
def test_the_rate_agrees_with_scipy_and_its_band_is_no_narrower(
    steps: list[tuple[int, int]],
) -> None:
    days, tenths, readings = 0, 0, []
    for gap, gained in steps:
        days, tenths = days + gap, tenths + gained
        readings.append(reading(days, tenths / 10))

    outside = theilslopes(
        [t / 10 for _, t in readings],
        [moment / 86_400 for moment, _ in readings],
        alpha=0.9,
    )
    assume(outside.slope <= 24)
    found = rate(readings)

    assert found.likely == pytest.approx(outside.slope)
    assert found.low <= outside.low_slope + 1e-9
    assert found.high >= min(outside.high_slope, 24) - 1e-9
    assert found.low <= found.likely <= found.high


def test_few_readings_give_a_band_of_half_to_double() -> None:
    found = rate([reading(0, 0), reading(10, 30)])

    assert (found.low, found.likely, found.high) == pytest.approx((1.5, 3, 6))


def test_the_band_never_exceeds_a_day() -> None:
    assert rate([reading(0, 0), reading(1, 20)]).high == 24


@pytest.mark.parametrize("readings", [[], [reading(0, 1)], [reading(0, 1), reading(0, 1)]])
def test_fewer_than_two_readings_are_refused(readings: list[Reading]) -> None:
    with pytest.raises(TooFewReadings, match="two readings"):
        rate(readings)


@pytest.mark.parametrize(
    ("readings", "message"),
    [
        ([reading(0, 5), reading(1, 4)], "falls from 50 to 40"),
        ([reading(0, 0), reading(1, 30)], "more than a day has"),
    ],
)
def test_readings_that_cannot_be_are_refused(readings: list[Reading], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        rate(readings)


def test_a_confidence_of_one_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        rate(STEADY, confidence=1)


def test_only_recent_readings_count_unless_they_are_too_few() -> None:
    old, new = [reading(-200 + n, n) for n in range(5)], [reading(n, 50 + n) for n in range(3)]

    assert recent([*new, *old]) == tuple(new)
    assert recent([*old, new[0]]) == (*old[-2:], new[0])
    assert recent([]) == ()


def test_an_hours_figure_gets_an_earliest_likely_and_latest_day() -> None:
    use = Rate(low=1, likely=2, high=4, readings=9)

    found = forecast(due_tenths=1500, last=figure(0, 130), rate=use)

    assert found is not None
    assert (found.earliest, found.likely, found.latest) == (
        date(2026, 5, 9),
        date(2026, 5, 14),
        date(2026, 5, 24),
    )


def test_a_figure_already_passed_gives_the_day_of_the_reading() -> None:
    found = forecast(due_tenths=100, last=figure(0, 130), rate=rate(STEADY))

    assert found is not None
    assert found.likely == date(2026, 5, 4)


def test_a_machine_that_stands_still_has_no_forecast() -> None:
    still = rate([reading(n, 5) for n in range(4)])

    assert forecast(due_tenths=100, last=figure(4, 5), rate=still) is None


def test_use_that_may_have_stopped_has_no_latest_day() -> None:
    found = forecast(
        due_tenths=100, last=figure(0, 0), rate=Rate(low=0, likely=1, high=2, readings=5)
    )

    assert found is not None
    assert found.latest is None


def test_a_day_beyond_the_calendar_is_not_forecast() -> None:
    slow = Rate(low=0.0, likely=1e-9, high=1.0, readings=5)

    assert forecast(due_tenths=100_000, last=figure(0, 0), rate=slow) is None


def test_the_day_to_plan_for_is_whichever_comes_first() -> None:
    hours = forecast(due_tenths=100, last=figure(0, 0), rate=rate(STEADY))

    assert hours is not None
    assert hours.likely == date(2026, 5, 9)
    assert plan_day(due_on=date(2026, 5, 8), forecast=hours) == date(2026, 5, 8)
    assert plan_day(due_on=date(2026, 5, 10), forecast=hours) == date(2026, 5, 9)
    assert plan_day(due_on=None, forecast=hours) == date(2026, 5, 9)
    assert plan_day(due_on=None, forecast=None) is None
