"""When work falls due, checked against python-dateutil and against plain counting."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import example, given
from hypothesis import strategies as st

from maintenance.rules.due import (
    Done,
    Due,
    DueRule,
    DueState,
    add_months,
    do_by,
    includes,
    next_due,
    put_off_refusal,
    sentence,
    state,
)

DAYS = st.dates(min_value=date(2000, 1, 1), max_value=date(2100, 12, 31))
MONTHS = st.integers(min_value=1, max_value=120)
WORKSHOP_RULE = DueRule(first_tenths=200, every_tenths=1500, every_months=12)
START = date(2026, 1, 1)


@pytest.mark.parametrize(
    ("anchor", "months", "answer"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2026, 1, 31), 2, date(2026, 3, 31)),
        (date(2026, 1, 31), 3, date(2026, 4, 30)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        # Python tutor list, 6 Feb 2007: 31 Jan 2005 and one month.
        (date(2005, 1, 31), 1, date(2005, 2, 28)),
        # COSHH 2002, reg. 9: examined 15 Jan 2024, again within 14 months.
        (date(2024, 1, 15), 14, date(2025, 3, 15)),
        (date(2000, 3, 31), -1, date(2000, 2, 29)),
    ],
)
def test_the_day_of_the_month_is_kept_where_the_month_has_it(
    anchor: date, months: int, answer: date
) -> None:
    assert add_months(anchor, months) == answer


@given(anchor=DAYS, months=st.integers(min_value=-1200, max_value=1200))
def test_months_agree_with_dateutil(anchor: date, months: int) -> None:
    assert add_months(anchor, months) == anchor + relativedelta(months=months)


def test_every_day_of_a_century_agrees_with_dateutil() -> None:
    day = date(2000, 1, 1)
    while day <= date(2100, 12, 31):
        for months in (1, 3, 6, 12, 14):
            assert add_months(day, months) == day + relativedelta(months=months)
        day += timedelta(days=1)


@given(anchor=DAYS, months=MONTHS, further=MONTHS)
def test_more_months_are_never_earlier(anchor: date, months: int, further: int) -> None:
    assert add_months(anchor, months) < add_months(anchor, months + further)


def test_months_beyond_the_calendar_are_refused() -> None:
    with pytest.raises(ValueError, match="out of range"):
        add_months(date(9999, 12, 1), 1)


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ({}, "needs hours, months or days"),
        ({"every_months": 0}, "1 to 120"),
        ({"every_days": 3651}, "1 to 3650"),
        ({"every_tenths": 9}, "10 to 200000"),
        ({"every_months": 1, "every_days": 7}, "not both"),
        ({"first_months": 1, "first_days": 7, "every_days": 7}, "not both"),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused(figures: dict[str, int], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        DueRule(**figures)  # type: ignore[arg-type]


def test_counting_from_a_word_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="counts from"):
        DueRule(every_days=7, counts_from="whenever")  # type: ignore[arg-type]


def test_first_figures_hold_until_the_work_was_done_once() -> None:
    first = next_due(WORKSHOP_RULE, start_on=START, start_tenths=0, done=())
    second = next_due(
        WORKSHOP_RULE, start_on=START, start_tenths=0, done=((date(2026, 5, 4), 215),)
    )

    assert first == Due(on=date(2027, 1, 1), tenths=200, cycle=1)
    assert second == Due(on=date(2027, 5, 4), tenths=1715, cycle=2)


def test_a_rule_for_once_is_over_when_done() -> None:
    rule = DueRule(first_tenths=240)

    assert next_due(rule, start_on=START, start_tenths=100, done=()).tenths == 340
    after = next_due(rule, start_on=START, start_tenths=100, done=((START, 330),))
    assert (after.on, after.tenths) == (None, None)


def test_hours_without_a_meter_have_no_due_figure() -> None:
    due = next_due(WORKSHOP_RULE, start_on=START, start_tenths=None, done=())

    assert due == Due(on=date(2027, 1, 1), tenths=None, cycle=1)


def test_a_completion_without_a_figure_counts_hours_from_the_last_known() -> None:
    done = ((date(2026, 3, 1), 900), (date(2026, 6, 1), None))

    due = next_due(WORKSHOP_RULE, start_on=START, start_tenths=0, done=done)

    assert due == Due(on=date(2027, 6, 1), tenths=2400, cycle=3)


def test_completions_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="oldest first"):
        next_due(
            WORKSHOP_RULE,
            start_on=START,
            start_tenths=0,
            done=((date(2026, 6, 1), 10), (date(2026, 3, 1), 20)),
        )


def planned(done: tuple[Done, ...], *, notice_days: int = 0, notice_tenths: int = 0) -> Due:
    rule = DueRule(every_months=1, every_tenths=1000, counts_from="planned")
    return next_due(
        rule,
        start_on=date(2026, 1, 31),
        start_tenths=0,
        done=done,
        notice_days=notice_days,
        notice_tenths=notice_tenths,
    )


def test_monthly_from_the_end_of_january_does_not_creep() -> None:
    assert planned(()).on == date(2026, 2, 28)
    assert planned(((date(2026, 2, 28), 1000),)).on == date(2026, 3, 31)
    assert planned(((date(2036, 3, 1), 1000),)).on == date(2036, 3, 31)


def test_late_work_does_not_move_planned_points() -> None:
    late = planned(((date(2026, 3, 20), 1400),))

    assert (late.on, late.tenths) == (date(2026, 3, 31), 2000)


def test_work_just_early_counts_for_the_coming_point() -> None:
    done = ((date(2026, 2, 24), 950),)

    assert planned(done).on == date(2026, 2, 28)
    early = planned(done, notice_days=7, notice_tenths=100)
    assert (early.on, early.tenths) == (date(2026, 3, 31), 2000)


def test_work_far_too_early_does_not_count_for_the_coming_point() -> None:
    due = planned(((date(2026, 2, 5), 100),), notice_days=7, notice_tenths=100)

    assert (due.on, due.tenths) == (date(2026, 2, 28), 1000)


def test_a_long_notice_never_skips_a_point() -> None:
    rule = DueRule(every_days=7, counts_from="planned")

    due = next_due(
        rule, start_on=START, start_tenths=None, done=((date(2026, 1, 8), None),), notice_days=30
    )

    assert due.on == date(2026, 1, 15)


def test_planned_points_follow_the_first_one() -> None:
    rule = DueRule(
        first_tenths=200,
        every_tenths=1500,
        first_days=14,
        every_days=28,
        counts_from="planned",
    )
    answers = [
        next_due(rule, start_on=START, start_tenths=0, done=((date(2026, 1, day), tenths),))
        for day, tenths in ((10, 190), (15, 200), (31, 1700))
    ]

    assert [due.tenths for due in answers] == [200, 1700, 3200]
    assert [due.on for due in answers] == [
        date(2026, 1, 15),
        date(2026, 2, 12),
        date(2026, 2, 12),
    ]


@given(
    anchor=DAYS,
    every=MONTHS,
    first=st.none() | MONTHS,
    late=st.integers(min_value=0, max_value=4000),
)
def test_the_planned_day_is_the_first_on_the_grid_after_the_work(
    anchor: date, every: int, first: int | None, late: int
) -> None:
    rule = DueRule(first_months=first, every_months=every, counts_from="planned")
    done_on = anchor + timedelta(days=late)

    due = next_due(rule, start_on=anchor, start_tenths=None, done=((done_on, None),))

    lead = first or every
    grid = [anchor + relativedelta(months=lead + n * every) for n in range(140)]
    assert due.on == min(day for day in grid if day > done_on)


@given(
    start=st.integers(min_value=0, max_value=100_000),
    every=st.integers(min_value=10, max_value=20_000),
    first=st.none() | st.integers(min_value=10, max_value=20_000),
    ran=st.integers(min_value=0, max_value=200_000),
    notice=st.integers(min_value=0, max_value=500),
)
@example(start=0, every=10, first=12, ran=6, notice=6)
@example(start=0, every=10, first=42, ran=21, notice=21)
def test_planned_hours_are_the_first_on_the_grid_after_the_work(
    start: int, every: int, first: int | None, ran: int, notice: int
) -> None:
    rule = DueRule(first_tenths=first, every_tenths=every, counts_from="planned")
    done = ((START, start + ran),)

    due = next_due(rule, start_on=START, start_tenths=start, done=done, notice_tenths=notice)

    lead = first or every
    grid = [start, start + lead]
    while grid[-1] <= start + ran + 2 * every + lead:
        grid.append(grid[-1] + every)
    open_points = [
        point
        for before, point in pairwise(grid)
        if point - (start + ran) > min(notice, (point - before) // 2)
    ]
    assert due.tenths == open_points[0]


@given(
    gaps=st.lists(st.integers(min_value=0, max_value=400), max_size=12),
    counts_from=st.sampled_from(["done", "planned"]),
)
def test_the_next_point_lies_after_the_last_work_and_within_one_interval(
    gaps: list[int], counts_from: str
) -> None:
    rule = DueRule(
        every_months=6,
        every_tenths=500,
        counts_from=counts_from,  # type: ignore[arg-type]
    )
    done: list[tuple[date, int]] = []
    day, tenths = START, 0
    for gap in gaps:
        day, tenths = day + timedelta(days=gap), tenths + gap
        done.append((day, tenths))

    due = next_due(rule, start_on=START, start_tenths=0, done=tuple(done))

    assert due.on is not None
    assert due.tenths is not None
    assert day < due.on <= day + relativedelta(months=6)
    assert tenths < due.tenths <= tenths + 500
    assert due.cycle == len(gaps) + 1


DUE = Due(on=date(2026, 5, 4), tenths=1500, cycle=1)


@pytest.mark.parametrize(
    ("on", "tenths", "answer"),
    [
        (date(2026, 4, 19), 1000, "nothing"),
        (date(2026, 4, 20), 1000, "due soon"),
        (date(2026, 4, 1), 1399, "nothing"),
        (date(2026, 4, 1), 1400, "due soon"),
        (date(2026, 5, 4), 1500, "due soon"),
        (date(2026, 5, 5), 1000, "overdue"),
        (date(2026, 4, 1), 1501, "overdue"),
        (date(2026, 5, 5), None, "overdue"),
        (date(2026, 4, 1), None, "nothing"),
    ],
)
def test_due_means_on_or_before(on: date, tenths: int | None, answer: DueState) -> None:
    found = state(DUE, on=on, tenths=tenths, notice_days=14, notice_tenths=100, in_use=True)

    assert found == answer


def test_overdue_in_store_is_needed_before_use() -> None:
    found = state(
        DUE, on=date(2026, 6, 1), tenths=0, notice_days=14, notice_tenths=100, in_use=False
    )

    assert found == "needed before use"


def test_the_calendar_of_a_service_stands_still_while_laid_up() -> None:
    def laid_up(tenths: int) -> DueState:
        return state(
            DUE,
            on=date(2027, 1, 1),
            tenths=tenths,
            notice_days=14,
            notice_tenths=100,
            in_use=False,
            calendar_stopped=True,
        )

    assert laid_up(0) == "nothing"
    assert laid_up(1501) == "needed before use"


@given(on=DAYS, tenths=st.integers(min_value=0, max_value=3000))
def test_waiting_never_makes_due_work_less_due(on: date, tenths: int) -> None:
    gravity = {"nothing": 0, "due soon": 1, "overdue": 2}

    def stands(on: date, tenths: int) -> DueState:
        return state(DUE, on=on, tenths=tenths, notice_days=14, notice_tenths=100, in_use=True)

    now, later = stands(on, tenths), stands(on + timedelta(days=1), tenths + 1)

    assert gravity[now] <= gravity[later]


def told(rule: DueRule, done: tuple[Done, ...] = (), start_tenths: int | None = 0) -> str:
    due = next_due(rule, start_on=START, start_tenths=start_tenths, done=done)
    return sentence(rule, due, start_on=START, start_tenths=start_tenths, done=done)


def test_the_reason_is_one_plain_sentence() -> None:
    rule = DueRule(every_tenths=1500, every_months=12)

    assert told(rule, ((date(2026, 5, 4), 215),)) == (
        "Every 150 h or 12 months, whichever comes first, counted from when last done: last done "
        "4 May 2026 at 21.5 h, so due at 171.5 h or 4 May 2027."
    )


@pytest.mark.parametrize(
    ("rule", "start_tenths", "answer"),
    [
        (
            WORKSHOP_RULE,
            0,
            "First at 20 h, then every 150 h or 12 months, whichever comes first, counted from "
            "when last done: not done yet, counted from 1 Jan 2026 at 0.0 h, so due at 20.0 h or "
            "1 Jan 2027.",
        ),
        (
            DueRule(every_days=14, counts_from="planned"),
            None,
            "Every 2 weeks, counted from the planned point: not done yet, counted from "
            "1 Jan 2026, so due on 15 Jan 2026.",
        ),
        (
            DueRule(first_tenths=245),
            10,
            "Once only, at 24.5 h: not done yet, counted from 1 Jan 2026 at 1.0 h, so due at "
            "25.5 h.",
        ),
        (
            DueRule(every_tenths=500),
            None,
            "Every 50 h, counted from when last done: not done yet, counted from 1 Jan 2026, "
            "so no due point can be worked out without a meter figure.",
        ),
    ],
)
def test_each_kind_of_rule_is_read_back(
    rule: DueRule, start_tenths: int | None, answer: str
) -> None:
    assert told(rule, start_tenths=start_tenths) == answer


def test_what_was_done_once_is_said_to_be_over() -> None:
    assert told(DueRule(first_days=1), ((START, None),)) == (
        "Once only, at 1 day: last done 1 Jan 2026, so nothing more is due."
    )


def test_a_planned_rule_names_both_its_points() -> None:
    rule = DueRule(every_months=6, counts_from="planned")

    assert told(rule, ((date(2026, 8, 2), None),)) == (
        "Every 6 months, counted from the planned point: planned from 1 Jan 2026 at 0.0 h, "
        "last done 2 Aug 2026, so due on 1 Jan 2027."
    )


def test_the_likely_day_of_the_hours_is_told_with_the_use_rate() -> None:
    rule = DueRule(every_tenths=500)
    due = next_due(rule, start_on=START, start_tenths=0, done=())

    text = sentence(
        rule,
        due,
        start_on=START,
        start_tenths=0,
        done=(),
        a_day=1.25,
        likely_on=date(2026, 2, 10),
    )

    assert text.endswith("so due at 50.0 h (at 1.2 h a day, the hours are likely up 10 Feb 2026).")


def test_due_on_a_sunday_means_do_it_on_friday() -> None:
    sunday = date(2026, 5, 3)

    assert do_by(sunday, is_open=lambda day: day.weekday() < 5) == date(2026, 5, 1)
    assert do_by(date(2026, 5, 1), is_open=lambda day: day.weekday() < 5) == date(2026, 5, 1)
    with pytest.raises(ValueError, match="no open day"):
        do_by(sunday, is_open=lambda day: False)


def test_a_safety_test_is_not_put_off_for_a_machine_in_use() -> None:
    def asked(*, is_test: bool, in_use: bool, days: int = 10, reason: str = "part on order") -> str:
        return put_off_refusal(
            is_test=is_test,
            in_use=in_use,
            due_on=START,
            to=START + timedelta(days=days),
            limit_days=30,
            reason=reason,
        )

    assert "safety test" in asked(is_test=True, in_use=True)
    assert asked(is_test=True, in_use=False) == ""
    assert asked(is_test=False, in_use=True) == ""
    assert "30 days at most" in asked(is_test=False, in_use=True, days=31)
    assert "after 1 Jan 2026" in asked(is_test=False, in_use=True, days=0)
    assert "reason" in asked(is_test=False, in_use=True, reason="late")


def test_a_larger_service_includes_the_smaller_but_never_a_test() -> None:
    assert includes(larger=3, smaller=1)
    assert includes(larger=0, smaller=0)
    assert not includes(larger=1, smaller=2)
    assert not includes(larger=3, smaller=0)
    assert not includes(larger=0, smaller=1)


def test_an_estimate_is_said_beside_the_day_that_the_calendar_gives() -> None:
    rule = DueRule(every_tenths=250, every_months=1)
    told = sentence(
        rule, Due(on=date(2026, 11, 1), tenths=None, cycle=2), start_on=date(2026, 1, 1),
        start_tenths=None, done=((date(2026, 10, 1), None),), a_day=4.0,
        likely_on=date(2026, 10, 7), estimated=True,
    )  # fmt: skip

    assert told.endswith(
        "so due on 1 Nov 2026 (at 4.0 h a day, estimated, the hours are likely up 7 Oct 2026)."
    )
