"""Today: the first page of everybody who is signed in."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from plant.http import UserRequest, anywhere
from plant.rights import Right, depots_where
from reports.contents.today import archive_of, in_progress, today


@login_required
@require_safe
def today_page(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.SEE)
    # Who has one depot, and prints for all its machines, has its folder at one press.
    one_folder = len(depots_where(request.user, Right.PRINT_MANY)) == 1
    return render(
        request,
        "reports/today.html",
        {"day": today(request.user, at=now()), "one_folder": one_folder},
    )


@login_required
@require_safe
def prints(request: UserRequest) -> HttpResponse:
    """The lines of prints in progress alone, asked for again while they are open."""
    anywhere(request.user, Right.SEE)
    at = now()
    page = {
        "batches": in_progress(request.user, at=at),
        "archive": archive_of(request.user, at=at),
    }
    return render(request, "reports/_prints.html", page)
