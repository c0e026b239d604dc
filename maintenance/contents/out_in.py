"""Out and in: can it go, what falls due while it is out, and what is where."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import (
    Case,
    Count,
    Exists,
    IntegerField,
    OuterRef,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.utils.translation import gettext as _

from maintenance.contents.due import past, why
from maintenance.contents.fitness import as_rule, fitness_of_many
from maintenance.contents.fleet import usable, with_use
from maintenance.contents.inspection import look_over_due_of_many, look_over_holds, rules_on
from maintenance.contents.test import doubt, in_doubt
from maintenance.models import DueLine, ElectricalTest, Job, Move, Stay, Stop, Transfer
from maintenance.rules import fitness as fitness_rule
from maintenance.rules.sheet import RuleSheet
from maintenance.rules.words import day_text
from plant.models import Machine, Place, User
from plant.rights import Right

NEAREST = 3
# Care of a week or less is the user's, where the machine is; it asks for no plan at the desk.
CARE_DAYS = 7


@dataclass(frozen=True)
class Answer:
    """Can it go: yes or no, every reason, what the hirer is told, and which can go instead."""

    machine: Machine
    yes: bool
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    mark: fitness_rule.Mark
    stay: Stay | None
    nearest: tuple[Machine, ...] = ()


@dataclass(frozen=True)
class FallsDue:
    """One line of work that falls due while the machine is out."""

    line: DueLine
    on: date
    by_hours: bool
    needs_plan: bool

    @property
    def is_test(self) -> bool:
        return self.line.line.is_test

    @property
    def words(self) -> str:
        told = f"{self.line.line.title}: {day_text(self.on)}"
        return _("{told}, likely, by its hours").format(told=told) if self.by_hours else told


@dataclass(frozen=True)
class StoppedOut:
    """A machine that is out and must not be used: the desk rings the site."""

    stay: Stay | None
    machine: Machine
    stops: tuple[Stop, ...]

    @property
    def since(self) -> datetime:
        return min(stop.since for stop in self.stops)


def can_go(machine: Machine, on: date, *, user: User | None = None) -> Answer:
    """Whether one machine can be issued today. The same few queries whatever its history.

    Args:
        user: whose depots the machines to take instead come from; None: the machine's own depot.
    """
    return can_go_many([machine], on, user=user)[0]


def can_go_many(machines: Sequence[Machine], on: date, *, user: User | None = None) -> list[Answer]:
    """The answers for several machines, in their order; one query more for each that cannot go."""
    machines = list(machines)
    fitness = fitness_of_many(machines, on)
    rules = rules_on(on)
    looks = look_over_due_of_many(machines, on, rules=rules)
    gone_past: dict[int, list[DueLine]] = {machine.pk: [] for machine in machines}
    lines = DueLine.objects.filter(machine__in=machines).select_related(
        "line", "counter__use_rate", "machine__depot", "machine__use_rate"
    )
    for line in past(lines, on).order_by("due_on", "pk"):
        gone_past[line.machine_id].append(line)
    stays = {
        stay.machine_id: stay
        for stay in Stay.objects.open().filter(machine__in=machines).select_related("hirer")
    }
    doubted = in_doubt(machines)
    answers = []
    for machine in machines:
        stay = stays.get(machine.pk)
        fit = fitness[machine.pk]
        against = [_not_in_yard(machine, stay)] if machine.place != Place.YARD else []
        bad = fit.mark in (fitness_rule.DO_NOT_USE, fitness_rule.NOT_YET_PASSED)
        noted = fit.mark == fitness_rule.WITH_A_NOTE
        if bad:
            against += [f"{fit.mark}: {reason}" for reason in fit.reasons]
        if not machine.in_use:
            against += [
                _("Needed before use: {line}. {why}").format(line=line.line.title, why=why(line))
                for line in gone_past[machine.pk]
            ]
            look = looks[machine.pk]
            if look is not None and look.against and not bad:
                against.append(look.against)
        against += [doubt(test) for test in doubted.get(machine.pk, ())]
        answers.append(
            Answer(
                machine=machine,
                yes=not against,
                reasons=tuple(against),
                notes=fit.reasons if noted else (),
                mark=fit.mark,
                stay=stay,
                nearest=nearest_that_can(machine, on, user=user, rules=rules) if against else (),
            )
        )
    return answers


def nearest_that_can(
    machine: Machine, on: date, *, user: User | None = None, rules: RuleSheet | None = None
) -> tuple[Machine, ...]:
    """Machines of the same kind that can go now: same supply and depot first."""
    seen = Machine.objects.filter(depot_id=machine.depot_id)
    if user is not None:
        seen = Machine.objects.visible_to(user, Right.MOVE)
    like = (
        ready(seen, on)
        .filter(kind__family=machine.kind.family)
        .filter(look_over_holds(on, zone=machine.depot.zone, rules=rules))
        .exclude(pk=machine.pk)
        .select_related("kind", "depot")
        .annotate(
            same_kind=_whether(kind_id=machine.kind_id),
            same_supply=_whether(supply=machine.supply),
            same_depot=_whether(depot_id=machine.depot_id),
        )
        .order_by("-same_kind", "-same_supply", "-same_depot", "number_key")
    )
    return tuple(like[:NEAREST])


def ready(machines: QuerySet[Machine], on: date) -> QuerySet[Machine]:
    """Of these the ones that can go, said in SQL as can_go says it; but for their look-over, which
    goes by the clock of their depot (look_over_holds)."""
    needed = DueLine.objects.filter(machine=OuterRef("pk")).past(on)
    doubted = (
        ElectricalTest.objects.filter(machine=OuterRef("pk"))
        .newest_of_each()
        .filter(passed=True, doubted_by__isnull=False)
    )
    in_yard = usable(machines, on).filter(place=Place.YARD)
    return in_yard.filter(~Exists(needed), ~Exists(doubted))


def _whether(**fits: object) -> Case:
    return Case(When(**fits, then=Value(1)), default=Value(0), output_field=IntegerField())


def _not_in_yard(machine: Machine, stay: Stay | None) -> str:
    word = str(Place(machine.place).label)
    if machine.place != Place.OUT:
        return _("{word}, not in the yard").format(word=word)
    if stay is None:
        return _("Out at {site}").format(site=machine.site) if machine.site else word
    return _("Out at {site}, due back on {due_back_on}").format(
        site=stay.site, due_back_on=day_text(stay.due_back_on)
    )


def falls_due(machine: Machine, *, on: date, until: date) -> list[FallsDue]:
    """What falls due from today to the last day out, by the calendar or likely by hours.

    The day by hours is that of the recent use rate, estimated from the days out where fewer than
    two figures were read. Work that is past already is not here: it keeps the machine in.
    """
    found = []
    lines = DueLine.objects.filter(machine=machine).select_related(
        "line", "counter__use_rate", "machine__depot", "machine__use_rate"
    )
    for line in lines:
        days = [] if line.due_on is None else [(line.due_on, False)]
        if line.likely_on is not None:
            days.append((max(line.likely_on, on), True))
        if not days:
            continue
        day, by_hours = min(days)
        if on <= day <= until:
            every = line.line.every_days
            care = not line.line.is_test and every is not None and every <= CARE_DAYS
            found.append(FallsDue(line, day, by_hours, needs_plan=not care))
    return sorted(found, key=lambda each: (each.on, each.line.pk))


# --- The lists ----------------------------------------------------------------------------


def stays_out(user: User) -> QuerySet[Stay]:
    """The open stays of the person's depots, soonest back first."""
    return (
        Stay.objects.visible_to(user, Right.MOVE)
        .open()
        .filter(machine__place=Place.OUT)
        .select_related("machine__kind", "machine__depot", "hirer")
        .order_by("due_back_on", "pk")
    )


def due_back(stays: QuerySet[Stay], on: date) -> QuerySet[Stay]:
    """Of these, the ones that were to be back by today or tomorrow."""
    return stays.filter(due_back_on__lte=on + timedelta(days=1))


def due_for_service(stays: QuerySet[Stay], on: date) -> QuerySet[Stay]:
    """Of these, the ones on which work is announced or past."""
    lines = DueLine.objects.filter(machine=OuterRef("machine_id")).announced(on)
    return stays.filter(Exists(lines.exclude(line__every_days__lte=CARE_DAYS)))


def machines_out(user: User) -> QuerySet[Machine]:
    """Machines that are out, also those of which nobody said yet who has them."""
    return Machine.objects.visible_to(user, Right.MOVE).filter(place=Place.OUT)


def nobody_told(user: User) -> QuerySet[Machine]:
    """Machines that are out with no word of who has them."""
    stays = Stay.objects.open().filter(machine=OuterRef("pk"))
    return machines_out(user).filter(~Exists(stays)).select_related("kind", "depot")


def stopped_out(machines: QuerySet[Machine], on: date) -> QuerySet[Machine]:
    """Of these, the ones that must not be used."""
    return with_use(machines, fitness_rule.DO_NOT_USE, on).select_related("kind", "depot")


def told_stopped(machines: Iterable[Machine], on: date) -> list[StoppedOut]:
    """Each with its stops and who has it: two queries, whatever their number."""
    machines = list(machines)
    stops: dict[int, list[Stop]] = {machine.pk: [] for machine in machines}
    for stop in Stop.objects.standing().filter(machine__in=machines).select_related("job"):
        alone = fitness_rule.may_be_used(
            stops=[as_rule(stop)], wants=fitness_rule.Wants(passed_at=stop.since), on=on
        )
        if alone.mark == fitness_rule.DO_NOT_USE:
            stops[stop.machine_id].append(stop)
    stays = {
        stay.machine_id: stay
        for stay in Stay.objects.open().filter(machine__in=machines).select_related("hirer")
    }
    told = [
        StoppedOut(stays.get(machine.pk), machine, tuple(stops[machine.pk]))
        for machine in machines
        if stops[machine.pk]
    ]
    return sorted(told, key=lambda each: each.since)


def on_the_way(user: User) -> QuerySet[Transfer]:
    """What leaves or comes to the person's depots, with how much stands open on each."""
    stops = Stop.objects.standing().filter(machine=OuterRef("machine_id"))
    jobs = Job.objects.open().filter(machine=OuterRef("machine_id"))
    counted = {
        "stop_count": stops.order_by().values("machine").annotate(n=Count("pk")).values("n"),
        "job_count": jobs.order_by().values("machine").annotate(n=Count("pk")).values("n"),
    }
    return (
        Transfer.objects.visible_to(user)
        .open()
        .select_related("machine__kind", "from_depot", "to_depot")
        .annotate(**{name: Subquery(query) for name, query in counted.items()})
        .order_by("sent_at")
    )


def missing(user: User) -> QuerySet[Machine]:
    """Machines that are missing, with since when and who said so."""
    newest = Move.objects.filter(machine=OuterRef("pk")).order_by("-at", "-pk")
    return (
        Machine.objects.visible_to(user)
        .filter(place=Place.MISSING)
        .select_related("kind", "depot")
        .annotate(
            since=Subquery(newest.values("at")[:1]),
            told_by=Subquery(newest.values("record__by__name")[:1]),
            told=Subquery(newest.values("reason")[:1]),
        )
    )
