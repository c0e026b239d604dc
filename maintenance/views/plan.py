"""Plans: by kind and by machine; a new version shown with what it moves before it is kept."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions import plan_line as action
from maintenance.contents import plan as reads
from maintenance.contents.due import told as due_told
from maintenance.forms.entry import sent
from maintenance.forms.plan import EndLineForm, PlanLineForm, RestLineForm, StepForms, initial_of
from maintenance.models import DueLine, PlanLine
from maintenance.rules.words import day_text
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page, see, today_at
from plant.models import Machine, MachineKind, Measure
from plant.rights import Right, depots_where, may


@login_required
@require_safe
def plan_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.SEE)
    return render(
        request, "maintenance/plan_list.html", {"kinds": reads.kinds_with_counts(request.user)}
    )


@login_required
@require_safe
def kind_plan(request: UserRequest, pk: int) -> HttpResponse:
    """The plan that every machine of a kind follows."""
    anywhere(request.user, Right.SEE)
    kind = get_object_or_404(MachineKind, pk=pk)
    on = today_at(request.user, now())
    versions = PlanLine.objects.filter(kind=kind).prefetch_related("steps")
    return render(
        request,
        "maintenance/kind_plan.html",
        {
            "kind": kind,
            "lines": reads.lines_of(versions, on),
            "may_plan": bool(depots_where(request.user, Right.PLAN)),
        },
    )


@login_required
@require_safe
def machine_plan(request: UserRequest, pk: int) -> HttpResponse:
    """The lines of one machine, those of its own among them, and those taken off it."""
    machine = see(_machines(request), request.user, pk=pk)
    lines = (
        DueLine.objects.filter(machine=machine)
        .select_related("line__kind", "counter__use_rate", "machine__depot", "machine__use_rate")
        .order_by("plan_on", "pk")
    )
    return render(
        request,
        "maintenance/machine_plan.html",
        {
            "machine": machine,
            "lines": due_told(lines, machine.depot.day_of(now())),
            "may_plan": may(request.user, Right.PLAN, machine.depot_id),
        },
    )


@login_required
@form_page
def change_plan_line(request: UserRequest, pk: int) -> HttpResponse:
    """Another version of a line: first what it moves, then, at a second press, kept."""
    line = _line(request, pk)

    def keep(form: PlanLineForm, told: action.LineTold) -> PlanLine:
        return action.change_line(
            line=line, told=told, from_on=form.cleaned_data["from_on"],
            reason=form.cleaned_data["reason"], at=now(), by=request.user,
            record_id=form.cleaned_data["entry"],
        )  # fmt: skip

    return _line_page(
        request,
        keep,
        line=line,
        kind=line.kind,
        machine=line.machine,
        title=_("Change: {line}").format(line=line.title),
        initial=initial_of(line) | {"from_on": _today(request)},
        steps=reads.steps_of(line),
    )


@login_required
@form_page
def add_plan_line(request: UserRequest, pk: int) -> HttpResponse:
    """A new line for every machine of a kind."""
    anywhere(request.user, Right.PLAN)
    kind = get_object_or_404(MachineKind, pk=pk)
    return _new_line(request, kind=kind)


@login_required
@form_page
def add_own_line(request: UserRequest, pk: int) -> HttpResponse:
    """A new line for one machine alone."""
    machine = find(_machines(request), request.user, Right.PLAN, depot="depot_id", pk=pk)
    return _new_line(request, machine=machine)


@login_required
@form_page
def end_plan_line(request: UserRequest, pk: int) -> HttpResponse:
    """From a day on the line is asked of no machine."""
    line = _line(request, pk)
    form = EndLineForm(**sent(request), initial={"from_on": _today(request)})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.change_line(
                line=line, told=action.LineTold(
                    title=line.title, measure=line.measure, minutes=line.minutes, ended=True
                ),
                from_on=given["from_on"], reason=given["reason"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("{line} ends on {from_on}.").format(
                    line=line.title, from_on=day_text(given["from_on"])
                ),
            )
            return _back(line.kind, line.machine)
    found = reads.moves(line, None, on=_today(request), notice_days=0, notice_tenths=0)
    return render(
        request,
        "maintenance/end_plan_line.html",
        {"line": line, "form": form, "moves": found},
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def rest_line(request: UserRequest, pk: int) -> HttpResponse:
    """Takes a line off one machine, or asks it again where it was taken off."""
    due_line = find(
        DueLine.objects.visible_to(request.user).select_related(
            "line", "machine__depot", "machine__kind"
        ),
        request.user,
        Right.PLAN,
        depot="machine__depot_id",
        pk=pk,
    )
    wake = bool(due_line.resting_because)
    form = RestLineForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            action.rest_line(
                due_line=due_line, reason=form.cleaned_data["reason"], wake=wake, at=now(),
                by=request.user, record_id=form.cleaned_data["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Kept and sealed."))
            return redirect("maintenance:machine_plan", due_line.machine_id)
    title = due_line.line.title
    return render(
        request,
        "maintenance/act.html",
        {
            "form": form,
            "machine": due_line.machine,
            "title": _("Ask again: {title}").format(title=title)
            if wake
            else _("Take off: {title}").format(title=title),
            "button": _("Ask it again") if wake else _("Take it off this machine"),
            "note": _("Its history stays. Other machines of this kind are not touched."),
        },
        status=422 if form.errors else 200,
    )


def _new_line(
    request: UserRequest, *, kind: MachineKind | None = None, machine: Machine | None = None
) -> HttpResponse:
    def keep(form: PlanLineForm, told: action.LineTold) -> PlanLine:
        return action.add_line(
            kind=kind, machine=machine, told=told, reason=form.cleaned_data["reason"], at=now(),
            by=request.user, record_id=form.cleaned_data["entry"],
        )  # fmt: skip

    return _line_page(
        request, keep, line=None, kind=kind, machine=machine, title=_("A new line"),
        initial={
            "counts_from": PlanLine.Counts.DONE, "notice_days": 14, "notice_hours": "10",
            "minutes": 30, "level": 0, "measure": Measure.HOURS, "source": action.OWN,
        },
        steps=[],
    )  # fmt: skip


def _line_page(
    request: UserRequest,
    keep: Any,
    *,
    line: PlanLine | None,
    kind: MachineKind | None,
    machine: Machine | None,
    title: str,
    initial: dict[str, Any],
    steps: Any,
) -> HttpResponse:
    form = PlanLineForm(**sent(request), line=line, initial=initial)
    step_forms = StepForms(**sent(request), initial=steps, prefix="steps")
    found = None
    if request.method == "POST" and form.is_valid() and step_forms.is_valid():
        try:
            told = form.told([step for each in step_forms if (step := each.told())])
            # What the change moves is shown once before it is kept; a new line moves nothing.
            if line is None or request.POST.get("seen") == form.digest():
                made = keep(form, told)
                messages.success(request, _("{made}: kept and sealed.").format(made=made.title))
                return _back(kind, machine)
            found = reads.moves(
                line, told.rule, on=_today(request), notice_days=told.notice_days,
                notice_tenths=told.notice_tenths,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
    return render(
        request,
        "maintenance/plan_line_form.html",
        {
            "form": form, "steps": step_forms, "moves": found, "title": title, "kind": kind,
            "machine": machine, "digest": form.digest() if found else "",
        },
        status=422 if form.errors or (form.is_bound and not step_forms.is_valid()) else 200,
    )  # fmt: skip


def _line(request: UserRequest, pk: int) -> PlanLine:
    """The line, if this person may change it; one of another depot's machine does not exist."""
    line = get_object_or_404(PlanLine.objects.select_related("kind", "machine__depot"), pk=pk)
    if line.machine is None:
        anywhere(request.user, Right.PLAN)
    else:
        find(_machines(request), request.user, Right.PLAN, depot="depot_id", pk=line.machine_id)
    if line.ended:
        raise Http404
    return line


def _machines(request: UserRequest) -> Any:
    return Machine.objects.visible_to(request.user).select_related("depot", "kind")


def _today(request: UserRequest) -> Any:
    return today_at(request.user, now())


def _back(kind: MachineKind | None, machine: Machine | None) -> HttpResponse:
    if machine is not None:
        return redirect("maintenance:machine_plan", machine.pk)
    assert kind is not None
    return redirect("maintenance:kind_plan", kind.pk)
