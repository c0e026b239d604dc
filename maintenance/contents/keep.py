"""What words and photos will go, what is held, what went, and how long each kind is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.db.models import Prefetch
from django.utils.translation import gettext

from maintenance.models import KeepHold, KeepListing, KeepRound, RuleSheet
from maintenance.rules import keep as rule
from maintenance.rules.words import list_text
from plant.counted_words import count_text
from plant.models import Machine, Record, User
from plant.rights import Right, depots_where

SHOWN_GONE = 20


@dataclass(frozen=True)
class Going:
    """One machine of which something goes on one day: what, in words, and why."""

    machine: Machine
    goes_on: date
    listed_on: date
    what: list[str]
    why: str


@dataclass(frozen=True)
class Held:
    """A machine held back: why and by whom, as the record tells it."""

    hold: KeepHold
    machine: Machine
    record: Record
    reason: str
    by: str


@dataclass(frozen=True)
class Time:
    """How long some kinds of record are kept, in words."""

    kinds: str
    how_long: str
    cited: str


def going(user: User) -> list[Going]:
    """What is listed of the person's depots, the next to go first."""
    rows = (
        KeepListing.objects.visible_to(user)
        .open()
        .select_related("machine__depot", "machine__kind")
        .order_by("goes_on", "machine__number_key", "why", "listed_on", "kind")
    )
    found = []
    for (day, _, why, listed_on), group in groupby(
        rows, key=lambda row: (row.goes_on, row.machine_id, row.why, row.listed_on)
    ):
        listings = list(group)
        what = [f"{each.kind_label}: {amount(each.texts, each.photos)}" for each in listings]
        found.append(Going(listings[0].machine, day, listed_on, what, why))
    return found


def amount(texts: int, photos: int) -> str:
    """3 texts and 1 photo."""
    told = [count_text(n, noun) for n, noun in ((texts, "text"), (photos, "photo")) if n]
    return list_text(told) or gettext("nothing")


def held(user: User) -> list[Held]:
    rows = (
        KeepHold.objects.visible_to(user)
        .standing()
        .select_related("machine__depot", "record__by", "record__depot")
        .prefetch_related(Prefetch("record__texts"))
    )
    return [
        Held(
            hold=row,
            machine=row.machine,
            record=row.record,
            reason=next((t.text for t in row.record.texts.all() if t.name == "reason"), "")
            or gettext("reason erased"),
            by=row.record.by.name if row.record.by else "",
        )
        for row in rows
    ]


def gone_lately(user: User) -> Sequence[Record]:
    """The records that say what went, newest first."""
    return list(
        Record.objects.filter(
            kind=Record.Kind.ERASED,
            machine__isnull=False,
            machine__depot_id__in=depots_where(user, Right.KEEP),
        )
        .select_related("machine", "depot")
        .prefetch_related("texts")
        .order_by("-happened_at", "-seq")[:SHOWN_GONE]
    )


def times(on: date) -> list[Time]:
    """How long each kind is kept by the sheet in force; nothing where none says."""
    try:
        sheet = RuleSheet.objects.on(on)
    except RuleSheet.DoesNotExist:
        return []
    return [
        Time(
            kinds=list_text([str(Record.Kind(kind).label) for kind in sorted(each.kinds)]),
            how_long=_how_long(each),
            cited=each.cited,
        )
        for each in sheet.keeps
    ]


def _how_long(keep: rule.Keep) -> str:
    if keep.counts_from == rule.LEFT:
        return gettext("{time_text} after the machine left").format(time_text=keep.time_text)
    after = Record.Kind(keep.until_next).label.lower()
    return gettext(
        "{time_text} after it was made, while the machine is in use not before the next {after}"
    ).format(time_text=keep.time_text, after=after)


def last_listed(user: User) -> date | None:
    """The month in which the depots of the person were last listed, the one longest ago."""
    depots = depots_where(user, Right.KEEP)
    months = dict(
        KeepRound.objects.filter(depot__in=depots).order_by("month").values_list("depot", "month")
    )
    return min(months.values()) if len(months) == len(depots) else None
