"""Holding back who does one thing too often, whichever of the web processes they meet."""

from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.actions.refusal import Refused
from plant.models.attempt import SignInAttempt, free_at

# People at work stay far below these; who passes them is a program, or a key that is stuck.
MOST_WRITES, MOST_SENDINGS, A_MINUTE = 60, 10, timedelta(minutes=1)


class TooOften(Refused):
    """Too often lately; wait tells how long."""

    def __init__(self, wait: timedelta, told: str) -> None:
        self.wait = wait
        seconds = max(1, -(-wait // timedelta(seconds=1)))
        minutes = -(-seconds // 60)
        span = (
            _("{seconds} seconds").format(seconds=seconds)
            if seconds <= 90
            else _("{minutes} minutes").format(minutes=minutes)
        )
        super().__init__(
            _("{told} Nothing was saved. Wait {span}, then try again.").format(told=told, span=span)
        )

    @property
    def seconds(self) -> str:
        """For the header Retry-After."""
        return str(max(1, -(-self.wait // timedelta(seconds=1))))


def minutes_told(wait: timedelta) -> str:
    """How long to wait: 1 minute, 2 minutes; a minute that is begun counts whole."""
    minutes = -(-wait // timedelta(minutes=1))
    return ngettext("{minutes} minute", "{minutes} minutes", minutes).format(minutes=minutes)


def count_use(
    what: str, who: object, *, most: int, within: timedelta, at: datetime, told: str
) -> None:
    """Counts one use; kept in the database, since several processes serve one person.

    Who is held back is only read, never written, so that a flood costs little. Uses side by side
    may pass the limit by as many as there are threads.

    Args:
        what, who: together the key, for instance "writes" and a person's number; kept as a hash.
        told: what was too much, a sentence.

    Raises:
        TooOften: there were ``most`` uses within this time; this one is not counted.
    """
    key = salted_hmac("use", f"{what} {who}").hexdigest()
    used = SignInAttempt.objects.filter(name_key=key).within(within, at).order_by("-at")
    free = free_at(used, most=most, within=within, at=at)
    if free > at:
        raise TooOften(free - at, told)
    with transaction.atomic():
        SignInAttempt.objects.filter(name_key=key, at__lte=at - within).delete()
        SignInAttempt.objects.create(name_key=key, at=at)


def count_by_key(
    key: str, *, most: int, refusal: Callable[[timedelta], Refused], at: datetime
) -> SignInAttempt:
    """Counts one use of a label or a link, whatever becomes of it.

    The row is saved first and the others are counted after it, so that uses side by side count
    too.

    Raises:
        Refused: as refusal() makes it, told how long to wait; this one is then not counted.
    """
    SignInAttempt.objects.older_than_kept(at).delete()
    mine = SignInAttempt.objects.create(name_key=key, at=at)
    free = SignInAttempt.objects.exclude(pk=mine.pk).key_free_at(key, most=most, at=at)
    if free > at:
        mine.delete()
        raise refusal(free - at)
    return mine
