"""Held: what must not be used, and what would free it."""

from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.timezone import now
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from maintenance.contents.held import NEXT, held, waiting_for
from maintenance.contents.sought import machines_with
from maintenance.forms.filters import HeldFilter
from maintenance.tables import HeldTable, paged
from plant.http import UserRequest, anywhere, csv_answer, today_at
from plant.models import Place
from plant.rights import Right, depots_where


@login_required
@require_safe
def held_list(request: UserRequest) -> HttpResponseBase:
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = HeldFilter(request.GET, user=request.user)
    kept = form.kept()
    machines = held(request.user, on)
    only = Q()
    for name in ("depot", "place"):
        if kept.get(name):
            only &= Q(**{name: kept[name]})
    machines = machines.filter(only)
    if kept.get("q"):
        machines = machines_with(machines, request.user, kept["q"])
    counts = [
        (step, gettext(word), waiting_for(machines, step, on).count())
        for step, word in NEXT.items()
    ]
    out = machines.filter(place=Place.OUT).count()
    if kept.get("step"):
        machines = waiting_for(machines, kept["step"], on)
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        table = HeldTable(machines, on=on, user=request.user)
        return csv_answer(HeldTable.CSV, table.csv_rows(), name=f"held-{on}")
    table = paged(HeldTable(machines, on=on, user=request.user), request, at=at)
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    return render(
        request,
        "maintenance/held.html",
        {
            "form": form,
            "table": table,
            "counts": counts,
            "shown": kept.get("step", ""),
            "total": sum(count for _, _, count in counts),
            "out": out,
        },
    )
