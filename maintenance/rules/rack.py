"""Parts on the rack: how few may lie there before more are ordered, and how long a belt keeps."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, exp, inf, sqrt
from statistics import NormalDist

from maintenance.rules.words import day_text
from plant.translate import gettext, ngettext

USUAL_LEAD_DAYS = 14
"""[d] From order to rack, where nobody said. Common practice, no source."""
SEEN_DAYS = 730
"""[d] How far back taking is looked at: two years (ours)."""
FEWEST_TAKEN = 5
"""Times that a part must have been taken before its use says anything (ours)."""
VAN_DAYS = 7
"""[d] Until a van is filled again from the rack. Common practice, no source."""
RISK = 0.05
"""Accepted chance that the last one is gone before new ones come (ours)."""
STORE_YEARS = 6
"""[y] How long a belt keeps, cool, dry and dark, before it is fitted. Common practice, no source:
figures from 5 to 8 years are met."""
SAME_LENGTH_M = 0.003
"""[m] Two lengths closer than this are one belt under two names. Common practice, no source."""
MOST = 9999


@dataclass(frozen=True, kw_only=True)
class Lowest:
    """How many are to lie on the rack at least, and the sentence that says why."""

    count: int
    why: str


def lowest_count(taken: Iterable[tuple[date, int]], *, lead_days: int | None, on: date) -> Lowest:
    """The count below which more are ordered.

    Taking is counted as chance: the times of the last two years give a mean for the days until
    new ones come. Each time is taken to be as large as the largest, since belts side by side go
    together; the count is the smallest with which the chance of running out in those days stays
    at 5 in 100 or less.

    Args:
        taken: day and pieces each time, in any order; later or older ones do not count.
        lead_days: [d] from order to rack; None: two weeks are taken, and said.

    Source:
        Poisson's distribution of rare events; the re-order point for a chosen risk as in any text
        on stock control. Holds where times do not depend on one another, without season.
    """
    seen = _seen(taken, on=on)
    days, wait = _wait(lead_days)
    if len(seen) < FEWEST_TAKEN:
        return Lowest(
            count=1,
            why=ngettext(
                "Keep one: taken {times} time in two years, too seldom to tell more. {wait}.",
                "Keep one: taken {times} times in two years, too seldom to tell more. {wait}.",
                len(seen),
            ).format(times=len(seen), wait=wait),
        )
    return _by_use(seen, days=days, wait=wait, then=gettext("before new ones come"), on=on)


def lowest_in_place(
    taken: Iterable[tuple[date, int]], *, lead_days: int | None, is_van: bool, on: date
) -> Lowest | None:
    """The count below which one rack or van is filled again, by what was taken from it alone.

    The same sum as for the whole depot, for the days until the place is filled: of a van a week
    (common practice, no source), of a rack the days from order to rack.

    Args:
        taken, lead_days: as for ``lowest_count``, from this place.

    Returns:
        None where it was taken from there too seldom to tell.
    """
    seen = _seen(taken, on=on)
    if len(seen) < FEWEST_TAKEN:
        return None
    if is_van:
        days, wait = (
            VAN_DAYS,
            gettext(
                "{days} days until a van is filled again (guess; common practice, no source)"
            ).format(days=VAN_DAYS),
        )
    else:
        days, wait = _wait(lead_days)
    return _by_use(seen, days=days, wait=wait, then=gettext("there before it is filled"), on=on)


def _wait(lead_days: int | None) -> tuple[int, str]:
    if lead_days is None:
        return USUAL_LEAD_DAYS, gettext(
            "{days} days from order to rack (guess; common practice, no source)"
        ).format(days=USUAL_LEAD_DAYS)
    return lead_days, gettext("{lead_days} days from order to rack").format(lead_days=lead_days)


def _seen(taken: Iterable[tuple[date, int]], *, on: date) -> list[tuple[date, int]]:
    since = on - timedelta(days=SEEN_DAYS)
    return [(day, pieces) for day, pieces in taken if since < day <= on]


def _by_use(
    seen: Sequence[tuple[date, int]], *, days: int, wait: str, then: str, on: date
) -> Lowest:
    pieces = sum(each for _, each in seen)
    # Over the time that it has been known, but never less than half a year: a run of five in a
    # first week is no rate.
    known = max((on - min(day for day, _ in seen)).days + 1, SEEN_DAYS // 4)
    most = max(each for _, each in seen)
    count = most * smallest_with(mean=len(seen) * days / known, risk=RISK) + 1
    return Lowest(
        count=count,
        why=(
            gettext(
                "Taken {pieces} in {known} days, at most {most} at a time, so "
                "{expected} in the {wait}. With {count} the chance of running out "
                "{then} stays under {risk} in 100."
            ).format(
                pieces=pieces,
                known=known,
                most=most,
                expected=f"{pieces * days / known:.1f}",
                wait=wait,
                count=count,
                then=then,
                risk=f"{RISK * 100:.0f}",
            )
        ),
    )


def smallest_with(*, mean: float, risk: float) -> int:
    """The smallest n of which more than n events come with at most this chance.

    Args:
        mean: how many events are expected, 0 or more; over 500 by the normal curve.
        risk: accepted chance, over 0 and under 1.

    Raises:
        ValueError: a figure outside its range.

    Source:
        Poisson, P(k) = exp(-m) m^k / k!, summed.
    """
    if not 0 <= mean < inf or not 0 < risk < 1:
        raise ValueError(f"mean {mean} or risk {risk} out of range")
    if mean > 500:
        return ceil(mean + NormalDist().inv_cdf(1 - risk) * sqrt(mean))
    n, term = 0, exp(-mean)
    below = term
    while 1 - below > risk:
        n += 1
        term *= mean / n
        below += term
    return n


def oldest_left(received: Sequence[tuple[date, int]], *, left: int) -> date | None:
    """The day on which the oldest of those left came, if the oldest always went first.

    Args:
        received: day and pieces each time.
        left: how many lie there now.

    Returns:
        None where none is left, or more are left than ever came by a known day.
    """
    if left <= 0:
        return None
    for day, pieces in sorted(received, reverse=True):
        left -= pieces
        if left <= 0:
            return day
    return None


def store_words(came_on: date | None, *, on: date) -> str:
    """What is to be said of the age of belts on the rack; empty while they keep."""
    if came_on is None:
        return ""
    end = _years_after(came_on, STORE_YEARS)
    if on >= end:
        return gettext(
            "The oldest came on {came_on}, {store_years} years ago or more: "
            "look for cracks, and fit a younger one (common practice, no "
            "source)."
        ).format(came_on=day_text(came_on), store_years=STORE_YEARS)
    return ""


def _years_after(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # 29 Feb
        return day.replace(year=day.year + years, day=28)
