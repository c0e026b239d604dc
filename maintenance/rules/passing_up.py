"""When a stop that nobody has taken is passed up: after minutes of the depot's working time."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

# Common practice, no source: nobody has told us the hours of a depot, only its open days.
OPENS, CLOSES = time(7, 0), time(17, 0)
WAIT = timedelta(minutes=15)
# A depot that is shut for longer has no next working day that would mean anything.
LONGEST_SHUT_DAYS = 60


def due_at(told: datetime, *, zone: ZoneInfo, is_open: Callable[[date], bool]) -> datetime | None:
    """When a stop is passed up, if nobody has it by then: ``WAIT`` of working time after it came.

    Args:
        told: when we heard of the stop.
        zone: the depot's; its hours are those of the clock on the wall there.
        is_open: whether the depot is open on a day.

    Returns:
        The moment in UTC; None where the depot does not open for long.
    """
    left = WAIT
    first = told.astimezone(zone).date()
    for day in (first + timedelta(days=n) for n in range(LONGEST_SHUT_DAYS + 1)):
        if not is_open(day):
            continue
        opens, closes = _hours(day, zone)
        begins = max(told.astimezone(UTC), opens)
        if begins + left <= closes:
            return begins + left
        left -= max(closes - begins, timedelta())
    return None


def is_working(at: datetime, *, zone: ZoneInfo, is_open: Callable[[date], bool]) -> bool:
    """Whether somebody can be expected to read a message at the depot now."""
    day = at.astimezone(zone).date()
    opens, closes = _hours(day, zone)
    return is_open(day) and opens <= at < closes


def _hours(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Turned to UTC before anything is added, since the clocks may change between."""
    opens, closes = (datetime.combine(day, each, zone) for each in (OPENS, CLOSES))
    return opens.astimezone(UTC), closes.astimezone(UTC)
