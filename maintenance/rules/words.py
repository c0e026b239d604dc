"""How a date, a meter figure and a list are said in a reason."""

from collections.abc import Sequence
from datetime import date, datetime

from plant.counted_words import count_text
from plant.translate import gettext as _

HOURS = "hours"
"""What a meter counts where nothing else is said; any other word is what a counter counts."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_text(day: date) -> str:
    """The date as it is written everywhere: 4 May 2026 (never by the server's language)."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def iso_text(iso: str) -> str:
    """The same of a date as it lies in a record: 2026-05-04."""
    return day_text(date.fromisoformat(iso))


def moment_text(local: datetime) -> str:
    """4 May 2026 16:30; the moment in the time of whoever reads it."""
    return f"{day_text(local)} {local:%H:%M}"


def hours_text(tenths: int) -> str:
    """A meter figure, always with one decimal: 1715 tenths is 171.5 h."""
    sign = "-" if tenths < 0 else ""
    return f"{sign}{abs(tenths) // 10}.{abs(tenths) % 10} h"


def figure_text(tenths: int, measure: str = HOURS) -> str:
    """A figure of any meter with what it counts: 171.5 h, 1 start, 420 starts.

    Args:
        tenths: [0.1] of an hour or of one count; counters tell whole ones.
        measure: "hours", or the plural of what is counted.
    """
    if measure == HOURS:
        return hours_text(tenths)
    return count_text(tenths // 10, measure.removesuffix("s"))


def figure_as_written(tenths: int, measure: str = HOURS) -> str:
    """The same for a record, which is sealed in one language."""
    if measure == HOURS:
        return hours_text(tenths)
    return f"{tenths // 10} {measure.removesuffix('s') if tenths // 10 == 1 else measure}"


def interval_text(tenths: int, measure: str = HOURS) -> str:
    """An interval by the meter, without a needless decimal: 1500 tenths is 150 h."""
    if measure == HOURS and tenths % 10 == 0:
        return f"{tenths // 10} h"
    return figure_text(tenths, measure)


def either_text(words: Sequence[str]) -> str:
    """a; a or b; a or b or c."""
    told = words[0]
    for other in words[1:]:
        told = _("{one} or {other}").format(one=told, other=other)
    return told


def list_text(words: Sequence[str]) -> str:
    """a; a and b; a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return _("{rest} and {last}").format(rest=", ".join(words[:-1]), last=words[-1])
