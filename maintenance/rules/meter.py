"""Running hours: the dial, its offset, and when a figure is questioned."""

from datetime import datetime, timedelta
from typing import TypeAlias

from maintenance.rules.words import day_text, hours_text

Reading: TypeAlias = tuple[datetime, int]

HIGHEST_TENTHS = 9_999_999
SPARE_HOURS = timedelta(hours=1)


def question(*, last: Reading | None, next_: Reading | None, at: datetime, tenths: int) -> str:
    """Why a figure is questioned; empty when it fits between its neighbours in time.

    Args:
        last: the newest accepted reading at or before this moment (moment, tenths).
        next_: the oldest accepted reading after it, when this one is entered late.
        at: when the figure was read.
        tenths: [0.1 h] total running hours at that moment.

    Raises:
        ValueError: a figure outside 0 to 999 999.9 h, or neighbours on the wrong side in time.

    Source:
        An hour to spare for clocks and rounding: common practice, no source.
    """
    if not 0 <= tenths <= HIGHEST_TENTHS:
        raise ValueError(f"hours must be 0 to 999 999.9, not {tenths / 10}")
    if (last is not None and last[0] > at) or (next_ is not None and next_[0] < at):
        raise ValueError("the reading must lie between its neighbours in time")
    if last is not None and tenths < last[1]:
        return f"{hours_text(tenths)} is lower than the last reading, {_told(last)}."
    if next_ is not None and tenths > next_[1]:
        return f"{hours_text(tenths)} is higher than the reading after it, {_told(next_)}."
    if last is not None and _too_fast(last, (at, tenths)):
        gained, passed = hours_text(tenths - last[1]), _hours_between(last[0], at)
        return f"{gained} were added since {_told(last)}, but only {passed} have passed."
    if next_ is not None and _too_fast((at, tenths), next_):
        gained, passed = hours_text(next_[1] - tenths), _hours_between(at, next_[0])
        return f"{gained} are missing before {_told(next_)}, but only {passed} lie between."
    return ""


def total(*, dial_tenths: int, offset_tenths: int) -> int:
    """Total running hours from what the dial shows."""
    return dial_tenths + offset_tenths


def dial_at(*, total_tenths: int, offset_tenths: int) -> int:
    """What the dial will show at a total; below zero when the dial was started later."""
    return total_tenths - offset_tenths


def offset_for(*, total_tenths: int, dial_tenths: int, blind_tenths: int = 0) -> int:
    """The offset of a dial newly fitted, reset or rolled over, so that the total runs on.

    Args:
        total_tenths: [0.1 h] running hours when the old dial was last read.
        dial_tenths: [0.1 h] what the dial shows now.
        blind_tenths: [0.1 h] estimate of the hours run in between.

    Raises:
        ValueError: the estimate is negative.
    """
    if blind_tenths < 0:
        raise ValueError("the estimate must be 0 h or more")
    return total_tenths + blind_tenths - dial_tenths


def _too_fast(earlier: Reading, later: Reading) -> bool:
    allowed = later[0] - earlier[0] + SPARE_HOURS
    return timedelta(hours=1) * (later[1] - earlier[1]) / 10 > allowed


def _hours_between(earlier: datetime, later: datetime) -> str:
    return hours_text(int((later - earlier) / timedelta(minutes=6)))


def _told(reading: Reading) -> str:
    return f"{hours_text(reading[1])} on {day_text(reading[0].date())}"
