"""Entering a meter figure, and a changed meter."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now

from maintenance.actions.meter import accept_meter, change_meter, record_meter
from maintenance.forms.entry import sent
from maintenance.forms.reading import AcceptFigureForm, MeterChangeForm, MeterForm
from maintenance.models import MeterReading
from maintenance.tasks import raise_due_of
from plant import units
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine
from plant.nudge import nudge
from plant.rights import Right, may

LAST = 8


@login_required
@form_page
def add_meter_figure(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.CHECK)
    at = now()
    form = MeterForm(**sent(request), at=at)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            reading = record_meter(
                machine=machine,
                dial_tenths=units.tenths_of_hour(given["dial"].value_si),
                typed=given["dial"].text_as_typed,
                at=given["read_at"],
                received_at=at,
                by=request.user,
                confirmed=given["confirmed"],
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
            form.asks_again = True
        else:
            nudge(raise_due_of, machine.depot_id)
            told = "Kept as questioned. A fitter looks at it." if reading.questioned else "Saved."
            messages.success(request, f"Meter: {reading}. {told}")
            return redirect("maintenance:machine", machine.pk)
    readings = MeterReading.objects.filter(meter__machine=machine).select_related("record")[:LAST]
    return render(
        request,
        "maintenance/meter.html",
        {
            "machine": machine,
            "form": form,
            "readings": readings,
            "may_change": may(request.user, Right.WORK, machine.depot_id),
            "may_accept": may(request.user, Right.GIVE_OUT, machine.depot_id),
        },
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def meter_changed(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.WORK)
    form = MeterChangeForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        blind = given["blind"]
        try:
            reading = change_meter(
                machine=machine,
                dial_tenths=units.tenths_of_hour(given["dial"].value_si),
                typed=given["dial"].text_as_typed,
                blind_tenths=units.tenths_of_hour(blind.value_si) if blind else 0,
                reason=given["reason"],
                at=now(),
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, f"New dial at {reading}. The running hours go on.")
            return redirect("maintenance:add_meter_figure", machine.pk)
    return render(
        request,
        "maintenance/act.html",
        {"form": form, "machine": machine, "title": "Meter changed", "button": "Save"},
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def accept_meter_figure(request: UserRequest, pk: int) -> HttpResponse:
    reading = find(
        MeterReading.objects.visible_to(request.user).select_related(
            "meter__machine__depot", "meter__machine__kind"
        ),
        request.user,
        Right.GIVE_OUT,
        depot="meter__machine__depot_id",
        pk=pk,
    )
    machine = reading.meter.machine
    form = AcceptFigureForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            accept_meter(
                reading=reading,
                reason=given["reason"],
                at=now(),
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, f"{reading} counts now.")
            return redirect("maintenance:add_meter_figure", machine.pk)
    return render(
        request,
        "maintenance/act.html",
        {
            "form": form,
            "machine": machine,
            "title": f"Let {reading} count",
            "note": reading.questioned,
            "button": "It counts",
        },
        status=422 if form.errors else 200,
    )


def _found(request: UserRequest, pk: int, right: Right) -> Machine:
    return find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )
