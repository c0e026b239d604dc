"""Answering what was told: "I have it", and words to the one who told it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from maintenance.actions.answer import answer_report, have_it
from maintenance.forms.answer import AnswerForm
from maintenance.forms.entry import sent
from maintenance.models import Job
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.rights import Right


@login_required
@require_POST
def take_on(request: UserRequest, pk: int) -> HttpResponse:
    """Somebody presses "I have it"."""
    job = _found(request, pk)
    try:
        have_it(job=job, at=now(), by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("You have {job}. Who told it reads so.").format(job=job.number))
    return redirect("maintenance:job", job.pk)


@login_required
@form_page
def answer_job(request: UserRequest, pk: int) -> HttpResponse:
    job = _found(request, pk)
    form = AnswerForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            answer_report(
                job=job, answer=given["answer"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Answered. Who told it reads it by the same link."))
            return redirect("maintenance:job", job.pk)
    return render(
        request,
        "maintenance/act.html",
        {
            "form": form,
            "job": job,
            "machine": job.machine,
            "title": _("Answer"),
            "button": _("Send the answer"),
        },
        status=422 if form.errors else 200,
    )


def _found(request: UserRequest, pk: int) -> Job:
    return find(
        Job.objects.visible_to(request.user).select_related("machine__depot", "machine__kind"),
        request.user,
        Right.WORK,
        depot="machine__depot_id",
        pk=pk,
    )
