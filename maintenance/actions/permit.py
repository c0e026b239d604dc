"""Permits: what lets a phone send later what it kept without signal.

A permit is given with the pack of machines to whoever may check them at that moment: a person in a
depot, or whoever holds a machine's label. It stays good for sending after a sign-out, after the
person has left, after their shared phone was withdrawn, and after the label was replaced; the
record then says so.
"""

from dataclasses import dataclass
from datetime import timedelta

from django.core import signing
from django.utils.translation import gettext as _

from maintenance.actions.signing import LABEL, signing_role
from plant.actions.refusal import Refused
from plant.models import Machine, Phone, User
from plant.rights import Right, may, practise_in, role_for
from plant.sealing import Canonical

GOOD_FOR = timedelta(days=120)
_SALT = "permit to send what a phone kept"


class PermitRefused(Refused):
    """The permit is not ours, too old, or not for this machine; which of them is not told."""

    def __init__(self) -> None:
        super().__init__(_("What this phone holds does not count here. Open the page afresh."))


@dataclass(frozen=True)
class Permitted:
    """Who sends, in which role, and what the record is to say of the permit.

    by: None for who came by a label.
    """

    by: User | None
    role: str
    beside: dict[str, Canonical]


def permit_for_person(*, user: User, depot_id: int) -> str:
    """A permit to send checks and reports on any machine of the depot.

    Raises:
        PermissionError: the person may not check there now.
    """
    role = role_for(user, Right.CHECK, depot_id)
    told = {"user": user.pk, "depot": depot_id, "role": str(role)}
    if user.on_phone is not None:
        told["phone"] = user.on_phone.pk
    return signing.dumps(told, salt=_SALT)


def permit_for_label(machine: Machine) -> str:
    """A permit to send checks and reports on this one machine."""
    return signing.dumps({"machine": machine.pk, "code": machine.label_code}, salt=_SALT)


def holder_of(permit: object) -> str:
    """The person of a permit of ours, to count by; empty for a label's, which counts by itself."""
    try:
        told = signing.loads(permit if isinstance(permit, str) else "", salt=_SALT)
    except (signing.BadSignature, ValueError):
        return ""
    return str(told.get("user", ""))


def read_permit(permit: str, *, machine: Machine, by_name: str) -> Permitted:
    """Who may send by it, for this machine.

    Args:
        by_name: the name that was typed, for a label's permit.

    Raises:
        PermitRefused: forged, too old, or for another machine or depot.
    """
    try:
        told = signing.loads(permit, salt=_SALT, max_age=GOOD_FOR)
    except (signing.BadSignature, ValueError) as wrong:
        raise PermitRefused from wrong
    if "machine" in told:
        if told["machine"] != machine.pk:
            raise PermitRefused
        signing_role(machine=machine, by=None, by_name=by_name, right=Right.CHECK)
        old = {"permit": "an older label"} if told["code"] != machine.label_code else {}
        return Permitted(None, LABEL, {"by_label": True, **old})
    user = User.objects.filter(pk=told["user"]).first()
    if user is None or told["depot"] != machine.depot_id:
        raise PermitRefused
    practise_in(user, machine.depot)
    beside: dict[str, Canonical] = {}
    marked = []
    if not may(user, Right.CHECK, machine.depot_id):
        marked.append("sent after leaving")
    if phone := Phone.objects.filter(pk=told.get("phone")).first():
        beside["signed_in_on"] = phone.words
        if phone.withdrawn_at is not None:
            marked.append("sent by a withdrawn phone")
    if marked:
        beside["permit"] = ", ".join(marked)
    return Permitted(user, told["role"], beside)
