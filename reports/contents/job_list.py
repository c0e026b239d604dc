"""Gathers the job list of one person for one day from the day sheet."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.day import day_sheet
from maintenance.models import Job, Stop
from maintenance.rules.words import day_text, moment_text
from plant.models import Depot, Machine, Place, User
from reports.pdf.job_list import JobList, Task
from reports.pdf.page import Printed
from reports.pdf.service_sheet import Caution

# Common practice, no source.
CAUTIONS = (
    Caution(
        "Stop",
        gettext_noop("Moving parts and live parts. Isolate and lock off before a cover comes off."),
    ),
    Caution(
        "Take care", gettext_noop("Guards back on before it is started, also for a trial run.")
    ),
)


def job_list(person: User, depot: Depot, *, on: date, at: datetime, by: str) -> JobList:
    """The jobs given to the person for the day, in their order.

    Args:
        at: now; by: who prints it.
    """
    local = at.astimezone(depot.zone)
    printed = Printed(at=moment_text(local), by=by)
    sheet = day_sheet(depot, on=on, today=local.date())
    column = next((each for each in sheet.columns if each.person == person), None)
    return JobList(
        person=person.name,
        day=f"{on:%A %-d %B %Y}",
        depot=depot.name,
        load=column.load if column else "",
        printed=printed,
        tasks=_tasks(column.jobs, today=local.date()) if column else (),
        cautions=tuple(replace(each, words=_(each.words)) for each in CAUTIONS),
    )


def people_with_jobs(depot: Depot, *, on: date, today: date) -> list[User]:
    """Who has a job to do on the day, in the order of the day sheet."""
    columns = day_sheet(depot, on=on, today=today).columns
    return [each.person for each in columns if to_do(each.jobs)]


def to_do(jobs: Iterable[Job]) -> list[Job]:
    """Those whose work is not done yet."""
    return [job for job in jobs if job.state != Job.State.DONE]


def place_of(machine: Machine) -> str:
    """Where it stands, in words for a fitter."""
    if machine.place == Place.OUT and machine.site:
        return _("Out, {site}").format(site=machine.site)
    return machine.get_place_display()


def _tasks(jobs: Iterable[Job], *, today: date) -> tuple[Task, ...]:
    waiting = to_do(jobs)
    stops = Stop.objects.standing().exclude(kind=Stop.Kind.CARRY_ON, until__gte=today)
    machines = [job.machine_id for job in waiting]
    stopped = set(stops.filter(machine__in=machines).values_list("machine_id", flat=True))
    return tuple(_task(job, is_stopped=job.machine_id in stopped) for job in waiting)


def _task(job: Job, *, is_stopped: bool) -> Task:
    machine = job.machine
    remarks = [_("DO NOT USE: only a release check frees it")] if is_stopped else []
    if job.is_safety:
        remarks.append(_("Safety: a release check by a competent person before it is used again"))
    if job.back_again_of_id:
        remarks.append(_("Back again: the same trouble inside 30 days"))
    if job.state == Job.State.WAITING:
        remarks.append(_("Waiting for {waiting_for}").format(waiting_for=job.waiting_for))
    minutes = job.minutes_expected
    return Task(
        number=job.number,
        machine=f"{machine.number}, {machine.kind.name}",
        place=place_of(machine),
        title=job.title,
        told=job.symptom,
        when=_when(job),
        minutes=_("no estimate")
        if minutes is None
        else _("about {minutes} min").format(minutes=minutes),
        remarks=tuple(remarks),
    )


def _when(job: Job) -> str:
    if job.promised_at is not None:
        local = job.promised_at.astimezone(job.machine.depot.zone)
        return _("Promised for {local}").format(local=moment_text(local))
    return _("Due {due_on}").format(due_on=day_text(job.due_on)) if job.due_on else ""
