"""Test instruments: the register, one instrument, and what is done with it."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from maintenance.actions.instrument import add_instrument as add
from maintenance.actions.instrument import calibrate, withdraw_instrument
from maintenance.actions.instrument import strike_calibration as strike_out
from maintenance.contents.sought import instruments_with
from maintenance.forms.entry import sent
from maintenance.forms.filters import InstrumentFilter
from maintenance.forms.instrument import CalibrationForm, InstrumentForm, StrikeForm, WithdrawForm
from maintenance.models import Calibration, ElectricalTest, Instrument
from maintenance.rules.words import day_text
from maintenance.tables import paged
from maintenance.tables_tests import InstrumentTable
from maintenance.views.acted import acted
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page, today_at
from plant.rights import Right, depots_where, may

SHOWN = 200


@login_required
@require_safe
def instrument_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.WORK)
    at = now()
    form = InstrumentFilter(request.GET, user=request.user)
    kept = form.kept()
    instruments = _seen(request, Right.WORK)
    if kept.get("depot"):
        instruments = instruments.filter(depot=kept["depot"])
    if words := kept.get("q"):
        instruments = instruments_with(instruments, words)
    table = InstrumentTable(instruments, on=today_at(request.user, at))
    return render(
        request,
        "maintenance/instrument_list.html",
        {
            "form": form,
            "table": paged(table, request, at=at),
            "may_add": bool(depots_where(request.user, Right.KEEP_INSTRUMENTS)),
        },
    )


@login_required
@form_page
def add_instrument(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.KEEP_INSTRUMENTS)
    form = InstrumentForm(**sent(request), user=request.user)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            found = add(
                depot=given["depot"],
                name=given["name"],
                description=given["description"],
                serial=given["serial"],
                reads=given["reads"],
                at=now(),
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("{found} was added. Enter its calibration next.").format(found=found.name),
            )
            return redirect("maintenance:instrument", found.pk)
    return render(
        request,
        "maintenance/instrument_act.html",
        {"form": form, "title": _("Add an instrument"), "button": _("Add it")},
        status=422 if form.errors else 200,
    )


@login_required
@require_safe
def instrument(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.WORK)
    on = found.depot.day_of(now())
    tests = ElectricalTest.objects.filter(made_with=found)
    seen = tests.visible_to(request.user).select_related("machine", "record__depot", "doubted_by")
    later = ElectricalTest.objects.counting().filter(
        machine=OuterRef("machine"), form=OuterRef("form"), at__gt=OuterRef("at")
    )
    doubtful = (
        seen.filter(doubted_by__isnull=False)
        .annotate(again=Exists(later))
        .order_by("again", "-passed", "-at")
    )
    return render(
        request,
        "maintenance/instrument.html",
        {
            "instrument": found,
            "refusal": found.refusal(on),
            "until": found.valid_until(on),
            "calibrations": found.calibrations.select_related(
                "record__by", "record__depot", "struck_by__by", "struck_by__depot"
            ).prefetch_related("struck_by__texts"),
            "doubtful": doubtful[:SHOWN],
            "doubtful_count": doubtful.count(),
            "tests": seen.filter(doubted_by__isnull=True)[:20],
            "count": tests.count(),
            "elsewhere": tests.count() - seen.count(),
            "may_keep": may(request.user, Right.KEEP_INSTRUMENTS, found.depot_id),
        },
    )


@login_required
@form_page
def calibrate_instrument(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.KEEP_INSTRUMENTS)
    form = CalibrationForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            calibration = calibrate(
                instrument=found,
                done_on=given["done_on"],
                found_good=given["found"] == form.GOOD,
                valid_until=given["valid_until"],
                certificate=given["certificate"],
                note=given["note"],
                at=now(),
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            count = calibration.doubts.count()
            if calibration.found_good:
                messages.success(
                    request, _("Calibration of {found} kept.").format(found=found.name)
                )
            else:
                told = ngettext(
                    "Found wrong: {count} test in doubt. Test again.",
                    "Found wrong: {count} tests in doubt. Test again.",
                    count,
                )
                messages.error(request, told.format(count=count))
            return redirect("maintenance:instrument", found.pk)
    return render(
        request,
        "maintenance/instrument_act.html",
        {
            "form": form,
            "instrument": found,
            "title": _("Calibration of {found}").format(found=found.name),
            "button": _("Keep the calibration"),
        },
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def strike_calibration(request: UserRequest, pk: int) -> HttpResponse:
    seen = Calibration.objects.filter(instrument__in=Instrument.objects.visible_to(request.user))
    found = find(
        seen.select_related("instrument__depot", "struck_by"),
        request.user,
        Right.KEEP_INSTRUMENTS,
        depot="instrument__depot_id",
        pk=pk,
    )
    form = StrikeForm(**sent(request))

    def act(given: dict[str, Any]) -> str:
        strike_out(
            calibration=found, reason=given["reason"], at=now(), by=request.user,
            record_id=given["entry"],
        )  # fmt: skip
        return _("Calibration struck out. Its tests were worked out again.")

    return acted(
        request,
        form,
        act,
        then=("maintenance:instrument", found.instrument_id),
        template="maintenance/instrument_act.html",
        instrument=found.instrument,
        title=_("Strike out the calibration of {done}").format(done=day_text(found.done_on)),
        button=_("Strike it out"),
        heavy=True,
        note=_(
            "Tests are worked out again from the calibrations that remain. A pass that "
            "needed this one comes into doubt until the right one is entered."
        ),
    )


@login_required
@form_page
def withdraw(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.KEEP_INSTRUMENTS)
    form = WithdrawForm(**sent(request))

    def act(given: dict[str, Any]) -> str:
        withdraw_instrument(
            instrument=found, reason=given["reason"], at=now(), by=request.user,
            record_id=given["entry"],
        )  # fmt: skip
        return _("{found} was withdrawn.").format(found=found.name)

    return acted(
        request,
        form,
        act,
        then=("maintenance:instrument", found.pk),
        template="maintenance/instrument_act.html",
        instrument=found,
        title=_("Withdraw {found}").format(found=found.name),
        button=_("Withdraw it"),
        heavy=True,
        note=_("It is out of use for good. Tests made with it stay as they are."),
    )


def _seen(request: UserRequest, right: Right) -> QuerySet[Instrument]:
    return (
        Instrument.objects.visible_to(request.user, right)
        .select_related("depot")
        .prefetch_related("calibrations")
    )


def _found(request: UserRequest, pk: int, right: Right) -> Instrument:
    seen = _seen(request, Right.SEE).select_related("record__by", "withdrawn_by__by")
    return find(seen, request.user, right, depot="depot_id", pk=pk)
