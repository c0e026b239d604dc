"""What is due: the lines inside their notice or past it, with their state and their reason."""

from collections.abc import Iterable, Mapping
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
    OuterRef,
    Q,
    QuerySet,
    When,
    Window,
)
from django.db.models.functions import RowNumber
from django.utils.translation import gettext

from maintenance.contents.fitness import due_state_of
from maintenance.contents.open_days import OpenDays
from maintenance.models import Completion, DueLine, PlanLine, PlanStep, PutOff
from maintenance.models.due import Rates
from maintenance.models.plan import DueLineQuerySet
from maintenance.rules import due as rule
from maintenance.rules.meter import dial_at
from maintenance.rules.words import day_text
from plant.kept import Given, Kept
from plant.models import Machine, Place, User
from plant.rights import depots_of


@dataclass(frozen=True)
class DueWork:
    """One line that is due, with its state word and the sentence that says why."""

    line: DueLine
    state: rule.DueState
    why: str


def announced(user: User, on: date) -> QuerySet[DueLine]:
    """The lines of the person's depots that are due soon or past, soonest first.

    Machines that are gone or missing do not dilute them; on one laid up only tests go on. Their
    depots are read ahead by ``with_depots``, or where the query is told to.
    """
    return (
        DueLine.objects.visible_to(user)
        .announced(on)
        .exclude(machine__place__in=(Place.GONE, Place.MISSING))
        .exclude(machine__place=Place.LAID_UP, line__is_test=False)
        .select_related("line", "counter__use_rate", "machine__use_rate")
        .order_by(F("plan_on").asc(nulls_last=True), "pk")
    )


def announced_in_turn(user: User, on: date) -> QuerySet[DueLine]:
    """The same lines, for who reads the first few of very many.

    They are walked by the day to plan for and each one's machine is looked at as it comes up, so
    that the first page of a large fleet costs a page; joined, all of them are read and sorted.
    """
    machines = Machine.objects.filter(pk=OuterRef("machine")).visible_to(user)
    machines = machines.exclude(place__in=(Place.GONE, Place.MISSING))
    tests = PlanLine.objects.filter(pk=OuterRef(OuterRef("line")), is_test=True)
    return (
        DueLine.objects.announced(on)
        .filter(Exists(machines.filter(~Q(place=Place.LAID_UP) | Exists(tests))))
        .select_related("line", "counter__use_rate", "machine__use_rate")
        .order_by(F("plan_on").asc(nulls_last=True), "pk")
    )


# What a list shows of a line, and all that its state and its reason follow from.
_LISTED = (
    "start_on", "start_tenths", "last_done_on", "last_done_tenths", "cycle", "resting_because",
    "due_on", "due_tenths", "put_off_to", "likely_on", "is_estimate", "plan_on", "past_after",
    "hours_past", "machine__depot", "machine__number", "machine__place", "machine__hours_tenths",
    "machine__meter_broken_at", "machine__use_rate__likely", "line__title", "line__measure",
    "line__first_tenths", "line__every_tenths", "line__first_months", "line__every_months",
    "line__first_days", "line__every_days", "line__counts_from", "line__notice_days",
    "line__notice_tenths", "line__is_test", "line__from_on", "line__ended",
    "counter__total_tenths", "counter__broken_at", "counter__use_rate__likely",
)  # fmt: skip


def listed(lines: QuerySet[DueLine]) -> QuerySet[DueLine]:
    """With no more read of each than a list shows; a fleet's rows are wide."""
    return lines.only(*_LISTED)


def with_depots(lines: Iterable[DueLine], user: User) -> list[DueLine]:
    """Lines that the person sees, each machine with its depot, which was read with the roles."""
    depots = {depot.pk: depot for depot in depots_of(user)}
    lines = list(lines)
    for line in lines:
        line.machine.depot = depots[line.machine.depot_id]
    return lines


@dataclass(frozen=True)
class DueCounts:
    """How many lines are past on machines that are out, past on those that are in, and coming."""

    in_use: int
    in_store: int
    soon: int

    @property
    def all(self) -> int:
        return self.in_use + self.in_store + self.soon


IN_USE, IN_STORE, SOON = 1, 2, 3


def _group(on: date) -> Case:
    """Past on a machine that is out, past on one that is in, or coming."""
    is_past = DueLineQuerySet.is_past(on)
    return Case(
        When(is_past & Q(machine__place=Place.OUT), then=IN_USE),
        When(is_past, then=IN_STORE),
        default=SOON,
    )


def _counts(found: Mapping[int, int]) -> DueCounts:
    return DueCounts(found.get(IN_USE, 0), found.get(IN_STORE, 0), found.get(SOON, 0))


def counted(lines: QuerySet[DueLine], on: date) -> DueCounts:
    """The three counts in one pass, since each pass looks at every line of the depot."""
    return _counts(dict(_by_group(lines, on)))


def counted_in_all(user: User, on: date) -> DueCounts:
    """The same of everything that is announced in the person's depots."""
    return _counts(dict(_COUNTED.rows(user, on=on)))


def _by_group(lines: QuerySet[DueLine], on: Any) -> QuerySet[DueLine, Any]:
    return lines.order_by().values_list(_group(on)).annotate(Count("pk"))


def _counted(user: User) -> QuerySet[DueLine, Any]:
    on: Any = Given("on", DateField())
    return _by_group(announced(user, on), on)


_COUNTED = Kept(_counted)


def first_of_each(user: User, on: date, *, most: int) -> tuple[DueCounts, list[DueLine]]:
    """The three counts, and the first few lines that are past in use, and that are coming.

    One pass over the lines of the depots, which yields keys, and the few rows themselves.
    """
    found = _RANKED.rows(user, most, on=on)
    counts = _counts({group: in_all for _, group, in_all in found})
    shown = [pk for pk, group, _ in found if group != IN_STORE]
    if not shown:
        return counts, []
    # No row has the key 0.
    keys = shown + [0] * (2 * most - len(shown))
    lines = _BY_KEY.rows(user, len(keys), **{f"key{n}": pk for n, pk in enumerate(keys)})
    return counts, with_depots(lines, user)


def _ranked(user: User, most: int) -> QuerySet[DueLine, Any]:
    on: Any = Given("on", DateField())
    ranked = (
        announced(user, on)
        .order_by()
        .annotate(
            group=_group(on),
            in_all=Window(Count("pk"), partition_by="group"),
            nth=Window(
                RowNumber(),
                partition_by="group",
                order_by=(F("plan_on").asc(nulls_last=True), "pk"),
            ),
        )
    )
    return ranked.filter(nth__lte=most).values_list("pk", "group", "in_all")


def _by_key(user: User, count: int) -> QuerySet[DueLine]:
    keys: list[Any] = [Given(f"key{n}", BigIntegerField()) for n in range(count)]
    lines = DueLine.objects.visible_to(user).filter(pk__in=keys)
    lines = lines.select_related("line", "counter__use_rate", "machine__use_rate")
    return listed(lines.order_by(F("plan_on").asc(nulls_last=True), "pk"))


_RANKED, _BY_KEY = Kept(_ranked), Kept(_by_key)


def past(lines: QuerySet[DueLine], on: date) -> QuerySet[DueLine]:
    """Of these, the ones whose day or figure has passed."""
    return lines.filter(DueLineQuerySet.is_past(on))


def coming(lines: QuerySet[DueLine], on: date) -> QuerySet[DueLine]:
    """Of these, the ones not yet past."""
    return lines.exclude(past_after__lt=on).exclude(hours_past=True)


def told(lines: Iterable[DueLine], on: date) -> list[DueWork]:
    """Each line with its state and reason; reads nothing more from the database."""
    return [DueWork(line, due_state_of(line, line.machine, on), why(line)) for line in lines]


@dataclass(frozen=True)
class OneLine:
    """One line of one machine, whole: what its own page shows.

    do_by: the last open day on or before the day to plan for, where it is another day.
    dial: what the meter will show then, where its dial is not the running hours.
    """

    line: DueLine
    state: rule.DueState
    why: str
    do_by: date | None
    dial: int | None
    rate: Rates | None
    broken_at: datetime | None
    completions: tuple[Completion, ...]
    put_offs: tuple[PutOff, ...]
    steps: tuple[PlanStep, ...]


def one_line(line: DueLine, on: date, days: OpenDays) -> OneLine:
    """Everything about one line; its machine and use rate are read already."""
    machine = line.machine
    meter = machine.meters.filter(removed_at__isnull=True, measure=line.line.measure).first()
    dial = None
    if meter is not None and meter.offset_tenths and line.due_tenths is not None:
        dial = dial_at(total_tenths=line.due_tenths, offset_tenths=meter.offset_tenths)
    completions = line.completions.select_related(
        "job", "included_in__due_line__line", "struck_by__by"
    )
    return OneLine(
        line=line,
        state=due_state_of(line, machine, on),
        why=why(line),
        do_by=do_by(line, days),
        dial=dial,
        rate=rate_of(line),
        broken_at=line.broken_at(machine),
        completions=tuple(completions.order_by("-on", "-pk")),
        put_offs=tuple(line.put_offs.select_related("by", "record").order_by("-at")),
        steps=tuple(line.line.steps.all()),
    )


def do_by(line: DueLine, days: OpenDays) -> date | None:
    """The open day to do it by, where the day to plan for is a closed one."""
    if line.plan_on is None:
        return None
    day = days.do_by(line.plan_on)
    return None if day == line.plan_on else day


def old_lines(user: User, *, at: datetime) -> int:
    """How many due dates of the person's machines nobody has worked out for more than a day."""
    return sum(count for _, count in _OLD.rows(user, day_before=at - timedelta(days=1)))


def _old(user: User) -> QuerySet[DueLine, Any]:
    before: Any = Given("day_before", DateTimeField())
    # Named by their keys, so that the few old ones are found first and not every line of the fleet.
    old = DueLine.objects.filter(worked_out_at__lt=before).order_by().values("pk")
    seen = DueLine.objects.visible_to(user).in_fleet().filter(pk__in=old).order_by()
    return seen.values_list("machine__depot").annotate(Count("pk"))


_OLD = Kept(_old)


def why(due_line: DueLine) -> str:
    """The one sentence that says why the line is due when it is."""
    if due_line.resting_because:
        return due_line.resting_because
    if due_line.line.ended:
        return gettext("Not asked any more, since {from_on}.").format(
            from_on=day_text(due_line.line.from_on)
        )
    rate, broken_at = rate_of(due_line), due_line.broken_at(due_line.machine)
    return rule.sentence(
        due_line.line.rule,
        rule.Due(on=due_line.due_on, tenths=due_line.due_tenths, cycle=due_line.cycle),
        start_on=due_line.start_on,
        start_tenths=due_line.start_tenths,
        done=due_line.done,
        a_day=None if rate is None else rate.likely,
        likely_on=due_line.likely_on,
        estimated=due_line.is_estimate,
        broken_on=None if broken_at is None else due_line.machine.depot.day_of(broken_at),
    )


def rate_of(due_line: DueLine) -> Rates | None:
    """How fast the meter that the line counts by goes on; its use rates are read ahead."""
    of = due_line.machine if due_line.by_hours else due_line.counter
    rate: Rates | None = getattr(of, "use_rate", None)
    return rate
