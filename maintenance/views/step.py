"""The steps of a job, answered on one page in their order."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import ngettext

from maintenance.actions.step import tell_steps
from maintenance.contents.step import open_positions, with_answers
from maintenance.forms.entry import sent
from maintenance.forms.step import StepsForm
from maintenance.models import Job, StepAnswer
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import User
from plant.rights import Right

# Of so many of a person's last answers the tool is remembered.
REMEMBERED = 40


@login_required
@form_page
def job_steps(request: UserRequest, pk: int) -> HttpResponse:
    found = find(
        Job.objects.visible_to(request.user).select_related("machine__depot", "machine__kind"),
        request.user,
        Right.WORK,
        depot="machine__depot_id",
        pk=pk,
    )
    form = StepsForm(
        **sent(request),
        steps=with_answers(found),
        isolated=found.isolated_at is not None,
        tools=_tools(request.user),
    )
    if request.method == "POST" and form.is_valid():
        try:
            count = tell_steps(job=found, answers=form.answers(), at=now(), by=request.user)
        except Refused as refused:
            form.refuse(refused)
        else:
            left = len(open_positions(with_answers(found)))
            told = ngettext(
                "{count} step saved, {left} still open.",
                "{count} steps saved, {left} still open.",
                count,
            ).format(count=count, left=left)
            messages.success(request, told)
            return redirect("maintenance:job_steps" if left else "maintenance:job", found.pk)
    return render(
        request,
        "maintenance/job_steps.html",
        {
            "job": found,
            "machine": found.machine,
            "form": form,
            "rows": form.rows(),
            "left": len(open_positions(list(form.steps))),
        },
        status=422 if form.errors else 200,
    )


def _tools(user: User) -> dict[str, str]:
    """By unit, what the person measured with last."""
    given = StepAnswer.objects.filter(by=user).exclude(tool="").order_by("-pk")
    rows = given.values_list("step__unit", "tool")[:REMEMBERED]
    return dict(reversed(list(rows)))
