"""Finding a fault on a job: the symptom, one test at a time, and the end of it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.actions import finding as action
from maintenance.contents import finding as contents
from maintenance.contents.belt_change import to_change
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.finding import (
    AnswerForm,
    CountForm,
    FindFaultForm,
    GuardsBackForm,
    StepForm,
    SymptomForm,
    TurnsForm,
)
from maintenance.forms.job import BareForm, IsolateForm
from maintenance.models import Finding, Job
from plant.actions.refusal import Refused
from plant.drives.errors import DriveError
from plant.http import UserRequest, find, form_page
from plant.models import Drive, Machine
from plant.rights import Right

# The readings that answer a test by themselves, and the page on which each is taken.
_MEASURED: dict[str, tuple[str, str]] = {
    "width": (gettext_noop("Measure width"), "add_width"),
    "tension": (gettext_noop("Measure tension"), "add_tension"),
    "slot": (gettext_noop("Read the slot"), "add_slot"),
    "alignment": (gettext_noop("Measure the gaps"), "add_alignment"),
    "groove": (gettext_noop("Gauge the groove"), "add_pulley"),
}
# Pages of causes that may end in another belt.
_CHANGES = ("width", "drive")
# What the buttons of the page do: the form each comes with.
_FORMS: dict[str, type[EntryForm]] = {
    "answer": AnswerForm,
    "count": CountForm,
    "turns": TurnsForm,
    "take back": StepForm,
    "isolate": IsolateForm,
    "run": GuardsBackForm,
    "seal": BareForm,
}


@login_required
@form_page
def find_fault(request: UserRequest, pk: int) -> HttpResponse:
    """From the machine: which symptom, and for which job."""
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user, Right.WORK, depot="depot_id", pk=pk,
    )  # fmt: skip
    at = now()
    held = contents.list_on(machine.depot.day_of(at))
    symptoms = held.symptoms_for(contents.kind_of(machine))
    form = FindFaultForm(**sent(request), machine=machine, symptoms=symptoms)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            job = action.find_fault(
                machine=machine, symptom=given["symptom"], job=given.get("job"), at=at,
                by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            return redirect("maintenance:finding", job.pk)
    return _begin_page(request, form, machine=machine, job=None, any_symptoms=bool(symptoms))


@login_required
@form_page
def finding(request: UserRequest, pk: int) -> HttpResponse:
    """The finding of one job: begun, gone on with, and sealed on one page."""
    job = find(
        Job.objects.visible_to(request.user).select_related(
            "machine__depot", "machine__kind", "isolated_by"
        ),
        request.user, Right.WORK, depot="machine__depot_id", pk=pk,
    )  # fmt: skip
    current = job.findings.under_way().select_related("sheet").first()
    if current is None:
        if request.POST.get("do") in _FORMS:
            messages.warning(request, _("That finding is sealed. Nothing was added to it."))
            return redirect(request.path)
        return _begin(request, job)
    current.job = job
    do = request.POST.get("do", "")
    form: EntryForm | None = None
    if request.method == "POST":
        form = _FORMS.get(do, BareForm)(**sent(request))
        try:
            if do not in _FORMS:
                raise Refused(_("Press one of the buttons. Nothing was saved."))
            if form.is_valid():
                _act(request, current, do, form)
                return redirect(request.path)
        except Refused as refused:
            form.refuse(refused)
    return _page(request, current, do=do, form=form)


def _begin(request: UserRequest, job: Job) -> HttpResponse:
    at = now()
    held = contents.list_on(job.machine.depot.day_of(at))
    symptoms = held.symptoms_for(contents.kind_of(job.machine))
    form = SymptomForm(**sent(request), symptoms=symptoms)
    if request.method == "POST" and form.is_valid():
        try:
            action.begin_finding(
                job=job, symptom=form.cleaned_data["symptom"], at=at, by=request.user
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            return redirect(request.path)
    return _begin_page(request, form, machine=job.machine, job=job, any_symptoms=bool(symptoms))


def _begin_page(
    request: UserRequest,
    form: SymptomForm,
    *,
    machine: Machine,
    job: Job | None,
    any_symptoms: bool,
) -> HttpResponse:
    ended = [contents.ended(each) for each in contents.ended_of(job)] if job else []
    return render(
        request,
        "maintenance/find_fault.html",
        {
            "machine": machine,
            "job": job,
            "form": form,
            "any_symptoms": any_symptoms,
            "may_begin": any_symptoms and (job is None or contents.may_find(job)),
            "ended": ended,
            "drives": machine.drives.filter(kind=Drive.Kind.BELT),
            # What a worn, broken, oily or wrong belt, or a worn groove, comes to.
            "to_change": to_change(job) if job and ended and ended[0].page in _CHANGES else (),
        },
        status=422 if form.errors else 200,
    )


def _act(request: UserRequest, current: Finding, do: str, form: EntryForm) -> None:
    """Does what the button says.

    Raises:
        Refused: it cannot be done; the words say why.
    """
    at, by, given = now(), request.user, form.cleaned_data
    if do == "answer":
        action.answer_test(
            finding=current, test=given["test"], answer=given["answer"], at=at, by=by
        )
    elif do == "count":
        action.count_reading(finding=current, test=given["test"], at=at, by=by)
    elif do == "turns":
        _count(current, turns=given["turns"], seconds=given["seconds"], request=request)
    elif do == "take back":
        action.take_back(finding=current, step=given["step"], at=at, by=by)
    elif do == "isolate":
        action.isolate_for(finding=current, confirmed=given["confirmed"], at=at, by=by)
    elif do == "run":
        action.run_again(finding=current, confirmed=given["guards_back"], at=at, by=by)
    else:
        record = action.end_finding(
            finding=current, at=at, by=by, shown=request.POST.get("cause"),
            record_id=given["entry"],
        )  # fmt: skip
        messages.success(request, _("Sealed as record {record}.").format(record=record.number))


def _count(current: Finding, *, turns: int, seconds: int, request: UserRequest) -> None:
    at = now()
    expected = contents.turns_of(current.job.machine, at=at)
    test = next((t for t in current.sheet.finding.tests if t.reading == "turns"), None)
    if expected is None or test is None:
        raise Refused(_("The drive's data do not say how fast it turns. Choose an answer instead."))
    try:
        verdict, told = contents.judge_turns(expected.drive, turns=turns, seconds=seconds, at=at)
    except DriveError as odd:
        raise Refused(
            _("That count fits no drive like this: {odd}. Not saved. Count again.").format(odd=odd)
        ) from odd
    if not verdict:
        raise Refused(
            _("{told}: too doubtful to tell. Not saved. Count for a minute or longer.").format(
                told=told
            )
        )
    action.answer_test(
        finding=current, test=test.key, answer=test.verdicts[verdict], figures=told, at=at,
        by=request.user,
    )  # fmt: skip


def _page(
    request: UserRequest, current: Finding, *, do: str, form: EntryForm | None
) -> HttpResponse:
    at = now()
    job = current.job
    standing = contents.finding_now(current, at=at)
    asked = request.GET.get("test", "")
    chosen = next((each for each in standing.best if each.test.key == asked), None)
    upcoming = chosen or next(iter(standing.best), None)
    reading = upcoming.test.reading if upcoming else ""
    return render(
        request,
        "maintenance/finding.html",
        {
            "job": job,
            "machine": job.machine,
            "now_": standing,
            "next": upcoming,
            "chosen": chosen is not None,
            "others": [each for each in standing.best if each is not upcoming],
            "measure": _measures(job, reading),
            "turns": contents.turns_of(job.machine, at=at) if reading == "turns" else None,
            "turns_form": form if do == "turns" and form is not None else TurnsForm(),
            "isolate_form": form if do == "isolate" and form is not None else IsolateForm(),
            "guards_form": form if do == "run" and form is not None else GuardsBackForm(),
            "bare_form": BareForm(),
            "stops": job.machine.stops.standing(),
            "wrong": _wrong(form),
        },
        status=422 if form is not None and form.errors else 200,
    )


def _measures(job: Job, reading: str) -> list[tuple[str, str]]:
    """Where the reading is taken that answers a test: what is pressed, and the address."""
    if reading not in _MEASURED:
        return []
    asked, name = _MEASURED[reading]
    words = _(asked)
    drives = job.machine.drives.filter(kind=Drive.Kind.BELT)
    several = len(drives) > 1
    return [
        (
            f"{words}: {drive.name}" if several else words,
            f"{reverse(f'maintenance:{name}', args=[drive.pk])}?job={job.pk}",
        )
        for drive in drives
    ]


def _wrong(form: EntryForm | None) -> str:
    """What is wrong, above the page; the field that it is about may not be on it."""
    if form is None or not form.errors:
        return ""
    told = " ".join(str(each) for each in form.non_field_errors())
    return told or _("Not saved. Look at what is marked, or press one of the answers.")
