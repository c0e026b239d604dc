"""Ending an account with everything that hangs on it, and the list of rights for signature."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.models import Job
from plant.actions.refusal import Refused
from plant.contents.people import acts
from plant.forms_people import SureForm
from plant.http import UserRequest, anywhere, form_page, today_at
from plant.rights import Right
from plant.views.people import person_seen
from reports.actions.leaver import end_account as end
from reports.contents.rights_list import rights_list as content
from reports.pdf.rights_list import render as drawn


@login_required
@form_page
def end_account(request: UserRequest, pk: int) -> HttpResponse:
    """One press: sessions, codes and links end; what was signed keeps its name."""
    person = person_seen(request, pk)
    form = SureForm(request.POST if request.method == "POST" else None, request=request)
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            end(person=person, at=now(), by=request.user)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("{person} has left. Nothing of theirs opens anything any more.").format(
                    person=person.name
                ),
            )
            return redirect("plant:account", person.pk)
    page = {
        "form": form,
        "person": person,
        "acts": acts(person, viewer=request.user, at=now()),
        "jobs": Job.objects.visible_to(request.user).open().filter(given_to=person)[:20],
    }
    return render(request, "reports/end_account.html", page, status=422 if form.errors else 200)


@login_required
@require_safe
def rights_list(request: UserRequest) -> HttpResponse:
    """A PDF of who has which roles where, to be read and signed once a year."""
    depots = anywhere(request.user, Right.PEOPLE)
    at = now()
    data = drawn(content(request.user, depots=depots, at=at))
    response = HttpResponse(data, content_type="application/pdf")
    name = f"rights-{today_at(request.user, at).isoformat()}.pdf"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
