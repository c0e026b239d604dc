"""What a person's calendar of one depot holds: due work on its day, jobs on the day given out."""

from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext as _

from maintenance.contents.due import told
from maintenance.models import DueLine, Job
from maintenance.rules.due import DUE_SOON, NOTHING
from plant.calendar_out import Event
from plant.models import Place
from reports.contents.letter import address, one_line
from reports.contents.message import without_care
from reports.models import Feed

AHEAD = timedelta(days=366)
# A job that was called off says so for this long, for calendars that keep what they once held.
CALLED_OFF_FOR = timedelta(days=30)
# A calendar of more is of no use to anybody, and takes long to make.
MOST_EVENTS = 5000


def events(feed: Feed, *, at: datetime) -> list[Event]:
    """The events of the calendar, by day. Names of people are not in it: calendars travel.

    As if each had changed just now; actions/feed.py knows what each said before.
    """
    found = [] if feed.what == Feed.What.MINE else _due_work(feed, at=at)
    found += _jobs(feed, at=at)
    return sorted(found, key=lambda event: (event.on, event.uid))[:MOST_EVENTS]


def _uid(what: str) -> str:
    return f"{what}@{urlsplit(settings.SITE_ADDRESS).hostname or 'localhost'}"


def _due_work(feed: Feed, *, at: datetime) -> list[Event]:
    """Each line on the day to plan for; one whose job is given out stands on that job's day."""
    on = feed.depot.day_of(at)
    given = Job.objects.filter(
        due_line=OuterRef("pk"), cycle=OuterRef("cycle"), given_for__isnull=False
    ).open()
    lines = (
        without_care(DueLine.objects.filter(machine__depot=feed.depot))
        .filter(plan_on__lte=on + AHEAD)
        .exclude(machine__place__in=(Place.GONE, Place.MISSING))
        .exclude(machine__place=Place.LAID_UP, line__is_test=False)
        .filter(~Exists(given))
        .select_related(
            "line", "counter__use_rate", "machine__kind", "machine__depot", "machine__use_rate"
        )
        .order_by("plan_on", "pk")
    )
    found = []
    for work in told(lines[:MOST_EVENTS], on):
        line, machine = work.line, work.line.machine
        assert line.plan_on is not None  # filtered by it
        state = "" if work.state in (NOTHING, DUE_SOON) else f"{work.state.capitalize()}: "
        likely = " (likely)" if line.plan_on not in (line.due_on, line.put_off_to) else ""
        found.append(
            Event(
                uid=_uid(f"due-{line.pk}-{line.cycle}"),
                on=line.plan_on,
                summary=one_line(f"{state}{machine.number} {line.line.title}{likely}"),
                description=f"{machine.kind.name}, {feed.depot.name}. {work.why}",
                address=address("maintenance:machine", machine.pk),
                changed_at=at,
            )
        )
    return found


def _jobs(feed: Feed, *, at: datetime) -> list[Event]:
    jobs = (
        Job.objects.filter(machine__depot=feed.depot, given_for__isnull=False)
        .filter(
            ~Q(state__in=(Job.State.CLOSED, Job.State.CALLED_OFF))
            | Q(state=Job.State.CALLED_OFF, state_since__gte=at - CALLED_OFF_FOR)
        )
        .select_related("machine__kind")
        .order_by("given_for", "pk")
    )
    if feed.what == Feed.What.MINE:
        jobs = jobs.filter(given_to=feed.user)
    found = []
    for job in jobs[:MOST_EVENTS]:
        assert job.given_for is not None  # filtered by it
        state = str(job.get_state_display())
        if job.given_to_id == feed.user_id:
            state = _("{state}, given out to you").format(state=state)
        told_of = [f"{job.machine.kind.name}, {feed.depot.name}. {state}."]
        if job.symptom:
            told_of.append(_("Symptom: {symptom}").format(symptom=one_line(job.symptom)))
        if job.is_open:
            told_of.append(_("Stop, isolate and lock off before you open a guard."))
        found.append(
            Event(
                uid=_uid(f"job-{job.pk}"),
                on=job.given_for,
                summary=one_line(f"{job.number} {job.machine.number} {job.title}"),
                description="\n".join(told_of),
                address=address("maintenance:job", job.pk),
                changed_at=at,
                cancelled=not job.is_open,
            )
        )
    return found
