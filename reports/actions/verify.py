"""Reads a depot's whole chain against all that was sealed, and keeps what was found for Health."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from maintenance.contents.derived import first_derived_fault
from plant.contents.chain import check_chain
from plant.contents.checkpoint import NotSigned, anchors
from plant.models import ChainCheck, Depot
from plant.sealing import Anchor, ChainReport
from reports.contents.sealed import first_sheet_fault

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
        sheet = first_sheet_fault(depot) if thorough else None
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
