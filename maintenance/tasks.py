"""What the background does for maintenance: raises due work, depot by depot."""

from celery import shared_task
from django.utils.timezone import now

from maintenance.actions.plan import raise_due_work as raise_for
from plant.models import Depot


@shared_task
def raise_due_work() -> int:
    """Every minute: a job for each line that has come due. Running it twice is harmless."""
    return sum(raise_for(depot=depot, at=now()) for depot in Depot.objects.all())
