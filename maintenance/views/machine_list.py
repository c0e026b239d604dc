"""The list of machines, and the same as a file."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_safe

from maintenance.contents.check_due import overdue_in_use
from maintenance.contents.elsewhere import elsewhere
from maintenance.contents.fleet import USES, with_marks, with_use
from maintenance.contents.sought import machines_with
from maintenance.forms.filters import MachineFilter
from maintenance.tables import MachineTable, paged
from plant.http import UserRequest, anywhere, csv_answer, today_at
from plant.models import Depot, Machine, Place
from plant.rights import Right, depots_where

_HEADINGS = (
    "Machine",
    "Kind",
    "Depot",
    "Where it is",
    "Site",
    "May it be used",
    "What is due",
)


_NONE_YET = gettext_noop(
    "No machine is in the register of your depots yet. Each one would stand here. "
)


@login_required
@require_safe
def machine_list(request: UserRequest) -> HttpResponseBase:
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = MachineFilter(request.GET, user=request.user)
    machines = _filtered(request, form.kept(), on, at)
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        return _file(machines.order_by("number_key"), on)
    table = paged(MachineTable(machines, on=on), request, at=at)
    if not any(form.cleaned_data.values()):
        table.empty_text = _(_NONE_YET) + (
            _("Add the first one, or bring in a file of them.")
            if depots_where(request.user, Right.REGISTER)
            else _("A manager adds them, one by one or from a file.")
        )
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    may_print_many = bool(depots_where(request.user, Right.PRINT_MANY))
    return render(
        request,
        "maintenance/machine_list.html",
        {
            "form": form,
            "table": table,
            "may_print_many": may_print_many,
            "words": form.cleaned_data.get("q", ""),
            "elsewhere": elsewhere(request.user, form.cleaned_data.get("q", ""), on=on),
        },
    )


def _filtered(
    request: UserRequest, kept: dict[str, Any], on: date, at: datetime
) -> QuerySet[Machine]:
    machines = Machine.objects.visible_to(request.user).select_related("kind", "depot")
    machines = (
        machines.filter(place=kept["place"])
        if kept.get("place")
        else machines.exclude(place=Place.GONE)
    )
    for name in ("depot", "kind"):
        if kept.get(name):
            machines = machines.filter(**{name: kept[name]})
    if kept.get("q"):
        machines = machines_with(machines, request.user, kept["q"])
    found: QuerySet[Machine] = machines
    if kept.get("check"):
        depots = Depot.objects.filter(pk__in=depots_where(request.user, Right.SEE))
        found = overdue_in_use(found, depots, at=at)
    return with_use(found, USES[kept["use"]], on) if kept.get("use") else found


def _file(machines: QuerySet[Machine], on: date) -> HttpResponse | StreamingHttpResponse:
    def rows() -> Iterator[tuple[object, ...]]:
        for machine, use, due in with_marks(machines, on):
            place = str(Place(machine.place).label)
            kind, depot = machine.kind.name, machine.depot.name
            yield machine.number, kind, depot, place, machine.site, use, due

    return csv_answer(_HEADINGS, rows(), name=f"machines-{on}")
