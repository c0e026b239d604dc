"""Parts of a job: taken from stock with one press, and put back."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from maintenance.actions import rack as action
from maintenance.contents.job_parts import likely_parts
from maintenance.forms.entry import sent
from maintenance.forms.rack import PiecesForm, TakeForm
from maintenance.models import Job, PartUsed
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.rights import Right


@login_required
@form_page
def job_parts(request: UserRequest, pk: int) -> HttpResponse:
    """What the job likely needs, a button for each place where it lies."""
    found = find(
        Job.objects.visible_to(request.user).select_related("machine__depot", "machine__kind"),
        request.user, Right.STOCK, depot="machine__depot_id", pk=pk,
    )  # fmt: skip
    form = TakeForm(**sent(request), depot_id=found.machine.depot_id)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            used = action.take(
                part=given["part"], place=given["place"], job=found, quantity=given["quantity"],
                at=now(), by=request.user, record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(
                request,
                _("{used}: taken from {taken_from}, and sealed.").format(
                    used=used, taken_from=used.taken_from
                ),
            )
            return redirect("maintenance:job", found.pk)
    words = request.GET.get("q", "").strip()[:60]
    likely = likely_parts(found, on=found.machine.depot.day_of(now()), words=words)
    return render(
        request,
        "maintenance/job_parts.html",
        {
            "job": found,
            "machine": found.machine,
            "form": form,
            "words": words,
            # A press sent twice takes once; a fresh page has fresh numbers.
            "likely": [(each, [(place, new_id()) for place in each.places]) for each in likely],
        },
        status=422 if form.errors else 200,
    )


@login_required
@require_POST
def put_back_part(request: UserRequest, pk: int) -> HttpResponse:
    used = find(
        PartUsed.objects.visible_to(request.user).select_related("job__machine"),
        request.user, Right.STOCK, depot="job__machine__depot_id", pk=pk,
    )  # fmt: skip
    form = PiecesForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            action.put_back(
                used=used, quantity=given["quantity"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            messages.error(request, str(refused))
        else:
            told = _("{quantity} x {what} put back, and sealed.").format(
                quantity=given["quantity"], what=used.what
            )
            messages.success(request, told)
    else:
        messages.error(request, _("Write how many go back, 1 to 999. Nothing was put back."))
    return redirect("maintenance:job", used.job_id)
