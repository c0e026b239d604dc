"""Scan: from the label in the hand to the machine's page."""

from math import ceil

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.contents.scan import meant_by
from maintenance.forms.scan import ScanForm
from plant.actions.label import TooManyCodes, count_code, forget_code
from plant.http import UserRequest, anywhere, form_page
from plant.models import Machine
from plant.rights import Right, may
from plant.security_log import note

# The same for what never was and for what belongs to another depot.
UNKNOWN = _("No machine of your depots has this code or number. Read the label again.")


@login_required
@form_page
def scan(request: UserRequest) -> HttpResponse:
    """Typed, or read by the phone's camera where it can."""
    anywhere(request.user, Right.SEE)
    form = ScanForm(request.POST if request.method == "POST" else None)
    found: list[Machine] = []
    held: TooManyCodes | None = None
    if request.method == "POST" and form.is_valid():
        try:
            mine = count_code(user=request.user, at=now())
        except TooManyCodes as too_many:
            held = too_many
            note("codes held back", user=request.user.pk)
            form.add_error(None, str(held))
        else:
            found = meant_by(form.cleaned_data["code"], request.user)
            if found:
                forget_code(mine)
            else:
                form.add_error("code", gettext(UNKNOWN))
    if len(found) == 1:
        return redirect(_page_of(request, found[0]), found[0].pk)
    response = render(
        request,
        "maintenance/scan.html",
        {
            "form": form,
            "found": [(machine, _page_of(request, machine)) for machine in found],
            "site_address": settings.SITE_ADDRESS,
        },
        status=422 if form.errors else 200,
    )
    if held:
        response.status_code = 429
        response.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
    return response


def _page_of(request: UserRequest, machine: Machine) -> str:
    """Where this person goes with it: who only checks, to the check; all others, to its page."""
    checks = may(request.user, Right.CHECK, machine.depot_id)
    more = may(request.user, Right.PRINT, machine.depot_id)
    return "maintenance:check" if checks and not more else "maintenance:machine"
