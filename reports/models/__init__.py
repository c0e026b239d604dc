"""Sheets asked for and printed, weekly notes and calendars, erasures of people."""

from reports.models.erasure import Erasure
from reports.models.feed import Feed, FeedEvent
from reports.models.note import WeeklyNote
from reports.models.sheet import Batch, Sheet
from reports.models.timed import TimedPrint, TimedTurn

__all__ = [
    "Batch",
    "Erasure",
    "Feed",
    "FeedEvent",
    "Sheet",
    "TimedPrint",
    "TimedTurn",
    "WeeklyNote",
]
