"""The little that is told of machines at other depots, where the firm lets all depots see it."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.contents import elsewhere as contents
from maintenance.forms.filters import ElsewhereFilter
from maintenance.tables import paged
from maintenance.tables_elsewhere import ElsewhereTable
from plant.http import UserRequest, anywhere, today_at
from plant.rights import Right, depots_in_sight, has_others


@login_required
@require_safe
def elsewhere(request: UserRequest) -> HttpResponse:
    """Number, kind, place and whether it can go out; nothing of it opens."""
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    depots = list(depots_in_sight(request.user))
    form = ElsewhereFilter(request.GET, depots=depots)
    kept = form.kept()
    machines = contents.machines_there(request.user)
    if kept.get("q"):
        machines = contents.fitting(machines, request.user, kept["q"])
    for name in ("kind", "depot", "place"):
        if kept.get(name):
            machines = machines.filter(**{name: kept[name]})
    if kept.get("can"):
        machines = contents.that_can_go(machines, on, depots)
    table = ElsewhereTable(machines.values(*contents.TOLD, "number_key"), on=on, depots=depots)
    page = {
        "form": form,
        "table": paged(table, request, at=at),
        "open": bool(depots),
        "practising": request.user.practising is not None,
        "others": bool(depots) or has_others(request.user),
    }
    return render(request, "maintenance/elsewhere.html", page)
