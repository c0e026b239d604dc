"""The look-over and the inspection of one machine: kept on the way, isolated, and sealed."""

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext

from maintenance.actions.inspection import keep_draft, points, record_inspection
from maintenance.contents.competence import standing
from maintenance.contents.fitness import fitness_of
from maintenance.forms.entry import sent
from maintenance.forms.inspection import InspectionForm
from maintenance.models import Inspection, InspectionDraft, Skill
from maintenance.rules.inspection import isolation_refusal
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine
from plant.rights import Right

KEEP, ISOLATE = "keep", "isolate"


@login_required
@form_page
def look_over(request: UserRequest, pk: int) -> HttpResponse:
    return _list(request, pk, Inspection.Kind.LOOK_OVER)


@login_required
@form_page
def inspection(request: UserRequest, pk: int) -> HttpResponse:
    return _list(request, pk, Inspection.Kind.INSPECTION)


def _list(request: UserRequest, pk: int, kind: Inspection.Kind) -> HttpResponse:
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        Right.CHECK,
        depot="depot_id",
        pk=pk,
    )
    at = now()
    # Said before anything is filled in, not after.
    cannot = standing(
        request.user, depot_id=machine.depot_id, skill=Skill.INSPECT,
        family=machine.kind.family, on=machine.depot.day_of(at),
    ).refusal  # fmt: skip
    try:
        _, asked = points(machine, kind, at=at)
    except Refused as refused:
        cannot = cannot or str(refused)
    if cannot:
        context = {"machine": machine, "word": kind.label, "cannot": cannot}
        status = 422 if request.method == "POST" else 200
        return render(request, "maintenance/inspection.html", context, status=status)
    draft = InspectionDraft.objects.filter(machine=machine, by=request.user, kind=kind).first()
    isolated_at = draft.isolated_at if draft else None
    waits = bool(isolation_refusal(asked, isolated_at=isolated_at, at=at))
    form = InspectionForm(
        **sent(request),
        points=[each for each in asked if not (waits and each.isolated)],
        isolates=waits,
        initial=draft.typed if draft else {},
    )
    if request.method == "POST":
        done = _act(request, machine, kind, form, isolated_at=isolated_at, at=at)
        if done is not None:
            return done
    return render(
        request,
        "maintenance/inspection.html",
        {
            "machine": machine, "word": kind.label, "form": form, "waits": waits,
            "isolated_at": isolated_at, "draft": draft,
            "more": sum(each.isolated for each in asked) if waits else 0,
        },
        status=422 if form.is_bound and form.errors else 200,
    )  # fmt: skip


def _act(
    request: UserRequest,
    machine: Machine,
    kind: Inspection.Kind,
    form: InspectionForm,
    *,
    isolated_at: datetime | None,
    at: datetime,
) -> HttpResponse | None:
    """Does what the button says; nothing where the page is shown again with what is wrong."""
    do = request.POST.get("do", "")
    again = redirect(request.path)
    if do in (KEEP, ISOLATE):
        isolates = do == ISOLATE and "isolated" in form.fields
        well = form.all_isolated() if isolates else True
        keep_draft(
            machine=machine, kind=kind, typed=form.typed(), at=at, by=request.user,
            isolated=isolates and well,
        )  # fmt: skip
        if not well:
            return None
        told = (
            gettext("Isolated. Now the isolated points.")
            if isolates
            else gettext("Kept for you, photos aside. Not sealed yet.")
        )
        messages.success(request, told)
        return again
    if not form.is_valid():
        return None
    given = form.cleaned_data
    try:
        made = record_inspection(
            machine=machine, kind=kind, told=form.told(), at=at, by=request.user,
            isolated_at=isolated_at, note=given["note"], photos=form.photos(),
            record_id=given["entry"],
        )  # fmt: skip
    except Refused as refused:
        form.refuse(refused)
        return None
    machine.refresh_from_db()
    mark = fitness_of(machine, machine.depot.day_of(at)).mark
    messages.success(
        request, f"{kind.label}: {made.get_mark_display().lower()}. Sealed. {machine}: {mark}."
    )
    return redirect("maintenance:machine", machine.pk)
