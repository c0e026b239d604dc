"""Whether a depot's records are as they were sealed: its chain, its rows, its texts and photos."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any, TypeAlias
from uuid import UUID

from django.db.models import F
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from plant.models import Chain, Depot, Record, RecordPhoto, RecordText
from plant.sealing import (
    NO_HASH,
    Anchor,
    ChainReport,
    Link,
    commitment,
    fault_of,
    file_commitment,
    moment,
    verify,
)

BLOCK = 2000
_FEW = 500  # numbers named in one query
# Text, salt, whether it was erased by law, and the kind of the record that says so.
_Text: TypeAlias = tuple[str, str, bool, str | None]
_COLUMNS = (
    "id", "seq", "kind", "machine_id", "by_id", "role", "happened_at", "received_at",
    "corrects_id", "content", "content_hash", "previous_hash", "hash",
)  # fmt: skip


def check_chain(
    depot: Depot, *, anchors: Iterable[Anchor] = (), photo_files: bool = True
) -> ChainReport:
    """Reads every record of the depot and names the first that is not as it was sealed.

    The columns, texts and photos of a record are held against its content; a text or photo that
    was erased by law has nothing to hold against it, and its commitment stays. What is sealed while
    it reads is left for the next time.

    Args:
        photo_files: whether the files of the photos are read too, which may be many gigabytes.
    """
    head = Chain.objects.filter(depot=depot).values_list("head_seq", "head_hash").first()
    seq, digest = head or (0, NO_HASH)
    links = _links(depot, upto=seq, photo_files=photo_files)
    report = verify(links, head_seq=seq, head_hash=digest, anchors=anchors)
    if report.bad_seq is None and (beyond := _beyond_head(depot)) is not None:
        return replace(report, bad_seq=beyond, what=_("the head is not the last record"))
    return report


def _beyond_head(depot: Depot) -> int | None:
    """The first record that no head counts, asked in one go, since a head moves with its record."""
    head = Coalesce(F("depot__chain__head_seq"), 0)
    beyond = Record.objects.filter(depot=depot, seq__gt=head).order_by("seq")
    return beyond.values_list("seq", flat=True).first()


def check_record(record: Record) -> str:
    """What of one record is not as it was sealed, in words; empty when all of it is.

    It is held against itself and the record before it; the whole chain is check_chain's.
    """
    depot, seq = record.depot, record.seq
    before = Record.objects.filter(depot=depot, seq=seq - 1).values_list("hash", flat=True).first()
    link = next(_links(depot, after=seq - 1, upto=seq, block_of=1))
    return fault_of(link, previous=before or NO_HASH)


def check_records(records: Iterable[Record]) -> dict[UUID, str]:
    """What is not as it was sealed, by record, of those of which anything is not; see check_record.

    They are read in blocks, so that hundreds cost a few queries.
    """
    by_depot: dict[Depot, list[int]] = {}
    for record in records:
        by_depot.setdefault(record.depot, []).append(record.seq)
    found: dict[UUID, str] = {}
    for depot, numbers in by_depot.items():
        for start in range(0, len(numbers), _FEW):
            some = numbers[start : start + _FEW]
            rows = Record.objects.filter(depot=depot)
            block = list(rows.filter(seq__in=some).values(*_COLUMNS))
            before = dict(rows.filter(seq__in=[seq - 1 for seq in some]).values_list("seq", "hash"))
            span = {"record__depot": depot, "record__seq__in": some}
            links = _held(depot, block, span, photo_files=True)
            for row, link in zip(block, links, strict=True):
                if fault := fault_of(link, previous=before.get(link.seq - 1, NO_HASH)):
                    found[row["id"]] = fault
    return found


def _links(
    depot: Depot, *, upto: int, after: int = 0, block_of: int = BLOCK, photo_files: bool = True
) -> Iterator[Link]:
    last = after
    while True:
        records = Record.objects.filter(depot=depot, seq__gt=last, seq__lte=upto)
        block = list(records.order_by("seq").values(*_COLUMNS)[:block_of])
        if not block:
            return
        first, last = block[0]["seq"], block[-1]["seq"]
        span = {"record__depot": depot, "record__seq__range": (first, last)}
        yield from _held(depot, block, span, photo_files=photo_files)


def _held(
    depot: Depot, block: list[dict[str, Any]], span: dict[str, Any], *, photo_files: bool
) -> Iterator[Link]:
    """Records of a depot with what differs in each; span: what finds their texts and photos."""
    texts: dict[int, dict[str, _Text]] = {}
    rows = RecordText.objects.filter(**span)
    for seq, name, text, salt, erased_at, by in rows.values_list(
        "record__seq", "name", "text", "salt", "erased_at", "erased_with__kind"
    ):
        texts.setdefault(seq, {})[name] = (text, salt, erased_at is not None, by)
    photos: dict[int, dict[str, RecordPhoto]] = {}
    pictures = RecordPhoto.objects.filter(**span).select_related("erased_with")
    for photo in pictures.annotate(seq=F("record__seq")):
        photos.setdefault(photo.seq, {})[photo.name] = photo
    for row in block:
        yield Link(
            seq=row["seq"],
            content=row["content"],
            content_hash=row["content_hash"],
            previous=row["previous_hash"],
            hash=row["hash"],
            fault=_fault(
                depot,
                row,
                texts.get(row["seq"], {}),
                photos.get(row["seq"], {}),
                photo_files=photo_files,
            ),
        )


def _fault(
    depot: Depot,
    row: dict[str, Any],
    texts: dict[str, _Text],
    photos: dict[str, RecordPhoto],
    *,
    photo_files: bool,
) -> str:
    """What of the row is not what its content says; empty when all of it is."""
    try:
        return _differs(depot, row, texts, photos, photo_files=photo_files)
    except (ValueError, KeyError, TypeError, AttributeError):
        return _("the content cannot be read")


def _differs(
    depot: Depot,
    row: dict[str, Any],
    texts: dict[str, _Text],
    photos: dict[str, RecordPhoto],
    *,
    photo_files: bool,
) -> str:
    told = json.loads(row["content"])
    machine = told["machine"]
    stands = {
        "id": str(row["id"]),
        "depot": depot.code,
        "kind": row["kind"],
        "machine": str(row["machine_id"]) if row["machine_id"] is not None else None,
        "by": str(row["by_id"]) if row["by_id"] is not None else None,
        "role": row["role"],
        "happened_at": moment(row["happened_at"]),
        "received_at": moment(row["received_at"]),
        "corrects": str(row["corrects_id"]) if row["corrects_id"] is not None else None,
    }
    sealed = {**told, "machine": machine["id"] if machine else None}
    for name, value in stands.items():
        if sealed[name] != value:
            return _("the column {name} is not what was sealed").format(name=name)
    if texts.keys() != told["texts"].keys():
        return _("its texts are not those that were sealed")
    if photos.keys() != told["photos"].keys():
        return _("its photos are not those that were sealed")
    for name, (text, salt, is_erased, by) in texts.items():
        if is_erased:
            if text or salt or by != Record.Kind.ERASED:
                return _("the text {name} was not erased by a record").format(name=name)
        elif told["texts"][name] != commitment(salt=salt, text=text):
            return _("the text {name} is not what was sealed").format(name=name)
    for name, photo in photos.items():
        if photo.erased_at is not None:
            with_record = photo.erased_with
            is_told = with_record is not None and with_record.kind == Record.Kind.ERASED
            if photo.file or photo.salt or not is_told:
                return _("the photo {name} was not erased by a record").format(name=name)
        elif photo_files and (why := _photo_fault(photo, told["photos"][name])):
            return _("the photo {name} {why}").format(name=name, why=why)
    return ""


def _photo_fault(photo: RecordPhoto, sealed: str) -> str:
    try:
        with photo.file.open("rb") as file:
            data = file.read()
    except (OSError, ValueError):
        return _("is missing from the files")
    is_same = file_commitment(salt=photo.salt, data=data) == sealed
    return "" if is_same else _("is not what was sealed")
