"""Sheets asked for and printed, weekly notes and calendars."""

from reports.models.feed import Feed, FeedEvent
from reports.models.note import WeeklyNote
from reports.models.sheet import Batch, Sheet

__all__ = ["Batch", "Feed", "FeedEvent", "Sheet", "WeeklyNote"]
