"""A machine out with somebody: issue, pass on, who has it, take back."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext, gettext_noop

from maintenance.actions import stay as action
from maintenance.contents.competence import standing
from maintenance.contents.fitness import fitness_of
from maintenance.contents.out_in import can_go
from maintenance.forms.entry import sent
from maintenance.forms.stay import BEFORE, BackForm, GoingForm
from maintenance.models import Skill, Stay
from maintenance.rules.words import day_text
from maintenance.views.place import act_page, found_machine
from plant.actions.refusal import Refused
from plant.http import UserRequest, form_page
from plant.models import Machine
from plant.rights import Right

_PHONE_FIRST = gettext_noop(
    "The site phone is what the desk rings when somebody stops the machine there."
)


def issue(
    request: UserRequest, pk: int, *, also: Callable[[Stay], None] | None = None
) -> HttpResponse:
    """The form of the issue and the act. Its address lies with the paper that goes with it.

    Args:
        also: what is done with the new stay, in the transaction of the issue.
    """
    machine = found_machine(request, pk, Right.MOVE)
    at = now()
    answer = can_go(machine, machine.depot.day_of(at), user=request.user)
    form = GoingForm(**sent(request), machine=machine, notes=answer.notes, issues=True)
    if request.method == "POST" and form.is_valid():
        given, going = form.cleaned_data, form.going()
        try:
            if given.get("plan") == BEFORE:
                jobs = action.work_first(
                    machine=machine, until=going.due_back_on, at=at, by=request.user,
                    record_id=given["entry"],
                )  # fmt: skip
                numbers = ", ".join(job.number for job in jobs)
                messages.success(
                    request,
                    gettext("It stays here until its work is done: {numbers}.").format(
                        numbers=numbers
                    ),
                )
                return redirect("maintenance:machine", machine.pk)
            action.issue(
                machine=machine, going=going, at=at, by=request.user, dial=form.dial(),
                plan=given.get("plan", ""), plan_reason=given.get("plan_reason", ""),
                note_shown=bool(given.get("note_shown")), passport=given["passport"],
                photos=form.photos(), record_id=given["entry"], also=also,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request,
                gettext("{machine} is out at {site}. Sealed.").format(
                    machine=machine, site=going.site
                ),
            )
            return redirect("maintenance:machine", machine.pk)
    return render(
        request,
        "maintenance/issue.html",
        {
            "machine": machine, "form": form, "answer": answer, "title": gettext("Issue"),
            "button": gettext("Issue it"),
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


@login_required
@form_page
def pass_on(request: UserRequest, pk: int) -> HttpResponse:
    machine = found_machine(request, pk, Right.MOVE)
    at = now()
    fit = fitness_of(machine, machine.depot.day_of(at))
    notes = [reason for reason in fit.reasons if reason.startswith("Carry on")]
    form = GoingForm(**sent(request), machine=machine, notes=notes, passes=True)
    care = f"{fit.mark}: {' '.join(fit.reasons)}" if fit.mark == "Do not use" else ""

    def act(given: dict[str, Any]) -> str:
        stay = action.pass_on(
            machine=machine, going=form.going(), taken_by=given["taken_by"], at=at,
            by=request.user, plan=given.get("plan", ""),
            plan_reason=given.get("plan_reason", ""),
            note_shown=bool(given.get("note_shown")), record_id=given["entry"],
        )  # fmt: skip
        return gettext("Passed on to {site}. Not yet passed until it is checked there.").format(
            site=stay.site
        )

    return act_page(
        request,
        machine,
        form,
        act,
        title=gettext("Pass on"),
        button=gettext("Pass it on"),
        care=care,
        note=gettext("From one site to another without coming home."),
    )


@login_required
@form_page
def tell_stay(request: UserRequest, pk: int) -> HttpResponse:
    machine = found_machine(request, pk, Right.MOVE)
    stay = Stay.objects.open().filter(machine=machine).select_related("hirer").first()
    known = {"site": machine.site}
    if stay is not None:
        known = {name: getattr(stay, name) for name in ("site", "site_phone", "due_back_on")}
        known |= {"went_with": stay.went_with}
        if stay.hirer:
            known |= {"hirer": stay.hirer.name, "hirer_phone": stay.hirer.phone}
    form = GoingForm(**sent(request), machine=machine, initial=known)

    def act(given: dict[str, Any]) -> str:
        kept = action.tell_stay(
            machine=machine, going=form.going(), at=now(), by=request.user,
            plan=given.get("plan", ""), plan_reason=given.get("plan_reason", ""),
            record_id=given["entry"],
        )  # fmt: skip
        return gettext("{machine}: at {site}, due back {due_back_on}.").format(
            machine=machine, site=kept.site, due_back_on=day_text(kept.due_back_on)
        )

    return act_page(
        request,
        machine,
        form,
        act,
        title=gettext("Who has it"),
        button=gettext("Keep this"),
        note=gettext(_PHONE_FIRST),
    )


@login_required
@form_page
def take_back(request: UserRequest, pk: int) -> HttpResponse:
    machine = found_machine(request, pk, Right.MOVE)
    stay = Stay.objects.open().filter(machine=machine).select_related("hirer", "record").first()
    form = BackForm(**sent(request), machine=machine, stay=stay)
    if request.method == "POST" and form.is_valid():
        given, at = form.cleaned_data, now()
        try:
            action.take_back(
                machine=machine, at=at, by=request.user, dial=form.dial(),
                came_with=form.came_with(), missing=form.missing(),
                condition=given["condition"], fuel=given.get("fuel", ""), clean=given["clean"],
                photos=form.photos(), record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            return _looked_over_next(request, machine, at=at)
    photos = stay.record.photos.filter(erased_at__isnull=True) if stay else ()
    return render(
        request,
        "maintenance/take_back.html",
        {"machine": machine, "form": form, "stay": stay, "photos": photos},
        status=422 if form.errors else 200,
    )


def _looked_over_next(request: UserRequest, machine: Machine, *, at: datetime) -> HttpResponse:
    """On to the look-over where this person is competent; else the machine's page says who is
    waited for."""
    back = gettext("{machine} is back in the yard.").format(machine=machine)
    cannot = standing(
        request.user, depot_id=machine.depot_id, skill=Skill.INSPECT,
        family=machine.kind.family, on=machine.depot.day_of(at),
    ).refusal  # fmt: skip
    if cannot:
        messages.success(
            request,
            gettext("{back} Not yet passed: a competent person looks it over.").format(back=back),
        )
        return redirect("maintenance:machine", machine.pk)
    messages.success(request, gettext("{back} Not yet passed: look it over now.").format(back=back))
    return redirect("maintenance:look_over", machine.pk)
