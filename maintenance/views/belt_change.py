"""Change a belt at the machine: old belt off, new belt on, tension and guards; each step kept."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.actions.belt_change import STEPS, correct_fitting, fit_belt, keep_step, preview
from maintenance.actions.belt_order import order_belt
from maintenance.actions.drive import BeltUnclear
from maintenance.actions.reading import Questioned
from maintenance.contents.belt_change import choices_for
from maintenance.forms.belt_change import (
    CorrectFittingForm,
    NewBeltForm,
    OldBeltForm,
    OrderForm,
    SetForm,
)
from maintenance.forms.entry import sent
from maintenance.models import BeltDraft, BeltFitting, Job
from plant.actions.refusal import Refused
from plant.contents.workout import ToldDrive, told
from plant.fields import QuantityField
from plant.http import UserRequest, find, form_page
from plant.models import Drive
from plant.rights import Right

_NOT_KEPT = {"csrfmiddlewaretoken", "entry", "seen", "step"}
_TITLES = {
    "old": gettext_noop("The old belt"),
    "new": gettext_noop("The new belt"),
    "set": gettext_noop("Tension and guards"),
}


@login_required
@form_page
def change_belt(request: UserRequest, pk: int, drive_pk: int) -> HttpResponse:
    """One step a page; what is saved of each is there for whoever goes on with the job."""
    job, drive = _found(request, pk, drive_pk)
    draft = BeltDraft.objects.filter(job=job, drive=drive).first()
    steps: Mapping[str, Any] = draft.steps if draft else {}
    # The page says which step it showed: somebody else may have kept that step meanwhile.
    asked = request.POST.get("step") or request.GET.get("step", "")
    open_steps = [step for step in STEPS if step not in steps]
    step = asked if asked in STEPS and (asked == "old" or "old" in steps) else open_steps[0]
    if step == "set" and "new" not in steps:
        step = "new"
    at = now()
    form = _form(step, drive, request.POST if request.method == "POST" else None)
    if request.method != "POST" and step in steps:
        # What was looked at again once is asked again when the step is gone back to.
        typed = {name: value for name, value in steps[step]["typed"].items() if name != "sure"}
        form = _form(step, drive, _as_post(typed))
        form.is_valid()
    wanted: ToldDrive | None = None
    if step == "set":
        try:
            wanted = _wanted(drive, steps, at=at)
        except Refused as refused:
            # The drive's data have changed under the draft: the belt is looked at again.
            again = _("{refused} Look at the new belt again.").format(refused=refused)
            if request.method != "POST":
                messages.error(request, again)
                return redirect(_address(job, drive, "new"))
            form.is_valid()
            form.refuse(
                Refused(_("{again} Not saved; what you typed stands below.").format(again=again))
            )
    if request.method == "POST" and form.is_valid():
        try:
            if step == "set":
                return _seal(request, job, drive, steps, form, at=at)
            if isinstance(form, NewBeltForm):
                preview(drive, form.told(), at=at)
            _keep(request, job, drive, step, at=at)
        except Refused as refused:
            _refuse(form, refused)
            draft = BeltDraft.objects.filter(job=job, drive=drive).first()
            steps = draft.steps if draft else {}
        else:
            return redirect(_address(job, drive, STEPS[STEPS.index(step) + 1]))
    fitted = BeltFitting.objects.counting().filter(job=job, drive=drive).first()
    return render(
        request,
        "maintenance/change_belt.html",
        {
            "job": job, "drive": drive, "machine": job.machine, "form": form, "step": step,
            "title": _(_TITLES[step]), "number": STEPS.index(step) + 1, "of": len(STEPS),
            "kept": steps.get(step), "fitted": fitted,
            "kept_words": _in_words(form, steps[step]) if step in steps else [],
            "replaced": [
                (each["by"], _in_words(form, each))
                for each in (draft.replaced if draft else [])
                if each["step"] == step
            ],
            "ready": job.state == Job.State.UNDER_WAY and job.isolated_at is not None,
            "wanted": {each.key: each for each in wanted.results} if wanted else {},
            "back": _address(job, drive, STEPS[STEPS.index(step) - 1]) if step != "old" else "",
        },
        status=422 if request.method == "POST" else 200,
    )  # fmt: skip


@login_required
@form_page
def correct_belt(request: UserRequest, pk: int) -> HttpResponse:
    """Corrects a fitting told by mistake: another belt, or none at all."""
    fitting = find(
        BeltFitting.objects.visible_to(request.user)
        .counting()
        .select_related("drive__machine__depot", "drive__machine__kind", "job"),
        request.user, Right.CORRECT, depot="drive__machine__depot_id", pk=pk,
    )  # fmt: skip
    drive = fitting.drive
    form = CorrectFittingForm(
        **sent(request),
        initial={"mark": fitting.mark, "width": drive.typed("belt_new_width_m")},
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            correct_fitting(
                fitting=fitting, new=None if given["not_fitted"] else form.told(),
                reason=given["reason"], at=now(), by=request.user, record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            _refuse(form, refused)
        else:
            messages.success(request, _("Corrected. What was told first stays on the record."))
            return redirect("maintenance:drive", drive.pk)
    return render(
        request,
        "maintenance/correct_belt.html",
        {"form": form, "fitting": fitting, "drive": drive, "machine": drive.machine},
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def order(request: UserRequest, pk: int) -> HttpResponse:
    """The job to order the next belt: ordered, or kept from what lies here."""
    jobs = Job.objects.visible_to(request.user).filter(belt_work=Job.BeltWork.ORDER)
    job = find(
        jobs.select_related("drive__machine__depot", "machine__depot", "machine__kind"),
        request.user, Right.WORK, depot="machine__depot_id", pk=pk,
    )  # fmt: skip
    form = OrderForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            order_belt(
                job=job, lies_here=given["how"] == "here", ordered_from=given["ordered_from"],
                expected_on=given["expected_on"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("{job}: saved and sealed.").format(job=job.number))
            return redirect("maintenance:job", job.pk)
    assert job.drive is not None  # such a job names its drive
    stock = choices_for(job.drive, on=job.machine.depot.day_of(now())).stock
    return render(
        request,
        "maintenance/order_belt.html",
        {"job": job, "machine": job.machine, "drive": job.drive, "form": form, "stock": stock},
        status=422 if form.errors else 200,
    )


def _found(request: UserRequest, pk: int, drive_pk: int) -> tuple[Job, Drive]:
    job = find(
        Job.objects.visible_to(request.user).select_related(
            "machine__depot", "machine__kind", "isolated_by"
        ),
        request.user, Right.WORK, depot="machine__depot_id", pk=pk,
    )  # fmt: skip
    drives = Drive.objects.filter(machine=job.machine, kind=Drive.Kind.BELT)
    drive = drives.filter(pk=drive_pk).first()
    if drive is None:
        raise Http404
    drive.machine = job.machine
    return job, drive


def _form(step: str, drive: Drive, data: QueryDict | None) -> Any:
    if step == "old":
        return OldBeltForm(data)
    if step == "set":
        return SetForm(data)
    found = choices_for(drive, on=drive.machine.depot.day_of(now()))
    return NewBeltForm(
        data, belts=drive.belts, stock=found.stock, marks=found.marks,
        initial={"mark": drive.belt_mark},
    )  # fmt: skip


def _in_words(form: Any, kept: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What somebody kept of a step, by the labels of its form."""
    return [
        (str(form.fields[name].label), _as_typed(form.fields[name], kept["typed"], name))
        for name, value in kept["typed"].items()
        if value and name in form.fields and name not in ("sure", "choice")
    ]


def _as_typed(field: Any, typed: Mapping[str, str], name: str) -> str:
    """One entry as it was kept; a plain number with the unit that stood beside it."""
    if isinstance(field, QuantityField):
        widget: Any = field.widget
        return str(widget.value_from_datadict(typed, {}, name))
    return typed[name]


def _as_post(typed: Mapping[str, str]) -> QueryDict:
    data = QueryDict(mutable=True)
    data.update(typed)
    return data


def _wanted(drive: Drive, steps: Mapping[str, Any], *, at: datetime) -> ToldDrive:
    form = _form("new", drive, _as_post(steps["new"]["typed"]))
    if not form.is_valid():
        raise Refused(_("A part of what was entered of the new belt is missing."))
    return told(preview(drive, form.told(), at=at))


def _keep(request: UserRequest, job: Job, drive: Drive, step: str, *, at: datetime) -> None:
    typed = {
        name: value for name, value in request.POST.items()
        if name not in _NOT_KEPT and isinstance(value, str)
    }  # fmt: skip
    keep_step(
        job=job, drive=drive, step=step, typed=typed, seen=request.POST.get("seen", ""), at=at,
        by=request.user,
    )  # fmt: skip


def _seal(
    request: UserRequest, job: Job, drive: Drive, steps: Mapping[str, Any], form: SetForm, *,
    at: datetime,
) -> HttpResponse:  # fmt: skip
    old = _form("old", drive, _as_post(steps["old"]["typed"]))
    new = _form("new", drive, _as_post(steps["new"]["typed"]))
    if not (old.is_valid() and new.is_valid()):
        raise Refused(_("A step before this is not complete. Go back and look at it."))
    fit_belt(
        job=job, drive=drive, old=old.told(at=datetime.fromisoformat(steps["old"]["at"])),
        new=new.told(), setting=form.told(), at=at, by=request.user,
        record_id=form.cleaned_data["entry"],
    )  # fmt: skip
    messages.success(
        request,
        _(
            "Belt fitted: saved and sealed. Looks at its tension are booked after 4 to 24 h of "
            "running, and after 24 to 48 h."
        ),
    )
    return redirect("maintenance:finish_job", job.pk)


def _refuse(form: Any, refused: Refused) -> None:
    if isinstance(refused, BeltUnclear) and len(refused.readings) > 1 and hasattr(form, "offer"):
        form.offer(refused.readings)
    if isinstance(refused, Questioned):
        form.ask()
    form.refuse(refused)


def _address(job: Job, drive: Drive, step: str) -> str:
    return f"{reverse('maintenance:change_belt', args=[job.pk, drive.pk])}?step={step}"
