"""May it be used, and is anything due: read for one machine, or for a whole list at once."""

from collections.abc import Iterable
from datetime import date

from maintenance.models import DueLine, Stop
from maintenance.rules import due as due_rule
from maintenance.rules import fitness as rule
from plant.models import Machine, Place

_WORST_FIRST: tuple[due_rule.DueState, ...] = (
    due_rule.OVERDUE,
    due_rule.NEEDED_BEFORE_USE,
    due_rule.DUE_SOON,
    due_rule.NOTHING,
)


def fitness_of(machine: Machine, on: date) -> rule.Fitness:
    """The mark of one machine on that day, with every reason."""
    return fitness_of_many([machine], on)[machine.pk]


def fitness_of_many(machines: Iterable[Machine], on: date) -> dict[int, rule.Fitness]:
    """The marks of many machines by their keys; one query, whatever their number."""
    machines = list(machines)
    stops: dict[int, list[rule.Stop]] = {machine.pk: [] for machine in machines}
    for stop in Stop.objects.standing().filter(machine__in=list(stops)):
        stops[stop.machine_id].append(as_rule(stop))
    return {machine.pk: _fitness(machine, on, stops=stops[machine.pk]) for machine in machines}


def fitness_by(machine: Machine, on: date, *, stops: Iterable[Stop]) -> rule.Fitness:
    """The mark of a machine whose standing stops are in hand."""
    return _fitness(machine, on, stops=[as_rule(stop) for stop in stops])


def _fitness(machine: Machine, on: date, *, stops: list[rule.Stop]) -> rule.Fitness:
    return rule.may_be_used(stops=stops, wants=wants_of(machine), on=on)


def wants_of(machine: Machine) -> rule.Wants:
    """Which looks at the machine were wanted and passed, as the rule takes them."""
    return rule.Wants(
        look_wanted_at=machine.look_wanted_at,
        looked_at=machine.looked_at,
        check_wanted_at=machine.check_wanted_at,
        passed_at=machine.passed_at,
    )


def as_rule(stop: Stop) -> rule.Stop:
    """A stop as the rule sees it."""
    kind: rule.StopKind = "stop"
    if stop.kind == Stop.Kind.UNDECIDED:
        kind = "undecided"
    elif stop.kind == Stop.Kind.CARRY_ON:
        kind = "carry on"
    return rule.Stop(
        kind=kind,
        critical=stop.always,
        until=stop.until if kind == "carry on" else None,
        id=str(stop.pk),
        reason=stop.words,
    )


def due_state_of(due_line: DueLine, machine: Machine, on: date) -> due_rule.DueState:
    """How one line of the machine's plan stands on that day."""
    line = due_line.line
    return due_rule.state(
        due_rule.Due(on=due_line.due_on, tenths=due_line.due_tenths, cycle=due_line.cycle),
        on=on,
        tenths=due_line.total_tenths(machine),
        notice_days=line.notice_days,
        notice_tenths=line.notice_tenths,
        in_use=machine.in_use,
        calendar_stopped=machine.place == Place.LAID_UP and not line.is_test,
        put_off_to=None if line.is_test else due_line.put_off_to,
        estimated_on=due_line.likely_on if due_line.is_estimate else None,
    )


def due_state_of_many(machines: Iterable[Machine], on: date) -> dict[int, due_rule.DueState]:
    """What is due at worst, by machine; one query, whatever their number."""
    by_pk = {machine.pk: machine for machine in machines}
    lines: dict[int, list[DueLine]] = {pk: [] for pk in by_pk}
    for due_line in DueLine.objects.filter(machine__in=list(by_pk)).select_related(
        "line", "counter"
    ):
        lines[due_line.machine_id].append(due_line)
    return {pk: worst_of(lines[pk], machine, on) for pk, machine in by_pk.items()}


def worst_of(lines: Iterable[DueLine], machine: Machine, on: date) -> due_rule.DueState:
    """What is due at worst on a machine whose lines are in hand; nothing on one that is gone."""
    if machine.place == Place.GONE:
        return due_rule.NOTHING
    states = [due_state_of(line, machine, on) for line in lines]
    return min(states, key=_WORST_FIRST.index, default=due_rule.NOTHING)
