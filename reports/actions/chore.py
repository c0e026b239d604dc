"""The daily backup, the weekly rehearsal of a restore, and archives that people asked for.

A row is the promise; the timer makes one a turn, and any worker carries it out.
"""

import logging
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Max, Q
from django.utils.translation import gettext

from plant.actions.refusal import Refused
from plant.models import Chore, Depot, User
from plant.models.work import MOST_ATTEMPTS, BackgroundWork
from plant.rights import Right, depots_where
from reports.actions.archive import make_archive
from reports.actions.backup import Made, make_backup
from reports.actions.erasure import folder as erasures_folder
from reports.models import Erasure

log = logging.getLogger(__name__)
DAILY = "daily"
# By the clock of the first depot, when nobody works.
BACKUP_AT, REHEARSAL_AT, SUNDAY = time(2), time(3), 6
# A system that was just set up is left alone for a while.
FIRST_AFTER = {
    Chore.Kind.BACKUP: timedelta(hours=1),
    Chore.Kind.REHEARSAL: timedelta(hours=2),
}
# Longer than anything between two signs of life, so that nobody takes over from who is alive.
LEASE = timedelta(minutes=30)
SIGN_EVERY = timedelta(seconds=5)
AGAIN_AFTER = timedelta(hours=1)
# An archive lies ready for a week; rows of what was done are kept for two years.
ARCHIVE_KEPT = timedelta(days=7)
ROWS_KEPT = timedelta(days=730)
_TAIL = "%Y%m%dT%H%M%SZ"
# Within the time of its task.
REHEARSAL_LONGEST_S = 3000


def file_for(why: str, at: datetime) -> Path:
    return Path(settings.BACKUP_DIR) / f"{why}-{at.astimezone(UTC):{_TAIL}}.zip"


def prune(why: str) -> int:
    """Takes away all but the newest backups of this name; others' are left alone."""
    files = sorted(Path(settings.BACKUP_DIR).glob(f"{why}-*Z.zip"))
    gone = files[: -settings.BACKUPS_KEPT]
    for each in gone:
        each.unlink(missing_ok=True)
    return len(gone)


# --- Promised ----------------------------------------------------------------------------------
def promise(*, at: datetime) -> None:
    """The row of each turn that has come. Twice is harmless."""
    zone = _zone()
    day = at.astimezone(zone).date()
    night = _moment(day, BACKUP_AT, zone)
    if night > at:
        night = _moment(day - timedelta(days=1), BACKUP_AT, zone)
    sunday = day - timedelta(days=(day.weekday() - SUNDAY) % 7)
    week = _moment(sunday, REHEARSAL_AT, zone)
    if week > at:
        week = _moment(sunday - timedelta(days=7), REHEARSAL_AT, zone)
    for kind, turn in ((Chore.Kind.BACKUP, night), (Chore.Kind.REHEARSAL, week)):
        rows = Chore.objects.filter(kind=kind)
        newest = rows.order_by("-turn").values_list("turn", flat=True).first()
        if newest is not None and newest >= turn:
            continue
        not_before = at if newest else at + FIRST_AFTER[kind]
        row = Chore(kind=kind, turn=turn, asked_at=at, not_before=not_before)
        Chore.objects.bulk_create([row], ignore_conflicts=True)


def _zone() -> ZoneInfo:
    depot = Depot.objects.order_by("pk").first()
    return depot.zone if depot else ZoneInfo("UTC")


def _moment(day: Any, clock: time, zone: ZoneInfo) -> datetime:
    # An hour that the clock leaves out or has twice is the one before the change.
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)


@transaction.atomic
def ask_archive(*, by: User, at: datetime) -> Chore:
    """Everything as one file, made in the background; one that is under way is the answer.

    Raises:
        Refused: the person may not take out what every depot has.
    """
    refuse_archive(by)
    # Held until it stands there, so that of several who ask at once one begins it.
    list(Depot.objects.select_for_update().order_by("pk").values_list("pk")[:1])
    under_way: Chore | None = Chore.objects.filter(kind=Chore.Kind.ARCHIVE).open().first()
    return under_way or Chore.objects.create(
        kind=Chore.Kind.ARCHIVE, asked_at=at, asked_by=by, not_before=at
    )


def note_backup(made: Made) -> None:
    """A backup that somebody made by hand in the folder of backups counts like the daily one."""
    Chore.objects.create(
        kind=Chore.Kind.BACKUP, asked_at=made.made_at, not_before=made.made_at,
        began_at=made.made_at, state=BackgroundWork.State.DONE, **_told(made),
    )  # fmt: skip


def refuse_archive(by: User) -> None:
    """Raises: Refused: the person has not the right to it in each depot; it names none of them."""
    mine = depots_where(by, Right.TAKE_OUT)
    if not mine or Depot.objects.real().exclude(pk__in=mine).exists():
        raise Refused(
            gettext(
                "It holds every depot, so it is for who is "
                "manager or administrator of every depot. "
                "Ask your administrator."
            )
        )


def waiting(*, at: datetime) -> list[int]:
    """What is to be done now; what stopped three times is parked first.

    A rehearsal waits for a backup whose turn has come too, so that it is of the newest.
    """
    Chore.objects.park_hopeless(at)
    ripe = Chore.objects.filter(not_before__lte=at)
    rows = ripe.waiting(at).order_by("pk")
    if ripe.open().filter(kind=Chore.Kind.BACKUP).exists():
        rows = rows.exclude(kind=Chore.Kind.REHEARSAL)
    return list(rows.values_list("pk", flat=True))


# --- Carried out -------------------------------------------------------------------------------
def carry_out(pk: int, *, clock: Callable[[], datetime]) -> bool:
    """Does one row, if nobody else does.

    Returns:
        Whether it was done here and well. What failed is tried again in an hour, three times.
    """
    at = clock()
    row = Chore.objects.filter(pk=pk, not_before__lte=at).first()
    if row is None or not Chore.objects.claim(pk, at=at):
        return False
    mine = Chore.objects.filter(pk=pk, state=BackgroundWork.State.WORKING)
    mine.update(lease_until=at + LEASE, began_at=at, done=0, total=0)
    try:
        told = _DO[Chore.Kind(row.kind)](row, _Sign(pk, clock))
    except Exception as failed:
        # Whatever it is, it is told where people look, and tried again.
        log.exception("chore failed", extra={"row": pk, "kind": row.kind})
        is_said = isinstance(failed, Refused)
        row.refresh_from_db()
        last = row.attempts >= MOST_ATTEMPTS or row.kind == Chore.Kind.ARCHIVE
        mine.update(
            state=BackgroundWork.State.FAILED if last else BackgroundWork.State.ASKED,
            why=(str(failed) if is_said else f"It went wrong: {failed!r}")[:400],
            not_before=clock() + AGAIN_AFTER,
            lease_until=None,
            ended_at=clock(),
        )
        return False
    done = {"state": BackgroundWork.State.DONE, "ended_at": clock(), "why": "", "lease_until": None}
    mine.update(**done | told)
    return True


class _Sign:
    """A sign of life: how far it is, and that nobody need take over."""

    def __init__(self, pk: int, clock: Callable[[], datetime]) -> None:
        self.pk, self.clock, self.last = pk, clock, clock()

    def __call__(self, done: int, total: int) -> None:
        now = self.clock()
        if now - self.last >= SIGN_EVERY:
            self.last = now
            # By a line of its own: the caller may be reading the database as of one moment.
            own = connection if connection.in_atomic_block else connection.copy()
            with own.cursor() as cursor:
                cursor.execute(
                    f"UPDATE {Chore._meta.db_table} SET done = %s, total = %s, lease_until = %s "  # noqa: S608
                    "WHERE id = %s",
                    [done, total, own.ops.adapt_datetimefield_value(now + LEASE), self.pk],
                )
            if own is not connection:
                own.close()


def _back_up(row: Chore, sign: _Sign) -> dict[str, Any]:
    at = sign.clock()
    made = make_backup(file_for(DAILY, at), at=at, tick=sign)
    prune(DAILY)
    return _told(made)


def _told(made: Made) -> dict[str, Any]:
    records = sum(seq for seq, _ in made.chains.values())
    told = gettext("{records} sealed records, {sum} rows.").format(
        records=records, sum=sum(made.counts.values())
    )
    if made.missing:
        told += gettext(
            " {count} files that the database names are not on the disk, for example {missing}."
        ).format(count=len(made.missing), missing=made.missing[0][:80])
    return {
        "file": str(made.path), "size": made.size, "held": made.held, "told": told,
        "ended_at": made.made_at,
    }  # fmt: skip


def _rehearse(row: Chore, sign: _Sign) -> dict[str, Any]:
    """Restores the newest backup into a scratch place by the command that people use."""
    backups = sorted(
        Path(settings.BACKUP_DIR).glob("*Z.zip"), key=lambda each: each.name.rsplit("-", 1)[-1]
    )
    if not backups:
        raise Refused(
            gettext("There is no backup in {backup_dir} to rehearse with.").format(
                backup_dir=settings.BACKUP_DIR
            )
        )
    newest = backups[-1]
    scratch = Path(settings.DATA_DIR) / f".rehearsal-{row.pk}"
    shutil.rmtree(scratch, ignore_errors=True)
    scratch.mkdir(mode=0o700)
    try:
        if erasures_folder().is_dir():
            shutil.copytree(erasures_folder(), scratch / "erasures")
        with _scratch_database() as address:
            words = _restore_there(newest, scratch, address, sign)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    return {"file": str(newest), "size": newest.stat().st_size, "told": words}


def _restore_there(file: Path, scratch: Path, address: str, sign: _Sign) -> str:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "plant.config.settings",
        "DATA_DIR": str(scratch),
        "DATABASE_URL": address,
        "BROKER_URL": "filesystem://",
        "SECRET_KEY": settings.SECRET_KEY,
        "CHECKPOINT_KEY": str(settings.CHECKPOINT_KEY),
        "MAIL_URL": "",
        "LOG_LEVEL": "ERROR",
    }
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "restore", str(file)]
    log_file = scratch / "said"
    with log_file.open("w") as said:
        run = subprocess.Popen(  # noqa: S603
            command, env=environment, cwd=settings.BASE_DIR, stdout=said, stderr=said
        )
        began = sign.clock()
        try:
            while run.poll() is None:
                try:
                    run.wait(1)
                except subprocess.TimeoutExpired:
                    sign(0, 0)
                if (sign.clock() - began).total_seconds() > REHEARSAL_LONGEST_S:
                    raise Refused(
                        gettext("The rehearsal took too long. Restore by hand to see why.")
                    )
        finally:
            run.kill()
            run.wait()
    lines = [line for line in log_file.read_text().splitlines() if line.strip()]
    last = lines[-1] if lines else gettext("nothing was said")
    if run.returncode:
        raise Refused(
            gettext("{file} could not be restored: {removeprefix}").format(
                file=file.name, removeprefix=last.removeprefix("CommandError: ")
            )
        )
    took = round((sign.clock() - began).total_seconds())
    return gettext("{file} restored in {took} s into a scratch place. {partition}.").format(
        file=file.name, took=took, partition=last.partition(". ")[0]
    )


def _take_out(row: Chore, sign: _Sign) -> dict[str, Any]:
    at = sign.clock()
    # Two asked for in one second never meet under one name, and one begun again after a kill
    # leaves nothing of the first behind.
    place, mine = Path(settings.DATA_DIR) / "archives", f"-{row.pk}.zip"
    for earlier in place.glob(f"*{mine}"):
        earlier.unlink()
    path = place / f"everything-{at.astimezone(UTC):{_TAIL}}{mine}"
    taken = make_archive(path, at=at, tick=sign)
    records = sum(seq for seq, _ in taken.chains.values())
    told = gettext("{sum} rows in {count} tables, {records} records.").format(
        sum=sum(taken.counts.values()), count=len(taken.counts), records=records
    )
    if taken.missing:
        told += gettext(" {count} files are missing, for example {missing}.").format(
            count=len(taken.missing), missing=taken.missing[0][:80]
        )
    return {"file": str(path), "size": taken.size, "told": told}


class _scratch_database:  # noqa: N801 - used as a function
    """The address of a database for the rehearsal; the embedded one needs none.

    Raises:
        Refused: the account may not make one.
    """

    def __enter__(self) -> str:
        if connection.vendor == "sqlite":
            return ""
        given = connection.settings_dict
        self.name = f"{given['NAME']}_rehearsal"
        self._run(f"DROP DATABASE IF EXISTS {connection.ops.quote_name(self.name)}")
        self._run(f"CREATE DATABASE {connection.ops.quote_name(self.name)}")
        user, password = quote(given["USER"], safe=""), quote(given["PASSWORD"] or "", safe="")
        port = f":{given['PORT']}" if given["PORT"] else ""
        host = quote(given["HOST"], safe="")
        return f"postgresql://{user}:{password}@{host}{port}/{quote(self.name, safe='')}"

    def __exit__(self, *odd: object) -> None:
        if connection.vendor != "sqlite":
            self._run(f"DROP DATABASE IF EXISTS {connection.ops.quote_name(self.name)}")

    def _run(self, statement: str) -> None:
        own = connection.copy()
        try:
            with own.cursor() as cursor:
                cursor.execute(statement)
        except Exception as refused:
            raise Refused(
                gettext(
                    "The rehearsal needs a scratch database, and the account of the "
                    "database may not make one: {splitlines}. Let it: ALTER ROLE … "
                    "CREATEDB."
                ).format(splitlines=str(refused).splitlines()[0])
            ) from refused
        finally:
            own.close()


# --- Cleared away ------------------------------------------------------------------------------
def clear_old(*, at: datetime) -> None:
    """Archives a week old, and what a killed run left behind. Twice is harmless."""
    ready = Chore.objects.filter(kind=Chore.Kind.ARCHIVE, state=BackgroundWork.State.DONE).exclude(
        file=""
    )
    old = Q(ended_at__lt=at - ARCHIVE_KEPT)
    # One that was made before somebody was erased holds the name still.
    if erased := Erasure.objects.aggregate(at=Max("done_at"))["at"]:
        old |= Q(began_at__lte=erased)
    for row in ready.filter(old):
        Path(row.file).unlink(missing_ok=True)
        Chore.objects.filter(pk=row.pk).update(file="")
    Chore.objects.filter(asked_at__lt=at - ROWS_KEPT).exclude(state__in=Chore.OPEN).delete()
    for left in Path(settings.DATA_DIR).glob(".backup-*"):
        if at.timestamp() - left.stat().st_mtime > LEASE.total_seconds() * 4:
            shutil.rmtree(left, ignore_errors=True)


_DO: dict[Chore.Kind, Callable[[Chore, _Sign], dict[str, Any]]] = {
    Chore.Kind.BACKUP: _back_up,
    Chore.Kind.REHEARSAL: _rehearse,
    Chore.Kind.ARCHIVE: _take_out,
}
