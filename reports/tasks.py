"""What the background does for reports: prints batches, and picks up those left behind."""

from datetime import timedelta

from celery import shared_task
from django.utils.timezone import now

from reports.actions.sheet import left_behind
from reports.actions.sheet import print_batch as print_now

# Well inside the time limit of a task; the rest goes on in a new one.
STRETCH = timedelta(seconds=60)


@shared_task
def print_batch(batch_id: int) -> None:
    """Prints the batch; long ones go on in a task of their own. Running it twice is harmless."""
    if not print_now(batch_id, clock=now, until=now() + STRETCH):
        print_batch.apply_async((batch_id,), countdown=1)


@shared_task
def sweep_prints() -> int:
    """Every minute: wakes the batches whose message was lost or whose worker died."""
    batches = left_behind(now())
    for batch_id in batches:
        print_batch.delay(batch_id)
    return len(batches)
