"""How a bundle says moments, days and spans, in the time of the machine's depot."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext

from maintenance.contents.gaps import Period
from maintenance.rules.words import moment_text
from plant.models import Machine


@dataclass(frozen=True)
class Said:
    """Of which machine and days a bundle speaks, and when it was gathered."""

    machine: Machine
    period: Period
    at: datetime

    def when(self, at: datetime) -> str:
        return moment_text(at.astimezone(self.period.zone))


def span(took: timedelta) -> str:
    """3 d 4 h; 2 h 10 min; 12 min."""
    minutes = int(took.total_seconds() // 60)
    if minutes >= 24 * 60:
        return gettext("{days} d {hours} h").format(
            days=minutes // 1440, hours=minutes % 1440 // 60
        )
    if minutes >= 60:
        return gettext("{hours} h {minutes} min").format(hours=minutes // 60, minutes=minutes % 60)
    return gettext("{minutes} min").format(minutes=minutes)


def seal_of(digest: str) -> str:
    """The sixteen digits of a hash that a stranger types, in fours."""
    return " ".join(digest[n : n + 4] for n in range(0, 16, 4))
