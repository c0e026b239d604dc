"""What the background does for maintenance: gives missing plans, and raises due work."""

from celery import shared_task
from django.utils.timezone import now

from maintenance.actions import due, machine
from maintenance.actions.plan import raise_due_work as raise_for
from plant.models import Depot


@shared_task
def raise_due_work() -> int:
    """Every minute: a job for each line that has come due. Running it twice is harmless."""
    return sum(raise_for(depot=depot, at=now()) for depot in Depot.objects.all())


@shared_task
def raise_due_of(depot_pk: int) -> int:
    """At once after work was closed or a figure read; the minute's round finds what this misses."""
    depot = Depot.objects.filter(pk=depot_pk).first()
    return raise_for(depot=depot, at=now()) if depot else 0


@shared_task
def rework_due_dates() -> int:
    """Every minute: due dates that are a day old or of a changed plan. Twice is harmless."""
    return due.rework_old(at=now())


@shared_task
def give_missing_plans() -> int:
    """Every minute: plans for machines that came from a file. Running it twice is harmless."""
    return machine.give_missing_plans(at=now())
