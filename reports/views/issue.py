"""Issuing a machine: what goes out takes its passport along, asked for in the same act."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.timezone import now

from maintenance.models import Stay
from maintenance.views import stay as stays
from plant.http import UserRequest, form_page
from plant.nudge import nudge
from reports.actions.passport import ask_passport_of
from reports.models import Batch
from reports.tasks import print_batch


@login_required
@form_page
def issue(request: UserRequest, pk: int) -> HttpResponse:
    """The page of the issue; from there on to the passport, which prints meanwhile."""
    asked: list[Batch] = []

    def ask(stay: Stay) -> None:
        asked.append(ask_passport_of(stay, by=request.user, at=now()))
        nudge(print_batch, asked[-1].pk)

    response = stays.issue(request, pk, also=ask)
    return redirect("reports:batch", asked[0].pk) if asked else response
