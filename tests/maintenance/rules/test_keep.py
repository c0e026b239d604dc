"""Keep times: no day too early, in any zone, over leap days; and what a sheet may not say."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.rules import keep as rule
from maintenance.rules.sheet import SheetRefused

SHEET = Path(__file__).parents[3] / "fixtures" / "reference" / "rule_sheet_gb.json"
ROWS: list[dict[str, Any]] = json.loads(SHEET.read_text(encoding="utf-8"))["keep"]
ZONES = ("Europe/London", "Pacific/Auckland", "America/St_Johns", "Asia/Kathmandu")
DAYS = st.dates(date(2000, 1, 1), date(2100, 12, 31))
MONTHS = st.integers(rule.SHORTEST_MONTHS, 360)


def a_keep(months: int = 72, **more: Any) -> rule.Keep:
    row = {
        "kinds": ["job"], "months": months, "from": "left", "until_next": "",
        "source": "Common practice, no source", "trust": "common practice, no source",
    }  # fmt: skip
    return rule.read([row | more])[0]


@settings(max_examples=80)
@given(DAYS, MONTHS, DAYS)
def test_nothing_goes_before_its_time_or_its_notice(left: date, months: int, listed: date) -> None:
    """The end of the time by dateutil's relativedelta, which is not ours."""
    ends = rule.ends_after_leaving(a_keep(months), left)
    goes = rule.goes_on(ends_on=ends, listed_on=listed)

    assert ends == left + relativedelta(months=months)
    assert goes >= ends
    assert (goes - listed).days >= 60
    assert goes.day == 1
    # Nor is it kept for long after: the first of the next month at the latest.
    assert goes <= max(ends, listed + timedelta(days=60)) + timedelta(days=30)
    assert rule.may_go(listed_on=listed, goes=goes, on=goes, held=False)
    assert not rule.may_go(listed_on=listed, goes=goes, on=goes - timedelta(days=1), held=False)
    assert not rule.may_go(listed_on=listed, goes=goes, on=goes, held=True)


@settings(max_examples=80)
@given(
    st.datetimes(datetime(2000, 1, 1), datetime(2090, 1, 1), timezones=st.just(UTC)),
    MONTHS, st.sampled_from(ZONES), st.dates(date(2000, 1, 1), date(2090, 1, 1)),
)  # fmt: skip
def test_what_was_made_before_the_day_has_had_its_months_by_its_depots_clock(
    made: datetime, months: int, zone: str, month: date
) -> None:
    goes = month.replace(day=1)
    day = made.astimezone(ZoneInfo(zone)).date()

    if day < rule.made_before(a_keep(months), goes):
        assert day + relativedelta(months=months) <= goes


def test_a_leap_day_ends_on_the_last_of_february() -> None:
    """29 Feb 2020 and 72 months: 28 Feb 2026, the day that the short month has."""
    assert rule.ends_after_leaving(a_keep(72), date(2020, 2, 29)) == date(2026, 2, 28)
    assert rule.goes_on(ends_on=date(2026, 2, 28), listed_on=date(2025, 12, 1)) == date(2026, 3, 1)
    assert rule.goes_on(ends_on=date(2026, 3, 1), listed_on=date(2025, 12, 31)) == date(2026, 3, 1)
    # 60 days from 1 Jan are 2 March, so the first of April.
    assert rule.goes_on(ends_on=date(2026, 3, 1), listed_on=date(2026, 1, 1)) == date(2026, 4, 1)


@given(DAYS)
def test_what_is_listed_each_month_goes_on_its_day_and_waits_for_no_notice(left: date) -> None:
    """Listed on the first of the month in which it comes within reach, it needs no later day."""
    ends = rule.ends_after_leaving(a_keep(), left)
    month = ends.replace(day=1)
    while rule.listed_until(month) >= ends:
        month -= relativedelta(months=1)
    first_listed = month + relativedelta(months=1)

    assert rule.goes_on(ends_on=ends, listed_on=first_listed) == rule.month_on_or_after(ends)


def test_the_sheet_keeps_nothing_shorter_than_the_longest_limit_for_claims() -> None:
    """Limitation Act 1980: six years for contract (s. 5), three for injury (s. 11); from memory."""
    keeps = rule.read(ROWS)

    assert all(each.months >= 72 for each in keeps)
    assert {each.time_text for each in keeps} == {"6 years"}
    assert all(each.cited == "Common practice, no source" for each in keeps)


def test_a_check_is_kept_until_the_next_inspection() -> None:
    """PUWER 1998, reg. 6(3): kept until the next inspection is recorded; from memory."""
    check = rule.of_kind(rule.read(ROWS), "check")

    assert check is not None
    assert (check.counts_from, check.until_next) == ("made", "inspection")


def test_what_says_why_records_are_gone_or_held_is_kept_for_good() -> None:
    keeps = rule.read(ROWS)

    for kind in ("erased", "held", "competence", "instrument"):
        assert rule.of_kind(keeps, kind) is None


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"months": 11}, "12 whole months"),
        ({"months": 72.5}, "12 whole months"),
        ({"from": "sold"}, "counts from"),
        ({"from": "made", "until_next": "inspection"}, "counts from when the machine left"),
        ({"kinds": ["check"], "from": "made"}, "until the next inspection"),
        ({"until_next": "inspection"}, "until the next inspection"),
        ({"source": " "}, "needs a source"),
        ({"trust": "sure"}, "needs a source"),
        ({"kinds": None}, "not laid out"),
    ],
)  # fmt: skip
def test_a_sheet_with_an_odd_time_is_refused(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(SheetRefused, match=says):
        a_keep(**wrong)


def test_one_kind_has_one_time_and_every_time_is_whole() -> None:
    with pytest.raises(SheetRefused, match="same kind"):
        rule.read([ROWS[0], ROWS[0]])
    with pytest.raises(SheetRefused, match="lack 'months'"):
        rule.read([{key: value for key, value in ROWS[0].items() if key != "months"}])
    assert rule.read(None) == ()
