"""Reads a depot's whole chain against all that was sealed, and keeps what was found for Health."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from django.db.models import F
from django.utils.translation import gettext

from maintenance.contents.derived import first_derived_fault
from plant.contents.chain import check_chain
from plant.contents.checkpoint import NotSigned, anchors
from plant.contents.health import UNFINISHED
from plant.models import Chain, ChainCheck, Depot
from plant.sealing import Anchor, ChainReport
from plant.security_log import note
from reports.contents.sealed import first_sheet_fault

# Once a day each; a little less, so that the daily round never slips past a day.
EVERY = timedelta(hours=23)
# The background reads chains up to this long within the time of one task; longer ones are for
# the command, by night.
LONGEST = 500_000
# A fault beside which records are sealed is looked at so often.
MOST_READ = 3


def verify_depot(
    depot: Depot, *, at: datetime, signed: Iterable[Anchor], thorough: bool = True
) -> ChainReport:
    """Reads the chain, then the rows and sheets that were worked out from it; notes the outcome.

    Args:
        thorough: whether the files of photos and the content of sheets are read too.
    """
    before = ChainCheck.objects.filter(depot=depot)
    # What only the thorough reading finds must not be covered by a daily one that sees less.
    thorough = thorough or before.exclude(what__in=("", UNFINISHED)).exists()
    _note(depot, at=at, count=0, what=UNFINISHED, keep=before.exclude(what="").exists())
    report = check_chain(depot, anchors=signed, photo_files=thorough)
    if report.bad_seq is None and (found := _settled_fault(depot, thorough=thorough)):
        report = replace(report, bad_seq=found[0], what=f"changed: {found[1]}")
    _note(depot, at=at, count=report.count, bad_seq=report.bad_seq, what=report.what)
    found_out = "verified" if report.bad_seq is None else "verification failed"
    note(found_out, depot=depot.code, count=report.count, bad_seq=report.bad_seq)
    return report


def verify_all(*, at: datetime) -> tuple[int, list[str], list[str]]:
    """Reads every chain thoroughly, as after a restore.

    Returns:
        How many records there are, a line for each depot, and what is not as it was sealed.
    """
    count, lines, wrong = 0, [], []
    signed: dict[str, list[Anchor]] = {}
    try:
        signed = anchors()
    except NotSigned as odd:
        wrong.append(gettext("checkpoint {odd}").format(odd=odd))
    for depot in Depot.objects.order_by("code"):
        report = verify_depot(depot, at=at, signed=signed.get(depot.code, []))
        count += report.count
        found = gettext("all as sealed")
        if report.bad_seq is not None:
            found = gettext("record {depot}-{bad_seq}: {what}").format(
                depot=depot.code.upper(), bad_seq=report.bad_seq, what=report.what
            )
            wrong.append(found)
        lines.append(
            gettext("{depot}: {count} records, head {head}; {found}.").format(
                depot=depot.code, count=report.count, head=report.head[:16], found=found
            )
        )
    return count, lines, wrong


def _note(
    depot: Depot,
    *,
    at: datetime,
    count: int,
    what: str,
    bad_seq: int | None = None,
    keep: bool = False,
) -> None:
    """Keeps what a reading found, or of an older finding (keep) all but its moment."""
    noted = {"read_at": at}
    told = noted | {"count": count, "bad_seq": bad_seq, "what": what[:400]}
    ChainCheck.objects.update_or_create(
        depot=depot, defaults=noted if keep else told, create_defaults=told
    )


def _settled_fault(depot: Depot, *, thorough: bool) -> tuple[int, str] | None:
    """The first fault of rows and sheets, none where it came only of a record sealed meanwhile.

    Records and rows are read one after the other. A fault is believed when nothing was sealed in
    the while, or when it is found again.
    """
    found = None
    for _ in range(MOST_READ):
        heads = _heads()
        sheet = first_sheet_fault(depot) if thorough else None
        now = min(filter(None, (first_derived_fault(depot), sheet)), default=None)
        if now is None or now == found or _heads() == heads:
            return now
        found = now
    return found


def _heads() -> list[tuple[int, int]]:
    return list(Chain.objects.order_by("pk").values_list("pk", "head_seq"))


def read_chains(*, at: datetime) -> int:
    """The daily round: reads one chain that was not read for a day. Twice is harmless.

    Returns:
        How many were read, so that the caller goes on while there are some.
    """
    fresh = ChainCheck.objects.filter(read_at__gt=at - EVERY).values("depot")
    # A depot without any record is read too: it may have had some.
    waiting = Depot.objects.exclude(chain__head_seq__gt=LONGEST).exclude(pk__in=fresh)
    depot = waiting.order_by(F("chaincheck__read_at").asc(nulls_first=True), "pk").first()
    if depot is None:
        return 0
    try:
        signed = anchors().get(depot.code, [])
    except NotSigned as odd:
        _note(depot, at=at, count=0, what=gettext("checkpoint {odd}").format(odd=odd))
        return 1
    verify_depot(depot, at=at, signed=signed, thorough=False)
    return 1
