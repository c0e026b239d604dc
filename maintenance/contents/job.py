"""Lists of jobs: by what somebody asks for, what waits, and how often trouble comes back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    DateField,
    DateTimeField,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.utils.translation import gettext_noop as _

from maintenance.contents.answer import FREED, told_by
from maintenance.contents.sought import jobs_with
from maintenance.models import Job
from maintenance.models.job import JobQuerySet
from maintenance.rules import again as rule
from plant.contents.archive import SHOWN_FOR, archives, from_column, read_along
from plant.contents.health import background_at, last_in_background
from plant.kept import Given, Kept
from plant.models import Chore, User
from plant.rights import Right, depots_where

SAFETY, AGAIN, COUNTERSIGN, LATE = "safety", "back again", "countersign", "late"
FLAGS: dict[str, str] = {
    SAFETY: _("Safety"),
    AGAIN: _("Back again inside 30 days"),
    COUNTERSIGN: _("Waits to be countersigned"),
    LATE: _("Waits past the day it was expected"),
}
SHOWN = 8
A_YEAR = timedelta(days=365)
# So far ahead a promise is shown.
SOON = timedelta(days=1)


def asked_for(user: User, kept: Mapping[str, Any], *, on: date) -> JobQuerySet:
    """The jobs of the person's depots that fit the filters, whatever their state."""
    jobs = Job.objects.visible_to(user).select_related(
        "machine__kind", "machine__depot", "given_to", "back_again_of"
    )
    if kept.get("depot"):
        jobs = jobs.filter(machine__depot=kept["depot"])
    if kept.get("mine") == "1":
        jobs = jobs.filter(given_to=user)
    elif kept.get("mine") == "none":
        jobs = jobs.filter(given_to__isnull=True)
    if kept.get("person"):
        jobs = jobs.filter(given_to=kept["person"])
    if kept.get("kind"):
        jobs = jobs.filter(kind=kept["kind"])
    if kept.get("waiting"):
        jobs = jobs.filter(state=Job.State.WAITING, waiting_for=kept["waiting"])
    if kept.get("flag"):
        jobs = jobs.filter(_flag(kept["flag"], on))
    if kept.get("q"):
        jobs = jobs_with(jobs, kept["q"])
    return jobs


def in_usual_order(jobs: QuerySet[Job], user: User, *, waits: bool) -> QuerySet[Job]:
    """One's own first, then the newest; of waiting jobs those that wait longest."""
    if waits:
        return jobs.order_by("state_since", "pk")
    mine = Case(When(given_to=user, then=Value(0)), default=Value(1), output_field=IntegerField())
    return jobs.order_by(mine, "-pk")


def is_late(job: Job, on: date) -> bool:
    """Whether it waits past the day on which the wait should have ended."""
    late = job.expected_on is not None and job.expected_on < on
    return late and job.state == Job.State.WAITING


@dataclass(frozen=True)
class Workshop:
    """What a workshop has to look at today; at most so many of each, and whether there are more."""

    countersign: list[Job]
    late: list[Job]
    promised: list[Job]

    @property
    def anything(self) -> bool:
        return bool(self.countersign or self.late or self.promised)


@dataclass(frozen=True)
class OnToday:
    """The jobs of the first page: open ones that no plan raised, the person's own first, then the
    oldest, with how many there are; what the person told lately, the newest first; what a workshop
    has to look at.

    background_at: when the background work last ran; archive: the file of everything that the
    person asked for lately. Both are read along with them.
    """

    open: list[Job]
    open_count: int
    told: list[Job]
    workshop: Workshop
    background_at: datetime | None
    archive: Chore | None


# What the first page shows of a job, and what the answer to who told it follows from.
_LISTED = (
    "title", "state", "due_line", "opened_at", "back_again_of", "state_since", "waiting_for",
    "expected_on", "promised_at", "countersign_wanted", "given_for", "done_at", "closed_at",
    "machine__number", "machine__depot__time_zone", "given_to__name", "done_by__name",
)  # fmt: skip


def on_today(user: User, *, on: date, at: datetime, told_since: datetime) -> OnToday:
    """All of them in one query, and sorted here."""
    of_late = at - SHOWN_FOR
    jobs = _ON_TODAY.rows(
        user, on=on, soon=at + SOON, me=user.pk, since=told_since, of_late=of_late
    )  # fmt: skip
    seen, works = depots_where(user, Right.SEE), depots_where(user, Right.WORK)
    first = [
        each
        for each in jobs
        if each.is_open and each.due_line_id is None and each.machine.depot_id in seen
    ]
    return OnToday(
        open=sorted(first, key=lambda each: (each.given_to_id != user.pk, each.opened_at))[:SHOWN],
        open_count=(jobs[0].open_in_all or 0) if jobs else 0,
        told=sorted((each for each in jobs if each.is_told), key=lambda each: -each.pk)[:SHOWN],
        workshop=_workshop([each for each in jobs if each.machine.depot_id in works], on, at),
        background_at=jobs[0].background_at if jobs else last_in_background(),
        archive=from_column(jobs[0].archive) if jobs else archives(user, of_late).first(),
    )


def _on_today(user: User) -> QuerySet[Job]:
    on: Any = Given("on", DateField())
    soon: Any = Given("soon", DateTimeField())
    me: Any = Given("me", BigIntegerField())
    told = told_by(user, me, since=Given("since", DateTimeField()))
    raised = Job.objects.visible_to(user).open().filter(due_line__isnull=True)
    promised = Q(promised_at__lt=soon) & ~Q(state=Job.State.DONE)
    flagged = Job.objects.visible_to(user, Right.WORK).open()
    wanted = Q(pk__in=raised.order_by("opened_at").values("pk")[:SHOWN])
    mine = raised.filter(given_to=me, state__in=(Job.State.GIVEN_OUT, Job.State.UNDER_WAY))
    wanted |= Q(pk__in=mine.order_by("opened_at").values("pk")[:SHOWN])
    wanted |= Q(pk__in=told.order_by("-job").values("job").distinct()[:SHOWN])
    # The first of each, so that none of the three is hidden behind many of another.
    for flag in (_flag(COUNTERSIGN, on), _flag(LATE, on), promised):
        wanted |= Q(pk__in=flagged.filter(flag).order_by(*_IN_TURN).values("pk")[:SHOWN])
    return (
        Job.objects.filter(wanted)
        .annotate(
            is_told=Exists(told.filter(job=OuterRef("pk"))),
            freed=FREED,
            background_at=background_at(),
            archive=read_along(me, Given("of_late", DateTimeField())),
            open_in_all=Subquery(
                raised.order_by().values("due_line").annotate(n=Count("pk")).values("n")
            ),
        )
        .select_related("machine__depot", "given_to", "done_by")
        .only(*_LISTED)
        .order_by(*_IN_TURN)
    )


_ON_TODAY = Kept(_on_today)
_IN_TURN = (F("promised_at").asc(nulls_last=True), "state_since", "pk")


def _workshop(jobs: list[Job], on: date, at: datetime) -> Workshop:
    """Learners' work to be countersigned, waits past their day, and promises up to tomorrow."""
    signing = [each for each in jobs if each.state == Job.State.DONE and each.countersign_wanted]
    late = [each for each in jobs if is_late(each, on)]
    promised = [
        each
        for each in jobs
        if each.is_open
        and each.state != Job.State.DONE
        and each.promised_at
        and each.promised_at < at + SOON
    ]
    return Workshop(countersign=signing[:SHOWN], late=late[:SHOWN], promised=promised[:SHOWN])


@dataclass(frozen=True)
class CameBack:
    """Of one kind of machine: jobs closed in the year, and how many of them came back."""

    kind: str
    closed: int
    again: int

    @property
    def words(self) -> str:
        return rule.share_text(again=self.again, closed=self.closed)


def came_back(user: User, *, at: datetime) -> tuple[list[CameBack], datetime, datetime]:
    """By kind, and the moments between which the jobs were closed.

    Jobs closed in the last 30 days are left out: they may come back yet.
    """
    until = at - rule.WINDOW
    since = until - A_YEAR
    closed = Job.objects.visible_to(user).filter(
        state=Job.State.CLOSED, due_line__isnull=True, closed_at__gte=since, closed_at__lt=until
    )
    back = Exists(Job.objects.filter(back_again_of=OuterRef("pk")))
    rows = (
        closed.annotate(back=back)
        .order_by()
        .values("machine__kind__name")
        .annotate(closed=Count("pk"), again=Count("pk", filter=Q(back=True)))
        .order_by("-again", "machine__kind__name")
    )
    found = [CameBack(row["machine__kind__name"], row["closed"], row["again"]) for row in rows]
    return found, since, until


def _flag(flag: str, on: date) -> Q:
    return {
        SAFETY: Q(is_safety=True),
        AGAIN: Q(back_again_of__isnull=False),
        COUNTERSIGN: Q(countersign_wanted=True, state=Job.State.DONE),
        LATE: Q(state=Job.State.WAITING, expected_on__lt=on),
    }[flag]
