"""Sheets: asked for in a batch, each sealed and printed once, then merged into one file."""

import hashlib
import logging
import secrets
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from django.core.files.base import ContentFile
from django.db import transaction
from pydantic import TypeAdapter

from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, User
from plant.rights import Right, role_for
from reports.contents.service_sheet import service_sheet
from reports.models import Batch, Sheet
from reports.pdf.batch import Part, merge
from reports.pdf.service_sheet import ServiceSheet, render

log = logging.getLogger(__name__)
MOST_SHEETS = 500
_content = TypeAdapter(ServiceSheet)
Clock = Callable[[], datetime]


@transaction.atomic
def ask_sheets(*, depot: Depot, machines: Sequence[Machine], by: User, at: datetime) -> Batch:
    """Asks for a service sheet of each machine. The rows are the promise; the background prints.

    Raises:
        Refused: no machine, too many, or one of another depot.
    """
    if not machines:
        raise Refused("Choose at least one machine. Nothing was asked for.", field="machines")
    if len(machines) > MOST_SHEETS:
        raise Refused(f"At most {MOST_SHEETS} sheets at a time. Choose fewer.", field="machines")
    if any(machine.depot_id != depot.pk for machine in machines):
        raise Refused("All machines of one batch belong to one depot.", field="machines")
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
def ask_again(*, batch: Batch, at: datetime) -> int:
    """Puts the failed sheets of a batch back in the queue; returns how many."""
    failed = Sheet.objects.filter(batch=batch, state=Sheet.State.FAILED)
    count = failed.update(state=Sheet.State.ASKED, attempts=0, why="", ended_at=None)
    if count or batch.state == Batch.State.FAILED:
        Batch.objects.filter(pk=batch.pk).update(
            state=Batch.State.ASKED, attempts=0, why="", ended_at=None
        )
    return count


def print_batch(batch_id: int, *, clock: Clock, until: datetime) -> bool:
    """Prints what waits in the batch, sheet by sheet, and merges it at the end.

    Any number of workers may do this at once; each sheet is claimed by one of them.

    Args:
        clock: gives the moment now, since this runs long.
        until: when to stop and leave the rest to a later run.

    Returns:
        Whether the batch is finished.
    """
    while clock() < until:
        at = clock()
        Sheet.objects.filter(batch_id=batch_id).park_hopeless(at)
        waiting = Sheet.objects.filter(batch_id=batch_id).waiting(at).order_by("position")
        pk = waiting.values_list("pk", flat=True).first()
        if pk is None:
            return _finish(batch_id, at=at)
        if Sheet.objects.claim(pk, at=at):
            _print(pk, at=at)
    return False


def _print(pk: int, *, at: datetime) -> None:
    sheet = Sheet.objects.select_related("machine__kind", "machine__depot", "asked_by").get(pk=pk)
    try:
        if sheet.content is None:
            _freeze(sheet, at=at)
        content = _content.validate_python(sheet.content)
        data = render(content)
    except (ValueError, TypeError, ArithmeticError, LookupError) as wrong:
        # One machine's odd data must not keep the other forty-nine sheets back.
        log.exception("sheet not printed", extra={"sheet": pk})
        Sheet.objects.filter(pk=pk, state=Sheet.State.WORKING).update(
            state=Sheet.State.FAILED,
            ended_at=at,
            why=f"The sheet could not be drawn ({type(wrong).__name__}). Tell your administrator.",
        )
        return
    # A run that lost its lease and was overtaken keeps its file, but the row names one alone.
    name = sheet.file.storage.save(f"sheets/{secrets.token_hex(16)}.pdf", ContentFile(data))
    kept = Sheet.objects.filter(pk=pk, state=Sheet.State.WORKING).update(
        state=Sheet.State.DONE,
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        ended_at=at,
        why="",
    )
    if not kept:
        sheet.file.storage.delete(name)


def _freeze(sheet: Sheet, *, at: datetime) -> None:
    """Gathers the content, seals its hash, and keeps it, so that every later print is equal."""
    machine, by = sheet.machine, sheet.asked_by
    if by is None:
        raise LookupError("nobody asked for this sheet")
    gathered = service_sheet(machine, at=at, by=by.name, sheet_number=str(sheet.pk))
    content = _content.dump_python(gathered, mode="json")
    digest = hashlib.sha256(_content.dump_json(gathered)).hexdigest()
    with transaction.atomic():
        locked = Sheet.objects.select_for_update().get(pk=sheet.pk)
        if locked.content is not None:
            sheet.content = locked.content
            return
        record = seal(
            kind=Record.Kind.SHEET,
            depot=machine.depot,
            machine=machine,
            data={"sheet": "service sheet", "number": str(sheet.pk), "content_sha256": digest},
            happened_at=at,
            received_at=at,
            by=by,
            role=role_for(by, Right.PRINT, machine.depot_id),
        )
        content["printed"] |= {"record_number": record.number, "record_hash": record.hash}
        Sheet.objects.filter(pk=sheet.pk).update(content=content, record=record)
    sheet.content = content


def _finish(batch_id: int, *, at: datetime) -> bool:
    """Merges a batch of which nothing waits any more; left alone while another worker prints."""
    sheets = Sheet.objects.filter(batch_id=batch_id)
    if sheets.open().exists():
        return False
    if not Batch.objects.claim(batch_id, at=at):
        return True
    batch = Batch.objects.get(pk=batch_id)
    done = list(sheets.filter(state=Sheet.State.DONE).select_related("machine"))
    missing = sheets.filter(state=Sheet.State.FAILED).count()
    if not done:
        _end(batch, state=Batch.State.FAILED, at=at, why="None of the sheets could be printed.")
        return True
    parts = (Part(sheet.machine.number, Path(sheet.file.path)) for sheet in done)
    data = merge(parts, title=batch.title)
    name = batch.file.storage.save(f"batches/{secrets.token_hex(16)}.pdf", ContentFile(data))
    batch.file, batch.sha256 = name, hashlib.sha256(data).hexdigest()
    why = "" if not missing else f"{missing} of {missing + len(done)} sheets could not be printed."
    _end(batch, state=Batch.State.DONE, at=at, why=why)
    return True


def _end(batch: Batch, *, state: Batch.State, at: datetime, why: str) -> None:
    batch.state, batch.ended_at, batch.why = state, at, why
    batch.save(update_fields=("state", "ended_at", "why", "file", "sha256"))


def left_behind(at: datetime) -> list[int]:
    """Batches that nobody has touched for a lease: their message was lost, or their worker died."""
    Batch.objects.park_hopeless(at)
    quiet = Batch.objects.waiting(at).filter(asked_at__lt=at - timedelta(seconds=30))
    busy = Sheet.objects.filter(
        state=Sheet.State.WORKING, lease_until__gte=at, batch__in=quiet
    ).values("batch")
    return list(quiet.exclude(pk__in=busy).order_by("pk").values_list("pk", flat=True))


