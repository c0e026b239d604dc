"""Meters: the dial, its offset, and when a figure is questioned.

A meter counts running hours, or starts, strokes and the like. Its total runs on for ever; a dial
stands on it with an offset. All figures are tenths: of an hour, or of one count.
"""

from datetime import datetime, timedelta
from typing import TypeAlias

from maintenance.rules.words import HOURS, day_text, figure_text, hours_text
from plant.translate import gettext as _

Reading: TypeAlias = tuple[datetime, int]

HIGHEST_TENTHS = 9_999_999
HIGHEST_COUNT_TENTHS = 999_999_990
SPARE_HOURS = timedelta(hours=1)
UNUSUAL = 10
"""A counter that gained so many times what is usual is asked about: no clock bounds it.

Common practice, no source.
"""
LEAST_TURN = 10_000
"""[0.1] The smallest figure at which a dial goes round to nought: 999.9 h and one tenth."""


def question(
    *,
    last: Reading | None,
    next_: Reading | None,
    at: datetime,
    tenths: int,
    measure: str = HOURS,
    usual_a_day: float | None = None,
) -> str:
    """Why a figure is questioned; empty when it fits between its neighbours in time.

    Args:
        last: the newest accepted reading at or before this moment (moment, tenths).
        next_: the oldest accepted reading after it, when this one is entered late.
        at: when the figure was read.
        tenths: [0.1 of the measure] the total at that moment.
        measure: "hours", or what a counter counts.
        usual_a_day: [1/d] the high end of what a counter gains, where its figures tell it.

    Raises:
        ValueError: a figure that no total has, or neighbours on the wrong side in time.

    Source:
        An hour to spare for clocks and rounding: common practice, no source.
    """
    if not 0 <= tenths <= highest(measure):
        raise ValueError(f"a total is {range_text(measure)}, not {tenths / 10}")
    if (last is not None and last[0] > at) or (next_ is not None and next_[0] < at):
        raise ValueError("the reading must lie between its neighbours in time")

    def told(reading: Reading) -> str:
        return _("{reading} on {day}").format(
            reading=figure_text(reading[1], measure), day=day_text(reading[0].date())
        )

    if last is not None and tenths < last[1]:
        return _("{tenths} is lower than the last reading, {last}.").format(
            tenths=figure_text(tenths, measure), last=told(last)
        )
    if next_ is not None and tenths > next_[1]:
        return _("{tenths} is higher than the reading after it, {next}.").format(
            tenths=figure_text(tenths, measure), next=told(next_)
        )
    if measure != HOURS:
        return _unusual(last, (at, tenths), measure, usual_a_day)
    if last is not None and _too_fast(last, (at, tenths)):
        gained, passed = hours_text(tenths - last[1]), _hours_between(last[0], at)
        return _("{gained} were added since {last}, but only {passed} have passed.").format(
            gained=gained, last=told(last), passed=passed
        )
    if next_ is not None and _too_fast((at, tenths), next_):
        gained, passed = hours_text(next_[1] - tenths), _hours_between(at, next_[0])
        return _("{gained} are missing before {next}, but only {passed} lie between.").format(
            gained=gained, next=told(next_), passed=passed
        )
    return ""


def highest(measure: str) -> int:
    """[0.1 of the measure] The highest total that is kept."""
    return HIGHEST_TENTHS if measure == HOURS else HIGHEST_COUNT_TENTHS


def range_text(measure: str) -> str:
    """Which totals there are, in words."""
    return "0 to 999 999.9 h" if measure == HOURS else f"0 to 99 999 999 {measure}"


def turn_after(dial_tenths: int) -> int:
    """[0.1] The figure at which a dial that showed this goes round to nought: a power of ten."""
    turn = LEAST_TURN
    while turn <= dial_tenths:
        turn *= 10
    return turn


def total(*, dial_tenths: int, offset_tenths: int) -> int:
    """The total from what the dial shows."""
    return dial_tenths + offset_tenths


def dial_at(*, total_tenths: int, offset_tenths: int) -> int:
    """What the dial will show at a total; below zero when the dial was started later."""
    return total_tenths - offset_tenths


def offset_for(*, total_tenths: int, dial_tenths: int, blind_tenths: int = 0) -> int:
    """The offset of a dial newly fitted, reset or rolled over, so that the total runs on.

    Args:
        total_tenths: [0.1 of the measure] the total when the old dial was last read.
        dial_tenths: [0.1 of the measure] what the dial shows now.
        blind_tenths: [0.1 of the measure] estimate of what was run in between.

    Raises:
        ValueError: the estimate is negative.
    """
    if blind_tenths < 0:
        raise ValueError("the estimate must be 0 or more")
    return total_tenths + blind_tenths - dial_tenths


def _unusual(
    last: Reading | None, reading: Reading, measure: str, usual_a_day: float | None
) -> str:
    if last is None or not usual_a_day:
        return ""
    days = max((reading[0] - last[0]) / timedelta(days=1), 1.0)
    gained = reading[1] - last[1]
    if gained <= UNUSUAL * usual_a_day * 10 * days:
        return ""
    since = _("{last} on {day}").format(
        last=figure_text(last[1], measure), day=day_text(last[0].date())
    )
    usual = f"{usual_a_day:.0f} a day" if usual_a_day >= 1 else _("fewer than one a day")
    return _("{gained} were added since {since}; {usual} is usual.").format(
        gained=figure_text(gained, measure), since=since, usual=usual
    )


def _too_fast(earlier: Reading, later: Reading) -> bool:
    allowed = later[0] - earlier[0] + SPARE_HOURS
    return timedelta(hours=1) * (later[1] - earlier[1]) / 10 > allowed


def _hours_between(earlier: datetime, later: datetime) -> str:
    return hours_text(int((later - earlier) / timedelta(minutes=6)))
