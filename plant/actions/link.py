"""Holding back who opens links without a password too often."""

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from plant.actions.refusal import Refused
from plant.actions.sign_in import network
from plant.actions.throttle import count_by_key, minutes_told
from plant.models.attempt import VISITS_BY_LINK, link_key


class TooManyVisits(Refused):
    """Too many visits by this link; wait tells how long."""

    def __init__(self, wait: timedelta) -> None:
        self.wait = wait
        super().__init__(
            _("This was asked for too often. Wait {told}, then try again.").format(
                told=minutes_told(wait)
            )
        )


def count_visit(*, code: str, address: str, at: datetime) -> None:
    """Counts one visit by a link from an address.

    Args:
        code: of the link; empty for any that we never gave out, which so count together.

    Raises:
        TooManyVisits: so many came lately; this one is not counted.
    """
    key = link_key(code, network(address))
    count_by_key(key, most=VISITS_BY_LINK, refusal=TooManyVisits, at=at)
