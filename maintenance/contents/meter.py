"""The meters of a machine: where each total stands, and what its dial shows."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import BigIntegerField, CharField, DateTimeField, QuerySet

from maintenance.models import MeterReading
from maintenance.rules.meter import Reading
from plant.kept import Given, KeptRows
from plant.models import Counter, Machine, Measure, Meter, Record


@dataclass(frozen=True)
class Standing:
    """Where a total stands: the last figure that counts, when, and since when nothing tells it.

    tenths: [0.1] of an hour, or of one count.
    """

    measure: str
    tenths: int | None = None
    at: datetime | None = None
    broken_at: datetime | None = None

    @property
    def label(self) -> str:
        return str(Measure(self.measure).label)


def standing(machine: Machine, measure: str) -> Standing:
    """Where one of the machine's totals stands; nothing known where it has no such meter."""
    if measure == Measure.HOURS:
        return Standing(measure, machine.hours_tenths, machine.hours_at, machine.meter_broken_at)
    counter = Counter.objects.filter(machine=machine, measure=measure).first()
    return Standing(measure) if counter is None else _of(counter)


def stands_of(machine: Machine) -> list[Standing]:
    """Every total of the machine: its hours where it has any, then what it counts."""
    hours = standing(machine, Measure.HOURS)
    found = [hours] if machine.has_meter or hours.broken_at else []
    return [*found, *(_of(counter) for counter in machine.counters.all())]


def asked_at_check(machine: Machine) -> list[str]:
    """What it counts besides hours, as far as its counters tell it; a check asks for each."""
    told = machine.counters.filter(broken_at__isnull=True)
    return list(told.order_by("measure").values_list("measure", flat=True))


def read_at_check(record: Record) -> list[MeterReading]:
    """The readings that came with a check: the hours first, then each count."""
    rows = MeterReading.objects.filter(
        meter__machine=record.machine_id, at=record.happened_at
    ).select_related("meter", "record")
    sent = [
        row for row in rows if json.loads(row.record.content)["data"].get("check") == str(record.pk)
    ]
    return sorted(sent, key=lambda row: (row.meter.measure != Measure.HOURS, row.meter.measure))


def uncounted(machine: Machine) -> list[str]:
    """What a counter of the machine could count besides."""
    known = set(machine.counters.values_list("measure", flat=True))
    return [each for each in Measure.values if each != Measure.HOURS and each not in known]


def dial(machine: Machine, measure: str) -> Meter | None:
    """The dial that is on the machine now."""
    return machine.meters.filter(removed_at__isnull=True, measure=measure).first()


def _counting(**when: Any) -> QuerySet[MeterReading]:
    machine: Any = Given("machine", BigIntegerField())
    measure: Any = Given("measure", CharField())
    return MeterReading.objects.counting().filter(
        meter__machine=machine, meter__measure=measure, **when
    )


_AT = Given("at", DateTimeField())
_LAST = KeptRows(lambda: _counting(at__lte=_AT).order_by("-at", "-pk")[:1])
_LATER = KeptRows(lambda: _counting(at__gt=_AT).order_by("at", "pk")[:1])


def neighbours(
    machine: Machine, measure: str, at: datetime
) -> tuple[Reading | None, Reading | None]:
    """The figures that count before and after that moment, as moment and total."""
    told: dict[str, Any] = {"machine": machine.pk, "measure": measure, "at": at}
    before, after = (
        next(((each.at, each.total_tenths) for each in rows.objects(**told)), None)
        for rows in (_LAST, _LATER)
    )
    # The register may hold a figure that no reading stands for, brought in with the machine.
    now = standing(machine, measure)
    if now.at is not None and now.tenths is not None:
        known = (now.at, now.tenths)
        if known[0] <= at and (before is None or before[0] < known[0]):
            before = known
    return before, after


def _of(counter: Counter) -> Standing:
    return Standing(counter.measure, counter.total_tenths, counter.total_at, counter.broken_at)
