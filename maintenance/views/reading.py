"""Meters: entering a figure, a meter changed or broken, and what was run without one."""

from datetime import datetime, time

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _

from maintenance.actions.dial import (
    change_meter,
    estimate_blind,
    estimated_blind,
    roll_over,
    tell_broken,
)
from maintenance.actions.meter import accept_meter, record_meter
from maintenance.contents.meter import dial, standing, stands_of, uncounted
from maintenance.forms.entry import sent
from maintenance.forms.reading import (
    AcceptFigureForm,
    BlindForm,
    MeterBrokenForm,
    MeterChangeForm,
    MeterForm,
)
from maintenance.models import MeterReading
from maintenance.tasks import raise_due_of
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine, Measure
from plant.nudge import nudge
from plant.rights import Right, may

LAST = 8
HOURS = str(Measure.HOURS)


@login_required
@form_page
def add_meter_figure(request: UserRequest, pk: int, measure: str = HOURS) -> HttpResponse:
    """The figure of the hours, or of one of the machine's counters."""
    machine = _found(request, pk, Right.CHECK)
    at = now()
    may_change = may(request.user, Right.WORK, machine.depot_id)
    form = MeterForm(**sent(request), at=at, measure=measure, may_change=may_change)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        common = {
            "machine": machine, "measure": measure, "dial_tenths": form.tenths("dial"),
            "typed": form.typed("dial"), "at": given["read_at"], "received_at": at,
            "by": request.user, "record_id": given["entry"],
        }  # fmt: skip
        try:
            if given.get("rolled"):
                reading = roll_over(**common)
            else:
                reading = record_meter(**common, confirmed=given["confirmed"])
        except Refused as refused:
            form.refuse(refused)
            form.asks_again = True
        else:
            nudge(raise_due_of, machine.depot_id)
            told = (
                _("Kept as questioned. A fitter looks at it.")
                if reading.questioned
                else _("Saved.")
            )
            messages.success(
                request, _("Meter: {reading}. {told}").format(reading=reading, told=told)
            )
            return redirect("maintenance:machine", machine.pk)
    stands, fitted = standing(machine, measure), dial(machine, measure)
    readings = MeterReading.objects.filter(
        meter__machine=machine, meter__measure=measure
    ).select_related("record", "meter")
    others = uncounted(machine) if may_change else ()
    return render(
        request,
        "maintenance/meter.html",
        {
            "machine": machine,
            "stands": stands,
            "dial": fitted,
            "blind": estimated_blind(machine, measure, at=at) if stands.broken_at else None,
            "form": form,
            "readings": readings[:LAST],
            "counted": [each for each in stands_of(machine) if each.measure != measure],
            "uncounted": [each for each in others if each != measure],
            "may_change": may_change,
            "may_accept": may(request.user, Right.GIVE_OUT, machine.depot_id),
        },
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def meter_changed(request: UserRequest, pk: int, measure: str = HOURS) -> HttpResponse:
    """Another dial, or the old one mended: the total goes on."""
    machine = _found(request, pk, Right.WORK)
    at = now()
    blind = estimated_blind(machine, measure, at=at) or 0
    shown = f"{blind / 10:.1f}" if measure == HOURS else str(blind // 10)
    form = MeterChangeForm(**sent(request), measure=measure, initial={"blind": shown})
    if request.method == "POST" and form.is_valid():
        try:
            reading = change_meter(
                machine=machine,
                measure=measure,
                dial_tenths=form.tenths("dial"),
                typed=form.typed("dial"),
                blind_tenths=form.tenths("blind"),
                reason=form.cleaned_data["reason"],
                at=at,
                by=request.user,
                record_id=form.cleaned_data["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            nudge(raise_due_of, machine.depot_id)
            messages.success(
                request, _("New dial at {reading}. The total goes on.").format(reading=reading)
            )
            return _to_meter(machine, measure)
    return _act(
        request, form, machine, title=_("Meter changed"), button=_("Save"),
        note=_("What was run without a dial is added to the total, and called estimated."),
    )  # fmt: skip


@login_required
@form_page
def meter_broken(request: UserRequest, pk: int, measure: str = HOURS) -> HttpResponse:
    """The dial tells nothing any more, and there is no other yet."""
    machine = _found(request, pk, Right.WORK)
    at = now()
    on = machine.depot.day_of(at)
    form = MeterBrokenForm(**sent(request), initial={"since": on})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        begins = datetime.combine(given["since"], time(), tzinfo=machine.depot.zone)
        try:
            tell_broken(
                machine=machine, measure=measure, since=begins, reason=given["reason"], at=at,
                by=request.user, record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Kept and sealed. Its figure is not asked for any more."))
            return _to_meter(machine, measure)
    return _act(
        request, form, machine, title=_("Meter broken"), button=_("It is broken"),
        note=_("No check asks for its figure until a dial is fitted. Until then its use is "
        "estimated, and work due by it is announced but never called overdue by the estimate."),
    )  # fmt: skip


@login_required
@form_page
def blind_time(request: UserRequest, pk: int, measure: str = HOURS) -> HttpResponse:
    """What was run without a dial: told while it is broken, or put right afterwards."""
    machine = _found(request, pk, Right.GIVE_OUT)
    form = BlindForm(**sent(request), measure=measure)
    if request.method == "POST" and form.is_valid():
        try:
            estimate_blind(
                machine=machine, measure=measure, tenths=form.tenths("blind"),
                reason=form.cleaned_data["reason"], at=now(), by=request.user,
                record_id=form.cleaned_data["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            nudge(raise_due_of, machine.depot_id)
            messages.success(request, _("Kept as estimated. Due dates follow."))
            return _to_meter(machine, measure)
    return _act(
        request,
        form,
        machine,
        title=_("Time without a dial"),
        button=_("Keep this estimate"),
        note=_(
            "It counts in place of the estimate before it. The earlier one stays on the record."
        ),
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
            messages.success(request, _("{reading} counts now.").format(reading=reading))
            return _to_meter(machine, reading.meter.measure)
    return _act(
        request,
        form,
        machine,
        title=_("Let {reading} count").format(reading=reading),
        button=_("It counts"),
        note=reading.questioned,
    )


def _found(request: UserRequest, pk: int, right: Right) -> Machine:
    return find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )


def _to_meter(machine: Machine, measure: str) -> HttpResponse:
    parts = [machine.pk] if measure == HOURS else [machine.pk, measure]
    return redirect("maintenance:add_meter_figure", *parts)


def _act(request: UserRequest, form: object, machine: Machine, **words: str) -> HttpResponse:
    return render(
        request,
        "maintenance/act.html",
        {"form": form, "machine": machine, **words},
        status=422 if getattr(form, "errors", None) else 200,
    )
