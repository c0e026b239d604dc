"""Signs the last record of every chain with a key kept outside the database.

Somebody who can rewrite the whole database can write a chain anew so that its hashes fit, but
cannot sign the checkpoint of a day that is past. The files and the public key in them are for
keeping elsewhere too.
"""

import contextlib
import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings

from plant.contents.checkpoint import folder, key, last_signed
from plant.models import Chain
from plant.sealing import checkpoint_text

# One a day; a little less, so that the daily round never slips past a day.
EVERY = timedelta(hours=23)


def sign_chains(*, at: datetime) -> Path:
    """Writes a checkpoint of all chains now; may be done at any time, as often as one likes."""
    rows = Chain.objects.order_by("depot").values_list("depot__code", "head_seq", "head_hash")
    text = checkpoint_text(
        made_at=at, heads={code: (seq, digest) for code, seq, digest in rows if seq}
    )
    signing = _key()
    told = {
        "checkpoint": text,
        "signature": signing.sign(text.encode("utf-8")).hex(),
        "key": signing.public_key().public_bytes_raw().hex(),
    }
    folder().mkdir(parents=True, exist_ok=True)
    path = folder() / f"{at.astimezone(UTC):%Y%m%dT%H%M%S%f}Z.json"
    _write(path, json.dumps(told, indent=1) + "\n", mode=0o644)
    return path


def sign_when_old(*, at: datetime) -> Path | None:
    """The daily round: a checkpoint when the newest is a day old. Running it twice is harmless."""
    last = last_signed()
    if last is not None and at - last < EVERY:
        return None
    return sign_chains(at=at)


def _key() -> Ed25519PrivateKey:
    """The key that signs, made once; nobody but the server's own account can read its file."""
    if (kept := key()) is not None:
        return kept
    made = Ed25519PrivateKey.generate()
    # Another process may make one at the same moment; the first one counts.
    with contextlib.suppress(FileExistsError):
        _write(Path(settings.CHECKPOINT_KEY), made.private_bytes_raw().hex(), mode=0o600, once=True)
    kept = key()
    assert kept is not None
    return kept


def _write(path: Path, text: str, *, mode: int, once: bool = False) -> None:
    """Writes beside and puts in place whole, so that nobody ever reads half of it.

    Raises:
        FileExistsError: ``once`` was asked and the file is there already.
    """
    half = path.with_name(f".{path.name}.{os.getpid()}")
    with open(os.open(half, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, mode), "w") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    try:
        if once:
            os.link(half, path)
        else:
            half.replace(path)
    finally:
        half.unlink(missing_ok=True)
