"""Depots with what holds for each, and the rule sheets: the office's pages on depots and rules."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.contents import depots as contents
from plant.actions.depot import FIELDS, add_depot, change_depot
from plant.actions.refusal import Refused
from plant.forms_people import DepotForm
from plant.http import UserRequest, anywhere, find, form_page, today_at
from plant.models import Depot, Record
from plant.rights import Right, depots_where, may


@login_required
@require_safe
def depot_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.PEOPLE)
    page = {
        "depots": contents.depots_told(request.user),
        "may_add": bool(depots_where(request.user, Right.DEPOTS)),
    }
    return render(request, "maintenance/depot_list.html", page)


@login_required
@form_page
def new_depot(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.DEPOTS)
    form = DepotForm(request.POST if request.method == "POST" else None, request=request)
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            depot = add_depot(told=form.told(), at=now(), by=request.user)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, _("{depot} is added. You are its administrator.").format(depot=depot)
            )
            return redirect("maintenance:depot_list")
    page = {"form": form, "depot": None}
    return render(request, "maintenance/depot_form.html", page, status=422 if form.errors else 200)


@login_required
@form_page
def depot_settings(request: UserRequest, pk: int) -> HttpResponse:
    """An administrator changes them; who looks after the depot's people reads them."""
    user = request.user
    seen = Depot.objects.filter(pk__in=depots_where(user, Right.SEE))
    depot = find(seen, user, Right.DEPOTS, depot="pk", pk=pk)
    form = DepotForm(
        request.POST if request.method == "POST" else None,
        request=request, initial={name: getattr(depot, name) for name in FIELDS},
        code_stays=Record.objects.filter(depot=depot).exists(),
    )  # fmt: skip
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            changed = change_depot(depot=depot, told=form.told(), at=now(), by=user)
        except Refused as refused:
            form.refuse(refused)
        else:
            words = (
                _("Kept and sealed. It counts from now on.") if changed else _("Nothing to change.")
            )
            messages.success(request, words)
            return redirect("maintenance:depot_list")
    page = {
        "form": form,
        "depot": depot,
        "others": contents.settings_of_others(depot),
        "may_money": may(user, Right.MONEY, depot.pk),
        "may_plan": may(user, Right.PLAN, depot.pk),
    }
    return render(request, "maintenance/depot_form.html", page, status=422 if form.errors else 200)


@login_required
@require_safe
def rule_sheets(request: UserRequest) -> HttpResponse:
    """Which rule sheets are here, which is in force, and what each holds; nothing is changed."""
    anywhere(request.user, Right.SEE)
    page = {"sheets": contents.rule_sheets(on=today_at(request.user, now()))}
    return render(request, "maintenance/rule_sheets.html", page)
