"""The inspector's bundle of one machine: its period is asked for, the background prints it."""

from django.contrib.auth.decorators import login_required
from django.db.models import Min
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now

from maintenance.rules.words import day_text
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine, Record
from plant.nudge import nudge
from reports.actions.sheet import Wanted, ask_paper
from reports.forms import BundleForm
from reports.models import Batch
from reports.models.sheet import RIGHTS
from reports.tasks import print_batch


@login_required
@form_page
def ask_bundle(request: UserRequest, pk: int) -> HttpResponse:
    """Everything on one machine for a period, in one file."""
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        RIGHTS[Batch.Kind.BUNDLE][0],
        depot="depot_id",
        pk=pk,
    )
    at = now()
    records = Record.objects.visible_to(request.user).filter(machine=machine)
    begun = records.aggregate(first=Min("happened_at"))["first"] or machine.added_at
    today = machine.depot.day_of(at)
    form = BundleForm(
        request.POST if request.method == "POST" else None,
        today=today,
        begins=min(today, machine.depot.day_of(begun)),
    )
    status = 200
    if request.method == "POST":
        if form.is_valid():
            first, last = form.days()
            try:
                batch = ask_paper(
                    depot=machine.depot, wanted=[Wanted(machine=machine)], by=request.user, at=at,
                    kind=Batch.Kind.BUNDLE, days=(first, last),
                    title=f"Inspector's bundle of {machine}, {day_text(first)} to {day_text(last)}",
                )  # fmt: skip
            except Refused as refused:
                form.add_error(None, str(refused))
            else:
                nudge(print_batch, batch.pk)
                return redirect("reports:batch", batch.pk)
        status = 422
    return render(
        request,
        "reports/ask_bundle.html",
        {"form": form, "machine": machine, "count": records.count()},
        status=status,
    )
