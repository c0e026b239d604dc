"""What is done by itself at a time of day on some days of the week, in a depot's own time."""

from collections.abc import Collection
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

WEEK = 7


def moment(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The moment of a time of day; one that the clock leaves out is as long after the gap.

    A time that comes twice is the first of the two.
    """
    wall = datetime.combine(day, at, zone)
    # There and back again: what does not exist comes back as the time that it is then.
    return wall.astimezone(UTC)


def last_turn(
    weekdays: Collection[int], at: time, *, zone: ZoneInfo, now: datetime, since: datetime
) -> date | None:
    """The newest local day whose turn has come, of those after it was set up; else None.

    Args:
        weekdays: Monday is 0.
        at: the time of day.
        since: when it was set up or last changed; no turn before that counts.
    """
    today = now.astimezone(zone).date()
    for back in range(WEEK + 1):
        day = today - timedelta(days=back)
        turn = moment(day, at, zone)
        if day.weekday() in weekdays and turn <= now:
            return day if turn > since else None
    return None


def next_turn(
    weekdays: Collection[int], at: time, *, zone: ZoneInfo, now: datetime
) -> datetime | None:
    """The moment of the next turn after now; None without a day of the week."""
    today = now.astimezone(zone).date()
    for ahead in range(WEEK + 1):
        day = today + timedelta(days=ahead)
        turn = moment(day, at, zone)
        if day.weekday() in weekdays and turn > now:
            return turn
    return None
