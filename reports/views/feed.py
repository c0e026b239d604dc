"""Calendars: the file that a calendar program fetches, and a person's own links."""

import hashlib
from datetime import datetime
from math import ceil

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.utils.cache import get_conditional_response
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from plant.actions.link import TooManyVisits, count_visit
from plant.actions.refusal import Refused
from plant.calendar_out import calendar
from plant.http import UserRequest
from reports.actions import feed as action
from reports.contents.feed import events
from reports.forms import FeedForm
from reports.models import Feed
from reports.views.message import by_own_password, page

# A calendar program may ask again after so long; people's due work moves a few times a day.
FRESH_S = 900


@require_safe
def feed(request: HttpRequest, code: str) -> HttpResponseBase:
    """The calendar of one link. Unknown, withdrawn and left are answered alike."""
    at = now()
    found = action.fetched(code)
    if (answer := too_often(request, code if found else "", at=at)) is not None:
        return answer
    if found is None:
        raise Http404
    told = action.numbered(found, events(found, at=at), at=at)
    data = calendar(name=_("Site plant, {depot}").format(depot=found.depot.name), events=told)
    etag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
    response = HttpResponse(data, content_type="text/calendar; charset=utf-8")
    response.headers["Content-Disposition"] = 'inline; filename="site-plant.ics"'
    response.headers["ETag"] = etag
    # Kept by the calendar program alone, never by what lies between.
    response.headers["Cache-Control"] = _("private, max-age={fresh}").format(fresh=FRESH_S)
    return get_conditional_response(request, etag=etag, response=response) or response


def too_often(request: HttpRequest, code: str, *, at: datetime) -> HttpResponse | None:
    """Counts the visit; the answer to who comes too often, else nothing."""
    try:
        count_visit(code=code, address=request.META.get("REMOTE_ADDR", ""), at=at)
    except TooManyVisits as held:
        answer = HttpResponse(str(held), status=429, content_type="text/plain; charset=utf-8")
        answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
        return answer
    return None


@login_required
@require_POST
def add_feed(request: UserRequest) -> HttpResponse:
    by_own_password(request)
    form = FeedForm(request.POST, user=request.user)
    if not form.is_valid():
        return page(request, feed_form=form, status=422)
    try:
        action.add_feed(
            user=request.user, depot=form.cleaned_data["depot"],
            what=Feed.What(form.cleaned_data["what"]), at=now(),
        )  # fmt: skip
    except Refused as refused:
        form.add_error(refused.field or None, str(refused))
        return page(request, feed_form=form, status=422)
    messages.success(request, _("Made. Give the link below to your calendar program."))
    return redirect("reports:messages")


@login_required
@require_POST
def withdraw_feed(request: UserRequest) -> HttpResponse:
    by_own_password(request)
    typed = request.POST.get("feed", "")
    pk = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 19 else 0
    try:
        action.withdraw_feed(user=request.user, pk=pk, at=now())
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Withdrawn. The link opens nothing any more."))
    return redirect("reports:messages")
