"""The way into all belt work: every belt drive with its last verdict, and the pages beside it."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.contents.belts import belt_drives
from maintenance.contents.sought import drives_with
from maintenance.forms.filters import BeltFilter
from maintenance.tables import paged
from maintenance.tables_belts import BeltTable
from plant.drives.outcome import Verdict
from plant.http import UserRequest, anywhere, csv_answer, today_at
from plant.rights import Right, depots_where


@login_required
@require_safe
def belts(request: UserRequest) -> HttpResponseBase:
    """The four pages of belt work; the list to measure from stands on this one."""
    anywhere(request.user, Right.SEE)
    at = now()
    form = BeltFilter(request.GET, user=request.user)
    kept = form.kept()
    drives: Any = belt_drives(request.user)
    if kept.get("depot"):
        drives = drives.filter(machine__depot=kept["depot"])
    if words := kept.get("q", ""):
        drives = drives_with(drives, request.user, words)
    to_change = drives.filter(verdict=Verdict.CHANGE).count()
    if verdict := kept.get("verdict", ""):
        drives = drives.filter(verdict=None if verdict == form.NOT_READ else verdict)
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        table = BeltTable(drives.order_by("rank", "machine__number_key"), order_by="verdict")
        day = today_at(request.user, at)
        return csv_answer(BeltTable.CSV, table.csv_rows(), name=f"belts-{day}")
    table = paged(BeltTable(drives), request, at=at)
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    return render(
        request, "maintenance/belts.html", {"form": form, "table": table, "to_change": to_change}
    )
