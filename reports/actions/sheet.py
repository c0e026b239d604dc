"""Sheets: asked for in a batch, each kept and printed once, then put into one file."""

import hashlib
import logging
import os
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from time import monotonic
from typing import Any, BinaryIO, cast

from django.core.files.storage import FileSystemStorage
from django.db import DatabaseError, transaction
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext as _

from maintenance.models import Job
from maintenance.rules.words import day_text, moment_text
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.actions.throttle import A_MINUTE, TooOften
from plant.length_words import as_kept
from plant.models import Chain, Depot, Machine, Record, User
from plant.models.work import LEASE
from plant.rights import may, practise_in, role_for
from plant.rows import save_columns
from reports.contents import paper_words
from reports.contents.paper import Leaf, Paper, paper_of
from reports.models import Batch, Sheet
from reports.models.sheet import RIGHTS
from reports.pdf.batch import page_count
from reports.pdf.marked import marked
from reports.pdf.page import Printed

log = logging.getLogger(__name__)
# More machines than any depot of ours; a slip of the keyboard asks for no more paper than this.
MOST_SHEETS = 5_000
MOST_PRINTS = 30
# A batch gets this long from its message before the timer looks after it.
GRACE = timedelta(seconds=30)
# [s] A long sheet tells no more often how far it is.
EACH_S = 1.0
# Who presses again within this, or before anything of it is drawn, means the same paper.
PRESSED_AGAIN = timedelta(seconds=10)
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

    The same paper asked for again by the same person, a moment after or while nothing of it is
    drawn, is the batch that they asked for first: a slow answer is often pressed twice.

    Args:
        kind: which paper.
        days: the first and the last day that the paper speaks of.
        title: of the batch; "" for that of its kind.
        issue: the record of the issue that a passport goes with.

    Raises:
        TooOften: the depot asked for much paper just now.
        Refused: nothing, too many, one of another depot, one of them twice, or there is no such
            paper of it now.
        PermissionError: no role of theirs prints this here.
    """
    one = len(wanted) == 1
    role_for(by, RIGHTS[kind][0 if one else 1], depot.pk)
    if issue is None:  # a machine that goes out is never kept back for its paper
        _hold_back(depot, at=at)
    if not wanted:
        raise Refused(_("Choose at least one machine. Nothing was asked for."), field="machines")
    if len(wanted) > MOST_SHEETS:
        raise Refused(
            _("At most {most_sheets} at a time. Choose fewer.").format(most_sheets=MOST_SHEETS),
            field="machines",
        )
    if any(each.machine and each.machine.depot_id != depot.pk for each in wanted):
        raise Refused(_("All machines of one batch belong to one depot."), field="machines")
    if len(set(wanted)) < len(wanted):
        raise Refused(_("Name each machine once."), field="machines")
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
        _(paper.one).format(sheets[0].subject) if one else _(paper.many).format(len(sheets))
    )
    if one and sheets[0].job is not None:
        batch.title = f"{batch.title}, {sheets[0].job.number}"
    if issue is None and (earlier := _asked_just_now(batch, sheets, by=by)):
        return earlier
    batch.save()
    Sheet.objects.bulk_create(sheets)
    return batch


def _asked_just_now(batch: Batch, sheets: Sequence[Sheet], *, by: User) -> Batch | None:
    """The batch of the same person and the same paper that is under way and as good as this."""
    # Two presses at once take turns here, so that the second sees what the first asked for.
    User.objects.select_for_update(no_key=True).get(pk=by.pk)
    same = Batch.objects.filter(
        depot=batch.depot,
        asked_by=by,
        kind=batch.kind,
        title=batch.title,
        first_day=batch.first_day,
        last_day=batch.last_day,
        issue=None,
        turn=None,  # what is printed by the clock has a file for each turn
        state__in=Batch.OPEN,
        asked_at__lte=batch.asked_at,
    )
    begun = Sheet.objects.exclude(state=Sheet.State.ASKED).filter(batch=OuterRef("pk"))
    just_now = Q(asked_at__gte=batch.asked_at - PRESSED_AGAIN)
    wanted = [_asked_of(sheet) for sheet in sheets]
    for earlier in same.filter(just_now | ~Exists(begun)).prefetch_related("sheets"):
        asked = sorted(earlier.sheets.all(), key=lambda sheet: sheet.position)
        if [_asked_of(sheet) for sheet in asked] == wanted:
            return cast(Batch, earlier)
    return None


def _asked_of(sheet: Sheet) -> tuple[object, ...]:
    return sheet.machine_id, sheet.job_id, sheet.about_id, sheet.person_id


def _hold_back(depot: Depot, *, at: datetime) -> None:
    """A depot asks for paper so often a minute at most; a key that is stuck asks more often."""
    lately = Batch.objects.filter(
        depot=depot, issue=None, asked_at__gt=at - A_MINUTE, asked_at__lte=at
    )
    times = lately.order_by("-asked_at").values_list("asked_at", flat=True)[:MOST_PRINTS]
    if len(times) == MOST_PRINTS:
        told = _("{depot} asked for paper {most_prints} times within a minute.").format(
            depot=depot.name, most_prints=MOST_PRINTS
        )
        raise TooOften(times[MOST_PRINTS - 1] + A_MINUTE - at, told)


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
        state=Sheet.State.FAILED, ended_at=at, why=_("Stopped before it was printed.")
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
    batch = Batch.objects.filter(pk=batch_id).first()
    if batch is None:
        return False
    sheets = Sheet.objects.filter(batch_id=batch_id).order_by("position")
    paper = paper_of(batch)
    with as_kept():
        while (at := clock()) < until:
            if taken := sheets.claim_next(at=at, most=paper.together, lease=paper.lease):
                held = Sheet.objects.filter(pk__in=taken).held(claimed_at=at, lease=paper.lease)
                _print(held, claimed_at=at, clock=clock)
            elif sheets.waiting(at).exists():
                sheets.park_hopeless(at)
            else:
                _finish(batch_id, clock=clock)
                return False
        return True


def left_behind(at: datetime) -> list[int]:
    """Batches that nobody has touched for a lease: their message was lost, or their worker died."""
    Batch.objects.park_hopeless(at)
    quiet = Batch.objects.waiting(at).filter(asked_at__lt=at - GRACE)
    busy = Sheet.objects.filter(
        state=Sheet.State.WORKING, lease_until__gte=at, batch__in=quiet
    ).values("batch")
    return list(quiet.exclude(pk__in=busy).order_by("pk").values_list("pk", flat=True))


@dataclass(frozen=True)
class _Kept:
    """A sheet that was drawn, with its file."""

    sheet: Sheet
    file: str
    sha256: str
    pages: int


def is_long(batch_id: int) -> bool:
    """Whether one sheet of the batch may take minutes."""
    batch = Batch.objects.filter(pk=batch_id).first()
    return batch is not None and paper_of(batch).is_long


def _print(held: Any, *, claimed_at: datetime, clock: Clock) -> None:
    """Prints the sheets of one batch that are held, all that can be printed of them.

    They are read, sealed and noted together, which costs a fraction of doing so for each.
    """
    kept: list[_Kept] = []
    failed: dict[int, str] = {}
    try:
        sheets = list(
            held.order_by("position")
            .select_related("machine__kind", "machine__use_rate", "job", "about", "person")
            .prefetch_related("batch", "depot", "asked_by", "machine__depot")
        )
        for sheet in sheets:
            if sheet.asked_by is not None:
                practise_in(sheet.asked_by, sheet.depot)
            if sheet.batch.is_long:
                sheet.tell = _telling(held.filter(pk=sheet.pk))
        _freeze(sheets, failed, at=claimed_at)
        for sheet in sheets:
            if sheet.pk not in failed and (data := _drawn(sheet, failed)):
                name, digest = _keep(f"paper/{sheet.batch_id}/{sheet.pk}", data)
                kept.append(_Kept(sheet, name, digest, page_count(data)))
        _settle([each.file for each in kept])
        noted = _note(kept, held=held, at=clock())
    except BaseException as wrong:
        for each in kept:  # no row names them
            _storage().delete(each.file)
        if isinstance(wrong, OSError | DatabaseError):
            # The disk or the database may be well again soon: another run tries at once.
            held.update(lease_until=claimed_at)
        raise
    for each in kept:
        if each.sheet.pk not in noted:
            # It took so long that another worker has it; the row names that one's file. Or what it
            # was drawn from was erased meanwhile: another run gathers it anew.
            _storage().delete(each.file)
            held.filter(pk=each.sheet.pk, content__isnull=True).update(lease_until=claimed_at)
    for pk, why in failed.items():
        held.filter(pk=pk).update(state=Sheet.State.FAILED, ended_at=clock(), why=why)


def _telling(held: Any) -> Callable[[str, int, int], None]:
    """Notes how far a long sheet is, for the page that waits for it: once a second, no more."""
    last = 0.0

    def tell(doing: str, done: int, of: int) -> None:
        nonlocal last
        if (now := monotonic()) - last >= EACH_S:
            last = now
            held.update(doing=doing, parts_done=done, parts_all=of)

    return tell


@transaction.atomic
def _note(kept: Sequence[_Kept], *, held: Any, at: datetime) -> set[int]:
    """Names the files in their rows, where they are still ours, and seals their hashes.

    Returns:
        The keys of the sheets whose files are named now.
    """
    # What one was drawn from may have been erased meanwhile; then it is gathered anew.
    whole = held.select_for_update().filter(content__isnull=False)
    ours = set(whole.values_list("pk", flat=True))
    named = [each for each in kept if each.sheet.pk in ours]
    if not named:
        return set()
    files = [
        {"number": str(each.sheet.pk), "sha256": each.sha256}
        for each in named
        if each.sheet.record_id
    ]
    record = None
    if files:
        record = _seal_files(named[0].sheet.batch, {"sheets": files}, at=at, like=named[0].sheet)
    for each in named:
        sheet = each.sheet
        sheet.state, sheet.ended_at, sheet.why = Sheet.State.DONE, at, ""
        sheet.file, sheet.sha256, sheet.pages = each.file, each.sha256, each.pages
        sheet.file_record = record if sheet.record_id else None
    save_columns(
        [each.sheet for each in named],
        ("state", "ended_at", "why", "file", "sha256", "pages", "file_record_id"),
    )
    return {each.sheet.pk for each in named}


def _seal_files(batch: Batch, files: dict[str, Any], *, at: datetime, like: Sheet) -> Record:
    """Seals the hashes of files, so that who owns the database cannot make another one ours.

    Args:
        like: a sheet that was sealed; in the same role, since the right may have ended in between.
    """
    assert like.record is not None
    return seal(
        kind=Record.Kind.FILES,
        depot=batch.depot,
        data=files,
        happened_at=at,
        received_at=at,
        by=batch.asked_by,
        role=like.record.role,
    )


def _drawn(sheet: Sheet, failed: dict[int, str]) -> bytes:
    try:
        return draw(sheet, sheet.content)
    except (OSError, DatabaseError):
        raise
    except Exception as wrong:
        failed[sheet.pk] = _odd(sheet, wrong)
        return b""


def _odd(sheet: Sheet, wrong: Exception) -> str:
    # One machine's odd data must not keep the other forty-nine sheets back.
    log.exception("sheet not printed", extra={"sheet": sheet.pk})
    return _("It could not be drawn ({name}). Tell your administrator.").format(
        name=type(wrong).__name__
    )


def draw(sheet: Sheet, content: Any) -> bytes:
    """One sheet as a PDF, from the content that was kept."""
    paper = paper_of(sheet.batch)
    told = paper.content.validate_python(content)
    with marked(practice=sheet.depot.is_practice):
        return paper.draw(told, sheet.tell) if paper.is_long else paper.draw(told)


def gather(sheet: Sheet, *, at: datetime, by: str) -> Any:
    """What the sheet says, read from the database now."""
    return paper_of(sheet.batch).gather(sheet, at, by)


def bind(batch: Batch, leaves: list[Leaf], file: BinaryIO) -> None:
    """Writes the file of the whole batch."""
    local = batch.asked_at.astimezone(batch.depot.zone)
    printed = Printed(at=moment_text(local), by=batch.asked_by.name if batch.asked_by else "")
    with marked(practice=batch.depot.is_practice):
        paper_of(batch).whole(batch.title, leaves, printed, file)


def _freeze(sheets: Sequence[Sheet], failed: dict[int, str], *, at: datetime) -> None:
    """Gathers contents and keeps them, so that every later print is equal; their hashes are sealed
    where the paper says how the machine stands."""
    fresh = [sheet for sheet in sheets if sheet.content is None]
    if not fresh:
        return
    heads = list(Chain.objects.values_list("depot", "head_seq"))
    paper = paper_of(fresh[0].batch)
    paper.ahead([sheet.machine for sheet in fresh if sheet.machine is not None])
    found: dict[int, tuple[Any, str]] = {}
    for sheet in fresh:
        try:
            found[sheet.pk] = _gathered(sheet, paper, at=at)
        except Refused as refused:
            failed[sheet.pk] = str(refused)
        except (OSError, DatabaseError):
            raise
        except Exception as wrong:
            failed[sheet.pk] = _odd(sheet, wrong)
    with transaction.atomic():
        locked = Sheet.objects.select_for_update(of=("self",)).filter(pk__in=found)
        # Another worker may have taken one for dead that was slow, and gathered it first.
        before = {each.pk: each for each in locked.select_related("record").order_by("pk")}
        ours = []
        for sheet in fresh:
            if sheet.pk not in before:
                continue
            if (first := before[sheet.pk]).content is not None:
                sheet.content, sheet.record = first.content, first.record
                continue
            sheet.content, digest = found[sheet.pk]
            if paper.sealed_as:
                record = seal(
                    kind=Record.Kind.SHEET,
                    depot=sheet.depot,
                    machine=sheet.machine,
                    data={
                        "sheet": paper.sealed_as,
                        "number": str(sheet.pk),
                        "content_sha256": digest,
                    },
                    happened_at=at,
                    received_at=at,
                    by=sheet.asked_by,
                    role=_role(sheet),
                )
                printed = {"record_number": record.number, "record_hash": record.hash}
                sheet.content["printed"] |= printed
                sheet.record = record
            sheet.erased_with = None
            ours.append(sheet)
        # Sealing waits for whoever erases in this depot, and makes who comes after it wait.
        if _erased_since(heads):
            raise DatabaseError(_("words were erased meanwhile: the next run gathers anew"))
        save_columns(ours, ("content", "record_id", "erased_with_id"))


def _erased_since(heads: list[tuple[int, int]]) -> bool:
    """Whether anything was erased after the chains ended there."""
    later = Q(pk__in=())
    for depot, seq in heads:
        later |= Q(depot=depot, seq__gt=seq)
    return Record.objects.filter(later, kind=Record.Kind.ERASED).exists()


def _gathered(sheet: Sheet, paper: Paper, *, at: datetime) -> tuple[Any, str]:
    """The content of a sheet as it is kept, and its SHA-256."""
    machine, by = sheet.machine, sheet.asked_by
    if by is None or not may(by, sheet.batch.right, sheet.depot_id):
        raise Refused(_("Who asked for it may no longer print here. Ask for a new one."))
    if machine is not None and machine.depot_id != sheet.depot_id:
        raise Refused(
            _("{machine} has gone to another depot. Ask for its sheet there.").format(
                machine=machine
            )
        )
    if why := paper.refusal(sheet, at):
        raise Refused(why)
    content = gather(sheet, at=at, by=by.name)
    if edition := _edition(sheet):
        content = replace(content, printed=replace(content.printed, edition=edition))
    digest = hashlib.sha256(paper.content.dump_json(content)).hexdigest()
    return paper.content.dump_python(content, mode="json"), digest


def _edition(sheet: Sheet) -> str:
    """Of paper that shows one record or one period: that an earlier one of it was erased."""
    batch = sheet.batch
    if sheet.about_id is None and batch.kind != Batch.Kind.BUNDLE:
        return ""
    before = Sheet.objects.filter(
        batch__kind=batch.kind, machine=sheet.machine_id, about=sheet.about_id,
        batch__first_day=batch.first_day, batch__last_day=batch.last_day,
        content__isnull=True, erased_with__kind=Record.Kind.ERASED,
    )  # fmt: skip
    last = before.select_related("erased_with").order_by("-pk").first()
    if last is None or last.erased_with is None:
        return ""
    on = day_text(sheet.depot.day_of(last.erased_with.received_at))
    return _("new edition, since words or photos of no. {last} were erased on {on}").format(
        last=last.pk, on=on
    )


def _role(sheet: Sheet) -> str:
    assert sheet.asked_by is not None  # asked before its content was gathered
    return role_for(sheet.asked_by, sheet.batch.right, sheet.depot_id)


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
    # In pieces: of thousands, only these three words of each are held.
    done = [
        (sheet.pk, sheet.subject, sheet.file.name) for sheet in of_whom.iterator(chunk_size=200)
    ]
    missing = sheets.filter(state=Sheet.State.FAILED).count()
    if not done:
        held.update(
            state=Batch.State.FAILED,
            ended_at=clock(),
            why=_("Nothing was printed. Each says why."),
        )
        return
    try:
        storage = _storage()
        # Only labels are laid anew; the content of hundreds of sheets would be much to hold.
        kept: dict[int, Any] = dict(well.values_list("pk", "content")) if batch.has_labels else {}
        leaves = [Leaf(number, Path(storage.path(name)), kept.get(pk)) for pk, number, name in done]
        name, digest = _keep(f"paper/{batch_id}/all", lambda file: bind(batch, leaves, file))
    except (OSError, DatabaseError):
        held.update(lease_until=at)
        raise
    ended = clock()
    with transaction.atomic():
        ours = held.update(
            state=Batch.State.DONE,
            file=name,
            sha256=digest,
            ended_at=ended,
            why=(
                paper_words.not_printed(batch, missing=missing, of=missing + len(done))
                if missing
                else ""
            ),
        )
        # A sheet alone is the file of its batch, and was sealed as that.
        if ours and batch.is_sealed and len(done) > 1:
            file = {"batch": str(batch_id), "sha256": digest}
            like = well.select_related("record").defer("content").exclude(record=None)[0]
            record = _seal_files(batch, file, at=ended, like=like)
            Batch.objects.filter(pk=batch_id).update(file_record=record)
    if not ours:
        storage.delete(name)
        return
    if batch.file.name:
        storage.delete(batch.file.name)
    _clear(batch_id, at=clock())


def _keep(name: str, content: bytes | Callable[[BinaryIO], None]) -> tuple[str, str]:
    """Writes a file of its own. One given whole is settled with others, before a row names it; one
    that is written by a call is settled here.

    Returns:
        Its name, and its SHA-256.
    """
    name = f"{name}-{secrets.token_hex(8)}.pdf"
    path = Path(_storage().path(name))
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w+b") as file:
            if isinstance(content, bytes):
                file.write(content)
                return name, hashlib.sha256(content).hexdigest()
            content(file)
            file.flush()
            os.fsync(file.fileno())
            file.seek(0)
            return name, hashlib.file_digest(file, "sha256").hexdigest()
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _settle(names: Sequence[str]) -> None:
    """Waits until these files survive a power cut: many at once cost the disk little more than
    one."""
    try:
        for name in names:
            with _storage().open(name) as file:
                os.fsync(file.fileno())
    except BaseException:
        for name in names:
            _storage().delete(name)
        raise


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
