"""Gaps, checked against looking at every hour of every day, and against days counted by hand."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.rules.due import DueRule, next_due
from maintenance.rules.due_line import Asked
from maintenance.rules.gaps import (
    Often,
    Span,
    Went,
    days_of,
    late,
    merged,
    midnight,
    runs,
    stays,
    unchecked,
    without,
)

LONDON = ZoneInfo("Europe/London")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
# Two weeks round each change of the clocks (29 Mar and 25 Oct 2026), and a plain fortnight.
BEGINNINGS = [datetime(2026, 3, 22, tzinfo=UTC), datetime(2026, 10, 18, tzinfo=UTC),
              datetime(2026, 6, 1, tzinfo=UTC)]  # fmt: skip
HOURS = st.integers(min_value=0, max_value=14 * 24)


def spans_from(begin: datetime, hours: list[int]) -> list[Span]:
    """Hours as spans, each from one to the next; an odd one is left over."""
    told = sorted(set(hours))
    return [
        (begin + a * HOUR, begin + b * HOUR) for a, b in zip(told[::2], told[1::2], strict=False)
    ]


def inside(at: datetime, spans: list[Span]) -> bool:
    return any(start <= at < end for start, end in spans)


@given(data=st.data(), begin=st.sampled_from(BEGINNINGS))
def test_no_moment_is_lost_or_gained_by_merging_or_cutting(
    data: st.DataObject, begin: datetime
) -> None:
    pairs = st.lists(st.tuples(HOURS, HOURS).map(sorted), max_size=6)
    spans = [(begin + a * HOUR, begin + b * HOUR) for a, b in data.draw(pairs)]
    cut = [(begin + a * HOUR, begin + b * HOUR) for a, b in data.draw(pairs)]

    one, left = merged(spans), without(spans, cut)

    assert one == merged(data.draw(st.permutations(spans)))
    for hour in range(14 * 24):
        at = begin + hour * HOUR + HOUR / 2
        assert inside(at, one) == inside(at, spans)
        assert inside(at, left) == (inside(at, spans) and not inside(at, cut))
    told = {(begin + n * HOUR).astimezone(LONDON).date() for n in range(14 * 24)
            if inside(begin + n * HOUR, one)}  # fmt: skip
    assert days_of(spans, LONDON) == told


@settings(max_examples=60)
@given(
    data=st.data(),
    begin=st.sampled_from(BEGINNINGS),
    every=st.sampled_from([1, 7]),
    anew=st.booleans(),
)
def test_every_day_in_use_without_a_check_is_found_whatever_the_order(
    data: st.DataObject, begin: datetime, every: int, anew: bool
) -> None:
    several = st.lists(HOURS, max_size=8)
    used = spans_from(begin, data.draw(several))
    stopped = spans_from(begin, data.draw(several))
    passed = [begin + hour * HOUR for hour in data.draw(several)]
    failed = [begin + hour * HOUR for hour in data.draw(several)]

    found = unchecked(
        used=data.draw(st.permutations(used)), stopped=data.draw(st.permutations(stopped)),
        passed=data.draw(st.permutations(passed)), done=[*failed, *passed],
        often=[Often(from_on=date(2026, 1, 1), every_days=every, anew=anew)], zone=LONDON,
    )  # fmt: skip

    told: dict[str, set[date]] = {"missing": set(), "held": set(), "idle": set()}
    for day in {(begin + n * HOUR).astimezone(LONDON).date() for n in range(14 * 24)}:
        hours = [begin + n * HOUR for n in range(-1, 14 * 24 + 1)
                 if (begin + n * HOUR).astimezone(LONDON).date() == day]  # fmt: skip
        out = [at for at in hours if inside(at, used)]
        going = [at for at in out if not inside(at, stopped)]
        if not out:
            continue
        if not going:
            told["idle"].add(day)
            continue
        began = [start for start, end in used if any(start <= at < end for at in going)]
        recent = [at for at in passed if 0 <= (day - at.astimezone(LONDON).date()).days < every]
        held = any(not anew or all(at >= start for start in began) for at in recent)
        held = held or any(at.astimezone(LONDON).date() == day and inside(at, used)
                           for at in [*passed, *failed])  # fmt: skip
        told["held" if held else "missing"].add(day)
    assert {name: set(getattr(found, name)) for name in told} == told


def test_a_week_counted_by_hand() -> None:
    """Out Monday noon to Friday noon, checked each shift but on Wednesday, stopped all Thursday."""
    monday = datetime(2026, 3, 2, 12, tzinfo=UTC)
    found = unchecked(
        used=[(monday, monday + 4 * DAY)],
        stopped=[(monday + 2.25 * DAY, monday + 3.75 * DAY)],
        passed=[monday + HOUR, monday + DAY, monday + 3.9 * DAY],
        done=[],
        often=[Often(from_on=date(2020, 1, 1), every_days=1)],
        zone=LONDON,
    )

    assert found.missing == (date(2026, 3, 4),)
    assert found.idle == (date(2026, 3, 5),)
    assert found.held == (date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 6))


def test_a_check_at_the_depot_is_not_the_first_one_on_the_site() -> None:
    morning = datetime(2026, 3, 2, 7, tzinfo=UTC)
    weekly = Often(from_on=date(2020, 1, 1), every_days=7)

    def days_missing(rule: Often) -> int:
        return len(
            unchecked(
                used=[(morning + HOUR, morning + 5 * DAY)], stopped=[], passed=[morning], done=[],
                often=[rule], zone=LONDON,
            ).missing
        )  # fmt: skip

    # None of the six days had one on the site, that of the check at the depot neither.
    assert days_missing(weekly) == 6
    assert days_missing(Often(from_on=date(2020, 1, 1), every_days=7, anew=False)) == 0


def test_where_no_rule_says_how_often_nothing_is_called_missing_and_it_is_said() -> None:
    at = datetime(2026, 3, 2, 7, tzinfo=UTC)
    rules = [Often(from_on=date(2026, 1, 1), every_days=None),
             Often(from_on=date(2026, 3, 4), every_days=1)]  # fmt: skip

    found = unchecked(used=[(at, at + 3 * DAY)], stopped=[], passed=[], done=[], often=rules,
                      zone=LONDON)  # fmt: skip

    assert found.not_asked == (date(2026, 3, 2), date(2026, 3, 3))
    assert found.missing == (date(2026, 3, 4), date(2026, 3, 5))


@given(begin=st.sampled_from(BEGINNINGS), moves=st.lists(st.tuples(HOURS, st.booleans()),
       unique_by=lambda each: each[0], max_size=8), began=st.booleans())  # fmt: skip
def test_stays_follow_the_moves(
    begin: datetime, moves: list[tuple[int, bool]], began: bool
) -> None:
    until = begin + 14 * DAY
    went = [Went(begin + hour * HOUR, in_use) for hour, in_use in moves]

    found = stays(went, began=began, since=begin, until=until)

    for hour in range(14 * 24):
        at = begin + hour * HOUR + HOUR / 2
        before = [each for each in sorted(went) if each.at <= at]
        assert inside(at, found) == (before[-1].in_use if before else began)
    assert all(start < end for start, end in found)


def test_a_machine_passed_on_between_sites_has_two_stays() -> None:
    at = datetime(2026, 3, 2, 7, tzinfo=UTC)
    moves = [Went(at + 2 * DAY, in_use=True), Went(at, in_use=True), Went(at + 3 * DAY, False)]

    assert stays(moves, began=False, since=at - DAY, until=at + 9 * DAY) == [
        (at, at + 2 * DAY), (at + 2 * DAY, at + 3 * DAY),
    ]  # fmt: skip


DAYS = st.dates(min_value=date(2026, 1, 1), max_value=date(2026, 6, 30))
RULES = st.sampled_from([
    DueRule(every_days=7), DueRule(every_days=30, counts_from="planned"), DueRule(every_months=1),
    DueRule(first_days=10, every_days=40), DueRule(every_tenths=200),
    DueRule(every_tenths=300, every_days=45), DueRule(first_days=14),
])  # fmt: skip


@settings(max_examples=80)
@given(
    data=st.data(), first=RULES, second=RULES, change=DAYS, off=st.tuples(DAYS, DAYS).map(sorted)
)
def test_every_late_day_is_found_by_asking_each_day_for_itself(
    data: st.DataObject, first: DueRule, second: DueRule, change: date, off: list[date]
) -> None:
    start, until = date(2026, 1, 5), date(2026, 6, 30)
    read = sorted(data.draw(st.lists(DAYS, max_size=6, unique=True)))
    figures = [(day, 1000 + 150 * n) for n, day in enumerate(read)]
    done = [(day, None) for day in data.draw(st.lists(DAYS, max_size=6, unique=True))]
    resting = [(off[0], off[1])] if data.draw(st.booleans()) else []
    versions = [(date(2020, 1, 1), Asked(rule=first)), (change, Asked(rule=second))]

    found = late(
        data.draw(st.permutations(versions)), start_on=start, start_tenths=1000,
        done=data.draw(st.permutations(done)), figures=data.draw(st.permutations(figures)),
        until=until, resting=resting,
    )  # fmt: skip

    told = set()
    for n in range((until - start).days + 1):
        day = start + n * DAY
        rule = second if change <= day else first
        due = next_due(rule, start_on=start, start_tenths=1000,
                       done=tuple(sorted(each for each in done if each[0] < day)))  # fmt: skip
        past = due.on is not None and day > due.on
        reached = max((tenths for on, tenths in figures if on <= day), default=0)
        past = past or (due.tenths is not None and reached > due.tenths)
        if past and not any(a <= day <= b for a, b in resting):
            told.add(day)
    days = [each.first + n * DAY for each in found for n in range(each.days)]
    assert len(days) == len(set(days))
    assert set(days) == told
    for each in found:
        assert each.done_on is None or each.done_on == each.last
        # Whatever is looked at of a period, its parts add up to the whole.
        middle = each.first + (each.last - each.first) // 2
        parts = [each.within(date.min, middle), each.within(middle + DAY, date.max)]
        assert sum(part.days for part in parts if part) == each.days


def test_a_service_twelve_days_late_and_one_that_is_not_done_counted_by_hand() -> None:
    """Monthly from 31 Jan: due 28 Feb, done 12 Mar; due again 12 Apr and not done by 30 Apr."""
    found = late(
        [(date(2020, 1, 1), Asked(rule=DueRule(every_months=1)))], start_on=date(2026, 1, 31),
        start_tenths=None, done=[(date(2026, 3, 12), None)], figures=[], until=date(2026, 4, 30),
    )  # fmt: skip

    assert [(each.due_on, each.days, each.done_on) for each in found] == [
        (date(2026, 2, 28), 12, date(2026, 3, 12)), (date(2026, 4, 12), 18, None),
    ]  # fmt: skip
    out = {date(2026, 3, day) for day in range(1, 5)}
    assert found[0].split(out) == (4, 8)


@pytest.mark.parametrize(
    ("days", "told"),
    [
        ([], []),
        ([date(2026, 2, 28), date(2026, 3, 1), date(2026, 3, 1)],
         [(date(2026, 2, 28), date(2026, 3, 1))]),
        ([date(2026, 3, 3), date(2026, 3, 1)],
         [(date(2026, 3, 1), date(2026, 3, 1)), (date(2026, 3, 3), date(2026, 3, 3))]),
    ],
)  # fmt: skip
def test_days_that_follow_each_other_are_one_run(
    days: list[date], told: list[tuple[date, date]]
) -> None:
    assert runs(days) == told


def test_a_day_of_the_depot_begins_at_its_own_midnight() -> None:
    assert midnight(date(2026, 6, 1), LONDON) == datetime(2026, 5, 31, 23, tzinfo=UTC)
    # 29 Mar 2026 has 23 hours there, 25 Oct 2026 has 25 (Summer Time Order 2002).
    assert midnight(date(2026, 3, 30), LONDON) - midnight(date(2026, 3, 29), LONDON) == 23 * HOUR
    assert midnight(date(2026, 10, 26), LONDON) - midnight(date(2026, 10, 25), LONDON) == 25 * HOUR


def test_before_counting_began_nothing_was_late() -> None:
    assert not late(
        [(date(2020, 1, 1), Asked(rule=DueRule(every_days=1)))], start_on=date(2026, 3, 2),
        start_tenths=None, done=[], figures=[], until=date(2026, 2, 20),
    )  # fmt: skip
