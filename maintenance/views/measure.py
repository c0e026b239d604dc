"""Measuring a belt drive on a phone: one short form a reading, and a reading put right."""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _

from maintenance.actions.belt_record import Correction, rows_of, take_out
from maintenance.actions.pulley import record_alignment, record_pulley, record_ride
from maintenance.actions.reading import Questioned, record_tension, record_width
from maintenance.actions.slot import record_slot
from maintenance.contents.drive import DriveNow, drive_now, told_now
from maintenance.forms.measure import (
    AlignmentForm,
    PulleyForm,
    ReadingForm,
    RideForm,
    SlotForm,
    TakeOutForm,
    TensionForm,
    WidthForm,
    begins_with,
)
from maintenance.models import (
    AlignmentReading,
    Job,
    PulleyReading,
    RideReading,
    SlotReading,
    TensionReading,
    WidthReading,
)
from maintenance.models.reading import BeltReading
from maintenance.views.drive import back_to, drive_of, job_of, measures_of
from plant.actions.refusal import Refused
from plant.contents.workout import ToldDrive
from plant.http import UserRequest, find, form_page
from plant.models import Drive, Record
from plant.rights import Right


@dataclass(frozen=True, kw_only=True)
class Sort:
    """One sort of reading. address: of its form; rows: where it is kept; record: its action."""

    address: str
    form: type[ReadingForm]
    rows: type[BeltReading]
    record: Callable[..., BeltReading]
    kind: Record.Kind


SORTS = (
    Sort(address="add_width", form=WidthForm, rows=WidthReading,
         record=record_width, kind=Record.Kind.WIDTH),
    Sort(address="add_ride", form=RideForm, rows=RideReading,
         record=record_ride, kind=Record.Kind.RIDE),
    Sort(address="add_slot", form=SlotForm, rows=SlotReading,
         record=record_slot, kind=Record.Kind.RIDE),
    Sort(address="add_tension", form=TensionForm, rows=TensionReading,
         record=record_tension, kind=Record.Kind.TENSION),
    Sort(address="add_alignment", form=AlignmentForm, rows=AlignmentReading,
         record=record_alignment, kind=Record.Kind.ALIGNMENT),
    Sort(address="add_pulley", form=PulleyForm, rows=PulleyReading,
         record=record_pulley, kind=Record.Kind.PULLEY),
)  # fmt: skip
_OF: Mapping[str, Sort] = {sort.address: sort for sort in SORTS}


@login_required
@form_page
def add_width(request: UserRequest, pk: int) -> HttpResponse:
    return _taken(request, pk, _OF["add_width"])


@login_required
@form_page
def add_ride(request: UserRequest, pk: int) -> HttpResponse:
    return _taken(request, pk, _OF["add_ride"])


@login_required
@form_page
def add_slot(request: UserRequest, pk: int) -> HttpResponse:
    return _taken(request, pk, _OF["add_slot"])


@login_required
@form_page
def add_tension(request: UserRequest, pk: int) -> HttpResponse:
    return _taken(request, pk, _OF["add_tension"])


@login_required
@form_page
def add_alignment(request: UserRequest, pk: int) -> HttpResponse:
    return _taken(request, pk, _OF["add_alignment"])


@login_required
@form_page
def add_pulley(request: UserRequest, pk: int) -> HttpResponse:
    return _taken(request, pk, _OF["add_pulley"])


def _taken(request: UserRequest, pk: int, sort: Sort) -> HttpResponse:
    """The form of a reading, shown or taken."""
    found, at = drive_of(request, pk, Right.WORK), now()
    if request.method != "POST":
        form = sort.form(at=at, drive=found, initial={"tool": _tool_of(request, sort)})
        return _page(request, sort, found, form)
    form = sort.form(request.POST, at=at, drive=found)
    if form.is_valid():
        read_at = form.cleaned_data["read_at"]
        row = _recorded(sort, form, drive=found, at=read_at, by=request.user)
        if row is not None:
            messages.success(
                request,
                _("{said} saved and sealed. {found}").format(
                    said=row.said, found=_lies(found, row, at)
                ),
            )
            return redirect(back_to(request, found))
    return _page(request, sort, found, form, status=422)


@login_required
@form_page
def correct_reading(request: UserRequest, pk: uuid.UUID) -> HttpResponse:
    """Puts a reading right by a new record, or takes it out; the first one stays to be seen."""
    record = find(
        Record.objects.visible_to(request.user).select_related("machine__depot"),
        request.user, Right.CORRECT, depot="machine__depot_id", pk=pk,
    )  # fmt: skip
    row, sort = _row_of(record)
    found, at = drive_of(request, row.drive_id, Right.CORRECT), now()
    form = sort.form(
        request.POST if request.method == "POST" else None,
        at=at, drive=found, corrects=True, initial=begins_with(sort.form, row),
    )  # fmt: skip
    if request.method != "POST":
        return _page(request, sort, found, form, corrects=row)
    why = TakeOutForm(request.POST)
    if request.POST.get("act") == "take out" and why.is_valid():
        try:
            take_out(
                reading=row, kind=sort.kind, reason=why.cleaned_data["reason"], at=at,
                by=request.user, record_id=why.cleaned_data["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, _("{said} is taken out. It stays to be seen.").format(said=row.said)
            )
            return redirect("maintenance:drive", found.pk)
    elif form.is_valid():
        correction = Correction(of=row, reason=form.cleaned_data["reason"])
        new = _recorded(sort, form, drive=found, at=at, by=request.user, correction=correction)
        if new is not None:
            messages.success(
                request,
                _("{said} saved and sealed, not {earlier}. Both stay to be seen.").format(
                    said=new.said, earlier=row.said
                ),
            )
            return redirect("maintenance:drive", found.pk)
    return _page(request, sort, found, form, corrects=row, status=422)


def _row_of(record: Record) -> tuple[BeltReading, Sort]:
    """The reading that a record is of: the first, where a place of the slot was told with it."""
    rows = rows_of(record)
    for sort in SORTS:
        if sort.rows is not SlotReading or len(rows) == 1:
            for row in rows:
                if isinstance(row, sort.rows):
                    return row, sort
    raise Http404


def _recorded(
    sort: Sort, form: ReadingForm, *, drive: Drive, at: datetime, by: Any, **more: Any
) -> BeltReading | None:
    """The reading saved; None when the action refused it, which then stands at its field."""
    try:
        return sort.record(
            drive=drive, at=at, received_at=form.at, by=by, note=form.cleaned_data["note"],
            record_id=form.cleaned_data["entry"], **form.told(), **more,
        )  # fmt: skip
    except Refused as refused:
        if isinstance(form, TensionForm) and isinstance(refused, Questioned):
            form.ask()
        if isinstance(form, WidthForm) and refused.field.startswith("width_"):
            # The action counts the readings that were given.
            refused.field = form.places()[int(refused.field.removeprefix("width_")) - 1]
        form.refuse(refused)
    return None


def _lies(drive: Drive, row: BeltReading, at: datetime) -> str:
    """What a reading says by itself; what it means for the belt stands first on the page."""
    standing = drive_now(drive, at=at)
    if isinstance(row, AlignmentReading) and standing.alignment is not None:
        return standing.alignment.words
    if isinstance(row, PulleyReading):
        name = row.get_pulley_display().lower()
        return next((each.words for each in standing.grooves if each.name == name), "")
    if isinstance(row, TensionReading):
        return {
            "under": "The belt is slacker than its band.",
            "within": "It lies within its band.",
            "high": "It lies at the high end of a first setting.",
            "over": "The belt is over-tight. Slacken it.",
        }[row.verdict]
    said = told_now(standing)
    return said.verdict if said is not None else ""


def _page(
    request: UserRequest,
    sort: Sort,
    drive: Drive,
    form: ReadingForm,
    *,
    corrects: BeltReading | None = None,
    status: int = 200,
) -> HttpResponse:
    standing: DriveNow = drive_now(drive, at=form.at)
    said: ToldDrive | None = told_now(standing)
    job: Job | None = job_of(request, drive.machine)
    return render(
        request,
        "maintenance/measure.html",
        {
            "drive": drive,
            "machine": drive.machine,
            "sort": sort,
            "measures": measures_of(drive),
            "form": form,
            "corrects": corrects,
            "said": said,
            "job": job,
            "wanted": {each.key: each for each in said.results} if said is not None else {},
        },
        status=status,
    )  # fmt: skip


def _tool_of(request: UserRequest, sort: Sort) -> str:
    """The tool with which this person took such a reading last."""
    last = (
        sort.rows.objects.filter(record__by=request.user).exclude(tool="").order_by("-at").first()
    )
    return last.tool if last is not None else ""
