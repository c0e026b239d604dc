"""Due: all work inside its notice or past it, in use kept apart from in store."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.contents.due import announced, coming, counted, past
from maintenance.forms.filters import DueFilter
from maintenance.tables import DueTable, paged
from plant.http import UserRequest, anywhere, today_at
from plant.models import Place
from plant.rights import Right


@login_required
@require_safe
def due_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = DueFilter(request.GET, user=request.user)
    form.is_valid()  # a filter that cannot be read is left off, and said so beside its field
    kept = form.cleaned_data
    lines = announced(request.user, on)
    if kept.get("depot"):
        lines = lines.filter(machine__depot=kept["depot"])
    if kept.get("q"):
        lines = lines.filter(machine__number_key__contains=_key(kept["q"]))
    in_use = past(lines, on).filter(machine__place=Place.OUT)
    in_store = past(lines, on).exclude(machine__place=Place.OUT)
    soon = coming(lines, on)
    shown = {form.OVERDUE: in_use, form.STORE: in_store, form.SOON: soon}
    counts = counted(lines, on)
    table = paged(DueTable(shown.get(kept.get("state", ""), lines), on=on), request, at=at)
    return render(
        request, "maintenance/due_list.html", {"form": form, "table": table, "counts": counts}
    )


def _key(words: str) -> str:
    return "".join(c for c in words.upper() if c.isascii() and c.isalnum())
