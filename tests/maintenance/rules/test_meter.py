"""When a meter figure is questioned."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.meter import dial_at, offset_for, question, total

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def hours(count: float) -> datetime:
    return NOON + timedelta(hours=count)


def test_a_first_figure_is_not_questioned() -> None:
    assert question(last=None, next_=None, at=NOON, tenths=123) == ""


def test_a_lower_figure_is_questioned() -> None:
    asked = question(last=(NOON, 4070), next_=None, at=hours(24), tenths=407)

    assert asked == "40.7 h is lower than the last reading, 407.0 h on 4 May 2026."


def test_the_same_figure_again_is_fine() -> None:
    assert question(last=(NOON, 4070), next_=None, at=NOON, tenths=4070) == ""


@pytest.mark.parametrize(("tenths", "fine"), [(90, True), (91, False)])
def test_an_hour_more_than_has_passed_is_allowed(tenths: int, fine: bool) -> None:
    asked = question(last=(NOON, 0), next_=None, at=hours(8), tenths=tenths)

    assert (asked == "") is fine
    if not fine:
        assert asked == "9.1 h were added since 0.0 h on 4 May 2026, but only 8.0 h have passed."


def test_a_late_entry_must_fit_before_the_next_figure() -> None:
    last, next_ = (NOON, 100), (hours(48), 200)

    assert question(last=last, next_=next_, at=hours(24), tenths=150) == ""
    higher = question(last=last, next_=next_, at=hours(24), tenths=201)
    assert higher == "20.1 h is higher than the reading after it, 20.0 h on 6 May 2026."
    missing = question(last=last, next_=next_, at=hours(44), tenths=149)
    assert missing == "5.1 h are missing before 20.0 h on 6 May 2026, but only 4.0 h lie between."


def test_elapsed_time_is_counted_across_a_clock_change() -> None:
    before = datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
    after = datetime(2026, 3, 29, 2, 30, tzinfo=timezone(timedelta(hours=1)))

    assert question(last=(before, 0), next_=None, at=after, tenths=20) == ""
    assert question(last=(before, 0), next_=None, at=after, tenths=21) != ""


@pytest.mark.parametrize("tenths", [-1, 10_000_000])
def test_a_figure_out_of_range_is_refused(tenths: int) -> None:
    with pytest.raises(ValueError, match=r"0 to 999 999\.9"):
        question(last=None, next_=None, at=NOON, tenths=tenths)


def test_neighbours_on_the_wrong_side_are_refused() -> None:
    with pytest.raises(ValueError, match="between its neighbours"):
        question(last=(hours(1), 0), next_=None, at=NOON, tenths=0)
    with pytest.raises(ValueError, match="between its neighbours"):
        question(last=None, next_=(hours(-1), 0), at=NOON, tenths=0)


@given(total_=st.integers(0, 500_000), dial=st.integers(0, 500_000), blind=st.integers(0, 5000))
def test_a_new_dial_never_makes_the_total_jump(total_: int, dial: int, blind: int) -> None:
    offset = offset_for(total_tenths=total_, dial_tenths=dial, blind_tenths=blind)

    assert total(dial_tenths=dial, offset_tenths=offset) == total_ + blind
    assert dial_at(total_tenths=total_ + blind, offset_tenths=offset) == dial


def test_a_negative_estimate_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        offset_for(total_tenths=100, dial_tenths=0, blind_tenths=-1)
