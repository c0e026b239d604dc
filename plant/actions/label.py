"""Holding back who sends too much by one label without an account, or guesses short codes."""

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from plant.actions.refusal import Refused
from plant.actions.sign_in import network
from plant.actions.throttle import count_by_key, minutes_told
from plant.models import User
from plant.models.attempt import ENTRIES_BY_LABEL, SignInAttempt, label_key


class TooManyEntries(Refused):
    """Too many entries by this label; wait tells how long."""

    def __init__(self, wait: timedelta) -> None:
        self.wait = wait
        super().__init__(
            _(
                "Too much was sent by this label. Not saved. Wait {told}. If the "
                "machine is not safe, unplug it and tell your foreman."
            ).format(told=minutes_told(wait))
        )


def count_label_entry(*, code: str, address: str, at: datetime) -> None:
    """Counts one entry sent by a label from an address, whatever becomes of it.

    Whoever is signed in is not counted.

    Raises:
        TooManyEntries: so many came lately; this one is not counted.
    """
    key = label_key(code, network(address))
    count_by_key(key, most=ENTRIES_BY_LABEL, refusal=TooManyEntries, at=at)


class TooManyCodes(Refused):
    """This person typed too many codes that open nothing; wait tells how long."""

    def __init__(self, wait: timedelta) -> None:
        self.wait = wait
        super().__init__(
            _("Too many codes that open nothing. Wait {told}, or look under Machines.").format(
                told=minutes_told(wait)
            )
        )


def count_code(*, user: User, at: datetime) -> SignInAttempt:
    """Counts one code typed by a person, before it is looked for; see forget_code.

    Raises:
        TooManyCodes: so many opened nothing lately; this one is not counted.
    """
    key = label_key("typed codes", str(user.pk))
    return count_by_key(key, most=ENTRIES_BY_LABEL, refusal=TooManyCodes, at=at)


def forget_code(mine: SignInAttempt) -> None:
    """It opened a machine, so it counts for nothing: a yard of a hundred is walked in an hour."""
    mine.delete()


def wait_for_codes(*, user: User, at: datetime) -> timedelta:
    """How long this person has to wait before a code is looked up again; nothing where not."""
    key = label_key("typed codes", str(user.pk))
    free = SignInAttempt.objects.key_free_at(key, most=ENTRIES_BY_LABEL, at=at)
    return max(free - at, timedelta(0))
