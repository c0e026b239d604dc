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
from maintenance.rules.words import HOURS

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
    """What is known of one meter of a machine: enough to say when its figure is reached.

    total_tenths: [0.1 of its measure] the last known total; readings: the figures that count,
    oldest first; zone: the depot's. last: day and total of the newest figure; rate: by readings, or
    by days out; span: the days that the rate was taken from; is_estimate: no dial tells the use at
    present; blind: the totals of the days since the dial broke, by estimate; counter: its row,
    where it counts something else than hours.
    """

    zone: tzinfo
    total_tenths: int | None = None
    readings: Sequence[usage.Reading] = ()
    last: usage.DayFigure | None = None
    rate: usage.Rate | None = None
    is_estimate: bool = False
    span: Span | None = None
    blind: Sequence[usage.DayFigure] = ()
    counter: int | None = None

    def by_day(
        self, start_on: date, start_tenths: int | None
    ) -> tuple[Sequence[date], Sequence[int]]:
        """Days of the depot and the total on each, with the register's figure, one to begin with,
        and the estimated ones."""
        start = (start_on, start_tenths)
        if start not in self._by_day:
            figures = {
                (datetime.fromtimestamp(moment, self.zone).date(), tenths)
                for moment, tenths in self.readings
            }
            if self.last is not None:
                figures.add(self.last)
            figures.update(self.blind)
            if start_tenths is not None:
                figures.add((start_on, start_tenths))
            ordered = sorted(figures)
            totals = accumulate((tenths for _, tenths in ordered), max)  # they never fall
            self._by_day[start] = [day for day, _ in ordered], list(totals)
        return self._by_day[start]

    @cached_property
    def _by_day(self) -> dict[tuple[date, int | None], tuple[Sequence[date], Sequence[int]]]:
        return {}  # the lines of a machine mostly begin together


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
    if known.total_tenths is not None and tenths is not None and moved is None:
        past = known.total_tenths > tenths
        near = put_off_to is None and known.total_tenths >= tenths - asked.notice_tenths
    early = likely = late = None
    if told is not None:
        early, likely, late = told.earliest, told.likely, told.latest
    raise_on = None if first is None else first - timedelta(days=asked.notice_days)
    raise_tenths = None if tenths is None else tenths - asked.notice_tenths
    return WorkedOut(
        last_on, last_tenths, cycle, on, tenths, put_off_to, early, likely, late, is_estimate,
        plan_on, raise_on, raise_tenths, moved or on, near, past,
    )  # fmt: skip


def points_done(
    told: Sequence[rule.Done], *, start_on: date, start_tenths: int | None, known: Known
) -> list[rule.Done]:
    """Completions, oldest first, each with the meter's total: as read then, else worked out.

    Between two figures it is taken to have run evenly; after the last one it stands there,
    which errs towards due too early. The figure that the line began with is one of them.
    """
    points: list[rule.Done] = []
    for on, tenths in told:
        if tenths is None:
            tenths = _total_on(on, *known.by_day(start_on, start_tenths))
        points.append((on, tenths))
    if len(points) > 1:
        points.sort(key=lambda point: (point[0], -1 if point[1] is None else point[1]))
    return points


def _total_on(on: date, days: Sequence[date], totals: Sequence[int]) -> int | None:
    place = bisect_right(days, on)
    if not place:
        return None
    day, before = days[place - 1], totals[place - 1]
    if day == on or place == len(days):
        return before
    return before + (totals[place] - before) * (on - day).days // (days[place] - day).days


def _forecast(
    asked: rule.DueRule,
    tenths: int | None,
    *,
    counted_from: date,
    was_done: bool,
    known: Known,
) -> usage.Forecast | None:
    # What the time without a dial has passed already, it has passed at whatever rate now.
    if tenths is not None and known.blind and (day := usage.reached(known.blind, tenths=tenths)):
        return usage.Forecast(earliest=day, likely=day, latest=day, rate=known.rate)
    if known.rate is None:
        return None
    if tenths is not None and known.last is not None:
        return usage.forecast(due_tenths=tenths, last=known.last, rate=known.rate)
    # No figure at all: the hours of the rule, run down by the days out since it was last done.
    interval = asked.every_tenths if was_done else asked.first_tenths
    interval = interval or asked.every_tenths
    untold = asked.measure == HOURS and known.total_tenths is None
    if interval is None or not untold or (was_done and asked.once):
        return None
    return usage.forecast(due_tenths=interval, last=(counted_from, 0), rate=known.rate)
