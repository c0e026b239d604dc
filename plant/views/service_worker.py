"""The service worker: served from the root, so that it may stand in for every page."""

import hashlib

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_safe

from plant.help_texts import FILE, help_texts
from plant.script_words import script_words_address

# The page that stands in for any other without signal; it comes without cookies, and so alike.
BARE_PAGE = "maintenance/phone.html"
# The pages of the help that are kept beside it, and what they are made of.
HELP_PAGES = (("maintenance:help_words", ()), ("maintenance:help_guide", ("operator",)))
HELP_TEMPLATES = ("maintenance/help_words.html", "maintenance/help_guide.html")


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Our own script with the names of the static files that it keeps.

    A browser takes a new worker when its bytes change, so they change with the pages that it keeps.
    """
    made_of = hashlib.sha256(render_to_string(BARE_PAGE).encode() + FILE.read_bytes())
    for name in HELP_TEMPLATES:
        made_of.update(render_to_string(name).encode())
    told = {
        "words": script_words_address(),
        "page": made_of.hexdigest()[:16],
        "shots": [step.shot.file for step in help_texts().guides["operator"].steps if step.shot],
        "help": [reverse(name, args=args) for name, args in HELP_PAGES],
    }
    response = render(request, "plant/sw.js", told, content_type="text/javascript")
    response.headers["Service-Worker-Allowed"] = "/"
    response.headers["Cache-Control"] = "no-cache"
    return response
