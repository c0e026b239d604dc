"""Bringing in machines from a spreadsheet: the files, the rows of one, and the acts on it."""

from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext, gettext_noop
from django.views.decorators.http import require_POST, require_safe

from plant import tasks
from plant.actions import machine_import as actions
from plant.actions.brought import TooOften
from plant.actions.refusal import Refused
from plant.forms import ImportForm, SortForm
from plant.http import UserRequest, anywhere, csv_answer, find, form_page
from plant.machine_columns import BY_FIELD, TABLE
from plant.models import MachineImport, MachineImportRow, MachineKind
from plant.nudge import nudge
from plant.rights import Right, depots_where
from plant.tables import ImportRowTable, ImportTable, paged
from plant.views import brought

_Step, _Verdict = MachineImport.Step, MachineImportRow.Verdict


@login_required
@require_safe
def import_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.IMPORT)
    runs = MachineImport.objects.visible_to(request.user, Right.IMPORT).select_related(
        "depot", "asked_by"
    )
    table = paged(ImportTable(runs), request)
    return render(request, "plant/import_list.html", {"table": table})


@login_required
@form_page
def add_import(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.IMPORT)
    if request.method != "POST":
        return _asked(request, ImportForm(user=request.user))
    form = ImportForm(request.POST, request.FILES, user=request.user)
    if not form.is_valid():
        return _asked(request, form, status=422)
    file = form.cleaned_data["file"]
    try:
        run = actions.ask_import(
            file=file,
            file_name=file.name,
            depot=form.cleaned_data["depot"],
            by=request.user,
            at=now(),
        )
    except TooOften as wait:
        form.add_error(None, str(wait))
        answer = _asked(request, form, status=429)
        answer.headers["Retry-After"] = "3600"
        return answer
    except Refused as wrong:
        form.add_error(wrong.field or None, str(wrong))
        return _asked(request, form, status=422)
    nudge(tasks.read_import, run.pk)
    return redirect("plant:machine_import", run.pk)


@login_required
@require_safe
def machine_import(request: UserRequest, pk: int) -> HttpResponse:
    return _page(request, _run(request, pk))


@login_required
@require_safe
def import_progress(request: UserRequest, pk: int) -> HttpResponse:
    return brought.progress_answer(
        request, _progress(_run(request, pk)), page="plant:machine_import"
    )


@login_required
@require_POST
def sort_import(request: UserRequest, pk: int) -> HttpResponse:
    run = _run(request, pk)
    if "again" in request.POST:
        columns, answers = run.columns, run.answers
    else:
        form = SortForm(request.POST, run=run)
        if not form.is_valid():
            return _page(request, run, form=form, status=422)
        columns, answers = form.cleaned_data["columns"], form.cleaned_data["answers"]
    try:
        actions.sort_again(run=run, columns=columns, answers=answers, by=request.user, at=now())
    except Refused as wrong:
        return _page(request, run, refused=str(wrong), status=422)
    nudge(tasks.read_import, run.pk)
    return redirect("plant:machine_import", run.pk)


@login_required
@require_POST
def save_import(request: UserRequest, pk: int) -> HttpResponse:
    run = _run(request, pk)
    try:
        actions.say_yes(run=run, by=request.user, at=now())
    except Refused as wrong:
        return _page(request, run, refused=str(wrong), status=422)
    nudge(tasks.save_import, run.pk)
    return redirect("plant:machine_import", run.pk)


@login_required
@require_POST
def drop_import(request: UserRequest, pk: int) -> HttpResponse:
    run = _run(request, pk)
    try:
        actions.drop_import(run=run, by=request.user, at=now())
    except Refused as wrong:
        return _page(request, run, refused=str(wrong), status=422)
    messages.success(
        request,
        gettext("{file_name} was dropped. Nothing of it was saved.").format(
            file_name=run.file_name
        ),
    )
    return redirect("plant:import_list")


@login_required
@require_safe
def import_left_over(request: UserRequest, pk: int) -> StreamingHttpResponse:
    """The rows that are not ready, with why, to be put right and brought in again."""
    run = _run(request, pk)
    fields = [(run.columns[one], one) for one in run.headings if run.columns.get(one) in BY_FIELD]
    headings = [
        gettext("Row"),
        gettext("Sorted as"),
        gettext("Why"),
        *(_heading(run, *pair) for pair in fields),
    ]

    def rows() -> Iterator[list[object]]:
        left = run.rows.exclude(verdict=_Verdict.READY).order_by("row")
        for one in left.iterator(chunk_size=500):
            typed = one.values.get("typed", {})
            why = " ".join(one.reasons)
            cells = [typed.get(field, "") for field, _ in fields]
            yield [one.row, str(_Verdict(one.verdict).label), why, *cells]

    return csv_answer(headings, rows(), name=f"left-over-{run.pk}")


def _heading(run: MachineImport, field: str, heading: str) -> str:
    """A heading that is matched by itself, with the unit that the figures are in."""
    column = BY_FIELD[field]
    unit = TABLE.unit_in(heading, column) or run.answers.get("units", {}).get(column.asked, "")
    return f"{column.name} ({unit})" if unit else column.name


def _run(request: UserRequest, pk: int) -> MachineImport:
    seen = MachineImport.objects.visible_to(request.user, Right.SEE)
    seen = seen.select_related("depot", "asked_by", "said_yes_by")
    run: MachineImport = find(seen, request.user, Right.IMPORT, depot="depot_id", pk=pk)
    if not run.depots_told_of() <= depots_where(request.user, Right.SEE):
        raise Http404
    return run


def _asked(request: UserRequest, form: ImportForm, *, status: int = 200) -> HttpResponse:
    columns = list(BY_FIELD.values())
    return render(
        request, "plant/add_import.html", {"form": form, "columns": columns}, status=status
    )


def _progress(run: MachineImport) -> dict[str, Any]:
    shown = brought.progress(run, saved=Q(machine__isnull=False), saving="machines")
    return shown | {"addresses": brought.addresses("plant", _NAMES, run.pk)}


def _page(
    request: UserRequest,
    run: MachineImport,
    *,
    form: SortForm | None = None,
    refused: str = "",
    status: int = 200,
) -> HttpResponse:
    context = brought.standing(run, request, _COUNTED) | {"refused": refused} | _progress(run)
    if context["total"] and not run.is_open:
        kinds = dict(MachineKind.objects.values_list("key", "name"))
        context["table"] = paged(ImportRowTable(context["rows"], kinds=kinds), request)
        if run.step == _Step.ASK:
            context["form"] = form or SortForm(run=run)
            context["unmatched"] = [one for one in run.headings if one not in run.columns]
    return render(request, "plant/machine_import.html", context, status=status)


_NAMES = {
    "list": "import_list",
    "page": "machine_import",
    "progress": "import_progress",
    "sort": "sort_import",
    "save": "save_import",
    "drop": "drop_import",
    "left_over": "import_left_over",
}
_COUNTED: dict[str, str] = {
    _Verdict.READY: gettext_noop("ready"),
    _Verdict.SAME: gettext_noop("the same machine twice"),
    _Verdict.CLASH: gettext_noop("clash"),
    _Verdict.ASK: gettext_noop("need an answer"),
    _Verdict.UNREADABLE: gettext_noop("cannot be read"),
}
