"""Words and photos whose time is over: listed first, taken sixty days later, held back on the way.

Rows of a chain never go, and nothing goes that was not listed.
"""

import logging
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

from django.db import transaction
from django.db.models import Count, Exists, Max, Model, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from maintenance.actions.signing import locked, sealed_before, words
from maintenance.models import (
    DueLine,
    Job,
    KeepHold,
    KeepListing,
    KeepRound,
    Move,
    PartUsed,
    PutOff,
    RuleSheet,
    Stay,
    StepAnswer,
    Stop,
    Transfer,
)
from maintenance.models.keep import needed_records
from maintenance.rules import keep as rule
from maintenance.rules.words import day_text
from plant.actions.erase import erase
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Place, Record, RecordPhoto, RecordText, User
from plant.models.record import BY_RULE, ErasableQuerySet
from plant.rights import Right, role_for
from plant.sealing import Canonical

LONGEST_REASON = 400
SHORTEST_REASON = 5
ERASED = "words erased"
log = logging.getLogger(__name__)


# --- Listing ---------------------------------------------------------------------------------
@dataclass(frozen=True, kw_only=True)
class _Found:
    """One machine of which something will go, on that day."""

    machine: Machine
    why: str
    goes_on: date
    made_before: datetime | None = None


def list_month(*, depot: Depot, at: datetime) -> int:
    """Lists what will go, once a month by the depot's clock; how many are new. Twice is harmless.

    Who dies half-way has listed some: they stand, and the next run lists the rest.
    """
    today = depot.day_of(at)
    month = today.replace(day=1)
    if KeepRound.objects.filter(depot=depot, month=month).exists():
        return 0
    try:
        sheet = RuleSheet.objects.on(today)
    except RuleSheet.DoesNotExist:
        return 0
    new = 0
    for keep in sheet.keeps:
        find = _left if keep.counts_from == rule.LEFT else _made
        for found in find(depot, keep, today=today):
            new += _list(found, keep=keep, sheet=sheet, on=today)
    KeepRound.objects.get_or_create(depot=depot, month=month, defaults={"listed_at": at})
    return new


def _left(depot: Depot, keep: rule.Keep, *, today: date) -> Iterator[_Found]:
    """Machines that left so long ago that their time ends soon, or is over."""
    last_day = rule.listed_until(today)
    gone = _with_something(depot, keep).filter(place=Place.GONE, moves__to=Place.GONE)
    for machine in gone.annotate(left_at=Max("moves__at")):
        left_on = depot.day_of(machine.left_at)
        ends_on = rule.ends_after_leaving(keep, left_on)
        if ends_on <= last_day:
            yield _Found(
                machine=machine,
                why=_("{time_text} after it left on {left_on}").format(
                    time_text=keep.time_text, left_on=day_text(left_on)
                ),
                goes_on=rule.goes_on(ends_on=ends_on, listed_on=today),
            )


def _made(depot: Depot, keep: rule.Keep, *, today: date) -> Iterator[_Found]:
    """Machines with records that are old enough, and not the newest before an inspection."""
    goes_on = rule.goes_on(ends_on=today, listed_on=today)
    before = _midnight(depot, rule.made_before(keep, goes_on))
    next_ones = Record.objects.filter(machine=OuterRef("pk"), kind=keep.until_next)
    last = next_ones.order_by("-happened_at").values("happened_at")[:1]
    for machine in _with_something(depot, keep, before=before).annotate(next_at=last):
        until = before
        if machine.place != Place.GONE:
            if machine.next_at is None:
                continue
            until = min(before, machine.next_at)
        yield _Found(
            machine=machine,
            why=_("{time_text} after it was made").format(time_text=keep.time_text)
            + ("" if machine.place == Place.GONE else _(", and inspected since")),
            goes_on=goes_on,
            made_before=until,
        )


def _with_something(
    depot: Depot, keep: rule.Keep, *, before: datetime | None = None
) -> QuerySet[Machine]:
    """Machines of the depot, not held, with words or photos of these kinds of record."""
    own = Q(record__machine=OuterRef("pk"), record__kind__in=keep.kinds) & ~_needed()
    if before is not None:
        own &= Q(record__happened_at__lt=before)
    return (
        Machine.objects.filter(depot=depot)
        .filter(
            Exists(RecordText.objects.standing().exclude(text="").filter(own))
            | Exists(RecordPhoto.objects.standing().filter(own))
        )
        .exclude(pk__in=KeepHold.objects.standing().values("machine"))
        .order_by("pk")
    )


def _needed() -> Q:
    """Texts and photos that tell why a machine in use must not be used."""
    return Q(record__in=needed_records())


@transaction.atomic
def _list(found: _Found, *, keep: rule.Keep, sheet: RuleSheet, on: date) -> int:
    machine = locked(found.machine)
    if KeepHold.objects.standing().filter(machine=machine).exists():
        return 0
    own = Q(record__machine=machine, record__kind__in=keep.kinds) & ~_needed()
    if found.made_before is not None:
        own &= Q(record__happened_at__lt=found.made_before)
    counted: dict[tuple[int, str], list[int]] = {}
    standing = (
        RecordText.objects.standing().exclude(text="").filter(own),
        RecordPhoto.objects.standing().filter(own),
    )
    for which, rows in enumerate(standing):
        groups = rows.order_by().values_list("record__depot", "record__kind")
        for depot_id, kind, count, upto in groups.annotate(Count("pk"), Max("record__seq")):
            row = counted.setdefault((depot_id, kind), [0, 0, 0])
            row[which] = count
            row[2] = max(row[2], upto)
    here = KeepListing.objects.open().filter(machine=machine)
    listed = set(here.values_list("depot_id", "kind"))
    made = [
        KeepListing(
            machine=machine, depot_id=depot_id, kind=kind, upto_seq=upto, sheet=sheet,
            made_before=found.made_before, months=keep.months, why=found.why, texts=texts,
            photos=photos, listed_on=on, goes_on=found.goes_on,
        )
        for (depot_id, kind), (texts, photos, upto) in sorted(counted.items())
        if (depot_id, kind) not in listed
    ]  # fmt: skip
    KeepListing.objects.bulk_create(made)
    return len(made)


# --- Taking ----------------------------------------------------------------------------------
# What else shows these texts and photos goes too, in the same transaction, before they go.
Shown = Callable[[ErasableQuerySet, ErasableQuerySet, Record, datetime], object]


def take_due(*, depot: Depot, at: datetime, also: Shown | None = None) -> int:
    """Takes what was listed sixty days or more and whose day has come; how many listings.

    Each goes whole or not at all, with a sealed record of it. Twice is harmless.

    Args:
        also: takes what shows the same words and photos, the paper that was kept of them.
    """
    today = depot.day_of(at)
    due = KeepListing.objects.open().filter(machine__depot=depot, goes_on__lte=today)
    taken = 0
    for pk in list(due.values_list("pk", flat=True)):
        try:
            taken += _take(pk, on=today, at=at, also=also)
        except Exception:  # one that fails must not keep all others back
            log.exception("not taken: listing %s", pk)
    return taken


@transaction.atomic
def _take(pk: int, *, on: date, at: datetime, also: Shown | None) -> int:
    machine = locked(KeepListing.objects.select_related("machine").get(pk=pk).machine)
    listing = (
        KeepListing.objects.open()
        .select_for_update(of=("self",))
        .select_related("sheet")
        .filter(pk=pk)
        .first()
    )
    if listing is None:  # another worker was here first
        return 0
    held = KeepHold.objects.standing().filter(machine=machine).exists()
    if not rule.may_go(listed_on=listing.listed_on, goes=listing.goes_on, on=on, held=held):
        return 0
    if why_not := _no_longer(listing, machine, on=on):
        _end(KeepListing.objects.filter(pk=pk), because=why_not, at=at)
        return 0
    texts, photos = listing.standing_texts, listing.standing_photos
    time_text = _keep_of(listing.sheet, listing.kind, months=listing.months)
    data: dict[str, Canonical] = {
        "move": "time over",
        "of_kind": listing.kind,
        "kept": time_text,
        "counted": listing.why,
        "listed_on": listing.listed_on.isoformat(),
        "chain": listing.depot.code,
        "upto": str(listing.upto_seq),
        "texts": str(texts.count()),
        "photos": str(photos.count()),
        "sheet": str(listing.sheet),
    }
    record = seal(
        kind=Record.Kind.ERASED, depot=machine.depot, machine=machine, data=data, happened_at=at,
        received_at=at, by=None, role=BY_RULE,
    )  # fmt: skip
    if also is not None:
        also(texts, photos, record, at)
    _empty_copies(listing, machine)
    erase(texts=texts, photos=photos, record=record, at=at)
    KeepListing.objects.filter(pk=pk).update(ended_at=at, record=record)
    return 1


def _no_longer(listing: KeepListing, machine: Machine, *, on: date) -> str:
    """Why what was listed stays after all; empty when it goes."""
    keep = rule.of_kind(RuleSheet.objects.on(on).keeps, listing.kind)
    if keep is None or keep.months > listing.months:
        return _("The rule sheet keeps it longer now.")
    if listing.made_before is None and machine.place != Place.GONE:
        return _("The machine is back.")
    if listing.made_before is not None and keep.counts_from != rule.MADE:
        return _("The rule sheet counts from another day now.")
    return ""


def _keep_of(sheet: RuleSheet, kind: str, *, months: int) -> str:
    keep = rule.of_kind(sheet.keeps, kind)
    return keep.time_text if keep else _("{months} months").format(months=months)


def _end(listings: QuerySet[KeepListing], *, because: str, at: datetime) -> None:
    listings.update(ended_at=at, ended_because=because)


def _empty_copies(listing: KeepListing, machine: Machine) -> None:
    """The same words where rows beside the records hold them, so that they are nowhere."""
    records = listing.records.values("pk")
    Stop.objects.filter(record__in=records).update(words=ERASED)
    Stop.objects.filter(Q(record__in=records) | Q(decided_by__in=records)).update(note="")
    for model, fields in _BY_RECORD.items():
        _empty(model._default_manager.filter(record__in=records), fields)
    stays = Stay.objects.filter(Q(record__in=records) | Q(ended__in=records))
    _empty(stays, _BY_RECORD[Stay])
    stays.update(site=ERASED, hirer=None)
    if listing.kind in (Record.Kind.JOB, Record.Kind.FAULT):  # these count from the leaving alone
        for model, path, fields in _OF_JOBS:
            _empty(model._default_manager.filter(**{path: machine}), fields)
        answers = StepAnswer.objects.filter(step__job__machine=machine)
        answers.exclude(because="").update(because=ERASED)  # left out, a step says why
    if listing.kind == Record.Kind.PLAN:
        resting = DueLine.objects.filter(machine=machine).exclude(resting_because="")
        resting.update(resting_because=ERASED)  # emptied it would wake the line


def _empty(rows: "QuerySet[Model]", fields: tuple[str, ...]) -> None:
    rows.update(**dict.fromkeys(fields, ""))


_BY_RECORD: dict[type[Model], tuple[str, ...]] = {
    Move: ("reason",),
    PutOff: ("reason",),
    Stay: (
        "site_phone", "went_with", "condition_out", "plan_reason", "came_with", "condition_in",
        "missing_in",
    ),
    Transfer: ("went_with",),
}  # fmt: skip
_OF_JOBS: tuple[tuple[type[Model], str, tuple[str, ...]], ...] = (
    (
        Job, "machine",
        ("symptom", "cause", "action", "sent_back_because", "called_off_because"),
    ),
    (StepAnswer, "step__job__machine", ("tool",)),
    (PartUsed, "job__machine", ("taken_from",)),
)  # fmt: skip


def _midnight(depot: Depot, day: date) -> datetime:
    return datetime.combine(day, time(), tzinfo=depot.zone)


# --- Holding back ----------------------------------------------------------------------------
@transaction.atomic
def hold(
    *,
    machine: Machine,
    reason: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> KeepHold:
    """Holds back all words and photos of one machine until released; takes it off the list.

    Raises:
        Refused: held already, or no reason.
    """
    machine = locked(machine)
    role = role_for(by, Right.KEEP, machine.depot_id)
    reason = _reason(reason)
    data: dict[str, Canonical] = {"move": "held"}
    before = sealed_before(
        record_id=record_id, kind=Record.Kind.HELD, machine=machine, by=by,
        told=data, texts={"reason": reason},
    )  # fmt: skip
    if before is not None:
        return before.hold_row
    if KeepHold.objects.standing().filter(machine=machine).exists():
        raise Refused(_("This machine's records are held already. Nothing was changed."))
    record = seal(
        kind=Record.Kind.HELD, depot=machine.depot, machine=machine, data=data, happened_at=at,
        received_at=at, by=by, role=role, texts={"reason": reason}, record_id=record_id,
    )  # fmt: skip
    listed = KeepListing.objects.open().filter(machine=machine)
    _end(listed, because=_("Held, record {record}.").format(record=record.number), at=at)
    return KeepHold.objects.create(machine=machine, record=record)


@transaction.atomic
def release_hold(
    *, held: KeepHold, reason: str, at: datetime, by: User, record_id: uuid.UUID | None = None
) -> KeepHold:
    """Ends a hold. What would have gone meanwhile is listed afresh, with its sixty days.

    Raises:
        Refused: released already, or no reason.
    """
    machine = locked(held.machine)
    held = KeepHold.objects.select_related("record__depot").get(pk=held.pk)
    role = role_for(by, Right.KEEP, machine.depot_id)
    reason = _reason(reason)
    data: dict[str, Canonical] = {"move": "released", "number": held.record.number}
    before = sealed_before(
        record_id=record_id, kind=Record.Kind.HELD, machine=machine, by=by,
        told=data, texts={"reason": reason},
    )  # fmt: skip
    if before is not None:
        return held
    if held.released_id is not None:
        raise Refused(_("This was released already. Nothing was changed."))
    held.released = seal(
        kind=Record.Kind.HELD, depot=machine.depot, machine=machine, data=data, happened_at=at,
        received_at=at, by=by, role=role, texts={"reason": reason}, record_id=record_id,
    )  # fmt: skip
    held.save(update_fields=["released"])
    # The machine missed this month's listing, so it is done again.
    month = machine.depot.day_of(at).replace(day=1)
    KeepRound.objects.filter(depot=machine.depot, month=month).delete()
    return held


def _reason(reason: str) -> str:
    return words(reason, field="reason", what="reason", low=SHORTEST_REASON, high=LONGEST_REASON)
