"""The belt drive of a machine: its page, its data, and its readings."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils.timezone import now
from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions.drive import BeltUnclear, ChangedSince, fill, save_drive
from maintenance.contents.belt_life import life_of
from maintenance.contents.belt_readings import readings_of
from maintenance.contents.drive import drive_now, mark_ways, told_now
from maintenance.contents.width_chart import width_chart
from maintenance.forms.drive import DriveForm, entered_of, initial_of
from maintenance.models import Job
from plant.actions.refusal import Refused
from plant.contents.workout import ToldDrive, told
from plant.contents.workout_pictures import pictures
from plant.drives.workout import CAUTIONS
from plant.http import UserRequest, find, form_page
from plant.models import Drive, Machine
from plant.rights import Right, may

# Readings shown on the page; all of them stand in the machine's record.
SHOWN = 12
# The forms of the readings, as they are offered on the drive's page.
MEASURES = (
    (gettext_noop("Width"), "add_width"),
    (gettext_noop("Ride"), "add_ride"),
    (gettext_noop("Slot"), "add_slot"),
    (gettext_noop("Tension"), "add_tension"),
    (gettext_noop("In line"), "add_alignment"),
    (gettext_noop("Pulleys"), "add_pulley"),
)


@login_required
@require_safe
def drive(request: UserRequest, pk: int) -> HttpResponse:
    found = drive_of(request, pk, Right.SEE)
    at = now()
    standing = drive_now(found, at=at)
    said = told_now(standing)
    chart = width_chart(standing, at=at)
    return render(
        request,
        "maintenance/drive.html",
        {
            "drive": found,
            "machine": found.machine,
            "now_": standing,
            "said": said,
            "pictures": (
                *(pictures(said) if said is not None else ()),
                *((chart.picture(),) if chart is not None else ()),
            ),
            "mark_ways": mark_ways(found),
            "cautions": CAUTIONS,
            "readings": readings_of(found, most=SHOWN),
            "measures": measures_of(found),
            "may_correct": may(request.user, Right.CORRECT, found.machine.depot_id),
            "may_work": may(request.user, Right.WORK, found.machine.depot_id),
            "running": life_of(found),
            "belt_job": Job.objects.open()
            .filter(
                Q(drive=found) | Q(drive=None),
                machine=found.machine,
                kind=Job.Kind.BELT,
                belt_work="",
            )
            .order_by("-opened_at")
            .first(),
        },
    )


@login_required
@form_page
def add_drive(request: UserRequest, pk: int) -> HttpResponse:
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user, Right.WORK, depot="depot_id", pk=pk,
    )  # fmt: skip
    return _entered(request, machine, None)


@login_required
@form_page
def edit_drive(request: UserRequest, pk: int) -> HttpResponse:
    found = drive_of(request, pk, Right.WORK)
    return _entered(request, found.machine, found)


def measures_of(drive: Drive) -> list[tuple[str, str, str]]:
    """The forms of its readings: what each says on its tab, its name, its address."""
    return [
        (gettext(words), name, reverse(f"maintenance:{name}", args=[drive.pk]))
        for words, name in MEASURES
    ]


def drive_of(request: UserRequest, pk: int, right: Right) -> Drive:
    """A belt drive that this person may see and has this right to; else a 404 or a 403."""
    return find(
        Drive.objects.visible_to(request.user)
        .filter(kind=Drive.Kind.BELT)
        .select_related("machine__depot", "machine__kind"),
        request.user, right, depot="machine__depot_id", pk=pk,
    )  # fmt: skip


def _entered(request: UserRequest, machine: Machine, found: Drive | None) -> HttpResponse:
    """The form of a drive's data: shown, drawn as it stands, or taken."""
    if request.method != "POST":
        form = DriveForm(initial=initial_of(machine, found), entered=entered_of(found))
        standing = told_now(drive_now(found, at=now())) if found is not None else None
        return _data(request, machine, found, form, drawn=_pictured(standing))
    form = DriveForm(request.POST, entered=entered_of(found))
    valid = form.is_valid()
    if "draw" in request.POST or not valid:
        drawn = _drawn(machine, found, form)
        if request.headers.get("X-Part") == "drawn":
            return render(request, "maintenance/_drawn.html", drawn)
        status = 200 if "draw" in request.POST else 422
        return _data(request, machine, found, form, drawn=drawn, status=status)
    try:
        saved = save_drive(
            machine=machine, drive=found, entry=form.told(), at=now(), by=request.user,
            seen=form.cleaned_data["seen"], record_id=form.cleaned_data["entry"],
        )  # fmt: skip
    except Refused as refused:
        if isinstance(refused, BeltUnclear) and len(refused.readings) > 1:
            form.offer(refused.readings)
        form.refuse(refused)
        if isinstance(refused, ChangedSince) and found is not None:
            form.look_again(Drive.objects.get(pk=found.pk))
        drawn = {"refusal": str(refused)}
        return _data(request, machine, found, form, drawn=drawn, status=422)
    messages.success(request, _("{saved} saved and sealed.").format(saved=saved.name))
    return redirect(back_to(request, saved))


def _drawn(machine: Machine, found: Drive | None, form: DriveForm) -> dict[str, Any]:
    """What was typed so far, worked out and drawn; nothing of it is kept."""
    drive = Drive(machine=machine) if found is None else Drive.objects.get(pk=found.pk)
    drive.machine = machine
    entry = form.told()
    try:
        filled = fill(drive, entry, mark=entry.belt_mark, at=now())
    except Refused as refused:
        return {"refusal": str(refused)}
    return _pictured(told(filled.workout))


def _pictured(said: ToldDrive | None) -> dict[str, Any]:
    return {"said": said, "pictures": pictures(said) if said is not None else ()}


def _data(
    request: UserRequest,
    machine: Machine,
    found: Drive | None,
    form: DriveForm,
    *,
    drawn: dict[str, Any],
    status: int = 200,
) -> HttpResponse:
    context = {"machine": machine, "drive": found, "form": form, "job": job_of(request, machine)}
    return render(request, "maintenance/edit_drive.html", context | drawn, status=status)


def job_of(request: UserRequest, machine: Machine) -> Job | None:
    """The job from which somebody came here, if it is one of this machine."""
    asked = request.POST.get("job", request.GET.get("job", ""))
    if not asked.isascii() or not asked.removeprefix("-").isdigit() or len(asked) > 18:
        return None
    return Job.objects.visible_to(request.user).filter(machine=machine, pk=int(asked)).first()


def back_to(request: UserRequest, found: Drive) -> str:
    """The page to go to when it is saved: the job from which one came, else the drive.

    A job whose fault is being found goes on there, where the reading has answered its test.
    """
    job: Any = job_of(request, found.machine)
    if job is not None:
        try:
            if job.findings.under_way().exists():
                return reverse("maintenance:finding", args=[job.pk])
            return reverse("maintenance:job", args=[job.pk])
        except NoReverseMatch:
            pass
    return reverse("maintenance:drive", args=[found.pk])
