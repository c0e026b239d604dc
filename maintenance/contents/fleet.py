"""The list of machines: filtered in the database, its marks read for a page or a chunk at a time."""

from collections.abc import Iterator
from datetime import date
from itertools import islice

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from maintenance.contents.fitness import due_state_of_many, fitness_of_many
from maintenance.models import Stop
from maintenance.rules import fitness as rule
from plant.models import Machine

CHUNK = 1000
# Address word -> the mark it filters by.
USES: dict[str, rule.Mark] = {
    "do-not-use": rule.DO_NOT_USE,
    "not-yet-passed": rule.NOT_YET_PASSED,
    "with-a-note": rule.WITH_A_NOTE,
    "ok": rule.OK_TO_USE,
}


def with_use(machines: QuerySet[Machine], mark: rule.Mark, on: date) -> QuerySet[Machine]:
    """Only the machines with that mark: the rule of ``rules.fitness``, said in SQL."""
    standing = Stop.objects.standing().filter(machine=OuterRef("pk"))
    carried = Q(kind=Stop.Kind.CARRY_ON, always=False, until__gte=on)
    stopped = Exists(standing.exclude(carried))
    if mark == rule.DO_NOT_USE:
        return machines.filter(stopped)
    free = machines.filter(~stopped)
    passed = Q(passed_at__isnull=False) & (
        Q(look_wanted_at__isnull=True) | Q(passed_at__gt=F("look_wanted_at"))
    )
    if mark == rule.NOT_YET_PASSED:
        return free.exclude(passed)
    noted = Exists(standing.filter(carried))
    return free.filter(passed).filter(noted if mark == rule.WITH_A_NOTE else ~noted)


def with_marks(machines: QuerySet[Machine], on: date) -> Iterator[tuple[Machine, str, str]]:
    """Every machine of a query with its marks (use, due); in chunks, so that memory stays level."""
    rows = machines.iterator(chunk_size=CHUNK)
    while chunk := list(islice(rows, CHUNK)):
        fitness, due = fitness_of_many(chunk, on), due_state_of_many(chunk, on)
        for machine in chunk:
            yield machine, fitness[machine.pk].mark, due[machine.pk]
