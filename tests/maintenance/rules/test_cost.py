"""Money adds up to the cent, each currency by itself, and nothing is left out in silence."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.cost import Price, Rate, Sum, Work, an_hour, of_work, rate_on, worked_out

D = Decimal
OLD = Rate(from_on=date(2026, 1, 1), amount=D("36.00"), currency="GBP")
NEW = Rate(from_on=date(2026, 3, 1), amount=D("40.00"), currency="GBP")


@pytest.mark.parametrize(
    ("minutes", "rate", "cost"),
    [(60, "38.50", "38.50"), (45, "38.50", "28.88"), (1, "0.30", "0.01"), (20, "0.01", "0.00"),
     (50, "36.00", "30.00"), (30, "0.01", "0.01")],
)  # fmt: skip
def test_minutes_at_a_rate_to_the_cent_half_a_cent_up(minutes: int, rate: str, cost: str) -> None:
    told = Rate(from_on=date(2026, 1, 1), amount=D(rate), currency="GBP")

    assert of_work(minutes, told) == D(cost)


@pytest.mark.parametrize(
    ("on", "rate"),
    [(date(2025, 12, 31), None), (date(2026, 1, 1), OLD), (date(2026, 2, 28), OLD),
     (date(2026, 3, 1), NEW)],
)  # fmt: skip
def test_work_counts_at_the_rate_of_its_day(on: date, rate: Rate | None) -> None:
    assert rate_on([NEW, OLD], on) == rate


def test_the_rate_given_last_for_a_day_counts() -> None:
    right = Rate(from_on=OLD.from_on, amount=D("37"), currency="GBP")

    assert rate_on([OLD, right], date(2026, 1, 5)) == right


def test_what_is_not_known_is_said_and_counted_for_nothing() -> None:
    found = worked_out(
        work=[Work(minutes=30, on=date(2025, 5, 5)), Work(minutes=60, on=date(2026, 1, 5))],
        parts=[Price(quantity=2), Price(quantity=3, amount=D("4.20"), currency="GBP")],
        outside=[Price(amount=D("64"), currency="EUR")],
        rates=[OLD],
    )

    assert found.total == {"EUR": D("64"), "GBP": D("48.60")}
    assert found.minutes == 90
    assert found.left_out == ["2 parts without a price", "30 min of work without a rate"]


def test_one_part_without_a_price_is_one_part() -> None:
    assert Sum(unpriced=1).left_out == ["1 part without a price"]
    assert Sum().left_out == []


@pytest.mark.parametrize(
    ("tenths", "cost"), [(None, None), (99, None), (100, "10.00"), (2500, "0.40"), (-5, None)]
)
def test_by_the_running_hour_only_where_enough_was_run(
    tenths: int | None, cost: str | None
) -> None:
    assert an_hour(D("100"), tenths=tenths) == (None if cost is None else D(cost))


amounts = st.decimals(0, 999_999, places=2, allow_nan=False)
prices = st.lists(
    st.builds(
        Price, quantity=st.integers(1, 999), amount=st.none() | amounts,
        currency=st.sampled_from(["GBP", "EUR"]),
    )
)  # fmt: skip


@given(prices, prices)
def test_the_whole_is_the_sum_of_its_parts_exactly(one: list[Price], two: list[Price]) -> None:
    def cost(parts: list[Price], outside: list[Price]) -> Sum:
        return worked_out(work=(), parts=parts, outside=outside, rates=())

    both = cost(one, [])
    both.add(cost([], two))

    assert both == cost(one, two)
    told = [each for each in [*one, *two] if each.amount is not None]
    assert sum(both.total.values()) == sum(each.quantity * (each.amount or 0) for each in told)
    assert both.unpriced == sum(each.quantity for each in one if each.amount is None)
