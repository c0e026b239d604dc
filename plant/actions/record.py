"""Seals a record of fact into its depot's chain, in the transaction of its effect."""

import secrets
import time
import uuid
from collections.abc import Mapping
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import connection, transaction
from django.utils.translation import gettext as _

from plant.models import Chain, Depot, Machine, Record, RecordPhoto, RecordText, User
from plant.sealing import (
    Canonical,
    canonical,
    chain_hash,
    commitment,
    content_hash,
    file_commitment,
    moment,
)

SCHEMA = "1"


def new_id() -> uuid.UUID:
    """A UUID of version 7 (RFC 9562): time first, so that rows lie in the order of making."""
    stamp = time.time_ns() // 1_000_000
    tail = secrets.randbits(74)
    value = (stamp << 80) | (0x7 << 76) | ((tail >> 62) << 64) | (0b10 << 62) | (tail & (2**62 - 1))
    return uuid.UUID(int=value)


def seal(
    *,
    kind: Record.Kind,
    depot: Depot,
    data: Mapping[str, Canonical],
    happened_at: datetime,
    received_at: datetime,
    by: User | None,
    role: str,
    by_name: str = "",
    machine: Machine | None = None,
    texts: Mapping[str, str] | None = None,
    photos: Mapping[str, bytes] | None = None,
    corrects: Record | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Writes one record at the end of the depot's chain. Call inside the effect's transaction.

    Args:
        data: what was found or done; figures as decimal strings with their unit.
        by: who did it; None for somebody without an account, whose given name is ``by_name``. A
            person signed in on a shared phone brings it along, and the record names it.
        role: the role in which it was done, or "label".
        texts: erasable words (notes); they stand in the chain as commitments only.
        photos: erasable files, already cleaned of their metadata.
        record_id: the id that a phone gave it; else a new one.

    Raises:
        TransactionManagementError: called outside a transaction.
        TypeError: data holds a number that is not written as text.
    """
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError(_("a record is sealed with its effect"))
    if by is not None and by.on_phone is not None:
        data = {**data, "signed_in_on": by.on_phone.words}
    head_seq, head_hash = _locked_head(depot)
    words = {name: text for name, text in (texts or {}).items() if text}
    words["by_name"] = by.name if by else by_name
    salted = {name: (secrets.token_hex(32), text) for name, text in words.items()}
    pictures = {name: (secrets.token_hex(32), data_) for name, data_ in (photos or {}).items()}
    record_id = record_id or new_id()
    seq = head_seq + 1
    content = canonical(
        {
            "schema": SCHEMA,
            "id": str(record_id),
            "depot": depot.code,
            "seq": str(seq),
            "kind": str(kind),
            "machine": {"id": str(machine.pk), "number": machine.number} if machine else None,
            "by": str(by.pk) if by else None,
            "role": role,
            "happened_at": moment(happened_at),
            "received_at": moment(received_at),
            "corrects": str(corrects.pk) if corrects else None,
            "data": dict(data),
            "texts": {
                name: commitment(salt=salt, text=text) for name, (salt, text) in salted.items()
            },
            "photos": {
                name: file_commitment(salt=salt, data=file)
                for name, (salt, file) in pictures.items()
            },
        }
    )
    digest = content_hash(content)
    link = chain_hash(previous=head_hash, content=digest)
    record = Record.objects.create(
        id=record_id,
        depot=depot,
        seq=seq,
        kind=kind,
        machine=machine,
        corrects=corrects,
        by=by,
        role=role,
        happened_at=happened_at,
        received_at=received_at,
        content=content,
        content_hash=digest,
        previous_hash=head_hash,
        hash=link,
    )
    RecordText.objects.bulk_create(
        RecordText(record=record, name=name, text=text, salt=salt)
        for name, (salt, text) in salted.items()
    )
    for name, (salt, file) in pictures.items():
        photo = RecordPhoto(record=record, name=name, salt=salt)
        photo.file.save(f"{secrets.token_hex(16)}.jpg", ContentFile(file), save=False)
        photo.save()
    with connection.cursor() as cursor:
        cursor.execute(_MOVE, [seq, link, depot.pk])
    return record


# Every record passes here, so the two statements go past the ORM, which costs more than they do.
_HEAD = "SELECT head_seq, head_hash FROM plant_chain WHERE depot_id = %s"
_MOVE = "UPDATE plant_chain SET head_seq = %s, head_hash = %s WHERE depot_id = %s"


def _locked_head(depot: Depot) -> tuple[int, str]:
    """The number and the hash of the last record, its row locked until the transaction ends.

    SQLite locks the whole database when a transaction begins, and knows no FOR UPDATE.
    """
    lock = " FOR UPDATE" if connection.features.has_select_for_update else ""
    with connection.cursor() as cursor:
        cursor.execute(_HEAD + lock, [depot.pk])
        head = cursor.fetchone()
        if head is None:
            Chain.objects.get_or_create(depot=depot)
            cursor.execute(_HEAD + lock, [depot.pk])
            head = cursor.fetchone()
    return int(head[0]), str(head[1])
