"""The canonical form of a record, its hashes, and the check of a whole chain. Pure.

hash = SHA-256(0x00 || previous hash || SHA-256(canonical content)), so that a stranger who holds
only the content hashes of other machines' records can still verify the chain.
"""

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TypeAlias

Canonical: TypeAlias = "str | bool | list[Canonical] | dict[str, Canonical] | None"

NO_HASH = "0" * 64
_FIELD_NAME = re.compile(r"[a-z][a-z0-9_]*", re.ASCII)


def moment(at: datetime) -> str:
    """An aware moment as ``YYYY-MM-DDTHH:MM:SS.mmmZ``."""
    if at.tzinfo is None:
        raise ValueError("a sealed moment needs a time zone")
    return at.astimezone(UTC).isoformat(timespec="milliseconds")[:23] + "Z"


def canonical(content: Mapping[str, Canonical]) -> str:
    """The one text of a content: keys sorted, no spaces, UTF-8, NFC, numbers as decimal strings.

    Raises:
        TypeError: a number, or any other type than text, yes/no, nothing, list and map. Numbers
            are written by their owner as decimal strings with a unit, since floats differ
            between machines.
        ValueError: a key that is not a plain name, or a lone surrogate.
    """
    return json.dumps(
        _checked(content),
        ensure_ascii=False,
        sort_keys=True,
        separators=(",", ":"),
        allow_nan=False,
    )


def _checked(part: object) -> Canonical:
    if part is None or isinstance(part, bool):
        return part
    if isinstance(part, str):
        text = unicodedata.normalize("NFC", str(part))
        text.encode("utf-8")  # refuses lone surrogates
        return text
    if isinstance(part, Mapping):
        for key in part:
            if not isinstance(key, str) or not _FIELD_NAME.fullmatch(key):
                raise ValueError(f"not a plain field name: {key!r}")
        return {str(key): _checked(value) for key, value in part.items()}
    if isinstance(part, list | tuple):
        return [_checked(value) for value in part]
    raise TypeError(f"{type(part).__name__} has no canonical form; write it as text")


def content_hash(text: str) -> str:
    """SHA-256 of the canonical text, as 64 hex digits."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def chain_hash(*, previous: str, content: str) -> str:
    """The hash that links one record to the one before it; both arguments are 64 hex digits."""
    return hashlib.sha256(b"\x00" + bytes.fromhex(previous) + bytes.fromhex(content)).hexdigest()


def commitment(*, salt: str, text: str) -> str:
    """What stands in the chain for an erasable text: SHA-256 of salt and text."""
    data = unicodedata.normalize("NFC", text).encode("utf-8")
    return hashlib.sha256(bytes.fromhex(salt) + data).hexdigest()


def file_commitment(*, salt: str, data: bytes) -> str:
    """What stands in the chain for an erasable file."""
    return hashlib.sha256(bytes.fromhex(salt) + data).hexdigest()


@dataclass(frozen=True, slots=True)
class Link:
    """What the check of a chain needs of one record.

    fault: where the rest of its row contradicts the content, in words.
    """

    seq: int
    content: str
    content_hash: str
    previous: str
    hash: str
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Anchor:
    """What a signed checkpoint says of one chain: at that moment this was its last record."""

    seq: int
    hash: str
    made_at: str


def checkpoint_text(*, made_at: datetime, heads: Mapping[str, tuple[int, str]]) -> str:
    """The canonical text of a checkpoint, which is what is signed.

    Args:
        heads: by the depot's code the number and the hash of its last record.
    """
    return canonical(
        {
            "schema": "1",
            "made_at": moment(made_at),
            "chains": [
                {"depot": code, "seq": str(seq), "hash": digest}
                for code, (seq, digest) in sorted(heads.items())
            ],
        }
    )


def anchors_of(text: str) -> dict[str, Anchor]:
    """What the text of a checkpoint says, by the depot's code."""
    told = json.loads(text)
    return {
        head["depot"]: Anchor(seq=int(head["seq"]), hash=head["hash"], made_at=told["made_at"])
        for head in told["chains"]
    }


@dataclass(frozen=True, slots=True)
class ChainReport:
    """How many records were read, the head, and the first thing that is wrong, if anything is."""

    count: int
    head: str
    bad_seq: int | None = None
    what: str = ""


def fault_of(link: Link, *, previous: str) -> str:
    """What of one record is not as it was sealed, in words; empty when all of it is.

    Args:
        previous: the hash of the record before it.
    """
    if content_hash(link.content) != link.content_hash:
        return "changed: the content is not as sealed"
    if link.previous != previous:
        return "reordered: it follows another record"
    if chain_hash(previous=previous, content=link.content_hash) != link.hash:
        return "changed: the hash is not of this record"
    return f"changed: {link.fault}" if link.fault else ""


def verify(
    links: Iterable[Link], *, head_seq: int, head_hash: str, anchors: Iterable[Anchor] = ()
) -> ChainReport:
    """Walks a chain in order of seq and names the first fault.

    A chain alone does not stop somebody who writes the whole tail anew with hashes that fit; a
    checkpoint that was signed before does.

    Args:
        links: the records of one depot, lowest seq first.
        head_seq, head_hash: what the depot says its last record is.
        anchors: what its checkpoints say, their signatures already found good.
    """
    previous, seq = NO_HASH, 0
    signed: dict[int, list[Anchor]] = {}
    for anchor in anchors:
        signed.setdefault(anchor.seq, []).append(anchor)
    furthest = max(signed, default=0)
    for link in links:
        if link.seq == seq:
            return ChainReport(seq, previous, link.seq, "forked: two records have this number")
        if link.seq != seq + 1:
            return ChainReport(seq, previous, seq + 1, "missing")
        if fault := fault_of(link, previous=previous):
            return ChainReport(seq, previous, link.seq, fault)
        for anchor in signed.get(link.seq, ()):
            if anchor.hash != link.hash:
                what = f"checkpoint mismatch: written anew since {anchor.made_at}, here or before"
                return ChainReport(seq, previous, link.seq, what)
        previous, seq = link.hash, link.seq
    if seq < furthest:
        what = (
            f"checkpoint mismatch: there were {furthest} records on {signed[furthest][0].made_at}"
        )
        return ChainReport(seq, previous, seq + 1, what)
    if seq < head_seq:
        return ChainReport(seq, previous, seq + 1, "missing at the end")
    if (seq, previous) != (head_seq, head_hash):
        return ChainReport(seq, previous, seq, "the head is not the last record")
    return ChainReport(seq, previous)
