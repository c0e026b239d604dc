"""The list of machines: filtered in the database, marks read for a page or a chunk at a time."""

from collections.abc import Iterator
from datetime import date
from itertools import islice

from django.db.models import F, Q, QuerySet

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
    stopped = _stopped(on)
    if mark == rule.DO_NOT_USE:
        return machines.filter(stopped)
    if mark == rule.NOT_YET_PASSED:
        return machines.filter(~stopped).filter(_WAITS)
    noted = Q(pk__in=Stop.objects.standing().filter(_carried(on)).values("machine"))
    return usable(machines, on).filter(noted if mark == rule.WITH_A_NOTE else ~noted)


def usable(machines: QuerySet[Machine], on: date) -> QuerySet[Machine]:
    """Only the machines that may be used, with a note or without."""
    return machines.filter(~_stopped(on)).filter(_PASSED)


_PASSED = (
    Q(passed_at__isnull=False)
    & (Q(look_wanted_at__isnull=True) | Q(looked_at__gt=F("look_wanted_at")))
    & (Q(check_wanted_at__isnull=True) | Q(passed_at__gt=F("check_wanted_at")))
)

# Said the other way round, since the opposite of a comparison with nothing is nothing in SQL.
_WAITS = (
    Q(passed_at__isnull=True)
    | Q(look_wanted_at__isnull=False) & Q(looked_at__isnull=True)
    | Q(looked_at__lte=F("look_wanted_at"))
    | Q(passed_at__lte=F("check_wanted_at"))
)


def _carried(on: date) -> Q:
    return Q(kind=Stop.Kind.CARRY_ON, always=False, until__gte=on)


def _stopped(on: date) -> Q:
    # The few that stand are read once, by their own index; not looked up for each machine.
    return Q(pk__in=Stop.objects.standing().exclude(_carried(on)).values("machine"))


def with_marks(machines: QuerySet[Machine], on: date) -> Iterator[tuple[Machine, str, str]]:
    """Every machine of a query with its marks (use, due); in chunks, so that memory stays level."""
    rows = machines.iterator(chunk_size=CHUNK)
    while chunk := list(islice(rows, CHUNK)):
        fitness, due = fitness_of_many(chunk, on), due_state_of_many(chunk, on)
        for machine in chunk:
            yield machine, fitness[machine.pk].mark, due[machine.pk]
