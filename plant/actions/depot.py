"""Depots and what holds for them, and what the firm asks of all: added and changed, sealed."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from plant.actions.one_time import has_codes
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Firm, Membership, Record, Role, User
from plant.rights import Right, depots_where, is_senior, role_for
from plant.sealing import Canonical
from plant.security_log import note
from plant.text import TextRefused, clean

# What an administrator changes; other settings of a depot belong to those who answer for them.
FIELDS = (
    "name", "code", "address", "phone", "time_zone", "one_person", "checks_by_label",
    "length_system",
)  # fmt: skip


@transaction.atomic
def add_depot(*, told: Mapping[str, Any], at: datetime, by: User) -> Depot:
    """A new depot; who adds it is its first administrator.

    Raises:
        Refused: a code or name that cannot be or is taken.
    """
    if not depots_where(by, Right.DEPOTS):
        role_for(by, Right.DEPOTS, 0)
    depot = Depot(**{name: told[name] for name in FIELDS if name in told})
    _check(depot)
    depot.save()
    Membership.objects.create(user=by, depot=depot, role=Role.ADMINISTRATOR)
    # The roles that were read for this request are older than this one.
    by = User.objects.get(pk=by.pk)
    settings: dict[str, Canonical] = {name: _words(getattr(depot, name)) for name in FIELDS}
    _seal(depot, {"move": "depot added", "settings": settings}, at=at, by=by)
    note("depot added", user=by, depot=depot.pk)
    return depot


@transaction.atomic
def change_depot(*, depot: Depot, told: Mapping[str, Any], at: datetime, by: User) -> list[str]:
    """Changes a depot's name and settings.

    Returns:
        What was changed, by the names of the fields.

    Raises:
        Refused: a code or name that cannot be or is taken, or the code of a depot with records.
    """
    role_for(by, Right.DEPOTS, depot.pk)
    depot = Depot.objects.select_for_update().get(pk=depot.pk)
    before = {name: getattr(depot, name) for name in FIELDS}
    changed = [name for name in FIELDS if name in told and told[name] != before[name]]
    if not changed:
        return []
    if "code" in changed and Record.objects.filter(depot=depot).exists():
        raise Refused(
            _(
                "The code stands in sealed records and on "
                "paper, so it stays. Change the name instead."
            ),
            field="code",
        )
    for name in changed:
        setattr(depot, name, told[name])
    _check(depot)
    depot.save(update_fields=changed)
    data: dict[str, Canonical] = {
        name: {"was": _words(before[name]), "now": _words(told[name])} for name in changed
    }
    _seal(depot, {"move": "settings changed", "changed": data}, at=at, by=by)
    note("settings changed", user=by, depot=depot.pk, changed=",".join(changed))
    return changed


@transaction.atomic
def change_firm(*, codes_asked: bool, depots_seen: bool, at: datetime, by: User) -> bool:
    """Whether managers and administrators sign in with one-time codes, and whether depots see
    the little of each other that plant.rights.depots_in_sight speaks of.

    Returns:
        Whether anything was changed.

    Raises:
        Refused: who asks for codes has none set up, and would be the first to stand outside; who
            opens the depots to each other does not administer every one.
    """
    depots = Depot.objects.filter(pk__in=depots_where(by, Right.DEPOTS)).order_by("pk")
    if not depots:
        role_for(by, Right.DEPOTS, 0)
    firm = Firm.objects.select_for_update().filter(pk=1).first() or Firm(pk=1)
    changed: dict[str, bool] = {}
    if firm.codes_asked != codes_asked:
        changed["one_time_codes_asked"] = codes_asked
    if firm.depots_seen != depots_seen:
        changed["depots_see_each_other"] = depots_seen
    if not changed:
        return False
    if codes_asked and not firm.codes_asked and is_senior(by) and not has_codes(by):
        raise Refused(
            _("Set up your own one-time codes first, so that you do not stand outside yourself."),
            field="codes_asked",
        )
    # Who opens a window opens it into every depot; anybody may shut it.
    others = Depot.objects.real().exclude(pk__in=depots)
    if depots_seen and not firm.depots_seen and others.exists():
        raise Refused(
            _("Only who is administrator of every depot opens them to each other. Ask who is."),
            field="depots_seen",
        )
    firm.codes_asked, firm.depots_seen = codes_asked, depots_seen
    firm.save()
    for depot in depots:
        _seal(depot, {"move": "settings changed", **changed}, at=at, by=by)
    note("settings changed", user=by, changed=",".join(changed))
    return True


def _check(depot: Depot) -> None:
    for name, low in (("name", 1), ("address", 0), ("phone", 0)):
        try:
            setattr(depot, name, clean(getattr(depot, name), low=low, high=200, lines=False))
        except TextRefused as wrong:
            raise Refused(str(wrong), field=name) from wrong
    try:
        depot.full_clean()
    except ValidationError as wrong:
        field, words = next(iter(wrong.message_dict.items()))
        if any("already exists" in each for each in words):
            words = [_("Another depot has this {field}. Take another.").format(field=field)]
        raise Refused(words[0], field=field) from wrong


def _words(value: object) -> str:
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def _seal(depot: Depot, data: Mapping[str, Canonical], *, at: datetime, by: User) -> None:
    seal(
        kind=Record.Kind.ACCESS, depot=depot, data=data, happened_at=at, received_at=at, by=by,
        role=role_for(by, Right.DEPOTS, depot.pk),
    )  # fmt: skip
