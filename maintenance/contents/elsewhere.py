"""What may be known of other depots where the firm lets all depots see it: number, kind, place and
whether it can go out of a machine, and how many of a belt lie there.

Words are looked for in those columns alone. A serial, a site or a hirer's name that found a machine
would tell that it has it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from maintenance.contents.inspection import look_over_holds, rules_on
from maintenance.contents.out_in import ready
from maintenance.contents.rack import nearest
from maintenance.contents.sought import Sought, key_of, places_of
from plant.models import Depot, Machine, Place, User
from plant.rights import depots_in_sight

# On the pages of own machines so many are told; the page of other depots has them all.
SHOWN = 6


@dataclass(frozen=True, kw_only=True, slots=True)
class There:
    """All that is told of a machine of another depot."""

    number: str
    kind: str
    depot: str
    place: str
    can_go: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class BeltThere:
    """How many of a belt lie in another depot. length_m: [m] by which it is kept on a rack."""

    section: str
    length_m: float
    depot: str
    count: int


@dataclass(frozen=True, kw_only=True)
class Elsewhere:
    """What fits some words at other depots. open: whether the firm lets depots see each other."""

    open: bool = False
    machines: tuple[There, ...] = ()
    total: int = 0
    belts: tuple[BeltThere, ...] = ()


def machines_there(user: User) -> QuerySet[Machine]:
    """The machines of other depots of which something may be told; never given to a template."""
    return Machine.objects.in_fleet().filter(depot__in=depots_in_sight(user).values("pk"))


def fitting(machines: QuerySet[Machine], user: User, words: str) -> QuerySet[Machine]:
    """Of these those whose number holds the words, or that hold each in a column that is told."""
    sought = Sought.of(user, words)
    each_word = Q()
    for word in sought.words:
        fits = Q(kind__in=sought.kinds[word]) | Q(depot__name__icontains=word)
        fits |= Q(place__in=places_of(word))
        if key := key_of(word):
            fits |= Q(number_key__contains=key)
        each_word &= fits
    if sought.key:
        each_word |= Q(number_key__contains=sought.key) | Q(number_key__in=sought.numbers)
    return machines.filter(each_word)


def that_can_go(
    machines: QuerySet[Machine], on: date, depots: Iterable[Depot]
) -> QuerySet[Machine]:
    """Of these machines of these depots the ones that can go out that day."""
    rules = rules_on(on)
    zones: dict[ZoneInfo, list[int]] = {}
    for depot in depots:
        zones.setdefault(depot.zone, []).append(depot.pk)
    holds = Q(pk__in=())
    for zone, pks in zones.items():
        holds |= Q(depot__in=pks) & look_over_holds(on, zone=zone, rules=rules)
    return ready(machines, on).filter(holds)


def told(rows: Sequence[dict[str, Any]], on: date, depots: Iterable[Depot]) -> list[There]:
    """The rows of TOLD as they are shown: one query more, however many."""
    going = set(
        that_can_go(Machine.objects.filter(pk__in=[row["pk"] for row in rows]), on, depots)
        .order_by()
        .values_list("pk", flat=True)
    )
    return [
        There(
            number=row["number"], kind=row["kind__name"], depot=row["depot__name"],
            place=str(Place(row["place"]).label), can_go=row["pk"] in going,
        )
        for row in rows
    ]  # fmt: skip


# What is read of a machine of another depot; the key stays on the server.
TOLD = ("pk", "number", "kind__name", "depot__name", "place")


def elsewhere(user: User, words: str, *, on: date) -> Elsewhere:
    """What of other depots fits the words, first what can go out; one query where the firm keeps
    its depots apart."""
    depots = list(depots_in_sight(user))
    if not depots or not words.strip():
        return Elsewhere(open=bool(depots))
    seen = Machine.objects.in_fleet().filter(depot__in=depots)
    found = fitting(seen, user, words)
    in_turn = found.order_by("number_key", "pk")
    going = list(that_can_go(in_turn, on, depots).values(*TOLD)[: SHOWN + 1])
    others = in_turn.exclude(pk__in=[row["pk"] for row in going])
    rows = [*going, *others.values(*TOLD)[: SHOWN + 1]]
    total = len(rows) if len(rows) <= SHOWN else found.count()
    belts = Sought.of(user, words).belts
    lies = nearest(user, belts) if belts else {}
    return Elsewhere(
        open=True,
        machines=tuple(told(rows[:SHOWN], on, depots)),
        total=total,
        belts=tuple(
            BeltThere(section=section, length_m=length, depot=each.depot, count=each.count)
            for (section, length), places in lies.items()
            for each in places
            if not each.own
        ),
    )
