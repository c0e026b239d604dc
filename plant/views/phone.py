"""Shared phones: the list, enrolling and withdrawing, and the codes of people."""

from math import ceil
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.contrib.auth.hashers import check_password
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from plant import phone_codes
from plant.actions import phone as actions
from plant.actions.refusal import Refused
from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.drawings.qr import qr_svg
from plant.forms_phone import AskPhoneForm, EnrolForm, OwnCodeForm
from plant.hashing import hashing
from plant.http import PHONE_IN_SESSION, UserRequest, anywhere, find, form_page, phone_of
from plant.models import Membership, Phone
from plant.rights import Right, depots_where
from plant.security_log import note

# Browsers keep no cookie longer than this.
_KEPT = 400 * 24 * 3600
LINK_IN_SESSION = "phone_link"


@login_required
@form_page
def phone_list(request: UserRequest) -> HttpResponse:
    """The phones of the person's depots; a new one is asked for on the same page."""
    anywhere(request.user, Right.PEOPLE)
    at = now()
    form = AskPhoneForm(request.POST if request.method == "POST" else None, user=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            phone, code = actions.ask_phone(
                depot=form.cleaned_data["depot"],
                name=form.cleaned_data["name"],
                by=request.user,
                at=at,
            )
        except Refused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            note("phone asked for", user=request.user.pk, phone=phone.pk)
            # The phone keeps its hash; who asked sees it, while the session lasts and it counts.
            request.session[LINK_IN_SESSION] = {"phone": phone.pk, "code": code}
            return redirect("plant:phone_link", phone.pk)
    phones = Phone.objects.visible_to(request.user).select_related("depot")
    return render(
        request,
        "plant/phone_list.html",
        {
            "form": form,
            "phones": list(phones.enrolled()),
            "waiting": [p for p in phones.filter(enrolled_at=None) if p.is_waiting(at)],
            "withdrawn": list(
                phones.filter(withdrawn_at__isnull=False, enrolled_at__isnull=False)
                .select_related("withdrawn_by")
                .order_by("-withdrawn_at")[:20]
            ),
        },
        status=422 if form.errors else 200,
    )


@login_required
@require_safe
def phone_link(request: UserRequest, pk: int) -> HttpResponse:
    """The code that enrols the phone, for who asked for it."""
    phone = _found(request, pk)
    kept = request.session.get(LINK_IN_SESSION, {})
    if kept.get("phone") != phone.pk or not phone.is_waiting(now()):
        return redirect("plant:phone_list")
    where = settings.SITE_ADDRESS.rstrip("/") + reverse("plant:enrol_phone")
    code = kept["code"]
    page = {
        "phone": phone,
        "code": phone_codes.in_fours(code),
        "address": where,
        "picture": {"svg": qr_svg(f"{where}?code={code}", title=_("Code for the camera"))},
    }
    return render(request, "plant/phone_link.html", page)


@login_required
@require_POST
def withdraw_phone(request: UserRequest, pk: int) -> HttpResponse:
    phone = _found(request, pk)
    actions.withdraw(phone=phone, by=request.user, at=now())
    note("phone withdrawn", user=request.user.pk, phone=phone.pk)
    messages.success(
        request, _("{phone} is withdrawn. Nobody is signed in on it any more.").format(phone=phone)
    )
    return redirect("plant:phone_list")


def _found(request: UserRequest, pk: int) -> Phone:
    return find(
        Phone.objects.visible_to(request.user, Right.SEE).select_related("depot"),
        request.user,
        Right.PEOPLE,
        depot="depot_id",
        pk=pk,
    )


@form_page
def enrol_phone(request: HttpRequest) -> HttpResponse:
    """Opened on the phone itself. Looking uses nothing up; pressing the button does."""
    form = EnrolForm(
        request.POST if request.method == "POST" else None,
        initial={"code": request.GET.get("code", "")[:64]},
    )
    status = 200
    if request.method == "POST":
        status = 422
        address = request.META.get("REMOTE_ADDR", "")
        if form.is_valid():
            try:
                attempt = begin_attempt(
                    sign_in=_("enrol {address}").format(address=address), address=address, at=now()
                )
                phone, secret = actions.enrol(code=form.cleaned_data["code"], at=now())
            except HeldBack as held:
                note("enrolment held back")
                form.add_error(
                    None, str(held).replace(_("Nobody was signed in."), _("Not enrolled."))
                )
                answer = render(request, "plant/enrol_phone.html", {"form": form}, status=429)
                answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
                return answer
            except Refused as refused:
                note("enrolment failed")
                form.add_error("code", str(refused))
            else:
                forget_attempts(attempt)
                # Whoever had signed in here did so on a phone that was not yet shared.
                logout(request)
                note("phone enrolled", phone=phone.pk)
                messages.success(
                    request,
                    _("This phone is now {phone}, of {depot}.").format(
                        phone=phone, depot=phone.depot
                    ),
                )
                return keep_secret(redirect("plant:sign_in"), secret)
    page = {"form": form, "already": phone_of(request)}
    return render(request, "plant/enrol_phone.html", page, status=status)


def keep_secret(answer: HttpResponse, secret: str) -> HttpResponse:
    """The cookie that makes this browser the enrolled phone."""
    answer.set_cookie(
        settings.PHONE_COOKIE_NAME,
        secret,
        max_age=_KEPT,
        path="/",
        secure=settings.TLS,
        httponly=True,
        samesite="Lax",
    )
    return answer


@sensitive_post_parameters("proof", "new_code", "again")
@login_required
@form_page
def own_code(request: UserRequest) -> HttpResponse:
    """One's own six figures; asks first for what the person signed in with."""
    user, on_phone = request.user, request.user.on_phone
    form = OwnCodeForm(
        request.POST if request.method == "POST" else None, on_phone=on_phone is not None
    )
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            at, proof = now(), form.cleaned_data["proof"]
            try:
                if on_phone:
                    attempt = actions.begin_code_attempt(person=user.pk, phone=on_phone, at=at)
                else:
                    address = request.META.get("REMOTE_ADDR", "")
                    attempt = begin_attempt(sign_in=user.sign_in, address=address, at=at)
                with hashing:
                    if on_phone:
                        known = actions.known_by_code(
                            person=user.pk, code=proof, phone=on_phone, at=at
                        )
                        right = known is not None
                    else:
                        right = check_password(proof, user.password)
                    if right:
                        forget_attempts(attempt)
                        kept = actions.set_own_code(
                            user=user, code=form.cleaned_data["new_code"], at=at
                        )
            except HeldBack as held:
                form.add_error(None, str(held).replace(_("Nobody was signed in."), _("Not saved.")))
                answer = render(request, "plant/own_code.html", {"form": form}, status=429)
                answer.headers["Retry-After"] = str(ceil(held.wait.total_seconds()))
                return answer
            except Refused as refused:
                form.add_error(refused.field, str(refused))
            else:
                if right:
                    if on_phone:
                        told = request.session[PHONE_IN_SESSION]
                        request.session[PHONE_IN_SESSION] = {**told, "code": kept.stamp}
                    note("code set", user=user.pk)
                    messages.success(request, _("Your code is set. It works on shared phones now."))
                    return redirect(settings.LOGIN_REDIRECT_URL)
                note("code not set", user=user.pk)
                form.add_error("proof", _("This is not right. Nothing was changed. Type it again."))
    return render(request, "plant/own_code.html", {"form": form}, status=status)


@login_required
@form_page
def first_code(request: UserRequest, pk: int) -> HttpResponse:
    """A first code for somebody of the depot, shown once."""
    member = find(
        Membership.objects.filter(depot__in=depots_where(request.user, Right.SEE)).select_related(
            "user", "depot"
        ),
        request.user,
        Right.PEOPLE,
        depot="depot_id",
        pk=pk,
    )
    page: dict[str, Any] = {"person": member.user, "depot": member.depot}
    status = 200
    if request.method == "POST":
        try:
            page["code"] = actions.give_first_code(
                person=member.user, depot=member.depot, by=request.user, at=now()
            )
        except Refused as refused:
            page["refused"], status = str(refused), 422
        else:
            note("first code given", person=member.user_id)
    return render(request, "plant/first_code.html", page, status=status)
