"""When a machine's next pre-use check is wanted: worked out from the last one passed, and where."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, TypeAlias

from maintenance.rules.sheet import Interval
from maintenance.rules.words import day_text
from plant.translate import gettext as _

CheckState: TypeAlias = Literal["checked", "wanted", "overdue", "before use"]

CHECKED: CheckState = "checked"
WANTED: CheckState = "wanted"
OVERDUE: CheckState = "overdue"
BEFORE_USE: CheckState = "before use"


@dataclass(frozen=True, kw_only=True)
class CheckDue:
    """How the next check stands.

    state: checked (nothing is wanted yet), wanted (today, before use), overdue (its day is past),
        before use (the machine is not out: whoever takes it checks it first).
    on: the day from which it is wanted; None while the machine is in, or no rule says how often.
    interval: the rule that says so, with its source and how far it was seen.
    """

    state: CheckState
    on: date | None
    interval: Interval | None
    why: str


def rule_for(intervals: Iterable[Interval], *, supply: str) -> Interval | None:
    """How often a machine of this supply is checked on a site; the most frequent rule that fits."""
    fitting = [
        each
        for each in intervals
        if each.what == "check"
        and each.place == "site"
        and each.every_days is not None
        and (each.supplies is None or supply in each.supplies)
    ]
    return min(fitting, key=lambda each: each.every_days or 0, default=None)


def due(
    interval: Interval | None,
    *,
    out: bool,
    out_on: date | None,
    passed_on: date | None,
    passed_here: bool,
    on: date,
) -> CheckDue:
    """When the next check is wanted. All days are those of the machine's depot.

    A shift is taken as a day of the depot, since nobody tells us shifts. A day on which the
    machine was not used cannot be told from a missed one either, so the words say since when a
    check is wanted, and blame nobody.

    Args:
        interval: the rule of its supply; None where no rule says how often.
        out: it is with a hirer or on a site, so somebody may be using it.
        out_on: the day it went there; None where that is not known.
        passed_on: the day of the last check that was passed; None: never.
        passed_here: that check was passed since it went there.
        on: today.

    Source:
        Intervals come from the rule sheet, each with its source. A shift as a calendar day:
        common practice, no source.
    """
    last = (
        _("last passed {passed_on}").format(passed_on=day_text(passed_on))
        if passed_on
        else _("not passed yet")
    )
    if not out:
        return CheckDue(
            state=BEFORE_USE,
            on=None,
            interval=interval,
            why=_("Not out; {last}.").format(last=last),
        )
    if interval is None or interval.every_days is None:
        return CheckDue(
            state=BEFORE_USE,
            on=None,
            interval=None,
            why=_("No rule says how often; {last}.").format(last=last),
        )
    days = []
    first = out_on is not None and interval.before_first_use and not passed_here
    if passed_on is not None:
        days.append(passed_on + timedelta(days=interval.every_days))
    if out_on is not None and (first or passed_on is None):
        days.append(out_on)
    wanted = min(days, default=on)
    state = CHECKED if on < wanted else WANTED if on == wanted else OVERDUE
    if first and out_on:
        last = _("{last}, out since {out_on}").format(last=last, out_on=day_text(out_on))
    why = _("{interval}; {last}: wanted from {wanted}.").format(
        interval=interval.words, last=last, wanted=day_text(wanted)
    )
    return CheckDue(state=state, on=wanted, interval=interval, why=why)
