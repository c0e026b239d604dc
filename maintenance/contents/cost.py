"""What jobs and machines cost, for who may see money; what is not known is counted, not dropped."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from maintenance.models import Cost, HourRate, Job, Labour, MeterReading, MoneySetting, PartUsed
from maintenance.rules import cost as rule
from plant.models import Depot, Machine, Measure, User
from plant.rights import Right, may


def money_right(user: User, depot: Depot) -> Right:
    """The right by which this person would see money here: a foreman's, where the depot shares it.

    The page then asks for that right like any other.
    """
    if may(user, Right.MONEY, depot.pk):
        return Right.MONEY
    shared = MoneySetting.objects.filter(depot=depot, foremen_see=True).exists()
    return Right.SHARED_MONEY if shared else Right.MONEY


def sees_money(user: User, depot: Depot) -> bool:
    return may(user, money_right(user, depot), depot.pk)


@dataclass(frozen=True)
class JobCost:
    """A job with what it cost."""

    job: Job
    sum: rule.Sum

    @property
    def total(self) -> str:
        return money_text(self.sum.total)


@dataclass(frozen=True)
class MachineCost:
    """Of one machine: every job that cost something, the whole, and what a running hour cost.

    hours_tenths: [0.1 h] run since the first figure, None where none is known; an_hour: by
    currency, for the jobs since that figure; empty where too little was run.
    """

    jobs: list[JobCost]
    sum: rule.Sum
    since: datetime | None
    hours_tenths: int | None
    an_hour: dict[str, Decimal]


def money_text(amounts: dict[str, Decimal]) -> str:
    """Each currency by itself: 12.50 GBP and 3.00 EUR; nothing known is said."""
    return " and ".join(f"{each:,.2f} {code}" for code, each in amounts.items()) or _(
        "nothing known"
    )


def job_cost(job: Job) -> rule.Sum:
    return costs_of(Job.objects.filter(pk=job.pk))[0].sum


def machine_cost(machine: Machine) -> MachineCost:
    """Jobs newest first; the same few queries however many there are."""
    found = costs_of(Job.objects.filter(machine=machine).order_by("-opened_at", "-pk"))
    whole = rule.Sum()
    for each in found:
        whole.add(each.sum)
    first = (
        MeterReading.objects.counting()
        .filter(meter__machine=machine, meter__measure=Measure.HOURS)
        .order_by("at", "pk")
        .first()
    )
    run = None
    if first is not None and machine.hours_tenths is not None:
        run = machine.hours_tenths - first.total_tenths
    lately = rule.Sum()
    for each in found:
        if first is not None and each.job.opened_at >= first.at:
            lately.add(each.sum)
    hourly = {code: rule.an_hour(amount, tenths=run) for code, amount in lately.total.items()}
    return MachineCost(
        jobs=[each for each in found if each.sum.total or each.sum.left_out],
        sum=whole,
        since=first.at if first else None,
        hours_tenths=run,
        an_hour={code: amount for code, amount in hourly.items() if amount is not None},
    )


def costs_of(jobs: Iterable[Job]) -> list[JobCost]:
    """The cost of each; reads labour, parts, prices and rates once for all."""
    counting = Cost.objects.counting()
    rows = list(
        jobs.prefetch_related(  # type: ignore[attr-defined]
            Prefetch("labour", Labour.objects.select_related("record__depot")),
            Prefetch("parts", PartUsed.objects.prefetch_related(Prefetch("costs", counting))),
            Prefetch("costs", counting.filter(part__isnull=True)),
        )
    )
    rates: dict[int, list[rule.Rate]] = {}
    for each in HourRate.objects.order_by("pk"):
        rate = rule.Rate(from_on=each.from_on, amount=each.amount, currency=each.currency)
        rates.setdefault(each.depot_id, []).append(rate)
    return [JobCost(job, _worked_out(job, rates)) for job in rows]


def _worked_out(job: Job, rates: dict[int, list[rule.Rate]]) -> rule.Sum:
    found = rule.worked_out(
        work=(),
        parts=[_price(part) for part in job.parts.all()],
        outside=[
            rule.Price(amount=each.amount, currency=each.currency) for each in job.costs.all()
        ],
        rates=(),
    )
    # Work counts at the rate of the depot where it was done, on its day there.
    for labour in job.labour.all():
        depot = labour.record.depot
        work = rule.Work(minutes=labour.minutes, on=depot.day_of(labour.record.happened_at))
        known = rates.get(depot.pk, [])
        found.add(rule.worked_out(work=[work], parts=(), outside=(), rates=known))
    return found


def _price(part: PartUsed) -> rule.Price:
    told = next(iter(part.costs.all()), None)
    if told is None:
        return rule.Price(quantity=part.kept)
    return rule.Price(quantity=part.kept, amount=told.amount, currency=told.currency)
