"""The weekly note, opened by its link without a password, and its end."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now, override
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from plant.actions.refusal import Refused
from plant.http import UserRequest
from reports.actions import note as action
from reports.contents.note import note_lines
from reports.views.feed import too_often
from reports.views.message import by_own_password


@require_safe
def note(request: HttpRequest, code: str) -> HttpResponse:
    """The machines of one note, to read; nothing can be done here."""
    at = now()
    found = action.opened(code, at=at)
    if (answer := too_often(request, code if found else "", at=at)) is not None:
        return answer
    if found is None:
        raise Http404
    with override(found.depot.zone):
        return render(
            request, "reports/note.html", {"note": found, "lines": note_lines(found, at=at)}
        )


@login_required
@require_POST
def withdraw_note(request: UserRequest) -> HttpResponse:
    by_own_password(request)
    try:
        action.withdraw_note(user=request.user, at=now())
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Withdrawn. The link opens nothing any more."))
    return redirect("reports:messages")
