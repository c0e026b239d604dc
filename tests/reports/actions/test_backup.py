"""A backup made while others write, put into an empty place by the real command, and compared."""

import hashlib
import os
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as live
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, transaction
from django.utils.timezone import now
from hypothesis import given, settings
from hypothesis import strategies as st

from addresses import make_world
from elsewhere import empty_database, run
from maintenance.actions.reference import load_reference
from plant.actions.checkpoint import sign_chains
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Chore, Depot, Record, RecordPhoto, Role, User
from plant.sealed_zip import opened
from reports.actions import chore
from reports.actions import restore as restoring
from reports.actions.backup import WHAT, Made, facts, make_backup
from reports.actions.sheet import ask_sheets, print_batch
from reports.models import Sheet

ROOT = Path(__file__).parents[3]
TAIL = 64


@pytest.fixture
def place(tmp_path: Path, settings: Any) -> Path:
    """A data folder of this test's own."""
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "media"
    settings.BACKUP_DIR = settings.DATA_DIR / "backups"
    settings.CHECKPOINT_KEY = tmp_path / "apart.key"
    settings.DATA_DIR.mkdir()
    return tmp_path


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 30
    while not true():
        assert time.monotonic() < end, "nobody wrote"
        time.sleep(0.01)


@contextmanager
def writing(depot: Depot, by: User) -> Iterator[list[int]]:
    """Somebody who seals records with photos, one after the other, until the end."""
    sealed: list[int] = []
    stop = threading.Event()

    def go() -> None:
        try:
            while not stop.is_set():
                at = now()
                with transaction.atomic():
                    record = seal(
                        kind=Record.Kind.FAULT, depot=depot, data={"no": str(len(sealed))},
                        happened_at=at, received_at=at, by=by, role="operator",
                        texts={"note": "Meanwhile"}, photos={"one": os.urandom(2000)},
                    )  # fmt: skip
                sealed.append(record.seq)
        finally:
            connection.close()

    thread = threading.Thread(target=go)
    thread.start()
    try:
        yield sealed
    finally:
        stop.set()
        thread.join()


def restored_facts(data: Path, name: str) -> Any:
    other = connection.copy()
    if connection.vendor == "sqlite":
        other.settings_dict["NAME"] = str(data / "plant.sqlite3")
    else:
        other.settings_dict["NAME"] = name
    try:
        return facts(other)
    finally:
        other.close()


def test_what_was_backed_up_while_others_wrote_comes_back_whole(
    transactional_db: None, place: Path
) -> None:
    load_reference()
    world = make_world(code="ours", marker="quolm", at=now())
    for _ in range(2):
        foreman = world.people[Role.FOREMAN]
        asked = ask_sheets(depot=world.depot, machines=[world.machine], by=foreman, at=now())
        print_batch(asked.pk, clock=now, until=now() + timedelta(minutes=1))
    sign_chains(at=now())
    with writing(world.depot, world.people["operator"]) as sealed:
        until(lambda: len(sealed) >= 3)
        acknowledged = sealed[-1]
        made = make_backup(place / "one.zip", at=now())
        until(lambda: sealed[-1] > made.chains["ours"][0])
    # The proof that somebody wrote meanwhile, and that the file is of one moment of it.
    assert acknowledged <= made.chains["ours"][0] < sealed[-1]
    assert made.missing == []
    assert (place / "one.zip").stat().st_mode & 0o777 == 0o600
    with zipfile.ZipFile(place / "one.zip") as plain:
        assert plain.testzip() is None  # any program that knows the format opens it
        held = set(plain.namelist())
        assert not {name for name in held if "key" in name}

    there = place / "there"
    with empty_database("test_restored_here") as database:
        done = run("restore", str(place / "one.zip"), data=there, database=database)
        assert done.returncode == 0, done.stderr
        assert f"ours: {made.chains['ours'][0]} records" in done.stdout
        assert "all as sealed" in done.stdout
        found = restored_facts(there, "test_restored_here")
        assert found.chains == {code: made.chains[code] for code in made.chains}
        gone = {"django_session", "plant_chore", "plant_heartbeat", "plant_chaincheck"}
        assert {t: n for t, n in found.counts.items() if t not in gone} == {
            t: n for t, n in made.counts.items() if t not in gone
        }
        # Bytes of three sheets, and of every photo that the restored rows name.
        sheets = list(Sheet.objects.exclude(file="").order_by("pk")[:3])
        assert len(sheets) == 3
        for sheet in sheets:
            same = (there / "media" / sheet.file.name).read_bytes()
            assert hashlib.sha256(same).hexdigest() == sheet.sha256
        photos = RecordPhoto.objects.filter(record__seq__lte=made.chains["ours"][0])
        assert photos.count() > 3
        assert all((there / "media" / photo.file.name).exists() for photo in photos)
        # A place that holds something is no place for a backup.
        again = run("restore", str(place / "one.zip"), data=there, database=database)
        assert (again.returncode, "empty place" in again.stderr) == (1, True)
        assert restored_facts(there, "test_restored_here").chains == found.chains

    _rehearsed(place)


def _rehearsed(place: Path) -> None:
    """The timer's own way: a backup, and its rehearsal in a scratch place that goes."""
    chore.promise(at=now())
    chore.promise(at=now())
    backup, rehearsal = Chore.objects.order_by("kind")
    assert chore.waiting(at=now()) == []  # a new system is left alone for an hour
    later = now() + timedelta(hours=3)
    for row in (backup, rehearsal):  # the rehearsal is of the backup of that night
        assert chore.waiting(at=later) == [row.pk]
        assert chore.carry_out(row.pk, clock=lambda: later), row.why
        row.refresh_from_db()
        assert (row.state, row.why) == ("done", "")
    assert Path(backup.file).stat().st_size == backup.size
    assert "restored in" in rehearsal.told
    assert "all as they were backed up" in rehearsal.told
    assert [each.name for each in live.DATA_DIR.glob(".*")] == []
    # A backup that is damaged fails its rehearsal, and says so.
    whole = bytearray(Path(backup.file).read_bytes())
    whole[len(whole) // 2] ^= 1
    Path(backup.file).write_bytes(whole)
    rehearsal.state, rehearsal.attempts = "asked", 0
    rehearsal.save()
    assert not chore.carry_out(rehearsal.pk, clock=lambda: later)
    rehearsal.refresh_from_db()
    assert rehearsal.state == "asked"  # tried again in an hour
    assert "damaged" in rehearsal.why
    assert chore.waiting(at=later) == []


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of hardly anything, for damaging it."""
    return tmp_path_factory.mktemp("small") / "small.zip"


@pytest.mark.embedded
def test_one_flipped_bit_anywhere_is_refused(
    transactional_db: None, depot: Depot, place: Path, small: Path
) -> None:
    made = make_backup(small, at=now())
    whole = small.read_bytes()
    assert made.size == len(whole)
    with opened(small, what=WHAT, newest=1) as (_, told):
        assert told["counts"]["plant_depot"] == 1
    hurt = small.with_name("hurt.zip")
    edges = st.integers(0, 400) | st.integers(len(whole) - 400, len(whole) - 1)

    def refused(data: bytes) -> None:
        hurt.write_bytes(data)
        with pytest.raises(Refused, match="damaged"), opened(hurt, what=WHAT, newest=1):
            pass

    @settings(max_examples=300)
    @given(at=edges | st.integers(0, len(whole) - 1), bit=st.integers(0, 7))
    def flipped(at: int, bit: int) -> None:
        data = bytearray(whole)
        data[at] ^= 1 << bit
        refused(bytes(data))

    flipped()
    for data in (b"", whole[:100], whole[:-1], whole + b"\n", whole[: len(whole) // 2]):
        refused(data)


def test_what_does_not_fit_is_refused_and_leaves_what_was_there(
    transactional_db: None, depot: Depot, place: Path
) -> None:
    made = make_backup(place / "one.zip", at=now())
    with pytest.raises(Refused, match="is there already"):
        make_backup(place / "one.zip", at=now())
    with opened(made.path, what=WHAT, newest=1) as (_, told):
        restoring._refuse_unfit(told)
        newer = {**told, "schema": {**told["schema"], "plant": ["9999_from_tomorrow"]}}
        for odd, words in (
            (newer, "newer program"),
            ({**told, "engine": "another"}, "export_all"),
        ):
            with pytest.raises(Refused, match=words):
                restoring._refuse_unfit(odd)
        with pytest.raises(Refused, match="Put the kept keys in place"):
            restoring._check_keys({**told, "secret_key": "another"}, new_keys=False)
        assert "are dead" in restoring._check_keys({**told, "secret_key": "x"}, new_keys=True)
    hurt = bytearray(made.path.read_bytes())
    hurt[1000] ^= 4
    (place / "hurt.zip").write_bytes(hurt)
    there = place / "there"
    there.mkdir()
    (there / "kept").write_text("mine")
    done = run("restore", str(place / "hurt.zip"), data=there)
    assert (done.returncode, "damaged" in done.stderr) == (1, True)
    assert (there / "kept").read_text() == "mine"
    assert not (there / "media").exists()
    assert not list(there.glob(".restore*"))
    assert not (there / "plant.sqlite3").exists()


def test_the_newest_of_each_name_are_kept_and_a_file_that_is_gone_is_told(
    transactional_db: None,
    depot: Depot,
    place: Path,
    settings: Any,
    capsys: pytest.CaptureFixture[str],
) -> None:
    settings.BACKUPS_KEPT = 2
    names = [chore.file_for("daily", now() - timedelta(days=n)) for n in range(4)]
    for each in (*names, chore.file_for("by-hand", now() - timedelta(days=40))):
        each.parent.mkdir(exist_ok=True)
        each.touch()
    assert chore.prune("daily") == 2
    assert {n.name for n in names[:2]} < {each.name for each in settings.BACKUP_DIR.iterdir()}
    assert len(list(settings.BACKUP_DIR.iterdir())) == 3

    with transaction.atomic():
        record = seal(
            kind=Record.Kind.FAULT, depot=depot, data={}, happened_at=now(), received_at=now(),
            by=None, role="label", photos={"one": b"soon gone"},
        )  # fmt: skip
    record.photos.get().file.storage.delete(record.photos.get().file.name)
    call_command("backup", str(place / "two.zip"))
    out = capsys.readouterr()
    assert "1 files that the database names are not on the disk" in out.err
    assert "Keep these two apart" in out.out
    made: Made = make_backup(place / "three.zip", at=now(), with_keys=True)
    with zipfile.ZipFile(made.path) as plain:
        assert plain.read("keys/secret_key").decode() == settings.SECRET_KEY
    with pytest.raises(CommandError, match="already"):
        call_command("backup", str(place / "two.zip"))
