"""A person's page, the erasure of a person, and what is held on oneself."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.contents.people import person_of
from maintenance.forms.entry import sent
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page
from plant.models import Membership
from plant.rights import Right, depots_where, may
from plant.security_log import note
from reports.actions import erasure as action
from reports.contents import erasure as contents
from reports.contents.own_data import own_data as pieces
from reports.forms import AskErasureForm, CarryOutForm
from reports.models import Erasure


def _member(request: UserRequest, pk: int, right: Right) -> Membership:
    return find(
        Membership.objects.filter(
            depot__in=depots_where(request.user, Right.SEE), user__is_active=True
        ).select_related("user", "depot"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )


@login_required
@require_safe
def person(request: UserRequest, pk: int) -> HttpResponse:
    """One person at one depot; any of their memberships there stands for both."""
    member = _member(request, pk, Right.PEOPLE)
    user, depot = request.user, member.depot
    return render(
        request,
        "reports/person.html",
        {
            "member": member,
            "person": person_of(member, viewer=user, on=depot.day_of(now())),
            "asked": Erasure.objects.open()
            .filter(person=member.user, depot__in=depots_where(user, Right.KEEP))
            .select_related("asked_by")
            .first(),
            "may_ask": may(user, Right.ASK_ERASURE, depot.pk) and member.user_id != user.pk,
            "may_erase": may(user, Right.ERASE, depot.pk),
        },
    )


@login_required
@form_page
def ask_erasure(request: UserRequest, pk: int) -> HttpResponse:
    member = _member(request, pk, Right.ASK_ERASURE)
    form = AskErasureForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            action.ask_erasure(
                person=member.user, depot=member.depot, reason=form.cleaned_data["reason"],
                at=now(), by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.add_error(refused.field or None, str(refused))
        else:
            note("erasure asked for", user=request.user.pk, of=member.user_id)
            messages.success(request, _("Asked for. The administrator carries it out."))
            return redirect("reports:erasures")
    return render(
        request,
        "reports/ask_erasure.html",
        {
            "form": form,
            "member": member,
            "hindrances": contents.hindrances(member.user, by=request.user),
        },
        status=422 if form.errors else 200,
    )


@login_required
@require_safe
def erasures(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.KEEP)
    seen = Erasure.objects.visible_to(request.user).select_related(
        "person", "depot", "asked_by", "record__depot", "record__by"
    )
    return render(
        request,
        "reports/erasures.html",
        {
            "asked": list(seen.open()),
            "done": list(seen.filter(done_at__isnull=False).order_by("-done_at")[:50]),
            "erases": depots_where(request.user, Right.ERASE),
        },
    )


@login_required
@form_page
def erasure(request: UserRequest, pk: int) -> HttpResponse:
    """Carries it out, after everything it does has been said."""
    found = find(
        Erasure.objects.visible_to(request.user, Right.SEE).select_related(
            "person", "depot", "asked_by", "record__depot"
        ),
        request.user,
        Right.ERASE,
        depot="depot_id",
        pk=pk,
    )
    alone = found.asked_by_id == request.user.pk
    form = CarryOutForm(**sent(request), request=request, alone=alone and found.depot.one_person)
    if request.method == "POST" and form.is_valid() and form.proven():
        given = form.cleaned_data
        try:
            done = action.carry_out(
                erasure=found, own_words=given["own_words"], others_words=given["others_words"],
                files=given["kept_files"], alone_because=given.get("alone_because", ""), at=now(),
                by=request.user, record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            note("erased", user=request.user.pk, of=done.person_id)
            messages.success(
                request,
                _("Erased, and sealed. The name is now {person}.").format(person=done.person.name),
            )
            return redirect("reports:erasures")
    return render(
        request,
        "reports/erasure.html",
        {
            "form": form,
            "erasure": found,
            "hindrances": contents.hindrances(found.person, by=request.user)
            if found.is_open
            else [],
            "extent": contents.extent(found.person, depots=depots_where(request.user, Right.ERASE))
            if found.is_open
            else None,
        },
        status=422 if form.errors else 200,
    )


@login_required
@require_POST
def drop_erasure(request: UserRequest, pk: int) -> HttpResponse:
    found = find(
        Erasure.objects.visible_to(request.user, Right.SEE),
        request.user,
        Right.KEEP,
        depot="depot_id",
        pk=pk,
    )
    try:
        action.drop_erasure(erasure=found, at=now(), by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Taken back. Nothing was erased."))
    return redirect("reports:erasures")


@login_required
@require_safe
def own_data(request: UserRequest) -> HttpResponse:
    """What is held on who is signed in, in words, and the way to take it along."""
    return render(request, "reports/own_data.html", {})


@login_required
@require_safe
def own_data_file(request: UserRequest) -> StreamingHttpResponse:
    """Never on a shared phone: the file would stay there."""
    if request.user.on_phone is not None:
        raise PermissionDenied(_("Sign in with your password on a device of your own for this."))
    note("own data taken", user=request.user.pk)
    response = StreamingHttpResponse(
        pieces(request.user, at=now()), content_type="application/json"
    )
    response.headers["Content-Disposition"] = 'attachment; filename="your-data.json"'
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
