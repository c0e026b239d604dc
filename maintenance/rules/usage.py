"""Use a day from meter readings, and the day on which a figure is likely reached.

The meter counts hours, or starts, strokes and the like; both are kept in tenths.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from itertools import pairwise
from math import ceil, floor, sqrt
from statistics import NormalDist
from typing import NamedTuple, TypeAlias

from plant.translate import gettext

# The moment in seconds since 1970, which no summer time puts forward or back, and the total then,
# in tenths.
Reading: TypeAlias = tuple[float, int]
# The same by the day of the depot.
DayFigure: TypeAlias = tuple[date, int]

DAY_S = 86_400
HOURS_IN_A_DAY = 24.0
FEW_READINGS = 4


# From when a machine first goes out, so long counts for the share of its days out.
DAYS_OUT_WINDOW = 90
HOURS_A_DAY_OUT = 4.0
"""[h/d] Running hours of a day out, where nothing of the machine says more.

Common practice, no source: half a working day.
"""
BAND_OF_AN_ESTIMATE = 2.0
"""The band of an estimate runs from the likely figure divided by this to it times this."""

# Tenths a second to units a day: a whole number, so that steady use is found exactly.
_PER_DAY = DAY_S // 10
_LAST_DAY = date.max.toordinal()


class TooFewReadings(ValueError):
    """Fewer than two readings at different times: use the days out instead."""


@dataclass(frozen=True, kw_only=True)
class Rate:
    """Use a day, the band in which it very likely lies, and how many readings say so."""

    low: float
    likely: float
    high: float
    readings: int


class Forecast(NamedTuple):
    """When the meter reaches a figure; latest is None where use may have stopped altogether."""

    earliest: date
    likely: date
    latest: date | None
    rate: Rate | None


def recent(readings: Sequence[Reading], *, days: int = 90, least: int = 3) -> tuple[Reading, ...]:
    """The readings of the last days before the newest, or the newest few if those are too few.

    Source:
        Common practice, no source: 90 days and three readings.
    """
    ordered = sorted(readings)
    if not ordered:
        return ()
    since = ordered[-1][0] - days * DAY_S
    inside = [reading for reading in ordered if reading[0] >= since]
    return tuple(inside if len(inside) >= least else ordered[-least:])


def rate(
    readings: Sequence[Reading],
    *,
    confidence: float = 0.9,
    most_a_day: float = HOURS_IN_A_DAY,
) -> Rate:
    """Hours, or counts, a day: the median of the slopes between all pairs of readings.

    One odd reading moves it little. With fewer than four readings the band is from half to
    double the likely rate (our own rule), since so few slopes say nothing about their spread.

    Args:
        readings: (moment, total in tenths), in any order; questioned ones left out.
        confidence: of the band, between 0 and 1.
        most_a_day: what no day can exceed: 24 of hours; of counts there is no such figure.

    Returns:
        [1/d] all three figures; the band never above what a day can have.

    Raises:
        TooFewReadings: fewer than two readings at different times.
        ValueError: the meter falls, or gains more than a day can have on the whole.

    Source:
        Sen, Estimates of the regression coefficient based on Kendall's tau, Journal of the
        American Statistical Association 63 (1968) 1379-1389 (from memory), without ties.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
    ordered = sorted(readings)
    for earlier, later in pairwise(ordered):
        if later[1] < earlier[1]:
            raise ValueError(f"the meter falls from {earlier[1]} to {later[1]} tenths")
    slopes = sorted(
        [
            (tenths - before) * _PER_DAY / (at - since)
            for number, (since, before) in enumerate(ordered)
            for at, tenths in ordered[number + 1 :]
            if at > since
        ]
    )
    if not slopes:
        raise TooFewReadings(gettext("a use rate needs two readings at different times"))
    likely = (slopes[(len(slopes) - 1) // 2] + slopes[len(slopes) // 2]) / 2
    if likely > most_a_day:
        raise ValueError(f"{likely:.1f} a day is more than a day has")
    low, high = _band(slopes, likely=likely, count=len(ordered), confidence=confidence)
    return Rate(low=low, likely=likely, high=min(high, most_a_day), readings=len(ordered))


def days_out(spans: Sequence[tuple[date, date | None]], *, since: date, until: date) -> int:
    """How many calendar days the machine was out, both ends counted, each day once.

    Args:
        spans: first and last day of each stay; None: it is still out.
        since, until: the window, both days counted.
    """
    counted, after = 0, since.toordinal()
    for first, last in sorted(spans, key=lambda span: span[0]):
        begin = max(first.toordinal(), after)
        end = min(last or until, until).toordinal() + 1
        if end > begin:
            counted, after = counted + end - begin, end
    return counted


def run_down(
    spans: Sequence[tuple[date, date | None]],
    *,
    since: date,
    until: date,
    tenths: int,
    hours_a_day_out: float = HOURS_A_DAY_OUT,
) -> list[DayFigure]:
    """Running hours day by day where no dial tells them: each later day out adds its hours.

    An estimate, and it is to be called one wherever it is shown.

    Args:
        spans: first and last day of each stay; None: it is still out.
        since: the day on which the hours were tenths; until: the last day wanted.
        tenths: [0.1 h] running hours on that first day.
        hours_a_day_out: [h/d] running hours of one day out.
    """
    figures = [(since, tenths)]
    for _ in range((until - since).days):
        day = figures[-1][0] + timedelta(days=1)
        out = days_out(spans, since=day, until=day)
        figures.append((day, figures[-1][1] + round(out * hours_a_day_out * 10)))
    return figures


def reached(figures: Sequence[DayFigure], *, tenths: int) -> date | None:
    """The first day whose figure is this one or more; figures by day, oldest first."""
    return next((day for day, figure in figures if figure >= tenths), None)


def rate_from_days_out(
    *, out: int, of: int, hours_a_day_out: float = HOURS_A_DAY_OUT
) -> Rate | None:
    """Hours a day where no readings tell: the share of days out times the hours of a day out.

    An estimate, and it is to be called one wherever it is shown.

    Args:
        out: days out in the window; of: days in the window.
        hours_a_day_out: [h/d] running hours of one day out.

    Returns:
        A rate with no readings; None for a machine that was never out in the window.

    Raises:
        ValueError: more days out than days, or hours that no day has.
    """
    if not 0 <= out <= of:
        raise ValueError(f"{out} days out of {of} cannot be")
    if not 0 < hours_a_day_out <= HOURS_IN_A_DAY:
        raise ValueError(f"a day out has 0 to 24 h, not {hours_a_day_out}")
    if out == 0:
        return None
    likely = hours_a_day_out * out / of
    high = min(likely * BAND_OF_AN_ESTIMATE, HOURS_IN_A_DAY)
    return Rate(low=likely / BAND_OF_AN_ESTIMATE, likely=likely, high=high, readings=0)


def forecast(*, due_tenths: int, last: DayFigure, rate: Rate) -> Forecast | None:
    """The day on which the meter is likely to reach a figure; None when nothing is being run.

    Args:
        due_tenths: [0.1 of the measure] the figure.
        last: day and total of the newest reading; a figure already passed gives that day.
        rate: from rate().
    """
    if rate.likely <= 0:
        return None
    on, tenths = last
    left = max(0, due_tenths - tenths) / 10
    earliest = _day_after(on, floor(left / rate.high))
    likely = _day_after(on, floor(left / rate.likely))
    if earliest is None or likely is None:
        return None
    latest = _day_after(on, ceil(left / rate.low)) if rate.low > 0 else None
    return Forecast(earliest=earliest, likely=likely, latest=latest, rate=rate)


def plan_day(*, due_on: date | None, forecast: Forecast | None) -> date | None:
    """The day to plan for: the calendar's or the likely day of the hours, whichever is first."""
    likely = None if forecast is None else forecast.likely
    return min((day for day in (due_on, likely) if day is not None), default=None)


def _band(
    slopes: list[float], *, likely: float, count: int, confidence: float
) -> tuple[float, float]:
    if count < FEW_READINGS:
        return likely / 2, likely * 2
    reach = _normal_quantile((1 + confidence) / 2) * sqrt(
        count * (count - 1) * (2 * count + 5) / 18
    )
    low = max(floor((len(slopes) - reach) / 2) - 1, 0)
    high = min(ceil((len(slopes) + reach) / 2), len(slopes) - 1)
    return slopes[low], slopes[high]


@lru_cache(maxsize=8)
def _normal_quantile(share: float) -> float:
    return NormalDist().inv_cdf(share)


def _day_after(on: date, days: int) -> date | None:
    """The day so many days on; None beyond the calendar."""
    number = on.toordinal() + days
    return None if number > _LAST_DAY else date.fromordinal(number)
