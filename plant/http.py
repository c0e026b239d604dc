"""What every page shares: the signed-in request, finding things by right, headers, the frame."""

import logging
from collections.abc import Callable
from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods
from django.views.defaults import bad_request
from django_htmx.middleware import HtmxDetails

from plant.actions.phone import phone_of_session
from plant.models import Depot, Phone, User
from plant.rights import Right, depots_of, depots_where, may, roles

log = logging.getLogger("security")
Answer = Callable[[HttpRequest], HttpResponse]
M = TypeVar("M", bound=Model)

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
)
# A request with all its files; a photo may have 10 MiB, and a form is small beside it.
MOST_BYTES = 12 * 1024 * 1024

# A page with a form: shown, and sent back filled in.
form_page = require_http_methods(["GET", "HEAD", "POST"])


class UserRequest(HttpRequest):
    """A request of somebody signed in."""

    user: User
    htmx: HtmxDetails


def headers(get_response: Answer) -> Answer:
    """Middleware: what a page may load, and that no signed-in page is kept by a cache."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        response.headers["Permissions-Policy"] = "camera=(self), geolocation=(), microphone=()"
        if not request.path.startswith(settings.STATIC_URL):
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    return answer


def readable(get_response: Answer) -> Answer:
    """Middleware: turns away early what is too large, or in a form that nothing behind takes."""

    def answer(request: HttpRequest) -> HttpResponse:
        sent = request.META.get("CONTENT_LENGTH") or "0"
        if not sent.isascii() or not sent.isdigit() or len(sent) > 18:
            return bad_request(request, ValueError("length"))
        if int(sent) > MOST_BYTES:
            response = bad_request(request, ValueError("too large"))
            response.status_code = 413
            return response
        odd = "\0" in request.path or "%00" in request.META.get("QUERY_STRING", "")
        odd = odd or any("\0" in value for value in request.COOKIES.values())
        if odd or "plant.unreadable" in request.META:
            return bad_request(request, ValueError("form"))
        return get_response(request)

    return answer


def compressed(get_response: Answer) -> Answer:
    """Middleware: pages and lists go out compressed, for a slow line; files go as they are.

    Each answer carries some bytes of random length, so that its size tells nothing of its secrets.
    """
    squeeze = GZipMiddleware(get_response)

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if response.headers.get("Content-Type", "").startswith("text/"):
            squeeze.process_response(request, response)
        return response

    return answer


# Where a session keeps the phone that it was begun on.
PHONE_IN_SESSION = "phone"


def on_shared_phone(get_response: Answer) -> Answer:
    """Middleware: a session begun on a shared phone counts on that phone, while it is enrolled."""

    def answer(request: HttpRequest) -> HttpResponse:
        told = request.session.get(PHONE_IN_SESSION)
        if told is not None and isinstance(request.user, User):
            secret = request.COOKIES.get(settings.PHONE_COOKIE_NAME, "")
            phone, seen = phone_of_session(
                told=told, secret=secret, user=request.user, at=timezone.now()
            )
            if phone is None:
                log.warning("phone session ended", extra={"user": request.user.pk})
                logout(request)
            else:
                request.user.on_phone = phone
                # Twelve hours count from when it was last used.
                request.session.modified |= seen
        return get_response(request)

    return answer


def phone_of(request: HttpRequest) -> Phone | None:
    """The shared phone that asks, if it is enrolled."""
    return Phone.objects.by_secret(request.COOKIES.get(settings.PHONE_COOKIE_NAME, ""))


def local_time(get_response: Answer) -> Answer:
    """Middleware: times on a page are those of the person's depot."""

    def answer(request: HttpRequest) -> HttpResponse:
        depot = first_depot(request.user) if request.user.is_authenticated else None
        with timezone.override(depot.zone if depot else ZoneInfo("Europe/London")):
            return get_response(request)

    return answer


def first_depot(user: User) -> Depot | None:
    """The depot whose clock and settings a page uses when it shows several."""
    return next(iter(depots_of(user)), None)


def today_at(user: User, at: datetime) -> date:
    """Today by the clock of the person's depot."""
    depot = first_depot(user)
    return depot.day_of(at) if depot else at.date()


def find(seen: QuerySet[M], user: User, right: Right, *, depot: str, **which: Any) -> M:
    """The one object, if this person may do this with it.

    Args:
        seen: a query that shows only what the person may see.
        depot: the path to the depot's key, for instance ``machine__depot_id``.

    Raises:
        Http404: it does not exist for this person; the same as for a made-up number.
        PermissionDenied: they see it, but no role of theirs may do this.
    """
    found = see(seen, user, **which)
    value: Any = found
    for step in depot.split("__"):
        value = getattr(value, step)
    if not may(user, right, value):
        log.warning("refused", extra={"right": right.value, "user": user.pk, "depot": value})
        raise PermissionDenied(f"Your role here does not carry the right to {right.value}.")
    return found


def see(seen: QuerySet[M], user: User, **which: Any) -> M:
    """The one object, if this person may see it; for pages that ask for no other right.

    Raises:
        Http404: it does not exist for this person; the same as for a made-up number.
    """
    try:
        return seen.get(**which)
    except (ObjectDoesNotExist, ValueError, OverflowError) as missing:
        # Whether it is another depot's or was never there is not told, here neither.
        log.warning("not there", extra={"what": seen.model._meta.label, "user": user.pk})
        raise Http404 from missing


def anywhere(user: User, right: Right) -> frozenset[int]:
    """The depots where the person has the right; refused when there are none."""
    depots = depots_where(user, right)
    if not depots:
        log.warning("refused", extra={"right": right.value, "user": user.pk})
        raise PermissionDenied(f"Your role does not carry the right to {right.value}.")
    return depots


# Page, its address name, and the right that shows it; at most five of them for any role. Who moves
# machines but works on none has "Out and in" where others have "Jobs", who works but plans nothing
# has "Belts" where others have "Paper", and who does neither has "Scan"; see _pages.
_PAGES = (
    ("Scan", "maintenance:scan", Right.SEE),
    ("Out and in", "maintenance:out_in", Right.MOVE),
    ("Today", "reports:today", Right.SEE),
    ("Machines", "maintenance:machine_list", Right.SEE),
    ("Jobs", "maintenance:job_list", Right.SEE),
    ("Due", "maintenance:due_list", Right.SEE),
    ("Belts", "maintenance:belts", Right.WORK),
    ("Paper", "reports:batch_list", Right.LABEL),
)


def _pages(user: User) -> list[tuple[str, str]]:
    """The pages of the menu. What is left out of it stands at the foot of each page."""
    works = bool(depots_where(user, Right.WORK))
    desk = bool(depots_where(user, Right.MOVE)) and not works
    hands = works and not depots_where(user, Right.PLAN)
    left_out = {"Jobs" if desk else "Out and in", "Paper" if hands else "Belts"}
    if depots_where(user, Right.LABEL):
        left_out.add("Scan")
    return [
        (word, name)
        for word, name, right in _PAGES
        if word not in left_out and depots_where(user, right)
    ]


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context of every page: who is signed in, where they may go, and their depots."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"pages": ()}
    held = roles(user)
    return {
        "pages": _pages(user),
        # The first part of the address names the page in whose part this one lies.
        "part": "/" + request.path.split("/")[1],
        "may_label": bool(depots_where(user, Right.LABEL)),
        "may_move": bool(depots_where(user, Right.MOVE)),
        "may_register": bool(depots_where(user, Right.REGISTER)),
        "may_check": bool(depots_where(user, Right.CHECK)),
        "may_import": bool(depots_where(user, Right.IMPORT)),
        "may_keep": bool(depots_where(user, Right.KEEP)),
        "may_people": bool(depots_where(user, Right.PEOPLE)),
        "on_phone": user.on_phone,
        "may_run": bool(depots_where(user, Right.RUN_SYSTEM)),
        "home_depot": first_depot(user),
        "many_depots": len(held) > 1,
    }


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form whose page was open too long or came from elsewhere."""
    return render(request, "stale_form.html", {"reason": reason}, status=403)
