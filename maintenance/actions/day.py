"""The day sheet: jobs taken back, put in order and promised; who is there for how long."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.job import locked_job, move_job
from maintenance.actions.work_done import MOST_MINUTES
from maintenance.models import FitterDay, Job
from maintenance.rules import day as rule
from plant.actions.refusal import Refused
from plant.models import Depot, User
from plant.rights import Right, may, role_for


@transaction.atomic
def take_back(*, job: Job, at: datetime, by: User) -> Job:
    """Takes a job that is given out and not begun back; it is looked at, and nobody has it.

    Raises:
        Refused: it is not given out, or begun already.
    """
    job = locked_job(job)
    role_for(by, Right.GIVE_OUT, job.machine.depot_id)
    if job.state != Job.State.GIVEN_OUT:
        raise Refused(_("Only a job that is given out and not begun is taken back."), field="job")
    move_job(job, "looked at", at=at)
    job.given_to, job.given_for = None, None
    job.save()
    return job


@transaction.atomic
def change_place(*, job: Job, earlier: bool, at: datetime, by: User) -> Job:
    """Puts a job one place earlier or later within the day of whoever has it.

    Raises:
        Refused: nobody has it for a day.
    """
    job = locked_job(job)
    depot = job.machine.depot
    role_for(by, Right.GIVE_OUT, job.machine.depot_id)
    if job.given_to_id is None or job.given_for is None or not job.is_open:
        raise Refused(_("This job is in nobody's day. Give it out first."), field="job")
    same_day = Job.objects.open().filter(
        machine__depot=depot, given_to=job.given_to_id, given_for=job.given_for
    )
    order = list(same_day.order_by("day_place", "pk").values_list("pk", flat=True))
    for place, pk in enumerate(rule.moved(order, job.pk, earlier=earlier), 1):
        Job.objects.filter(pk=pk).exclude(day_place=place).update(day_place=place)
    job.refresh_from_db(fields=["day_place"])
    return job


@transaction.atomic
def plan_job(
    *, job: Job, minutes: int | None, promised_at: datetime | None, at: datetime, by: User
) -> Job:
    """Keeps how long the job is expected to take, and for when it is promised; None: not said.

    Raises:
        Refused: the job is ended, the minutes are out of range, or the promise is for a day past.
    """
    job = locked_job(job)
    role_for(by, Right.GIVE_OUT, job.machine.depot_id)
    if not job.is_open:
        raise Refused(_("This job is ended. Nothing was changed."))
    if minutes is not None and not 1 <= minutes <= MOST_MINUTES:
        raise Refused(
            _("Enter 1 to {most_minutes} minutes.").format(most_minutes=MOST_MINUTES),
            field="minutes",
        )
    day_of = job.machine.depot.day_of
    if (
        promised_at is not None
        and promised_at != job.promised_at
        and day_of(promised_at) < day_of(at)
    ):
        raise Refused(_("That day is past. Promise today or later."), field="promised_at")
    job.expected_minutes, job.promised_at = minutes, promised_at
    job.save()
    return job


@transaction.atomic
def set_fitter_day(*, depot: Depot, person: User, on: date, minutes: int | None, by: User) -> None:
    """Says how long somebody is there on a day; 0: off. None: as the depot's week has it.

    Raises:
        Refused: the person does no work here, or more than a day has.
    """
    role_for(by, Right.GIVE_OUT, depot.pk)
    if not may(person, Right.WORK, depot.pk):
        raise Refused(_("This person does no jobs at this depot. Nothing was changed."))
    if minutes is None:
        FitterDay.objects.filter(depot=depot, person=person, on=on).delete()
        return
    if not 0 <= minutes <= MOST_MINUTES:
        raise Refused(
            _("Enter 0 to {most_minutes} minutes; 0 is off.").format(most_minutes=MOST_MINUTES),
            field="minutes",
        )
    FitterDay.objects.update_or_create(
        depot=depot, person=person, on=on, defaults={"minutes": minutes}
    )
