"""Signing in and out."""

import logging
from collections.abc import Callable
from functools import partial
from math import ceil
from threading import BoundedSemaphore

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.timezone import now
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from plant.actions.phone import (
    begin_code_attempt,
    known_by_code,
    note_seen,
    people_on_phones,
    set_own_code,
)
from plant.actions.refusal import Refused
from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.forms import SignInForm
from plant.forms_phone import CodeSignInForm, FirstCodeForm
from plant.http import PHONE_IN_SESSION, form_page, phone_of
from plant.models import Phone

log = logging.getLogger("security")

# One hash takes 100 MiB: two at a time in each of the two web processes.
hashing = BoundedSemaphore(2)

MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"
NOT_KNOWN = "This name and password do not go together. Nobody was signed in. Type both again."
CODE_NOT_KNOWN = "This name and code do not go together. Nobody was signed in. Type the code again."


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
        log.warning("sign-in held back", extra={"address": address})
        form.add_error(None, str(held))
        answer = _page(request, form, onward, status=429)
        answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
        return answer
    with hashing:
        # Unknown and disabled accounts cost one hash too: the backend sees to it.
        user = authenticate(request, username=name, password=form.cleaned_data["password"])
    if user is None:
        log.warning("sign-in failed", extra={"address": address})
        form.add_error(None, NOT_KNOWN)
        return _page(request, form, onward, status=422)
    forget_attempts(attempt)
    login(request, user)
    request.session.pop(PHONE_IN_SESSION, None)
    log.info("signed in", extra={"user": user.pk, "address": address})
    return redirect(onward)


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
    form = _code_form(phone, changes)(request.POST)
    if not form.is_valid():
        return _code_page(request, phone, form, onward, status=422)
    person, at = form.cleaned_data["person"], now()
    try:
        attempt = begin_code_attempt(person=person, phone=phone, at=at)
    except HeldBack as held:
        log.warning("code held back", extra={"phone": phone.pk})
        form.add_error(None, str(held))
        answer = _code_page(request, phone, form, onward, status=429)
        answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
        return answer
    with hashing:
        known = known_by_code(person=person, code=form.cleaned_data["code"], phone=phone, at=at)
    if known is None:
        log.warning("code failed", extra={"phone": phone.pk})
        form.add_error(None, CODE_NOT_KNOWN)
        return _code_page(request, phone, form, onward, status=422)
    forget_attempts(attempt)
    kept = known.code
    if known.first:
        if not changes:
            again = _code_form(phone, True)(initial={"person": person})
            return _code_page(request, phone, again, onward)
        try:
            with hashing:
                kept = set_own_code(user=known.user, code=form.cleaned_data["new_code"], at=at)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
            return _code_page(request, phone, form, onward, status=422)
        log.info("code set", extra={"user": known.user.pk})
    login(request, known.user, backend=MODEL_BACKEND)
    request.session[PHONE_IN_SESSION] = {
        "phone": phone.pk,
        "code": kept.stamp,
        "since": at.isoformat(),
    }
    note_seen(phone, at=at)
    log.info("signed in on a phone", extra={"user": known.user.pk, "phone": phone.pk})
    return redirect(onward)


def _code_form(phone: Phone, changes: bool) -> Callable[..., CodeSignInForm]:
    people = list(people_on_phones(phone.depot_id).values_list("pk", "name"))
    return partial(FirstCodeForm if changes else CodeSignInForm, people=people)


def _code_page(
    request: HttpRequest,
    phone: Phone,
    form: CodeSignInForm | None,
    onward: str,
    *,
    status: int = 200,
) -> HttpResponse:
    form = form or _code_form(phone, False)()
    page = {"phone": phone, "form": form, "next": onward, "changes": "new_code" in form.fields}
    return render(request, "plant/code_sign_in.html", page, status=status)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
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
    page = {
        "form": form,
        "next": onward,
        "hint": getattr(settings, "SIGN_IN_HINT", ()),
        "phone": phone_of(request),
    }
    return render(request, "plant/sign_in.html", page, status=status)
