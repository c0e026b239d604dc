"""Kept paper that shows words or photos which are erased: it goes with them, its seals stay."""

import json
from collections.abc import Collection, Iterator
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet

from maintenance.models import KeepHold
from plant.actions.erase import leave_files
from plant.models import Record
from plant.models.record import ErasableQuerySet
from reports.models import Batch, Sheet

WORDS_ERASED = "File erased: words or photos in it were erased. Print it anew."
# A paper may cut words short, so it is known by how they begin; shorter ones tell of nobody.
_BEGIN, _SHORTEST = 24, 4
_BLOCK = 500


def take_with(
    texts: ErasableQuerySet, photos: ErasableQuerySet, record: Record, at: datetime
) -> int:
    """Takes the paper that shows words and photos which are about to go: what it was printed from,
    and its files. Call before they go and after their record was sealed, in its transaction.

    Returns:
        How many sheets.
    """
    pks = showing(texts, photos)
    take_paper(pks, files=True, record=record, at=at, why=WORDS_ERASED)
    return len(pks)


def take_paper(
    pks: Collection[int], *, files: bool, record: Record, at: datetime, why: str
) -> None:
    """What sheets were printed from, and their files where it is asked; their hashes stay."""
    for block in _blocks(sorted(pks)):
        sheets = Sheet.objects.filter(pk__in=block)
        if files:
            batches = Batch.objects.filter(sheets__in=block)
            leave_files([*sheets.values_list("file", flat=True)], at=at)
            leave_files([*batches.values_list("file", flat=True)], at=at)
            touched = list(batches.values_list("pk", flat=True))
            Batch.objects.filter(pk__in=touched).update(file="", why=why)
            sheets.update(file="", why=why)
        sheets.update(content=None, erased_with=record)


def put_off(pks: Collection[int], *, record: Record) -> list[int]:
    """Marks those of the sheets whose machine is held: they go once it is released.

    Returns:
        The others, which nothing holds.
    """
    held = set(_held(Sheet.objects.filter(pk__in=pks)).values_list("pk", flat=True))
    Sheet.objects.filter(pk__in=held).update(erased_with=record)
    return [pk for pk in pks if pk not in held]


@transaction.atomic
def take_released(*, at: datetime) -> int:
    """Takes the paper that a hold kept from an erasure, once nothing holds it. Twice is harmless.

    Returns:
        How many sheets.
    """
    waiting = Sheet.objects.select_for_update().filter(
        content__isnull=False, erased_with__isnull=False
    )
    held = _held(Sheet.objects.all()).values("pk")
    free = list(waiting.exclude(pk__in=held).values_list("pk", "erased_with"))
    for record in Record.objects.filter(pk__in={key for _, key in free}):
        files = bool(json.loads(record.content)["data"].get("files"))
        pks = [pk for pk, key in free if key == record.pk]
        take_paper(pks, files=files, record=record, at=at, why=WORDS_ERASED)
    return len(free)


def showing(texts: ErasableQuerySet, photos: ErasableQuerySet) -> list[int]:
    """Keys of the kept sheets that show any of these words or photos, or may show them.

    The paper of a record shows all of it, a bundle all of its period; any other is known by the
    words themselves. Of one that holds nothing any more but its file nobody can tell.
    """
    records = Record.objects.filter(
        Q(pk__in=texts.values("record")) | Q(pk__in=photos.values("record"))
    ).order_by()
    kin = set(records.values_list("pk", flat=True))
    kin |= {key for key in records.values_list("corrects", flat=True) if key is not None}
    kin |= set(Record.objects.filter(corrects__in=records).order_by().values_list("pk", flat=True))
    days: dict[int | None, set[date]] = {}
    depots = set()
    for each in records.select_related("machine__depot", "depot"):
        depots.add(each.depot_id)
        where = each.machine.depot if each.machine else each.depot
        days.setdefault(each.machine_id, set()).add(where.day_of(each.happened_at))
    words: dict[int | None, set[str]] = {}
    told = texts.exclude(name="by_name").values_list("record__machine", "text")
    for machine, text in told.order_by().iterator():
        words.setdefault(machine, set()).add(_plain(text)[:_BEGIN])
    anywhere = {each for some in words.values() for each in some}
    machines = [key for key in days if key is not None]
    sheets = Sheet.objects.filter(Q(content__isnull=False) | ~Q(file="")).filter(
        Q(machine__in=machines) | Q(machine=None, depot__in=depots)
    )
    found = []
    for sheet in sheets.select_related("batch").order_by("pk").iterator(chunk_size=50):
        if sheet.about_id is not None:
            shows = sheet.about_id in kin
        elif sheet.batch.kind == Batch.Kind.BUNDLE:
            first, last = sheet.batch.first_day, sheet.batch.last_day
            shows = any((first or day) <= day <= (last or day) for day in days[sheet.machine_id])
        else:
            shows = False
        if not shows and sheet.content is None:
            shows = sheet.machine_id is not None
        if not shows and sheet.content is not None:
            begun = words.get(sheet.machine_id, set()) if sheet.machine_id else anywhere
            said = _plain("\n".join(_texts(sheet.content)))
            shows = any(each in said for each in begun if len(each) >= _SHORTEST)
        if shows:
            found.append(sheet.pk)
    return found


def _held(sheets: "QuerySet[Sheet]") -> "QuerySet[Sheet]":
    return sheets.filter(machine__in=KeepHold.objects.standing().values("machine"))


def _plain(words: str) -> str:
    return " ".join(words.split()).casefold()


def _texts(value: Any) -> Iterator[str]:
    """Every text in what a sheet was printed from, but for pictures."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for each in value:
            yield from _texts(each)
    elif isinstance(value, dict):
        for key, each in value.items():
            if key != "jpeg":
                yield from _texts(each)


def _blocks(pks: list[int]) -> Iterator[list[int]]:
    for start in range(0, len(pks), _BLOCK):
        yield pks[start : start + _BLOCK]
