"""What words and photos will go and when; holding a machine's back, and releasing them."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions import keep as action
from maintenance.contents import keep as contents
from maintenance.contents.record import story
from maintenance.forms.entry import sent
from maintenance.forms.keep import HoldForm, ReleaseHoldForm
from maintenance.models import KeepHold
from maintenance.views.acted import acted
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

    def act(given: dict[str, Any]) -> str:
        held = action.hold(
            machine=given["number"], reason=given["reason"], at=now(), by=request.user,
            record_id=given["entry"],
        )  # fmt: skip
        return _("Held, and sealed: no words or photos of {machine} go.").format(
            machine=held.machine
        )

    return acted(
        request, form, act, then=("maintenance:keep",), template="maintenance/hold_records.html"
    )


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

    def act(given: dict[str, Any]) -> str:
        action.release_hold(
            held=found, reason=given["reason"], at=now(), by=request.user,
            record_id=given["entry"],
        )  # fmt: skip
        return _("Released, and sealed: {machine} is listed afresh.").format(machine=found.machine)

    return acted(
        request, form, act, then=("maintenance:keep",), template="maintenance/release_hold.html",
        held=found,
    )  # fmt: skip
