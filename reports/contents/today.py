"""Today: what needs somebody now, read with a handful of queries whatever the size of the fleet."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    BigIntegerField,
    Count,
    DateField,
    DateTimeField,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce

from maintenance.contents.answer import Reply, replies
from maintenance.contents.check_due import Wanted, first_overdue, sheets_of, wanted_of_many
from maintenance.contents.due import DueWork, first_of_each, told
from maintenance.contents.job import Workshop, on_today
from maintenance.contents.people import Ending, ending_soon
from maintenance.models import Job, Stay, Stop
from plant.contents.archive import SHOWN_FOR, archives
from plant.contents.health import LATE
from plant.http import today_at
from plant.kept import Given, Kept
from plant.models import Chore, Machine, Place, User
from plant.rights import Right, depots_of, depots_where
from reports.models import Batch, Sheet

SHOWN = 8
# A print that failed is shown for this long, or until it is tried again.
FAILED_FOR = timedelta(days=1)
# What somebody told is shown to him with its answer for this long.
TOLD_FOR = timedelta(days=30)


@dataclass(frozen=True)
class Stopped:
    """A machine with what stands against it, and who has it where it is out.

    site_phone: shown only to who issues machines and takes them back.
    """

    machine: Machine
    stops: list[Stop]
    site_phone: str = ""


@dataclass(frozen=True)
class Today:
    """Everything on the first page. Counts are of all, lists hold the first few.

    unchecked: machines out with a check overdue, the longest first; told: the answers to what the
    person told lately; takes_on: depots in which he may say "I have it"; may_look_together: he
    decides on faults somewhere, so that the patterns in checks are for his eyes.
    """

    on: date
    stopped: list[Stopped]
    stopped_count: int
    overdue: list[DueWork]
    overdue_count: int
    soon: list[DueWork]
    soon_count: int
    in_store_count: int
    jobs: list[Job]
    jobs_count: int
    unchecked: list[tuple[Machine, Wanted]]
    unchecked_count: int
    told: list[Reply]
    takes_on: frozenset[int]
    ending: list[Ending]
    batches: list[Batch]
    archive: Chore | None
    workshop: Workshop
    silent: bool
    may_look_together: bool


def today(user: User, *, at: datetime) -> Today:
    on = today_at(user, at)
    counts, lines = first_of_each(user, on, most=SHOWN)
    shown = told(lines, on)
    unchecked, unchecked_count = _unchecked(user, at=at)
    stopped, stopped_count = _stopped(user, on)
    jobs = on_today(user, on=on, at=at, told_since=at - TOLD_FOR)
    return Today(
        on=on,
        stopped=stopped,
        stopped_count=stopped_count,
        overdue=[each for each in shown if _is_past(each, on)],
        overdue_count=counts.in_use,
        soon=[each for each in shown if not _is_past(each, on)],
        soon_count=counts.soon,
        in_store_count=counts.in_store,
        jobs=jobs.open,
        jobs_count=jobs.open_count,
        unchecked=unchecked,
        unchecked_count=unchecked_count,
        told=replies(jobs.told),
        takes_on=depots_where(user, Right.WORK),
        # Foremen and managers hear of it, for they have to find another to sign.
        ending=ending_soon(user, right=Right.DECIDE, on=on),
        batches=in_progress(user, at=at),
        archive=jobs.archive if depots_where(user, Right.TAKE_OUT) else None,
        workshop=jobs.workshop,
        silent=jobs.background_at is None or at - jobs.background_at > LATE,
        may_look_together=bool(depots_where(user, Right.DECIDE)),
    )


def _stopped(user: User, on: date) -> tuple[list[Stopped], int]:
    """The first stopped machines, and how many there are; what nobody has comes first, the longest
    first of all."""
    stops: dict[int, list[Any]] = {}
    for stop in _STOPS.rows(user, on=on):
        stops.setdefault(stop.machine_id, []).append(stop)
    found = sorted(stops.values(), key=lambda each: _turn(each, on))
    return (
        [Stopped(each[0].machine, each, each[0].site_phone or "") for each in found],
        found[0][0].in_all if found else 0,
    )


def _stops(user: User) -> QuerySet[Stop]:
    """All that stands against the first machines; each stop is told how many machines there are."""
    on: Any = Given("on", DateField())
    standing = Stop.objects.visible_to(user).standing().exclude(machine__place=Place.GONE)
    standing = standing.exclude(kind=Stop.Kind.CARRY_ON, until__gte=on).order_by()
    unheld = Q(job__state__in=Job.UNTAKEN, job__has_it__isnull=True)
    in_turn = (
        standing.values("machine")
        .annotate(nobody_since=Min("record__received_at", filter=unheld))
        .order_by(F("nobody_since").asc(nulls_last=True), "machine__number_key")
        .values("machine")
    )
    how_many = Count("machine", distinct=True)
    in_all = standing.annotate(one=Value(1)).values("one").annotate(n=how_many)
    stays = Stay.objects.visible_to(user, Right.MOVE).open().filter(machine=OuterRef("machine"))
    return (
        Stop.objects.standing()
        .filter(machine__in=in_turn[:SHOWN])
        .annotate(
            site_phone=Subquery(stays.order_by().values("site_phone")[:1]),
            in_all=Subquery(in_all.values("n")),
        )
        .select_related("job__has_it", "job__given_to", "record", "machine__kind", "machine__depot")
        .only(*_OF_STOP)
    )


def _turn(stops: list[Stop], on: date) -> tuple[bool, datetime | None, str]:
    """Sorts machines: by since when nobody has it, then by number."""
    since = [
        stop.record.received_at
        for stop in stops
        if stop.job and stop.job.nobody_has_it and not stop.carries_on(on)
    ]
    return not since, min(since, default=None), stops[0].machine.number_key


_OF_STOP = (
    "kind", "until", "words", "since", "record__received_at", "job__state", "job__has_it_since",
    "job__has_it__name", "job__given_to__name", "machine__number", "machine__number_key",
    "machine__place", "machine__site", "machine__kind__name", "machine__depot__name",
)  # fmt: skip


_STOPS = Kept(_stops)


def _unchecked(user: User, *, at: datetime) -> tuple[list[tuple[Machine, Wanted]], int]:
    """The first machines that are out with a check overdue, and how many there are."""
    sheets = sheets_of(depots_of(user), at=at)
    late = first_overdue(user, sheets, at=at, most=SHOWN)
    wanted = wanted_of_many(
        late, at=at, sheets=sheets, out_at={each.pk: each.out_at for each in late}
    )
    return [(machine, wanted[machine.pk]) for machine in late], late[0].in_all if late else 0


def _is_past(work: DueWork, on: date) -> bool:
    after = work.line.past_after
    return work.line.hours_past or (after is not None and after < on)


def in_progress(user: User, *, at: datetime) -> list[Batch]:
    """The person's own prints, with how far each is: the open ones, then what failed of late."""
    shown = _PRINTS.rows(user, me=user.pk, since=at - FAILED_FOR)
    return sorted(shown, key=lambda batch: not batch.is_open)


def archive_of(user: User, *, at: datetime) -> Chore | None:
    """The file of everything that the person asked for: under way, or ready or failed of late."""
    if not depots_where(user, Right.TAKE_OUT):
        return None
    return archives(user, at - SHOWN_FOR).first()


def _sheets(**which: Any) -> Coalesce:
    """How many sheets of a batch there are of a kind."""
    sheets = Sheet.objects.filter(batch=OuterRef("pk"), **which).order_by().values("batch")
    return Coalesce(Subquery(sheets.annotate(n=Count("pk")).values("n")), 0)


_PROGRESS = {
    "total": _sheets(),
    "printed": _sheets(state=Sheet.State.DONE),
    "failed": _sheets(state=Sheet.State.FAILED),
}


def _prints(user: User) -> QuerySet[Batch]:
    since: Any = Given("since", DateTimeField())
    me: Any = Given("me", BigIntegerField())
    shown = Q(state__in=Batch.OPEN) | Q(state=Batch.State.FAILED, ended_at__gte=since)
    own: QuerySet[Batch] = Batch.objects.filter(asked_by=me).visible_to(user)
    return own.filter(shown).annotate(**_PROGRESS).order_by("-asked_at")[:SHOWN]


_PRINTS = Kept(_prints)


def with_progress(batches: list[Batch]) -> list[Batch]:
    """Sets ``total``, ``printed`` and ``failed`` on each batch, and of a long sheet under way how
    far it is; one query, and one more where one is."""
    if not batches:
        return batches
    counts: dict[int, dict[str, int]] = {batch.pk: {} for batch in batches}
    rows = Sheet.objects.filter(batch__in=batches).values("batch", "state").annotate(n=Count("pk"))
    for row in rows.order_by():
        counts[row["batch"]][row["state"]] = row["n"]
    for batch in batches:
        found = counts[batch.pk]
        batch.total = sum(found.values())
        batch.printed = found.get(Sheet.State.DONE, 0)
        batch.failed = found.get(Sheet.State.FAILED, 0)
    long = {batch.pk: batch for batch in batches if batch.is_long and batch.is_open}
    under_way = Sheet.objects.filter(batch__in=long, state=Sheet.State.WORKING) if long else ()
    for sheet in under_way and under_way.only("batch", "doing", "parts_done", "parts_all"):
        batch = long[sheet.batch_id]
        batch.doing = sheet.doing
        batch.parts_done, batch.parts_all = sheet.parts_done, sheet.parts_all
    return batches
