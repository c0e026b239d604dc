"""Money of a depot and of its jobs: rates from a day on, prices, bills; struck out, not edited."""

import uuid
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions.signing import locked, words
from maintenance.contents.cost import money_right
from maintenance.models import Cost, HourRate, Job, MoneySetting, PartUsed
from plant.actions.refusal import Refused
from plant.models import Depot, User
from plant.rights import Right, role_for

MOST = Decimal("999999.99")


@transaction.atomic
def set_money(
    *,
    depot: Depot,
    currency: str,
    foremen_see: bool,
    rate: Decimal | None,
    from_on: date | None,
    at: datetime,
    by: User,
) -> MoneySetting:
    """Keeps the currency of the depot, who sees money, and a new rate from a day on.

    What was entered before keeps its own currency.

    Raises:
        Refused: three letters missing, a rate without its day or the other way round, or below 0.
    """
    role_for(by, Right.MONEY, depot.pk)
    if len(currency) != 3 or not (currency.isascii() and currency.isupper() and currency.isalpha()):
        raise Refused(
            gettext("Write the three letters of the currency: GBP, EUR."), field="currency"
        )
    if (rate is None) != (from_on is None):
        raise Refused(gettext("A rate needs the day from which it counts."), field="from_on")
    if rate is not None:
        _refuse(rate, field="rate")
    setting, _ = MoneySetting.objects.update_or_create(
        depot=depot, defaults={"currency": currency, "foremen_see": foremen_see}
    )
    if rate is not None and from_on is not None:
        now_in_force = HourRate.objects.filter(depot=depot, from_on=from_on).order_by("pk").last()
        told = (rate, currency)
        if now_in_force is None or (now_in_force.amount, now_in_force.currency) != told:
            HourRate.objects.create(
                depot=depot, from_on=from_on, amount=rate, currency=currency, by=by, at=at
            )
    return setting


@transaction.atomic
def enter_costs(
    *,
    job: Job,
    prices: Mapping[int, Decimal],
    at: datetime,
    by: User,
    entry: uuid.UUID,
    outside: str = "",
    outside_amount: Decimal | None = None,
) -> int:
    """Keeps prices of parts (by key, for each piece) and an outside repair; returns how many.

    The same submission sent again adds nothing.

    Raises:
        Refused: nothing told, no currency set, a part of another job or priced already, or a bill
            without what it is for or how much it is.
    """
    machine = locked(job.machine)
    depot = machine.depot
    role_for(by, money_right(by, depot), depot.pk)
    setting = MoneySetting.objects.filter(depot=depot).first()
    if setting is None:
        raise Refused(gettext("The currency of this depot is not set yet. A manager sets it."))
    outside = words(outside, field="outside", what=gettext("outside repair"), high=120)
    if bool(outside) != (outside_amount is not None):
        raise Refused(gettext("Write what was repaired and what it cost."), field="outside")
    if not prices and not outside:
        raise Refused(gettext("Nothing was written. Give a price, or an outside repair."))
    parts = {part.pk: part for part in PartUsed.objects.filter(job=job, pk__in=prices)}
    if set(parts) != set(prices):
        raise Refused(gettext("A part is not of this job. Open the page afresh."))
    rows = [
        _cost(job, amount, part=parts[pk], what=parts[pk].what, entry=uuid.uuid5(entry, str(pk)))
        for pk, amount in sorted(prices.items())
    ]
    if outside_amount is not None:
        rows.append(_cost(job, outside_amount, part=None, what=outside, entry=entry))
    known = set(Cost.objects.filter(entry__in=[r.entry for r in rows]).values_list("entry"))
    new = [row for row in rows if (row.entry,) not in known]
    priced = Cost.objects.counting().filter(part__in=[row.part for row in new if row.part])
    if (taken := priced.select_related("by").first()) is not None:
        raise Refused(
            gettext("{by} has priced {what} since: {amount}. Not saved.").format(
                by=taken.by, what=taken.what, amount=taken.amount
            )
        )
    for row in new:
        row.currency, row.by, row.at = setting.currency, by, at
    Cost.objects.bulk_create(new)
    return len(new)


@transaction.atomic
def strike_cost(*, cost: Cost, at: datetime, by: User) -> Cost:
    """Strikes out what was entered wrongly; it stays to be seen, and counts no more."""
    machine = locked(cost.job.machine)
    role_for(by, money_right(by, machine.depot), machine.depot_id)
    cost = Cost.objects.select_for_update(of=("self",)).get(pk=cost.pk)
    if cost.struck_at is None:
        cost.struck_at, cost.struck_by = at, by
        cost.save(update_fields=["struck_at", "struck_by"])
    return cost


def _cost(job: Job, amount: Decimal, *, part: PartUsed | None, what: str, entry: uuid.UUID) -> Cost:
    _refuse(amount, field=f"price_{part.pk}" if part else "outside_amount")
    return Cost(job=job, part=part, what=what, amount=amount, entry=entry)


def _refuse(amount: Decimal, *, field: str) -> None:
    exponent = amount.as_tuple().exponent
    if not amount.is_finite() or not 0 <= amount <= MOST or not isinstance(exponent, int):
        raise Refused(gettext("Enter 0 to {most}.").format(most=MOST), field=field)
    if exponent < -2:
        raise Refused(gettext("At most two figures after the point."), field=field)
