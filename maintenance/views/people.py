"""The people of a depot: what they are competent for, giving it and ending it."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions.competence import end, give
from maintenance.contents.people import ending_soon, people_of
from maintenance.forms.entry import sent
from maintenance.forms.people import EndForm, GiveForm
from maintenance.models import Competence, Skill
from maintenance.views.acted import acted
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, find, form_page, today_at
from plant.models import Membership
from plant.rights import Right, depots_where


@login_required
@require_safe
def people(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.PEOPLE)
    on = today_at(request.user, now())
    return render(
        request,
        "maintenance/people.html",
        {
            "depots": people_of(request.user, on=on),
            "ending": ending_soon(request.user, right=Right.PEOPLE, on=on),
        },
    )


@login_required
@form_page
def give_competence(request: UserRequest, pk: int) -> HttpResponse:
    """For one person of one depot; any of their memberships there stands for both."""
    member = find(
        Membership.objects.filter(
            depot__in=depots_where(request.user, Right.SEE), user__is_active=True
        ).select_related("user", "depot"),
        request.user,
        Right.PEOPLE,
        depot="depot_id",
        pk=pk,
    )
    at, person, depot = now(), member.user, member.depot
    form = GiveForm(
        **sent(request),
        for_oneself=person == request.user,
        initial={"valid_from": depot.day_of(at)},
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            made = give(
                person=person,
                depot=depot,
                skill=Skill(given["skill"]),
                family=given["family"],
                valid_from=given["valid_from"],
                valid_until=given["valid_until"],
                told=given["told"],
                reason=given.get("reason", ""),
                at=at,
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                _("Given to {person} and sealed: {made}.").format(person=person.name, made=made),
            )
            return redirect("maintenance:people")
    return render(
        request,
        "maintenance/give_competence.html",
        {"form": form, "person": person, "depot": depot},
        status=422 if form.errors else 200,
    )


@login_required
@form_page
def end_competence(request: UserRequest, pk: int) -> HttpResponse:
    found = find(
        Competence.objects.visible_to(request.user).select_related("user", "depot"),
        request.user,
        Right.PEOPLE,
        depot="depot_id",
        pk=pk,
    )
    form = EndForm(**sent(request))

    def act(given: dict[str, Any]) -> str:
        end(
            competence=found, because=given["because"], at=now(), by=request.user,
            record_id=given["entry"],
        )  # fmt: skip
        return _("Ended from today on, and sealed: {found}.").format(found=found)

    return acted(
        request, form, act, then=("maintenance:people",),
        template="maintenance/end_competence.html", competence=found,
    )  # fmt: skip
