"""The belt drive of a machine: its page, its data, and its readings."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.actions.drive import BeltUnclear, save_drive
from maintenance.actions.reading import Questioned, record_tension, record_width
from maintenance.contents.belt_life import life_of
from maintenance.contents.drive import drive_now
from maintenance.forms.drive import DriveForm, TensionForm, WidthForm, initial_of
from maintenance.models import Job, TensionReading, WidthReading
from plant.actions.refusal import Refused
from plant.contents.workout import VERDICTS, pictures, told
from plant.drives.outcome import Verdict
from plant.drives.workout import CAUTIONS
from plant.http import UserRequest, find, form_page
from plant.models import Drive, Machine
from plant.rights import Right, may

# Readings shown on the page; all of them stand in the machine's record.
SHOWN = 12


@login_required
@require_safe
def drive(request: UserRequest, pk: int) -> HttpResponse:
    found = _drive(request, pk, Right.SEE)
    at = now()
    standing = drive_now(found, at=at)
    said = told(standing.workout) if standing.workout is not None else None
    widths = WidthReading.objects.filter(drive=found).order_by("-at", "-pk")
    tensions = TensionReading.objects.filter(drive=found).order_by("-at", "-pk")
    return render(
        request,
        "maintenance/drive.html",
        {
            "drive": found,
            "machine": found.machine,
            "now_": standing,
            "said": said,
            "pictures": pictures(said) if said is not None else (),
            "cautions": CAUTIONS,
            "widths": widths[:SHOWN],
            "width_count": widths.count(),
            "tensions": tensions[:SHOWN],
            "tension_count": tensions.count(),
            "may_work": may(request.user, Right.WORK, found.machine.depot_id),
            "running": life_of(found),
            "belt_job": Job.objects.open()
            .filter(machine=found.machine, kind=Job.Kind.BELT, belt_work="")
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
    found = _drive(request, pk, Right.WORK)
    return _entered(request, found.machine, found)


@login_required
@form_page
def add_width(request: UserRequest, pk: int) -> HttpResponse:
    found = _drive(request, pk, Right.WORK)
    if request.method != "POST":
        form = WidthForm(initial={"tool": _tool_of(request)})
        return _reading(request, "maintenance/add_width.html", found, form)
    form = WidthForm(request.POST)
    if not form.is_valid():
        return _reading(request, "maintenance/add_width.html", found, form, status=422)
    names = [name for name in ("width_1", "width_2", "width_3") if form.cleaned_data.get(name)]
    try:
        reading = record_width(
            drive=found, widths=form.widths(), tool=form.cleaned_data["tool"],
            slot_out=form.cleaned_data["slot_out"], note=form.cleaned_data["note"],
            at=now(), by=request.user, record_id=form.cleaned_data["entry"],
        )  # fmt: skip
    except Refused as refused:
        if refused.field.startswith("width_"):
            # The action counts the readings that were given.
            refused.field = names[int(refused.field.removeprefix("width_")) - 1]
        form.refuse(refused)
        return _reading(request, "maintenance/add_width.html", found, form, status=422)
    messages.success(
        request, f"{reading} saved and sealed. {VERDICTS[Verdict(reading.verdict)][0]}"
    )
    return redirect(_back(request, found))


@login_required
@form_page
def add_tension(request: UserRequest, pk: int) -> HttpResponse:
    found = _drive(request, pk, Right.WORK)
    if request.method != "POST":
        return _reading(request, "maintenance/add_tension.html", found, TensionForm())
    form = TensionForm(request.POST)
    if not form.is_valid():
        return _reading(request, "maintenance/add_tension.html", found, form, status=422)
    cleaned = form.cleaned_data
    try:
        reading = record_tension(
            drive=found,
            method=TensionReading.Method.FORCE
            if form.is_force
            else TensionReading.Method.FREQUENCY,
            figure=cleaned["force"] if form.is_force else cleaned["frequency"],
            tool=cleaned["tool"] if form.is_force else "span frequency, share of the reading",
            depth=cleaned["depth"], slot_out=cleaned["slot_out"], note=cleaned["note"],
            confirmed=cleaned["confirmed"], at=now(), by=request.user,
            record_id=cleaned["entry"],
        )  # fmt: skip
    except Refused as refused:
        if isinstance(refused, Questioned):
            form.ask()
        form.refuse(refused)
        return _reading(request, "maintenance/add_tension.html", found, form, status=422)
    lies = {
        "under": "The belt is slacker than its band.",
        "within": "It lies within its band.",
        "high": "It lies at the high end of a first setting.",
        "over": "The belt is over-tight. Slacken it.",
    }[reading.verdict]
    messages.success(request, f"Tension {reading} saved and sealed. {lies}")
    return redirect(_back(request, found))


def _drive(request: UserRequest, pk: int, right: Right) -> Drive:
    return find(
        Drive.objects.visible_to(request.user)
        .filter(kind=Drive.Kind.BELT)
        .select_related("machine__depot", "machine__kind"),
        request.user, right, depot="machine__depot_id", pk=pk,
    )  # fmt: skip


def _entered(request: UserRequest, machine: Machine, found: Drive | None) -> HttpResponse:
    """The form of a drive's data, shown or taken."""
    if request.method != "POST":
        return _data(request, machine, found, DriveForm(initial=initial_of(machine, found)))
    form = DriveForm(request.POST)
    if not form.is_valid():
        return _data(request, machine, found, form, status=422)
    try:
        saved = save_drive(
            machine=machine, drive=found, entry=form.told(), at=now(), by=request.user,
            record_id=form.cleaned_data["entry"],
        )  # fmt: skip
    except BeltUnclear as unclear:
        if len(unclear.readings) > 1:
            form.offer(unclear.readings)
        form.refuse(unclear)
        return _data(request, machine, found, form, status=422)
    except Refused as refused:
        form.refuse(refused)
        return _data(request, machine, found, form, status=422)
    messages.success(request, f"{saved.name} saved and sealed.")
    return redirect(_back(request, saved))


def _data(
    request: UserRequest, machine: Machine, found: Drive | None, form: DriveForm, status: int = 200
) -> HttpResponse:
    return render(
        request,
        "maintenance/edit_drive.html",
        {"machine": machine, "drive": found, "form": form, "job": _job(request, machine)},
        status=status,
    )


def _reading(
    request: UserRequest, template: str, found: Drive, form: Form, status: int = 200
) -> HttpResponse:
    standing = drive_now(found, at=now())
    said = told(standing.workout) if standing.workout is not None else None
    return render(
        request,
        template,
        {
            "drive": found,
            "machine": found.machine,
            "form": form,
            "said": said,
            "job": _job(request, found.machine),
            "wanted": {each.key: each for each in said.results} if said is not None else {},
        },
        status=status,
    )


def _job(request: UserRequest, machine: Machine) -> Job | None:
    """The job from which somebody came here, if it is one of this machine."""
    asked = request.POST.get("job", request.GET.get("job", ""))
    if not asked.isascii() or not asked.isdigit() or len(asked) > 18:
        return None
    return Job.objects.visible_to(request.user).filter(machine=machine, pk=int(asked)).first()


def _back(request: UserRequest, found: Drive) -> str:
    """The page to go to when it is saved: the job from which one came, else the drive.

    A job whose fault is being found goes on there, where the reading has answered its test.
    """
    job: Any = _job(request, found.machine)
    if job is not None:
        try:
            if job.findings.under_way().exists():
                return reverse("maintenance:finding", args=[job.pk])
            return reverse("maintenance:job", args=[job.pk])
        except NoReverseMatch:
            pass
    return reverse("maintenance:drive", args=[found.pk])


def _tool_of(request: UserRequest) -> str:
    """The tool with which this person measured last."""
    last = WidthReading.objects.filter(record__by=request.user).order_by("-at").first()
    return last.tool if last is not None else ""
