"""One file with everything: the database as of one moment, photos, paper, checkpoints, erasures.

Any damage of it is found before anything is restored; keep it where only you can write. The keys
of the site are not inside unless it is asked: who finds a backup cannot sign with them.
"""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import tempfile
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from time import monotonic
from typing import IO, Any
from urllib.parse import quote

from django.apps import apps
from django.conf import settings
from django.db import connection, models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext

from plant.actions.refusal import Refused
from plant.contents import checkpoint
from plant.moment import columns, one_moment, tables
from plant.sealed_zip import Writer, put_in_place
from plant.sealing import moment
from plant.security_log import note

FORMAT = 1
WHAT = "backup of a site plant system"
# A file that is gone at two backups in a row was gone before.
MOST_TRIES = 3
DATABASES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
SECRET_KEY, CHECKPOINT_KEY = "keys/secret_key", "keys/checkpoint.key"
# Folders of DATA_DIR that go along, beside the files that the database names.
FOLDERS = ("checkpoints", "erasures")


@dataclass
class Made:
    """A backup as it was written. missing: files that the database names and nobody has."""

    path: Path
    made_at: datetime
    size: int
    held: int
    counts: dict[str, int]
    chains: dict[str, list[Any]]
    missing: list[str]


@dataclass
class Facts:
    """What the snapshot holds."""

    counts: dict[str, int] = field(default_factory=dict)
    chains: dict[str, list[Any]] = field(default_factory=dict)
    schema: dict[str, list[str]] = field(default_factory=dict)
    files: set[str] = field(default_factory=set)


def make_backup(
    path: Path,
    *,
    at: datetime,
    with_keys: bool = False,
    tick: Callable[[int, int], None] = lambda done, total: None,
) -> Made:
    """Writes everything into one new file, readable by its owner alone. Others may go on writing.

    Args:
        with_keys: also the two keys of the site. Then the file opens everything.
        tick: told how many bytes are written, and of how many, from time to time.

    Raises:
        Refused: the file is there already, cannot be written, or a program that it needs is not
            there or says no. Nothing is left behind.
    """
    if path.exists():
        raise Refused(
            gettext("{path} is there already. Nothing was written over it.").format(path=path)
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with _scratch() as scratch, put_in_place(path) as file:
            made = _write(path, file, scratch, at=at, with_keys=with_keys, tick=tick)
        note("backup made", file=path.name, with_keys=with_keys)
        return made
    except OSError as full:
        raise Refused(
            gettext("The backup was not written: {full}. Nothing was changed.").format(full=full)
        ) from full


def fingerprint() -> str:
    """Tells whether two systems have the same secret key, and nothing else of it."""
    return salted_hmac("which key", "backup", algorithm="sha256").hexdigest()[:32]


def public_key() -> str:
    """The public half of the key that signs checkpoints; empty before there is one."""
    key = checkpoint.key()
    return key.public_key().public_bytes_raw().hex() if key else ""


def program_version() -> str:
    try:
        return version("siteplant")
    except PackageNotFoundError:
        return "unknown"


def facts(db: BaseDatabaseWrapper) -> Facts:
    """What a database holds: rows a table, heads of the chains, steps of the schema, its files."""
    found = Facts()
    here = tables(db)
    with db.cursor() as cursor:
        for table in here:
            cursor.execute(f"SELECT COUNT(*) FROM {db.ops.quote_name(table)}")  # noqa: S608
            found.counts[table] = cursor.fetchone()[0]
        if "plant_chain" in here:
            cursor.execute(
                "SELECT d.code, c.head_seq, c.head_hash FROM plant_chain c "
                "JOIN plant_depot d ON d.id = c.depot_id ORDER BY d.code"
            )
            found.chains = {code: [seq, digest] for code, seq, digest in cursor.fetchall()}
        if "django_migrations" in here:
            cursor.execute("SELECT app, name FROM django_migrations ORDER BY app, name")
            for app, name in cursor.fetchall():
                found.schema.setdefault(app, []).append(name)
        found.files = set(_named_files(db, here))
    return found


def _named_files(db: BaseDatabaseWrapper, here: Collection[str]) -> Iterator[str]:
    """Every file that a row names. The schema may be older than the program."""
    quoted = db.ops.quote_name
    for model in apps.get_models():
        fields = [f for f in model._meta.concrete_fields if isinstance(f, models.FileField)]
        table = model._meta.db_table
        there = columns(db, table) if fields and table in here else set()
        for column in (one.column for one in fields if one.column in there):
            name = quoted(column)
            with db.cursor() as cursor:
                cursor.execute(f"SELECT {name} FROM {quoted(table)} WHERE {name} <> ''")  # noqa: S608
                yield from (row[0] for row in cursor.fetchall())


@contextlib.contextmanager
def _scratch() -> Iterator[Path]:
    """A folder beside the data, on the same disk, so that files can be held there by a link."""
    folder = Path(tempfile.mkdtemp(prefix=".backup-", dir=settings.DATA_DIR))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _write(
    path: Path,
    file: IO[bytes],
    scratch: Path,
    *,
    at: datetime,
    with_keys: bool,
    tick: Callable[[int, int], None],
) -> Made:
    snapshot, found, missing = _held_still(scratch)
    parts = {DATABASES[connection.vendor]: snapshot}
    parts |= {f"media/{one}": scratch / "media" / one for one in sorted(found.files - {*missing})}
    parts |= beside()
    total = sum(each.stat().st_size for each in parts.values())
    done = 0

    def told(size: int) -> None:
        nonlocal done
        done += size
        tick(done, total)

    writer = Writer(file, at=at)
    for name, each in parts.items():
        # A dump of PostgreSQL is squeezed already, as are photos and paper.
        squeeze = each is snapshot and connection.vendor == "sqlite"
        writer.add_file(name, each, squeeze=squeeze, tick=told)
    for name, key in _keys().items() if with_keys else ():
        writer.add(name, [key], squeeze=False)
    size = writer.finish(
        {
            "what": WHAT,
            "format": FORMAT,
            "made_at": moment(at),
            "version": program_version(),
            "engine": connection.vendor,
            "schema": found.schema,
            "counts": found.counts,
            "chains": found.chains,
            "secret_key": fingerprint(),
            "checkpoint_key": public_key(),
            "missing": missing,
        }
    )
    return Made(path, at, size, total, found.counts, found.chains, missing)


def beside() -> dict[str, Path]:
    """What lies in DATA_DIR beside the files that the database names, and goes along."""
    data = Path(settings.DATA_DIR)
    return {
        f"{folder}/{each.name}": each
        for folder in FOLDERS
        for each in sorted((data / folder).glob("*.json"))
    }


def _keys() -> dict[str, bytes]:
    found = {SECRET_KEY: settings.SECRET_KEY.encode()}
    if (path := Path(settings.CHECKPOINT_KEY)).exists():
        found[CHECKPOINT_KEY] = path.read_bytes()
    return found


def _held_still(scratch: Path) -> tuple[Path, Facts, list[str]]:
    """The snapshot, what is in it, and by links every file that it names.

    A file that a row names is removed only after the row has let go of it. So what is linked
    before the snapshot cannot be lost to it, and what came meanwhile is linked after it; what was
    made and removed within that blink is asked for by another snapshot.
    """
    before: set[str] = set()
    for _ in range(MOST_TRIES):
        with one_moment():
            _link(set(_named_files(connection, tables(connection))), scratch / "media")
        snapshot, found = _snapshot(scratch)
        missing = _link(found.files, scratch / "media")
        if not missing - before:
            break
        before = missing
    return snapshot, found, sorted(missing)


def _link(names: set[str], folder: Path) -> set[str]:
    """Holds the files by a second name; returns those that are not there."""
    missing = set()
    root = Path(settings.MEDIA_ROOT)
    for name in names:
        held = folder / name
        if held.exists():
            continue
        held.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.link(root / name, held)
        except FileNotFoundError:
            missing.add(name)
        except OSError:
            # Another disk, or one that knows no second names.
            try:
                shutil.copyfile(root / name, held)
            except FileNotFoundError:
                missing.add(name)
    return missing


# --- The database ----------------------------------------------------------------------------
def _snapshot(scratch: Path) -> tuple[Path, Facts]:
    path = scratch / DATABASES[connection.vendor]
    path.unlink(missing_ok=True)
    if connection.vendor == "sqlite":
        # By a line of its own, all pages in one step: of one moment, and no writer waits.
        own = sqlite3.connect(
            f"file:{quote(str(connection.settings_dict['NAME']))}?mode=rw", uri=True
        )
        with contextlib.closing(own), contextlib.closing(sqlite3.connect(path)) as copy:
            own.backup(copy, progress=_Patience())
            copy.execute("PRAGMA journal_mode=DELETE")
        looked_at = connection.copy()
        looked_at.settings_dict["NAME"] = str(path)
        looked_at.settings_dict["OPTIONS"] = {}
        with contextlib.closing(looked_at):
            return path, facts(looked_at)
    with one_moment():
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_export_snapshot()")
            snapshot = cursor.fetchone()[0]
        found = facts(connection)
        dumped = ["--format=custom", "--no-owner", "--no-privileges", f"--snapshot={snapshot}"]
        run_client("pg_dump", [*dumped, f"--file={path}"])
    return path, found


class _Patience:
    """Gives up after a minute of a database that lets nobody read, which is tried for ever else."""

    def __init__(self) -> None:
        self.until = monotonic() + 60

    def __call__(self, status: int, remaining: int, total: int) -> None:
        if remaining and monotonic() > self.until:
            raise Refused(gettext("The database let nobody read it for a minute. Try again."))


def run_client(program: str, options: list[str], *, database: str = "") -> None:
    """Runs a client program of PostgreSQL on our database, its password not on the command line.

    Raises:
        Refused: it is not installed, or it says no.
    """
    if shutil.which(program) is None:
        raise Refused(
            gettext(
                "{program} is not on this computer. Install the client programs of "
                "PostgreSQL, of the server's version or newer."
            ).format(program=program)
        )
    given = connection.settings_dict
    command = [program, "--no-password", f"--dbname={database or given['NAME']}", *options]
    for option, name in (("host", "HOST"), ("port", "PORT"), ("username", "USER")):
        if given[name]:
            command.append(f"--{option}={given[name]}")
    environment = {**os.environ, "PGPASSWORD": given["PASSWORD"] or ""}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode:
        said = done.stderr.strip().splitlines()
        raise Refused(
            gettext("{program} says: {said}").format(
                program=program, said=said[0] if said else "nothing"
            )
        )
