"""The day sheet: a column for each who works, and what is not given out yet on the left."""

from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.actions import day as action
from maintenance.actions.job import give_out
from maintenance.contents.day import day_sheet, workers
from maintenance.forms.day import (
    BACK,
    EARLIER,
    GIVE,
    LATER,
    OPEN,
    DayFilter,
    DayForm,
    FitterDayForm,
    PlanJobForm,
)
from maintenance.forms.entry import sent
from maintenance.models import Job
from maintenance.rules.words import day_text
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, first_depot, form_page, see
from plant.models import Depot, User
from plant.rights import Right, depots_where, may


@login_required
@require_safe
def day(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.WORK)
    depot, on = _which(request)
    form = DayForm(depot=depot, initial={"for_day": on, "job": _number(request.GET.get("job"))})
    return _page(request, form, depot=depot, on=on)


@login_required
@require_POST
def give_out_day(request: UserRequest) -> HttpResponse:
    """One act on the job that was chosen; on a refusal the sheet comes back as it was filled in."""
    anywhere(request.user, Right.GIVE_OUT)
    depot, on = _which(request)
    form = DayForm(request.POST, depot=depot)
    if form.is_valid():
        given = form.cleaned_data
        job = given["job"]
        if given["act"] == OPEN:
            return redirect("maintenance:job", job.pk)
        try:
            told = _act(given, by=request.user)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, told)
            return redirect(f"{_address(depot, on)}&job={job.pk}")
    return _page(request, form, depot=depot, on=on)


@login_required
@form_page
def fitter_day(request: UserRequest, pk: int) -> HttpResponse:
    """How long one person is there on the day."""
    mine = depots_where(request.user, Right.SEE)
    see(User.objects.filter(memberships__depot__in=mine).distinct(), request.user, pk=pk)
    anywhere(request.user, Right.GIVE_OUT)
    depot, on = _which(request)
    person = see(workers(depot), request.user, pk=pk)
    before = depot.fitter_days.filter(person=person, on=on).first()
    form = FitterDayForm(**sent(request), initial={"minutes": before.minutes if before else None})
    if request.method == "POST" and form.is_valid():
        try:
            action.set_fitter_day(
                depot=depot, person=person, on=on, minutes=form.cleaned_data["minutes"],
                by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, _("{person}: saved for {on}.").format(person=person, on=day_text(on))
            )
            return redirect(_address(depot, on))
    return render(
        request,
        "maintenance/fitter_day.html",
        {"person": person, "on": on, "depot": depot, "form": form, "back": _address(depot, on)},
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def plan_job(request: UserRequest, pk: int) -> HttpResponse:
    """How long a job is expected to take, and for when it is promised."""
    found = find(
        Job.objects.visible_to(request.user).select_related(
            "machine__depot", "machine__kind", "due_line__line"
        ),
        request.user,
        Right.GIVE_OUT,
        depot="machine__depot_id",
        pk=pk,
    )
    form = PlanJobForm(
        **sent(request),
        initial={"minutes": found.expected_minutes, "promised_at": found.promised_at},
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.plan_job(
                job=found, minutes=given["minutes"], promised_at=given["promised_at"], at=now(),
                by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, f"{found.number}: saved.")
            return redirect("maintenance:job", found.pk)
    return render(
        request,
        "maintenance/act.html",
        {
            "form": form, "machine": found.machine, "job": found, "title": _("Time and promise"),
            "button": _("Save"),
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


def _act(given: dict[str, Any], *, by: User) -> str:
    job, at = given["job"], now()
    if given["act"] == GIVE:
        job = give_out(job=job, to=given["to"], for_day=given["for_day"], at=at, by=by)
        return _("{job} is with {to} for {for_day}.").format(
            job=job.number, to=given["to"], for_day=day_text(given["for_day"])
        )
    if given["act"] == BACK:
        job = action.take_back(job=job, at=at, by=by)
        return _("{job} is taken back; nobody has it.").format(job=job.number)
    assert given["act"] in (EARLIER, LATER)
    job = action.change_place(job=job, earlier=given["act"] == EARLIER, at=at, by=by)
    return _("{job} stands in place {day_place} of {given_to}.").format(
        job=job.number, day_place=job.day_place, given_to=job.given_to
    )


def _page(request: UserRequest, form: DayForm, *, depot: Depot, on: date) -> HttpResponse:
    today = depot.day_of(now())
    sheet = day_sheet(depot, on=on, today=today)
    chosen = form.data.get("job") if form.is_bound else form.initial.get("job")
    return render(
        request,
        "maintenance/day.html",
        {
            "sheet": sheet,
            "form": form,
            "filter": DayFilter({"depot": depot.pk, "on": on}, user=request.user),
            "chosen": _number(chosen),
            "may_give": may(request.user, Right.GIVE_OUT, depot.pk),
            "today": today,
            "before": _address(depot, on - timedelta(days=1)),
            "after": _address(depot, on + timedelta(days=1)),
            "query": urlencode({"on": on.isoformat(), "depot": depot.pk}),
        },
        status=422 if form.errors else 200,
    )


def _which(request: UserRequest) -> tuple[Depot, date]:
    """The depot and the day in the address; else the first where the person works, and today."""
    form = DayFilter(request.GET, user=request.user)
    form.is_valid()  # what cannot be read is left off
    kept = form.cleaned_data
    depot = kept.get("depot")
    if depot is None:
        work = anywhere(request.user, Right.WORK)
        first = first_depot(request.user)
        depot = first if first is not None and first.pk in work else None
        depot = depot or Depot.objects.filter(pk__in=work).first()
    assert depot is not None
    on = kept.get("on") or depot.day_of(now())
    return depot, min(max(on, date(2000, 1, 3)), date(2200, 1, 1))


def _address(depot: Depot, on: date) -> str:
    query = urlencode({"on": on.isoformat(), "depot": depot.pk})
    return f"{reverse('maintenance:day')}?{query}"


def _number(value: Any) -> int | None:
    text = str(value or "")
    is_whole = text.isascii() and text.removeprefix("-").isdigit()
    return int(text) if is_whole and len(text) < 19 else None
