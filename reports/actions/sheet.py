"""Sheets: asked for in a batch, each kept and printed once, then put into one file."""

import hashlib
import logging
import os
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, cast

from django.core.files.storage import FileSystemStorage
from django.db import DatabaseError, transaction

from maintenance.models import Job
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, User
from plant.models.work import LEASE
from plant.rights import may, role_for
from reports.contents.paper import Leaf, paper_of
from reports.models import Batch, Sheet
from reports.models.sheet import RIGHTS
from reports.pdf.batch import page_count
from reports.pdf.page import Printed

log = logging.getLogger(__name__)
# More machines than any depot of ours; a slip of the keyboard asks for no more paper than this.
MOST_SHEETS = 5_000
# A batch gets this long from its message before the timer looks after it.
GRACE = timedelta(seconds=30)
Clock = Callable[[], datetime]


@dataclass(frozen=True)
class Wanted:
    """One sheet that is asked for: of a machine, a job or a record of it, or of a person's jobs.

    All None: the sheet is of the depot as a whole.
    """

    machine: Machine | None = None
    job: Job | None = None
    about: Record | None = None
    person: User | None = None


def ask_sheets(
    *,
    depot: Depot,
    machines: Sequence[Machine],
    by: User,
    at: datetime,
    kind: Batch.Kind = Batch.Kind.SERVICE,
    issue: Record | None = None,
    job: Job | None = None,
) -> Batch:
    """Asks for a sheet of each machine; see ask_paper.

    Args:
        job: the job of the one machine whose service sheet this is.
    """
    wanted = [Wanted(machine=machine, job=job) for machine in machines]
    return ask_paper(depot=depot, wanted=wanted, by=by, at=at, kind=kind, issue=issue)


@transaction.atomic
def ask_paper(
    *,
    depot: Depot,
    wanted: Sequence[Wanted],
    by: User,
    at: datetime,
    kind: Batch.Kind,
    days: tuple[date, date] | None = None,
    title: str = "",
    issue: Record | None = None,
) -> Batch:
    """Asks for sheets. The rows are the promise; the background prints.

    Args:
        kind: which paper.
        days: the first and the last day that the paper speaks of.
        title: of the batch; "" for that of its kind.
        issue: the record of the issue that a passport goes with.

    Raises:
        Refused: nothing, too many, one of another depot, one of them twice, or there is no such
            paper of it now.
        PermissionError: no role of theirs prints this here.
    """
    one = len(wanted) == 1
    role_for(by, RIGHTS[kind][0 if one else 1], depot.pk)
    if not wanted:
        raise Refused("Choose at least one machine. Nothing was asked for.", field="machines")
    if len(wanted) > MOST_SHEETS:
        raise Refused(f"At most {MOST_SHEETS} at a time. Choose fewer.", field="machines")
    if any(each.machine and each.machine.depot_id != depot.pk for each in wanted):
        raise Refused("All machines of one batch belong to one depot.", field="machines")
    if len(set(wanted)) < len(wanted):
        raise Refused("Name each machine once.", field="machines")
    batch = Batch(depot=depot, asked_by=by, asked_at=at, kind=kind, issue=issue)
    if days is not None:
        batch.first_day, batch.last_day = days
    sheets = [
        Sheet(
            batch=batch,
            depot=depot,
            asked_by=by,
            asked_at=at,
            position=position,
            machine=each.machine,
            job=each.job,
            about=each.about,
            person=each.person,
        )
        for position, each in enumerate(wanted, 1)
    ]
    paper = paper_of(batch)
    for sheet in sheets:
        if why := paper.refusal(sheet, at):
            raise Refused(why)
    batch.title = title or (
        paper.one.format(sheets[0].subject) if one else paper.many.format(len(sheets))
    )
    if one and sheets[0].job is not None:
        batch.title = f"{batch.title}, {sheets[0].job.number}"
    batch.save()
    Sheet.objects.bulk_create(sheets)
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
    role_for(by, batch.right, batch.depot_id)
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


@transaction.atomic
def stop_batch(*, batch: Batch, by: User, at: datetime) -> int:
    """Takes what is not begun out of the queue; what is printed stays, and is put into one file.

    Returns:
        How many sheets are not printed for this.

    Raises:
        PermissionError: no role of theirs prints here.
    """
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    role_for(by, batch.right, batch.depot_id)
    waiting = Sheet.objects.filter(batch=batch, state=Sheet.State.ASKED)
    count: int = waiting.update(
        state=Sheet.State.FAILED, ended_at=at, why="Stopped before it was printed."
    )
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
            "batch",
            "machine__kind",
            "machine__depot",
            "machine__use_rate",
            "asked_by",
            "depot",
            "job",
            "about",
            "person",
        ).get(pk=pk)
        content = sheet.content if sheet.content is not None else _freeze(sheet, at=claimed_at)
        data = draw(sheet, content)
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
            why=f"It could not be drawn ({type(wrong).__name__}). Tell your administrator.",
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


def draw(sheet: Sheet, content: Any) -> bytes:
    """One sheet as a PDF, from the content that was kept."""
    paper = paper_of(sheet.batch)
    return paper.draw(paper.content.validate_python(content))


def gather(sheet: Sheet, *, at: datetime, by: str) -> Any:
    """What the sheet says, read from the database now."""
    return paper_of(sheet.batch).gather(sheet, at, by)


def bind(batch: Batch, leaves: list[Leaf]) -> bytes:
    """The file of the whole batch."""
    local = batch.asked_at.astimezone(batch.depot.zone)
    printed = Printed(
        at=f"{local:%-d %b %Y %H:%M}", by=batch.asked_by.name if batch.asked_by else ""
    )
    return paper_of(batch).whole(batch.title, leaves, printed)


def _freeze(sheet: Sheet, *, at: datetime) -> Any:
    """Gathers the content and keeps it, so that every later print is equal; its hash is sealed
    where the paper says how the machine stands."""
    machine, by, right = sheet.machine, sheet.asked_by, sheet.batch.right
    if by is None or not may(by, right, sheet.depot_id):
        raise Refused("Who asked for it may no longer print here. Ask for a new one.")
    if machine is not None and machine.depot_id != sheet.depot_id:
        raise Refused(f"{machine} has gone to another depot. Ask for its sheet there.")
    paper = paper_of(sheet.batch)
    if why := paper.refusal(sheet, at):
        raise Refused(why)
    gathered = gather(sheet, at=at, by=by.name)
    content = paper.content.dump_python(gathered, mode="json")
    digest = hashlib.sha256(paper.content.dump_json(gathered)).hexdigest()
    with transaction.atomic():
        locked = Sheet.objects.select_for_update().get(pk=sheet.pk)
        if locked.content is not None:
            return locked.content
        if not paper.sealed_as:
            Sheet.objects.filter(pk=sheet.pk).update(content=content)
            return content
        record = seal(
            kind=Record.Kind.SHEET,
            depot=sheet.depot,
            machine=machine,
            data={"sheet": paper.sealed_as, "number": str(sheet.pk), "content_sha256": digest},
            happened_at=at,
            received_at=at,
            by=by,
            role=role_for(by, right, sheet.depot_id),
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
    batch = Batch.objects.select_related("depot", "asked_by").get(pk=batch_id)
    held = Batch.objects.held(batch_id, claimed_at=at)
    # A sheet whose file was erased meanwhile is not among them.
    well = sheets.filter(state=Sheet.State.DONE).exclude(file="")
    of_whom = well.select_related("machine", "about__depot", "person", "depot").defer("content")
    done = [(sheet.pk, sheet.subject, sheet.file.name) for sheet in of_whom]
    missing = sheets.filter(state=Sheet.State.FAILED).count()
    if not done:
        held.update(
            state=Batch.State.FAILED,
            ended_at=clock(),
            why="Nothing was printed. Each says why.",
        )
        return
    try:
        storage = _storage()
        # Only labels are laid anew; the content of hundreds of sheets would be much to hold.
        kept: dict[int, Any] = dict(well.values_list("pk", "content")) if batch.has_labels else {}
        leaves = [Leaf(number, Path(storage.path(name)), kept.get(pk)) for pk, number, name in done]
        data = bind(batch, leaves)
        name = _keep(data, name=f"paper/{batch_id}/all")
    except (OSError, DatabaseError):
        held.update(lease_until=at)
        raise
    ours = held.update(
        state=Batch.State.DONE,
        file=name,
        sha256=hashlib.sha256(data).hexdigest(),
        ended_at=clock(),
        why=(f"{missing} of {missing + len(done)} {batch.thing}s not printed." if missing else ""),
    )
    if not ours:
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
