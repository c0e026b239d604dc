"""Running out: the list and the chart of belts by the day on which they end."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions.belt_life import set_lead_days
from maintenance.contents.belt_life import belt_lives, chart, counted
from maintenance.forms.belt_change import LeadForm
from maintenance.forms.entry import sent
from maintenance.forms.filters import RunningOutFilter
from maintenance.models import BeltLife
from maintenance.tables import paged
from maintenance.tables_belts import RunningOutTable
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, csv_answer, find, form_page, today_at
from plant.models import Depot
from plant.rights import Right, depots_where


@login_required
@require_safe
def running_out(request: UserRequest) -> HttpResponseBase:
    """When each belt ends, and by when the next is to be ordered; worst first."""
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = RunningOutFilter(request.GET, user=request.user)
    kept = form.kept()
    lives: Any = belt_lives(request.user)
    if kept.get("depot"):
        lives = lives.filter(drive__machine__depot=kept["depot"])
    if words := kept.get("q", ""):
        key = "".join(c for c in words.upper() if c.isascii() and c.isalnum())
        found = Q(drive__belt_mark__icontains=words)
        lives = lives.filter(found | Q(drive__machine__number_key__contains=key) if key else found)
    if (state := kept.get("state", "")) == form.ORDER:
        lives = lives.filter(state=BeltLife.State.DATED, order_by_on__lte=on)
    elif state:
        lives = lives.filter(state=state)
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        table = RunningOutTable(lives.order_by("rank", "order_by_on", "drive"), order_by="state")
        return csv_answer(RunningOutTable.CSV, table.csv_rows(), name=f"running-out-{on}")
    table = paged(RunningOutTable(lives), request, at=at)
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    counts = counted(request.user, on=on, at=at)
    table.worked_out_at = counts.worked_out_at
    return render(
        request,
        "maintenance/running_out.html",
        {
            "form": form, "table": table, "counts": counts, "chart": chart(lives, on=on),
            "depots": Depot.objects.filter(pk__in=depots_where(request.user, Right.SEE)),
            "may_plan": depots_where(request.user, Right.PLAN),
        },
    )  # fmt: skip


@login_required
@form_page
def belt_lead(request: UserRequest, pk: int) -> HttpResponse:
    """The days that it takes to get a belt, where its part does not say them."""
    seen = Depot.objects.filter(pk__in=depots_where(request.user, Right.SEE))
    depot = find(seen, request.user, Right.PLAN, depot="pk", pk=pk)
    form = LeadForm(**sent(request), initial={"days": depot.belt_lead_days})
    if request.method == "POST" and form.is_valid():
        try:
            set_lead_days(depot=depot, days=form.cleaned_data["days"], at=now(), by=request.user)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Kept. The order days follow within minutes."))
            return redirect("maintenance:running_out")
    return render(
        request,
        "maintenance/belt_lead.html",
        {"depot": depot, "form": form},
        status=422 if form.errors else 200,
    )
