"""What lies where: the stock of parts, which machines a belt serves, and the nearest of a kind."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

from maintenance.models import Part, PartOrder, StockMove, StockPlace
from maintenance.rules import rack as rule
from maintenance.rules.belt import kept_length
from plant.drives import marks
from plant.drives.errors import DriveError
from plant.drives.fits import mates
from plant.drives.sections import SECTIONS, Family, System
from plant.models import Depot, Drive, Place, User
from plant.rights import Right, depots_in_sight, depots_where

SAME_M = rule.SAME_LENGTH_M
LIGHT_DUTY = frozenset(code for code, each in SECTIONS.items() if each.family is Family.LIGHT_DUTY)
# A belt as it is asked for: its section and its length [m].
Belt = tuple[str, float]


@dataclass(frozen=True, kw_only=True)
class PlaceCount:
    """Pieces of one part in one place; below 0 where more were taken than ever came.

    lowest: how few may lie there; None where it was taken from there too seldom to tell.
    """

    place: StockPlace
    count: int
    counted_at: datetime | None = None
    counted_by: str = ""
    lowest: rule.Lowest | None = None

    @property
    def is_low(self) -> bool:
        """Whether fewer lie here than are usually needed before the place is filled again."""
        return self.lowest is not None and self.count < self.lowest.count


@dataclass(frozen=True, kw_only=True)
class PartStock:
    """A part with all that lies of it. oldest: when the oldest piece came, if known."""

    part: Part
    places: tuple[PlaceCount, ...]
    lowest: rule.Lowest
    oldest: date | None
    ordered: int
    ordered_for: date | None

    @property
    def total(self) -> int:
        return sum(each.count for each in self.places)

    @property
    def is_low(self) -> bool:
        return self.total < self.lowest.count

    @property
    def low_places(self) -> tuple[PlaceCount, ...]:
        return tuple(each for each in self.places if each.is_low)


@dataclass(frozen=True, kw_only=True)
class Lies:
    """Where a belt lies. Of another depot, whose part is None, only how many lie there in all."""

    depot: str
    count: int
    place: str = ""
    counted_at: datetime | None = None
    part: Part | None = None

    @property
    def own(self) -> bool:
        return self.part is not None


def lead_days(depot: Depot, section: str, datum_m: float) -> int | None:
    """[d] From order to rack of this belt at this depot; None where nobody said.

    Args:
        datum_m: [m] datum length; for sections sized at the rim the effective length.
    """
    known = belts_like(section, datum_m).filter(depot=depot, lead_days__isnull=False)
    return min((part.lead_days for part in known if part.lead_days is not None), default=None)


def part_of(depot: Depot, section: str, datum_m: float) -> Part | None:
    """The depot's own part that is this belt, the nearest in length; None where it has none."""
    return belt_among(belts_like(section, datum_m).filter(depot=depot), section, datum_m)


def belt_among(parts: Iterable[Part], section: str, length: float) -> Part | None:
    """Of these the belt of that section and length [m], its own section before an equal one."""
    same = equal_sections(section)
    return min(
        (
            part
            for part in parts
            if part.section in same and abs((part.length_m or 0) - length) <= SAME_M
        ),
        key=lambda part: (part.section != section, abs((part.length_m or 0) - length)),
        default=None,
    )


def belts_like(section: str, length: float) -> QuerySet[Part]:
    """Parts that are this belt, of its section or an equal one; length: [m]."""
    near = (length - SAME_M, length + SAME_M)
    return Part.objects.kept().filter(section__in=equal_sections(section), length_m__range=near)


def stock_of(parts: Collection[Part], *, on: date) -> dict[int, PartStock]:
    """All that lies of each; the same few queries however many parts."""
    keys = [part.pk for part in parts]
    moves = StockMove.objects.filter(part__in=keys)
    sums: dict[int, dict[int, int]] = {}
    for part, place, count in (
        moves.order_by().values_list("part", "place").annotate(count=Sum("change"))
    ):
        sums.setdefault(part, {})[place] = count
    places = {
        place.pk: place
        for place in StockPlace.objects.filter(depot__in={part.depot_id for part in parts})
    }
    counted = {
        (each.part_id, each.place_id): each
        for each in _last_counts(moves).select_related("record__by")
    }
    taken: dict[int, list[tuple[date, int]]] = {}
    taken_from: dict[tuple[int, int], list[tuple[date, int]]] = {}
    since = on - timedelta(days=rule.SEEN_DAYS + 1)
    for move in moves.filter(kind=StockMove.Kind.TAKEN, at__date__gte=since).select_related("used"):
        pieces = move.used.kept if move.used else -move.change
        if pieces:
            taken.setdefault(move.part_id, []).append((move.at.date(), pieces))
            place_key = (move.part_id, move.place_id)
            taken_from.setdefault(place_key, []).append((move.at.date(), pieces))
    came: dict[int, list[tuple[date, int]]] = {}
    for part, day, pieces in moves.filter(received_on__isnull=False).values_list(
        "part", "received_on", "change"
    ):
        assert day is not None  # asked for above
        came.setdefault(part, []).append((day, pieces))
    ordered: dict[int, list[PartOrder]] = {}
    for order in PartOrder.objects.filter(part__in=keys, came_at__isnull=True):
        ordered.setdefault(order.part_id, []).append(order)
    found = {}
    for part in parts:
        here = sums.get(part.pk, {})
        waits = ordered.get(part.pk, [])
        shown = tuple(
            _place_count(
                place,
                here[pk],
                counted.get((part.pk, pk)),
                rule.lowest_in_place(
                    taken_from.get((part.pk, pk), ()),
                    lead_days=part.days_to_rack,
                    is_van=place.kind == StockPlace.Kind.VAN,
                    on=on,
                ),
            )
            for pk, place in places.items()
            # Of a place that is kept no longer, what lies there all the same is still told.
            if pk in here and (here[pk] or place.withdrawn_at is None)
        )
        found[part.pk] = PartStock(
            part=part,
            places=shown,
            lowest=rule.lowest_count(taken.get(part.pk, ()), lead_days=part.days_to_rack, on=on),
            oldest=rule.oldest_left(came.get(part.pk, []), left=sum(each.count for each in shown)),
            ordered=sum(order.quantity for order in waits),
            ordered_for=min((order.expected_on for order in waits), default=None),
        )
    return found


def _last_counts(moves: QuerySet[StockMove]) -> QuerySet[StockMove]:
    later = StockMove.objects.filter(
        part=OuterRef("part"), place=OuterRef("place"), counted__isnull=False
    ).filter(Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk")))
    return moves.filter(counted__isnull=False).filter(~Exists(later))


def _place_count(
    place: StockPlace, count: int, counted: StockMove | None, lowest: rule.Lowest | None
) -> PlaceCount:
    lowest = None if place.withdrawn_at is not None else lowest
    if counted is None:
        return PlaceCount(place=place, count=count, lowest=lowest)
    by = counted.record.by
    return PlaceCount(
        place=place, count=count, counted_at=counted.at, counted_by=by.name if by else "",
        lowest=lowest,
    )  # fmt: skip


def nearest(user: User, belts: Iterable[Belt]) -> dict[Belt, list[Lies]]:
    """Where each of these belts (section, length [m]) lies: the person's depots, then others.

    Of other depots only those that the firm lets everybody see, and only how many lie there.
    """
    wanted = list(belts)
    own = depots_where(user, Right.SEE)
    parts = list(
        Part.objects.kept()
        .filter(section__in={code for code, _ in wanted})
        .filter(Q(depot__in=own) | Q(depot__in=depots_in_sight(user).values("pk")))
        .select_related("depot")
        .order_by("depot__name", "pk")
    )
    moves = StockMove.objects.filter(part__in=parts)
    counted = {
        (each.part_id, each.place_id): each.at
        for each in _last_counts(moves.filter(part__depot__in=own))
    }
    lies: dict[int, list[Lies]] = {}
    beyond: dict[int, int] = {}
    by_key = {part.pk: part for part in parts}
    for pk, place_pk, place, count in (
        moves.order_by("place__kind", "place__name")
        .values_list("part", "place", "place__name")
        .annotate(count=Sum("change"))
    ):
        part = by_key[pk]
        if part.depot_id in own:
            at = counted.get((pk, place_pk))
            lies.setdefault(pk, []).append(
                Lies(depot=part.depot.name, place=place, count=count, counted_at=at, part=part)
            )
        else:
            beyond[pk] = beyond.get(pk, 0) + count
    found: dict[Belt, list[Lies]] = {}
    for code, length in wanted:
        fits = [
            part
            for part in parts
            if part.section == code and abs((part.length_m or 0) - length) <= SAME_M
        ]
        here = [each for part in fits for each in lies.get(part.pk, ())]
        there: dict[str, int] = {}
        for part in fits:
            if part.pk in beyond:
                there[part.depot.name] = there.get(part.depot.name, 0) + beyond[part.pk]
        found[code, length] = [
            *sorted(here, key=lambda each: each.count <= 0),
            *(Lies(depot=name, count=count) for name, count in there.items() if count > 0),
        ]
    return found


def serves(user: User, belts: Iterable[Belt]) -> dict[Belt, list[Drive]]:
    """The drives of the person's depots that each belt goes on: by section or one of equal size."""
    wanted = list(belts)
    sections = {code: equal_sections(code) for code, _ in wanted}
    drives = list(
        Drive.objects.visible_to(user)
        .filter(section__in=set().union(*sections.values()))
        .filter(Q(belt_datum_m__isnull=False) | Q(section__in=LIGHT_DUTY))
        .exclude(machine__place=Place.GONE)
        .select_related("machine")
        .order_by("machine__number_key", "stage")
    )
    return {
        (code, length): [
            drive
            for drive in drives
            if drive.section in sections[code] and abs((length_on(drive) or 0.0) - length) <= SAME_M
        ]
        for code, length in wanted
    }


def length_on(drive: Drive) -> float | None:
    """The length [m] by which the belt of a drive is kept on the rack; None where nobody said.

    A belt of light duty is known by the outside length in its mark, not by the datum length.
    """
    if drive.section in LIGHT_DUTY and drive.belt_mark:
        try:
            readings = marks.read(drive.belt_mark, system=System(drive.length_system or "ISO/DIN"))
        except DriveError:
            return drive.belt_datum_m
        lengths = {kept_length(each) for each in readings.readings if each.section == drive.section}
        if len(lengths) == 1:
            return lengths.pop()
    return drive.belt_datum_m


def equal_sections(code: str) -> frozenset[str]:
    """The section and those of the same size, which may be used in its place as they are."""
    if code not in SECTIONS:
        return frozenset({code})
    return frozenset({code, *(mate.section for mate in mates(code) if mate.equal)})
