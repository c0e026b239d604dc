"""When work falls due: by days, by months, by the meter, whichever comes first."""

from calendar import monthrange
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal, NamedTuple, TypeAlias

from maintenance.rules.words import HOURS, day_text, either_text, figure_text, interval_text
from plant.counted_words import count_text, counted_name
from plant.translate import gettext, ngettext

CountsFrom: TypeAlias = Literal["done", "planned"]
DueState: TypeAlias = Literal["nothing", "due soon", "overdue", "needed before use"]
Done: TypeAlias = tuple[date, int | None]

NOTHING: DueState = "nothing"
DUE_SOON: DueState = "due soon"
OVERDUE: DueState = "overdue"
NEEDED_BEFORE_USE: DueState = "needed before use"

MONTHS_RANGE = (1, 120)
DAYS_RANGE = (1, 3650)
HOURS_TENTHS_RANGE = (10, 200_000)
COUNT_TENTHS_RANGE = (10, 9_999_990)
LONGEST_PUT_OFF = 14
"""[d] The most by which any work is put off."""


def add_months(anchor: date, months: int) -> date:
    """The day that is so many months after the anchor, its day kept where the month has it.

    31 Jan + 1, 2, 3 months is 28 Feb, 31 Mar, 30 Apr: always counted from the anchor, so a short
    month does not shorten the ones after it.

    Args:
        anchor: the day counted from.
        months: how many months on; may be negative.

    Raises:
        ValueError: the answer lies outside the years 1 to 9999.

    Source:
        Common practice, no source: the last day of the month stands in for a day it lacks.
    """
    year, month = divmod(anchor.year * 12 + anchor.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise ValueError(f"{count_text(months, 'month')} from {day_text(anchor)} is out of range")
    day = anchor.day if anchor.day <= 28 else min(anchor.day, monthrange(year, month + 1)[1])
    return date(year, month + 1, day)


@dataclass(frozen=True, kw_only=True)
class DueRule:
    """One plan line's rule, by the calendar, by one meter, or both. Weeks are given as days.

    What the meter counts is its measure: hours, or starts, strokes and the like; its figures are
    whole tenths. The figures for the first time stand in until the work was done once; where one
    is not given, the repeat figure (of the meter, or of the calendar) is used for the first time
    too. A rule with first figures only is done once.

    Raises:
        ValueError: nothing is given, a figure is out of range, or months and days are both given.
    """

    first_tenths: int | None = None
    every_tenths: int | None = None
    first_months: int | None = None
    every_months: int | None = None
    first_days: int | None = None
    every_days: int | None = None
    counts_from: CountsFrom = "done"
    measure: str = HOURS

    def __post_init__(self) -> None:
        by_meter = HOURS_TENTHS_RANGE if self.measure == HOURS else COUNT_TENTHS_RANGE
        given = {
            "first months": (self.first_months, MONTHS_RANGE),
            "months": (self.every_months, MONTHS_RANGE),
            "first days": (self.first_days, DAYS_RANGE),
            "days": (self.every_days, DAYS_RANGE),
            f"first {self.measure}, in tenths,": (self.first_tenths, by_meter),
            f"{self.measure}, in tenths,": (self.every_tenths, by_meter),
        }
        for name, (figure, (low, high)) in given.items():
            if figure is not None and not low <= figure <= high:
                raise ValueError(f"{name} must be {low} to {high}, not {figure}")
        if all(figure is None for figure, _ in given.values()):
            raise ValueError(f"a rule needs {self.measure}, months or days")
        if self.first_months is not None and self.first_days is not None:
            raise ValueError("the first time is set in months or in days, not both")
        if self.every_months is not None and self.every_days is not None:
            raise ValueError("the repeat is set in months or in days, not both")
        if self.counts_from not in ("done", "planned"):
            raise ValueError(f"counts from is 'done' or 'planned', not {self.counts_from!r}")

    @property
    def once(self) -> bool:
        """Whether nothing follows the first time."""
        return self.every_tenths is None and self.every_months is None and self.every_days is None


class Due(NamedTuple):
    """When the work is due next: on or before a day, at or before a meter figure, or both.

    cycle is 1 for the first time, 2 after one completion, and so on.
    """

    on: date | None
    tenths: int | None
    cycle: int


def next_due(
    rule: DueRule,
    *,
    start_on: date,
    start_tenths: int | None,
    done: tuple[Done, ...],
    notice_days: int = 0,
    notice_tenths: int = 0,
) -> Due:
    """The next due point of a plan line.

    Counted from when done, the repeat figures run from the last completion. Counted from the
    planned point, the points are fixed (start + first, then every) and the next one is the first
    after the last completion, so late work does not move them. Work done early, inside the
    notice, satisfies the coming point; the notice never reaches further than half way back to
    the point before.

    A completion without a meter figure leaves the hours counted from the last known figure,
    which errs towards due too early.

    Args:
        rule: what the plan line says.
        start_on: the day the plan line began for this machine.
        start_tenths: [0.1 of the measure] the meter's total on that day; None without one.
        done: completions as (day, the meter's total in tenths or None), oldest first.
        notice_days: how early, in days, work counts for the coming planned point.
        notice_tenths: [0.1 of the measure] how early by the meter.

    Raises:
        ValueError: completions out of order, or a negative notice.
    """
    if len(done) > 1 and any(later[0] < earlier[0] for earlier, later in pairwise(done)):
        raise ValueError("completions must be given oldest first")
    if notice_days < 0 or notice_tenths < 0:
        raise ValueError("notice must be 0 or more")
    cycle = len(done) + 1
    if done and rule.once:
        return Due(on=None, tenths=None, cycle=cycle)
    known = [tenths for _, tenths in done if tenths is not None]
    if rule.counts_from == "planned":
        on = _planned_day(rule, start=start_on, done=done, notice=notice_days)
        tenths = _planned_tenths(rule, start=start_tenths, known=known, notice=notice_tenths)
    elif done:
        on = _repeat_day(rule, done[-1][0])
        last = max(known) if known else start_tenths
        tenths = _plus(last, rule.every_tenths)
    else:
        on = _first_day(rule, start_on)
        tenths = _plus(start_tenths, rule.first_tenths or rule.every_tenths)
    return Due(on=on, tenths=tenths, cycle=cycle)


def state(
    due: Due,
    *,
    on: date,
    tenths: int | None,
    notice_days: int,
    notice_tenths: int,
    in_use: bool,
    calendar_stopped: bool = False,
    put_off_to: date | None = None,
    estimated_on: date | None = None,
) -> DueState:
    """How a due point stands today. Due means on or before: overdue begins the day after.

    Args:
        due: the point, from next_due().
        on: today, in the depot's zone.
        tenths: [0.1 of the measure] the meter's total now; None when not known.
        notice_days: how many days ahead counts as due soon.
        notice_tenths: [0.1 of the measure] how much ahead by the meter counts as due soon.
        in_use: out on hire or on the firm's own site; anything else blocks use instead.
        calendar_stopped: laid up, and this is a service: the calendar does not count.
        put_off_to: the last day of a service that somebody put off; it stands in for the due day
            and for the hours. Never given for a safety test.
        estimated_on: the day on which the hours are likely up where no meter tells them. An
            estimate announces the work; it never makes it overdue.
    """
    if put_off_to is not None:
        due, calendar_stopped = Due(on=put_off_to, tenths=None, cycle=due.cycle), False
    day = None if calendar_stopped else due.on
    left_days = None if day is None else (day - on).days
    left_tenths = None if due.tenths is None or tenths is None else due.tenths - tenths
    if (left_days is not None and left_days < 0) or (left_tenths is not None and left_tenths < 0):
        return OVERDUE if in_use else NEEDED_BEFORE_USE
    if left_days is not None and left_days <= notice_days:
        return DUE_SOON
    if left_tenths is not None and left_tenths <= notice_tenths:
        return DUE_SOON
    if put_off_to is None and estimated_on is not None and (estimated_on - on).days <= notice_days:
        return DUE_SOON
    return NOTHING


def sentence(
    rule: DueRule,
    due: Due,
    *,
    start_on: date,
    start_tenths: int | None,
    done: tuple[Done, ...],
    a_day: float | None = None,
    likely_on: date | None = None,
    estimated: bool = False,
    broken_on: date | None = None,
) -> str:
    """Why the work is due when it is: the rule, what it was counted from, and the answer.

    Args:
        rule, due, start_on, start_tenths, done: as given to and by next_due().
        a_day: [1/d] use rate, said when the meter's figure has a likely day.
        likely_on: the day on which the meter is likely to reach the figure.
        estimated: no meter tells the use of these days; it is said.
        broken_on: the day since which the meter is broken.
    """
    counted = f"{rule_text(rule)}: {_counted_text(rule, start_on, start_tenths, done)}"
    by_hours = rule.measure == HOURS
    up = counted_name(rule.measure)
    unit = "h" if by_hours else up
    broken = ""
    if broken_on is not None and (rule.first_tenths or rule.every_tenths):
        broken = gettext(" Its meter is broken since {broken_on}.").format(
            broken_on=day_text(broken_on)
        )
    if due.on is None and due.tenths is None:
        if rule.once and done:
            return gettext("{counted}, so nothing more is due.").format(counted=counted)
        if likely_on is not None and a_day is not None:
            told = gettext(
                "{counted}, so at {a_day} {unit} a day (estimated from the days out, "
                "there is no meter figure) the {up} are likely up {likely_on}."
            ).format(
                counted=counted, a_day=f"{a_day:.1f}", unit=unit, up=up,
                likely_on=day_text(likely_on),
            )  # fmt: skip
        elif by_hours:
            told = gettext(
                "{counted}, so no due point can be worked out without a meter figure."
            ).format(counted=counted)
        else:
            told = gettext(
                "{counted}, so no due point can be worked out without a count of {up}."
            ).format(counted=counted, up=up)
        return f"{told}{broken}"
    told = gettext("{counted}, so due on {day}")
    if due.tenths is not None:
        told = gettext("{counted}, so due at {figure} or {day}")
        if due.on is None:
            told = gettext("{counted}, so due at {figure}")
    told = told.format(
        counted=counted,
        figure="" if due.tenths is None else figure_text(due.tenths, rule.measure),
        day="" if due.on is None else day_text(due.on),
    )
    if likely_on is not None and a_day is not None:
        likely = (
            gettext(
                "{due} (at {a_day} {unit} a day, estimated, the {up} are likely up {likely_on})"
            )
            if estimated
            else gettext("{due} (at {a_day} {unit} a day, the {up} are likely up {likely_on})")
        )
        told = likely.format(
            due=told, a_day=f"{a_day:.1f}", unit=unit, up=up, likely_on=day_text(likely_on)
        )
    return f"{told}.{broken}"


def do_by(due_on: date, *, is_open: Callable[[date], bool]) -> date:
    """The last open day on or before the due day, which itself stays as it is.

    Raises:
        ValueError: no day of the 31 up to the due day is open.
    """
    for back in range(31):
        day = due_on - timedelta(days=back)
        if is_open(day):
            return day
    raise ValueError(f"no open day in the 31 days up to {day_text(due_on)}")


def put_off_limit(rule: DueRule) -> int:
    """By how many days work may be put off: a tenth of its interval, from 1 to 14 days.

    Source:
        Common practice, no source: service intervals bear 10 %, at most 14 days.
    """
    if rule.every_days is not None:
        return max(1, min(LONGEST_PUT_OFF, rule.every_days // 10))
    months = rule.every_months or rule.first_months
    if months is not None:
        return max(1, min(LONGEST_PUT_OFF, months * 3))
    return LONGEST_PUT_OFF


def put_off_refusal(
    *, is_test: bool, in_use: bool, due_on: date, to: date, limit_days: int, reason: str
) -> str:
    """Why this may not be put off to that day; empty when it may."""
    if is_test and in_use:
        return gettext("A safety test cannot be put off for a machine in use.")
    if to <= due_on:
        return gettext("The new day must be after {due_on}.").format(due_on=day_text(due_on))
    if (to - due_on).days > limit_days:
        return ngettext(
            "It can be put off by {days} day at most.",
            "It can be put off by {days} days at most.",
            limit_days,
        ).format(days=limit_days)
    if len(reason.strip()) < 10:
        return gettext("Write the reason, in 10 letters or more.")
    return ""


def includes(*, larger: int, smaller: int) -> bool:
    """Whether closing work of one service level closes the other on the same day and reading.

    Level 0 stands alone (a test, an examination); 1 and up are services, the larger including
    the smaller.
    """
    return larger == smaller or 0 < smaller < larger


def rule_text(rule: DueRule) -> str:
    """The rule as people say it: first at, then every, and from where it counts."""
    first = _figures(rule.first_tenths, rule.first_months, rule.first_days, rule.measure)
    every = _figures(rule.every_tenths, rule.every_months, rule.every_days, rule.measure)
    told = gettext("First at {first}").format(first=first) if first else ""
    if rule.once:
        return gettext("Once only, at {first}").format(first=first)
    told = (
        gettext("{told}, then every {every}").format(told=told, every=every)
        if told
        else gettext("Every {every}").format(every=every)
    )
    if rule.counts_from == "planned":
        return gettext("{told}, counted from the planned point").format(told=told)
    return gettext("{told}, counted from when last done").format(told=told)


def _first_day(rule: DueRule, start: date) -> date | None:
    if rule.first_months is not None:
        return add_months(start, rule.first_months)
    if rule.first_days is not None:
        return start + timedelta(days=rule.first_days)
    return _repeat_day(rule, start)


def _repeat_day(rule: DueRule, start: date) -> date | None:
    if rule.every_months is not None:
        return add_months(start, rule.every_months)
    if rule.every_days is not None:
        return start + timedelta(days=rule.every_days)
    return None


def _plus(start: int | None, interval: int | None) -> int | None:
    return None if start is None or interval is None else start + interval


def _planned_day(rule: DueRule, *, start: date, done: tuple[Done, ...], notice: int) -> date | None:
    first = _first_day(rule, start)
    if first is None or not done:
        return first
    after = done[-1][0]
    before, point, number = start, first, 0
    while True:
        early = min(notice, (point - before).days // 2)
        if point > after + timedelta(days=early):
            return point
        number += 1
        following = _planned_point(rule, start=start, first=first, number=number)
        if following is None:
            return None
        before, point = point, following


def _planned_point(rule: DueRule, *, start: date, first: date, number: int) -> date | None:
    """The planned day so many repeats after the first, counted from one anchor each time."""
    if rule.every_months is not None:
        if rule.first_days is None:
            lead = rule.first_months or rule.every_months
            return add_months(start, lead + number * rule.every_months)
        return add_months(first, number * rule.every_months)
    if rule.every_days is not None:
        return first + timedelta(days=number * rule.every_days)
    return None


def _planned_tenths(
    rule: DueRule, *, start: int | None, known: list[int], notice: int
) -> int | None:
    first = _plus(start, rule.first_tenths or rule.every_tenths)
    if start is None or first is None or not known:
        return first
    after, every = max(known), rule.every_tenths
    if first > after + min(notice, (first - start) // 2):
        return first
    if every is None:
        return None
    early = min(notice, every // 2)
    # The first point is behind us, though the notice before later points may be the shorter one.
    return first + (max(0, (after + early - first) // every) + 1) * every


def _figures(tenths: int | None, months: int | None, days: int | None, measure: str) -> str:
    told = []
    if tenths is not None:
        told.append(interval_text(tenths, measure))
    if months is not None:
        told.append(count_text(months, "month"))
    if days is not None:
        weeks = days % 7 == 0
        told.append(count_text(days // 7, "week") if weeks else count_text(days, "day"))
    if len(told) > 1:
        return gettext("{either}, whichever comes first").format(either=either_text(told))
    return "".join(told)


def _counted_text(
    rule: DueRule, start_on: date, start_tenths: int | None, done: tuple[Done, ...]
) -> str:
    if not done:
        return gettext("not done yet, counted from {start_on}").format(
            start_on=_point_text(start_on, start_tenths, rule.measure)
        )
    told = gettext("last done {point_text}").format(point_text=_point_text(*done[-1], rule.measure))
    if rule.counts_from == "planned" and not rule.once:
        told = gettext("planned from {start_on}, {told}").format(
            start_on=_point_text(start_on, start_tenths, rule.measure), told=told
        )
    return told


def _point_text(on: date, tenths: int | None, measure: str) -> str:
    return (
        day_text(on)
        if tenths is None
        else gettext("{on} at {tenths}").format(
            on=day_text(on), tenths=figure_text(tenths, measure)
        )
    )
