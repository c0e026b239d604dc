"""How a machine has run: its figures, its days out and its rate of use, as the rules take them."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from maintenance.models import MeterReading, Move, Stay, UseRate
from maintenance.rules.running import Running
from plant.models import Machine, Measure, Place


def running_of(machine: Machine) -> Running:
    """What is known of the running of one machine; four queries at most."""
    zone = machine.depot.zone
    counting = MeterReading.objects.counting().filter(
        meter__machine=machine, meter__measure=Measure.HOURS
    )
    figures = {
        moment.astimezone(zone): tenths
        for moment, tenths in counting.order_by("at", "pk").values_list("at", "total_tenths")
    }
    if machine.hours_tenths is not None and machine.hours_at is not None:
        # The register may hold a figure that no reading stands for, brought in with the machine.
        figures.setdefault(machine.hours_at.astimezone(zone), machine.hours_tenths)
    known = UseRate.objects.filter(machine=machine).first()
    spans = _spans(machine, zone)
    added = machine.depot.day_of(machine.added_at)
    return Running(
        figures=sorted(figures.items()),
        rate=known.rate if known else None,
        is_estimate=known is not None and known.basis == UseRate.Basis.DAYS_OUT,
        out=spans,
        since=min([added, *(first for first, _ in spans)]),
    )


def _spans(machine: Machine, zone: ZoneInfo) -> list[tuple[date, date | None]]:
    """First and last day of each time it was out."""

    def day(moment: datetime) -> date:
        return moment.astimezone(zone).date()

    stays = Stay.objects.filter(machine=machine).values_list("out_at", "back_at")
    spans = [(day(out), None if back is None else day(back)) for out, back in stays]
    if machine.in_use and all(last is not None for _, last in spans):
        # It is out and nobody said with whom: since it was moved out, or since it was added.
        moved = Move.objects.filter(machine=machine, to=Place.OUT).order_by("-at").first()
        spans.append((day(moved.at if moved else machine.added_at), None))
    return spans
