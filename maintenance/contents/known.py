"""What is known of the running of machines: their readings or, where none tell, their days out.

Many machines are read at once, in the same few queries as one.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from math import inf
from typing import NamedTuple
from zoneinfo import ZoneInfo

from maintenance.models import MeterReading, Move, Stay
from maintenance.rules import usage
from maintenance.rules.due_line import Known
from plant.kept import GivenKeys, KeptRows
from plant.models import Counter, Depot, Machine, Measure, Meter, Place
from plant.rows import Seconds, among, read_rows

# A rate looks at so many of the newest figures at most, since it compares every pair of them.
MOST_READINGS = 60


class _Facts(NamedTuple):
    """What the register says of one machine; moments in seconds since 1970."""

    pk: int
    depot: int
    time_zone: str
    tenths: int | None
    tenths_at: int | None
    broken_at: int | None
    place: str
    added_at: int


_FACTS = KeptRows(
    lambda: (
        Machine.objects.filter(pk__in=GivenKeys())
        .order_by()
        .values_list(
            "pk", "depot", "depot__time_zone", "hours_tenths", Seconds("hours_at"),
            Seconds("meter_broken_at"), "place", Seconds("added_at"),
        )
    )
)  # fmt: skip
_FIGURES = KeptRows(
    lambda: (
        MeterReading.objects.counting()
        .filter(meter__machine__in=GivenKeys(), meter__measure=Measure.HOURS)
        .order_by()
        .values_list("meter__machine", Seconds("at"), "total_tenths")
    )
)
_STAYS = KeptRows(
    lambda: (
        Stay.objects.filter(machine__in=GivenKeys())
        .order_by()
        .values_list("machine", Seconds("out_at"), Seconds("back_at"))
    )
)


def known_of(pks: Collection[int], *, at: datetime) -> dict[int, Known]:
    """What the readings of each machine, or its days out, say of its running; by its key."""
    figures = _figures(pks)
    facts = [_Facts(*row) for row in _FACTS(pks)]
    zones = {depot: ZoneInfo(name) for depot, name in {each[1:3] for each in facts}}
    broken = {each.pk for each in facts if each.broken_at is not None}
    rates = {each.pk: None if each.pk in broken else _rate(figures[each.pk]) for each in facts}
    untold = [each for each in facts if rates[each.pk] is None]
    spans = _spans(untold, zones)
    put_at = _put_at(broken)
    known = {}
    for each in facts:
        zone, readings, told = zones[each.depot], figures[each.pk], rates[each.pk]
        last = None
        if each.tenths is not None and each.tenths_at is not None:
            # The register may hold a figure that no reading stands for, brought in with it.
            last = (_day(each.tenths_at, zone), each.tenths)
        elif readings:
            last = (_day(readings[-1][0], zone), readings[-1][1])
        if told is not None:
            rate: usage.Rate | None = told[0]
            span = (_day(told[1], zone), _day(told[2], zone))
        else:
            on = at.astimezone(zone).date()
            earliest = on - timedelta(days=usage.DAYS_OUT_WINDOW - 1)
            since = min(on, max(earliest, _day(each.added_at, zone)))
            out = usage.days_out(spans.get(each.pk, ()), since=since, until=on)
            rate = usage.rate_from_days_out(out=out, of=(on - since).days + 1)
            span = (since, on)
        blind: list[usage.DayFigure] = []
        if each.broken_at is not None and each.tenths is not None:
            begun, ran = put_at.get((each.pk, Measure.HOURS), (each.broken_at, 0))
            blind = usage.run_down(
                spans.get(each.pk, ()), since=_day(begun, zone), until=at.astimezone(zone).date(),
                tenths=each.tenths + ran,
            )  # fmt: skip
            last = blind[-1]
        known[each.pk] = Known(
            zone=zone, total_tenths=each.tenths, readings=readings, last=last, rate=rate,
            is_estimate=told is None, span=span, blind=blind,
        )  # fmt: skip
    return known


def counted_of(pks: Collection[int], *, at: datetime) -> dict[tuple[int, str], Known]:
    """The same of what the machines count beside their hours, which readings alone tell."""
    zones = {depot.pk: depot.zone for depot in Depot.objects.all()}
    figures: dict[tuple[int, str], list[usage.Reading]] = {}
    counting = MeterReading.objects.counting().filter(meter__machine__in=among(pks))
    counting = counting.exclude(meter__measure=Measure.HOURS).order_by()
    columns = ("meter__machine", "meter__measure", Seconds("at"), "total_tenths")
    for machine, measure, moment, tenths in read_rows(counting.values_list(*columns)):
        figures.setdefault((machine, measure), []).append((moment, tenths))
    counters = list(Counter.objects.filter(machine__in=among(pks)).select_related("machine"))
    put_at = _put_at({each.machine_id for each in counters if each.broken_at is not None})
    known = {}
    for each in counters:
        which = (each.machine_id, each.measure)
        zone, readings = zones[each.machine.depot_id], sorted(figures.get(which, ()))
        told = _rate(readings, most_a_day=inf)
        last = None
        if each.total_tenths is not None and each.total_at is not None:
            last = (each.total_at.astimezone(zone).date(), each.total_tenths)
        blind: list[usage.DayFigure] = []
        if each.broken_at is not None and each.total_tenths is not None:
            begun, ran = put_at.get(which, (each.broken_at.timestamp(), 0))
            first = (_day(begun, zone), each.total_tenths + ran)
            days = max(0, (at.astimezone(zone).date() - first[0]).days)
            # Nothing else tells what it does, so it is taken to go on as before.
            a_day = told[0].likely * 10 if told else 0.0
            blind = [
                (first[0] + timedelta(days=n), first[1] + round(a_day * n)) for n in range(days + 1)
            ]
            last = blind[-1]
        known[which] = Known(
            zone=zone, total_tenths=each.total_tenths, readings=readings, last=last,
            rate=told[0] if told else None, is_estimate=each.broken_at is not None,
            span=(_day(told[1], zone), _day(told[2], zone)) if told else None,
            blind=blind, counter=each.pk,
        )  # fmt: skip
    return known


def _put_at(broken: Collection[int]) -> dict[tuple[int, str], tuple[float, int]]:
    """What somebody last put the use since a dial broke at, and when; by machine and measure."""
    if not broken:
        return {}
    rows = Meter.objects.filter(
        machine__in=broken, removed_at__isnull=True, since_broken_at__isnull=False
    )
    return {
        (each.machine_id, each.measure): (
            each.since_broken_at.timestamp(), each.since_broken_tenths or 0
        )
        for each in rows
        if each.since_broken_at is not None
    }  # fmt: skip


def _figures(pks: Collection[int]) -> dict[int, list[usage.Reading]]:
    """The figures of the hours that count of each machine, oldest first."""
    found: dict[int, list[usage.Reading]] = {pk: [] for pk in pks}
    for pk, moment, tenths in _FIGURES(pks):
        found[pk].append((moment, tenths))
    for figures in found.values():
        figures.sort()
    return found


def _rate(
    figures: Sequence[usage.Reading], *, most_a_day: float = usage.HOURS_IN_A_DAY
) -> tuple[usage.Rate, float, float] | None:
    """The rate by readings, and the moments between which they were taken."""
    try:
        newest = usage.recent(figures[-MOST_READINGS:])
        return usage.rate(newest, most_a_day=most_a_day), newest[0][0], newest[-1][0]
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
    for pk, out, back in _STAYS(found):
        ended = None if back is None else _day(back, zone_of[pk])
        found[pk].append((_day(out, zone_of[pk]), ended))
    alone = {
        each.pk: each.added_at
        for each in facts
        if each.place == Place.OUT and all(last is not None for _, last in found[each.pk])
    }
    if alone:
        # Out, and nobody said with whom: since it was moved out, or since it was added.
        moves = Move.objects.filter(machine__in=among(alone), to=Place.OUT).order_by("at", "pk")
        alone |= dict(read_rows(moves.values_list("machine", Seconds("at"))))
    for pk, moment in alone.items():
        found[pk].append((_day(moment, zone_of[pk]), None))
    return found


def _day(moment: float, zone: tzinfo) -> date:
    return datetime.fromtimestamp(moment, zone).date()
