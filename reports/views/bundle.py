"""The inspector's bundle of one machine, and the folder of a depot; the background prints them."""

from django.contrib.auth.decorators import login_required
from django.db.models import Min
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from maintenance.rules.words import day_text
from plant.actions.refusal import Refused
from plant.actions.throttle import TooOften
from plant.http import UserRequest, anywhere, find, form_page, see
from plant.models import Depot, Machine, Record
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
                    depot=machine.depot,
                    wanted=[Wanted(machine=machine)],
                    by=request.user,
                    at=at,
                    kind=Batch.Kind.BUNDLE,
                    days=(first, last),
                    title=_("Inspector's bundle of {machine}, {first} to {last}").format(
                        machine=machine, first=day_text(first), last=day_text(last)
                    ),
                )
            except TooOften:
                raise
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


@login_required
@require_POST
def ask_folder(request: UserRequest) -> HttpResponse:
    """Every machine of one depot, a page each: of the depot that is named, else of the first."""
    right = RIGHTS[Batch.Kind.FOLDER][0]
    mine = anywhere(request.user, right)
    depot: Depot | None
    if named := request.POST.get("depot"):
        depot = see(Depot.objects.filter(pk__in=mine), request.user, pk=named)
    else:
        depot = Depot.objects.filter(pk__in=mine).order_by("pk").first()
    assert depot is not None  # there is one where the person has the right
    batch = ask_paper(
        depot=depot, wanted=[Wanted()], by=request.user, at=now(), kind=Batch.Kind.FOLDER
    )
    nudge(print_batch, batch.pk)
    return redirect("reports:batch", batch.pk)
