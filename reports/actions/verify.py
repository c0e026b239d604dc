"""Reads a depot's whole chain against all that was sealed, and keeps what was found for Health."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from pydantic_core import to_json

from maintenance.contents.derived import first_derived_fault
from plant.contents.chain import check_chain
from plant.contents.checkpoint import NotSigned, anchors
from plant.models import ChainCheck, Depot
from plant.sealing import Anchor, ChainReport
from reports.contents.paper import paper_of
from reports.models import Sheet

# Once a day each; a little less, so that the daily round never slips past a day.
EVERY = timedelta(hours=23)
# The background reads chains up to this long within the time of one task; longer ones are for
# the command, by night.
LONGEST = 500_000


def verify_depot(
    depot: Depot, *, at: datetime, signed: Iterable[Anchor], thorough: bool = True
) -> ChainReport:
    """Reads the chain, then the rows and sheets that were worked out from it; notes the outcome.

    Args:
        thorough: whether the files of photos and the content of sheets are read too.
    """
    report = check_chain(depot, anchors=signed, photo_files=thorough)
    if report.bad_seq is None:
        sheet = next(_sheet_faults(depot), None) if thorough else None
        if found := min(filter(None, (first_derived_fault(depot), sheet)), default=None):
            report = replace(report, bad_seq=found[0], what=f"changed: {found[1]}")
    ChainCheck.objects.update_or_create(
        depot=depot,
        defaults={
            "read_at": at, "count": report.count, "bad_seq": report.bad_seq,
            "what": report.what[:400],
        },
    )  # fmt: skip
    return report


def read_chains(*, at: datetime) -> int:
    """The daily round: reads one chain that was not read for a day. Twice is harmless.

    Returns:
        How many were read, so that the caller goes on while there are some.
    """
    fresh = ChainCheck.objects.filter(read_at__gt=at - EVERY).values("depot")
    waiting = Depot.objects.filter(chain__head_seq__range=(1, LONGEST)).exclude(pk__in=fresh)
    depot = waiting.order_by("chaincheck__read_at", "pk").first()
    if depot is None:
        return 0
    try:
        signed = anchors().get(depot.code, [])
    except NotSigned as odd:
        ChainCheck.objects.update_or_create(
            depot=depot,
            defaults={
                "read_at": at,
                "count": 0,
                "bad_seq": None,
                "what": f"checkpoint {odd}"[:400],
            },
        )
        return 1
    verify_depot(depot, at=at, signed=signed, thorough=False)
    return 1


def _sheet_faults(depot: Depot) -> Iterator[tuple[int, str]]:
    """What a sheet prints is held against the hash that was sealed before it was drawn."""
    sheets = Sheet.objects.filter(record__depot=depot).select_related("record", "batch")
    for sheet in sheets.order_by("record__seq").iterator(chunk_size=200):
        assert sheet.record is not None
        sealed = json.loads(sheet.record.content)["data"]["content_sha256"]
        if content_digest(sheet) != sealed:
            yield sheet.record.seq, "the content of its sheet is not what was sealed"


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
