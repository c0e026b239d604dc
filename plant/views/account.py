"""One's own account: where one is signed in, the password, and one-time codes; links for all."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from plant import one_time as codes
from plant.actions import account as accounts
from plant.actions import one_time, session
from plant.actions.link import TooManyVisits, count_visit
from plant.actions.refusal import Refused
from plant.actions.sign_in import HeldBack
from plant.drawings.qr import qr_svg
from plant.forms_people import (
    ConfirmCodesForm,
    LengthsForm,
    NewPasswordForm,
    OwnPasswordForm,
    SureForm,
)
from plant.hashing import hashing
from plant.http import UserRequest, form_page
from plant.models import Firm, Lengths, Membership, OneTime, SignedIn, SpareCode
from plant.phone_codes import in_fours
from plant.rights import depots_of, is_senior, roles
from plant.security_log import note
from plant.signed_in import seconds_left

ISSUER = "Site plant"


@login_required
@require_safe
def own_account(request: UserRequest) -> HttpResponse:
    """Who one is here, and where one is signed in."""
    user, at = request.user, now()
    held = roles(user)
    unused, whole = session.lifetimes(user)
    page = {
        "held": [
            (depot, sorted(str(role.label) for role in held[depot.pk])) for depot in depots_of(user)
        ],
        "learner": Membership.objects.filter(user=user, learner=True).exists(),
        "sessions": session.standing(user, at=at),
        "here": request.session.session_key,
        "unused_h": int(unused.total_seconds() // 3600),
        "whole": "7 days" if whole.days else f"{int(whole.total_seconds() // 3600)} h",
        "lengths_form": LengthsForm(initial={"lengths": user.lengths}),
        "has_codes": one_time.has_codes(user),
        "spares": SpareCode.objects.filter(user=user, used_at=None).count(),
    }
    return render(request, "plant/own_account.html", page)


@login_required
@require_POST
def end_own(request: UserRequest) -> HttpResponse:
    """Ends one session of one's own, or all others."""
    user, here = request.user, request.session.session_key or ""
    which = request.POST.get("session", "")
    if which == "others":
        gone = session.end_all(user, but=here)
        note("own sessions ended by a person", request=request)
        messages.success(
            request, _("Ended: {gone}. You are signed in here alone.").format(gone=gone)
        )
    else:
        found = SignedIn.objects.filter(user=user).exclude(session_key=here)
        row = found.filter(pk=which).first() if which.isascii() and which.isdigit() else None
        if row is None:
            messages.error(request, _("That one is over already. Nothing was changed."))
        else:
            session.end([row])
            note("own session ended by a person", request=request)
            messages.success(request, _("Ended. Whoever uses it is asked to sign in."))
    return redirect("plant:own_account")


@login_required
@require_POST
def own_lengths(request: UserRequest) -> HttpResponse:
    """In which unit one reads and types lengths."""
    form = LengthsForm(request.POST)
    if form.is_valid():
        accounts.choose_lengths(user=request.user, lengths=form.cleaned_data["lengths"])
        chosen = Lengths(form.cleaned_data["lengths"]).label.lower()
        messages.success(
            request, _("Lengths are now in {chosen} on your pages.").format(chosen=chosen)
        )
    else:
        messages.error(request, _("Choose millimetres or inches. Nothing was changed."))
    return redirect("plant:own_account")


@login_required
@require_POST
def stay(request: UserRequest) -> HttpResponse:
    """The press on the warning: the session was used, and so long it lasts now."""
    return JsonResponse({"seconds": seconds_left(request)})


@sensitive_post_parameters("proof", "new_password", "again")
@login_required
@form_page
def own_password(request: UserRequest) -> HttpResponse:
    form = OwnPasswordForm(request.POST if request.method == "POST" else None, request=request)
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            with hashing:
                person = accounts.set_own_password(
                    user=request.user, password=form.cleaned_data["new_password"], at=now(),
                    but=request.session.session_key or "",
                )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            before = request.session.session_key
            update_session_auth_hash(request, person)
            request.session.save()
            row = SignedIn.objects.filter(session_key=before)
            row.update(session_key=request.session.session_key or "")
            messages.success(request, _("Your password is changed. Every other session ended."))
            return redirect("plant:own_account")
    page = {"form": form}
    return render(request, "plant/own_password.html", page, status=422 if form.errors else 200)


# --- One-time codes ------------------------------------------------------------------------
@login_required
@form_page
def own_codes(request: UserRequest) -> HttpResponse:
    """Setting up one's codes: the secret as text and as a square code, then the first code."""
    user = request.user
    row = OneTime.objects.filter(user=user).first()
    if row is None or row.confirmed_at is not None:
        return _codes_page(request, SureForm(request=request))
    form = ConfirmCodesForm(request.POST if request.method == "POST" else None, request=request)
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            spares = one_time.confirm(user=user, typed=form.cleaned_data["code"], at=now())
        except Refused as refused:
            form.refuse(refused)
        else:
            request.session.pop(session.OWES_CODES, None)
            return _spares(request, spares, set_up=True)
    secret = codes.opened(row.secret) or b""
    where = codes.address_of(secret, sign_in=user.sign_in, issuer=ISSUER)
    page = {
        "form": form,
        "secret": codes.as_text(secret),
        "picture": {"svg": qr_svg(where, title=_("The secret for a camera"))},
    }
    return render(request, "plant/begin_codes.html", page, status=422 if form.errors else 200)


@login_required
@require_POST
def begin_codes(request: UserRequest) -> HttpResponse:
    """A new secret, also in the place of one that was never confirmed."""
    form = SureForm(request.POST, request=request)
    if not (form.is_valid() and form.proven()):
        return _codes_page(request, form)
    try:
        one_time.begin(user=request.user, at=now())
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("plant:own_codes")


@login_required
@require_POST
def new_spares(request: UserRequest) -> HttpResponse:
    form = SureForm(request.POST, request=request)
    if not one_time.has_codes(request.user):
        return redirect("plant:own_codes")
    if not (form.is_valid() and form.proven()):
        return _codes_page(request, form)
    return _spares(request, one_time.new_spares(user=request.user), set_up=False)


@login_required
@require_POST
def give_up_codes(request: UserRequest) -> HttpResponse:
    form = SureForm(request.POST, request=request)
    if not (form.is_valid() and form.proven()):
        return _codes_page(request, form)
    try:
        one_time.give_up(user=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Given up. From now on your password alone signs you in."))
    return redirect("plant:own_codes")


def _codes_page(request: UserRequest, form: SureForm) -> HttpResponse:
    """The page of the codes, with the password asked for."""
    user = request.user
    page = {
        "row": OneTime.objects.filter(user=user, confirmed_at__isnull=False).first(),
        "form": form,
        "spares": SpareCode.objects.filter(user=user, used_at=None).count(),
        "owes": bool(request.session.get(session.OWES_CODES)),
        "must": is_senior(user) and Firm.now().codes_asked,
    }
    return render(request, "plant/own_codes.html", page, status=422 if form.errors else 200)


def _spares(request: UserRequest, spares: list[str], *, set_up: bool) -> HttpResponse:
    """Shown once: the database keeps their hashes."""
    page = {"spares": [in_fours(code) for code in spares], "set_up": set_up}
    return render(request, "plant/spare_codes.html", page)


# --- The link by which a password is set -----------------------------------------------------
@sensitive_post_parameters("new_password", "again")
@form_page
def way_in(request: HttpRequest, code: str) -> HttpResponse:
    """Looking uses nothing up; a password that is set does."""
    answer = _way_in(request, code)
    # The address opens something until it is used, so what was wrong is not logged with it.
    answer._has_been_logged = True  # type: ignore[attr-defined]
    return answer


def _way_in(request: HttpRequest, code: str) -> HttpResponse:
    at = now()
    link = accounts.way_in_of(code, at=at)
    try:
        count_visit(code=code if link else "", address=request.META.get("REMOTE_ADDR", ""), at=at)
    except TooManyVisits as held:
        answer = render(request, "plant/way_in.html", {"told": str(held)}, status=429)
        answer.headers["Retry-After"] = str(int(held.wait.total_seconds()) + 1)
        return answer
    if link is None:
        return render(request, "plant/way_in.html", {"told": ""}, status=404)
    form = NewPasswordForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            with hashing:
                accounts.use_way_in(code=code, password=form.cleaned_data["new_password"], at=at)
        except Refused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            messages.success(
                request,
                _("Your password is set. Sign in as {sign_in}.").format(sign_in=link.user.sign_in),
            )
            return redirect(settings.LOGIN_URL)
    page: dict[str, Any] = {"form": form, "link": link}
    return render(request, "plant/way_in.html", page, status=422 if form.errors else 200)


__all__ = ["HeldBack", "begin_codes", "end_own", "give_up_codes", "new_spares", "own_account",
           "own_codes", "own_lengths", "own_password", "stay", "way_in"]  # fmt: skip
