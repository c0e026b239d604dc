"""Failed tries to sign in, and what is sent by labels: counted in the database, because several
processes serve one door."""

from datetime import datetime, timedelta
from typing import Self

from django.db import models
from django.utils.crypto import salted_hmac

# From the fifth failure on a name waits a minute, and twice as long after each further one.
FREE_TRIES = 5
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(minutes=15)
# An address may fail so often within this time, whatever names it tries.
TRIES_OF_AN_ADDRESS = 20
ADDRESS_TIME = timedelta(minutes=5)
# On one shared phone so many codes may be wrong within this time, whosever they are.
TRIES_OF_A_PHONE = 15
PHONE_TIME = timedelta(minutes=15)
# So many entries may come by one label from one address within this time, without an account. A
# check that is put right twice, a fault report and a stop are six.
ENTRIES_BY_LABEL = 20
LABEL_TIME = timedelta(minutes=10)
# So often may one link that needs no password be opened from one address within this time; all
# links that were never given out count as one.
VISITS_BY_LINK = 60
KEPT = timedelta(days=1)
# A try from later than this is one of before the clock was put back, and holds nobody.
AHEAD = timedelta(minutes=1)


def name_key(sign_in: str) -> str:
    """What stands for a name here: people type passwords into the wrong box, so not the name."""
    return salted_hmac("sign-in", sign_in.strip().casefold()).hexdigest()


def code_key(user_pk: int, depot_pk: int) -> str:
    """What stands for a person whose six figures are tried on the phones of one depot.

    By depot, so that nobody keeps people of another depot waiting.
    """
    return salted_hmac("phone code", f"{user_pk} {depot_pk}").hexdigest()


def phone_key(phone_pk: int) -> str:
    """What stands in the place of an address where a shared phone is tried."""
    return f"phone {phone_pk}"


def label_key(code: str, network: str) -> str:
    """What stands for a label and an address together; the code itself opens a page, so not it."""
    return salted_hmac("label", f"{code} {network}").hexdigest()


def link_key(code: str, network: str) -> str:
    """What stands for a link and an address together; the code itself opens a page, so not it."""
    return salted_hmac("link", f"{code} {network}").hexdigest()


class SignInAttemptQuerySet(models.QuerySet["SignInAttempt"]):
    def older_than_kept(self, at: datetime) -> Self:
        return self.filter(at__lt=at - KEPT)

    def within(self, time: timedelta, at: datetime) -> Self:
        return self.filter(at__gt=at - time, at__lte=at + AHEAD)

    def name_free_at(self, key: str, *, at: datetime) -> datetime:
        """The moment from which this name may be tried; a moment past when it may be now."""
        failed = list(
            self.filter(name_key=key).within(KEPT, at).order_by("-at").values_list("at", flat=True)
        )
        over = len(failed) - FREE_TRIES
        if over < 0:
            return at
        # Sixteen doublings are far past the longest wait.
        return failed[0] + min(FIRST_WAIT * (1 << min(over, 16)), LONGEST_WAIT)

    def address_free_at(self, address: str, *, at: datetime) -> datetime:
        """The moment from which this address may try; a moment past when it may now."""
        failed = self.filter(address=address).within(ADDRESS_TIME, at).order_by("-at")
        return free_at(failed, most=TRIES_OF_AN_ADDRESS, within=ADDRESS_TIME, at=at)

    def phone_free_at(self, address: str, *, at: datetime) -> datetime:
        """The moment from which this phone may try; a moment past when it may now."""
        failed = self.filter(address=address).within(PHONE_TIME, at).order_by("-at")
        return free_at(failed, most=TRIES_OF_A_PHONE, within=PHONE_TIME, at=at)

    def key_free_at(self, key: str, *, most: int, at: datetime) -> datetime:
        """The moment from which this label or link may be used again; one past when it may now."""
        used = self.filter(name_key=key).within(LABEL_TIME, at).order_by("-at")
        return free_at(used, most=most, within=LABEL_TIME, at=at)


def free_at(
    newest_first: SignInAttemptQuerySet, *, most: int, within: timedelta, at: datetime
) -> datetime:
    in_turn = list(newest_first.values_list("at", flat=True)[:most])
    return at if len(in_turn) < most else in_turn[-1] + within


class SignInAttempt(models.Model):
    """One try to sign in that has not succeeded, or (without an address) one entry by a label or
    one visit by a link."""

    name_key = models.CharField(max_length=64)
    address = models.CharField(max_length=45)
    at = models.DateTimeField(db_index=True)

    objects = SignInAttemptQuerySet.as_manager()

    class Meta:
        indexes = (
            models.Index(fields=("name_key", "at"), name="attempt_by_name"),
            models.Index(fields=("address", "at"), name="attempt_by_address"),
        )

    def __str__(self) -> str:
        return f"A try from {self.address} at {self.at}"
