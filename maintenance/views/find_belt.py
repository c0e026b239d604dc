"""Find a belt: three forms on one page; nothing is kept, and each address can be passed on."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from maintenance.contents.drive import sentence
from maintenance.contents.find_belt import by_drive, by_mark, by_measure
from maintenance.forms.find_belt import (
    DRIVE,
    MARK,
    MEASURE,
    ByDriveForm,
    ByMarkForm,
    ByMeasureForm,
    FindForm,
    figures_of,
    witness_of,
)
from plant.drives.errors import DriveError
from plant.drives.sections import System
from plant.http import UserRequest, anywhere, first_depot, see
from plant.models import Drive
from plant.rights import Right

_FORMS: dict[str, type[FindForm]] = {
    MARK: ByMarkForm, MEASURE: ByMeasureForm, DRIVE: ByDriveForm
}  # fmt: skip


@login_required
@require_safe
def find_belt(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.SEE)
    way = request.GET.get("way", "")
    drive = _drive(request)
    known = figures_of(drive) if drive is not None else {}
    forms: dict[str, FindForm] = {
        each: form(auto_id=f"id_{each}_%s", initial={**known, "way": each})
        for each, form in _FORMS.items()
    }
    found: Any = None
    if way in _FORMS and (asked := _asked(request, way, known)) is not None:
        form = forms[way] = _FORMS[way](asked, auto_id=f"id_{way}_%s")
        found = _found(form, request, drive) if form.is_valid() else None
    return render(
        request,
        "maintenance/find_belt.html",
        {
            **{f"{each}_form": form for each, form in forms.items()},
            "way": way if way in _FORMS else "",
            "found": found,
            "drive": drive,
            "system": _system(request, drive),
        },
        status=422 if any(form.errors for form in forms.values()) else 200,
    )


def _asked(request: UserRequest, way: str, known: dict[str, str]) -> Any:
    """What was asked; for a drive that nothing was typed of, its own figures. None: nothing yet."""
    typed = [name for name in request.GET if name not in ("way", "drive")]
    if typed:
        return request.GET
    whole = all(name in known for name in ("section", "driver", "driven", "centres", "slot_in"))
    return {**known, "way": way} if way == DRIVE and whole and "slot_out" in known else None


def _found(form: FindForm, request: UserRequest, drive: Drive | None) -> Any:
    system = _system(request, drive)
    told = form.cleaned_data
    try:
        if isinstance(form, ByMarkForm):
            return by_mark(
                told["mark"], user=request.user, system=system, pulley=told["pulley"],
                small=form.value("small"), belts=drive.belts if drive else 1,
            )  # fmt: skip
        if isinstance(form, ByMeasureForm):
            return by_measure(
                form.measured(), user=request.user, system=system,
                drive=witness_of(drive) if drive else None,
                cogged={"yes": True, "no": False}.get(told["cogs"]), used=told["worn"] != "new",
            )  # fmt: skip
        assert isinstance(form, ByDriveForm)
        closest, now_at, farthest = form.slot
        return by_drive(
            told["section"], user=request.user, driver=form.value("driver") or 0.0,
            driven=form.value("driven") or 0.0, closest=closest, now=now_at, farthest=farthest,
            system=system, belts=told["belts"] or 1,
        )  # fmt: skip
    except (DriveError, ValueError) as refused:
        form.add_error("mark" if isinstance(form, ByMarkForm) else None, sentence(refused))
        return None


def _drive(request: UserRequest) -> Drive | None:
    """The drive that it is asked for; of another depot's it is not told whether it is there."""
    told = request.GET.get("drive", "")
    if not told:
        return None
    drives = Drive.objects.visible_to(request.user).filter(kind=Drive.Kind.BELT)
    return see(drives.select_related("machine__depot"), request.user, pk=told)


def _system(request: UserRequest, drive: Drive | None) -> System:
    depot = drive.machine.depot if drive is not None else first_depot(request.user)
    return System(depot.length_system) if depot is not None else System.ISO_DIN
