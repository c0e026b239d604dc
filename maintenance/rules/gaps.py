"""Gaps: days in use on which a wanted check is missing, and days for which work was late.

Moments are half-open spans, from the first up to but not at the second; days are those of the
depot. Nothing here forgives: what was wanted and is not there is a gap.
"""

from bisect import bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple, TypeAlias

from maintenance.rules import due as due_rule
from maintenance.rules.due_line import Asked

Span: TypeAlias = tuple[datetime, datetime]
Run: TypeAlias = tuple[date, date]
ONE_DAY = timedelta(days=1)


class Went(NamedTuple):
    """One change of place: when, and whether the machine was in use after it."""

    at: datetime
    in_use: bool


def stays(moves: Iterable[Went], *, began: bool, since: datetime, until: datetime) -> list[Span]:
    """The spans in which the machine was in use, each place that it was used at a span of its own.

    Args:
        moves: in any order; one from a site to the next ends a span and begins another.
        began: whether it was in use before the first of them.
        since: nothing is known before this moment; until: the end of what is looked at.
    """
    found: list[Span] = []
    begun = since if began else None
    for move in sorted(moves, key=lambda each: each.at):
        at = min(max(move.at, since), until)
        if begun is not None and begun < at:
            found.append((begun, at))
        begun = at if move.in_use else None
    if begun is not None and begun < until:
        found.append((begun, until))
    return found


def merged(spans: Iterable[Span]) -> list[Span]:
    """The same moments as spans that neither touch nor overlap, earliest first."""
    found: list[Span] = []
    for start, end in sorted((_utc(start), _utc(end)) for start, end in spans):
        if start >= end:
            continue
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def without(spans: Iterable[Span], cut: Iterable[Span]) -> list[Span]:
    """What is left of the spans outside those that are cut out; each span is cut by itself."""
    cuts = merged(cut)
    left: list[Span] = []
    for start, end in spans:
        begun, end = _utc(start), _utc(end)
        for cut_start, cut_end in cuts:
            if cut_end <= begun or cut_start >= end:
                continue
            if begun < cut_start:
                left.append((begun, cut_start))
            begun = max(begun, cut_end)
        if begun < end:
            left.append((begun, end))
    return left


def days_of(spans: Iterable[Span], zone: tzinfo) -> set[date]:
    """The days of the depot on which any moment of the spans lies."""
    found: set[date] = set()
    for start, end in merged(spans):
        day = start.astimezone(zone).date()
        # The end is not part of the span: one that ends at midnight takes no new day.
        last = (end - timedelta(microseconds=1)).astimezone(zone).date()
        while day <= last:
            found.add(day)
            day += ONE_DAY
    return found


def runs(days: Iterable[date]) -> list[Run]:
    """The days as runs of days that follow each other, first and last day of each."""
    found: list[Run] = []
    for day in sorted(set(days)):
        if found and found[-1][1] + ONE_DAY == day:
            found[-1] = (found[-1][0], day)
        else:
            found.append((day, day))
    return found


@dataclass(frozen=True, kw_only=True)
class Often:
    """How often a check was wanted in use, from a day on.

    every_days: None where no rule says how often; anew: a check passed before the machine came to
    the place where it is used does not count there.
    """

    from_on: date
    every_days: int | None
    anew: bool = True


@dataclass(frozen=True, kw_only=True)
class Checked:
    """The days of a period, told apart. Every day in use is in exactly one of the first three.

    missing: in use, a check wanted, none that held; held: in use, and a check held; idle: in use by
    its place, but stopped the whole of that time, so that nobody should have used it; not_asked:
    days among held on which no rule said how often.
    """

    missing: tuple[date, ...]
    held: tuple[date, ...]
    idle: tuple[date, ...]
    not_asked: tuple[date, ...]


def unchecked(
    *,
    used: Sequence[Span],
    stopped: Iterable[Span],
    passed: Iterable[datetime],
    done: Iterable[datetime],
    often: Sequence[Often],
    zone: tzinfo,
) -> Checked:
    """Which days in use had no check that held.

    A check holds on its own day and up to the day on which the next is wanted. Whatever the
    outcome, a check that was done in one of the stays of a day is not missing on that day; one
    that was done before the machine came there, or after it left, is none of that place.

    Args:
        used: the stays where the machine was used, not merged.
        stopped: when it stood as *Do not use*; then nobody should use it, and none is wanted.
        passed: moments at which a check, or what counts as one, was passed.
        done: moments of all checks, passed or not.
        often: the rule in force from each day; the first holds before its day too.

    Source:
        The intervals come from the rule sheets, each with its source. A shift as a calendar day:
        common practice, no source.
    """
    in_force = sorted(often, key=lambda each: each.from_on)
    starts = [each.from_on for each in in_force]
    passes = sorted(_utc(at) for at in passed)
    pass_days = [at.astimezone(zone).date() for at in passes]
    stays_met = merged(used)
    done_days = {
        at.astimezone(zone).date()
        for at in (*map(_utc, done), *passes)
        if any(start <= at < end for start, end in stays_met)
    }
    cuts = merged(stopped)
    in_use = days_of(used, zone)
    running: dict[date, list[datetime]] = {}
    for stay in used:
        for day in days_of(without([stay], cuts), zone):
            running.setdefault(day, []).append(_utc(stay[0]))
    missing: list[date] = []
    held: list[date] = []
    idle: list[date] = []
    not_asked: list[date] = []
    for day in sorted(in_use):
        if day not in running:
            idle.append(day)
            continue
        rule = in_force[max(0, bisect_right(starts, day) - 1)] if in_force else None
        if rule is None or rule.every_days is None:
            not_asked.append(day)
            held.append(day)
            continue
        first = bisect_right(pass_days, day - timedelta(days=rule.every_days))
        last = bisect_right(pass_days, day)
        newest = passes[last - 1] if first < last else None
        holds = newest is not None and (
            not rule.anew or all(newest >= began for began in running[day])
        )
        (held if holds or day in done_days else missing).append(day)
    return Checked(
        missing=tuple(missing), held=tuple(held), idle=tuple(idle), not_asked=tuple(not_asked)
    )


@dataclass(frozen=True, kw_only=True)
class Late:
    """One piece of work that was done after it was due, or is not done yet.

    due_on, due_tenths: as it was due when it became late; first: the first day past it; last: the
    day it was done, or the last day looked at; done_on: None while it is not done.
    """

    due_on: date | None
    due_tenths: int | None
    first: date
    last: date
    done_on: date | None

    @property
    def days(self) -> int:
        """[d] How many days it was late by."""
        return (self.last - self.first).days + 1

    def split(self, in_use: Collection[date]) -> tuple[int, int]:
        """[d] Of them those on which the machine was in use, and those on which it was not."""
        used = sum(self.first + n * ONE_DAY in in_use for n in range(self.days))
        return used, self.days - used

    def within(self, first: date, last: date) -> "Late | None":
        """What of it lies in the days from first to last; None where nothing does."""
        if self.last < first or self.first > last:
            return None
        done = self.done_on if self.done_on is not None and self.done_on <= last else None
        return Late(
            due_on=self.due_on, due_tenths=self.due_tenths, first=max(self.first, first),
            last=min(self.last, last), done_on=done,
        )  # fmt: skip


def late(
    versions: Sequence[tuple[date, Asked]],
    *,
    start_on: date,
    start_tenths: int | None,
    done: Iterable[due_rule.Done],
    figures: Iterable[due_rule.Done],
    until: date,
    resting: Iterable[Run] = (),
) -> list[Late]:
    """When one line of a machine's plan was past, by the plan as it was on each day.

    Due means on or before: late begins the day after, or on the day whose meter figure is known to
    lie past. The day on which it is done is the last one late. A day put off stays late, since
    putting off moves no due day.

    Args:
        versions: the plan of the line, each from its day on; the first holds before its day too.
        start_on, start_tenths: where counting began on this machine.
        done: its completions as day and total in tenths or None, in any order.
        figures: known totals by day, in any order.
        until: the last day looked at.
        resting: runs of days on which the line was not asked of this machine.
    """
    if start_on > until:
        return []
    plan = sorted(versions, key=lambda each: each[0])
    completed = sorted(done, key=lambda each: (each[0], -1 if each[1] is None else each[1]))
    known = sorted((day, tenths) for day, tenths in figures if tenths is not None)
    off = list(resting)
    changes = {start_on}
    changes |= {day for day, _ in plan if start_on < day <= until}
    changes |= {on + ONE_DAY for on, _ in completed if start_on <= on < until}
    for first, last in off:
        changes |= {day for day in (first, last + ONE_DAY) if start_on < day <= until}
    begins = sorted(day for day in changes if day <= until)
    found: list[Late] = []
    for begin, after in zip(begins, [*begins[1:], until + ONE_DAY], strict=True):
        end = after - ONE_DAY
        asked = max((each for each in plan if each[0] <= begin), default=plan[0], key=_begins)[1]
        if asked.rule is None or any(first <= begin <= last for first, last in off):
            continue
        so_far = tuple(each for each in completed if each[0] < begin)
        due = due_rule.next_due(
            asked.rule, start_on=start_on, start_tenths=start_tenths, done=so_far,
            notice_days=asked.notice_days, notice_tenths=asked.notice_tenths,
        )  # fmt: skip
        past = [due.on + ONE_DAY] if due.on is not None else []
        if due.tenths is not None:
            past += [day for day, tenths in known if tenths > due.tenths][:1]
        if not past or min(past) > end:
            continue
        done_on = end if any(on == end for on, _ in completed) else None
        each = Late(
            due_on=due.on, due_tenths=due.tenths, first=max(begin, min(past)), last=end,
            done_on=done_on,
        )  # fmt: skip
        # The same piece of work goes on where the plan changed while it was late.
        if found and found[-1].done_on is None and found[-1].last + ONE_DAY == each.first:
            before = found.pop()
            each = Late(
                due_on=before.due_on, due_tenths=before.due_tenths, first=before.first,
                last=each.last, done_on=each.done_on,
            )  # fmt: skip
        found.append(each)
    return found


def midnight(day: date, zone: tzinfo) -> datetime:
    """The first moment of a day of the depot."""
    return datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)


def _begins(version: tuple[date, Asked]) -> date:
    return version[0]


def _utc(at: datetime) -> datetime:
    # Moments of one zone are compared by their wall clock, which goes back once a year.
    return at.astimezone(UTC)
