"""The service worker: served from the root, so that it may stand in for every page."""

import hashlib

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.http import require_safe

# The page that stands in for any other without signal; it comes without cookies, and so alike.
BARE_PAGE = "maintenance/phone.html"


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Our own script with the names of the static files that it keeps.

    A browser takes a new worker when its bytes change, so they change with the page that it keeps.
    """
    page = hashlib.sha256(render_to_string(BARE_PAGE).encode()).hexdigest()[:16]
    response = render(request, "plant/sw.js", {"page": page}, content_type="text/javascript")
    response.headers["Service-Worker-Allowed"] = "/"
    response.headers["Cache-Control"] = "no-cache"
    return response
