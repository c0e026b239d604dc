"""What is due: the lines inside their notice or past it, with their state and their reason."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, Q, QuerySet

from maintenance.contents.fitness import due_state_of
from maintenance.models import DueLine
from maintenance.models.plan import DueLineQuerySet
from maintenance.rules import due as rule
from plant.models import Place, User


@dataclass(frozen=True)
class DueWork:
    """One line that is due, with its state word and the sentence that says why."""

    line: DueLine
    state: rule.DueState
    why: str


def announced(user: User, on: date) -> QuerySet[DueLine]:
    """The lines of the person's depots that are due soon or past, soonest first.

    Machines that are gone or missing do not dilute them; on one laid up only tests go on.
    """
    return (
        DueLine.objects.visible_to(user)
        .announced(on)
        .exclude(machine__place__in=(Place.GONE, Place.MISSING))
        .exclude(machine__place=Place.LAID_UP, line__is_test=False)
        .select_related("line", "machine__kind", "machine__depot", "machine__use_rate")
        .order_by(F("plan_on").asc(nulls_last=True), "pk")
    )


@dataclass(frozen=True)
class DueCounts:
    """How many lines are past on machines that are out, past on those that are in, and coming."""

    in_use: int
    in_store: int
    soon: int


def counted(lines: QuerySet[DueLine], on: date) -> DueCounts:
    """The three counts in one pass, since each pass looks at every line of the depot."""
    found = lines.aggregate(
        all=Count("pk"),
        past=Count("pk", filter=DueLineQuerySet.is_past(on)),
        in_use=Count("pk", filter=DueLineQuerySet.is_past(on) & Q(machine__place=Place.OUT)),
    )
    return DueCounts(
        in_use=found["in_use"],
        in_store=found["past"] - found["in_use"],
        soon=found["all"] - found["past"],
    )


def past(lines: QuerySet[DueLine], on: date) -> QuerySet[DueLine]:
    """Of these, the ones whose day or figure has passed."""
    return lines.filter(DueLineQuerySet.is_past(on))


def coming(lines: QuerySet[DueLine], on: date) -> QuerySet[DueLine]:
    """Of these, the ones not yet past."""
    return lines.exclude(past_after__lt=on).exclude(hours_past=True)


def told(lines: Iterable[DueLine], on: date) -> list[DueWork]:
    """Each line with its state and reason; reads nothing more from the database."""
    return [DueWork(line, due_state_of(line, line.machine, on), why(line)) for line in lines]


def why(due_line: DueLine) -> str:
    """The one sentence that says why the line is due when it is."""
    if due_line.resting_because:
        return due_line.resting_because
    rate = getattr(due_line.machine, "use_rate", None)
    return rule.sentence(
        due_line.line.rule,
        rule.Due(on=due_line.due_on, tenths=due_line.due_tenths, cycle=due_line.cycle),
        start_on=due_line.start_on,
        start_tenths=due_line.start_tenths,
        done=due_line.done,
        hours_a_day=None if rate is None else rate.likely,
        likely_on=due_line.likely_on,
        estimated=due_line.is_estimate,
    )
