"""What the background does for reports: prints batches, picks up those left behind, sends mail."""

import logging
from datetime import timedelta

from celery import shared_task
from django.utils.timezone import now

from maintenance.actions import keep
from plant.actions.erase import remove_left_files
from plant.models import Depot
from reports.actions import chore, erasure, message, verify
from reports.actions.erased_paper import take_released, take_with
from reports.actions.sheet import is_long, left_behind
from reports.actions.sheet import print_batch as print_now
from reports.actions.timed import take_turns

log = logging.getLogger(__name__)
# Well inside the time limit of a task, and short, so that other work gets its turn between.
STRETCH = timedelta(seconds=20)
# [s] After so long the task of a long piece is ended, softly and by force; a bundle of 501 records
# takes 16 s of a processor.
BOOK_SOFT_S, BOOK_HARD_S = 540, 570
# A message begun at the last moment has the rest of a task's time for a server that is slow.
MAIL_STRETCH = timedelta(seconds=20)


@shared_task
def print_batch(batch_id: int) -> None:
    """Prints for a while; the rest goes on in a task of its own. Running it twice is harmless."""
    if is_long(batch_id):
        print_book.delay(batch_id)
    elif print_now(batch_id, clock=now, until=now() + STRETCH):
        print_batch.delay(batch_id)


@shared_task(soft_time_limit=BOOK_SOFT_S, time_limit=BOOK_HARD_S)
def print_book(batch_id: int) -> None:
    """Prints what is one long piece, a bundle or a folder. Running it twice is harmless.

    What it says is kept once it is gathered, so who comes after a kill has only to draw it.
    """
    if print_now(batch_id, clock=now, until=now() + STRETCH):
        print_book.delay(batch_id)


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
def keep_times() -> int:
    """Each hour: takes the words and photos that were listed sixty days or more, and lists once a
    month what will go. Running it twice, or half, is harmless."""
    at = now()
    taken = 0
    # First, since the files left by an earlier run must not wait for anything that fails below.
    try:
        remove_left_files()
    except Exception:
        log.exception("files left behind are still on the disk")
    try:
        take_released(at=at)
    except Exception:
        log.exception("paper that is held no longer is still kept")
    for depot in Depot.objects.all():
        # In this order, so that what came since an old listing is listed in the month it goes.
        try:
            taken += keep.take_due(depot=depot, at=at, also=take_with)
            keep.list_month(depot=depot, at=at)
        except Exception:  # the other depots have their turn all the same
            log.exception("keep times of depot %s", depot.pk)
    return taken


@shared_task
def keep_erasure_list() -> int:
    """Each hour: writes what the list of erasures lacks. Running it twice is harmless."""
    return erasure.write_list()


@shared_task
def chore_by_the_clock() -> int:
    """Every minute: promises the backup and rehearsal whose turn has come. Twice is harmless."""
    at = now()
    chore.promise(at=at)
    chore.clear_old(at=at)
    rows = chore.waiting(at=at)
    for pk in rows:
        do_chore.apply_async((pk,), expires=55)
    return len(rows)


# A backup of many gigabytes is one piece of work, as is a restore.
@shared_task(soft_time_limit=3300, time_limit=3400)
def do_chore(pk: int) -> None:
    """A backup, a rehearsal or an archive. Running it twice is harmless."""
    chore.carry_out(pk, clock=now)
