"""Plans as people read them: the lines of a kind or a machine, and what a change would move."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from maintenance.models import DueLine, PlanLine
from maintenance.rules import due as rule
from plant.models import Machine, MachineKind, User

SHOWN = 40


@dataclass(frozen=True)
class LineRead:
    """One line of a plan: the version in force, its rule in words, and those still to begin."""

    line: PlanLine
    rule: str
    coming: tuple[PlanLine, ...]
    versions: int


@dataclass(frozen=True)
class Moved:
    """A machine whose due point a change would move."""

    machine: Machine
    before: rule.Due
    after: rule.Due


@dataclass(frozen=True)
class Moves:
    """What a change would do: how many machines it concerns, and the first of those it moves."""

    measure: str
    machines: int
    moved: int
    made_overdue: int
    shown: tuple[Moved, ...]

    @property
    def unshown(self) -> int:
        return self.moved - len(self.shown)


def lines_of(versions: Iterable[PlanLine], on: date) -> list[LineRead]:
    """The lines in force on a day, by name; give the versions with their steps read ahead."""
    versions = list(versions)
    in_force = PlanLine.in_force(versions, on)
    return [
        LineRead(
            line=line,
            rule="" if line.ended else rule.rule_text(line.rule),
            coming=tuple(
                each
                for each in versions
                if each.key == key and each.from_on > max(on, line.from_on)
            ),
            versions=sum(each.key == key for each in versions),
        )
        for key, line in sorted(in_force.items(), key=lambda pair: pair[1].title)
    ]


def kinds_with_counts(user: User) -> list[tuple[MachineKind, int, int]]:
    """Every kind with the number of its lines and of the person's machines of it; two queries."""
    seen = Machine.objects.visible_to(user).in_fleet().order_by()
    machines = dict(seen.values_list("kind").annotate(Count("pk")))
    kinds = MachineKind.objects.prefetch_related("plan_lines")
    return [
        (kind, len({line.key for line in kind.plan_lines.all()}), machines.get(kind.pk, 0))
        for kind in kinds
    ]


def moves(
    line: PlanLine, wanted: rule.DueRule | None, *, on: date, notice_days: int, notice_tenths: int
) -> Moves:
    """What another rule would move, on the machines that have the line now.

    Args:
        wanted: the new rule; None: the line ends.
        on: the day on which past and not past are told apart.
    """
    due_lines = (
        DueLine.objects.filter(
            line__key=line.key, line__kind=line.kind, line__machine=line.machine,
            resting_because="", machine__depot__practice_of=None,
        )
        .in_fleet()
        .select_related("machine", "line", "counter")
        .order_by("machine__number_key")
    )  # fmt: skip
    found: list[Moved] = []
    count = overdue = 0
    for each in due_lines.iterator(chunk_size=1000):
        count += 1
        before = rule.Due(on=each.due_on, tenths=each.due_tenths, cycle=each.cycle)
        after = rule.Due(on=None, tenths=None, cycle=each.cycle)
        if wanted is not None:
            after = rule.next_due(
                wanted,
                start_on=each.start_on,
                start_tenths=each.start_tenths,
                done=each.done,
                notice_days=notice_days,
                notice_tenths=notice_tenths,
            )
        if (before.on, before.tenths) != (after.on, after.tenths):
            found.append(Moved(each.machine, before, after))
            total = each.total_tenths(each.machine)
            overdue += _past(after, on, total) and not _past(before, on, total)
    return Moves(
        measure=line.measure, machines=count, moved=len(found), made_overdue=overdue,
        shown=tuple(found[:SHOWN]),
    )  # fmt: skip


def _past(due: rule.Due, on: date, total: int | None) -> bool:
    by_day = due.on is not None and due.on < on
    return by_day or (due.tenths is not None and total is not None and total > due.tenths)


def steps_of(line: PlanLine) -> Sequence[dict[str, object]]:
    """The steps of a line as a form begins with them."""
    return [
        {
            name: getattr(step, name)
            for name in ("text", "target", "unit", "low", "high", "caution", "opens_guard")
        }
        for step in line.steps.all()
    ]
