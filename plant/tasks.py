"""What the background does for the register: says that it lives, and finishes imports."""

from celery import shared_task
from django.utils.timezone import now

from plant.actions.heartbeat import beat


@shared_task
def heartbeat() -> None:
    """Every minute, by the timer: shows that timer and worker both run."""
    beat(name="background", at=now())
