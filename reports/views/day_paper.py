"""Paper of a day: job lists and the wall board, asked for now or printed by themselves."""

from datetime import datetime, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import OuterRef, Subquery
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.rules.timed import next_turn
from plant.actions.refusal import Refused
from plant.actions.throttle import TooOften
from plant.http import UserRequest, anywhere, find, form_page
from plant.nudge import nudge
from plant.rights import Right
from reports.actions import timed as action
from reports.actions.day_paper import ask_board, ask_job_lists
from reports.forms import DayPaperForm, TimedPrintForm
from reports.models import Batch, TimedPrint, TimedTurn
from reports.tasks import print_batch

# What ended stands on the page for so long.
ENDED_FOR = timedelta(days=30)


@login_required
@form_page
def ask_day_paper(request: UserRequest) -> HttpResponse:
    """Job lists or the wall board of one day."""
    anywhere(request.user, Right.PRINT_MANY)
    at = now()
    sent = request.POST if request.method == "POST" else None
    form = DayPaperForm(sent, user=request.user, at=at)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        ask = ask_board if given["kind"] == Batch.Kind.BOARD else ask_job_lists
        try:
            batch = ask(depot=given["depot"], on=given["on"], by=request.user, at=at)
        except TooOften:
            raise
        except Refused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            nudge(print_batch, batch.pk)
            return redirect("reports:batch", batch.pk)
    status = 422 if request.method == "POST" else 200
    return render(request, "reports/ask_day_paper.html", {"form": form}, status=status)


@login_required
@require_safe
def timed_list(request: UserRequest) -> HttpResponse:
    """What is printed by itself, when next, and what became of the last turn."""
    anywhere(request.user, Right.PRINT_MANY)
    at = now()
    seen = TimedPrint.objects.visible_to(request.user).select_related("depot", "set_up_by")
    running = list(seen.filter(ended_at=None))
    newest = TimedTurn.objects.filter(timed=OuterRef("timed")).order_by("-day").values("pk")[:1]
    last = TimedTurn.objects.filter(timed__in=running, pk=Subquery(newest))
    turns = {turn.timed_id: turn for turn in last.select_related("batch")}
    rows = [(each, _next(each, at), turns.get(each.pk)) for each in running]
    ended = seen.filter(ended_at__gt=at - ENDED_FOR)
    return render(
        request,
        "reports/timed_list.html",
        {"running": rows, "ended": ended},
    )


def _next(timed: TimedPrint, at: datetime) -> str:
    """The next turn by the clock of its own depot."""
    turn = next_turn(timed.days, timed.at, zone=timed.depot.zone, now=at)
    return f"{turn.astimezone(timed.depot.zone):%-d %b %Y, %H:%M}" if turn else ""


@login_required
@form_page
def add_timed(request: UserRequest) -> HttpResponse:
    """One more kind of paper that is printed by itself."""
    anywhere(request.user, Right.PRINT_MANY)
    form = TimedPrintForm(request.POST if request.method == "POST" else None, user=request.user)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            action.set_up(
                depot=given["depot"],
                kind=TimedPrint.What(given["kind"]),
                days=[int(day) for day in given["days"]],
                clock=given["at"],
                by=request.user,
                at=now(),
            )
        except Refused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            messages.success(request, _("Set up. It is printed by itself from now on."))
            return redirect("reports:timed_list")
    status = 422 if request.method == "POST" else 200
    return render(request, "reports/add_timed.html", {"form": form}, status=status)


@login_required
@require_POST
def end_timed(request: UserRequest, pk: int) -> HttpResponse:
    timed = find(
        TimedPrint.objects.visible_to(request.user, Right.SEE).select_related("depot"),
        request.user,
        Right.PRINT_MANY,
        depot="depot_id",
        pk=pk,
    )
    action.end(timed=timed, by=request.user, at=now())
    messages.success(request, _("Ended: {timed}. What was printed stays.").format(timed=timed))
    return redirect("reports:timed_list")
