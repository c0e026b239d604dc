"""When the next pre-use check is wanted, by supply and place."""

import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.check_due import due, rule_for
from maintenance.rules.sheet import RuleSheet, read

TODAY = date(2026, 11, 25)
GB = Path(__file__).parents[3] / "fixtures/reference/rule_sheet_gb.json"
DAYS = st.dates(date(2026, 1, 1), date(2027, 12, 31))


@pytest.fixture(scope="module")
def sheet() -> RuleSheet:
    return read(json.loads(GB.read_text(encoding="utf-8")))


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


# HSE HSG107, 3rd ed., 2013, suggested first intervals for construction, as repeated in a
# second-hand table: user checks of 110 V equipment weekly, of 230 V every shift.
@pytest.mark.parametrize(("supply", "days"), [("e110", 7), ("e230", 1)])
def test_the_published_intervals_of_user_checks(sheet: RuleSheet, supply: str, days: int) -> None:
    found = rule_for(sheet.intervals, supply=supply)

    assert found is not None
    assert (found.every_days, found.before_first_use) == (days, True)
    assert "HSG107" in found.source
    assert found.trust == "secondary"


@pytest.mark.parametrize(
    ("supply", "passed", "state", "wanted"),
    [
        ("e110", 0, "checked", -7),
        ("e110", 6, "checked", -1),
        ("e110", 7, "wanted", 0),
        ("e110", 8, "overdue", 1),
        ("e230", 0, "checked", -1),
        ("e230", 1, "wanted", 0),
        ("e230", 2, "overdue", 1),
        ("petrol", 3, "overdue", 2),
    ],
)
def test_a_machine_out_for_a_month(
    sheet: RuleSheet, supply: str, passed: int, state: str, wanted: int
) -> None:
    found = due(
        rule_for(sheet.intervals, supply=supply), out=True, out_on=ago(30), passed_on=ago(passed),
        passed_here=True, on=TODAY,
    )  # fmt: skip

    assert (found.state, found.on) == (state, ago(wanted))


def test_a_check_at_the_depot_is_not_the_first_look_on_the_site(sheet: RuleSheet) -> None:
    weekly = rule_for(sheet.intervals, supply="e110")

    def at(out_on: date) -> str:
        return due(
            weekly, out=True, out_on=out_on, passed_on=ago(3), passed_here=False, on=TODAY
        ).state

    assert at(TODAY) == "wanted"
    assert at(ago(1)) == "overdue"


def test_what_is_in_the_yard_is_never_overdue(sheet: RuleSheet) -> None:
    found = due(
        rule_for(sheet.intervals, supply="e230"), out=False, out_on=None, passed_on=ago(400),
        passed_here=True, on=TODAY,
    )  # fmt: skip

    assert (found.state, found.on) == ("before use", None)


def test_without_a_rule_nothing_is_claimed() -> None:
    found = due(None, out=True, out_on=ago(9), passed_on=None, passed_here=False, on=TODAY)

    assert (found.state, found.on) == ("before use", None)
    assert "No rule says how often" in found.why


def test_never_passed_and_out_since_nobody_knows_when_is_wanted_today(sheet: RuleSheet) -> None:
    weekly = rule_for(sheet.intervals, supply="e110")

    found = due(weekly, out=True, out_on=None, passed_on=None, passed_here=False, on=TODAY)

    assert (found.state, found.on) == ("wanted", TODAY)


@given(
    supply=st.sampled_from(["e110", "e230", "e400", "petrol"]),
    passed=DAYS,
    later=st.integers(0, 400),
    out=DAYS,
    on=DAYS,
)
def test_a_later_check_never_makes_the_next_one_earlier(
    sheet: RuleSheet, supply: str, passed: date, later: int, out: date, on: date
) -> None:
    interval = rule_for(sheet.intervals, supply=supply)

    def wanted(day: date) -> date:
        found = due(interval, out=True, out_on=out, passed_on=day, passed_here=day >= out, on=on)
        assert found.on is not None
        assert (found.state == "overdue") == (on > found.on)
        return found.on

    first, second = wanted(passed), wanted(passed + timedelta(days=later))
    assert first <= second
    assert second <= passed + timedelta(days=later + 7)
