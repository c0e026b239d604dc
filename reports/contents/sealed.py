"""Whether a paper in the hand is as it was sealed, told to anybody and to nobody more than that."""

import hashlib
import json
import re
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
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


# Said first of what came out of practice, to whoever holds it.
PRACTICE = gettext_noop("PRACTICE: this is of no real machine and counts nowhere. ")


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
            words=_("No sealed record has this number and this hash. Look at the figures again."),
        )
    if fault := check_record(record):
        return Found(
            stands=False,
            record=record,
            words=_("{depot}Record {record} is not as it was sealed: {fault}.").format(
                depot=_practice(record.depot), record=record.number, fault=fault
            ),
        )
    return Found(
        stands=True,
        record=record,
        words=_("{depot}Record {record} is as it was sealed.").format(
            depot=_practice(record.depot), record=record.number
        ),
    )


def _practice(depot: Depot) -> str:
    return _(PRACTICE) if depot.is_practice else ""


def by_file(file: Any) -> Found:
    """Whether a file is to the byte one that was printed here, and its record as it was sealed."""
    of, found = _by_file(file)
    return found if of is None else replace(found, words=f"{_practice(of.depot)}{found.words}")


def _by_file(file: Any) -> tuple[Sheet | Batch | None, Found]:
    digest = hashlib.file_digest(file, "sha256").hexdigest()
    sheet = (
        Sheet.objects.filter(sha256=digest)
        .select_related("depot", "record__depot", "batch", "erased_with", "file_record__depot")
        .first()
    )
    of = sheet or (
        Batch.objects.filter(sha256=digest).select_related("file_record__depot", "depot").first()
    )
    record = sheet.record if sheet is not None else None
    if of is not None and (fault := _kept_fault(of)):
        about = record or of.file_record
        told = (
            _("This file is known here, but record {about} is not as it was sealed: {fault}.")
            if about
            else _("This file is known here, but: {fault}.")
        )
        return of, Found(
            stands=False,
            record=about,
            words=told.format(about=about.number if about else "", fault=fault),
        )
    if sheet is not None and record is not None:
        if fault := check_record(record) or _sheet_fault(sheet):
            return of, Found(
                stands=False,
                record=record,
                words=_(
                    "This file was printed here, but record {record} is not as it was "
                    "sealed: {fault}."
                ).format(record=record.number, fault=fault),
            )
        return of, Found(
            stands=True,
            record=record,
            words=_(
                "This file is to the byte as it was printed, and record {record} "
                "is as it was sealed.{sheet}"
            ).format(record=record.number, sheet=_unsealed(sheet)),
        )
    if of is not None:
        return of, Found(
            stands=True,
            record=of.file_record,
            words=_("This file is to the byte as it was printed here.{of}").format(
                of=_unsealed(of)
            ),
        )
    return of, Found(
        stands=False,
        words=_(
            "This file is not known here: it was not printed here, or was changed or saved anew. "
            "Of a sheet taken out of a larger file, type the number and hash at its foot."
        ),
    )


def _unsealed(of: Sheet | Batch) -> str:
    """Said of a file that was printed before the hashes of files were sealed, or states nothing."""
    if of.file_record_id or (isinstance(of, Batch) and not of.is_sealed):
        return ""
    if isinstance(of, Sheet) and of.record_id is None:
        return ""
    return _(" Its own bytes were not sealed when it was printed.")


def _kept_fault(of: Sheet | Batch) -> str:
    """What speaks against the hash that is kept of a file, held against the record that has it."""
    record = of.file_record
    if record is None:
        return ""
    if fault := check_record(record):
        return fault
    told = json.loads(record.content)["data"]
    if isinstance(of, Batch):
        is_told = told.get("batch") == str(of.pk) and told.get("sha256") == of.sha256
    else:
        is_told = {"number": str(of.pk), "sha256": of.sha256} in told.get("sheets", ())
    return "" if is_told else _("the hash of its file is not what was sealed")


def first_sheet_fault(depot: Depot) -> tuple[int, str] | None:
    """What sheets print is held against the hash that was sealed before each was drawn, and the
    hashes of files against what was sealed when each was kept."""
    sheets = Sheet.objects.filter(record__depot=depot).select_related(
        "record__depot", "batch", "erased_with", "file_record__depot"
    )
    for sheet in sheets.order_by("record__seq").iterator(chunk_size=200):
        if sheet.record is not None and (fault := _sheet_fault(sheet) or _kept_fault(sheet)):
            return sheet.record.seq, fault
    batches = Batch.objects.filter(file_record__depot=depot).select_related("file_record__depot")
    for batch in batches.order_by("file_record__seq").iterator(chunk_size=200):
        if batch.file_record is not None and (fault := _kept_fault(batch)):
            return batch.file_record.seq, fault
    return None


def _sheet_fault(sheet: Sheet) -> str:
    assert sheet.record is not None
    if sheet.content is None and sheet.erased_with is not None:
        # It named a person who was erased; a record says so, and there is nothing to hold.
        is_erased = sheet.erased_with.kind == Record.Kind.ERASED
        return "" if is_erased else _("the content of its sheet is gone")
    sealed = json.loads(sheet.record.content)["data"].get("content_sha256")
    is_same = content_digest(sheet) == sealed
    return "" if is_same else _("the content of its sheet is not what was sealed")


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
