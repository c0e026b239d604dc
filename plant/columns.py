"""Columns of the spreadsheets that people bring: matched by heading, and what a cell means."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from plant.translate import gettext as _
from plant.units import Measure

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@dataclass(frozen=True, slots=True)
class Column:
    """One thing that a column can hold.

    field: our key for it; name: in words; headings: other ways to head it; measure: of a figure;
    asked: the subject under which a missing unit is asked for, empty when the own unit is meant.
    """

    field: str
    name: str
    headings: tuple[str, ...] = ()
    measure: Measure | None = None
    asked: str = ""


def fold(words: str) -> str:
    """What two ways of writing a heading or a name have in common."""
    return "".join(one for one in words.casefold() if one.isalnum())


class Columns:
    """The columns that one kind of file may have; by_field: each by our key for it."""

    def __init__(self, columns: Iterable[Column]) -> None:
        self.by_field = {column.field: column for column in columns}
        self._field_of = {
            fold(words): column.field
            for column in self.by_field.values()
            for words in (column.name, column.field, *column.headings)
        }

    def match(self, headings: Sequence[str]) -> dict[str, str]:
        """Which of our fields each heading means; headings that mean none are left out.

        Case, spaces and signs do not count, and a heading may carry its unit: "Weight (lb)". Of
        two headings that mean the same field, the first has it.
        """
        matched: dict[str, str] = {}
        for heading in headings:
            found = self._field(heading)
            if found and found not in matched.values():
                matched[heading] = found
        return matched

    def unit_in(self, heading: str, column: Column) -> str:
        """The unit that a heading of this column carries, by its symbol; empty when it has none."""
        if column.measure is None:
            return ""
        case = re.NOFLAG if column.measure.exact_case else re.IGNORECASE
        for unit in column.measure.units:
            for word in (unit.symbol, *unit.spellings):
                form = rf"(.*?)[ (\[,/_-]+(?:in +)?{re.escape(word)}[)\]. ]*"
                found = re.fullmatch(form, heading.strip(), case)
                if (
                    found
                    and found[1].strip()
                    and self._field_of.get(fold(found[1])) == column.field
                ):
                    return unit.symbol
        return ""

    def _field(self, heading: str) -> str:
        whole = self._field_of.get(fold(heading))
        if whole:
            return whole
        for column in self.by_field.values():
            if column.measure and self.unit_in(heading, column):
                return column.field
        return ""


def date_ways(typed: str) -> dict[str, date]:
    """The dates that a text can mean: by day first, by month first, or "plain"."""
    text = typed.strip()
    found = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:T.*)?", text)
    if found:
        return _made("plain", found[1], found[2], found[3])
    found = re.fullmatch(r"([0-9]{1,2})[ -]([A-Za-z]{3,9})[ -]([0-9]{2}|[0-9]{4})", text)
    if found:
        month = found[2][:3].lower()
        return (
            _made("plain", found[3], str(_MONTHS.index(month) + 1), found[1])
            if (month in _MONTHS)
            else {}
        )
    found = re.fullmatch(r"([0-9]{1,2})[/.-]([0-9]{1,2})[/.-]([0-9]{2}|[0-9]{4})", text)
    if found:
        return _made("day", found[3], found[2], found[1]) | _made(
            "month", found[3], found[1], found[2]
        )
    return {}


def _made(way: str, year: str, month: str, day: str) -> dict[str, date]:
    try:
        return {way: date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))}
    except ValueError:
        return {}


class DateOrder:
    """Whether a file has the day or the month first; asked once, where its dates do not tell.

    question: {"examples", "seems": "day", "month" or ""} once a date can be read both ways.
    """

    def __init__(self, answer: str, *, most_examples: int) -> None:
        self.question: dict[str, object] = {}
        self._answer = answer
        self._examples: list[str] = []
        self._most = most_examples
        self._told = {"day": 0, "month": 0}

    def read(self, typed: str) -> tuple[date | None, str]:
        """The date, or None and why: it may be two, or it is none."""
        ways = date_ways(typed)
        if set(ways) & set(self._told) and len(ways) == 1:
            self._told[next(iter(ways))] += 1
        if len(set(ways.values())) > 1:
            if len(self._examples) < self._most and typed not in self._examples:
                self._examples.append(typed)
            self.question = {"examples": self._examples, "seems": ""}
            if self._answer in ways:
                return ways[self._answer], ""
            day, month = day_words(ways["day"]), day_words(ways["month"])
            return None, _("{typed} may be {day} or {month}.").format(
                typed=short(typed), day=day, month=month
            )
        if ways:
            return next(iter(ways.values())), ""
        return None, ""

    def finished(self) -> dict[str, object]:
        """The question, once every row has been read; empty where there is none."""
        if self.question:
            day, month = self._told["day"], self._told["month"]
            seems = "day" if day and not month else "month" if month and not day else ""
            self.question["seems"] = seems
        return self.question


def day_words(on: date) -> str:
    """The day as it is shown: "4 Mar 2026"."""
    return f"{on.day} {_MONTHS[on.month - 1].title()} {on.year}"


def short(words: str, most: int = 40) -> str:
    """Words of a file as a sentence of ours can hold them."""
    shown = "".join(one if one.isprintable() else " " for one in words)
    return shown if len(shown) <= most else f"{shown[:most]}…"


def shortened(typed: str) -> tuple[str, bool]:
    """The text with at most six decimals, and whether it had more, as sums in a sheet do."""
    found = re.fullmatch(r"([<>]? ?[+-]?[0-9]{1,9}\.[0-9]{6})([0-9]+)(.*)", typed, re.DOTALL)
    if not found:
        return typed, False
    return f"{found[1]}{found[3]}", True


def looks_rounded(typed: str) -> bool:
    """Whether a spreadsheet made a number of what is none: 1.3E+03."""
    return re.fullmatch(r"[0-9]+(\.[0-9]+)?[Ee]\+?[0-9]+", typed) is not None and "+" in typed
