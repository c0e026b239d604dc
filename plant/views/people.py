"""The office: people, their roles and accounts, and what each role may do."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant.actions import account as actions
from plant.actions.depot import change_firm
from plant.actions.refusal import Refused
from plant.contents import people as contents
from plant.drawings.qr import qr_svg
from plant.forms_people import FirmForm, InviteForm, LinkForm, RolesForm, SureForm, TellForm
from plant.http import UserRequest, anywhere, form_page, see
from plant.models import Depot, Firm, Membership, Role, User
from plant.rights import NotAllowed, Right, depots_where, gives
from plant.tables import AccountTable, paged


@login_required
@require_safe
def office(request: UserRequest) -> HttpResponse:
    """The ways to everything that is kept on people, depots and rules."""
    anywhere(request.user, Right.PEOPLE)
    found = contents.accounts(request.user)
    count = {state: sum(each.state == state for each in found) for state in contents.STATES}
    page = {
        "count": count,
        "depots": len(depots_where(request.user, Right.PEOPLE)),
        "may_depots": bool(depots_where(request.user, Right.DEPOTS)),
    }
    return render(request, "plant/office.html", page)


@login_required
@require_safe
def account_list(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.PEOPLE)
    asked = {
        "words": request.GET.get("q", "")[:100],
        "state": request.GET.get("state", ""),
        "role": request.GET.get("role", ""),
    }
    if asked["state"] not in contents.STATES:
        asked["state"] = ""
    if asked["role"] not in Role.values:
        asked["role"] = ""
    table = AccountTable(contents.accounts(request.user, **asked))
    page = {
        "table": paged(table, request),
        "asked": asked,
        "roles": Role.choices,
        "states": contents.STATES,
        "sought": any(asked.values()),
    }
    return render(request, "plant/account_list.html", page)


@login_required
@form_page
def invite(request: UserRequest) -> HttpResponse:
    depots = _depots(request)
    form = InviteForm(
        request.POST if request.method == "POST" else None,
        request=request, by=request.user, depots=depots,
    )  # fmt: skip
    if request.method == "POST" and form.is_valid() and form.proven():
        at = now()
        try:
            with transaction.atomic():
                person = actions.invite(
                    told=form.told(), roles=form.wanted(), learner=form.cleaned_data["learner"],
                    at=at, by=request.user,
                )  # fmt: skip
                mail = form.cleaned_data.get("mail", False)
                actions.make_way_in(person=person, at=at, by=request.user, mail=mail)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("{person} is invited. Hand the link below over.").format(person=person.name),
            )
            return redirect("plant:way_in_link", person.pk)
    page = {"form": form, "depots": depots}
    return render(request, "plant/invite.html", page, status=422 if form.errors else 200)


@login_required
@require_safe
def account(request: UserRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    page = {
        "person": person,
        "account": contents.account_of(person, viewer=request.user),
        "acts": contents.acts(person, viewer=request.user, at=now()),
        "changes": contents.changes(person, viewer=request.user),
        "members": Membership.objects.filter(
            user=person, depot__in=depots_where(request.user, Right.PEOPLE)
        ).select_related("depot").order_by("depot__name", "pk"),
    }  # fmt: skip
    return render(request, "plant/account.html", page)


@login_required
@form_page
def change_roles(request: UserRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    depots = _depots(request)
    rows = Membership.objects.filter(user=person, depot__in=depots)
    held: dict[int, frozenset[Role]] = {}
    for row in rows:
        held[row.depot_id] = held.get(row.depot_id, frozenset()) | {Role(row.role)}
    form = RolesForm(
        request.POST if request.method == "POST" else None,
        request=request, by=request.user, person=person, depots=depots, held=held,
        initial={"learner": any(row.learner for row in rows)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid() and form.proven():
        at, wanted = now(), form.wanted()
        # What is given comes first, so that the last role of an account can move to another depot.
        order = sorted(depots, key=lambda depot: not wanted[depot.pk] - held.get(depot.pk, set()))
        try:
            with transaction.atomic():
                changed = [
                    actions.change_roles(
                        person=person, depot=depot, wanted=wanted[depot.pk], at=at,
                        learner=form.cleaned_data["learner"], by=request.user,
                        reason=form.cleaned_data.get("reason", ""),
                    )
                    for depot in order
                ]  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            told = (
                _("Kept and sealed. They count at once.")
                if any(changed)
                else _("Nothing to change.")
            )
            messages.success(request, told)
            return redirect("plant:account", person.pk)
    page = {"form": form, "person": person, "depots": depots}
    return render(request, "plant/change_roles.html", page, status=422 if form.errors else 200)


@login_required
@form_page
def change_account(request: UserRequest, pk: int) -> HttpResponse:
    person = _person(request, pk)
    form = TellForm(
        request.POST if request.method == "POST" else None,
        request=request,
        initial={"name": person.name, "sign_in": person.sign_in, "email": person.email},
    )
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            changed = actions.change_account(
                person=person, told=form.told(), at=now(), by=request.user
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            words = (
                _("Changed: {changed}.").format(changed=", ".join(changed))
                if changed
                else _("Nothing to change.")
            )
            messages.success(request, words)
            return redirect("plant:account", person.pk)
    page = {"form": form, "person": person}
    return render(request, "plant/change_account.html", page, status=422 if form.errors else 200)


@login_required
@form_page
def way_in_link(request: UserRequest, pk: int) -> HttpResponse:
    """The link by which somebody sets a password: made here, and shown to who made it."""
    person = _person(request, pk)
    form = LinkForm(
        request.POST if request.method == "POST" else None, request=request, person=person
    )
    if request.method == "POST" and form.is_valid() and form.proven():
        mail = form.cleaned_data.get("mail", False)
        try:
            actions.make_way_in(person=person, at=now(), by=request.user, mail=mail)
        except Refused as refused:
            form.refuse(refused)
        else:
            return redirect("plant:way_in_link", person.pk)
    found = contents.acts(person, viewer=request.user, at=now())
    page: dict[str, Any] = {
        "form": form, "person": person, "acts": found,
        "account": contents.account_of(person, viewer=request.user),
    }  # fmt: skip
    if found.link:
        where = settings.SITE_ADDRESS.rstrip("/") + reverse("plant:way_in", args=[found.link.code])
        page |= {
            "where": where,
            "picture": {"svg": qr_svg(where, title=_("The link for a camera"))},
        }
    return render(request, "plant/way_in_link.html", page, status=422 if form.errors else 200)


@login_required
@form_page
def bring_back(request: UserRequest, pk: int) -> HttpResponse:
    return _act(
        request, pk, actions.bring_back, "plant/bring_back.html",
        _("{} is here again, with the roles as they were. A new link sets the password."),
    )  # fmt: skip


@login_required
@form_page
def take_codes(request: UserRequest, pk: int) -> HttpResponse:
    return _act(
        request,
        pk,
        actions.take_codes,
        "plant/take_codes.html",
        _(
            "The one-time codes of {} are gone. The password "
            "alone signs in until new ones are set up."
        ),
    )


@login_required
@form_page
def end_sessions(request: UserRequest, pk: int) -> HttpResponse:
    return _act(
        request,
        pk,
        actions.end_sessions,
        "plant/end_sessions.html",
        _("{} is signed out everywhere."),
    )


def _act(request: UserRequest, pk: int, action: Any, template: str, told: str) -> HttpResponse:
    """One press on an account, after the password."""
    person = _person(request, pk)
    form = SureForm(request.POST if request.method == "POST" else None, request=request)
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            action(person=person, at=now(), by=request.user)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, told.format(person.name))
            return redirect("plant:account", person.pk)
    page = {"form": form, "person": person}
    return render(request, template, page, status=422 if form.errors else 200)


@login_required
@form_page
def firm_settings(request: UserRequest) -> HttpResponse:
    """What holds for the whole firm."""
    anywhere(request.user, Right.DEPOTS)
    firm = Firm.now()
    form = FirmForm(
        request.POST if request.method == "POST" else None,
        request=request,
        initial={"codes_asked": firm.codes_asked, "depots_seen": firm.depots_seen},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid() and form.proven():
        try:
            change_firm(
                codes_asked=form.cleaned_data["codes_asked"],
                depots_seen=form.cleaned_data["depots_seen"], at=now(), by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Kept."))
            return redirect("plant:office")
    page = {"form": form, "firm": firm}
    return render(request, "plant/firm_settings.html", page, status=422 if form.errors else 200)


@login_required
@require_safe
def rights_told(request: UserRequest) -> HttpResponse:
    """What each role may do, from the one table that decides it."""
    anywhere(request.user, Right.SEE)
    page = {
        "rights": contents.rights_told(),
        "gives": contents.gives_told(),
    }
    return render(request, "plant/rights_told.html", page)


def person_seen(request: UserRequest, pk: int) -> User:
    """The account, if the asker looks after people in a depot where it has a role.

    Raises:
        Http404: no role in a depot of theirs; the same as for a made-up number.
        NotAllowed: they see the depot, but look after nobody there.
    """
    user = request.user
    person = see(User.objects.of_depots(depots_where(user, Right.SEE)), user, pk=pk)
    if not contents.seen_by(user).filter(pk=person.pk).exists():
        raise NotAllowed(
            _("Your role here does not carry the right to {people}.").format(
                people=Right.PEOPLE.words
            ),
            right=Right.PEOPLE.value,
        )
    return person


_person = person_seen


def _depots(request: UserRequest) -> list[Depot]:
    """The depots where the person gives roles."""
    depots = anywhere(request.user, Right.PEOPLE)
    return [each for each in Depot.objects.filter(pk__in=depots) if gives(request.user, each.pk)]
