"""Everything as one file: asked for, watched, and taken."""

from pathlib import Path

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant.actions.refusal import Refused
from plant.forms_people import SureForm
from plant.http import UserRequest, anywhere, form_page
from plant.models import Chore
from plant.nudge import nudge
from plant.rights import Right
from plant.security_log import note
from reports.actions.chore import ARCHIVE_KEPT, ask_archive, refuse_archive
from reports.tasks import do_chore


def _newest() -> Chore | None:
    rows = Chore.objects.filter(kind=Chore.Kind.ARCHIVE).select_related("asked_by")
    return rows.order_by("-asked_at", "-pk").first()


@login_required
@form_page
def take_out(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.TAKE_OUT)
    refused, status = "", 200
    form = SureForm(request.POST if request.method == "POST" else None, request=request)
    try:
        refuse_archive(request.user)
        if request.method == "POST" and not (form.is_valid() and form.proven()):
            status = 422
        elif request.method == "POST":
            row = ask_archive(by=request.user, at=now())
            note("everything asked for", request=request, user=request.user)
            nudge(do_chore, row.pk)
            return redirect("reports:take_out")
    except Refused as why:
        refused, status = str(why), 422 if request.method == "POST" else 200
    told = {
        "refused": refused,
        "form": form,
        "archive": None if refused else _newest(),
        "days": ARCHIVE_KEPT.days,
    }
    return render(request, "reports/take_out.html", told, status=status)


@login_required
@require_safe
def take_out_progress(request: UserRequest) -> HttpResponse:
    """How far it is; when it has ended the whole page is asked for once more."""
    anywhere(request.user, Right.TAKE_OUT)
    try:
        refuse_archive(request.user)
        archive = _newest()
    except Refused:
        archive = None
    response = render(request, "reports/_take_out_progress.html", {"archive": archive})
    if archive is None or not archive.is_open:
        response.headers["HX-Refresh"] = "true"
    return response


@login_required
@require_safe
def take_out_file(request: UserRequest) -> HttpResponseBase:
    """The newest that is ready, block by block; back to the page where there is none."""
    anywhere(request.user, Right.TAKE_OUT)
    try:
        refuse_archive(request.user)
        if request.user.on_phone is not None:
            raise PermissionDenied(
                _("Sign in with your password on a device of your own for this.")
            )
        ready = Chore.objects.filter(kind=Chore.Kind.ARCHIVE, state=Chore.State.DONE)
        row = ready.exclude(file="").order_by("-ended_at").first()
        if row is None or not Path(row.file).exists():
            raise Refused(_("No file is ready. Ask for one."))
    except Refused as why:
        messages.error(request, str(why))
        return redirect("reports:take_out")
    note("everything taken", request=request, user=request.user)
    path = Path(row.file)
    # Closed by the answer when it has been sent.
    response = FileResponse(path.open("rb"), as_attachment=True, filename=path.name)
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
