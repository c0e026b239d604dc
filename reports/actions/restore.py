"""A backup put into an empty place: checked whole first, then placed, brought up to date, read.

Whatever is wrong is found before anything is placed, and what was there stays.
"""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from plant.actions.erase import remove_left_files
from plant.actions.refusal import Refused
from plant.models import Chore, Heartbeat
from plant.moment import tables
from plant.sealed_zip import opened, unpack
from reports.actions.backup import (
    CHECKPOINT_KEY,
    DATABASES,
    FOLDERS,
    FORMAT,
    SECRET_KEY,
    WHAT,
    facts,
    fingerprint,
    public_key,
    run_client,
)
from reports.actions.erasure import erase_again, listed
from reports.actions.verify import verify_all


@dataclass
class Restored:
    """What came of it. unlike: what does not compare; chains: a line for each depot."""

    manifest: dict[str, Any]
    records: int = 0
    rows: int = 0
    files: int = 0
    unlike: list[str] = field(default_factory=list)
    chains: list[str] = field(default_factory=list)
    erased_again: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def restore(
    path: Path,
    *,
    at: datetime,
    new_keys: bool = False,
    say: Callable[[str], None] = lambda words: None,
) -> Restored:
    """Puts a backup into this place, which holds nothing yet.

    Args:
        new_keys: go on although the keys of the site are lost; what that costs is told.

    Raises:
        Refused: the place is not empty, the file is damaged, of a newer program or of another
            database, or the keys are others. Nothing was changed.
    """
    _refuse_unless_empty()
    with opened(path, what=WHAT, newest=FORMAT) as (archive, manifest):
        _refuse_unfit(manifest)
        own_keys = _check_keys(manifest, new_keys=new_keys)
        with _scratch() as scratch:
            say(_("The file is whole. Reading what is in it."))
            for name, told in manifest["files"].items():
                unpack(archive, name, told, scratch / name)
            with _taken_back_on_failure():
                _place(scratch, manifest)
    done = Restored(manifest, files=len(manifest["files"]))
    if own_keys:
        done.notes.append(own_keys)
    if SECRET_KEY in manifest["files"] and os.environ.get("SECRET_KEY"):
        done.notes.append(
            _(
                "The secret key came with the backup, into {data_dir}/secret_key. "
                "The variable SECRET_KEY is set and goes before it: unset it, or "
                "set it to that."
            ).format(data_dir=settings.DATA_DIR)
        )
    say(_("The data are in place. Comparing them with the backup's own list."))
    _compare(done)
    say(_("Bringing the database up to this program, and reading every record."))
    _settle(done, at=at)
    return done


# --- Before anything is placed ---------------------------------------------------------------
def _refuse_unless_empty() -> None:
    """Keys, lists of erasures, backups and the queue may be there; data may not."""
    media = Path(settings.MEDIA_ROOT)
    if media.is_dir() and any(each.is_file() for each in media.rglob("*")):
        raise Refused(
            _("{media} holds files already. A backup goes into an empty place only.").format(
                media=media
            )
        )
    if any((Path(settings.DATA_DIR) / "checkpoints").glob("*")):
        raise Refused(
            _("There are checkpoints here already. A backup goes into an empty place only.")
        )
    if connection.vendor == "sqlite" and not Path(connection.settings_dict["NAME"]).exists():
        return  # not even looked at, since looking makes one
    if tables(connection):
        raise Refused(
            _(
                "The database here holds tables already. A "
                "backup goes into an empty place only: set "
                "DATA_DIR to a new folder, or DATABASE_URL to a new database."
            )
        )


def _refuse_unfit(manifest: dict[str, Any]) -> None:
    if manifest["engine"] != connection.vendor:
        raise Refused(
            _(
                "This backup is of {engine}, and the database here is {vendor}. "
                "Restore it where it came from, then take everything along with "
                "manage.py export_all and import_all. Nothing was changed."
            ).format(engine=manifest["engine"], vendor=connection.vendor)
        )
    loader = MigrationLoader(None)
    known = set(loader.disk_migrations)
    known |= {each for one in loader.disk_migrations.values() for each in one.replaces}
    steps = {(app, name) for app, names in manifest["schema"].items() for name in names}
    if newer := sorted(steps - known):
        raise Refused(
            _(
                "This backup was made by a newer program ({version}; it knows "
                "{count} {things}). Install that version first. Nothing was "
                "changed."
            ).format(version=manifest["version"], count=newer[0][0], things=newer[0][1])
        )


def _check_keys(manifest: dict[str, Any], *, new_keys: bool) -> str:
    """Whether the keys of the site are those of the backup, or in it.

    Returns:
        What going on without them costs; empty where nothing is lost.
    """
    lost = []
    if SECRET_KEY not in manifest["files"] and manifest["secret_key"] != fingerprint():
        lost.append(_("secret_key (SECRET_KEY)"))
    signed = manifest["checkpoint_key"]
    if signed and CHECKPOINT_KEY not in manifest["files"] and signed != public_key():
        lost.append(
            _("checkpoint.key ({checkpoint_key})").format(checkpoint_key=settings.CHECKPOINT_KEY)
        )
    if lost and not new_keys:
        raise Refused(
            _(
                "Not here: {lost} of the system that was backed up. Put the kept "
                "keys in place, in {data_dir}, and start again. If they are lost "
                "for good, add --new-keys: links in mails, calendars and on phones "
                "then end, people who were erased since are not told apart, and "
                "checkpoints signed before count no more. Nothing was changed."
            ).format(lost=" and ".join(lost), data_dir=settings.DATA_DIR)
        )
    if not lost:
        return ""
    return _(
        "Without {lost}: links sent before are dead, addresses for mail "
        "are proved again, and who was erased since the backup is erased "
        "by hand (see the page Erasures). Checkpoints signed before lie in "
        "checkpoints/before; sign one now with manage.py checkpoint."
    ).format(lost=" and ".join(lost))


@contextlib.contextmanager
def _scratch() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix=".restore-", dir=settings.DATA_DIR))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


# --- Placing ---------------------------------------------------------------------------------
@contextlib.contextmanager
def _taken_back_on_failure() -> Iterator[None]:
    """The place was empty, so that what is there after a failure is ours to take away."""
    try:
        yield
    except BaseException:
        for name in ("checkpoints", "media"):
            shutil.rmtree(Path(settings.DATA_DIR) / name, ignore_errors=True)
        if connection.vendor == "sqlite":
            _remove_sqlite()
        raise


def _place(scratch: Path, manifest: dict[str, Any]) -> None:
    data = Path(settings.DATA_DIR)
    held = scratch / "media"
    held.mkdir(exist_ok=True)
    media = Path(settings.MEDIA_ROOT)
    shutil.rmtree(media, ignore_errors=True)  # empty folders alone
    shutil.move(held, media)
    for folder in FOLDERS:
        for each in sorted((scratch / folder).glob("*.json")):
            target = data / folder
            if folder == "checkpoints" and _is_foreign(manifest):
                target = target / "before"
            target.mkdir(parents=True, exist_ok=True, mode=0o700)
            # A list of erasures that was put here first is newer.
            if not (target / each.name).exists():
                shutil.move(each, target / each.name)
    for name, path in (
        (SECRET_KEY, data / "secret_key"),
        (CHECKPOINT_KEY, Path(settings.CHECKPOINT_KEY)),
    ):
        if (scratch / name).exists():
            if path.exists() and path.read_bytes() != (scratch / name).read_bytes():
                path.rename(path.with_name(f"{path.name}.before-restore"))
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            shutil.move(scratch / name, path)
            if name == SECRET_KEY:
                settings.SECRET_KEY = path.read_text(encoding="ascii")
    database = scratch / DATABASES[connection.vendor]
    if connection.vendor == "sqlite":
        _remove_sqlite()
        shutil.move(database, connection.settings_dict["NAME"])
    else:
        # All or nothing; the schema itself is there in every database.
        run_client(
            "pg_restore",
            ["--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges",
             str(database)],
        )  # fmt: skip


def _is_foreign(manifest: dict[str, Any]) -> bool:
    """Whether the checkpoints were signed with a key that is not here."""
    return CHECKPOINT_KEY not in manifest["files"] and manifest["checkpoint_key"] != public_key()


def _remove_sqlite() -> None:
    connection.close()
    for tail in ("", "-wal", "-shm"):
        Path(f"{connection.settings_dict['NAME']}{tail}").unlink(missing_ok=True)


# --- After it is placed ----------------------------------------------------------------------
def _compare(done: Restored) -> None:
    """Rows of each table and heads of the chains, against what the backup says of itself."""
    here, told = facts(connection), done.manifest
    done.rows = sum(here.counts.values())
    for table in sorted(here.counts.keys() | told["counts"].keys()):
        was, now = told["counts"].get(table), here.counts.get(table)
        if was != now:
            done.unlike.append(
                _("{table}: {was} rows in the backup, {now} here").format(
                    table=table, was=was, now=now
                )
            )
    if here.chains != told["chains"]:
        done.unlike.append(_("the heads of the chains are not those of the backup"))
    missing = here.files - {name.removeprefix("media/") for name in told["files"]}
    if lost := sorted(missing & set(told["missing"])):
        done.notes.append(
            _(
                "Missing before the backup was made already: {count} files, for example {lost}."
            ).format(count=len(lost), lost=lost[0])
        )
    if lost := sorted(missing - set(told["missing"])):
        done.unlike.append(_("files are missing: {lost}").format(lost=", ".join(lost[:3])))


def _settle(done: Restored, *, at: datetime) -> None:
    call_command("migrate", verbosity=0, interactive=False)
    # Who was signed out since would be in again; and what the old place did tells nothing of here.
    Session.objects.all().delete()
    Chore.objects.all().delete()
    Heartbeat.objects.all().delete()
    done.erased_again = [told["person"] for told in listed() if erase_again(told, at=at)]
    remove_left_files()
    done.records, done.chains, wrong = verify_all(at=at)
    done.unlike += wrong
