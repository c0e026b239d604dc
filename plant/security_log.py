"""What is kept on who came in, who was turned away, and what was taken out: one line each."""

import logging
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest

LOG = logging.getLogger("security")
# [characters] of a text at most: what people send is not worth more, and shall fill no disk.
LONGEST = 200
# The request that is being answered, so that what lies behind a view need not be handed it.
_asking: ContextVar[HttpRequest | None] = ContextVar("asking", default=None)
asking, being_answered = _asking.set, _asking.get
# What somebody may have to look into; all else is told as usual.
_ALARMING = ("failed", "refused", "held back", "not there", "not set", "not fit", "ended")

_TAKEN = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "at", "from", "what"}


def note(what: str, *, request: HttpRequest | None = None, user: Any = None, **facts: Any) -> None:
    """Writes one line to the security log: who (by number), from where, on which page, and what.

    Never given a password, code, token, link or the words of a record: the page is told by its
    name, since an address may hold a link that opens it. What lies outside ASCII is escaped.

    Args:
        what: in few words of ours, for instance "sign-in failed", "role given", "exported".
        request: the one that is answered; not needed behind a view.
        user: who did it, an account or its number; else who asks.
        facts: numbers, truths and short texts beside it; anything else is told as text.
    """
    request = request if request is not None else _asking.get()
    told: dict[str, Any] = {}
    if request is not None:
        told["address"] = request.META.get("REMOTE_ADDR", "")
        if request.resolver_match is not None:
            told["page"] = request.resolver_match.view_name
        if user is None and getattr(request, "user", None) is not None:
            user = request.user.pk
    if user is not None:
        told["user"] = getattr(user, "pk", user)
    told |= facts
    level = logging.WARNING if any(word in what for word in _ALARMING) else logging.INFO
    # Names that a log line has of its own are taken.
    extra = {f"{n}_" if n in _TAKEN else n: _plain(value) for n, value in told.items()}
    LOG.log(level, what, extra=extra)


def _plain(value: Any) -> str | int | float | bool | None:
    if value is None or isinstance(value, bool | int | float):
        return value
    text = str(value)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
