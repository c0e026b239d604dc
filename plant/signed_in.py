"""How long a session lasts, what it keeps when it ends, and the password asked for once more."""

from collections.abc import Callable
from datetime import datetime, timedelta
from math import ceil
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from django import forms
from django.contrib.auth import logout
from django.contrib.auth.hashers import check_password
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _

from plant import passwords
from plant.actions import session
from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.forms_phone import code_form
from plant.hashing import hashing
from plant.models import User
from plant.security_log import note

Answer = Callable[[HttpRequest], HttpResponse]
# A password typed within this time is not asked for again.
PROOF_TIME = timedelta(minutes=10)
# What was typed when a session ended waits so long for the same person to sign in.
KEPT_TIME = timedelta(hours=12)
_SALT = "typed when the session ended"
# Never carried over: what proves who somebody is, and the token of the old page.
_NOT_KEPT = frozenset(
    {"csrfmiddlewaretoken", "proof", "password", "new_password", "again", "code", "new_code"}
)
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")


def lifetime(get_response: Answer) -> Answer:
    """Middleware: ends a session that was unused or in use for too long, and loses nothing typed.

    A page that asks by itself, in the background, does not count as use.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        user, at = request.user, now()
        if not isinstance(user, User):
            return _to_its_page(request, get_response(request))
        ends = session.ends_at(request.session, user)
        if ends is not None and at >= ends:
            note("session ended by time", request=request, user=user)
            session.end(list(user.signed_in.filter(session_key=request.session.session_key)))
            logout(request)
            return _kept(request, get_response(request), user)
        if request.session.get(session.OWES_CODES) and request.path not in _open_without_codes():
            return redirect("plant:own_codes")
        if not _by_itself(request):
            session.note_use(request, user, at=at)
        return get_response(request)

    return answer


def _by_itself(request: HttpRequest) -> bool:
    asks = request.headers.get("Sec-Fetch-Dest", "document")
    return request.method in ("GET", "HEAD") and asks != "document"


def _open_without_codes() -> frozenset[str]:
    names = ("own_codes", "begin_codes", "sign_out", "stay")
    return frozenset(reverse(f"plant:{name}") for name in names)


def _is_to_door(response: HttpResponse) -> bool:
    return response.status_code == 302 and response.headers["Location"].startswith(
        reverse("plant:sign_in")
    )


def _to_its_page(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Who sent a form and is not signed in comes back to its page, not to where it was sent: that
    may answer nothing but forms. Who is sent to the door by the form itself goes on from there."""
    if request.method != "POST" or not _is_to_door(response):
        return response
    onward = parse_qs(urlsplit(response.headers["Location"]).query).get("next")
    if onward != [request.get_full_path()]:
        return response
    try:
        came_from = urlsplit(request.headers.get("Referer", ""))
    except ValueError:
        return response
    if came_from.netloc == request.get_host():
        page = came_from._replace(scheme="", netloc="", fragment="").geturl()
        response.headers["Location"] = f"{reverse('plant:sign_in')}?{urlencode({'next': page})}"
    return response


def _kept(request: HttpRequest, response: HttpResponse, user: User) -> HttpResponse:
    """In the place of the way to the sign-in page: that page, holding what was typed."""
    sent = request.method == "POST" and request.content_type in _FORMS
    if not sent or not _is_to_door(response):
        return response
    fields = [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if name not in _NOT_KEPT
    ]
    told = {"path": request.get_full_path(), "fields": fields, "user": user.pk}
    page = {
        "kept": signing.dumps(told, salt=_SALT, compress=True),
        "files": any(one for one in request.FILES.values()),
        # Who came in on a shared phone by name and code may have no password at all.
        "form": code_form(user.on_phone)(initial={"person": user.pk}) if user.on_phone else None,
    }
    return render(request, "plant/signed_out.html", page, status=403)


def typed_before(kept: str, user: User) -> dict[str, Any] | None:
    """What this person had typed; None for somebody else's, and for what we did not sign."""
    if not kept:
        return None
    try:
        told: dict[str, Any] = signing.loads(kept, salt=_SALT, max_age=KEPT_TIME)
    except signing.BadSignature:
        return None
    return told if told["user"] == user.pk else None


# --- The password once more ----------------------------------------------------------------
def is_proven(request: HttpRequest, *, at: datetime) -> bool:
    """Whether this session typed its password a short while ago."""
    proven = request.session.get(session.PROVEN)
    return proven is not None and at - datetime.fromisoformat(str(proven)) < PROOF_TIME


class ProofForm(forms.Form):
    """A form that asks for the password, unless it was typed a short while ago."""

    def __init__(self, *args: Any, request: HttpRequest, **more: Any) -> None:
        super().__init__(*args, **more)
        self.request = request
        if not is_proven(request, at=now()):
            self.fields["proof"] = forms.CharField(
                label=_("Your own password, once more"),
                max_length=passwords.LONGEST,
                strip=False,
                help_text=_("The page may have been left open. Not asked again for ten minutes."),
                widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
            )

    def proven(self) -> bool:
        """Whether the password, where it was asked for, is right; else the form says so."""
        if "proof" not in self.fields:
            return True
        request, at = self.request, now()
        assert isinstance(request.user, User)
        address = request.META.get("REMOTE_ADDR", "")
        try:
            attempt = begin_attempt(sign_in=request.user.sign_in, address=address, at=at)
        except HeldBack as held:
            self.add_error("proof", str(held).replace(_("Nobody was signed in."), _("Not saved.")))
            return False
        with hashing:
            typed = passwords.as_kept(self.cleaned_data["proof"])
            right = check_password(typed, request.user.password)
        if not right:
            note("password once more failed", request=request)
            self.add_error("proof", _("This is not right. Nothing was changed. Type it again."))
            return False
        forget_attempts(attempt)
        request.session[session.PROVEN] = at.isoformat()
        return True


def seconds_left(request: HttpRequest) -> int | None:
    """How long this session lasts if nothing more is sent; for the warning on the page."""
    if not isinstance(request.user, User):
        return None
    ends = session.ends_at(request.session, request.user)
    return None if ends is None else max(0, ceil((ends - now()).total_seconds()))
