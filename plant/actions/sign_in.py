"""Holding back who tries too often to sign in, before any password is worked on."""

from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address

from django.utils.translation import gettext as _

from plant.actions.refusal import Refused
from plant.actions.throttle import minutes_told
from plant.models.attempt import SignInAttempt, name_key


class HeldBack(Refused):
    """Too many tries; wait tells how long."""

    def __init__(self, wait: timedelta) -> None:
        self.wait = wait
        super().__init__(
            _(
                "There were too many tries. Nobody was signed in. Wait {told}, then try again."
            ).format(told=minutes_told(wait))
        )


def begin_attempt(*, sign_in: str, address: str, at: datetime) -> SignInAttempt:
    """Counts the try before the password is looked at, so that tries side by side count too.

    The row is saved first and the others are counted after it: whoever comes at the same moment
    sees this one or is seen by it.

    Raises:
        HeldBack: the name or the address has failed too often; this try is not counted.
    """
    SignInAttempt.objects.older_than_kept(at).delete()
    mine = SignInAttempt.objects.create(name_key=name_key(sign_in), address=network(address), at=at)
    others = SignInAttempt.objects.exclude(pk=mine.pk)
    free_at = max(
        others.name_free_at(mine.name_key, at=at), others.address_free_at(mine.address, at=at)
    )
    if free_at > at:
        mine.delete()
        raise HeldBack(free_at - at)
    return mine


def forget_attempts(attempt: SignInAttempt) -> None:
    """The try succeeded: the name starts afresh, and the address is not charged with this try."""
    SignInAttempt.objects.filter(pk=attempt.pk).delete()
    SignInAttempt.objects.filter(name_key=attempt.name_key).update(name_key="")


def network(address: str) -> str:
    """The address; of IPv6 the network of 64 bits, because one household has all of it."""
    try:
        known = ip_address(address)
    except ValueError:
        return "unknown"
    if isinstance(known, IPv6Address):
        if known.ipv4_mapped:
            return str(known.ipv4_mapped)
        return str(IPv6Address(int(known) >> 64 << 64))
    return str(known)
