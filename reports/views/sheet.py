"""Paper: ask for sheets, passports and labels, see how far they are, and take the files."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localtime, now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.models import Job
from plant.actions.refusal import Refused
from plant.actions.throttle import TooOften
from plant.http import UserRequest, anywhere, find, form_page, see
from plant.models import Depot, Machine
from plant.nudge import nudge
from plant.rights import Right, depots_where
from reports.actions import sheet as action
from reports.actions.sheet import ask_again, ask_sheets
from reports.contents import paper_words
from reports.contents.label import old_labels
from reports.contents.paper import paper_of
from reports.contents.today import with_progress
from reports.forms import BatchForm
from reports.models import Batch, Sheet
from reports.models.sheet import RIGHTS
from reports.tasks import print_batch


@login_required
@require_safe
def batch_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.SEE)
    batches = Batch.objects.visible_to(request.user).select_related("depot", "asked_by")
    page = Paginator(batches, 25).get_page(request.GET.get("page"))
    page.object_list = with_progress(list(page.object_list))
    may_ask = bool(depots_where(request.user, Right.LABEL))
    folders = Depot.objects.filter(
        pk__in=depots_where(request.user, RIGHTS[Batch.Kind.FOLDER][0])
    ).order_by("name")
    told = {
        "page": page,
        "may_ask": may_ask,
        "may_print_many": bool(depots_where(request.user, Right.PRINT_MANY)),
        "folders": folders,
    }
    return render(request, "reports/batch_list.html", told)


@login_required
@require_POST
def ask_sheet(request: UserRequest, pk: int) -> HttpResponse:
    """One service sheet of one machine."""
    return _ask_one(request, pk, Batch.Kind.SERVICE)


@login_required
@require_POST
def ask_job_sheet(request: UserRequest, pk: int) -> HttpResponse:
    """The service sheet of one job: with what was written of it, and room for the rest."""
    job = find(
        Job.objects.visible_to(request.user).select_related("machine__depot"),
        request.user,
        RIGHTS[Batch.Kind.SERVICE][0],
        depot="machine__depot_id",
        pk=pk,
    )
    batch = ask_sheets(
        depot=job.machine.depot, machines=[job.machine], by=request.user, at=now(), job=job
    )
    nudge(print_batch, batch.pk)
    return redirect("reports:batch", batch.pk)


@login_required
@require_POST
def ask_passport(request: UserRequest, pk: int) -> HttpResponse:
    """The passport of one machine."""
    return _ask_one(request, pk, Batch.Kind.PASSPORT)


@login_required
@require_POST
def ask_label(request: UserRequest, pk: int) -> HttpResponse:
    """The label of one machine, on its own or on A4. Its link stays as it is."""
    on_a4 = request.POST.get("on") == "a4"
    return _ask_one(request, pk, Batch.Kind.LABEL_SHEET if on_a4 else Batch.Kind.LABEL)


def _ask_one(request: UserRequest, pk: int, kind: Batch.Kind) -> HttpResponse:
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot"),
        request.user,
        RIGHTS[kind][0],
        depot="depot_id",
        pk=pk,
    )
    batch = ask_sheets(
        depot=machine.depot, machines=[machine], by=request.user, at=now(), kind=kind
    )
    nudge(print_batch, batch.pk)
    return redirect("reports:batch", batch.pk)


@login_required
@form_page
def ask_batch(request: UserRequest) -> HttpResponse:
    """Paper of many machines of one depot: what is due, all of a kind of number, or a list."""
    anywhere(request.user, Right.LABEL)
    sent = request.POST if request.method == "POST" else None
    form = BatchForm(sent, user=request.user, at=now())
    status = 200
    if request.method == "POST":
        if form.is_valid():
            depot = form.cleaned_data["depot"]
            try:
                batch = ask_sheets(
                    depot=depot, machines=form.machines(), by=request.user, at=now(),
                    kind=form.kind_asked(),
                )  # fmt: skip
            except TooOften:
                raise
            except Refused as refused:
                field = "which" if refused.field == "machines" else None
                form.add_error(field, str(refused))
            else:
                nudge(print_batch, batch.pk)
                return redirect("reports:batch", batch.pk)
        status = 422
    return render(request, "reports/ask_batch.html", {"form": form}, status=status)


def _batch(request: UserRequest, pk: int) -> Batch:
    seen = Batch.objects.visible_to(request.user, Right.SEE).select_related("depot", "asked_by")
    which: Batch = see(seen, request.user, pk=pk)
    found: Batch = find(seen, request.user, which.right, depot="depot_id", pk=pk)
    return with_progress([found])[0]


@login_required
@require_safe
def batch(request: UserRequest, pk: int) -> HttpResponse:
    found = _batch(request, pk)
    sheets = found.sheets.select_related(
        "machine", "record", "depot", "about__depot", "person"
    ).defer("content")
    page = Paginator(sheets, 100).get_page(request.GET.get("page"))
    return render(
        request,
        "reports/batch.html",
        {
            "batch": found,
            "page": page,
            "old": _old(found),
            "take_this": paper_words.take_this(found),
        },
    )


def _old(batch: Batch) -> str:
    """The warning that a file holds labels which open nothing any more."""
    if not batch.has_labels:
        return ""
    numbers = old_labels(batch.sheets.select_related("machine"))
    if not numbers:
        return ""
    named = ", ".join(numbers[:3])
    if len(numbers) > 3:
        named = _("{numbers} and {count} more").format(numbers=named, count=len(numbers) - 3)
    return _(
        "Replaced after this was printed: {numbers}. Fix none of these old labels; print new ones."
    ).format(numbers=named)


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
    said = (
        paper_words.printed_again(found, count) if count else paper_words.in_one_file_again(found)
    )
    messages.success(request, said)
    return redirect("reports:batch", pk)


@login_required
@require_POST
def stop_batch(request: UserRequest, pk: int) -> HttpResponse:
    found = _batch(request, pk)
    count = action.stop_batch(batch=found, by=request.user, at=now())
    nudge(print_batch, found.pk)
    said = paper_words.stopped(found, count) if count else _("Nothing waited any more.")
    messages.success(request, said)
    return redirect("reports:batch", pk)


@login_required
@require_safe
def batch_file(request: UserRequest, pk: int) -> FileResponse:
    found = _batch(request, pk)
    day = localtime(found.asked_at, found.depot.zone)
    name = f"{paper_of(found).file_name}s-{day:%Y-%m-%d}-{found.pk}.pdf"
    return _file(found.file, name)


@login_required
@require_safe
def sheet_file(request: UserRequest, pk: int) -> FileResponse:
    seen = Sheet.objects.visible_to(request.user, Right.SEE).select_related("machine", "batch")
    which: Sheet = see(seen, request.user, pk=pk)
    found: Sheet = find(seen, request.user, which.batch.right, depot="depot_id", pk=pk)
    of = f"{found.machine.number_key}-" if found.machine else ""
    name = f"{paper_of(found.batch).file_name}-{of}{found.pk}.pdf"
    return _file(found.file, name)


def _file(file: FieldFile, name: str) -> FileResponse:
    try:
        content = file.open("rb")
    except (ValueError, FileNotFoundError) as missing:
        raise Http404(_("not printed yet, or taken off the disk")) from missing
    response = FileResponse(content, as_attachment=True, filename=name)
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return response
