"""Parts: entered, received, counted, moved, taken to a job, put back, ordered. Moves are sealed."""

import uuid
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet, Sum
from django.utils.translation import gettext as _

from maintenance.actions.cost import MOST as MOST_MONEY
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.contents.cost import money_right
from maintenance.models import (
    Cost,
    Job,
    MoneySetting,
    Part,
    PartNumber,
    PartOrder,
    PartUsed,
    StockMove,
    StockPlace,
)
from maintenance.rules import belt as belt_rule
from maintenance.rules import rack as rule
from plant.actions.record import new_id, seal
from plant.actions.refusal import Refused
from plant.drives.errors import DriveError
from plant.drives.sections import System
from plant.models import Depot, Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

MOST_PIECES = 999
MOST_LEAD_DAYS = 730


@transaction.atomic
def save_part(
    *,
    depot: Depot,
    name: str,
    is_belt: bool,
    at: datetime,
    by: User,
    part: Part | None = None,
    section: str = "",
    length_m: float | None = None,
    choice: str = "",
    bought_from: str = "",
    lead_days: int | None = None,
) -> Part:
    """Enters a part of the depot, or changes one.

    Args:
        name: of a belt its mark, which is read; of anything else its name.
        section, length_m: [m] of a belt, by hand, where the mark does not say them.
        choice: key of the way chosen where a mark can be read in several.

    Raises:
        Refused: no name, one that the depot has already, or a belt without section or length.
    """
    role_for(by, Right.STOCK, depot.pk)
    name = words(name, field="name", what="name", low=1, high=60)
    bought_from = words(bought_from, field="bought_from", what=_("where it is bought"), high=60)
    key = key_of(name)
    if not key:
        raise Refused(_("Use at least one letter or figure in the name."), field="name")
    if lead_days is not None and not 0 <= lead_days <= MOST_LEAD_DAYS:
        raise Refused(
            _("Enter 0 to {most_lead_days} days.").format(most_lead_days=MOST_LEAD_DAYS),
            field="lead_days",
        )
    belt = None
    if is_belt:
        belt = _belt(name, section=section, length_m=length_m, choice=choice, depot=depot)
    Depot.objects.select_for_update().only("pk").get(pk=depot.pk)
    twin = Part.objects.filter(depot=depot, name_key=key)
    if (part and twin.exclude(pk=part.pk).exists()) or (part is None and twin.exists()):
        raise Refused(
            _("This depot has a part of that name, perhaps a withdrawn one. Open that one."),
            field="name",
        )
    kept = part or Part(depot=depot)
    kept.name, kept.name_key = name, key
    kept.section = belt.section if belt else ""
    kept.length_m = belt.length if belt else None
    kept.length_system = belt.system if belt else ""
    kept.bought_from, kept.lead_days = bought_from, lead_days
    # Only what was told: a price that somebody set meanwhile stays.
    told = ("name", "name_key", "section", "length_m", "length_system", "bought_from", "lead_days")
    kept.save(update_fields=told if part else None)
    return kept


def _belt(
    mark: str, *, section: str, length_m: float | None, choice: str, depot: Depot
) -> belt_rule.Belt:
    try:
        found = belt_rule.belt_of(
            mark=mark, by_hand=section, length=length_m, choice=choice,
            system=System(depot.length_system),
        )  # fmt: skip
    except belt_rule.MarkUnclear as unclear:
        raise Refused(
            _("{unclear} Choose the section and give the length.").format(unclear=unclear),
            field="name",
        ) from None
    except DriveError as refused:
        raise Refused(f"{str(refused)[:1].upper()}{str(refused)[1:]}.", field="section") from None
    if found is not None and mark:
        found = belt_rule.as_kept(found, mark=mark)
    if found is None or not found.section or found.length is None:
        raise Refused(
            _("The mark does not say section and length. Choose the section and give the length."),
            field="section",
        )
    return found


def key_of(number: str) -> str:
    """What two spellings of one part number have in common."""
    return "".join(c for c in number.upper() if c.isascii() and c.isalnum())[:60]


@transaction.atomic
def add_number(*, part: Part, number: str, at: datetime, by: User, note: str = "") -> PartNumber:
    """Says that another number is the same part; the person answers for it by name.

    Raises:
        Refused: no number, or the part has it already.
    """
    role_for(by, Right.KEEP_PARTS, part.depot_id)
    number = words(number, field="number", what="number", low=1, high=60)
    note = words(note, field="note", what="note", high=200)
    key = key_of(number)
    if not key:
        raise Refused(_("Use at least one letter or figure in a number."), field="number")
    part = _locked(part)
    if key == part.name_key or part.numbers.filter(key=key).exists():
        raise Refused(_("This part has that number already."), field="number")
    return PartNumber.objects.create(
        part=part, number=number, key=key, note=note, approved_by=by, approved_at=at
    )


@transaction.atomic
def add_place(*, depot: Depot, name: str, kind: StockPlace.Kind, by: User) -> StockPlace:
    """A rack or a van of the depot where parts lie.

    Raises:
        Refused: no name, or one that the depot has already.
    """
    role_for(by, Right.KEEP_PARTS, depot.pk)
    name = words(name, field="name", what="name", low=1, high=40)
    Depot.objects.select_for_update().only("pk").get(pk=depot.pk)
    if StockPlace.objects.filter(depot=depot, name__iexact=name).exists():
        raise Refused(_("This depot has a place of that name."), field="name")
    return StockPlace.objects.create(depot=depot, name=name, kind=kind)


@transaction.atomic
def withdraw_part(*, part: Part, withdrawn: bool, at: datetime, by: User) -> Part:
    """The depot keeps this part no longer, or keeps it again. Nothing of it is deleted.

    Raises:
        Refused: some lie somewhere, or are on the way.
    """
    role_for(by, Right.KEEP_PARTS, part.depot_id)
    part = _locked(part)
    if withdrawn == (part.withdrawn_at is not None):
        return part
    if withdrawn:
        _refuse_left(StockMove.objects.filter(part=part), by_what="place__name")
        if part.orders.filter(came_at__isnull=True).exists():
            raise Refused(_("Some are on the way. Say that they came first. Nothing was changed."))
    part.withdrawn_at, part.withdrawn_by = (at, by) if withdrawn else (None, None)
    part.save(update_fields=["withdrawn_at", "withdrawn_by"])
    return part


@transaction.atomic
def withdraw_place(*, place: StockPlace, withdrawn: bool, at: datetime, by: User) -> StockPlace:
    """Nothing is kept in this rack or van any longer, or it is again. Nothing is deleted.

    Raises:
        Refused: parts lie there.
    """
    role_for(by, Right.KEEP_PARTS, place.depot_id)
    # What comes or goes locks the part, and then asks whether the place is kept.
    list(Part.objects.select_for_update().filter(depot=place.depot_id).order_by("pk").only("pk"))
    place = StockPlace.objects.select_for_update(of=("self",)).get(pk=place.pk)
    if withdrawn == (place.withdrawn_at is not None):
        return place
    if withdrawn:
        _refuse_left(StockMove.objects.filter(place=place), by_what="part__name")
    place.withdrawn_at, place.withdrawn_by = (at, by) if withdrawn else (None, None)
    place.save(update_fields=["withdrawn_at", "withdrawn_by"])
    return place


def _refuse_left(moves: QuerySet[StockMove], *, by_what: str) -> None:
    left = moves.order_by().values_list(by_what).annotate(left=Sum("change")).filter(left__gt=0)
    told = ", ".join(f"{name}: {count}" for name, count in left.order_by(by_what)[:3])
    if told:
        raise Refused(
            _("Not while some lie there ({told}). Move or count them first.").format(told=told)
        )


@transaction.atomic
def set_price(*, part: Part, price: Decimal | None, by: User) -> Part:
    """What one piece costs from now on, in the depot's currency; None: not known.

    Raises:
        Refused: no currency is set for the depot, or the price is out of range.
    """
    part = _locked(part)
    role_for(by, money_right(by, part.depot), part.depot_id)
    if price is not None and not 0 <= price <= MOST_MONEY:
        raise Refused(_("Enter 0 to {most_money}.").format(most_money=MOST_MONEY), field="price")
    setting = MoneySetting.objects.filter(depot=part.depot_id).first()
    if price is not None and setting is None:
        raise Refused(_("The currency of this depot is not set yet."), field="price")
    part.price = price
    part.currency = setting.currency if setting and price is not None else ""
    part.save(update_fields=["price", "currency"])
    return part


@transaction.atomic
def receive(
    *,
    part: Part,
    place: StockPlace,
    quantity: int,
    on: date,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Pieces came, on that day; what was ordered counts as come, oldest first.

    Raises:
        Refused: a day to come, a number out of range, or a place of another depot.
    """
    part = _locked(part)
    if on > part.depot.day_of(at):
        raise Refused(_("That day is still to come."), field="on")
    told: dict[str, Canonical] = {"received_on": on.isoformat()}
    record, fresh = _sealed(
        part, StockMove.Kind.RECEIVED, quantity=quantity, told=told, places={"to": place}, at=at,
        by=by, record_id=record_id,
    )  # fmt: skip
    if fresh:
        StockMove.objects.create(
            part=part, place=place, kind=StockMove.Kind.RECEIVED, change=quantity, received_on=on,
            at=at, record=record,
        )  # fmt: skip
        left = quantity
        for order in part.orders.filter(came_at__isnull=True).order_by("at", "pk"):
            if left < order.quantity:
                order.quantity -= left
                order.save(update_fields=["quantity"])
                break
            left -= order.quantity
            order.came_at = at
            order.save(update_fields=["came_at"])
    return record


@transaction.atomic
def move_stock(
    *,
    part: Part,
    source: StockPlace,
    target: StockPlace,
    quantity: int,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Pieces went from one place of the depot to another.

    Raises:
        Refused: the same place twice, a number out of range, or a place of another depot.
    """
    part = _locked(part)
    if source.pk == target.pk:
        raise Refused(_("Both places are the same. Choose another."), field="target")
    record, fresh = _sealed(
        part, StockMove.Kind.MOVED, quantity=quantity, places={"from": source, "to": target},
        at=at, by=by, record_id=record_id,
    )  # fmt: skip
    if fresh:
        for place, change in ((source, -quantity), (target, quantity)):
            StockMove.objects.create(
                part=part, place=place, kind=StockMove.Kind.MOVED, change=change, at=at,
                record=record,
            )  # fmt: skip
    return record


@transaction.atomic
def count_place(
    *,
    place: StockPlace,
    counts: Mapping[int, int],
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Record:
    """What somebody counted in a place; the stock there is that from now on.

    Args:
        counts: by key of the part, how many lie there; parts left out were not counted.

    Raises:
        Refused: nothing counted, a number out of range, or a part of another depot.
    """
    depot = place.depot
    role = role_for(by, Right.STOCK, depot.pk)
    if not counts:
        raise Refused(_("Count at least one part. Nothing was changed."))
    for pk, count in counts.items():
        if not 0 <= count <= rule.MOST:
            raise Refused(
                _("Enter 0 to {most} pieces.").format(most=rule.MOST), field=f"count_{pk}"
            )
    parts = {
        part.pk: part
        for part in Part.objects.select_for_update()
        .filter(depot=depot, pk__in=counts)
        .order_by("pk")
    }
    if len(parts) != len(counts):
        raise Refused(_("A part of this list is not of this depot. Open the page afresh."))
    told: dict[str, Canonical] = {
        "move": str(StockMove.Kind.COUNTED),
        "counts": [{"part": part.name, "quantity": str(counts[pk])} for pk, part in parts.items()],
    }
    texts = {"place": place.name}
    before = _before(record_id, depot=depot, machine=None, by=by, told=told, texts=texts)
    if before is not None:
        return before
    ended = [each for each in parts.values() if each.withdrawn_at is not None]
    if refusal := _withdrawn(*ended[:1], place):
        raise Refused(refusal)
    lay = dict(
        StockMove.objects.filter(place=place, part__in=parts)
        .order_by()
        .values_list("part")
        .annotate(Sum("change"))
    )
    record = seal(
        kind=Record.Kind.STOCK, depot=depot, data=told, happened_at=at, received_at=at, by=by,
        role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    StockMove.objects.bulk_create(
        StockMove(
            part=part, place=place, kind=StockMove.Kind.COUNTED, counted=counts[pk],
            change=counts[pk] - lay.get(pk, 0), at=at, record=record,
        )
        for pk, part in parts.items()
    )  # fmt: skip
    return record


@transaction.atomic
def take(
    *,
    part: Part,
    place: StockPlace,
    job: Job,
    quantity: int,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> PartUsed:
    """Books pieces out to a job, with their price where one is known. The stock may go below 0.

    Raises:
        Refused: the job is closed, the part is another depot's, or a number out of range.
    """
    machine = locked(job.machine)
    job = Job.objects.select_for_update(of=("self",)).get(pk=job.pk)
    part = _locked(part)
    if machine.depot_id != part.depot_id:
        raise Refused(_("This part is of another depot. Move it here first."))
    record, fresh = _sealed(
        part, StockMove.Kind.TAKEN, quantity=quantity, told={"job": job.number},
        places={"from": place}, machine=machine, at=at, by=by, record_id=record_id,
        refusal="" if job.is_open else _("The job is closed. Nothing was taken."),
    )  # fmt: skip
    if not fresh:
        used = record.stock_moves.get().used
        assert used is not None
        return used
    used = PartUsed.objects.create(
        job=job, what=part.name, quantity=quantity, taken_from=place.name, record=record
    )
    StockMove.objects.create(
        part=part, place=place, kind=StockMove.Kind.TAKEN, change=-quantity, at=at, job=job,
        used=used, record=record,
    )  # fmt: skip
    if part.price is not None:
        Cost.objects.create(
            job=job, part=used, what=part.name, amount=part.price, currency=part.currency, by=by,
            at=at, entry=new_id(),
        )  # fmt: skip
    return used


@transaction.atomic
def put_back(
    *,
    used: PartUsed,
    quantity: int,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> PartUsed:
    """Pieces that were not needed go back where they came from, also after the job is closed.

    Raises:
        Refused: it was not taken from stock, or fewer than that are left of it.
    """
    machine = locked(used.job.machine)
    used = PartUsed.objects.select_for_update(of=("self",)).select_related("job").get(pk=used.pk)
    taken = used.stock_moves.filter(kind=StockMove.Kind.TAKEN).select_related("place").first()
    if taken is None:
        raise Refused(_("This was not taken from stock, so it cannot go back there."))
    part = _locked(taken.part)
    left = _("Only {kept} of it are left on the job. Nothing was put back.").format(kept=used.kept)
    record, fresh = _sealed(
        part, StockMove.Kind.RETURNED, quantity=quantity,
        told={"job": used.job.number, "taken_by_record": str(used.record_id)},
        places={"to": taken.place}, machine=machine, at=at, by=by, record_id=record_id,
        refusal=left if quantity > used.kept else "",
    )  # fmt: skip
    if fresh:
        StockMove.objects.create(
            part=part, place=taken.place, kind=StockMove.Kind.RETURNED, change=quantity, at=at,
            job=used.job, used=used, record=record,
        )  # fmt: skip
        used.returned += quantity
        used.save(update_fields=["returned"])
    return used


@transaction.atomic
def order_part(
    *,
    part: Part,
    quantity: int,
    at: datetime,
    by: User,
    entry: uuid.UUID,
    expected_on: date | None = None,
) -> PartOrder:
    """Notes that pieces were ordered; the same entry sent twice orders once.

    Args:
        expected_on: the day on which they are to come; None: by how long they take to get.

    Raises:
        Refused: a number out of range.
    """
    role_for(by, Right.STOCK, part.depot_id)
    _in_range(quantity)
    part = _locked(part)
    before = PartOrder.objects.filter(entry=entry).first()
    if before is not None:
        # Its quantity is what is still to come, so it may be fewer by now.
        if (before.part_id, before.by_id) != (part.pk, by.pk):
            raise Refused(_("Another entry was saved under this number. Open the page afresh."))
        return before
    if refusal := _withdrawn(part):
        raise Refused(refusal)
    told = part.days_to_rack
    days = rule.USUAL_LEAD_DAYS if told is None else told
    return PartOrder.objects.create(
        part=part, quantity=quantity, at=at, by=by, entry=entry,
        expected_on=expected_on or part.depot.day_of(at) + timedelta(days=days),
    )  # fmt: skip


def _locked(part: Part) -> Part:
    """The part read afresh, its row locked; taken after the machine's."""
    Part.objects.select_for_update().only("pk").get(pk=part.pk)
    return Part.objects.select_related("depot").get(pk=part.pk)


def _withdrawn(*things: Part | StockPlace) -> str:
    """Why nothing comes, goes or is counted there, read afresh under the parts' locks; else empty.

    Who withdraws a place locks the depot's parts too.
    """
    for each in things:
        if type(each).objects.filter(pk=each.pk, withdrawn_at__isnull=False).exists():
            return _("{part} is withdrawn. A foreman takes it back into use first.").format(
                part=each
            )
    return ""


def _in_range(quantity: int) -> None:
    if not 1 <= quantity <= MOST_PIECES:
        raise Refused(
            _("Enter 1 to {most_pieces} pieces.").format(most_pieces=MOST_PIECES), field="quantity"
        )


def _sealed(
    part: Part,
    kind: StockMove.Kind,
    *,
    quantity: int,
    places: Mapping[str, StockPlace],
    at: datetime,
    by: User,
    record_id: uuid.UUID | None,
    told: Mapping[str, Canonical] | None = None,
    machine: Machine | None = None,
    refusal: str = "",
) -> tuple[Record, bool]:
    """The sealed record of one movement, and whether it is news.

    Args:
        refusal: why it is refused now; the same sent again is no news and is not refused.
    """
    role = role_for(by, Right.STOCK, part.depot_id)
    _in_range(quantity)
    for name, place in places.items():
        if place.depot_id != part.depot_id:
            raise Refused(_("This place is of another depot."), field=name)
    data: dict[str, Canonical] = {
        "move": str(kind), "part": part.name, "quantity": str(quantity), **(told or {})
    }  # fmt: skip
    # A van may be called after a person, so its name can be erased.
    texts = {name: place.name for name, place in places.items()}
    before = _before(record_id, depot=part.depot, machine=machine, by=by, told=data, texts=texts)
    if before is not None:
        return before, False
    # Back where it came from it may go; that is a fact of where it lies.
    if kind != StockMove.Kind.RETURNED:
        refusal = refusal or _withdrawn(part, *places.values())
    if refusal:
        raise Refused(refusal)
    record = seal(
        kind=Record.Kind.STOCK, depot=part.depot, machine=machine, data=data, happened_at=at,
        received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    return record, True


def _before(
    record_id: uuid.UUID | None,
    *,
    depot: Depot,
    machine: Machine | None,
    by: User,
    told: Mapping[str, Canonical],
    texts: Mapping[str, str],
) -> Record | None:
    before = sealed_before(
        record_id=record_id, kind=Record.Kind.STOCK, machine=machine, by=by,
        told=told, texts=texts,
    )  # fmt: skip
    if before is not None and before.depot_id != depot.pk:
        raise Refused(_("Another entry was saved under this number. Open the page afresh."))
    return before
