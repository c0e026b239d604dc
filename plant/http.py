"""What every page shares: the signed-in request, finding things by right, headers, the frame."""

import errno
import logging
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import ObjectDoesNotExist
from django.db import InterfaceError, OperationalError
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render
from django.template.loader import get_template
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import get_random_string
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods
from django.views.defaults import bad_request, permission_denied
from django_htmx.middleware import HtmxDetails

from plant.actions.phone import phone_of_session
from plant.actions.throttle import A_MINUTE, MOST_WRITES, TooOften, count_use
from plant.csv_out import rows_to_csv
from plant.length_words import MM, told_in
from plant.models import Depot, Phone, User
from plant.pages import menu_of
from plant.rights import (
    NotAllowed,
    Right,
    depots_of,
    depots_where,
    may,
    practise_in,
    roles,
    stop_practising,
)
from plant.script_words import script_words_address
from plant.security_log import asking, note
from plant.signed_in import seconds_left

log = logging.getLogger(__name__)
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
        asking(request)
        try:
            response = get_response(request)
            kind = response.headers.get("Content-Type", "")
            if response.status_code == 405 and not response.content:
                page = get_template("405.html").render()
                response.content = b"" if request.method == "HEAD" else page.encode()
                # The empty answer had a length already, by which a browser would read no more.
                response.headers["Content-Length"] = str(len(response.content))
            if "Content-Disposition" in response.headers and not kind.startswith("image/"):
                note("file taken out", kind=kind)
        finally:
            asking(None)
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


def unhurried(get_response: Answer) -> Answer:
    """Middleware: holds back what one person sends faster than anybody works.

    Behind whoever is signed in; doors without an account count for themselves. What an action
    holds back is answered alike, but where a form says it beside its fields.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        if request.method == "POST" and isinstance(request.user, User):
            try:
                count_use(
                    "writes",
                    request.user.pk,
                    most=MOST_WRITES,
                    within=A_MINUTE,
                    at=timezone.now(),
                    told=gettext("So much was sent at once that it was held back."),
                )
            except TooOften as held:
                note("writes held back")
                return too_often(held)
        return get_response(request)

    def refused(request: HttpRequest, wrong: Exception) -> HttpResponse | None:
        return too_often(wrong) if isinstance(wrong, TooOften) else None

    answer.process_exception = refused  # type: ignore[attr-defined]  # how Django finds it
    return answer


def too_often(held: TooOften) -> HttpResponse:
    """The page that says so, for doors that have no form of their own to say it on."""
    response = HttpResponse(get_template("429.html").render({"held": held}), status=429)
    response.headers["Retry-After"] = held.seconds
    return response


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
                note("phone session ended", user=request.user.pk)
                logout(request)
            else:
                request.user.on_phone = phone
                # Twelve hours count from when it was last used.
                request.session.modified |= seen
        return get_response(request)

    return answer


# Where a session keeps the practice depot that it is in, and until when.
PRACTICE_IN_SESSION = "practice"
# Nobody comes back the next morning and takes the practice machine for a real one. Our own figure.
PRACTICE_TIME = timedelta(hours=2)


def in_practice(get_response: Answer) -> Answer:
    """Middleware: a session that practises sees the person's practice depot and nothing else."""

    def answer(request: HttpRequest) -> HttpResponse:
        told = request.session.get(PRACTICE_IN_SESSION)
        if told is not None and isinstance(request.user, User):
            if timezone.now() < datetime.fromisoformat(told["until"]):
                own = Depot.objects.filter(practice_of=request.user, pk=told["depot"])
                practise_in(request.user, own.first())
            if request.user.practising is None:
                del request.session[PRACTICE_IN_SESSION]
        return get_response(request)

    return answer


def begin_practice(request: UserRequest, depot: Depot) -> None:
    """From the next page on this session practises, for two hours at most."""
    until = timezone.now() + PRACTICE_TIME
    request.session[PRACTICE_IN_SESSION] = {"depot": depot.pk, "until": until.isoformat()}
    practise_in(request.user, depot)


def leave_practice(request: HttpRequest) -> None:
    """Back to the real depots, at once."""
    request.session.pop(PRACTICE_IN_SESSION, None)
    if isinstance(request.user, User):
        stop_practising(request.user)


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


def own_lengths(get_response: Answer) -> Answer:
    """Middleware: lengths on a page are told in the unit that the person chose."""

    def answer(request: HttpRequest) -> HttpResponse:
        user = request.user
        with told_in(user.lengths if user.is_authenticated else MM):
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
        NotAllowed: they see it, but no role of theirs may do this.
    """
    found = see(seen, user, **which)
    value: Any = found
    for step in depot.split("__"):
        value = getattr(value, step)
    if not may(user, right, value):
        raise NotAllowed(
            gettext("Your role here does not carry the right to {right}.").format(
                right=right.words
            ),
            right=right.value,
            depot=value,
        )
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
        note("not there", model=seen.model._meta.label, user=user.pk)
        raise Http404 from missing


def anywhere(user: User, right: Right) -> frozenset[int]:
    """The depots where the person has the right; refused when there are none."""
    depots = depots_where(user, right)
    if not depots:
        raise NotAllowed(
            gettext("Your role does not carry the right to {right}.").format(right=right.words),
            right=right.value,
        )
    return depots


def _menu(user: User, path: str) -> list[tuple[str, str, str]]:
    """Word, address and aria-current of each page of the menu: the page that is open, or the one
    in whose part of the addresses this one lies; else "More", which is last."""
    more = reverse("plant:pages")
    shown = [*((page.word, reverse(page.name)) for page in menu_of(user)), (gettext("More"), more)]
    within = max((at for _, at in shown if f"{path}/".startswith(f"{at}/")), key=len, default=more)
    return [
        (word, at, "page" if at == path else "true" if at == within else "") for word, at in shown
    ]


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context of every page: who is signed in, where they may go, and their depots."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"pages": (), "script_words": script_words_address()}
    held = roles(user)
    return {
        "pages": _menu(user, request.path),
        "script_words": script_words_address(),
        "may_move": bool(depots_where(user, Right.MOVE)),
        "may_register": bool(depots_where(user, Right.REGISTER)),
        # The pack of a phone is of real machines; practising must not take their place.
        "may_check": bool(depots_where(user, Right.CHECK)) and user.practising is None,
        "may_import": bool(depots_where(user, Right.IMPORT)),
        "may_people": bool(depots_where(user, Right.PEOPLE)),
        "on_phone": user.on_phone,
        "practising": user.practising,
        "signed_in_for": seconds_left(request),
        "home_depot": first_depot(user),
        "many_depots": len(held) > 1,
    }


def refused(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The answer to who may not do this: the role is too low, and that is noted."""
    note("refused", **getattr(exception, "facts", {}))
    return permission_denied(request, exception)


# Without letters and figures that are taken for one another when read out.
_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
# PostgreSQL's own number for a full disk (its manual, appendix A); its words follow its language.
_DISK_FULL = "53100"


def broken(request: HttpRequest) -> HttpResponse:
    """The answer to what went wrong on our side: 503 while the database is away or held, 507 when
    the disk takes no more, else 500. It needs neither of them, and tells nothing but a reference.
    """
    status = _what_broke(sys.exc_info()[1])
    reference = get_random_string(5, _LETTERS)
    page = request.resolver_match.view_name if request.resolver_match else ""
    log.error("page broke", extra={"reference": reference, "page": page, "status": status})
    told = get_template(f"{status}.html").render({"reference": reference})
    response = HttpResponse(told, status=status)
    if status != 500:
        response.headers["Retry-After"] = "30"
    return response


def _what_broke(fault: BaseException | None) -> int:
    seen: list[BaseException] = []
    while fault is not None and fault not in seen:
        seen.append(fault)
        fault = fault.__cause__ or fault.__context__
    words = " ".join(str(each) for each in seen).lower()
    if any(isinstance(each, OSError) and each.errno in _FULL for each in seen):
        return 507
    if any(getattr(each, "sqlstate", None) == _DISK_FULL for each in seen):
        return 507
    if any(isinstance(each, OperationalError | InterfaceError) for each in seen):
        # Of a disk that cannot be written SQLite says the second, PostgreSQL the third.
        if any(told in words for told in ("is full", "disk i/o error", "no space left")):
            return 507
        # A table that is not there is a fault of ours, which no waiting mends.
        return 500 if "no such table" in words or "no such column" in words else 503
    return 500


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form whose page was open too long or came from elsewhere."""
    note("form refused", why=reason)
    return render(request, "stale_form.html", {"reason": reason}, status=403)


def csv_answer(
    headings: Sequence[str], rows: Iterable[Sequence[object]], *, name: str
) -> StreamingHttpResponse:
    """The table as a file to keep, sent while it is written; name: without its ending."""
    answer = StreamingHttpResponse(rows_to_csv(headings, rows), content_type="text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer
