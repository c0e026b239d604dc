"""Gathers the wall board of a depot for a day.

It hangs where visitors see it, so it names no hirer, no site and no telephone number, and shows no
words that anybody typed: a stop is told by its job, a fault as a fault.
"""

from datetime import date, datetime

from django.db.models import Min, Q
from django.utils.translation import gettext as _

from maintenance.contents.day import Column, day_sheet
from maintenance.contents.due import announced, counted
from maintenance.models import Job, Stay, Stop
from maintenance.rules.words import moment_text
from plant.models import Depot, Machine, User
from reports.contents.job_list import to_do
from reports.pdf.board import Board, BoardColumn, Line
from reports.pdf.page import Printed

# More than a sheet holds.
MOST = 20


def board(depot: Depot, user: User, *, on: date, at: datetime) -> Board:
    """What is stopped, what comes back, and who works on what.

    Args:
        user: who prints it; on: the day; at: now.
    """
    local = at.astimezone(depot.zone)
    today = local.date()
    sheet = day_sheet(depot, on=on, today=today)
    counts = counted(announced(user, today).filter(machine__depot=depot), today)
    return Board(
        depot=depot.name,
        day=f"{on:%A %-d %B %Y}",
        as_at=f"{local:%H:%M}" if on == today else f"{local:%-d %b %H:%M}",
        printed=Printed(at=moment_text(local), by=user.name),
        columns=(_stopped(depot, today), _back(depot, on, today), _work(sheet.columns)),
        counts=(
            (str(counts.in_use), _("overdue where they are used")),
            (str(counts.in_store), _("overdue in store")),
            (str(counts.soon), _("due soon")),
            (str(sheet.left_count), _("jobs not given out")),
        ),
    )


def _stopped(depot: Depot, today: date) -> BoardColumn:
    standing = Stop.objects.standing().exclude(kind=Stop.Kind.CARRY_ON, until__gte=today)
    machines = (
        Machine.objects.filter(depot=depot)
        .in_fleet()
        .annotate(since=Min("stops__since", filter=Q(stops__in=standing)))
        .filter(since__isnull=False)
        .order_by("-since", "number_key")
        .select_related("kind")
    )
    first = list(machines[:MOST])
    jobs: dict[int, str] = {}
    for stop in standing.filter(machine__in=first, job__isnull=False).select_related("job"):
        if stop.job is not None:
            jobs.setdefault(stop.machine_id, f", {stop.job.number}")
    return BoardColumn(
        "Do not use",
        tuple(
            Line(
                each.number,
                _("{place}, since {day}").format(
                    place=each.get_place_display(), day=_day(each, depot)
                )
                + jobs.get(each.pk, ""),
            )
            for each in first
        ),
        count=machines.count(),
        empty=_("No machine is stopped."),
        is_stop=True,
    )


def _day(machine: Machine, depot: Depot) -> str:
    since: datetime = machine.since  # type: ignore[attr-defined]  # annotated
    return f"{depot.day_of(since):%-d %b}"


def _back(depot: Depot, on: date, today: date) -> BoardColumn:
    stays = (
        Stay.objects.open()
        .filter(machine__depot=depot, due_back_on__lte=on)
        .select_related("machine__kind")
        .order_by("-due_back_on", "machine__number_key")
    )
    return BoardColumn(
        _("Due back"),
        tuple(
            Line(
                stay.machine.number,
                _due(stay.due_back_on, stay.machine.kind.name, on=on, today=today),
            )
            for stay in stays[:MOST]
        ),
        count=stays.count(),
        empty=_("Nothing is due back."),
    )


def _due(due: date, kind: str, *, on: date, today: date) -> str:
    if due < today:
        return _("late since {due}, {kind}").format(due=f"{due:%-d %b}", kind=kind)
    return kind if due == on else _("on {due}, {kind}").format(due=f"{due:%-d %b}", kind=kind)


def _what(job: Job) -> str:
    """The title of planned work comes from a plan, that of other work from what somebody told."""
    return job.title if job.due_line_id else job.get_kind_display()


def _work(columns: list[Column]) -> BoardColumn:
    lines = [
        Line(f"{job.machine.number} {column.person.name}", f"{job.number} {_what(job)}")
        for column in columns
        for job in to_do(column.jobs)
    ]
    return BoardColumn(
        _("Work of the day"), tuple(lines[:MOST]), count=len(lines), empty=_("No job is given out.")
    )
