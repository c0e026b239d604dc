"""The file of everything that a person asked for lately, as Today shows it."""

from datetime import timedelta
from typing import Any

from django.db.models import Q, QuerySet, Subquery
from django.db.models.functions import JSONObject

from plant.models import Chore

# One that is ready or failed is shown for this long.
SHOWN_FOR = timedelta(days=1)
_SHOWN = ("state", "done", "total", "size", "why")


def archives(me: Any, since: Any) -> QuerySet[Chore]:
    """Under way, or ready or failed since then, the newest first; me and since may be Givens."""
    ended = Q(ended_at__gte=since) & ~Q(state=Chore.State.DONE, file="")
    shown = Chore.objects.filter(Q(state__in=Chore.OPEN) | ended)
    return shown.filter(kind=Chore.Kind.ARCHIVE, asked_by=me).order_by("-asked_at", "-pk")


def read_along(me: Any, since: Any) -> Subquery:
    """The newest of them as a column, for a page that may not ask once more."""
    told = JSONObject(**{name: name for name in _SHOWN})
    return Subquery(archives(me, since).values(row=told)[:1])


def from_column(told: dict[str, Any] | None) -> Chore | None:
    return None if told is None else Chore(kind=Chore.Kind.ARCHIVE, **told)
