"""Calendars as other programs read them: events in, the bytes of an iCalendar file out.

Source:
    RFC 5545 (content lines of 75 octets, section 3.1; text, 3.3.11; components, 3.6) and RFC 7986
    for NAME and REFRESH-INTERVAL.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

from django.utils.translation import gettext as _

LONGEST_LINE = 75
# A calendar has to hold something: the clock of the world, where there is no event.
_CLOCK = (
    "BEGIN:VTIMEZONE", "TZID:UTC", "BEGIN:STANDARD", "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000", "TZOFFSETTO:+0000", "END:STANDARD", "END:VTIMEZONE",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing to do on one day.

    uid: the same for the same thing, however often it moves; changed_at: when what it says last
    changed; revision: how often it has changed (RFC 5545, section 3.8.7.4).
    """

    uid: str
    on: date
    summary: str
    description: str
    address: str
    changed_at: datetime
    revision: int = 0
    cancelled: bool = False


def calendar(*, name: str, events: Iterable[Event]) -> bytes:
    """The file. Equal events give equal bytes."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        _("PRODID:-//Site plant//Due work and jobs//EN"),
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        f"NAME:{_text(name)}",
        "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
    ]
    told = [line for event in events for line in _event(event)]
    lines += [*(told or _CLOCK), "END:VCALENDAR"]
    return b"".join(_folded(line) for line in lines)


def _event(event: Event) -> Iterator[str]:
    changed = event.changed_at.astimezone(UTC)
    yield "BEGIN:VEVENT"
    yield f"UID:{event.uid}"
    yield f"DTSTAMP:{changed:%Y%m%dT%H%M%SZ}"
    yield f"LAST-MODIFIED:{changed:%Y%m%dT%H%M%SZ}"
    yield f"SEQUENCE:{event.revision}"
    yield f"DTSTART;VALUE=DATE:{event.on:%Y%m%d}"
    yield f"SUMMARY:{_text(event.summary)}"
    yield f"DESCRIPTION:{_text(event.description)}"
    yield f"URL:{event.address}"
    yield f"STATUS:{'CANCELLED' if event.cancelled else 'CONFIRMED'}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _text(words: str) -> str:
    """Words as a TEXT value; control characters, which no reader takes, become spaces."""
    kept = words.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(c if c == "\n" or (c >= " " and c != "\x7f") else " " for c in kept)
    for mark in ("\\", ";", ","):
        kept = kept.replace(mark, f"\\{mark}")
    return kept.replace("\n", "\\n")


def _folded(line: str) -> bytes:
    """The line in pieces of at most 75 octets, never cut inside a character."""
    pieces, piece = [], b""
    for one in line:
        octets = one.encode("utf-8", errors="replace")
        if len(piece) + len(octets) > LONGEST_LINE:
            pieces.append(piece)
            piece = b" "
        piece += octets
    return b"\r\n".join((*pieces, piece)) + b"\r\n"
