"""Bringing in the readings of a test instrument: the files, the rows of one, and its acts."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.http import FileResponse, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext, gettext_noop
from django.views.decorators.http import require_POST, require_safe

from maintenance import tasks
from maintenance.actions import readings_file as actions
from maintenance.forms.readings_file import ReadingsFileForm, ReadingsSortForm
from maintenance.models import ReadingsFile, ReadingsRow, RuleSheet
from maintenance.rules.tester_columns import columns_of
from maintenance.tables import paged
from maintenance.tables_tests import ReadingsFileTable, ReadingsRowTable
from plant.actions.brought import TooOften
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, csv_answer, find, form_page, today_at
from plant.nudge import nudge
from plant.rights import Right
from plant.views import brought

EXAMPLE = Path("fixtures") / "demo" / "tester_readings.csv"
_Step, _Verdict = ReadingsFile.Step, ReadingsRow.Verdict
_NAMES = {
    "list": "readings_file_list",
    "page": "readings_file",
    "progress": "readings_file_progress",
    "sort": "sort_readings_file",
    "save": "save_readings_file",
    "drop": "drop_readings_file",
    "left_over": "readings_left_over",
}
_COUNTED: dict[str, str] = {
    _Verdict.READY: gettext_noop("ready"),
    _Verdict.ASK: gettext_noop("need an answer"),
    _Verdict.NO_MACHINE: gettext_noop("no such machine"),
    _Verdict.NO_FORM: gettext_noop("not clear which test"),
    _Verdict.UNREADABLE: gettext_noop("missing or not readable"),
    _Verdict.SAME: gettext_noop("brought in already"),
}


@login_required
@require_safe
def readings_file_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.WORK)
    runs = ReadingsFile.objects.visible_to(request.user, Right.WORK)
    table = paged(ReadingsFileTable(runs.select_related("depot", "asked_by")), request, at=now())
    return render(request, "maintenance/readings_file_list.html", {"table": table})


@login_required
@form_page
def add_readings_file(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.WORK)
    if request.method != "POST":
        return _asked(request, ReadingsFileForm(user=request.user))
    form = ReadingsFileForm(request.POST, request.FILES, user=request.user)
    if not form.is_valid():
        return _asked(request, form, status=422)
    file = form.cleaned_data["file"]
    try:
        run = actions.ask_file(
            file=file, file_name=file.name, depot=form.cleaned_data["depot"], by=request.user,
            at=now(),
        )  # fmt: skip
    except TooOften as wait:
        form.add_error(None, str(wait))
        answer = _asked(request, form, status=429)
        answer.headers["Retry-After"] = "3600"
        return answer
    except Refused as wrong:
        form.add_error(wrong.field or None, str(wrong))
        return _asked(request, form, status=422)
    nudge(tasks.read_readings_file, run.pk)
    return redirect("maintenance:readings_file", run.pk)


@login_required
@require_safe
def readings_example(request: UserRequest) -> FileResponse:
    """A file of readings of the demo firm, in a layout of our own, to try."""
    anywhere(request.user, Right.WORK)
    return FileResponse(
        (Path(settings.BASE_DIR) / EXAMPLE).open("rb"), content_type="text/csv",
        as_attachment=True, filename=EXAMPLE.name,
    )  # fmt: skip


@login_required
@require_safe
def readings_file(request: UserRequest, pk: int) -> HttpResponse:
    return _page(request, _run(request, pk))


@login_required
@require_safe
def readings_file_progress(request: UserRequest, pk: int) -> HttpResponse:
    return brought.progress_answer(
        request, _progress(_run(request, pk)), page="maintenance:readings_file"
    )


@login_required
@require_POST
def sort_readings_file(request: UserRequest, pk: int) -> HttpResponse:
    run = _run(request, pk)
    if "again" in request.POST:
        columns, answers = run.columns, run.answers
    else:
        form = _form(request, run, request.POST)
        if not form.is_valid():
            return _page(request, run, form=form, status=422)
        columns, answers = form.cleaned_data["columns"], form.cleaned_data["answers"]
    try:
        actions.sort_again(run=run, columns=columns, answers=answers, by=request.user)
    except Refused as wrong:
        return _page(request, run, refused=str(wrong), status=422)
    nudge(tasks.read_readings_file, run.pk)
    return redirect("maintenance:readings_file", run.pk)


@login_required
@require_POST
def save_readings_file(request: UserRequest, pk: int) -> HttpResponse:
    run = _run(request, pk)
    try:
        actions.say_yes(run=run, by=request.user)
    except Refused as wrong:
        return _page(request, run, refused=str(wrong), status=422)
    nudge(tasks.save_readings_file, run.pk)
    return redirect("maintenance:readings_file", run.pk)


@login_required
@require_POST
def drop_readings_file(request: UserRequest, pk: int) -> HttpResponse:
    run = _run(request, pk)
    try:
        actions.drop_file(run=run, by=request.user, at=now())
    except Refused as wrong:
        return _page(request, run, refused=str(wrong), status=422)
    messages.success(
        request,
        gettext("{file_name} was dropped. Nothing of it was saved.").format(
            file_name=run.file_name
        ),
    )
    return redirect("maintenance:readings_file_list")


@login_required
@require_safe
def readings_left_over(request: UserRequest, pk: int) -> StreamingHttpResponse:
    """The rows that are not ready, with why, under the headings of their file."""
    run = _run(request, pk)
    fields = [(run.columns[one], one) for one in run.headings if run.columns.get(one)]
    headings = [
        gettext("Row"),
        gettext("Sorted as"),
        gettext("Why"),
        *(heading for _, heading in fields),
    ]

    def rows() -> Iterator[list[object]]:
        left = run.rows.exclude(verdict=_Verdict.READY).order_by("row")
        for one in left.iterator(chunk_size=500):
            typed = one.values.get("typed", {})
            why = " ".join(one.reasons)
            cells = [typed.get(field, "") for field, _ in fields]
            yield [one.row, str(_Verdict(one.verdict).label), why, *cells]

    return csv_answer(headings, rows(), name=f"left-over-{run.pk}")


def _run(request: UserRequest, pk: int) -> ReadingsFile:
    seen = ReadingsFile.objects.visible_to(request.user, Right.SEE)
    seen = seen.select_related("depot", "asked_by", "said_yes_by")
    run: ReadingsFile = find(seen, request.user, Right.WORK, depot="depot_id", pk=pk)
    return run


def _asked(request: UserRequest, form: ReadingsFileForm, *, status: int = 200) -> HttpResponse:
    try:
        sheet = RuleSheet.objects.on(today_at(request.user, now())).rules
        columns = list(columns_of(sheet).by_field.values())
    except RuleSheet.DoesNotExist:
        columns = []  # who brings a file is told so
    return render(
        request,
        "maintenance/add_readings_file.html",
        {"form": form, "columns": columns},
        status=status,
    )


def _form(request: UserRequest, run: ReadingsFile, data: Any = None) -> ReadingsSortForm:
    sheet = RuleSheet.objects.on(run.depot.day_of(now())).rules
    return ReadingsSortForm(data, run=run, sheet=sheet)


def _progress(run: ReadingsFile) -> dict[str, Any]:
    shown = brought.progress(run, saved=Q(test__isnull=False), saving="tests")
    return shown | {"addresses": brought.addresses("maintenance", _NAMES, run.pk)}


def _page(
    request: UserRequest,
    run: ReadingsFile,
    *,
    form: ReadingsSortForm | None = None,
    refused: str = "",
    status: int = 200,
) -> HttpResponse:
    context = brought.standing(run, request, _COUNTED) | {"refused": refused} | _progress(run)
    if context["total"] and not run.is_open:
        counted = run.rows.filter(verdict=_Verdict.READY).aggregate(
            fails=Count("pk", filter=Q(passes=False)),
            differs=Count("pk", filter=Q(differs=True)),
        )
        rows = context["rows"].select_related("machine", "test")
        context |= counted
        context["table"] = paged(ReadingsRowTable(rows), request, at=now())
        if run.step == _Step.ASK:
            context["form"] = form or _form(request, run)
            context["unmatched"] = [one for one in run.headings if one not in run.columns]
    return render(request, "maintenance/readings_file.html", context, status=status)
