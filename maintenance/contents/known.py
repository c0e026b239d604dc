"""What is known of the running of machines: their readings or, where none tell, their days out.

Many machines are read at once, in the same few queries as one.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from typing import Any, NamedTuple

from django.db.models import BigIntegerField, Func

from maintenance.models import MeterReading, Move, Stay
from maintenance.rules import usage
from maintenance.rules.due_line import Known
from plant.models import Depot, Machine, Place

# A rate looks at so many of the newest figures at most, since it compares every pair of them.
MOST_READINGS = 60
_COLUMNS = ("pk", "depot", "hours_tenths", "hours_at", "place", "added_at")


class Seconds(Func):
    """A moment as whole seconds since 1970: a million of them are read in a third of the time."""

    output_field = BigIntegerField()
    template = "CAST(EXTRACT(EPOCH FROM %(expressions)s) AS bigint)"

    def as_sqlite(self, compiler: Any, connection: Any, **more: Any) -> tuple[str, Any]:
        template = "CAST(strftime('%%%%s', %(expressions)s) AS integer)"
        return self.as_sql(compiler, connection, template=template, **more)


class _Facts(NamedTuple):
    pk: int
    depot: int
    tenths: int | None
    tenths_at: datetime | None
    place: str
    added_at: datetime


def known_of(pks: Collection[int], *, at: datetime) -> dict[int, Known]:
    """What the readings of each machine, or its days out, say of its running; by its key."""
    zones = {depot.pk: depot.zone for depot in Depot.objects.all()}
    figures = _figures(pks)
    machines = Machine.objects.filter(pk__in=pks).order_by()
    facts = [_Facts(*row) for row in machines.values_list(*_COLUMNS)]
    rates = {each.pk: _rate(figures[each.pk]) for each in facts}
    untold = [each for each in facts if rates[each.pk] is None]
    spans = _spans(untold, zones)
    known = {}
    for each in facts:
        zone, readings, told = zones[each.depot], figures[each.pk], rates[each.pk]
        last = None
        if each.tenths is not None and each.tenths_at is not None:
            # The register may hold a figure that no reading stands for, brought in with it.
            last = (each.tenths_at.astimezone(zone).date(), each.tenths)
        elif readings:
            last = (_day(readings[-1][0], zone), readings[-1][1])
        if told is not None:
            rate: usage.Rate | None = told[0]
            span = (_day(told[1], zone), _day(told[2], zone))
        else:
            on = at.astimezone(zone).date()
            added_on = each.added_at.astimezone(zone).date()
            since = min(on, max(on - timedelta(days=usage.DAYS_OUT_WINDOW - 1), added_on))
            out = usage.days_out(spans.get(each.pk, ()), since=since, until=on)
            rate = usage.rate_from_days_out(out=out, of=(on - since).days + 1)
            span = (since, on)
        known[each.pk] = Known(
            zone=zone, hours_tenths=each.tenths, readings=readings, last=last, rate=rate,
            is_estimate=told is None, span=span,
        )  # fmt: skip
    return known


def _figures(pks: Collection[int]) -> dict[int, list[usage.Reading]]:
    """The figures that count of each machine, oldest first."""
    found: dict[int, list[usage.Reading]] = {pk: [] for pk in pks}
    counting = MeterReading.objects.counting().filter(meter__machine__in=pks).order_by("at", "pk")
    rows = counting.values_list("meter__machine", Seconds("at"), "total_tenths")
    for pk, moment, tenths in rows:
        found[pk].append((moment, tenths))
    return found


def _rate(figures: Sequence[usage.Reading]) -> tuple[usage.Rate, float, float] | None:
    """The rate by readings, and the moments between which they were taken."""
    try:
        newest = usage.recent(figures[-MOST_READINGS:])
        return usage.rate(newest), newest[0][0], newest[-1][0]
    except ValueError:  # too few of them, or figures that make no rate
        return None


def _spans(
    facts: Collection[_Facts], zones: Mapping[int, tzinfo]
) -> dict[int, list[tuple[date, date | None]]]:
    """First and last day of each time that the machines were out."""
    zone_of = {each.pk: zones[each.depot] for each in facts}
    found: dict[int, list[tuple[date, date | None]]] = {pk: [] for pk in zone_of}
    if not facts:
        return found
    stays = Stay.objects.filter(machine__in=found).order_by()
    for pk, out, back in stays.values_list("machine", "out_at", "back_at"):
        zone = zone_of[pk]
        ended = None if back is None else back.astimezone(zone).date()
        found[pk].append((out.astimezone(zone).date(), ended))
    alone = {
        each.pk: each.added_at
        for each in facts
        if each.place == Place.OUT and all(last is not None for _, last in found[each.pk])
    }
    if alone:
        # Out, and nobody said with whom: since it was moved out, or since it was added.
        moves = Move.objects.filter(machine__in=alone, to=Place.OUT).order_by("at", "pk")
        alone |= dict(moves.values_list("machine", "at"))
    for pk, moment in alone.items():
        found[pk].append((moment.astimezone(zone_of[pk]).date(), None))
    return found


def _day(moment: float, zone: tzinfo) -> date:
    return datetime.fromtimestamp(moment, zone).date()
