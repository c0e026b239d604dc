"""The health page, and the same for machines."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant.contents.health import health, ready
from plant.http import UserRequest, anywhere
from plant.rights import Right, depots_where


@login_required
@require_safe
def health_page(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.RUN_SYSTEM)
    parts = health(now(), named=depots_where(request.user, Right.RUN_SYSTEM))
    # What is not well stands first; else the order stays.
    parts.sort(key=lambda part: part.well)
    return render(
        request, "plant/health.html", {"parts": parts, "well": all(part.well for part in parts)}
    )


@require_safe
def health_json(request: HttpRequest) -> JsonResponse:
    """For a watch-dog without an account: names and yes or no, nothing else. 503 when not well."""
    parts = health(now())
    well = all(part.well for part in parts)
    return JsonResponse(
        {"well": well, "parts": {part.name: part.well for part in parts}},
        status=200 if well else 503,
    )


@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """For whoever restarts a process that hangs: it answers, whatever the database does."""
    return HttpResponse("alive\n", content_type="text/plain")


@require_safe
def is_ready(request: HttpRequest) -> HttpResponse:
    """For whoever shares out requests: 503 while this process cannot serve."""
    why = ready()
    return HttpResponse(
        _("not ready: {why}\n").format(why=why) if why else "ready\n",
        content_type="text/plain",
        status=503 if why else 200,
    )
