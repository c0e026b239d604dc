"""How long the words and photos of records are kept, and on which day they go. Records stay."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal, TypeAlias

from maintenance.rules.due import add_months
from maintenance.rules.sheet import TRUST, SheetRefused, cited
from plant.counted_words import count_text
from plant.translate import gettext as _

CountsFrom: TypeAlias = Literal["left", "made"]
LEFT: CountsFrom = "left"
MADE: CountsFrom = "made"

NOTICE = timedelta(days=60)
"""[d] What goes has stood on the list for so long."""
AHEAD_MONTHS = 3
"""[months] What ends so far ahead is listed, so that it goes on its day and not after a wait."""
SHORTEST_MONTHS = 12
"""[months] A shorter time in a sheet is a slip of the keyboard."""

# A machine in use goes on needing these, so they may be counted from the day they were made.
FROM_MADE: frozenset[str] = frozenset({"check", "meter"})
# What has to be on record since, before anything goes of a machine that is still in use.
NEXT: tuple[str, ...] = ("inspection", "test")


@dataclass(frozen=True, kw_only=True)
class Keep:
    """How long the words and photos of some kinds of record are kept.

    kinds: of record, by their keys; counts_from: since the machine left, or since each was made;
    until_next: while the machine is in use, not before the next of this kind of record.
    """

    kinds: frozenset[str]
    months: int
    counts_from: CountsFrom
    until_next: str
    source: str
    trust: str

    @property
    def time_text(self) -> str:
        """The time in words: 6 years, 18 months."""
        if self.months % 12 == 0:
            return count_text(self.months // 12, "year")
        return count_text(self.months, "month")

    @property
    def cited(self) -> str:
        return cited(self.source, self.trust)


def read(rows: Iterable[Mapping[str, Any]] | None) -> tuple[Keep, ...]:
    """Reads the keep times of a rule sheet. A sheet from before there were any has none.

    Raises:
        SheetRefused: something is missing or odd, a kind stands twice, or a time has no source.
    """
    kept: list[Keep] = []
    try:
        for row in rows or ():
            kept.append(_keep(row))
    except KeyError as missing:
        raise SheetRefused(_("the keep times lack {missing}").format(missing=missing)) from missing
    except (TypeError, AttributeError) as odd:
        raise SheetRefused(
            _("the keep times are not laid out as expected: {odd}").format(odd=odd)
        ) from odd
    kinds = [kind for each in kept for kind in each.kinds]
    if len(set(kinds)) != len(kinds):
        raise SheetRefused(_("two keep times name the same kind of record"))
    return tuple(kept)


def _keep(row: Mapping[str, Any]) -> Keep:
    kinds, months, since = frozenset(row["kinds"]), row["months"], row["from"]
    name = ", ".join(sorted(kinds))
    if not isinstance(months, int) or months < SHORTEST_MONTHS:
        raise SheetRefused(
            _("{name}: kept for {shortest_months} whole months at least").format(
                name=name, shortest_months=SHORTEST_MONTHS
            )
        )
    if since not in (LEFT, MADE):
        raise SheetRefused(
            _("{name}: counts from {left} or {made}, not {since}").format(
                name=name, left=LEFT, made=MADE, since=f"{since!r}"
            )
        )
    if since == MADE and not kinds <= FROM_MADE:
        raise SheetRefused(_("{name}: counts from when the machine left").format(name=name))
    if (since == MADE) != (row["until_next"] in NEXT):
        raise SheetRefused(
            _("{name}: counted from when made, it is kept until the next inspection").format(
                name=name
            )
        )
    if not str(row["source"]).strip() or row["trust"] not in TRUST:
        raise SheetRefused(
            _("{name}: the time needs a source, and how far it was seen").format(name=name)
        )
    return Keep(
        kinds=kinds,
        months=months,
        counts_from=since,
        until_next=row["until_next"],
        source=str(row["source"]),
        trust=row["trust"],
    )


def of_kind(keeps: Iterable[Keep], kind: str) -> Keep | None:
    """The time of one kind of record; None: its words are kept for good."""
    return next((each for each in keeps if kind in each.kinds), None)


def month_on_or_after(day: date) -> date:
    """The first of a month on that day or next after it: the days on which anything goes."""
    first = day.replace(day=1)
    return day if day == first else add_months(first, 1)


def listed_until(listed_on: date) -> date:
    """The last day for an end that is listed now."""
    return add_months(listed_on.replace(day=1), AHEAD_MONTHS)


def goes_on(*, ends_on: date, listed_on: date) -> date:
    """The day on which it goes: the first of a month, its time over and its notice given.

    Raises:
        ValueError: beyond the year 9999.
    """
    return month_on_or_after(max(ends_on, listed_on + NOTICE))


def ends_after_leaving(keep: Keep, left_on: date) -> date:
    """The first day on which the words of a machine that left may go.

    Args:
        left_on: the day it left, by its depot's clock.
    """
    return add_months(left_on, keep.months)


def made_before(keep: Keep, goes: date) -> date:
    """What was made before this day has been kept its time on the day it goes.

    Args:
        goes: the first of a month, on which no day of another month is shortened.

    Raises:
        ValueError: it is not the first of a month.
    """
    if goes.day != 1:
        raise ValueError(f"{goes} is not the first of a month")
    return add_months(goes, -keep.months)


def may_go(*, listed_on: date, goes: date, on: date, held: bool) -> bool:
    """Whether what was listed goes today."""
    return not held and goes <= on and on - listed_on >= NOTICE
