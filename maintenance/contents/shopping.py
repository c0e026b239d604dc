"""What to buy in the next thirty days: too few on the rack, work to come, belts that run out."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef
from django.utils.translation import gettext, gettext_noop

from maintenance.contents.rack import belt_among, length_on, stock_of
from maintenance.models import BeltLife, DueLine, Job, Part, PartOrder, StockMove
from maintenance.rules.words import day_text
from plant.models import Depot, Place

DAYS = 30
NOWHERE = gettext_noop("Where it is bought was not told")


@dataclass(kw_only=True)
class Need:
    """A line of the list. part: None for a belt that nobody entered as a part.

    want: pieces to buy, over what lies there and what is ordered; why: a sentence for each cause.
    """

    name: str
    group: str
    section: str
    want: int
    part: Part | None = None
    order_by: date | None = None
    why: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class BeltWanted:
    """A belt that is to be ordered by a day: section, length [m], how many and for which drive.

    is_ordered: somebody did so, or keeps one that lies here for it: the job of its order is closed.
    """

    section: str
    length_m: float
    mark: str
    pieces: int
    order_by: date
    machine: str
    is_ordered: bool = False


@dataclass(frozen=True, kw_only=True)
class Shopping:
    """The list of one depot by where things are bought, and what is on the way."""

    groups: tuple[tuple[str, tuple[Need, ...]], ...]
    coming: tuple[PartOrder, ...]

    @property
    def pieces(self) -> int:
        return sum(need.want for _, needs in self.groups for need in needs)


def shopping(depot: Depot, *, on: date) -> Shopping:
    """What to buy for the depot until thirty days from that day."""
    until = on + timedelta(days=DAYS)
    parts = list(Part.objects.kept().filter(depot=depot).select_related("depot"))
    stock = stock_of(parts, on=on)
    wanted: dict[int, list[tuple[int, str, date | None]]] = {}
    unknown: list[Need] = []
    for part_pk, pieces, why in _for_due_work(depot, until):
        wanted.setdefault(part_pk, []).append((pieces, why, None))
    for belt in belts_to_order(depot, until):
        kept = belt_among(parts, belt.section, belt.length_m)
        if kept is None and belt.is_ordered:
            continue  # no part says so; the job of its order does
        why = gettext("{machine}: order by {order_by}, before its belt runs out.").format(
            machine=belt.machine, order_by=day_text(belt.order_by)
        )
        if kept is not None:
            wanted.setdefault(kept.pk, []).append((belt.pieces, why, belt.order_by))
        else:
            unknown.append(
                Need(
                    name=belt.mark, group=NOWHERE, section=belt.section, want=belt.pieces,
                    order_by=belt.order_by, why=[why],
                )
            )  # fmt: skip
    needs = list(unknown)
    for part in parts:
        has, asked = stock[part.pk], wanted.get(part.pk, [])
        pieces = sum(each[0] for each in asked)
        want = has.lowest.count + pieces - has.total - has.ordered
        if want <= 0:
            continue
        reasons = [each[1] for each in asked]
        if has.is_low or not asked:
            reasons.append(
                gettext("{total} on hand. {why}").format(total=has.total, why=has.lowest.why)
            )
        needs.append(
            Need(
                name=part.name, part=part, group=part.bought_from or NOWHERE,
                section=part.section or gettext("small parts"), want=want,
                order_by=min((day for _, _, day in asked if day), default=None), why=reasons,
            )
        )  # fmt: skip
    coming = PartOrder.objects.filter(part__depot=depot, came_at__isnull=True)
    return Shopping(
        groups=_grouped(needs),
        coming=tuple(coming.select_related("part", "by").order_by("expected_on", "pk")),
    )


def belts_to_order(depot: Depot, until: date) -> list[BeltWanted]:
    """Belts whose order is wanted until that day, by when each is worked out to run out."""
    ordered = Job.objects.filter(
        drive=OuterRef("drive"), belt_key=OuterRef("belt_key"), belt_work=Job.BeltWork.ORDER,
        state=Job.State.CLOSED,
    )  # fmt: skip
    lives: Any = (
        BeltLife.objects.in_fleet()
        .filter(
            drive__machine__depot=depot, order_by_on__lte=until, drive__belt_datum_m__isnull=False
        )
        .annotate(is_ordered=Exists(ordered))
    )
    return [
        BeltWanted(
            section=life.drive.section,
            length_m=length_on(life.drive) or life.drive.belt_datum_m,
            mark=life.drive.belt_mark or f"{life.drive.section} {life.drive.belt_datum_m:.3f} m",
            pieces=life.drive.belts,
            order_by=life.order_by_on,
            machine=life.drive.machine.number,
            is_ordered=life.is_ordered,
        )
        for life in lives.select_related("drive__machine").order_by("order_by_on", "pk")
        if life.drive.belt_datum_m is not None and life.order_by_on is not None
    ]


def _for_due_work(depot: Depot, until: date) -> list[tuple[int, int, str]]:
    """Part, pieces and why: what the same line of work took from stock the last time."""
    lines = (
        DueLine.objects.filter(machine__depot=depot, plan_on__lte=until)
        .exclude(machine__place__in=(Place.GONE, Place.MISSING, Place.LAID_UP))
        .select_related("line", "machine")
    )
    by_key = {line.pk: line for line in lines}
    last = (
        Job.objects.filter(due_line__in=by_key, state=Job.State.CLOSED)
        .values("due_line")
        .annotate(last=Max("pk"))
        .values_list("last", flat=True)
    )
    taken = StockMove.objects.filter(
        kind=StockMove.Kind.TAKEN,
        job__in=list(last),
        part__depot=depot,
        part__withdrawn_at__isnull=True,
    ).select_related("used", "job")
    found = []
    for move in taken:
        line = by_key[move.job.due_line_id] if move.job and move.job.due_line_id else None
        pieces = move.used.kept if move.used else -move.change
        if line is not None and pieces:
            when = day_text(line.plan_on) if line.plan_on else "soon"
            told = gettext("{machine}: {line}, due {when}, took {pieces} last time.").format(
                machine=line.machine.number, line=line.line.title, when=when, pieces=pieces
            )
            found.append((move.part_id, pieces, told))
    return found


def _grouped(needs: Iterable[Need]) -> tuple[tuple[str, tuple[Need, ...]], ...]:
    """By where things are bought, what nobody knows last; inside by section, then name."""
    groups: dict[str, list[Need]] = {}
    for need in sorted(needs, key=lambda each: (each.section, each.name)):
        groups.setdefault(need.group, []).append(need)
    order = sorted(groups, key=lambda name: (name == NOWHERE, name))
    return tuple(
        (gettext(name) if name == NOWHERE else name, tuple(groups[name])) for name in order
    )
