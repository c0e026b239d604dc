"""A ZIP whose comment ends in the SHA-256 of every byte before it, with a list of what is in it.

Any program opens it; ours takes it only when each byte is as it was written. A hash is no
signature: it finds damage, not somebody who makes up a whole file.
"""

import contextlib
import hashlib
import json
import os
import zipfile
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from plant.actions.refusal import Refused

MANIFEST = "manifest.json"
BLOCK = 1 << 20
DIGITS = 64
_SEAL = b"SHA-256 of all bytes before its 64 letters: "
DAMAGED = gettext_noop("The file is damaged or is none of ours: {}. Nothing was changed.")
Tick = Callable[[int], object]


class Writer:
    """Fills one, block by block, and never holds more of it."""

    def __init__(self, file: IO[bytes], *, at: datetime) -> None:
        self._out, self._at = _Summed(file), at
        self._zip: zipfile.ZipFile = zipfile.ZipFile(self._out, "w")  # type: ignore[call-overload]
        self.files: dict[str, dict[str, Any]] = {}

    def add(self, name: str, blocks: Iterable[bytes], *, squeeze: bool, tick: Tick = int) -> None:
        """Args: tick: told the bytes of each block as it is written."""
        digest, size = hashlib.sha256(), 0
        with self._zip.open(self._entry(name, squeeze), "w", force_zip64=True) as out:
            for block in blocks:
                digest.update(block)
                out.write(block)
                size += len(block)
                tick(len(block))
        self.files[name] = {"sha256": digest.hexdigest(), "bytes": size}

    def add_file(self, name: str, path: Path, *, squeeze: bool = False, tick: Tick = int) -> None:
        with path.open("rb") as source:
            self.add(name, iter(lambda: source.read(BLOCK), b""), squeeze=squeeze, tick=tick)

    def finish(self, told: dict[str, Any]) -> int:
        """Writes the list with what else is told, and the sum. Returns: bytes of the whole."""
        manifest = json.dumps({**told, "files": self.files}, indent=1)
        with self._zip as archive:
            archive.writestr(self._entry(MANIFEST, squeeze=True), manifest)
            archive.comment = _SEAL + b"0" * DIGITS
        return self._out.finish()

    def _entry(self, name: str, squeeze: bool) -> zipfile.ZipInfo:
        moment = self._at.astimezone(UTC)
        entry = zipfile.ZipInfo(name, moment.timetuple()[:6])
        entry.compress_type = zipfile.ZIP_DEFLATED if squeeze else zipfile.ZIP_STORED
        entry.external_attr = 0o600 << 16
        return entry


class _Summed:
    """Writes on, and works out the SHA-256 of all but the last 64 bytes, which become it."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file, self.sum, self.kept, self.size = file, hashlib.sha256(), b"", 0

    def write(self, data: bytes) -> int:
        whole = self.kept + bytes(data)
        out, self.kept = whole[:-DIGITS], whole[-DIGITS:]
        self.sum.update(out)
        self.size += len(out)
        self.file.write(out)
        return len(data)

    def flush(self) -> None:
        self.file.flush()

    def finish(self) -> int:
        self.file.write(self.sum.hexdigest().encode("ascii"))
        return self.size + DIGITS


@contextlib.contextmanager
def put_in_place(path: Path) -> Iterator[IO[bytes]]:
    """A file for its owner alone, that has its name only when it is whole and on the disk."""
    half = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with open(os.open(half, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        half.rename(path)
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    finally:
        half.unlink(missing_ok=True)


@contextlib.contextmanager
def opened(
    path: Path, *, what: str, newest: int
) -> Iterator[tuple[zipfile.ZipFile, dict[str, Any]]]:
    """The file and what it says of itself, once its every byte is known to be as written.

    Args:
        what: what it must say that it is.
        newest: the newest form of it that this program knows.

    Raises:
        Refused: damaged, something else, or made by a newer program.
    """
    try:
        with path.open("rb") as file:
            _check_sum(file)
            with zipfile.ZipFile(file) as archive:
                yield archive, _manifest(archive, what=what, newest=newest)
    except (OSError, zipfile.BadZipFile, EOFError, KeyError, TypeError, ValueError) as odd:
        if isinstance(odd, Refused):
            raise
        raise Refused(_(DAMAGED).format(odd)) from odd


def _check_sum(file: IO[bytes]) -> None:
    left = file.seek(0, os.SEEK_END) - DIGITS
    file.seek(0)
    if left < DIGITS:
        raise Refused(_(DAMAGED).format(_("it is too short")))
    digest = hashlib.sha256()
    while left:
        block = file.read(min(BLOCK, left))
        if not block:
            raise Refused(_(DAMAGED).format(_("it ends early")))
        digest.update(block)
        left -= len(block)
    if file.read() != digest.hexdigest().encode("ascii"):
        raise Refused(_(DAMAGED).format(_("its sum is not the one that it was written with")))


def _manifest(archive: zipfile.ZipFile, *, what: str, newest: int) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(archive.read(MANIFEST))
    if told["what"] != what:
        raise Refused(
            _(DAMAGED).format(_("it says that it is {what}").format(what=f"{told['what']!r}"))
        )
    if told["format"] > newest:
        raise Refused(
            _(
                "This was made by a newer program ({version}). Install that "
                "version first. Nothing was changed."
            ).format(version=told["version"])
        )
    inside = [each.filename for each in archive.infolist()]
    if sorted(inside) != sorted({*told["files"], MANIFEST}):
        raise Refused(_(DAMAGED).format(_("it does not hold the files that it lists")))
    for name in inside:
        if name.startswith("/") or ".." in PurePosixPath(name).parts or {"\\", "\0"} & set(name):
            raise Refused(
                _(DAMAGED).format(_("a file in it is called {name}").format(name=f"{name!r}"))
            )
    return told


def unpack(archive: zipfile.ZipFile, name: str, told: dict[str, Any], target: Path) -> None:
    """Writes one file of it out.

    Raises:
        Refused: it is not what the list says.
    """
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    digest, size = hashlib.sha256(), 0
    with (
        archive.open(name) as source,
        open(os.open(target, os.O_CREAT | os.O_WRONLY | os.O_EXCL, 0o600), "wb") as out,
    ):
        while block := source.read(BLOCK):
            size += len(block)
            if size > told["bytes"]:
                break
            digest.update(block)
            out.write(block)
        out.flush()
        os.fsync(out.fileno())
    if size != told["bytes"] or digest.hexdigest() != told["sha256"]:
        raise Refused(_(DAMAGED).format(_("{name} is not what was put in").format(name=name)))
