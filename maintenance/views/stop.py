"""Deciding on a stop, and the release check."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _

from maintenance.actions.release import release_machine
from maintenance.actions.stop import decide_stop
from maintenance.contents.competence import standing
from maintenance.contents.fitness import fitness_of
from maintenance.contents.record import who
from maintenance.forms.entry import sent
from maintenance.forms.stop import DecideForm, ReleaseForm
from maintenance.models import Job, Skill, Stop
from maintenance.tasks import raise_due_of
from maintenance.views.acted import acted
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine
from plant.nudge import nudge
from plant.rights import Right


@login_required
@form_page
def decide(request: UserRequest, pk: int) -> HttpResponse:
    stop = find(
        Stop.objects.visible_to(request.user).select_related(
            "machine__depot", "machine__kind", "job", "record__by"
        ),
        request.user,
        Right.DECIDE,
        depot="machine__depot_id",
        pk=pk,
    )
    form = DecideForm(**sent(request), stop=stop)

    def act(given: dict[str, Any]) -> str:
        decide_stop(
            stop=stop, carry_on_until=given.get("until"), reason=given["reason"],
            answer=given["answer"], at=now(), by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return _("Decided and sealed.")

    return acted(
        request, form, act, then=("maintenance:machine", stop.machine_id),
        template="maintenance/decide.html", stop=stop, machine=stop.machine, who=who(stop.record),
    )  # fmt: skip


@login_required
@form_page
def release(request: UserRequest, pk: int) -> HttpResponse:
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        Right.RELEASE,
        depot="depot_id",
        pk=pk,
    )
    stops = list(Stop.objects.standing().filter(machine=machine).select_related("job"))
    bare = Job.objects.filter(machine=machine, is_safety=True, state=Job.State.DONE)
    jobs = list(bare.exclude(kind=Job.Kind.TEST).exclude(stops__in=stops))
    at = now()
    competence = standing(
        request.user, depot_id=machine.depot_id, skill=Skill.RELEASE, family=machine.kind.family,
        on=machine.depot.day_of(at),
    )  # fmt: skip
    form = ReleaseForm(**sent(request), stops=stops, jobs=jobs, one_person=machine.depot.one_person)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            release_machine(
                machine=machine,
                frees=form.frees(),
                jobs=form.looked_over(),
                looks=form.looks(),
                reason=given.get("reason", ""),
                note=given["note"],
                at=at,
                by=request.user,
                record_id=given["entry"],
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            nudge(raise_due_of, machine.depot_id)
            machine.refresh_from_db()
            mark = fitness_of(machine, machine.depot.day_of(at)).mark
            messages.success(
                request,
                _("Release check sealed. {machine}: {mark}.").format(machine=machine, mark=mark),
            )
            return redirect("maintenance:machine", machine.pk)
    return render(
        request,
        "maintenance/release.html",
        {
            "machine": machine,
            "form": form,
            "nothing": not stops and not jobs,
            # Said before anything is filled in; what was filled in before is kept and answered.
            "cannot": competence.refusal if request.method != "POST" else "",
        },
        status=422 if form.errors else 200,
    )
