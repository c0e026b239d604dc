"""Looking ahead: fitter time that the coming due work wants, day by day, against what there is."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from maintenance.rules.due import add_months, do_by

WEEKS = 8


@dataclass(frozen=True, kw_only=True)
class Work:
    """One line of work: the day to plan for, its minutes, and how it comes back by the calendar.

    every_days or every_months: None for work that comes back by hours alone.
    """

    on: date
    minutes: int
    every_days: int | None = None
    every_months: int | None = None


@dataclass(frozen=True, kw_only=True)
class Day:
    """One day ahead. Times in minutes; count is how many pieces of work fall on it."""

    on: date
    is_open: bool
    needed: int
    available: int
    count: int


@dataclass(frozen=True, kw_only=True)
class Week:
    """Monday to Sunday, of which the first may have begun. Times in minutes."""

    days: tuple[Day, ...]

    @property
    def first(self) -> date:
        return self.days[0].on

    @property
    def told(self) -> tuple[Day, ...]:
        """The days of which there is something to tell: open ones, and closed ones with work."""
        return tuple(day for day in self.days if day.count or day.is_open)

    @property
    def needed(self) -> int:
        return sum(day.needed for day in self.days)

    @property
    def available(self) -> int:
        return sum(day.available for day in self.days)

    @property
    def over(self) -> int:
        """How much more is needed than there is; 0 where it fits."""
        return max(0, self.needed - self.available)

    @property
    def count(self) -> int:
        return sum(day.count for day in self.days)


def falls_on(work: Work, *, start: date, until: date) -> Iterable[date]:
    """The days in the window on which the work is wanted.

    What is past is wanted on the first day, and comes back counted from it; the rest comes back
    counted from its own day, months by the anchor day.
    """
    anchor = max(work.on, start)
    number = 0
    while True:
        if work.every_months is not None and number:
            day = add_months(anchor, number * work.every_months)
        elif work.every_days is not None:
            day = anchor + timedelta(days=number * work.every_days)
        elif number:
            return
        else:
            day = anchor
        if day > until:
            return
        yield day
        number += 1


def look_ahead(
    works: Iterable[Work],
    *,
    start: date,
    is_open: Callable[[date], bool],
    minutes_on: Callable[[date], int],
    weeks: int = WEEKS,
) -> tuple[Week, ...]:
    """The weeks from the start to a Sunday, each day with what is needed and what there is.

    Work that falls on a closed day is done by the last open day before it, or by the first open
    day where none lies between today and it.

    Raises:
        ValueError: no weeks.
    """
    if weeks < 1:
        raise ValueError("look ahead by one week at least")
    last = start + timedelta(days=7 * weeks - 1 - start.weekday())
    days = [start + timedelta(days=n) for n in range((last - start).days + 1)]
    opens = {day: is_open(day) for day in days}
    needed, count = dict.fromkeys(days, 0), dict.fromkeys(days, 0)
    for work in works:
        for wanted in falls_on(work, start=start, until=last):
            day = _open_day(wanted, days=days, opens=opens)
            needed[day] += work.minutes
            count[day] += 1
    told = [
        Day(
            on=day,
            is_open=opens[day],
            needed=needed[day],
            available=minutes_on(day) if opens[day] else 0,
            count=count[day],
        )
        for day in days
    ]
    found: list[list[Day]] = []
    for each in told:
        if each.on.weekday() == 0 or not found:
            found.append([])
        found[-1].append(each)
    return tuple(Week(days=tuple(week)) for week in found)


def _open_day(wanted: date, *, days: Sequence[date], opens: dict[date, bool]) -> date:
    try:
        day = do_by(wanted, is_open=lambda each: opens.get(each, False))
    except ValueError:
        return next((each for each in days if opens[each]), wanted)
    return day
