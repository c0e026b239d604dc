"""One day of a workshop: what is not given out yet, and a column for each who works."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, QuerySet, Subquery, When
from django.utils.translation import gettext as _

from maintenance.models import ClosedDay, FitterDay, Job, Stop, WeekDay
from maintenance.rules import day as rule
from plant.models import Depot, Role, User
from plant.rights import TABLE, Right

# So many jobs stand on the left at most; the list of jobs has them all.
MOST_LEFT = 80
_DAY_STATES = (Job.State.GIVEN_OUT, Job.State.UNDER_WAY, Job.State.WAITING, Job.State.DONE)
# These still ask for time on the day.
_TO_DO = (Job.State.GIVEN_OUT, Job.State.UNDER_WAY)


@dataclass(frozen=True)
class Column:
    """One person's day. minutes: there for so long; None where the depot's week does not say."""

    person: User
    minutes: int | None
    is_own: bool
    jobs: list[Job]

    @property
    def planned(self) -> int:
        return sum(job.minutes_expected or 0 for job in self.jobs if job.state in _TO_DO)

    @property
    def load(self) -> str:
        waits = [job for job in self.jobs if job.state in _TO_DO]
        unknown = sum(job.minutes_expected is None for job in waits)
        return rule.load_text(planned=self.planned, unknown=unknown, minutes=self.minutes)


@dataclass(frozen=True)
class DaySheet:
    """The whole day. closed: why the depot is, or empty; left_count: of all."""

    depot: Depot
    on: date
    closed: str
    left: list[Job]
    left_count: int
    columns: list[Column]
    people: list[User]

    @property
    def jobs(self) -> list[Job]:
        return [*self.left, *(job for column in self.columns for job in column.jobs)]


def workers(depot: Depot) -> QuerySet[User]:
    """Everybody who may do jobs at the depot, by name."""
    return (
        User.objects.filter(
            is_active=True,
            memberships__depot=depot,
            memberships__role__in=list(TABLE[Right.WORK][0]),
        )
        .distinct()
        .order_by("name", "pk")
    )


def not_given_out(depot: Depot, today: date) -> QuerySet[Job]:
    """Jobs that somebody has to be found for: safety first, then promised, then due soonest.

    Also those given out for a day past that nobody has begun.
    """
    undecided = Stop.objects.standing().filter(job=OuterRef("pk"), kind=Stop.Kind.UNDECIDED)
    return (
        _of(depot)
        .filter(
            Q(state__in=(Job.State.REPORTED, Job.State.LOOKED_AT))
            | Q(state=Job.State.GIVEN_OUT, given_for__lt=today)
        )
        .annotate(
            undecided_stop=Case(
                When(
                    Exists(undecided) & Q(state=Job.State.REPORTED),
                    then=Subquery(undecided.values("pk")[:1]),
                ),
                output_field=IntegerField(),
            )
        )
        .order_by(
            "-is_safety",
            F("promised_at").asc(nulls_last=True),
            F("due_on").asc(nulls_last=True),
            "opened_at",
            "pk",
        )
    )


def day_sheet(depot: Depot, *, on: date, today: date) -> DaySheet:
    """The sheet of one depot and day; the same few queries whatever the number of jobs."""
    people = list(workers(depot))
    here = Q(given_for=on, state__in=_DAY_STATES)
    if on == today:
        # Begun on an earlier day and still in hand.
        here |= Q(given_for__lt=today, state=Job.State.UNDER_WAY)
    else:
        here &= ~Q(state=Job.State.GIVEN_OUT, given_for__lt=today)
    given: dict[int, list[Job]] = {}
    for job in _of(depot).filter(here).order_by("day_place", "pk"):
        given.setdefault(job.given_to_id or 0, []).append(job)
    left = not_given_out(depot, today)
    minutes, own = _minutes(depot, people, on)
    fitters = _fitters(depot)
    columns = [
        Column(person, minutes.get(person.pk), person.pk in own, given.get(person.pk, []))
        for person in people
        if person.pk in fitters or person.pk in given or person.pk in own
    ]
    # Somebody who left or lost the role may still have jobs here; they are not hidden.
    known = {person.pk for person in people}
    for pk in sorted(set(given) - known - {0}):
        gone = given[pk][0].given_to
        assert gone is not None
        columns.append(Column(gone, 0, False, given[pk]))
    return DaySheet(
        depot=depot,
        on=on,
        closed=_closed(depot, on),
        left=list(left[:MOST_LEFT]),
        left_count=left.count(),
        columns=columns,
        people=people,
    )


def _of(depot: Depot) -> QuerySet[Job]:
    return Job.objects.filter(machine__depot=depot).select_related(
        "machine__kind", "machine__depot", "due_line__line", "given_to"
    )


def _fitters(depot: Depot) -> set[int]:
    rows = depot.memberships.filter(role=Role.FITTER, user__is_active=True)
    return set(rows.values_list("user_id", flat=True))


def _minutes(
    depot: Depot, people: Iterable[User], on: date
) -> tuple[dict[int, int | None], set[int]]:
    """By person, how long they are there; and of whom this was said for the day itself."""
    week = WeekDay.objects.filter(depot=depot, weekday=on.weekday()).first()
    fitters = _fitters(depot)
    usual: int | None = None
    if _closed(depot, on):
        usual = 0
    elif week is not None and week.fitter_minutes:
        usual = rule.share(depot_minutes=week.fitter_minutes, fitters=len(fitters))
    found = {person.pk: usual if person.pk in fitters else None for person in people}
    own = dict(FitterDay.objects.filter(depot=depot, on=on).values_list("person_id", "minutes"))
    return found | {pk: minutes for pk, minutes in own.items() if pk in found}, set(own)


def _closed(depot: Depot, on: date) -> str:
    closed = ClosedDay.objects.filter(depot=depot, on=on).first()
    if closed is not None:
        return closed.name
    week = WeekDay.objects.filter(depot=depot, weekday=on.weekday(), is_open=False)
    return _("closed on this day of the week") if week.exists() else ""
