"""Signing in and out."""

import logging
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

from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.forms import SignInForm
from plant.http import form_page

log = logging.getLogger("security")

# One hash takes 100 MiB: two at a time in each of the two web processes.
_hashing = BoundedSemaphore(2)

NOT_KNOWN = "This name and password do not go together. Nobody was signed in. Type both again."


@sensitive_post_parameters("password")
@form_page
def sign_in(request: HttpRequest) -> HttpResponse:
    onward = own_path(request.POST.get("next", request.GET.get("next", "")))
    if request.user.is_authenticated:
        return redirect(onward)
    if request.method != "POST":
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
    with _hashing:
        # Unknown and disabled accounts cost one hash too: the backend sees to it.
        user = authenticate(request, username=name, password=form.cleaned_data["password"])
    if user is None:
        log.warning("sign-in failed", extra={"address": address})
        form.add_error(None, NOT_KNOWN)
        return _page(request, form, onward, status=422)
    forget_attempts(attempt)
    login(request, user)
    log.info("signed in", extra={"user": user.pk, "address": address})
    return redirect(onward)


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
    page = {"form": form, "next": onward, "hint": getattr(settings, "SIGN_IN_HINT", ())}
    return render(request, "plant/sign_in.html", page, status=status)
