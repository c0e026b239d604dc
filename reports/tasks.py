"""What the background does for reports: prints batches, picks up those left behind, sends mail."""

from datetime import timedelta

from celery import shared_task
from django.utils.timezone import now

from reports.actions import erasure, message, verify
from reports.actions.sheet import left_behind
from reports.actions.sheet import print_batch as print_now
from reports.actions.timed import take_turns

# Well inside the time limit of a task, and short, so that other work gets its turn between.
STRETCH = timedelta(seconds=20)
# A message begun at the last moment has the rest of a task's time for a server that is slow.
MAIL_STRETCH = timedelta(seconds=20)


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


@shared_task
def print_by_the_clock() -> int:
    """Every minute: asks for the paper whose time has come. Twice is harmless."""
    batches = take_turns(at=now())
    for batch_id in batches:
        print_batch.delay(batch_id)
    return len(batches)


@shared_task
def send_messages() -> int:
    """Every minute: promises the messages that are due, and sends what waits. Twice is harmless."""
    message.promise(at=now())
    sent = message.send_waiting(clock=now, until=now() + MAIL_STRETCH)
    message.clear_old(at=now())
    return sent


@shared_task
def read_chains() -> None:
    """Every minute: reads the chains that were not read for a day. Twice is harmless."""
    if verify.read_chains(at=now()):
        read_chains.delay()


@shared_task
def keep_erasure_list() -> int:
    """Each hour: writes what the list of erasures lacks. Running it twice is harmless."""
    return erasure.write_list()
