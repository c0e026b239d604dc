"""A belt drive worked out from figures alone; nothing is kept, and its address can be passed on."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from plant.contents.workout import told
from plant.contents.workout_pictures import pictures
from plant.drives.errors import DriveError
from plant.drives.workout import CAUTIONS, DriveWorkout, work_out
from plant.forms_drive import WorkOutForm
from plant.http import UserRequest


@login_required
@require_safe
def belt_work_out(request: UserRequest) -> HttpResponse:
    """All figures stand in the address, so that a fitter can send the page to another."""
    if not request.GET:
        return render(request, "plant/work_out.html", {"form": WorkOutForm(), "cautions": CAUTIONS})
    form = WorkOutForm(request.GET)
    found = _worked_out(form)
    said = told(found) if found is not None else None
    return render(
        request,
        "plant/work_out.html",
        {
            "form": form,
            "said": said,
            "pictures": pictures(said) if said is not None else (),
            "cautions": CAUTIONS,
        },
        status=200 if said is not None else 422,
    )


def _worked_out(form: WorkOutForm) -> DriveWorkout | None:
    given = form.given()
    if given is None:
        return None
    try:
        return work_out(given)
    except DriveError as refused:
        words = str(refused)
        form.add_error(None, f"{words[:1].upper()}{words[1:]}.")
        return None
