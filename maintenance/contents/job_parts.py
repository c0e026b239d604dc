"""The parts that a job likely needs, each with where it lies, to be taken with one press."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count
from django.utils.translation import gettext, ngettext

from maintenance.contents.rack import PartStock, PlaceCount, belts_like, length_on, stock_of
from maintenance.models import Job, Part, StockMove, StockPlace
from plant.models import Drive

MOST_USUAL, MOST_FOUND = 6, 20
USUAL_DAYS = 730


@dataclass(frozen=True, kw_only=True)
class Likely:
    """A part to take: why it is likely, how many at a time, and the places, nearest stock first."""

    stock: PartStock
    why: str
    pieces: int
    places: tuple[PlaceCount, ...]

    @property
    def part(self) -> Part:
        return self.stock.part


def likely_parts(job: Job, *, on: date, words: str = "") -> list[Likely]:
    """Belts that fit the machine's drives first, then what machines of its kind took most often.

    Args:
        words: looked for instead, in names and in any number of a part.
    """
    machine = job.machine
    here = Part.objects.kept().filter(depot=machine.depot_id).select_related("depot")
    told: dict[int, tuple[str, int]] = {}
    if words:
        for part in here.matching(words)[:MOST_FOUND]:
            told[part.pk] = ("", 1)
    else:
        for drive in machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage"):
            length = length_on(drive)
            if length is None:
                continue
            fitting = belts_like(drive.section, length)
            for part in fitting.filter(depot=machine.depot_id):
                told.setdefault(
                    part.pk, (gettext("Fits {drive}").format(drive=drive.name), drive.belts)
                )
        usual = (
            StockMove.objects.filter(
                kind=StockMove.Kind.TAKEN, part__depot=machine.depot_id,
                job__machine__kind=machine.kind_id, at__date__gte=on - timedelta(days=USUAL_DAYS),
            )
            .values("part")
            .annotate(times=Count("pk"))
            .order_by("-times", "part")[:MOST_USUAL]
        )  # fmt: skip
        for row in usual:
            times = row["times"]
            why = ngettext(
                "Taken {times} time for machines of this kind",
                "Taken {times} times for machines of this kind",
                times,
            ).format(times=times)
            told.setdefault(row["part"], (why, 1))
    stock = stock_of(list(here.filter(pk__in=told)), on=on)
    every = list(StockPlace.objects.kept().filter(depot=machine.depot_id))
    return [
        Likely(stock=stock[pk], why=why, pieces=pieces, places=_places(stock[pk], every))
        for pk, (why, pieces) in told.items()
        if pk in stock
    ]


def _places(stock: PartStock, every: list[StockPlace]) -> tuple[PlaceCount, ...]:
    """Kept places where some lie; where none lie, all: what is taken was there after all."""
    some = tuple(
        each for each in stock.places if each.count > 0 and each.place.withdrawn_at is None
    )
    known = {each.place.pk: each.count for each in stock.places}
    return some or tuple(PlaceCount(place=place, count=known.get(place.pk, 0)) for place in every)
