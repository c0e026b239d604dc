"""Adding one machine by hand, and changing what the register says of it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions import machine as actions
from maintenance.forms.machine import MachineForm
from plant.actions.machine import set_photo
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page, today_at
from plant.models import Machine
from plant.rights import Right


@login_required
@form_page
def add_machine(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.REGISTER)
    at = now()
    on = today_at(request.user, at)
    if request.method != "POST":
        return _page(request, MachineForm(user=request.user, on=on))
    form = MachineForm(request.POST, request.FILES, user=request.user, on=on)
    if not form.is_valid():
        return _page(request, form, status=422)
    try:
        machine = actions.add_machine(form.new_machine(), by=request.user, at=at)
        _keep_photo(form, machine, request)
    except Refused as wrong:
        form.add_error(wrong.field or None, str(wrong))
        return _page(request, form, status=422)
    messages.success(
        request,
        _("{machine} was added with its plans. Look it over before its first use.").format(
            machine=machine.number
        ),
    )
    return redirect("maintenance:machine", machine.pk)


@login_required
@form_page
def edit_machine(request: UserRequest, pk: int) -> HttpResponse:
    seen = Machine.objects.visible_to(request.user).select_related("kind", "depot")
    machine = find(seen, request.user, Right.REGISTER, depot="depot_id", pk=pk)
    at = now()
    on = today_at(request.user, at)
    if request.method != "POST":
        return _page(request, MachineForm(user=request.user, on=on, machine=machine))
    form = MachineForm(request.POST, request.FILES, user=request.user, on=on, machine=machine)
    if not form.is_valid():
        return _page(request, form, status=422)
    changes, typed = form.changes()
    _keep_photo(form, machine, request)
    if not changes:
        return redirect("maintenance:machine", machine.pk)
    try:
        actions.change_machine(
            machine=machine, by=request.user, at=at, changes=changes, typed=typed
        )
    except Refused as wrong:
        form.add_error(wrong.field or None, str(wrong))
        return _page(request, form, status=422)
    messages.success(request, _("The register entry was changed."))
    return redirect("maintenance:machine", machine.pk)


@login_required
@require_safe
def machine_photo(request: UserRequest, pk: int) -> HttpResponseBase:
    """The photo, to who may see the machine; never as a page of its own."""
    seen = Machine.objects.visible_to(request.user)
    machine = find(seen, request.user, Right.SEE, depot="depot_id", pk=pk)
    if not machine.photo:
        return redirect("maintenance:machine", pk)
    response = FileResponse(machine.photo.open("rb"), content_type="image/jpeg")
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


def _keep_photo(form: MachineForm, machine: Machine, request: UserRequest) -> None:
    if form.cleaned_data["photo"]:
        set_photo(machine=machine, photo=form.cleaned_data["photo"], by=request.user)


def _page(request: UserRequest, form: MachineForm, *, status: int = 200) -> HttpResponse:
    context = {"form": form, "machine": form.machine}
    return render(request, "maintenance/machine_form.html", context, status=status)
