"""Replacing a machine's label link: the old labels stop opening, and it is sealed why."""

import uuid
from datetime import datetime

from django.db import transaction

from maintenance.actions.signing import locked, sealed_before, words
from plant.actions.machine import free_short_codes
from plant.actions.record import seal
from plant.models import Machine, Record, User
from plant.models.machine import new_label_code
from plant.rights import Right, role_for
from plant.sealing import Canonical


@transaction.atomic
def replace_label(
    *,
    machine: Machine,
    reason: str,
    at: datetime,
    by: User,
    short_code_too: bool = False,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Gives the machine a new link. Printing a label never does; only this does.

    What a phone kept by an old label may still be sent. Neither link stands in the record, since
    a link opens a page.

    Args:
        reason: why, in 10 letters or more.
        short_code_too: whether the four characters are replaced as well.

    Raises:
        Refused: no reason.
    """
    machine = locked(machine)
    role = role_for(by, Right.REPLACE_LABEL, machine.depot_id)
    reason = words(reason, field="reason", what="reason", low=10)
    told: dict[str, Canonical] = {
        "label": "replaced",
        "short_code": "replaced" if short_code_too else "kept",
    }
    texts = {"reason": reason}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.LABEL, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before
    machine.label_code = new_label_code()
    if short_code_too:
        machine.short_code = free_short_codes(1)[0]
    machine.save(update_fields=["label_code", "short_code"])
    return seal(
        kind=Record.Kind.LABEL, depot=machine.depot, machine=machine, data=told,
        happened_at=at, received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
