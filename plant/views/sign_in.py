"""Signing in and out."""

from datetime import datetime, timedelta
from math import ceil
from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.timezone import now
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from plant import passwords
from plant.actions import one_time, session
from plant.actions.phone import begin_code_attempt, known_by_code, note_seen, set_own_code
from plant.actions.refusal import Refused
from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.forms import SignInForm
from plant.forms_people import OneTimeForm
from plant.forms_phone import CodeSignInForm, code_form
from plant.hashing import hashing
from plant.http import PHONE_IN_SESSION, form_page, phone_of
from plant.models import Phone, User
from plant.security_log import note
from plant.signed_in import typed_before

# Whose password was right, while the one-time code is asked for; nobody is signed in by it.
HALF_IN = "half_in"
HALF_TIME = timedelta(minutes=10)
NOT_KNOWN = _("This name and password do not go together. Nobody was signed in. Type both again.")
CODE_NOT_KNOWN = _(
    "This name and code do not go together. Nobody was signed in. Type the code again."
)


@sensitive_post_parameters("password")
@form_page
def sign_in(request: HttpRequest) -> HttpResponse:
    onward = own_path(request.POST.get("next", request.GET.get("next", "")))
    if request.user.is_authenticated:
        return redirect(onward)
    if request.method != "POST":
        phone = phone_of(request)
        if phone and "password" not in request.GET:
            return _code_page(request, phone, None, onward)
        return _page(request, SignInForm(), onward)
    form = SignInForm(request.POST)
    if not form.is_valid():
        return _page(request, form, onward, status=422)
    name, address = form.cleaned_data["sign_in"], request.META.get("REMOTE_ADDR", "")
    try:
        attempt = begin_attempt(sign_in=name, address=address, at=now())
    except HeldBack as held:
        note("sign-in held back")
        form.add_error(None, str(held))
        answer = _page(request, form, onward, status=429)
        answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
        return answer
    with hashing:
        # Unknown and disabled accounts cost one hash too: the backend sees to it.
        typed = passwords.as_kept(form.cleaned_data["password"])
        user = authenticate(request, username=name, password=typed)
    if user is None:
        note("sign-in failed")
        form.add_error(None, gettext(NOT_KNOWN))
        return _page(request, form, onward, status=422)
    forget_attempts(attempt)
    assert isinstance(user, User)
    if one_time.has_codes(user):
        request.session[HALF_IN] = {
            "user": user.pk, "at": now().isoformat(), "hash": user.get_session_auth_hash(),
        }  # fmt: skip
        return _one_time_page(request, OneTimeForm(), onward)
    return _come_in(request, user, onward)


@form_page
def one_time_code(request: HttpRequest) -> HttpResponse:
    """The second step, for who has one-time codes: the password alone opened nothing."""
    onward = own_path(request.POST.get("next", request.GET.get("next", "")))
    if request.user.is_authenticated:
        return redirect(onward)
    user = _half_in(request)
    if user is None:
        return redirect("plant:sign_in")
    form = OneTimeForm(request.POST if request.method == "POST" else None)
    if request.method != "POST" or not form.is_valid():
        return _one_time_page(request, form, onward, status=422 if form.errors else 200)
    address = request.META.get("REMOTE_ADDR", "")
    try:
        right = one_time.check(
            user=user, typed=form.cleaned_data["code"], address=address, at=now()
        )
    except HeldBack as held:
        note("one-time code held back", user=user.pk)
        form.add_error(None, str(held))
        answer = _one_time_page(request, form, onward, status=429)
        answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
        return answer
    if not right:
        note("one-time code failed", user=user.pk)
        form.add_error("code", gettext(one_time.NOT_RIGHT))
        return _one_time_page(request, form, onward, status=422)
    return _come_in(request, user, onward)


def _half_in(request: HttpRequest) -> User | None:
    """Whose password was right a short while ago, and is still the same."""
    told = request.session.get(HALF_IN)
    if not isinstance(told, dict):
        return None
    if now() - datetime.fromisoformat(str(told["at"])) > HALF_TIME:
        return None
    user = User.objects.filter(pk=told["user"], is_active=True).first()
    return user if user and user.get_session_auth_hash() == told["hash"] else None


def _come_in(request: HttpRequest, user: User, onward: str) -> HttpResponse:
    """Signed in by password; what was typed when the session before ended is offered again."""
    request.session.pop(HALF_IN, None)
    request.session.pop(PHONE_IN_SESSION, None)
    session.begin(request, user, at=now())
    note("signed in", user=user.pk)
    return _onward(request, user, onward)


def _onward(request: HttpRequest, user: User, onward: str) -> HttpResponse:
    told = typed_before(request.POST.get("kept", ""), user)
    if told is not None:
        return render(request, "plant/send_again.html", {"told": told, "onward": onward})
    return redirect(onward)


def _one_time_page(
    request: HttpRequest, form: OneTimeForm, onward: str, *, status: int = 200
) -> HttpResponse:
    page = {"form": form, "next": onward, "kept": request.POST.get("kept", "")}
    return render(request, "plant/one_time_code.html", page, status=status)


@sensitive_post_parameters("code", "new_code", "again")
@form_page
def code_sign_in(request: HttpRequest) -> HttpResponse:
    """Signing in on a shared phone: by name and six figures. Elsewhere there is no such door."""
    onward = own_path(request.POST.get("next", request.GET.get("next", "")))
    phone = phone_of(request)
    if phone is None:
        return redirect("plant:sign_in")
    if request.user.is_authenticated:
        return redirect(onward)
    if request.method != "POST":
        return _code_page(request, phone, None, onward)
    changes = "new_code" in request.POST
    form = code_form(phone, changes)(request.POST)
    if not form.is_valid():
        return _code_page(request, phone, form, onward, status=422)
    person, at = form.cleaned_data["person"], now()
    try:
        attempt = begin_code_attempt(person=person, phone=phone, at=at)
    except HeldBack as held:
        note("code held back", phone=phone.pk)
        form.add_error(None, str(held))
        answer = _code_page(request, phone, form, onward, status=429)
        answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
        return answer
    with hashing:
        known = known_by_code(person=person, code=form.cleaned_data["code"], phone=phone, at=at)
    if known is None:
        note("code failed", phone=phone.pk)
        form.add_error(None, gettext(CODE_NOT_KNOWN))
        return _code_page(request, phone, form, onward, status=422)
    forget_attempts(attempt)
    kept = known.code
    if known.first:
        if not changes:
            again = code_form(phone, True)(initial={"person": person})
            return _code_page(request, phone, again, onward)
        try:
            with hashing:
                kept = set_own_code(user=known.user, code=form.cleaned_data["new_code"], at=at)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
            return _code_page(request, phone, form, onward, status=422)
        note("code set", user=known.user.pk)
    session.begin(request, known.user, at=at, phone=phone)
    request.session[PHONE_IN_SESSION] = {
        "phone": phone.pk,
        "code": kept.stamp,
        "since": at.isoformat(),
    }
    note_seen(phone, at=at)
    note("signed in on a phone", user=known.user.pk, phone=phone.pk)
    return _onward(request, known.user, onward)


def _code_page(
    request: HttpRequest,
    phone: Phone,
    form: CodeSignInForm | None,
    onward: str,
    *,
    status: int = 200,
) -> HttpResponse:
    form = form or code_form(phone, False)()
    page = {
        "phone": phone,
        "form": form,
        "next": onward,
        "changes": "new_code" in form.fields,
        "kept": request.POST.get("kept", ""),
    }
    return render(request, "plant/code_sign_in.html", page, status=status)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    note("signed out")
    logout(request)
    return redirect(settings.LOGOUT_REDIRECT_URL)


def own_path(wanted: str) -> str:
    """The path to go on to: only one of this site, else the first page."""
    if wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None):
        return wanted
    return resolve_url(settings.LOGIN_REDIRECT_URL)


def _page(
    request: HttpRequest, form: SignInForm, onward: str, *, status: int = 200
) -> HttpResponse:
    page: dict[str, Any] = {
        "form": form,
        "next": onward,
        "kept": request.POST.get("kept", ""),
        "hint": getattr(settings, "SIGN_IN_HINT", ()),
        "phone": phone_of(request),
    }
    return render(request, "plant/sign_in.html", page, status=status)
