"""A machine between depots: sent, received, turned back."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext, ngettext

from maintenance.actions import transfer as action
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.transfer import ReceiveForm, SendForm, TurnBackForm
from maintenance.models import DueLine, Job, Stop, Transfer
from maintenance.views.place import act_page, found_machine
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.rights import Right


@login_required
@form_page
def send(request: UserRequest, pk: int) -> HttpResponse:
    machine = found_machine(request, pk, Right.MOVE)
    form = SendForm(**sent(request), machine=machine, user=request.user)

    def act(given: dict[str, Any]) -> str:
        transfer = action.send(
            machine=machine, to=given["to"], went_with=given["went_with"], at=now(),
            by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return gettext("Sent to {to_depot}. It counts here until it is received there.").format(
            to_depot=transfer.to_depot
        )

    stops = Stop.objects.standing().filter(machine=machine).count()
    jobs = Job.objects.open().filter(machine=machine).count()
    goes = ngettext(
        "Goes with it: {count} fault that stands", "Goes with it: {count} faults that stand", stops
    ).format(count=stops)
    jobs_too = ngettext("{count} open job.", "{count} open jobs.", jobs).format(count=jobs)
    note = f"{goes}, {jobs_too}"
    return act_page(
        request,
        machine,
        form,
        act,
        title=gettext("Send to another depot"),
        button=gettext("Send it"),
        note=note,
    )


@login_required
@form_page
def receive(request: UserRequest, pk: int) -> HttpResponse:
    transfer = _transfer(request, pk, "to_depot_id")
    form = ReceiveForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.receive(
                transfer=transfer, at=now(), by=request.user,
                workshop=given["where"] == "workshop", came_with=given["came_with"],
                condition=given["condition"], record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, gettext("Received. It counts here now. Not yet passed: look it over.")
            )
            return redirect("maintenance:machine", transfer.machine_id)
    return _transfer_page(
        request, transfer, form, title=gettext("Receive"), button=gettext("Receive it")
    )


@login_required
@form_page
def turn_back(request: UserRequest, pk: int) -> HttpResponse:
    transfer = _transfer(request, pk, "from_depot_id")
    form = TurnBackForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.turn_back(
                transfer=transfer, reason=given["reason"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, gettext("Back in the yard. Not yet passed: look it over."))
            return redirect("maintenance:machine", transfer.machine_id)
    return _transfer_page(
        request, transfer, form, title=gettext("Turned back"), button=gettext("Take it in again")
    )


def _transfer(request: UserRequest, pk: int, depot: str) -> Transfer:
    return find(
        Transfer.objects.visible_to(request.user, Right.SEE).select_related(
            "machine__kind", "machine__depot", "from_depot", "to_depot"
        ),
        request.user,
        Right.MOVE,
        depot=depot,
        pk=pk,
    )


def _transfer_page(
    request: UserRequest, transfer: Transfer, form: EntryForm, **words: Any
) -> HttpResponse:
    machine = transfer.machine
    return render(
        request,
        "maintenance/transfer.html",
        {
            "transfer": transfer,
            "machine": machine,
            "form": form,
            "stops": Stop.objects.standing().filter(machine=machine),
            "jobs": Job.objects.open().filter(machine=machine),
            "lines": DueLine.objects.filter(machine=machine, due_on__isnull=False)
            .select_related("line")
            .order_by("due_on")[:3],
        }
        | words,
        status=422 if form.errors else 200,
    )
