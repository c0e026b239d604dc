"""What words and photos will go and when; holding a machine's back, and releasing them."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions import keep as action
from maintenance.contents import keep as contents
from maintenance.contents.record import story
from maintenance.forms.entry import sent
from maintenance.forms.keep import HoldForm, ReleaseHoldForm
from maintenance.models import KeepHold
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page, today_at
from plant.rights import Right, depots_where


@login_required
@require_safe
def keep(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.KEEP)
    return render(
        request,
        "maintenance/keep.html",
        {
            "going": contents.going(request.user),
            "held": contents.held(request.user),
            "gone": story(contents.gone_lately(request.user)),
            "times": contents.times(today_at(request.user, now())),
            "last_listed": contents.last_listed(request.user),
        },
    )


@login_required
@form_page
def hold_records(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.KEEP)
    form = HoldForm(
        **sent(request), user=request.user, initial={"number": request.GET.get("number", "")[:40]}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            held = action.hold(
                machine=given["number"], reason=given["reason"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("Held, and sealed: no words or photos of {machine} go.").format(
                    machine=held.machine
                ),
            )
            return redirect("maintenance:keep")
    return render(
        request, "maintenance/hold_records.html", {"form": form},
        status=422 if form.errors else 200,
    )  # fmt: skip


@login_required
@form_page
def release_hold(request: UserRequest, pk: int) -> HttpResponse:
    found = find(
        KeepHold.objects.filter(
            machine__depot__in=depots_where(request.user, Right.SEE)
        ).select_related("machine", "record__by", "record__depot"),
        request.user,
        Right.KEEP,
        depot="machine__depot_id",
        pk=pk,
    )
    form = ReleaseHoldForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.release_hold(
                held=found, reason=given["reason"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("Released, and sealed: {machine} is listed afresh.").format(
                    machine=found.machine
                ),
            )
            return redirect("maintenance:keep")
    return render(
        request, "maintenance/release_hold.html", {"form": form, "held": found},
        status=422 if form.errors else 200,
    )  # fmt: skip
