"""Checks worth a look together: for who decides on faults in that depot, and nobody else."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.actions.check import PACE_KEPT
from maintenance.contents.tick_through import TOLD_FROM, USUAL_FROM, watched
from maintenance.forms.filters import OneDepot
from maintenance.rules.tick_through import FEWEST
from maintenance.tables import LookTable, paged
from plant.http import UserRequest, anywhere
from plant.models import Depot
from plant.rights import Right


@login_required
@require_safe
def worth_a_look(request: UserRequest) -> HttpResponse:
    depots = Depot.objects.filter(pk__in=anywhere(request.user, Right.DECIDE))
    at = now()
    form = OneDepot(request.GET, depots=depots)
    depot = form.chosen()
    found = watched(depot, at=at)
    table = paged(LookTable(found.looks), request, at=at)
    return render(
        request,
        "maintenance/tick_through.html",
        {
            "form": form,
            "depot": depot,
            "many": len(depots) > 1,
            "table": table,
            "looks": len(found.looks),
            "checks": found.checks,
            "quiet": found.quiet,
            "fewest": FEWEST,
            "usual_days": USUAL_FROM.days,
            "told_days": TOLD_FROM.days,
            "kept_days": PACE_KEPT.days,
        },
    )
