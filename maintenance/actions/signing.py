"""How every sealed action begins: the machine locked, who signs, and whether it is a repeat."""

import json
import uuid
from collections.abc import Mapping

from django.utils.translation import gettext as _

from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Membership, Record, RecordText, User
from plant.rights import NotAllowed, Right, role_for
from plant.sealing import Canonical, commitment
from plant.text import TextRefused, clean

LABEL = "label"
LONGEST_NAME = 80


def locked(machine: Machine) -> Machine:
    """The machine read afresh, its row locked until the transaction ends.

    Always the first lock that is taken, so that two actions never wait for each other.
    """
    # First the lock on its own, then the reading: who waited for a move to another depot must read
    # the machine with its new depot, which a lock taken across the join would not find.
    Machine.objects.select_for_update().only("pk").get(pk=machine.pk)
    return Machine.objects.select_related("depot", "kind").get(pk=machine.pk)


def signing_role(*, machine: Machine, by: User | None, by_name: str, right: Right) -> str:
    """The role in which somebody signs; "label" for who only gave a name.

    Raises:
        NotAllowed: the person has no such right here, or the depot allows nothing by label.
        Refused: nobody signed in and no name given.
    """
    if by is not None:
        return role_for(by, right, machine.depot_id)
    if not machine.depot.checks_by_label:
        raise NotAllowed(_("This depot takes nothing by label."))
    words(by_name, field="by_name", what=_("your name"), low=1, high=LONGEST_NAME)
    return LABEL


def is_learner(user: User, depot_id: int) -> bool:
    """Whether the person works under somebody's eye in this depot; in practice, in any."""
    learning = Membership.objects.of(user).filter(learner=True)
    if user.practising is None or user.practising.pk != depot_id:
        learning = learning.filter(depot_id=depot_id)
    return learning.exists()


def held_as_learner(user: User, depot: Depot) -> bool:
    """Whether what a competent person judges is refused to the person as a learner.

    In practice who learns plays the competent person too; each page there says who it would be.
    """
    return not depot.is_practice and is_learner(user, depot.pk)


def words(text: str, *, field: str, what: str, low: int = 0, high: int = 400) -> str:
    """Words as they are stored.

    Raises:
        Refused: too short, too long or with characters that cannot be kept; at the field.
    """
    try:
        return clean(text, low=low, high=high)
    except TextRefused as wrong:
        raise Refused(f"{what[:1].upper()}{what[1:]}: {wrong}", field=field) from wrong


def sealed_before(
    *,
    record_id: uuid.UUID | None,
    kind: Record.Kind,
    machine: Machine | None,
    by: User | None,
    told: Mapping[str, Canonical],
    texts: Mapping[str, str],
    by_name: str = "",
    beside: str = "",
) -> Record | None:
    """The record of the same id, where the same was sent before; None where it is news.

    Args:
        told: the parts of the record's data that the sender decides; they must be equal.
        texts: the words that were sent; compared with the commitments, so also after an erasure.
        beside: how the names of words begin that the record took from elsewhere.

    Raises:
        Refused: the id belongs to something else. Nothing of that is told.
    """
    if record_id is None:
        return None
    record = Record.objects.filter(pk=record_id).first()
    if record is None:
        return None
    content = json.loads(record.content)
    same = (
        record.kind == kind
        and record.machine_id == (machine.pk if machine else None)
        and record.by_id == (by.pk if by else None)
        and all(content["data"].get(key) == value for key, value in told.items())
        and _same_texts(record, {**texts, "by_name": by.name if by else by_name}, beside)
    )
    if not same:
        raise Refused(
            _("Another entry was saved under this number. Not saved. Open the page afresh.")
        )
    return record


def _same_texts(record: Record, texts: Mapping[str, str], beside: str) -> bool:
    sent = {name: text for name, text in texts.items() if text}
    rows = {
        row.name: row
        for row in RecordText.objects.filter(record=record)
        if not (beside and row.name.startswith(beside))
    }
    if set(sent) != set(rows):
        return False
    sealed = json.loads(record.content)["texts"]
    return all(
        rows[name].erased_at is not None
        or commitment(salt=rows[name].salt, text=text) == sealed[name]
        for name, text in sent.items()
    )
