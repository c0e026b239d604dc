"""The list of jobs, one job's page, and each act on it."""

from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count, Exists, OuterRef, QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_safe

from maintenance.actions import job as action
from maintenance.actions import work_done
from maintenance.actions.answer import is_told
from maintenance.contents import step as step_contents
from maintenance.contents.answer import FREED, replies
from maintenance.contents.belt_change import fitted_words, to_change
from maintenance.contents.competence import standing
from maintenance.contents.cost import sees_money
from maintenance.contents.finding import cause_choices, kind_of, list_on
from maintenance.contents.job import LATE, asked_for, came_back, in_usual_order
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.job import (
    BareForm,
    CallOffForm,
    CountersignForm,
    FinishForm,
    GiveOutForm,
    IsolateForm,
    JobFilter,
    OpenJobForm,
    ReasonForm,
    WaitForm,
)
from maintenance.models import Job, Skill, StockMove
from maintenance.tables import JobTable, paged
from maintenance.tasks import raise_due_of
from maintenance.views.acted import acted
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, csv_answer, find, form_page, today_at
from plant.models import Machine
from plant.nudge import nudge
from plant.rights import Right, depots_where, may

_HEADINGS = (
    "Job",
    "Machine",
    "Kind",
    "Depot",
    "What",
    "Kind of work",
    "Safety",
    "How far it is",
    "Waits for",
    "Expected on",
    "Opened",
    "Due on",
    "With",
    "For the day",
    "Promised for",
    "Back again of",
)
# The cookie that keeps the order of the list.
ORDER = "jobs-order"
KEPT_S = 90 * 24 * 3600
_START = {"test": gettext_noop("Start the test"), "order": gettext_noop("Start the order")}
_ISOLATE = gettext_noop(
    "Machine can start or move by itself. Unplug it, or shut the fuel off, first."
)


@login_required
@require_safe
def job_list(request: UserRequest) -> HttpResponseBase:
    anywhere(request.user, Right.SEE)
    at = now()
    form = JobFilter(request.GET, user=request.user)
    kept = form.kept()
    on = today_at(request.user, at)
    jobs = asked_for(request.user, kept, on=on)
    by_state = dict(
        jobs.open()
        .order_by()
        .values_list("state")
        .annotate(count=Count("pk"))
        .values_list("state", "count")
    )
    state = kept.get("state", "")
    if not state:
        jobs = jobs.open()
    elif state != "all":
        jobs = jobs.filter(state=state)
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        return _file(jobs.order_by("-pk"), on)
    waits = bool(kept.get("waiting")) or kept.get("flag") == LATE or state == Job.State.WAITING
    order = _order(request)
    shown = jobs if order else in_usual_order(jobs, request.user, waits=waits)
    table = paged(JobTable(shown, on=on, order_by=order), request, at=at)
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    counts = [
        (value, word, by_state[value]) for value, word in Job.State.choices if by_state.get(value)
    ]
    page = render(
        request,
        "maintenance/job_list.html",
        {
            "form": form,
            "table": table,
            "counts": counts,
            "open": sum(by_state.values()),
            "ordered": bool(order),
            "may_work": bool(depots_where(request.user, Right.WORK)),
        },
    )
    if order:
        page.set_cookie(
            ORDER, order[0], max_age=KEPT_S, httponly=True, samesite="Lax",
            secure=settings.SESSION_COOKIE_SECURE,
        )  # fmt: skip
    else:
        page.delete_cookie(ORDER)
    return page


def _order(request: UserRequest) -> tuple[str, ...]:
    """The order asked for; else the one that this person asked for last; else none."""
    asked = request.GET.get("sort", "")
    kept = "" if request.GET.get("order") == "usual" else request.COOKIES.get(ORDER, "")
    for order in (asked, kept):
        if order.removeprefix("-") in JobTable.base_columns:
            return (order,)
    return ()


def _file(jobs: QuerySet[Job], on: date) -> StreamingHttpResponse:
    def rows() -> Iterator[tuple[object, ...]]:
        for each in jobs.iterator(chunk_size=2000):
            machine = each.machine
            yield (
                each.number, machine.number, machine.kind.name, machine.depot.name, each.title,
                each.get_kind_display(), each.is_safety, each.get_state_display(),
                each.waiting_for, each.expected_on, each.opened_at, each.due_on,
                each.given_to.name if each.given_to else "", each.given_for, each.promised_at,
                each.back_again_of.number if each.back_again_of else "",
            )  # fmt: skip

    return csv_answer(_HEADINGS, rows(), name=f"jobs-{on}")


@login_required
@require_safe
def back_again(request: UserRequest) -> HttpResponse:
    """How often mended machines come back within 30 days, by kind."""
    anywhere(request.user, Right.WORK)
    found, since, until = came_back(request.user, at=now())
    return render(
        request,
        "maintenance/back_again.html",
        {
            "rows": found,
            "since": since,
            "until": until,
            "closed": sum(row.closed for row in found),
            "again": sum(row.again for row in found),
        },
    )


@login_required
@require_safe
def job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.SEE)
    stops = found.stops.select_related("record__by", "released_by").prefetch_related(
        "record__texts"
    )
    standing = [stop for stop in stops if stop.released_by_id is None]
    looked_over = found.is_safety and found.kind != Job.Kind.TEST
    steps, steps_open = step_contents.told(found)
    return render(
        request,
        "maintenance/job.html",
        {
            "job": found,
            "machine": found.machine,
            "stops": stops,
            "reply": replies([found])[0],
            "told": bool(stops) or found.opened_by_record_id is not None,
            "has_it": found.has_it_id == request.user.pk,
            "needs_release": bool(standing) or looked_over,
            "learner_did": found.machine.depot.is_practice
            and found.labour.filter(learner=True).exists(),
            "labour": found.labour.select_related("person", "record").prefetch_related(
                "record__texts"
            ),
            "parts": [
                (part, new_id())
                for part in found.parts.annotate(
                    from_stock=Exists(StockMove.objects.filter(used=OuterRef("pk")))
                ).order_by("pk")
            ],
            "drives": found.machine.drives.all(),
            "to_change": to_change(found),
            "came_back": found.back_again.order_by("pk"),
            "sees_money": sees_money(request.user, found.machine.depot),
            "steps": steps,
            "steps_open": steps_open,
            "findings": found.findings.select_related("record", "sheet"),
            "finds": bool(
                list_on(today_at(request.user, now())).symptoms_for(kind_of(found.machine))
            ),
            "can": {
                right.name.lower(): may(request.user, right, found.machine.depot_id)
                for right in Right
            },
        },
    )


@login_required
@form_page
def add_job(request: UserRequest, pk: int) -> HttpResponse:
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        Right.WORK,
        depot="depot_id",
        pk=pk,
    )
    form = OpenJobForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            made = action.open_job(
                machine=machine,
                kind=Job.Kind(given["kind"]),
                title=given["title"],
                symptom=given["symptom"],
                is_safety=given["is_safety"],
                at=now(),
                by=request.user,
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Job {made} opened.").format(made=made.number))
            return redirect("maintenance:job", made.pk)
    return _act_page(
        request, form, machine=machine, title=_("Open a job"), button=_("Open the job")
    )


@login_required
@form_page
def give_out_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.GIVE_OUT)
    form = GiveOutForm(
        **sent(request),
        depot_id=found.machine.depot_id,
        initial={
            "to": found.given_to_id,
            "for_day": found.given_for or today_at(request.user, now()),
        },
    )

    def act(given: dict[str, Any]) -> Job:
        return action.give_out(
            job=found, to=given["to"], for_day=given["for_day"], at=now(), by=request.user
        )

    return _act(request, found, form, act, title=_("Give out"), button=_("Give it out"))


@login_required
@form_page
def start_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.WORK)
    form = IsolateForm(**sent(request)) if found.needs_isolation else BareForm(**sent(request))

    def act(given: dict[str, Any]) -> Job:
        return action.start_job(
            job=found, confirmed=given.get("confirmed", []), at=now(), by=request.user
        )

    return _act(
        request,
        found,
        form,
        act,
        title=_("Isolate, then start") if found.needs_isolation else _(_START.get(found.kind, "")),
        button=_("Start the job"),
        care=_(_ISOLATE) if found.needs_isolation else "",
        reason="isolate" if found.needs_isolation else "",
    )


@login_required
@form_page
def isolate_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.WORK)
    form = IsolateForm(**sent(request))

    def act(given: dict[str, Any]) -> Job:
        return action.isolate_job(
            job=found, confirmed=given["confirmed"], at=now(), by=request.user
        )

    return _act(
        request,
        found,
        form,
        act,
        title=_("Isolate afresh"),
        button=_("It is isolated"),
        care=_(_ISOLATE),
        reason="isolate",
    )


@login_required
@form_page
def wait_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.WORK)
    form = WaitForm(
        **sent(request),
        initial={"waiting_for": found.waiting_for, "expected_on": found.expected_on},
    )

    def act(given: dict[str, Any]) -> Job:
        return action.wait_job(
            job=found,
            waiting_for=given["waiting_for"],
            expected_on=given["expected_on"],
            at=now(),
            by=request.user,
        )

    return _act(request, found, form, act, title=_("Put it down to wait"), button=_("Let it wait"))


@login_required
@form_page
def finish_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.WORK)
    causes, ended_in = cause_choices(found, on=today_at(request.user, now()))
    begun = {
        "symptom": found.symptom or (causes[0][0] if ended_in else ""),
        "listed": ended_in,
        "action": fitted_words(found),
    }
    form = FinishForm(**sent(request), causes=causes, initial=begun)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            work_done.finish_job(
                job=found,
                symptom=given["symptom"],
                cause=given["cause"],
                action=given["action"],
                minutes=given["minutes"],
                parts=form.parts(),
                listed=given.get("listed", ""),
                at=now(),
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Work done: saved and sealed."))
            return redirect("maintenance:job", found.pk)
    return render(
        request,
        "maintenance/finish_job.html",
        {
            "job": found,
            "machine": found.machine,
            "form": form,
            "being_found": found.findings.under_way().exists(),
            "labour": found.labour.select_related("person"),
            "parts": found.parts.all(),
            "steps_open": step_contents.told(found)[1] if found.state == "under way" else 0,
        },
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def send_back_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.RELEASE)
    form = ReasonForm(**sent(request))

    def act(given: dict[str, Any]) -> Job:
        return work_done.send_back_job(
            job=found, reason=given["reason"], at=now(), by=request.user, record_id=given["entry"]
        )

    return _act(request, found, form, act, title=_("Send it back"), button=_("Send it back"))


@login_required
@form_page
def countersign_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.RELEASE)
    form = CountersignForm(**sent(request))
    at = now()
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            work_done.countersign_job(
                job=found, note=given["note"], at=at, by=request.user, record_id=given["entry"]
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, _("{found}: countersigned and sealed.").format(found=found.number)
            )
            return redirect("maintenance:job", found.pk)
    competence = standing(
        request.user, depot_id=found.machine.depot_id, skill=Skill.COUNTERSIGN,
        family=found.machine.kind.family, on=found.machine.depot.day_of(at),
    )  # fmt: skip
    return render(
        request,
        "maintenance/countersign.html",
        {
            "job": found,
            "machine": found.machine,
            "form": form,
            "labour": found.labour.select_related("person"),
            "steps": step_contents.told(found)[0],
            "cannot": competence.refusal if request.method != "POST" else "",
        },
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def close_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.RELEASE)
    form = BareForm(**sent(request))

    def act(given: dict[str, Any]) -> Job:
        closed = work_done.close_job(job=found, at=now(), by=request.user)
        nudge(raise_due_of, found.machine.depot_id)
        return closed

    return _act(
        request,
        found,
        form,
        act,
        title=_("Check and close"),
        button=_("It is checked: close it"),
        care=_("Open guards cut and catch. See that all are back on first."),
    )


@login_required
@form_page
def call_off_job(request: UserRequest, pk: int) -> HttpResponse:
    found = _found(request, pk, Right.GIVE_OUT)
    form = CallOffForm(**sent(request), told=is_told(found))

    def act(given: dict[str, Any]) -> Job:
        return action.call_off_job(
            job=found,
            reason=given["reason"],
            answer=given.get("answer", ""),
            at=now(),
            by=request.user,
            record_id=given["entry"],
        )

    return _act(
        request,
        found,
        form,
        act,
        title=_("Call it off"),
        button=_("Call the job off"),
        note=_("There is no way back. What stopped the machine stands until it is released."),
        heavy=True,
    )


def _found(request: UserRequest, pk: int, right: Right) -> Job:
    return find(
        Job.objects.visible_to(request.user).annotate(freed=FREED).select_related(
            "machine__depot", "machine__kind", "given_to", "done_by", "closed_by", "isolated_by",
            "has_it", "due_line__line", "opened_by_record__by", "back_again_of",
        ),
        request.user,
        right,
        depot="machine__depot_id",
        pk=pk,
    )  # fmt: skip


def _act(
    request: UserRequest,
    found: Job,
    form: EntryForm,
    act: Callable[[dict[str, Any]], Job],
    **words: Any,
) -> HttpResponse:
    def told(given: dict[str, Any]) -> str:
        done = act(given)
        return f"{done.number}: {done.get_state_display()}."

    return acted(
        request, form, told, then=("maintenance:job", found.pk), machine=found.machine, job=found,
        **words,
    )  # fmt: skip


def _act_page(request: UserRequest, form: EntryForm, **words: Any) -> HttpResponse:
    return render(
        request,
        "maintenance/act.html",
        {"form": form, **words},
        status=422 if form.errors else 200,
    )
