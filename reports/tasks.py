"""What the background does for reports: prints batches, and picks up those left behind."""

from datetime import timedelta

from celery import shared_task
from django.utils.timezone import now

from reports.actions.sheet import left_behind
from reports.actions.sheet import print_batch as print_now

# Well inside the time limit of a task, and short, so that other work gets its turn between.
STRETCH = timedelta(seconds=20)


@shared_task
def print_batch(batch_id: int) -> None:
    """Prints for a while; the rest goes on in a task of its own. Running it twice is harmless."""
    if print_now(batch_id, clock=now, until=now() + STRETCH):
        print_batch.delay(batch_id)


@shared_task
def sweep_prints() -> int:
    """Every minute: wakes the batches whose message was lost or whose worker died."""
    batches = left_behind(now())
    for batch_id in batches:
        # A batch that waits behind a long one is woken again each minute; old calls are dropped.
        print_batch.apply_async((batch_id,), expires=55)
    return len(batches)
