"""Accounts as their managers and administrators see them: who, with which roles, last signed in."""

import json
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext

from plant.models import Depot, Membership, Message, OneTime, PhoneCode, Record, Role, User, WayIn
from plant.rights import GIVES, TABLE, Right, depots_where, governs

STATES = ("here", "invited", "left")


@dataclass
class Account:
    """One account with its roles in the depots that the viewer sees people of."""

    user: User
    roles: list[tuple[Depot, list[Role]]] = field(default_factory=list)
    learner: bool = False
    member: int = 0

    @property
    def state(self) -> str:
        if not self.user.is_active:
            return "left"
        getting_in = self.user.has_usable_password() or getattr(self.user, "has_figures", False)
        return "here" if getting_in else "invited"

    @property
    def state_words(self) -> str:
        if self.state == "left":
            if self.user.ended_at is None:
                return gettext("left")
            return gettext("left on {day}").format(day=f"{self.user.ended_at:%-d %b %Y}")
        return {
            "here": gettext("here"), "invited": gettext("invited, has not signed in yet"),
        }[self.state]  # fmt: skip

    @property
    def roles_words(self) -> str:
        parts = [
            f"{depot}: {', '.join(role.label.lower() for role in held)}"
            for depot, held in self.roles
        ]
        return "; ".join(parts) + (" (learner)" if self.learner else "")

    @property
    def last_words(self) -> str:
        at = self.user.last_login
        return f"{at:%-d %b %Y}" if at else "never"


def seen_by(user: User) -> QuerySet[User]:
    """Accounts with a role in a depot whose people the person looks after; not the erased."""
    return User.objects.of_depots(depots_where(user, Right.PEOPLE)).exclude(
        sign_in__startswith="erased-"
    )


def accounts(viewer: User, *, words: str = "", state: str = "", role: str = "") -> list[Account]:
    """The list, by name; a handful of queries however long it is.

    Args:
        words: parts of name or sign-in name, each of which must be there.
        state: one of STATES, or all.
        role: only who has this role in a depot that the viewer looks after.
    """
    depots = depots_where(viewer, Right.PEOPLE)
    rows = seen_by(viewer).annotate(
        has_figures=Exists(PhoneCode.objects.filter(user=OuterRef("pk"))),
        has_codes=Exists(OneTime.objects.filter(user=OuterRef("pk"), confirmed_at__isnull=False)),
    )
    for word in words.split():
        rows = rows.filter(Q(name__icontains=word) | Q(sign_in__icontains=word))
    if role:
        rows = rows.filter(
            pk__in=Membership.objects.filter(depot__in=depots, role=role).values("user")
        )
    found = _with_roles(list(rows.order_by("name", "pk")), depots)
    return [each for each in found if not state or each.state == state]


def account_of(person: User, *, viewer: User) -> Account:
    found = _with_roles([person], depots_where(viewer, Right.PEOPLE))[0]
    person.has_figures = PhoneCode.objects.filter(user=person).exists()  # type: ignore[attr-defined]
    return found


def _with_roles(users: list[User], depots: Collection[int]) -> list[Account]:
    by_pk = {user.pk: Account(user) for user in users}
    order = [str(role) for role in Role]
    rows = Membership.objects.filter(user__in=list(by_pk), depot__in=depots)
    held: dict[tuple[int, int], tuple[Depot, list[Role]]] = {}
    for row in rows.select_related("depot").order_by("depot__name", "pk"):
        account = by_pk[row.user_id]
        key = (row.user_id, row.depot_id)
        if key not in held:
            held[key] = (row.depot, [])
            account.roles.append(held[key])
        held[key][1].append(Role(row.role))
        account.learner |= row.learner
        account.member = account.member or row.pk
    for _, roles in held.values():
        roles.sort(key=order.index)
    return list(by_pk.values())


@dataclass(frozen=True)
class Acts:
    """What the viewer may do with an account, and the link that waits, if they made it.

    mail: the message by which that link goes to the person's address, if it does.
    """

    governs: bool
    own: bool
    link: WayIn | None
    link_waits: bool
    has_codes: bool
    mail: Message | None = None


def acts(person: User, *, viewer: User, at: datetime) -> Acts:
    waiting = WayIn.objects.standing(at).filter(user=person).select_related("user").first()
    return Acts(
        governs=governs(viewer, person),
        own=person.pk == viewer.pk,
        link=waiting if waiting and waiting.made_by_id == viewer.pk else None,
        link_waits=waiting is not None,
        has_codes=OneTime.objects.filter(user=person, confirmed_at__isnull=False).exists(),
        mail=Message.objects.about_link(waiting).first() if waiting else None,
    )


def changes(person: User, *, viewer: User, most: int = 20) -> list[Record]:
    """The newest sealed changes of the account in the viewer's depots, ``told`` in words."""
    rows = list(
        Record.objects.filter(
            kind=Record.Kind.ACCESS,
            depot__in=depots_where(viewer, Right.PEOPLE),
            content__contains=f'"account":"{person.pk}"',
        )
        .select_related("depot", "by")
        .order_by("-received_at", "-seq")[:most]
    )
    for row in rows:
        row.told = told_change(json.loads(row.content)["data"])  # type: ignore[attr-defined]
    return rows


def told_change(data: dict[str, Any]) -> str:
    """A sealed change of roles, an account or a setting, in words."""
    parts = [str(data["move"])]
    if data.get("given"):
        parts.append(gettext("given {given}").format(given=", ".join(data["given"])))
    if data.get("taken"):
        parts.append(gettext("taken {taken}").format(taken=", ".join(data["taken"])))
    if isinstance(data.get("changed"), list):
        parts.append(", ".join(data["changed"]))
    if isinstance(data.get("changed"), dict):
        parts += [
            gettext("{name} {now}, was {was}").format(
                name=name.replace("_", " "), now=each["now"] or "empty", was=each["was"] or "empty"
            )
            for name, each in data["changed"].items()
        ]
    return "; ".join(parts)


def rights_told() -> list[tuple[str, str, str]]:
    """The table of who may what: the right, its line, and the roles that carry it."""
    return [
        (right.words, words, ", ".join(role.label.lower() for role in Role if role in who))
        for right, (who, words) in TABLE.items()
    ]


def gives_told() -> list[tuple[str, str]]:
    """Which roles each role gives, in words."""
    return [
        (str(role.label), ", ".join(each.label.lower() for each in Role if each in given))
        for role, given in GIVES.items()
    ]
