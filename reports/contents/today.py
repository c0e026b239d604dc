"""Today: what needs somebody now, read with a handful of queries whatever the size of the fleet."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, F, Min, OuterRef, Q, QuerySet, Subquery, Window

from maintenance.contents.answer import Reply, reply, told_by
from maintenance.contents.check_due import Wanted, overdue_in_use, sheets_of, wanted_of_many
from maintenance.contents.due import DueWork, announced, coming, counted, past, told
from maintenance.contents.job import Workshop, workshop
from maintenance.contents.people import Ending, ending_soon
from maintenance.models import Job, Stay, Stop
from plant.contents.health import LATE, background_silence
from plant.http import today_at
from plant.models import Machine, Place, User
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
    workshop: Workshop
    silent: bool
    may_look_together: bool


def today(user: User, *, at: datetime) -> Today:
    on = today_at(user, at)
    standing = Stop.objects.standing().exclude(kind=Stop.Kind.CARRY_ON, until__gte=on)
    stopped = (
        Machine.objects.visible_to(user)
        .in_fleet()
        .filter(pk__in=standing.values("machine"))
        .select_related("kind", "depot")
    )
    # What nobody has comes first, the longest first of all.
    unheld = Q(stops__in=standing, stops__job__in=Job.objects.nobody_has())
    in_turn = stopped.annotate(nobody_since=Min("stops__record__received_at", filter=unheld))
    in_turn = in_turn.order_by(F("nobody_since").asc(nulls_last=True), "number_key")
    lines = announced(user, on)
    overdue = past(lines, on).filter(machine__place=Place.OUT)
    soon = coming(lines, on)
    jobs = (
        Job.objects.visible_to(user)
        .open()
        .filter(due_line__isnull=True)
        .select_related("machine", "given_to", "has_it")
        .order_by("opened_at")
    )
    counts = counted(lines, on)
    both = Q(pk__in=overdue.values("pk")[:SHOWN]) | Q(pk__in=soon.values("pk")[:SHOWN])
    shown = told(lines.filter(both), on)
    fleet = Machine.objects.visible_to(user)
    depots = depots_of(user)
    sheets = sheets_of(depots, at=at)
    unchecked = overdue_in_use(fleet, depots, at=at, sheets=sheets)
    stay = Stay.objects.open().filter(machine=OuterRef("pk")).values("out_at")[:1]
    late = _first(unchecked.annotate(out_at=Subquery(stay)).select_related("kind", "depot"))
    wanted = wanted_of_many(
        late, at=at, sheets=sheets, out_at={each.pk: each.out_at for each in late}
    )
    first_stopped = _first(in_turn)
    first_jobs = _first(jobs)
    silence = background_silence(at)
    return Today(
        on=on,
        stopped=_stopped(first_stopped, user),
        stopped_count=_all(first_stopped),
        overdue=[each for each in shown if _is_past(each, on)],
        overdue_count=counts.in_use,
        soon=[each for each in shown if not _is_past(each, on)],
        soon_count=counts.soon,
        in_store_count=counts.in_store,
        jobs=first_jobs,
        jobs_count=_all(first_jobs),
        unchecked=[(machine, wanted[machine.pk]) for machine in late],
        unchecked_count=_all(late),
        told=[reply(job, own=True) for job in told_by(user, since=at - TOLD_FOR)[:SHOWN]],
        takes_on=depots_where(user, Right.WORK),
        # Foremen and managers hear of it, for they have to find another to sign.
        ending=ending_soon(user, right=Right.DECIDE, on=on),
        batches=in_progress(user, at=at),
        workshop=workshop(user, on=on, at=at),
        silent=silence is None or silence > LATE,
        may_look_together=bool(depots_where(user, Right.DECIDE)),
    )


def _stopped(machines: list[Machine], user: User) -> list[Stopped]:
    stops: dict[int, list[Stop]] = {machine.pk: [] for machine in machines}
    phones: dict[int, str] = {}
    stays = Stay.objects.visible_to(user, Right.MOVE).open().filter(machine=OuterRef("machine"))
    standing = Stop.objects.standing().filter(machine__in=machines)
    standing = standing.annotate(site_phone=Subquery(stays.values("site_phone")[:1]))
    for stop in standing.select_related("job__has_it", "job__given_to", "record"):
        stops[stop.machine_id].append(stop)
        phones[stop.machine_id] = getattr(stop, "site_phone", None) or ""
    return [Stopped(machine, stops[machine.pk], phones.get(machine.pk, "")) for machine in machines]


def _is_past(work: DueWork, on: date) -> bool:
    after = work.line.past_after
    return work.line.hours_past or (after is not None and after < on)


def _first(rows: QuerySet[Any]) -> list[Any]:
    """The first few, each of which knows how many there are in all."""
    return list(rows.annotate(in_all=Window(Count("*")))[:SHOWN])


def _all(first: list[Any]) -> int:
    return first[0].in_all if first else 0


def in_progress(user: User, *, at: datetime) -> list[Batch]:
    """The person's own prints, with how far each is: the open ones, then what failed of late."""
    own = Batch.objects.visible_to(user).filter(asked_by=user)
    shown = own.open() | own.filter(state=Batch.State.FAILED, ended_at__gte=at - FAILED_FOR)
    batches = sorted(shown.order_by("-asked_at")[:SHOWN], key=lambda batch: not batch.is_open)
    return with_progress(batches)


def with_progress(batches: list[Batch]) -> list[Batch]:
    """Sets ``total``, ``printed`` and ``failed`` on each batch; one query."""
    counts: dict[int, dict[str, int]] = {batch.pk: {} for batch in batches}
    rows = Sheet.objects.filter(batch__in=batches).values("batch", "state").annotate(n=Count("pk"))
    for row in rows.order_by():
        counts[row["batch"]][row["state"]] = row["n"]
    for batch in batches:
        found = counts[batch.pk]
        batch.total = sum(found.values())
        batch.printed = found.get(Sheet.State.DONE, 0)
        batch.failed = found.get(Sheet.State.FAILED, 0)
    return batches
