"""Paper of one day of a depot: the job lists of its people, and the board for the wall."""

from datetime import date, datetime

from django.utils.translation import gettext as _

from maintenance.rules.words import day_text
from plant.actions.refusal import Refused
from plant.models import Depot, User
from reports.actions.sheet import Wanted, ask_paper
from reports.contents.job_list import people_with_jobs
from reports.models import Batch


def ask_job_lists(
    *, depot: Depot, on: date, by: User, at: datetime, person: User | None = None
) -> Batch:
    """Asks for the job list of the day of each who has a job, or of one person.

    Raises:
        Refused: nobody has a job on that day.
        PermissionError: no role of theirs prints this here.
    """
    people = people_with_jobs(depot, on=on, today=depot.day_of(at))
    if person is not None:
        people = [each for each in people if each == person]
    if not people:
        told = (
            _("No job is given out for {on}.")
            if person is None
            else _("No job is given out to {person} for {on}.")
        )
        name = person.name if person else ""
        raise Refused(told.format(person=name, on=day_text(on)), field="on")
    what = (
        _("{count} job lists").format(count=len(people))
        if len(people) > 1
        else _("Job list of {people}").format(people=people[0].name)
    )
    return ask_paper(
        depot=depot,
        wanted=[Wanted(person=each) for each in people],
        by=by,
        at=at,
        kind=Batch.Kind.JOB_LIST,
        days=(on, on),
        title=f"{what}, {day_text(on)}",
    )


def ask_board(*, depot: Depot, on: date, by: User, at: datetime) -> Batch:
    """Asks for the wall board of the day.

    Raises:
        PermissionError: no role of theirs prints this here.
    """
    return ask_paper(
        depot=depot,
        wanted=[Wanted()],
        by=by,
        at=at,
        kind=Batch.Kind.BOARD,
        days=(on, on),
        title=_("Wall board of {depot}, {on}").format(depot=depot, on=day_text(on)),
    )
