"""A new firm begins: one page by the link from the console, then what to do next."""

from dataclasses import fields

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe

from plant.actions import session
from plant.actions.refusal import Refused
from plant.actions.set_up import Beginning, opens
from plant.actions.set_up import set_up as begin
from plant.forms_set_up import SetUpForm
from plant.hashing import hashing
from plant.http import UserRequest, anywhere, form_page
from plant.models import SetUp
from plant.rights import Right
from plant.security_log import note


@sensitive_post_parameters("password", "again")
@form_page
def set_up(request: HttpRequest, code: str) -> HttpResponse:
    """Once somebody has begun, or a day is over, the link leads to the sign-in page and no more."""
    if not opens(code):
        note("set-up refused", request=request)
        messages.warning(
            request,
            _(
                "This link was used, or is older than a day. If nobody has set the system up yet, "
                "start it again: it prints a new one."
            ),
        )
        return redirect("plant:sign_in")
    form = SetUpForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        told = {each.name: form.cleaned_data[each.name] for each in fields(Beginning)}
        try:
            with hashing:
                person = begin(Beginning(**told), at=now())
        except Refused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        else:
            session.begin(request, person, at=now())
            note("set up", request=request, user=person)
            return redirect("plant:set_up_ready")
    status = 422 if form.errors else 200
    return render(request, "plant/set_up.html", {"form": form, "code": code}, status=status)


@login_required
@require_safe
def set_up_ready(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.RUN_SYSTEM)
    return render(request, "plant/set_up_ready.html", {"begun": SetUp.objects.first()})
