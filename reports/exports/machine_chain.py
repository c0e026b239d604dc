"""One machine's sealed records as JSON lines that a stranger can check without us.

The format is told in DEVELOPERS.md, "A machine's records as a file".
"""

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from plant.contents.checkpoint import signed_files
from plant.models import Chain, Machine, Record, RecordPhoto, RecordText
from plant.sealing import anchors_of, moment

FORMAT, VERSION = "sealed records of one machine", "1"
BLOCK = 1000


def machine_chain(machine: Machine, *, at: datetime) -> Iterator[bytes]:
    """The lines of the file: a head, every record of the chains it stands in, the checkpoints.

    Its own records go out whole, with their texts; of every other one its hashes alone, so that
    nothing of another machine is told. Nothing is held in memory but a block.
    """
    # Read before the heads, so that no checkpoint says more than the chain that follows.
    signed = signed_files()
    chains = list(
        Chain.objects.filter(depot__records__machine=machine)
        .distinct()
        .order_by("depot__code")
        .values_list("depot", "depot__code", "head_seq", "head_hash")
    )
    yield _line(
        line="head",
        format=FORMAT,
        version=VERSION,
        machine={"id": str(machine.pk), "number": machine.number},
        made_at=moment(at),
        chains=[
            {"depot": code, "count": str(seq), "hash": digest} for _, code, seq, digest in chains
        ],
    )
    for depot, code, head, _ in chains:
        for start in range(0, head, BLOCK):
            yield from _block(machine, depot, code, first=start + 1, last=min(start + BLOCK, head))
    codes = {code for _, code, _, _ in chains}
    for told in signed:
        if codes & anchors_of(told["checkpoint"]).keys():
            yield _line(line="checkpoint", **told)


def _block(machine: Machine, depot: int, code: str, *, first: int, last: int) -> Iterator[bytes]:
    records = Record.objects.filter(depot_id=depot, seq__range=(first, last))
    own = records.filter(machine=machine)
    texts: dict[int, dict[str, Any]] = {}
    for seq, name, text, salt, erased_at in RecordText.objects.filter(
        record__in=own.values("pk")
    ).values_list("record__seq", "name", "text", "salt", "erased_at"):
        texts.setdefault(seq, {})[name] = _text(text, salt, erased_at)
    salts: dict[int, dict[str, str]] = {}
    for seq, name, salt in RecordPhoto.objects.filter(record__in=own.values("pk")).values_list(
        "record__seq", "name", "salt"
    ):
        salts.setdefault(seq, {})[name] = salt
    contents = dict(own.values_list("seq", "content"))
    rows = records.order_by("seq").values_list("seq", "content_hash", "hash")
    for seq, content_hash, digest in rows:
        told: dict[str, Any] = {"line": "record", "depot": code, "seq": str(seq), "hash": digest}
        if seq in contents:
            told |= {"content": contents[seq], "texts": texts.get(seq, {})}
            told |= {"photo_salts": salts[seq]} if seq in salts else {}
        else:
            told |= {"content_hash": content_hash}
        yield _line(**told)


def _text(text: str, salt: str, erased_at: datetime | None) -> dict[str, str]:
    return {"erased_at": moment(erased_at)} if erased_at else {"text": text, "salt": salt}


def _line(**told: Any) -> bytes:
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
