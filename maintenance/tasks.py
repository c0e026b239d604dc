"""What the background does for maintenance: gives missing plans, and raises due work."""

from time import sleep

from celery import shared_task
from django.utils.timezone import now

from maintenance.actions import due, machine
from maintenance.actions.belt_life import raise_belt_work, rework_belts, rework_looks
from maintenance.actions.check import clear_old_paces
from maintenance.actions.plan import raise_due_work as raise_for
from plant.models import Depot

# Long enough for somebody who waits to write to a database that takes one writer at a time.
PAUSE_S = 0.05


@shared_task
def raise_due_work() -> int:
    """Every minute: a job for each line that has come due. Running it twice is harmless."""
    return sum(_raise(depot) for depot in Depot.objects.all())


@shared_task
def raise_due_of(depot_pk: int) -> int:
    """At once after work was closed or a figure read; the minute's round finds what this misses."""
    depot = Depot.objects.filter(pk=depot_pk).first()
    return _raise(depot) if depot else 0


def _raise(depot: Depot) -> int:
    at = now()
    return raise_for(depot=depot, at=at) + raise_belt_work(depot=depot, at=at)


@shared_task
def rework_due_dates() -> int:
    """Every minute: due dates that are a day old or of a changed plan. Twice is harmless."""
    return due.rework_old(at=now(), pause=lambda: sleep(PAUSE_S))


@shared_task
def forget_paces() -> int:
    """Each hour: clears how long old checks took. Running it twice is harmless."""
    return clear_old_paces(at=now())


@shared_task
def give_missing_plans() -> int:
    """Every minute: plans for machines that came from a file. Running it twice is harmless."""
    return machine.give_missing_plans(at=now())


@shared_task
def rework_belt_lives() -> int:
    """Every minute: belts not worked out today by their depot's clock, and looks at new ones."""
    at = now()
    return sum(
        rework_belts(depot=depot, at=at) + rework_looks(depot=depot, at=at)
        for depot in Depot.objects.all()
    )
