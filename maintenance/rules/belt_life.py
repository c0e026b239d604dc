"""When a belt runs out by the calendar, when to order the next, and the looks at a new one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from math import ceil, floor, isfinite

from maintenance.rules.running import Running
from maintenance.rules.usage import Rate
from maintenance.rules.words import day_text
from plant.drives.errors import DriveError, TooFewReadings
from plant.drives.facts import Fact, Trust
from plant.drives.forecast import Crossing, First, Outlook
from plant.drives.life import ends
from plant.drives.outcome import DriveWorkout, Verdict, WearPart
from plant.translate import gettext, ngettext

RUN_IN = Fact(24.0, "[h] running in which a new belt beds in faster than it wears", Trust.PRACTICE)
LEAD_DAYS = Fact(14.0, "[d] to get a belt, where its part does not say", Trust.PRACTICE)
LOOKS = ((4.0, 24.0), (24.0, 48.0))
"""[h] Of running since a belt was fitted: the windows of the looks at its tension.

Common practice, no source: a second look within the first day's running, and one after it.
"""
# What a date cannot do without, of what nobody gave.
_NEEDED = ("driver", "driven", "section", "length", "centres", "slot_out", "width_now")
LONGEST_AHEAD = 3650
"""[d] A day further off than this is not named: nobody's use stays even for so long."""


class State(StrEnum):
    """What can be said of the end of a belt."""

    NOW = "now"
    DATED = "dated"
    AGAIN = "again"
    FLAT = "flat"
    UNKNOWN = "unknown"


@dataclass(frozen=True, kw_only=True)
class Life:
    """When a belt comes to its end, and the day to order the next by.

    ends_by: "take-up", "bottoming", "either", or empty. Hours are running hours of the machine.
    No day is given where the machine does not run, or past ten years; no latest where the line
    may never get there.
    """

    state: State
    why: str
    ends_by: str = ""
    readings: int = 0
    hours_now: float | None = None
    hours_early: float | None = None
    hours_likely: float | None = None
    hours_late: float | None = None
    early_on: date | None = None
    likely_on: date | None = None
    late_on: date | None = None
    order_by_on: date | None = None
    is_estimate: bool = False


@dataclass(frozen=True, kw_only=True)
class Look:
    """How one look stands. reading: which of those given closes it; late: after its window."""

    reading: int | None
    late: bool = False


def looks(readings: Sequence[tuple[float, bool]]) -> tuple[Look, ...]:
    """Which readings close the looks at a new belt.

    A look is closed by the first reading after its window opened that lies in its band: a belt
    that was slack is tightened and read again. What was read before its window closes nothing.

    Args:
        readings: (running hours since the belt was fitted, whether the tension lay in its band).

    Returns:
        One answer for each of ``LOOKS``; reading counts from 0 in the order given.
    """
    ordered = sorted(range(len(readings)), key=lambda number: (readings[number][0], number))
    found = []
    for opens, ends_at in LOOKS:
        closing = next((n for n in ordered if readings[n][0] >= opens and readings[n][1]), None)
        late = closing is not None and readings[closing][0] > ends_at
        found.append(Look(reading=closing, late=late))
    return tuple(found)


def life(
    *,
    workout: DriveWorkout | None,
    refusal: str,
    readings: Sequence[tuple[datetime, float, float]],
    running: Running,
    fitted_at: datetime | None,
    at: datetime,
    lead_days: int,
    placed: WearPart | None = None,
) -> Life:
    """Works out when a belt comes to its end.

    Args:
        workout: of the drive with the belt's last width; None where its figures contradict one
            another, and refusal then says how.
        readings: (moment in the depot's zone, width [m], standard uncertainty [m]) of this belt,
            in any order. Those of its first 24 h of running are left out where it is known when
            it was fitted: a new belt beds in faster than it wears.
        at: now, in the depot's zone.
        lead_days: [d] that it takes to get such a belt.
        placed: the belt as it was when its slot was read; None: as it was last measured.

    Returns:
        The order day is the early day of the end, before which it ends in 5 cases of 100, less
        the days that it takes to get a belt.

    Source:
        plant.drives.life for the hours. Hours to days by the machine's use rate, its fast end
        with the early hours and its slow end with the late ones. Common practice, no source.
    """
    if workout is None:
        return Life(
            state=State.UNKNOWN,
            why=gettext("The drive's figures contradict one another. {refusal}").format(
                refusal=refusal
            ),
        )
    # Of a belt fitted before the register knew the machine, nobody can tell its first hours.
    begin = running.hours_at(fitted_at) if fitted_at and running.knows(fitted_at) else None
    taken = sorted(
        (moment, width, u)
        for moment, width, u in readings
        if begin is None or running.hours_at(moment) - begin >= RUN_IN.value
    )
    found = Life(state=State.UNKNOWN, why="", readings=len(taken))
    early = len(readings) - len(taken)
    left_out = (
        gettext(" {early} of its first {run_in} h not counted.").format(
            early=early, run_in=f"{RUN_IN.value:.0f}"
        )
        if early
        else ""
    )
    if workout.verdict is Verdict.CHANGE:
        return replace(found, state=State.NOW, why=" ".join(workout.verdict_words))
    if not readings:
        return replace(
            found, state=State.AGAIN, why=gettext("No width was read of this belt. Measure it.")
        )
    if workout.wear is None:
        return replace(
            found, why=gettext("Not known yet: {workout}.").format(workout=_missing(workout))
        )
    now = running.hours_at(at)
    counted = [(running.hours_at(moment), width, u) for moment, width, u in taken]
    estimate = running.is_estimate or not running.figures
    found = replace(found, hours_now=now, is_estimate=estimate)
    try:
        first = ends(counted, worn=workout.wear, now=now, placed=placed)
    except TooFewReadings as thin:
        if len(counted) > 1 and not any(hours for hours, _, _ in counted):
            return replace(
                found,
                state=State.UNKNOWN,
                why=gettext(
                    "Its running is not known: there is no meter figure, and it was never out. "
                    "Enter a meter figure."
                ),
            )
        return replace(found, state=State.AGAIN, why=f"{_sentence(thin)}{left_out}")
    except DriveError as refused:
        return replace(found, why=_sentence(refused))
    sooner = _sooner(first)
    if sooner is None:
        known = first.slot or first.bottom
        if known is None:
            return replace(found, why=workout.wear.first_words)
        doubted = known.outlook is Outlook.NOT_BELIEVED
        return replace(
            found, state=State.AGAIN if doubted else State.FLAT, why=f"{known.words}{left_out}"
        )
    # When it was last measured it had not come to its end, whatever the line says of that day.
    hours_early, hours_likely, hours_late = (max(each, counted[-1][0]) for each in sooner)
    found = replace(
        found, state=State.DATED, ends_by=first.first,
        hours_early=hours_early, hours_likely=hours_likely,
        hours_late=hours_late if isfinite(hours_late) else None,
    )  # fmt: skip
    told = (
        gettext("{first} From {taken}; {early} of its first {run_in} h not counted.")
        if early
        else gettext("{first} From {taken}.")
    ).format(first=first.words, taken=_spread(taken), early=early, run_in=f"{RUN_IN.value:.0f}")
    return _dated(found, running=running, last=taken[-1][0], lead_days=lead_days, told=told)


def _dated(found: Life, *, running: Running, last: datetime, lead_days: int, told: str) -> Life:
    """The same with days: counted on from the last figure known, at the rate of use."""
    rate = running.rate
    if rate is None or rate.likely <= 0:
        return replace(
            found,
            why=gettext("{told} No day: the machine does not run at present.").format(told=told),
        )
    base = running.figures[-1][0] if running.figures else last
    begin = running.hours_at(base)
    assert found.hours_early is not None
    assert found.hours_likely is not None
    early = _day(base, found.hours_early - begin, fast=rate.high, even=rate.likely)
    likely = _day(base, found.hours_likely - begin, fast=rate.likely, even=rate.likely)
    late = None
    if found.hours_late is not None and rate.low > 0:
        late = _day(base, found.hours_late - begin, fast=rate.low, even=rate.likely, up=True)
    # The fast rate may put the early day before the last look, when it had not come to its end.
    early = early and max(early, last.date())
    likely = likely and max(likely, last.date())
    order_by = None if early is None else early - timedelta(days=lead_days)
    told = f"{told} {_rate_words(rate, estimated=running.is_estimate)}"
    if early is None:
        told += gettext(" No day: the end is more than ten years off.")
    elif order_by is not None:
        told += ngettext(
            " Order by {order_by}: the early day, {early}, less {days} day to get a belt.",
            " Order by {order_by}: the early day, {early}, less {days} days to get a belt.",
            lead_days,
        ).format(order_by=day_text(order_by), early=day_text(early), days=lead_days)
    return replace(
        found, early_on=early, likely_on=likely, late_on=late, order_by_on=order_by, why=told
    )


def _day(
    base: datetime, hours: float, *, fast: float, even: float, up: bool = False
) -> date | None:
    """The day so many hours of running from a moment; behind it, at the even rate."""
    days = hours / (fast if hours > 0 else even)
    if not isfinite(days) or abs(days) > LONGEST_AHEAD:
        return None
    return base.date() + timedelta(days=ceil(days) if up else floor(days))


def _sooner(first: First) -> tuple[float, float, float] | None:
    """Early, likely and late hours of the end that comes first; the sooner of the two at each."""
    known: list[Crossing] = [
        each for each in (first.slot, first.bottom) if each is not None and each.hours is not None
    ]
    if not known:
        return None
    return (
        min(each.early for each in known if each.early is not None),
        min(each.hours for each in known if each.hours is not None),
        min(each.late for each in known if each.late is not None),
    )


def _missing(workout: DriveWorkout) -> str:
    names = [each.label for each in workout.missing if each.field in _NEEDED]
    return (
        gettext("enter {names}").format(names=", ".join(names[:3]))
        if names
        else gettext("the drive's data are too thin")
    )


def _spread(taken: Sequence[tuple[datetime, float, float]]) -> str:
    first, last = taken[0][0].date(), taken[-1][0].date()
    return gettext("{count} widths read {first} to {last}").format(
        count=len(taken), first=day_text(first), last=day_text(last)
    )


def _rate_words(rate: Rate, *, estimated: bool) -> str:
    basis = gettext("estimated from the days out") if estimated else gettext("by the meter")
    return gettext("At {likely} h a day, {basis}.").format(likely=f"{rate.likely:.1f}", basis=basis)


def _sentence(refused: Exception) -> str:
    text = str(refused).strip()
    text = f"{text[:1].upper()}{text[1:]}"
    return text if text.endswith((".", "?")) else f"{text}."
