"""Sheets: asked for in a batch, each sealed and printed once, then merged into one file."""

import hashlib
import logging
import os
import secrets
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, cast

from django.core.files.storage import FileSystemStorage
from django.db import DatabaseError, transaction
from pydantic import TypeAdapter

from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, User
from plant.models.work import LEASE
from plant.rights import Right, may, role_for
from reports.contents.service_sheet import service_sheet
from reports.models import Batch, Sheet
from reports.pdf.batch import Part, merge, page_count
from reports.pdf.service_sheet import ServiceSheet, render

log = logging.getLogger(__name__)
MOST_SHEETS = 500
# A batch gets this long from its message before the timer looks after it.
GRACE = timedelta(seconds=30)
_content = TypeAdapter(ServiceSheet)
Clock = Callable[[], datetime]


@transaction.atomic
def ask_sheets(*, depot: Depot, machines: Sequence[Machine], by: User, at: datetime) -> Batch:
    """Asks for a service sheet of each machine. The rows are the promise; the background prints.

    Raises:
        Refused: no machine, too many, or one of another depot.
        PermissionError: no role of theirs prints here.
    """
    role_for(by, Right.PRINT if len(machines) == 1 else Right.PRINT_MANY, depot.pk)
    if not machines:
        raise Refused("Choose at least one machine. Nothing was asked for.", field="machines")
    if len(machines) > MOST_SHEETS:
        raise Refused(f"At most {MOST_SHEETS} sheets at a time. Choose fewer.", field="machines")
    if any(machine.depot_id != depot.pk for machine in machines):
        raise Refused("All machines of one batch belong to one depot.", field="machines")
    if len({machine.pk for machine in machines}) < len(machines):
        raise Refused("Name each machine once.", field="machines")
    one = len(machines) == 1
    batch = Batch.objects.create(
        depot=depot,
        asked_by=by,
        asked_at=at,
        title=f"Service sheet of {machines[0]}" if one else f"{len(machines)} service sheets",
    )
    Sheet.objects.bulk_create(
        Sheet(
            batch=batch, depot=depot, asked_by=by, asked_at=at, machine=machine, position=position
        )
        for position, machine in enumerate(machines, 1)
    )
    return batch


@transaction.atomic
def ask_again(*, batch: Batch, by: User) -> int:
    """Puts the failed sheets of a batch back in the queue, and its file with them.

    Returns:
        How many sheets are printed again; 0 when it is the file alone, or nothing had failed.

    Raises:
        PermissionError: no role of theirs prints here.
    """
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    role_for(by, Right.PRINT, batch.depot_id)
    afresh: dict[str, Any] = {
        "state": Sheet.State.ASKED,
        "attempts": 0,
        "lease_until": None,
        "ended_at": None,
        "why": "",
    }
    failed = Sheet.objects.filter(batch=batch, state=Sheet.State.FAILED)
    count: int = failed.update(**afresh)
    if count or batch.state == Batch.State.FAILED:
        # Who merges just now loses hold of the batch, since its sheets are no longer all there.
        Batch.objects.filter(pk=batch.pk).update(**afresh)
    return count


def print_batch(batch_id: int, *, clock: Clock, until: datetime) -> bool:
    """Prints what waits in the batch, sheet by sheet; who prints the last one merges all.

    Any number of workers may do this at once, and any of them may die between two steps: each
    sheet is claimed by one of them, and what a dead one held is free again after its lease.

    Args:
        clock: gives the moment now, since this runs long.
        until: when to stop and leave the rest to a later run.

    Returns:
        Whether something is left for a later run. What another worker holds is left to it.
    """
    sheets = Sheet.objects.filter(batch_id=batch_id)
    while (at := clock()) < until:
        pk = sheets.waiting(at).order_by("position").values_list("pk", flat=True).first()
        if pk is None:
            _finish(batch_id, clock=clock)
            return False
        if Sheet.objects.claim(pk, at=at):
            _print(pk, claimed_at=at, clock=clock)
        else:
            sheets.park_hopeless(at)
    return True


def left_behind(at: datetime) -> list[int]:
    """Batches that nobody has touched for a lease: their message was lost, or their worker died."""
    Batch.objects.park_hopeless(at)
    quiet = Batch.objects.waiting(at).filter(asked_at__lt=at - GRACE)
    busy = Sheet.objects.filter(
        state=Sheet.State.WORKING, lease_until__gte=at, batch__in=quiet
    ).values("batch")
    return list(quiet.exclude(pk__in=busy).order_by("pk").values_list("pk", flat=True))


def _print(pk: int, *, claimed_at: datetime, clock: Clock) -> None:
    held = Sheet.objects.held(pk, claimed_at=claimed_at)
    try:
        sheet = Sheet.objects.select_related(
            "machine__kind", "machine__depot", "machine__use_rate", "asked_by", "depot"
        ).get(pk=pk)
        content = sheet.content if sheet.content is not None else _freeze(sheet, at=claimed_at)
        data = render(_content.validate_python(content))
        pages = page_count(data)
        name = _keep(data, name=f"paper/{sheet.batch_id}/{pk}")
    except (OSError, DatabaseError):
        # The disk or the database may be well again soon: another run tries once more, at once.
        held.update(lease_until=claimed_at)
        raise
    except Refused as refused:
        held.update(state=Sheet.State.FAILED, ended_at=clock(), why=str(refused))
        return
    except Exception as wrong:
        # One machine's odd data must not keep the other forty-nine sheets back.
        log.exception("sheet not printed", extra={"sheet": pk})
        held.update(
            state=Sheet.State.FAILED,
            ended_at=clock(),
            why=f"The sheet could not be drawn ({type(wrong).__name__}). Tell your administrator.",
        )
        return
    kept = held.update(
        state=Sheet.State.DONE,
        file=name,
        pages=pages,
        sha256=hashlib.sha256(data).hexdigest(),
        ended_at=clock(),
        why="",
    )
    if not kept:  # it took so long that another worker has it; the row names that one's file
        _storage().delete(name)


def _freeze(sheet: Sheet, *, at: datetime) -> Any:
    """Gathers the content, seals its hash, and keeps it, so that every later print is equal."""
    machine, by = sheet.machine, sheet.asked_by
    if by is None or not may(by, Right.PRINT, sheet.depot_id):
        raise Refused("Who asked for it may no longer print here. Ask for a new one.")
    if machine.depot_id != sheet.depot_id:
        raise Refused(f"{machine} has gone to another depot. Ask for its sheet there.")
    gathered = service_sheet(machine, at=at, by=by.name, sheet_number=str(sheet.pk))
    content = _content.dump_python(gathered, mode="json")
    digest = hashlib.sha256(_content.dump_json(gathered)).hexdigest()
    with transaction.atomic():
        locked = Sheet.objects.select_for_update().get(pk=sheet.pk)
        if locked.content is not None:
            return locked.content
        record = seal(
            kind=Record.Kind.SHEET,
            depot=sheet.depot,
            machine=machine,
            data={"sheet": "service sheet", "number": str(sheet.pk), "content_sha256": digest},
            happened_at=at,
            received_at=at,
            by=by,
            role=role_for(by, Right.PRINT, sheet.depot_id),
        )
        content["printed"] |= {"record_number": record.number, "record_hash": record.hash}
        Sheet.objects.filter(pk=sheet.pk).update(content=content, record=record)
    return content


def _finish(batch_id: int, *, clock: Clock) -> None:
    """Merges a batch of which nothing waits any more; left alone while another worker prints."""
    sheets = Sheet.objects.filter(batch_id=batch_id)
    at = clock()
    with transaction.atomic():
        # Under the lock under which failed sheets are asked for again.
        Batch.objects.select_for_update().filter(pk=batch_id).first()
        if sheets.open().exists() or not Batch.objects.claim(batch_id, at=at):
            return
    batch = Batch.objects.get(pk=batch_id)
    held = Batch.objects.held(batch_id, claimed_at=at)
    done = list(sheets.filter(state=Sheet.State.DONE).values_list("machine__number", "file"))
    missing = sheets.filter(state=Sheet.State.FAILED).count()
    if not done:
        held.update(
            state=Batch.State.FAILED,
            ended_at=clock(),
            why="None of the sheets could be printed. Each says why.",
        )
        return
    try:
        storage = _storage()
        data = merge(
            (Part(number, Path(storage.path(name))) for number, name in done), title=batch.title
        )
        name = _keep(data, name=f"paper/{batch_id}/all")
    except (OSError, DatabaseError):
        held.update(lease_until=at)
        raise
    kept = held.update(
        state=Batch.State.DONE,
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        ended_at=clock(),
        why=f"{missing} of {missing + len(done)} sheets could not be printed." if missing else "",
    )
    if not kept:
        storage.delete(name)
        return
    if batch.file.name:
        storage.delete(batch.file.name)
    _clear(batch_id, at=clock())


def _keep(data: bytes, *, name: str) -> str:
    """Writes a file of its own that survives a power cut; no row names it before it is whole."""
    name = f"{name}-{secrets.token_hex(8)}.pdf"
    path = Path(_storage().path(name))
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        with path.open("xb") as file:
            os.chmod(file.fileno(), 0o600)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return name


def _clear(batch_id: int, *, at: datetime) -> None:
    """Removes the files of workers that died before a row could name them.

    What is younger than a lease may be one that a row is about to name.
    """
    named = {*Sheet.objects.filter(batch_id=batch_id).values_list("file", flat=True)}
    named |= {*Batch.objects.filter(pk=batch_id).values_list("file", flat=True)}
    storage = _storage()
    for path in Path(storage.path(f"paper/{batch_id}")).iterdir():
        old = path.stat().st_mtime < (at - LEASE).timestamp()
        if old and f"paper/{batch_id}/{path.name}" not in named:
            storage.delete(f"paper/{batch_id}/{path.name}")


def _storage() -> FileSystemStorage:
    return cast(FileSystemStorage, Sheet._meta.get_field("file").storage)
