"""What a job and a machine cost, and the rates of a depot; hidden from who may not see money."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.actions import cost as action
from maintenance.contents.cost import job_cost, machine_cost, money_right, money_text
from maintenance.forms.cost import JobCostsForm, MoneyForm
from maintenance.forms.entry import sent
from maintenance.models import Cost, HourRate, Job, MoneySetting
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page, see
from plant.models import Depot, Machine
from plant.rights import Right, depots_where, may


@login_required
@form_page
def job_costs(request: UserRequest, pk: int) -> HttpResponse:
    jobs = Job.objects.visible_to(request.user).select_related("machine__depot", "machine__kind")
    depot = see(jobs, request.user, pk=pk).machine.depot
    right = money_right(request.user, depot)
    found = find(jobs, request.user, right, depot="machine__depot_id", pk=pk)
    setting = MoneySetting.objects.filter(depot=depot).first()
    priced = Cost.objects.counting().filter(part__isnull=False).values("part")
    form = JobCostsForm(
        **sent(request),
        parts=list(found.parts.exclude(pk__in=priced)),
        currency=setting.currency if setting else _("the depot's currency"),
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.enter_costs(
                job=found, prices=form.prices(), outside=given["outside"],
                outside_amount=given["outside_amount"], at=now(), by=request.user,
                entry=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Costs saved."))
            return redirect("maintenance:job_costs", found.pk)
    total = job_cost(found)
    return render(
        request,
        "maintenance/job_costs.html",
        {
            "job": found,
            "machine": found.machine,
            "form": form,
            "has_currency": setting is not None,
            "may_set": may(request.user, Right.MONEY, depot.pk),
            "sum": total,
            "total": money_text(total.total),
            "parts_of": [
                (_("Work"), total.labour), (_("Parts"), total.parts),
                (_("Outside repair"), total.outside),
            ],
            "costs": found.costs.select_related("by", "struck_by", "part"),
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


@login_required
@require_POST
def strike_cost(request: UserRequest, pk: int) -> HttpResponse:
    seen = Cost.objects.filter(
        job__machine__depot_id__in=depots_where(request.user, Right.SEE)
    ).select_related("job__machine__depot")
    depot = see(seen, request.user, pk=pk).job.machine.depot
    right = money_right(request.user, depot)
    found = find(seen, request.user, right, depot="job__machine__depot_id", pk=pk)
    action.strike_cost(cost=found, at=now(), by=request.user)
    messages.success(request, _("{what}: struck out.").format(what=found.what))
    return redirect("maintenance:job_costs", found.job_id)


@login_required
@require_safe
def machine_costs(request: UserRequest, pk: int) -> HttpResponse:
    machines = Machine.objects.visible_to(request.user).select_related("depot", "kind")
    depot = see(machines, request.user, pk=pk).depot
    right = money_right(request.user, depot)
    found = find(machines, request.user, right, depot="depot_id", pk=pk)
    cost = machine_cost(found)
    return render(
        request,
        "maintenance/machine_costs.html",
        {
            "machine": found,
            "cost": cost,
            "may_set": may(request.user, Right.MONEY, depot.pk),
            "total": money_text(cost.sum.total),
            "an_hour": money_text(cost.an_hour) if cost.an_hour else "",
        },
    )


@login_required
@form_page
def depot_money(request: UserRequest, pk: int) -> HttpResponse:
    """The currency, the rate of an hour from a day on, and whether foremen see money."""
    depot = find(
        Depot.objects.filter(pk__in=depots_where(request.user, Right.SEE)),
        request.user,
        Right.MONEY,
        depot="pk",
        pk=pk,
    )
    setting = MoneySetting.objects.filter(depot=depot).first()
    shown = {"currency": setting.currency, "foremen_see": setting.foremen_see} if setting else {}
    form = MoneyForm(**sent(request), initial=shown)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.set_money(
                depot=depot, currency=given["currency"], foremen_see=given["foremen_see"],
                rate=given["rate"], from_on=given["from_on"], at=now(), by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Money of {depot}: saved.").format(depot=depot))
            return redirect("maintenance:depot_money", depot.pk)
    return render(
        request,
        "maintenance/depot_money.html",
        {
            "depot": depot,
            "form": form,
            "rates": HourRate.objects.filter(depot=depot).select_related("by"),
        },
        status=422 if form.errors else 200,
    )
