"""Replacing a machine's label link."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _

from maintenance.actions import label as action
from maintenance.forms.entry import sent
from maintenance.forms.label import ReplaceLabelForm
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine
from plant.rights import Right
from plant.security_log import note


@login_required
@form_page
def replace_label(request: UserRequest, pk: int) -> HttpResponse:
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        Right.REPLACE_LABEL,
        depot="depot_id",
        pk=pk,
    )
    form = ReplaceLabelForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.replace_label(
                machine=machine, reason=given["reason"], at=now(), by=request.user,
                short_code_too=given["short_code_too"], record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            note("label replaced", machine=machine.pk)
            messages.success(
                request,
                _(
                    "The link of {machine} is replaced and sealed. Print and fix a new label."
                ).format(machine=machine),
            )
            return redirect(reverse("maintenance:machine", args=[machine.pk]) + "#paper")
    return render(
        request,
        "maintenance/act.html",
        {
            "machine": machine,
            "form": form,
            "title": _("Replace the label"),
            "button": _("Replace it"),
            "heavy": True,
            "care": (
                _(
                    "The old labels of {machine} stop opening, and so do the codes on "
                    "its printed sheets. Print and fix a new one."
                ).format(machine=machine)
            ),
            "note": _("A label that is only dirty or torn: print it again. That changes no link."),
        },
        status=422 if form.errors else 200,
    )
