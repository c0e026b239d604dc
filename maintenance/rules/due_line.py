"""One line of one machine, worked out from everything known: when it is due, and what follows."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from functools import cached_property
from itertools import accumulate
from typing import NamedTuple, TypeAlias

from maintenance.rules import due as rule
from maintenance.rules import usage

Span: TypeAlias = tuple[date, date]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a plan line asks: its rule, none where it is not asked any more, and its notice."""

    rule: rule.DueRule | None
    notice_days: int = 0
    notice_tenths: int = 0
    is_test: bool = False


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of a machine's running: enough to say when hours are up.

    hours_tenths: [0.1 h] now; readings: the figures that count, oldest first; zone: the depot's.
    last: day and hours of the newest figure; rate: by readings, or by days out where is_estimate
    says so; span: the days that the rate was taken from.
    """

    zone: tzinfo
    hours_tenths: int | None = None
    readings: Sequence[usage.Reading] = ()
    last: usage.DayFigure | None = None
    rate: usage.Rate | None = None
    is_estimate: bool = False
    span: Span | None = None

    @cached_property
    def by_day(self) -> list[usage.DayFigure]:
        """The figures by the depot's day, with the register's own."""
        figures = {
            (datetime.fromtimestamp(moment, self.zone).date(), tenths)
            for moment, tenths in self.readings
        }
        if self.last is not None:
            figures.add(self.last)
        return sorted(figures)


class WorkedOut(NamedTuple):
    """What follows for the line; the names are those of its row."""

    last_done_on: date | None
    last_done_tenths: int | None
    cycle: int
    due_on: date | None
    due_tenths: int | None
    put_off_to: date | None
    early_on: date | None
    likely_on: date | None
    late_on: date | None
    is_estimate: bool
    plan_on: date | None
    raise_on: date | None
    raise_tenths: int | None
    past_after: date | None
    hours_near: bool
    hours_past: bool


def work_out(
    asked: Asked,
    *,
    start_on: date,
    start_tenths: int | None,
    known: Known,
    done: Sequence[rule.Done] = (),
    passed_over: int = 0,
    resting: bool = False,
    put_off_to: date | None = None,
) -> WorkedOut:
    """When the line is due next and everything that follows.

    Args:
        start_on, start_tenths: where its counting began on this machine.
        done: its completions, oldest first.
        passed_over: cycles that ended without being done.
        resting: not asked of this machine at present.
        put_off_to: the day to which this cycle was put off.
    """
    cycle = len(done) + 1 + passed_over
    last_on, last_tenths = done[-1] if done else (None, None)
    on = tenths = told = None
    if asked.rule is not None and not resting:
        due = rule.next_due(
            asked.rule,
            start_on=start_on,
            start_tenths=start_tenths,
            done=tuple(done),
            notice_days=asked.notice_days,
            notice_tenths=asked.notice_tenths,
        )
        on, tenths = due.on, due.tenths
        told = _forecast(
            asked.rule, tenths, counted_from=last_on or start_on, was_done=bool(done), known=known
        )
    is_estimate = told is not None and known.is_estimate
    # A safety test that was put off stays past where it is; only the work is planned later.
    moved = None if asked.is_test else put_off_to
    plan_on = put_off_to or usage.plan_day(due_on=on, forecast=told)
    first = put_off_to or (plan_on if is_estimate else on)
    near = past = False
    if known.hours_tenths is not None and tenths is not None and moved is None:
        past = known.hours_tenths > tenths
        near = put_off_to is None and known.hours_tenths >= tenths - asked.notice_tenths
    return WorkedOut(
        last_done_on=last_on,
        last_done_tenths=last_tenths,
        cycle=cycle,
        due_on=on,
        due_tenths=tenths,
        put_off_to=put_off_to,
        early_on=None if told is None else told.earliest,
        likely_on=None if told is None else told.likely,
        late_on=None if told is None else told.latest,
        is_estimate=is_estimate,
        plan_on=plan_on,
        raise_on=None if first is None else first - timedelta(days=asked.notice_days),
        raise_tenths=None if tenths is None else tenths - asked.notice_tenths,
        past_after=moved or on,
        hours_near=near,
        hours_past=past,
    )


def points_done(
    told: Sequence[rule.Done], *, start_on: date, start_tenths: int | None, known: Known
) -> list[rule.Done]:
    """Completions, oldest first, each with its running hours: as read then, else worked out.

    Between two figures the hours are taken to have run evenly; after the last one they stand at it,
    which errs towards due too early. The figure that the line began with is one of them.
    """
    points: list[rule.Done] = list(told)
    if any(tenths is None for _, tenths in told):
        figures = known.by_day
        if start_tenths is not None:
            figures = sorted([*figures, (start_on, start_tenths)])
        days = [day for day, _ in figures]
        hours = list(accumulate((figure for _, figure in figures), max))  # hours never fall
        points = [
            (on, _hours_on(on, days=days, hours=hours) if tenths is None else tenths)
            for on, tenths in told
        ]
    if len(points) > 1:
        points.sort(key=lambda point: (point[0], -1 if point[1] is None else point[1]))
    return points


def _hours_on(on: date, *, days: Sequence[date], hours: Sequence[int]) -> int | None:
    place = bisect_right(days, on)
    if not place:
        return None
    day, before = days[place - 1], hours[place - 1]
    if day == on or place == len(days):
        return before
    return before + (hours[place] - before) * (on - day).days // (days[place] - day).days


def _forecast(
    asked: rule.DueRule,
    tenths: int | None,
    *,
    counted_from: date,
    was_done: bool,
    known: Known,
) -> usage.Forecast | None:
    if known.rate is None:
        return None
    if tenths is not None and known.last is not None:
        return usage.forecast(due_tenths=tenths, last=known.last, rate=known.rate)
    # No figure at all: the hours of the rule, run down by the days out since it was last done.
    interval = asked.every_hours_tenths if was_done else asked.first_hours_tenths
    interval = interval or asked.every_hours_tenths
    if interval is None or known.hours_tenths is not None or (was_done and asked.once):
        return None
    return usage.forecast(due_tenths=interval, last=(counted_from, 0), rate=known.rate)
