"""The signed checkpoints of the chains, as they lie in their files, and the key that signs them."""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.utils.translation import gettext as _

from plant.sealing import Anchor, anchors_of


class NotSigned(ValueError):
    """A checkpoint whose signature is not of our key, or that cannot be read."""


def folder() -> Path:
    return Path(settings.DATA_DIR) / "checkpoints"


def key() -> Ed25519PrivateKey | None:
    """The key that signs; None before the first checkpoint, or when its file is gone."""
    path = Path(settings.CHECKPOINT_KEY)
    if not path.exists():
        return None
    return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(path.read_text(encoding="ascii")))


def last_signed() -> datetime | None:
    """The moment of the newest checkpoint, by its name; None before the first."""
    names = sorted(each.stem for each in _files())
    return datetime.strptime(f"{names[-1][:-1]}+0000", "%Y%m%dT%H%M%S%f%z") if names else None


def signed_files() -> list[dict[str, str]]:
    """Every checkpoint as it lies in its file, oldest first: text, signature, public key.

    They are for who does not trust us, so nothing is checked here; what cannot be read is left out.
    """
    found = []
    for path in sorted(_files()):
        try:
            told = json.loads(path.read_text(encoding="utf-8"))
            given = {name: str(told[name]) for name in ("checkpoint", "signature", "key")}
            anchors_of(given["checkpoint"])
        except (KeyError, TypeError, ValueError):
            continue
        found.append(given)
    return found


def anchors() -> dict[str, list[Anchor]]:
    """What all checkpoints say of each chain, by the depot's code.

    Raises:
        NotSigned: one of them was not signed with our key, or cannot be read.
    """
    found: dict[str, list[Anchor]] = {}
    ours = key()
    for path in sorted(_files()):
        if ours is None:
            raise NotSigned(
                _("{path}: the key that signs checkpoints is gone").format(path=path.name)
            )
        try:
            told = json.loads(path.read_text(encoding="utf-8"))
            text = str(told["checkpoint"])
            signature = bytes.fromhex(told["signature"])
            ours.public_key().verify(signature, text.encode("utf-8"))
            said = anchors_of(text)
        except InvalidSignature as odd:
            raise NotSigned(
                _("{path}: the signature is not of our key").format(path=path.name)
            ) from odd
        except (KeyError, TypeError, ValueError) as odd:
            raise NotSigned(_("{path}: it cannot be read").format(path=path.name)) from odd
        for code, anchor in said.items():
            found.setdefault(code, []).append(anchor)
    return found


def _files() -> Iterator[Path]:
    return folder().glob("*Z.json")
