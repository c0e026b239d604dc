"""Paper: ask for sheets, see how far they are, and take the files."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localtime, now
from django.views.decorators.http import require_POST, require_safe

from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page
from plant.models import Machine
from plant.nudge import nudge
from plant.rights import Right
from reports.actions.sheet import ask_again, ask_sheets
from reports.contents.today import with_progress
from reports.forms import BatchForm
from reports.models import Batch, Sheet
from reports.tasks import print_batch


@login_required
@require_safe
def batch_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.PRINT)
    batches = Batch.objects.visible_to(request.user).select_related("depot", "asked_by")
    page = Paginator(batches, 25).get_page(request.GET.get("page"))
    page.object_list = with_progress(list(page.object_list))
    return render(request, "reports/batch_list.html", {"page": page})


@login_required
@require_POST
def ask_sheet(request: UserRequest, pk: int) -> HttpResponse:
    """One service sheet of one machine."""
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot"),
        request.user,
        Right.PRINT,
        depot="depot_id",
        pk=pk,
    )
    batch = ask_sheets(depot=machine.depot, machines=[machine], by=request.user, at=now())
    nudge(print_batch, batch.pk)
    return redirect("reports:batch", batch.pk)


@login_required
@form_page
def ask_batch(request: UserRequest) -> HttpResponse:
    """Service sheets of many machines of one depot: what is due, or a list of numbers."""
    anywhere(request.user, Right.PRINT_MANY)
    sent = request.POST if request.method == "POST" else None
    form = BatchForm(sent, user=request.user, at=now())
    status = 200
    if request.method == "POST":
        if form.is_valid():
            depot = form.cleaned_data["depot"]
            try:
                batch = ask_sheets(depot=depot, machines=form.machines(), by=request.user, at=now())
            except Refused as refused:
                field = "which" if refused.field == "machines" else None
                form.add_error(field, str(refused))
            else:
                nudge(print_batch, batch.pk)
                return redirect("reports:batch", batch.pk)
        status = 422
    return render(request, "reports/ask_batch.html", {"form": form}, status=status)


def _batch(request: UserRequest, pk: int, right: Right = Right.PRINT) -> Batch:
    found: Batch = find(
        Batch.objects.visible_to(request.user, Right.SEE).select_related("depot", "asked_by"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )
    return with_progress([found])[0]


@login_required
@require_safe
def batch(request: UserRequest, pk: int) -> HttpResponse:
    found = _batch(request, pk)
    sheets = found.sheets.select_related("machine", "record", "depot").defer("content")
    page = Paginator(sheets, 100).get_page(request.GET.get("page"))
    return render(request, "reports/batch.html", {"batch": found, "page": page})


@login_required
@require_safe
def batch_progress(request: UserRequest, pk: int) -> HttpResponse:
    """How far the batch is; when it has ended the whole page is asked for once more."""
    found = _batch(request, pk)
    response = render(request, "reports/_progress.html", {"batch": found})
    if not found.is_open:
        response.headers["HX-Refresh"] = "true"
    return response


@login_required
@require_POST
def retry_batch(request: UserRequest, pk: int) -> HttpResponse:
    found = _batch(request, pk)
    count = ask_again(batch=found, by=request.user)
    nudge(print_batch, found.pk)
    sheets = "1 sheet is" if count == 1 else f"{count} sheets are"
    messages.success(
        request, f"{sheets} printed again." if count else "The sheets are put into one file again."
    )
    return redirect("reports:batch", pk)


@login_required
@require_safe
def batch_file(request: UserRequest, pk: int) -> FileResponse:
    found = _batch(request, pk)
    day = localtime(found.asked_at, found.depot.zone)
    return _file(found.file, f"service-sheets-{day:%Y-%m-%d}-{found.pk}.pdf")


@login_required
@require_safe
def sheet_file(request: UserRequest, pk: int) -> FileResponse:
    found: Sheet = find(
        Sheet.objects.visible_to(request.user, Right.SEE).select_related("machine"),
        request.user,
        Right.PRINT,
        depot="depot_id",
        pk=pk,
    )
    return _file(found.file, f"service-sheet-{found.machine.number_key}-{found.pk}.pdf")


def _file(file: FieldFile, name: str) -> FileResponse:
    try:
        content = file.open("rb")
    except (ValueError, FileNotFoundError) as missing:
        raise Http404("not printed yet, or taken off the disk") from missing
    response = FileResponse(content, as_attachment=True, filename=name)
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return response
