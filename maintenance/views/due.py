"""Due work: the list, one line with its reason, putting off, the weeks ahead, a depot's week."""

from collections.abc import Callable, Iterable
from datetime import date
from itertools import chain
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.actions import due as action
from maintenance.actions import open_days as week_action
from maintenance.contents import ahead as weeks
from maintenance.contents import open_days as days
from maintenance.contents.belt_life import BeltWork, due_belt_rows, due_belts
from maintenance.contents.due import (
    announced,
    announced_in_turn,
    coming,
    counted,
    counted_in_all,
    old_lines,
    one_line,
    past,
)
from maintenance.contents.sought import key_of
from maintenance.forms.due import ClosedDayForm, CorrectDoneForm, PutOffForm, WeekForm
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.filters import DueFilter, OneDepot
from maintenance.models import ClosedDay, Completion, DueLine
from maintenance.rules.due import put_off_limit
from maintenance.rules.words import day_text
from maintenance.tables import PAGE, DueTable, paged
from maintenance.views.acted import acted
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, csv_answer, find, form_page, see, today_at
from plant.models import Depot, Place
from plant.rights import Right, depots_where, may


@login_required
@require_safe
def due_list(request: UserRequest) -> HttpResponseBase:
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = DueFilter(request.GET, user=request.user)
    kept = form.kept()
    lines = announced(request.user, on)
    if kept.get("depot"):
        lines = lines.filter(machine__depot=kept["depot"])
    if kept.get("q"):
        lines = lines.filter(machine__number_key__contains=key_of(kept["q"]))
    state = kept.get("state", "")
    open_days = days.open_days_of(request.user)
    table = DueTable(_in_state(lines, state, on), on=on, open_days=open_days)
    may_export = bool(depots_where(request.user, Right.IMPORT))
    key = key_of(kept.get("q", ""))
    if may_export and request.GET.get("csv") == "1":
        more: Iterable[BeltWork] = ()
        if not state:
            more = due_belt_rows(request.user, on=on, depot=kept.get("depot"), key=key)
        rows = chain(table.csv_rows(), map(DueTable.belt_row, more))
        return csv_answer(DueTable.CSV, rows, name=f"due-{on:%Y-%m-%d}")
    belts = None
    if not state:
        belts = due_belts(request.user, on=on, depot=kept.get("depot"), key=key)
    filtered = kept.get("depot") or kept.get("q")
    counts = counted(lines, on) if filtered else counted_in_all(request.user, on)
    count = {form.OVERDUE: counts.in_use, form.STORE: counts.in_store, form.SOON: counts.soon}
    if not filtered and not state and counts.all > PAGE:
        lines = announced_in_turn(request.user, on)
        table = DueTable(lines, on=on, open_days=open_days)
    paged(table, request, at=at, count=count.get(state, counts.all))
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    return render(
        request,
        "maintenance/due_list.html",
        {
            "form": form, "table": table, "counts": counts,
            "old": old_lines(request.user, at=at), "at": at, "belts": belts,
        },
    )  # fmt: skip


@login_required
@require_safe
def due_line(request: UserRequest, pk: int) -> HttpResponse:
    """One line of one machine's plan: when it is due and why, what was done, what was put off."""
    line = see(_lines(request), request.user, pk=pk)
    machine = line.machine
    depot_id = machine.depot_id
    on = machine.depot.day_of(now())
    may_plan = may(request.user, Right.GIVE_OUT, depot_id)
    told = one_line(line, on, days.open_days([depot_id])[depot_id])
    return render(
        request,
        "maintenance/due_line.html",
        {
            "machine": machine,
            "told": told,
            "line": line,
            "may_put_off": may_plan and (line.due_on or line.due_tenths) is not None,
            "may_correct": may_plan,
        },
    )


@login_required
@form_page
def put_off(request: UserRequest, pk: int) -> HttpResponse:
    line = find(_lines(request), request.user, Right.GIVE_OUT, depot="machine__depot_id", pk=pk)
    limit = put_off_limit(line.line.rule)
    form = PutOffForm(**sent(request), limit_days=limit)

    def act(given: dict[str, Any]) -> str:
        action.put_off(
            due_line=line, to=given["to"], reason=given["reason"], at=now(), by=request.user,
            record_id=given["entry"],
        )  # fmt: skip
        return _("{line}: put off to {to}.").format(line=line.line.title, to=day_text(given["to"]))

    return _act(
        request,
        form,
        act,
        line,
        title=_("Put off: {line}").format(line=line.line.title),
        button=_("Put it off"),
        note=_("The day it was due stays on the record, with your name and your reason."),
    )


@login_required
@form_page
def correct_done(request: UserRequest, pk: int) -> HttpResponse:
    completion = find(
        Completion.objects.visible_to(request.user)
        .counting()
        .select_related("due_line__line", "due_line__machine__depot", "due_line__machine__kind"),
        request.user,
        Right.GIVE_OUT,
        depot="due_line__machine__depot_id",
        pk=pk,
    )
    line = completion.due_line
    form = CorrectDoneForm(
        **sent(request), measure=line.line.measure, initial={"on": completion.on}
    )

    def act(given: dict[str, Any]) -> str:
        action.correct_done(
            completion=completion, on=given["on"], tenths=form.tenths(), reason=given["reason"],
            at=now(), by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return _("Corrected. What was told first stays on the record.")

    return _act(
        request,
        form,
        act,
        line,
        title=_("Correct: {line}, done on {on}").format(
            line=line.line.title, on=day_text(completion.on)
        ),
        button=_("Correct it"),
        note=_("The first entry is not changed. The correction is sealed beside it."),
    )


@login_required
@require_safe
def look_ahead(request: UserRequest) -> HttpResponse:
    """Eight weeks of due work in fitters' hours, against the hours there are."""
    seen = Depot.objects.filter(pk__in=anywhere(request.user, Right.SEE))
    form = OneDepot(request.GET, depots=seen)
    depot = form.chosen()
    at = now()
    found = weeks.ahead(depot, depot.day_of(at))
    return render(
        request,
        "maintenance/look_ahead.html",
        {
            "form": form, "depot": depot, "ahead": found, "worked_out_at": at,
            "picture": weeks.picture(found),
            "may_set": may(request.user, Right.PLAN, depot.pk),
        },
    )  # fmt: skip


@login_required
@form_page
def open_days(request: UserRequest, pk: int) -> HttpResponse:
    """The week of a depot and its closed days."""
    depot = _depot(request, pk)
    found = days.open_days([depot])[depot.pk]
    form = WeekForm(**sent(request), days=found)
    if request.method == "POST" and form.is_valid():
        try:
            week_action.set_week(depot=depot, days=form.week(), by=request.user)
        except Refused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        else:
            messages.success(request, _("Kept. Days to do work by follow at once."))
            return redirect("maintenance:open_days", depot.pk)
    return render(
        request,
        "maintenance/open_days.html",
        {
            "depot": depot, "form": form,
            "closed": ClosedDay.objects.filter(depot=depot, on__gte=depot.day_of(now())),
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


@login_required
@form_page
def close_day(request: UserRequest, pk: int) -> HttpResponse:
    """Marks one day as closed."""
    depot = _depot(request, pk)
    form = ClosedDayForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            week_action.close_day(depot=depot, by=request.user, **form.cleaned_data)
        except Refused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            messages.success(request, _("Kept. What is due then is to be done before it."))
            return redirect("maintenance:open_days", depot.pk)
    return render(
        request,
        "maintenance/close_day.html",
        {"depot": depot, "form": form},
        status=422 if request.method == "POST" else 200,
    )


@login_required
@require_POST
def open_day(request: UserRequest, pk: int) -> HttpResponse:
    day = find(
        ClosedDay.objects.visible_to(request.user).select_related("depot"),
        request.user,
        Right.PLAN,
        depot="depot_id",
        pk=pk,
    )
    week_action.open_day(depot=day.depot, on=day.on, by=request.user)
    messages.success(request, _("{on} is open again.").format(on=day_text(day.on)))
    return redirect("maintenance:open_days", day.depot_id)


def _depot(request: UserRequest, pk: int) -> Depot:
    seen = Depot.objects.filter(pk__in=depots_where(request.user, Right.SEE))
    return find(seen, request.user, Right.PLAN, depot="pk", pk=pk)


def _in_state(lines: QuerySet[DueLine], state: str, on: date) -> QuerySet[DueLine]:
    if state == DueFilter.OVERDUE:
        return past(lines, on).filter(machine__place=Place.OUT)
    if state == DueFilter.STORE:
        return past(lines, on).exclude(machine__place=Place.OUT)
    return coming(lines, on) if state == DueFilter.SOON else lines


def _lines(request: UserRequest) -> Any:
    return DueLine.objects.visible_to(request.user).select_related(
        "line", "counter__use_rate", "machine__depot", "machine__kind", "machine__use_rate"
    )


def _act(
    request: UserRequest,
    form: EntryForm,
    act: Callable[[dict[str, Any]], str],
    line: DueLine,
    **words: Any,
) -> HttpResponse:
    return acted(
        request, form, act, then=("maintenance:due_line", line.pk), machine=line.machine, **words
    )
