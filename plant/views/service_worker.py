"""The service worker: served from the root, so that it may stand in for every page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Our own script with the names of the static files that it keeps."""
    response = render(request, "plant/sw.js", content_type="text/javascript")
    response.headers["Service-Worker-Allowed"] = "/"
    response.headers["Cache-Control"] = "no-cache"
    return response
