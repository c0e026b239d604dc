"""When something told by a phone happened, although the phone's clock may be wrong."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from plant.translate import gettext as _

# A difference within this is the way that a message takes, not a wrong clock.
AGREES = timedelta(minutes=2)
# What still lies so far ahead after the correction cannot be told by that clock at all.
AHEAD = timedelta(minutes=10)
# Older news is kept, and a manager looks at it.
OLD = timedelta(days=90)


@dataclass(frozen=True, kw_only=True)
class Told:
    """The moment that counts, and what is to be said about the phone's clock.

    at: the effective moment; clock: words about a clock that was put right, or empty; held: it is
    so old that a manager must look at it.
    """

    at: datetime
    clock: str
    held: bool


def is_told(moment: datetime) -> bool:
    """Whether a clock, however wrong, could have told this moment: 1970 is where they start."""
    return 1970 <= moment.year < 2200


def effective(*, device: datetime, sent: datetime, received: datetime) -> Told:
    """The moment that counts for an entry from a phone; never refused for its clock.

    The phone says by its own clock when it happened and when it was sent; how far its clock is
    from ours at sending corrects both.

    Args:
        device: by the phone's clock, when it happened.
        sent: by the phone's clock, when it was sent.
        received: by our clock, when it came.

    Raises:
        ValueError: a moment without its offset from UTC.
    """
    if any(moment.tzinfo is None for moment in (device, sent, received)):
        raise ValueError("a moment needs its offset from UTC")
    slow = received - sent
    at, clock = device, ""
    if abs(slow) > AGREES:
        at = device + slow
        told = (
            _("The phone's clock was {span} slow.")
            if slow > AGREES
            else _("The phone's clock was {span} fast.")
        )
        clock = told.format(span=_span(abs(slow)))
    if at > received + AHEAD:
        at = received
        clock = (
            _("{clock} It told a time to come, so the time of arrival counts.")
            .format(clock=clock)
            .strip()
        )
    return Told(at=min(at, received), clock=clock, held=received - at > OLD)


def _span(length: timedelta) -> str:
    minutes = round(length.total_seconds() / 60)
    days, minutes = divmod(minutes, 1440)
    hours, minutes = divmod(minutes, 60)
    told = [
        f"{count} {unit}" for count, unit in ((days, "d"), (hours, "h"), (minutes, "min")) if count
    ]
    return " ".join(told[:2])
