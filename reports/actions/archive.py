"""Everything as one file that any program reads, and such a file brought into an empty system."""

import shutil
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.color import no_style
from django.db import IntegrityError, connection, models, transaction
from django.utils.translation import gettext

from maintenance.models import Job
from plant.actions.erase import remove_left_files
from plant.actions.refusal import Refused
from plant.models import Chain, Depot, Membership, Record, Role, User
from plant.moment import one_moment
from plant.sealed_zip import Writer, opened, put_in_place, unpack
from plant.sealing import moment
from reports.actions.backup import FOLDERS, beside, program_version, public_key
from reports.actions.erasure import erase_again, listed
from reports.actions.verify import verify_all
from reports.exports import everything

FORMAT = 1
WHAT = "everything of a site plant system"
FILES = "files"
BATCH = 500


@dataclass
class Taken:
    """An archive as it was written. missing: files that rows name and nobody has."""

    path: Path
    size: int
    counts: dict[str, int]
    chains: dict[str, list[Any]]
    missing: list[str]


@dataclass
class Brought:
    """What came of bringing one in. unlike: what is not as the archive says."""

    counts: dict[str, int]
    files: int = 0
    records: int = 0
    chains: list[str] = field(default_factory=list)
    unlike: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


# --- Out -------------------------------------------------------------------------------------
def make_archive(
    path: Path,
    *,
    at: datetime,
    tick: Callable[[int, int], None] = lambda done, total: None,
) -> Taken:
    """Writes every table and file into one new file, as of one moment. Others may go on writing.

    Args:
        tick: told how many rows and files are written, and of how many, from time to time.

    Raises:
        Refused: the file is there already, or cannot be written. Nothing is left behind.
    """
    if path.exists():
        raise Refused(
            gettext("{path} is there already. Nothing was written over it.").format(path=path)
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with put_in_place(path) as file, one_moment():
            return _write(path, Writer(file, at=at), at=at, tick=tick)
    except OSError as full:
        raise Refused(
            gettext("The file was not written: {full}. Nothing was changed.").format(full=full)
        ) from full


def _write(path: Path, writer: Writer, *, at: datetime, tick: Callable[[int, int], None]) -> Taken:
    out = everything.models()
    total = sum(model._base_manager.count() for model in out)
    counts: dict[str, int] = {}
    named: set[str] = set()
    done = 0
    writer.add("read_me.txt", [everything.READ_ME.encode()], squeeze=False)
    writer.add("key.csv", everything.key(), squeeze=True)

    def counted(model: type[models.Model]) -> Iterator[tuple[Any, ...]]:
        nonlocal done
        columns = everything.fields(model)
        files = [n for n, one in enumerate(columns) if isinstance(one, models.FileField)]
        rows = model._base_manager.order_by("pk").values_list(*(one.attname for one in columns))
        for row in rows.iterator(chunk_size=BATCH):
            named.update(str(row[n]) for n in files if row[n])
            counts[model._meta.db_table] += 1
            done += 1
            if done % BATCH == 0:
                tick(done, total)
            yield row

    for model in out:
        counts[model._meta.db_table] = 0
        writer.add(
            everything.table_file(model), everything.table(model, counted(model)), squeeze=True
        )
    missing = []
    for number, name in enumerate(sorted(named), start=1):
        try:
            writer.add_file(f"{FILES}/{name}", Path(settings.MEDIA_ROOT) / name)
        except FileNotFoundError:
            missing.append(name)
        tick(total + number, total + len(named))
    for name, each in beside().items():
        writer.add_file(name, each)
    chains = _heads()
    size = writer.finish(
        {
            "what": WHAT,
            "format": FORMAT,
            "made_at": moment(at),
            "version": program_version(),
            "counts": counts,
            "chains": chains,
            "checkpoint_key": public_key(),
            "missing": missing,
        }
    )
    return Taken(path, size, counts, chains, missing)


def _heads() -> dict[str, list[Any]]:
    rows = Chain.objects.order_by("depot__code").values_list("depot__code", "head_seq", "head_hash")
    return {code: [seq, digest] for code, seq, digest in rows}


# --- In --------------------------------------------------------------------------------------
def bring_in(
    path: Path, *, at: datetime, say: Callable[[str], None] = lambda words: None
) -> Brought:
    """Brings an archive into an empty system; all or nothing. The database may be of another kind.

    Raises:
        Refused: the system holds something already, or the file is damaged, newer or unreadable.
            Nothing was changed.
    """
    _refuse_unless_empty()
    with opened(path, what=WHAT, newest=FORMAT) as (archive, told):
        known = {everything.table_file(model) for model in everything.models()}
        tables = {name for name in told["files"] if name.startswith("tables/")}
        if newer := sorted(tables - known):
            raise Refused(
                gettext(
                    "This program does not know {newer}. Install the newer version first."
                ).format(newer=newer[0])
            )
        say(gettext("The file is whole. Bringing in its tables and files."))
        done = Brought(told["counts"])
        with _files_taken_back():
            for name, each in told["files"].items():
                if name.startswith(f"{FILES}/"):
                    target = Path(settings.MEDIA_ROOT) / name.removeprefix(f"{FILES}/")
                    unpack(archive, name, each, target)
                    done.files += 1
            try:
                with transaction.atomic():
                    _bring_tables(archive, tables)
            except IntegrityError as odd:
                raise Refused(
                    gettext("The tables do not fit together: {odd}").format(odd=odd)
                ) from odd
        _bring_beside(archive, told)
    say(gettext("Comparing, and reading every record."))
    _compare(done, told)
    _settle(done, at=at)
    return done


def _refuse_unless_empty() -> None:
    """The rule sheets, kinds and plans that come with the program may be there already."""
    if any(model.objects.exists() for model in (Depot, User, Record)):
        raise Refused(
            gettext(
                "There is something here already. Everything goes into an empty system only: set "
                "DATA_DIR to a new folder, or DATABASE_URL to a new database, and run manage.py "
                "migrate."
            )
        )
    media = Path(settings.MEDIA_ROOT)
    if media.is_dir() and any(each.is_file() for each in media.rglob("*")):
        raise Refused(
            gettext(
                "{media} holds files already. Everything goes into an empty system only."
            ).format(media=media)
        )


@contextmanager
def _files_taken_back() -> Iterator[None]:
    """No file was there before, so that what is there after a failure is ours to take away."""
    try:
        yield
    except BaseException:
        shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
        raise


def _bring_tables(archive: zipfile.ZipFile, tables: set[str]) -> None:
    here = everything.models()
    with connection.cursor() as cursor:
        for model in here:
            # What comes with the program comes with the archive too, under its own numbers.
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(model._meta.db_table)}")  # noqa: S608
    for model in here:
        if everything.table_file(model) not in tables:
            continue  # of an older program
        with _clocks_stopped(model):
            block: list[models.Model] = []
            for row in everything.read_table(archive, model):
                block.append(row)
                if len(block) == BATCH:
                    model._base_manager.bulk_create(block)
                    block = []
            model._base_manager.bulk_create(block)
    User.objects.update(password="!")  # noqa: S106 - Django's word for one that opens nothing
    connection.check_constraints()
    # Jobs of practice alone lie below nought, where no sequence can stand.
    none_real = not Job.objects.filter(pk__gt=0).exists()
    numbered = [model for model in here if not (model is Job and none_real)]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), numbered):
            cursor.execute(statement)


@contextmanager
def _clocks_stopped(model: type[models.Model]) -> Iterator[None]:
    """Moments of the last change come in as they were."""
    clocks = [one for one in model._meta.concrete_fields if getattr(one, "auto_now", False)]
    for one in clocks:
        one.auto_now = False  # type: ignore[attr-defined]
    try:
        yield
    finally:
        for one in clocks:
            one.auto_now = True  # type: ignore[attr-defined]


def _bring_beside(archive: zipfile.ZipFile, told: dict[str, Any]) -> None:
    signed_here = told["checkpoint_key"] in ("", public_key())
    for name, each in told["files"].items():
        folder, _, rest = name.partition("/")
        if folder in FOLDERS:
            target = Path(settings.DATA_DIR) / folder
            if folder == "checkpoints" and not signed_here:
                target /= "before"
            if not (target / rest).exists():
                unpack(archive, name, each, target / rest)


def _compare(done: Brought, told: dict[str, Any]) -> None:
    for model in everything.models():
        table = model._meta.db_table
        was, now = told["counts"].get(table, 0), model._base_manager.count()
        if was != now:
            done.unlike.append(
                gettext("{table}: {was} rows in the file, {now} here").format(
                    table=table, was=was, now=now
                )
            )
    if _heads() != told["chains"]:
        done.unlike.append(gettext("the heads of the chains are not those of the file"))
    if told["missing"]:
        done.notes.append(
            gettext(
                "Missing before the file was made already: {count} files, for example {missing}."
            ).format(count=len(told["missing"]), missing=told["missing"][0])
        )
    if told["checkpoint_key"] not in ("", public_key()):
        done.notes.append(
            gettext(
                "The key that signed the checkpoints is not "
                "here: they lie in checkpoints/before and "
                "count no more. Sign one now with manage.py checkpoint."
            )
        )


def _settle(done: Brought, *, at: datetime) -> None:
    again = [told["person"] for told in listed() if erase_again(told, at=at)]
    if again:
        done.notes.append(gettext("Erased again: {again}.").format(again=", ".join(again)))
    remove_left_files()
    done.records, done.chains, wrong = verify_all(at=at)
    done.unlike += wrong
    seniors = Membership.objects.filter(role=Role.ADMINISTRATOR, user__is_active=True)
    names = seniors.order_by("user__sign_in").values_list("user__sign_in", flat=True).distinct()
    done.notes.append(
        gettext(
            "Nobody has a password here. Give an administrator one with "
            "manage.py changepassword NAME ({names}); the others get a new "
            "sign-in from there."
        ).format(names=", ".join(names[:5]) or gettext("nobody is one"))
    )
