"""Money: sums of decimal amounts, each currency by itself, with what is not known said."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from plant.translate import gettext as _
from plant.translate import ngettext

CENT = Decimal("0.01")
# Fewer hours than this tell nothing about what one costs (ours).
LEAST_TENTHS = 100


@dataclass(frozen=True, kw_only=True)
class Rate:
    """What an hour costs from a day on."""

    from_on: date
    amount: Decimal
    currency: str


@dataclass(frozen=True, kw_only=True)
class Work:
    minutes: int
    on: date


@dataclass(frozen=True, kw_only=True)
class Price:
    """What one part, or one outside repair, costs; amount None where nobody said."""

    quantity: int = 1
    amount: Decimal | None = None
    currency: str = ""


@dataclass(kw_only=True)
class Sum:
    """By currency: work, parts, outside repair. unpriced: pieces; unrated: minutes without rate."""

    labour: dict[str, Decimal] = field(default_factory=dict)
    parts: dict[str, Decimal] = field(default_factory=dict)
    outside: dict[str, Decimal] = field(default_factory=dict)
    minutes: int = 0
    unpriced: int = 0
    unrated: int = 0

    @property
    def total(self) -> dict[str, Decimal]:
        found: dict[str, Decimal] = {}
        for each in (self.labour, self.parts, self.outside):
            for currency, amount in each.items():
                found[currency] = found.get(currency, Decimal(0)) + amount
        return dict(sorted(found.items()))

    @property
    def left_out(self) -> list[str]:
        """What the sums do not hold, in words."""
        told = []
        if self.unpriced:
            told.append(
                ngettext(
                    "{count} part without a price", "{count} parts without a price", self.unpriced
                ).format(count=self.unpriced)
            )
        if self.unrated:
            told.append(_("{unrated} min of work without a rate").format(unrated=self.unrated))
        return told

    def add(self, other: "Sum") -> None:
        for name in ("labour", "parts", "outside"):
            mine = getattr(self, name)
            for currency, amount in getattr(other, name).items():
                mine[currency] = mine.get(currency, Decimal(0)) + amount
        self.minutes += other.minutes
        self.unpriced += other.unpriced
        self.unrated += other.unrated


def rate_on(rates: Iterable[Rate], on: date) -> Rate | None:
    """The rate in force that day: the newest that has begun; of one day the last one given."""
    found = None
    for each in rates:
        if each.from_on <= on and (found is None or each.from_on >= found.from_on):
            found = each
    return found


def of_work(minutes: int, rate: Rate) -> Decimal:
    """What so many minutes cost, to the cent; half a cent goes up."""
    return (rate.amount * minutes / 60).quantize(CENT, ROUND_HALF_UP)


def worked_out(
    *, work: Iterable[Work], parts: Iterable[Price], outside: Iterable[Price], rates: Iterable[Rate]
) -> Sum:
    """The cost of one job. Rates in the order in which they were given."""
    kept = list(rates)
    found = Sum()
    for each in work:
        found.minutes += each.minutes
        rate = rate_on(kept, each.on)
        if rate is None:
            found.unrated += each.minutes
            continue
        _put(found.labour, rate.currency, of_work(each.minutes, rate))
    for part in parts:
        if part.amount is None:
            found.unpriced += part.quantity
            continue
        _put(found.parts, part.currency, part.amount * part.quantity)
    for bill in outside:
        if bill.amount is not None:
            _put(found.outside, bill.currency, bill.amount * bill.quantity)
    return found


def an_hour(total: Decimal, *, tenths: int | None) -> Decimal | None:
    """What a running hour has cost; None where too few hours were run, or none are known."""
    if tenths is None or tenths < LEAST_TENTHS:
        return None
    return (total * 10 / tenths).quantize(CENT, ROUND_HALF_UP)


def _put(into: dict[str, Decimal], currency: str, amount: Decimal) -> None:
    into[currency] = into.get(currency, Decimal(0)) + amount
