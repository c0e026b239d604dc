"""The check and the fault report: by who is signed in, and by the machine's label."""

import uuid
from math import ceil
from typing import Any
from urllib.parse import quote, unquote

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.permit import permit_for_label, permit_for_person
from maintenance.actions.stop import stop_machine
from maintenance.contents.answer import Reply, jobs_of, reply
from maintenance.contents.check_due import wanted_of
from maintenance.contents.fitness import fitness_of, wants_of
from maintenance.contents.meter import asked_at_check, read_at_check
from maintenance.contents.record import LATE_NEWS
from maintenance.forms.check import CheckForm, FaultForm, StopForm
from maintenance.forms.entry import sent
from maintenance.models import Check, Job, Stop
from maintenance.rules.fitness import DO_NOT_USE, NOT_YET_PASSED, first_look_wanted
from maintenance.rules.sheet import Question
from maintenance.views.told import (
    KINDS,
    is_receipt,
    remember_told,
    sent_address,
    told_here,
    told_of,
)
from plant.actions.label import TooManyEntries, count_label_entry
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page, leave_practice, phone_of
from plant.models import Drive, Machine, Record, User
from plant.rights import NotAllowed, Right, may
from plant.security_log import note

NAME_COOKIE = "name_at_label"
SHOWN_AT_LABEL = 5
_YEAR = 365 * 24 * 3600


@login_required
@form_page
def check(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.CHECK)
    return _check(request, machine, by=request.user)


@login_required
@form_page
def fault(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.CHECK)
    return _fault(request, machine, by=request.user)


@login_required
@form_page
def stop(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.STOP)
    return _stop(request, machine, by=request.user)


@login_required
@require_safe
def sent_entry(request: UserRequest, pk: uuid.UUID) -> HttpResponse:
    """What came of a check, a report or a stop."""
    record = find(
        Record.objects.visible_to(request.user).filter(machine__isnull=False),
        request.user,
        Right.SEE,
        depot="depot_id",
        pk=pk,
    )
    assert record.machine is not None
    return _sent(request, record.machine, record, code="")


@require_safe
def label(request: HttpRequest, code: str) -> HttpResponse:
    """The page behind a machine's label: that machine, and nothing else."""
    machine = _labelled(request, code)
    if machine is None:
        return redirect("plant:sign_in")
    at = now()
    seen = _may(request, Right.SEE, machine)
    return render(
        request,
        "maintenance/label.html",
        {
            "machine": machine,
            "code": code,
            "fitness": fitness_of(machine, machine.depot.day_of(at)),
            "wanted": wanted_of(machine, at=at),
            "seen": seen,
            "drives": _drives_to_measure(request, machine),
            "may_read": _may(request, Right.CHECK, machine),
            "may_test": _may(request, Right.WORK, machine),
            "told": _told_here(request, machine),
            "sign_in_here": None if request.user.is_authenticated else phone_of(request),
        },
    )


def _may(request: HttpRequest, right: Right, machine: Machine) -> bool:
    return isinstance(request.user, User) and may(request.user, right, machine.depot_id)


def _drives_to_measure(request: HttpRequest, machine: Machine) -> list[Drive]:
    """The belt drives of the machine, for who measures them."""
    if not _may(request, Right.WORK, machine):
        return []
    return list(machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage"))


@form_page
def label_check(request: HttpRequest, code: str) -> HttpResponse:
    machine = _labelled(request, code)
    if machine is None:
        return redirect("plant:sign_in")
    return _check(request, machine, by=_signed_in(request, machine), code=code)


@form_page
def label_fault(request: HttpRequest, code: str) -> HttpResponse:
    machine = _labelled(request, code)
    if machine is None:
        return redirect("plant:sign_in")
    return _fault(request, machine, by=_signed_in(request, machine), code=code)


@form_page
def label_stop(request: HttpRequest, code: str) -> HttpResponse:
    machine = _labelled(request, code)
    if machine is None:
        return redirect("plant:sign_in")
    return _stop(request, machine, by=_signed_in(request, machine), code=code)


@require_safe
def label_sent(request: HttpRequest, code: str, pk: uuid.UUID) -> HttpResponse:
    machine = _labelled(request, code)
    if machine is None:
        return redirect("plant:sign_in")
    record = Record.objects.filter(pk=pk, machine=machine, kind__in=KINDS).first()
    if record is None:
        raise Http404
    receipt = request.GET.get("receipt")
    if receipt is not None:
        # Kept with the phone and taken out of the address, which people show to others.
        response = redirect(sent_address(record, code=code))
        if record.by_id is None and is_receipt(receipt, record):
            remember_told(request, response, record)
        return response
    return _sent(request, machine, record, code=code)


def _told_here(request: HttpRequest, machine: Machine) -> list[tuple[Record, list[Reply]]]:
    """What this phone told of the machine by its label, with the present answers."""
    records = told_of(request, machine)[:SHOWN_AT_LABEL]
    jobs = list(jobs_of(records))
    found = []
    for record in records:
        raised = {stop.job_id for stop in record.stops_made.all()}
        found.append((record, [reply(job, own=True) for job in jobs if job.pk in raised]))
    return found


def _found(request: UserRequest, pk: int, right: Right) -> Machine:
    return find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )


def _labelled(request: HttpRequest, code: str) -> Machine | None:
    """The machine of a label; an unknown code and a depot that says no are answered alike."""
    machine = Machine.objects.select_related("depot", "kind").filter(label_code=code).first()
    if machine is None:
        return None
    if isinstance(request.user, User) and request.user.practising and not machine.depot.is_practice:
        # Somebody stands before a real machine: nothing may say there that it does not count.
        leave_practice(request)
        messages.info(request, gettext("Practice has ended: this is a real machine."))
    seen = _may(request, Right.SEE, machine)
    return machine if seen or machine.depot.checks_by_label else None


def _signed_in(request: HttpRequest, machine: Machine) -> User | None:
    """Who signs at a label: the account where it may, else whoever gives a name."""
    if isinstance(request.user, User) and may(request.user, Right.CHECK, machine.depot_id):
        return request.user
    if not machine.depot.checks_by_label:
        raise NotAllowed(gettext("This depot takes nothing by label."))
    return None


def _questions(machine: Machine) -> tuple[Question, ...]:
    try:
        return questions(machine, at=now())[1]
    except Refused:
        return ()


def _check(
    request: HttpRequest, machine: Machine, *, by: User | None, code: str = ""
) -> HttpResponse:
    at = now()
    try:
        _, asked = questions(machine, at=at)
    except Refused as refused:
        return render(
            request,
            "maintenance/check.html",
            {"machine": machine, "code": code, "cannot": str(refused)},
        )
    held = _held_back(request, by=by, code=code)
    form = CheckForm(
        **_sent_unless(held, request),
        questions=asked,
        ask_name=by is None,
        ask_meter=machine.has_meter,
        counts=asked_at_check(machine),
        initial=_kept_name(request),
    )
    if request.method == "POST" and not held and form.is_valid():
        given = form.cleaned_data
        try:
            done = record_check(
                machine=machine,
                answers=form.given(),
                at=at,
                by=by,
                by_name=given.get("by_name", ""),
                by_label=bool(code),
                photos=form.photos_kept(),
                dial=form.figure(),
                counts=form.counted(),
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            return _onward(request, done.record, code=code, name=given.get("by_name", ""))
    return _page(request, "maintenance/check.html", form, held, machine=machine, by=by, code=code)


def _fault(
    request: HttpRequest, machine: Machine, *, by: User | None, code: str = ""
) -> HttpResponse:
    held = _held_back(request, by=by, code=code)
    form = FaultForm(
        **_sent_unless(held, request),
        questions=_questions(machine),
        ask_name=by is None,
        initial=_kept_name(request),
    )
    if request.method == "POST" and not held and form.is_valid():
        given = form.cleaned_data
        photo = given["photo"]
        try:
            report_fault(
                machine=machine,
                part=given["part"],
                told=given["told"],
                stop_now=given["stop"] == form.STOP,
                at=now(),
                by=by,
                by_name=given.get("by_name", ""),
                by_label=bool(code),
                photos={"photo": photo} if photo else None,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            record = Record.objects.get(pk=given["entry"])
            return _onward(request, record, code=code, name=given.get("by_name", ""))
    return _page(request, "maintenance/fault.html", form, held, machine=machine, by=by, code=code)


def _stop(
    request: HttpRequest, machine: Machine, *, by: User | None, code: str = ""
) -> HttpResponse:
    held = _held_back(request, by=by, code=code)
    form = StopForm(**_sent_unless(held, request), ask_name=by is None, initial=_kept_name(request))
    if request.method == "POST" and not held and form.is_valid():
        given = form.cleaned_data
        try:
            made = stop_machine(
                machine=machine,
                told=given["told"],
                at=now(),
                by=by,
                by_name=given.get("by_name", ""),
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            return _onward(request, made.record, code=code, name=given.get("by_name", ""))
    return _page(request, "maintenance/stop.html", form, held, machine=machine, by=by, code=code)


def _held_back(request: HttpRequest, *, by: User | None, code: str) -> TooManyEntries | None:
    """Why nothing more is taken by this label now; None when something is."""
    if request.method != "POST" or by is not None:
        return None
    address = request.META.get("REMOTE_ADDR", "")
    try:
        count_label_entry(code=code, address=address, at=now())
    except TooManyEntries as held:
        note("label held back")
        return held
    return None


def _sent_unless(held: TooManyEntries | None, request: HttpRequest) -> dict[str, Any]:
    """What was sent; the photo of who is held back is not even looked at."""
    return {"data": request.POST} if held else sent(request)


def _page(
    request: HttpRequest,
    template: str,
    form: Any,
    held: TooManyEntries | None,
    *,
    machine: Machine,
    by: User | None,
    code: str,
) -> HttpResponse:
    more = {
        "machine": machine,
        "code": code,
        # What the phone needs when the signal goes while the form is filled in.
        "mark": fitness_of(machine, machine.depot.day_of(now())).mark,
        "first_look": first_look_wanted(wants_of(machine)),
        "permit": (
            permit_for_person(user=by, depot_id=machine.depot_id)
            if by
            else permit_for_label(machine)
        ),
    }
    if held:
        form.add_error(None, str(held))
    response = render(request, template, {"form": form, **more}, status=422 if form.errors else 200)
    if held:
        response.status_code = 429
        response.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
    return response


def _onward(request: HttpRequest, record: Record, *, code: str, name: str) -> HttpResponse:
    address = (
        reverse("maintenance:label_sent", args=[code, record.pk])
        if code
        else reverse("maintenance:sent", args=[record.pk])
    )
    response = redirect(address)
    if name:
        remember_told(request, response, record)
        # Kept as plain letters: a cookie carries no others.
        response.set_cookie(
            NAME_COOKIE,
            quote(name),
            max_age=_YEAR,
            path="/q/",
            secure=settings.TLS,
            httponly=True,
            samesite="Lax",
        )
    return response


def _kept_name(request: HttpRequest) -> dict[str, str]:
    return {"by_name": unquote(request.COOKIES.get(NAME_COOKIE, ""))[:80]}


def _sent(request: HttpRequest, machine: Machine, record: Record, *, code: str) -> HttpResponse:
    at = now()
    fitness = fitness_of(machine, machine.depot.day_of(at))
    user = request.user if isinstance(request.user, User) else None
    seen = user is not None and may(user, Right.SEE, machine.depot_id)
    own = seen or record.pk in told_here(request)
    replies = [reply(job, own=own) for job in jobs_of([record])]
    stands = Job.objects.open().filter(stops__in=Stop.objects.standing().filter(machine=machine))
    mine = [each.job.pk for each in replies]
    check = Check.objects.filter(record=record).first()
    return render(
        request,
        "maintenance/sent.html",
        {
            "machine": machine,
            "record": record,
            "code": code,
            "fitness": fitness,
            "replies": replies,
            "standing": stands.exclude(pk__in=mine).distinct().order_by("pk"),
            "stopped": fitness.mark == DO_NOT_USE,
            "not_passed": fitness.mark == NOT_YET_PASSED,
            "wanted": wanted_of(machine, at=at),
            "check": check,
            "readings": read_at_check(record) if check else (),
            "may_print": user is not None and may(user, Right.PRINT, machine.depot_id),
            "late": record.received_at - record.happened_at > LATE_NEWS,
        },
    )
