"""How a date, a meter figure and a list are said in a reason."""

from collections.abc import Sequence
from datetime import date

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_text(day: date) -> str:
    """The date as it is written everywhere: 4 May 2026 (never by the server's language)."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def hours_text(tenths: int) -> str:
    """A meter figure, always with one decimal: 1715 tenths is 171.5 h."""
    sign = "-" if tenths < 0 else ""
    return f"{sign}{abs(tenths) // 10}.{abs(tenths) % 10} h"


def interval_text(tenths: int) -> str:
    """An interval of hours, without a needless decimal: 1500 tenths is 150 h."""
    return f"{tenths // 10} h" if tenths % 10 == 0 else hours_text(tenths)


def count_text(count: int, noun: str) -> str:
    """1 month, 12 months."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def list_text(words: Sequence[str]) -> str:
    """a; a and b; a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
