"""Whether a paper in the hand is as it was sealed, told to anybody and to nobody more than that."""

import hashlib
import json
import re
from dataclasses import dataclass
from typing import Any

from pydantic_core import to_json

from plant.contents.chain import check_record
from plant.models import Depot, Record
from reports.contents.paper import paper_of
from reports.models import Batch, Sheet

# As it stands on paper: sixteen digits of the hash, in fours.
LEAST_DIGITS = 16
_NUMBER = re.compile(r"\s*([A-Za-z0-9_-]{1,20})-([0-9]{1,15})\s*", re.ASCII)
_DIGITS = re.compile(rf"[0-9a-f]{{{LEAST_DIGITS},64}}", re.ASCII)


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was asked about, and whether it stands.

    words: the answer in one sentence; record: the sealed record it is about. Without a record and
    not standing, the paper is unknown here.
    """

    stands: bool
    words: str
    record: Record | None = None


def by_number(number: str, digits: str) -> Found:
    """Whether the record of this number has this hash and is as it was sealed.

    A wrong hash and a number that was never given are answered alike, so that nobody learns
    which records there are.

    Args:
        number: as on paper, depot and number: "QM-1042".
        digits: at least the sixteen digits that stand on paper; spaces and capitals do not matter.
    """
    told = _NUMBER.fullmatch(number)
    wanted = re.sub(r"\s", "", digits).lower()
    record = None
    if told and _DIGITS.fullmatch(wanted):
        record = (
            Record.objects.filter(
                depot__code__iexact=told[1], seq=int(told[2]), hash__startswith=wanted
            )
            .select_related("depot")
            .first()
        )
    if record is None:
        return Found(
            stands=False,
            words="No sealed record has this number and this hash. Look at the figures again.",
        )
    if fault := check_record(record):
        return Found(
            stands=False,
            record=record,
            words=f"Record {record.number} is not as it was sealed: {fault}.",
        )
    return Found(stands=True, record=record, words=f"Record {record.number} is as it was sealed.")


def by_file(data: bytes) -> Found:
    """Whether a file is to the byte one that was printed here, and its record as it was sealed."""
    digest = hashlib.sha256(data).hexdigest()
    sheet = (
        Sheet.objects.filter(sha256=digest)
        .select_related("record__depot", "batch", "erased_with")
        .first()
    )
    if sheet is not None and sheet.record is not None:
        if fault := check_record(sheet.record) or _sheet_fault(sheet):
            return Found(
                stands=False,
                record=sheet.record,
                words=f"This file was printed here, but record {sheet.record.number} is not as "
                f"it was sealed: {fault}.",
            )
        return Found(
            stands=True,
            record=sheet.record,
            words="This file is to the byte as it was printed, and record "
            f"{sheet.record.number} is as it was sealed.",
        )
    if sheet is not None or Batch.objects.filter(sha256=digest).exists():
        return Found(stands=True, words="This file is to the byte as it was printed here.")
    return Found(
        stands=False,
        words="This file is not known here: it was not printed here, or was changed or saved anew. "
        "Of a sheet taken out of a larger file, type the number and hash at its foot.",
    )


def first_sheet_fault(depot: Depot) -> tuple[int, str] | None:
    """What sheets print is held against the hash that was sealed before each was drawn."""
    sheets = Sheet.objects.filter(record__depot=depot).select_related(
        "record", "batch", "erased_with"
    )
    for sheet in sheets.order_by("record__seq").iterator(chunk_size=200):
        if sheet.record is not None and (fault := _sheet_fault(sheet)):
            return sheet.record.seq, fault
    return None


def _sheet_fault(sheet: Sheet) -> str:
    assert sheet.record is not None
    if sheet.content is None and sheet.erased_with is not None:
        # It named a person who was erased; a record says so, and there is nothing to hold.
        is_erased = sheet.erased_with.kind == Record.Kind.ERASED
        return "" if is_erased else "the content of its sheet is gone"
    sealed = json.loads(sheet.record.content)["data"].get("content_sha256")
    is_same = content_digest(sheet) == sealed
    return "" if is_same else "the content of its sheet is not what was sealed"


def content_digest(sheet: Sheet) -> str:
    """[SHA-256] of what the sheet says, as it was taken before the record's number was put in.

    What the kind of paper says beside, since a later version, is left out.
    """
    kept: dict[str, Any] = sheet.content or {}
    kept = {**kept, "printed": {**kept.get("printed", {}), "record_number": "", "record_hash": ""}}
    form = paper_of(sheet.batch).content
    try:
        read = form.dump_python(form.validate_python(kept), mode="json")
    except ValueError:
        return ""
    return hashlib.sha256(to_json(_as_kept(read, kept))).hexdigest()


def _as_kept(read: Any, kept: Any) -> Any:
    if isinstance(read, dict) and isinstance(kept, dict):
        return {key: _as_kept(value, kept[key]) for key, value in read.items() if key in kept}
    if isinstance(read, list) and isinstance(kept, list):
        return [_as_kept(*pair) for pair in zip(read, kept, strict=True)]
    return read
