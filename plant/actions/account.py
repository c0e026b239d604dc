"""Accounts: inviting, roles, links by which people set their password, leaving and coming back.

Whoever changes an account may give every role that it has; so nobody reaches through somebody
else's account what their own does not give. Each change is sealed in the depots it counts in.
"""

import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator, validate_email
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from plant import passwords
from plant.actions import session
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.links import uid_of
from plant.models import (
    Depot,
    Lengths,
    Membership,
    Message,
    OneTime,
    PhoneCode,
    Record,
    Role,
    SpareCode,
    User,
    WayIn,
)
from plant.models.message import link_thing
from plant.models.sign_in import LINK, LINK_TIME
from plant.rights import Right, gives, governs, may, role_for
from plant.sealing import Canonical
from plant.security_log import note
from plant.text import TextRefused, clean

LONGEST_NAME = 80
SIGN_IN_NAME = RegexValidator(
    r"^[a-z0-9][a-z0-9._-]{1,39}\Z",
    gettext_noop(
        "Use 2 to 40 of a to z, 0 to 9, point, hyphen and underline, for example ida.brandt."
    ),
)
SHORTEST_REASON, LONGEST_REASON = 10, 400
_NOT_YOURS = gettext_noop(
    "This account has a role that you do not give. Nothing was changed. Ask an administrator "
    "of all its depots."
)


@dataclass(frozen=True)
class Told:
    """Who somebody is: name, sign-in name, and an e-mail address or none."""

    name: str
    sign_in: str
    email: str = ""


@transaction.atomic
def invite(
    *,
    told: Told,
    roles: Mapping[int, Collection[Role]],
    learner: bool = False,
    at: datetime,
    by: User,
) -> User:
    """A new account with its first roles and no password.

    Args:
        roles: the roles by depot.
        learner: works under somebody's eye, in all of these depots.

    Raises:
        Refused: a name that cannot be, a sign-in name that is taken, or no role.
        NotAllowed: a role that the inviter does not give.
    """
    roles = {depot: frozenset(held) for depot, held in roles.items() if held}
    if not roles:
        raise Refused(_("Choose at least one role. Nobody was invited."))
    for depot_id, held in roles.items():
        _refuse_above(by, depot_id, held)
    told = _checked(told)
    person = User(name=told.name, sign_in=told.sign_in, email=told.email)
    person.set_unusable_password()
    person.save()
    for depot in Depot.objects.filter(pk__in=roles).order_by("pk"):
        _give(person, depot, roles[depot.pk], learner=learner)
        _seal(
            depot, person, by=by, at=at,
            data={"move": "invited", "given": _names(roles[depot.pk]), "learner": learner},
        )  # fmt: skip
    note("account invited", user=by, of=person.pk)
    return person


@transaction.atomic
def change_roles(
    *,
    person: User,
    depot: Depot,
    wanted: Collection[Role],
    learner: bool,
    at: datetime,
    by: User,
    reason: str = "",
) -> bool:
    """Gives and takes roles at one depot, so that the person has the wanted ones there.

    Roles that the giver does not give stay as they are.

    Args:
        reason: in a one-person depot, why one changes one's own.

    Returns:
        Whether anything was changed.

    Raises:
        Refused: one's own, the last role of the account, the last administrator, or left.
        NotAllowed: a role that the giver does not give.
    """
    depot = _locked(depot)
    person = User.objects.select_for_update().get(pk=person.pk)
    may_give = gives(by, depot.pk)
    rows = {Role(row.role): row for row in Membership.objects.filter(user=person, depot=depot)}
    given = frozenset(wanted) - rows.keys()
    taken = (rows.keys() & may_give) - frozenset(wanted)
    relearns = any(row.learner != learner for row in rows.values()) and bool(rows.keys() & may_give)
    if not given and not taken and not relearns:
        return False
    _refuse_above(by, depot.pk, given)
    if not person.is_active:
        raise Refused(_("This person has left. Bring the account back first."))
    if person.pk == by.pk:
        reason = _own_reason(depot, reason)
        if Role.ADMINISTRATOR in taken:
            raise Refused(_("Nobody takes their own administrator's role away. Ask another one."))
    if Role.ADMINISTRATOR in taken:
        _refuse_last(person, [depot])
    if taken == rows.keys() and not given:
        elsewhere = Membership.objects.filter(user=person).exclude(depot=depot)
        if not elsewhere.exists():
            raise Refused(_("This is the last role of the account. End the account instead."))
    Membership.objects.filter(user=person, depot=depot, role__in=taken).delete()
    Membership.objects.filter(user=person, depot=depot).update(learner=learner)
    _give(person, depot, given, learner=learner)
    data: dict[str, Canonical] = {
        "move": "roles changed", "given": _names(given), "taken": _names(taken),
        "learner": learner,
    }  # fmt: skip
    _seal(depot, person, by=by, at=at, data=data, reason=reason)
    note("roles changed", user=by, of=person.pk, depot=depot.pk, given=_listed(given),
         taken=_listed(taken))  # fmt: skip
    if person.pk != by.pk:
        session.end_all(person)
    return True


@transaction.atomic
def change_account(*, person: User, told: Told, at: datetime, by: User) -> list[str]:
    """Changes name, sign-in name and e-mail address; what was signed keeps the name of its day.

    Returns:
        What was changed: "name", "sign-in name", "e-mail".

    Raises:
        Refused: not theirs to change, or a name that cannot be or is taken.
    """
    person = _theirs(person, by)
    told = _checked(told, of=person)
    pairs = (("name", "name"), ("sign_in", _("sign-in name")), ("email", "e-mail"))
    changed = [word for key, word in pairs if getattr(person, key) != getattr(told, key)]
    if not changed:
        return []
    person.name, person.sign_in, person.email = told.name, told.sign_in, told.email
    person.save(update_fields=["name", "sign_in", "email"])
    _seal_everywhere(person, by=by, at=at, data={"move": "account changed", "changed": [*changed]})
    note("account changed", user=by, of=person.pk, changed=",".join(changed))
    return changed


# --- Passwords -----------------------------------------------------------------------------
@transaction.atomic
def make_way_in(*, person: User, at: datetime, by: User | None, mail: bool = False) -> WayIn:
    """A link by which the person sets a password; the one before counts no more.

    The old password goes on until the link is used, so a link made by mistake locks nobody out.

    Args:
        by: who makes it; None for the command, which who runs the computer uses.
        mail: whether the background also sends it to the person's address, once.

    Raises:
        Refused: not theirs to change, or left; no mail is sent, or the person has no address.
    """
    if by is not None:
        person = _theirs(person, by)
    if mail and not settings.MAIL_ON:
        raise Refused(_("This system sends no mail. Hand the link over."), field="mail")
    if mail and not person.email:
        raise Refused(_("No address is entered. Hand the link over."), field="mail")
    if not person.is_active:
        raise Refused(_("This person has left. Bring the account back first."))
    WayIn.objects.filter(user=person, used_at=None).delete()
    made = WayIn.objects.create(user=person, made_at=at, made_by=by, until=at + LINK_TIME)
    if by is not None:
        _seal_everywhere(person, by=by, at=at, data={"move": "link for a password made"})
    note("link for a password made", user=by, of=person.pk, mailed=mail)
    if mail:
        _promise(made, by=by, at=at)
    return made


def _promise(link: WayIn, *, by: User | None, at: datetime) -> None:
    """The row by which the background sends it, in a depot of the person's."""
    member = (
        Membership.objects.filter(user=link.user, depot__practice_of=None)
        .select_related("depot")
        .first()
    )
    if member is None:
        raise Refused(_("This person has no role anywhere. Give one first."), field="mail")
    row = Message.promised(
        kind=Message.Kind.WAY_IN, thing=link_thing(link), person=link.user, depot=member.depot,
        at=at,
    )  # fmt: skip
    row.asked_by = by or link.user
    row.save()


def way_in_of(code: str, *, at: datetime) -> WayIn | None:
    """The link that stands; None for one that is unknown, used, too old, or of who has left."""
    uid = uid_of(LINK, code)
    if uid is None:
        return None
    return WayIn.objects.standing(at).select_related("user").filter(uid=uid).first()


@transaction.atomic
def use_way_in(*, code: str, password: str, at: datetime) -> User:
    """Sets the password that the person chose, once; every session of theirs ends.

    Raises:
        Refused: the link does not count, or the password cannot be.
    """
    link = way_in_of(code, at=at)
    refused = password_refusal(password, link.user) if link else ""
    if link is None or (
        not refused and not WayIn.objects.standing(at).filter(pk=link.pk).update(used_at=at)
    ):
        raise Refused(_("This link does not count any more. Ask for a new one."))
    if refused:
        raise Refused(refused, field="new_password")
    person = User.objects.select_for_update().get(pk=link.user_id)
    _set_password(person, password, at=at)
    session.end_all(person)
    note("password set by link", user=person, made_by=link.made_by_id)
    return person


@transaction.atomic
def set_own_password(*, user: User, password: str, at: datetime, but: str) -> User:
    """Sets one's own; every other session ends.

    Args:
        but: the key of the session that stays.

    Raises:
        Refused: the password cannot be.
    """
    if refused := password_refusal(password, user):
        raise Refused(refused, field="new_password")
    person = User.objects.select_for_update().get(pk=user.pk)
    _set_password(person, password, at=at)
    session.end_all(person, but=but)
    note("password changed", user=user)
    return person


def password_refusal(password: str, person: User) -> str:
    """Why this person cannot have this password; empty when they can."""
    names = [person.name, person.sign_in, person.email]
    for depot in Depot.objects.filter(memberships__user=person).distinct():
        names += [depot.name, depot.code, depot.address]
    return refusal_among(password, *names)


def refusal_among(password: str, *names: str) -> str:
    """Why this cannot be the password of somebody whom these names are known of."""
    common = CommonPasswordValidator().passwords
    return passwords.refusal(
        password, words=passwords.known_words(*names), is_common=common.__contains__
    )


def _set_password(person: User, password: str, *, at: datetime) -> None:
    person.set_password(passwords.as_kept(password))
    person.password_set_at = at
    person.save(update_fields=["password", "password_set_at"])
    WayIn.objects.filter(user=person, used_at=None).delete()


# --- Leaving and coming back ---------------------------------------------------------------
@transaction.atomic
def end_account(*, person: User, at: datetime, by: User) -> User:
    """The person has left: no session, code, link or password opens anything from now on.

    Roles are kept, so that lists of who was here are right and the account can come back. What a
    phone of theirs has not sent yet is taken and marked; see maintenance/actions/entry.py.

    Raises:
        Refused: oneself, not theirs to change, or the last administrator of a depot.
    """
    depots = [
        _locked(depot)
        for depot in Depot.objects.filter(memberships__user=person).distinct().order_by("pk")
    ]
    person = _theirs(person, by)
    if not person.is_active:
        return person
    held = Membership.objects.filter(user=person, role=Role.ADMINISTRATOR).values("depot")
    _refuse_last(person, [depot for depot in depots if depot.pk in {r["depot"] for r in held}])
    person.is_active, person.ended_at = False, at
    person.set_unusable_password()
    person.save(update_fields=["is_active", "ended_at", "password"])
    forget_ways_in(person)
    _seal_everywhere(person, by=by, at=at, data={"move": "account ended"})
    note("account ended by a person", user=by, of=person.pk)
    return person


def forget_ways_in(person: User) -> None:
    """Sessions, six figures, one-time codes and links: none of them opens anything any more."""
    PhoneCode.objects.filter(user=person).delete()
    OneTime.objects.filter(user=person).delete()
    SpareCode.objects.filter(user=person).delete()
    WayIn.objects.filter(user=person, used_at=None).delete()
    session.end_all(person)


@transaction.atomic
def bring_back(*, person: User, at: datetime, by: User) -> User:
    """The person is here again, with the roles as they were and without a password.

    Raises:
        Refused: not theirs to change.
    """
    person = _theirs(person, by)
    if person.is_active:
        return person
    person.is_active, person.ended_at = True, None
    person.save(update_fields=["is_active", "ended_at"])
    _seal_everywhere(person, by=by, at=at, data={"move": "account brought back"})
    note("account brought back", user=by, of=person.pk)
    return person


@transaction.atomic
def take_codes(*, person: User, at: datetime, by: User) -> None:
    """Takes the one-time codes of who has lost the device for them; sessions end.

    Raises:
        Refused: not theirs to change.
    """
    person = _theirs(person, by)
    OneTime.objects.filter(user=person).delete()
    SpareCode.objects.filter(user=person).delete()
    session.end_all(person)
    _seal_everywhere(person, by=by, at=at, data={"move": "one-time codes taken away"})
    note("one-time codes taken away", user=by, of=person.pk)


@transaction.atomic
def end_sessions(*, person: User, at: datetime, by: User) -> int:
    """Ends every session of somebody; they sign in again as before.

    Raises:
        Refused: not theirs to change.
    """
    person = _theirs(person, by)
    gone = session.end_all(person)
    note("sessions ended by a person", user=by, of=person.pk)
    return gone


# --- Shared --------------------------------------------------------------------------------
def _theirs(person: User, by: User) -> User:
    person = User.objects.select_for_update().get(pk=person.pk)
    if person.pk == by.pk:
        raise Refused(_("This is your own account. Another manager or administrator does this."))
    if not governs(by, person):
        note("refused", user=by, of=person.pk)
        raise Refused(_(_NOT_YOURS))
    return person


def _refuse_above(by: User, depot_id: int, wanted: Collection[Role]) -> None:
    """Raises: NotAllowed: no right to people here; Refused: a role above what they give."""
    role_for(by, Right.PEOPLE, depot_id)
    above = frozenset(wanted) - gives(by, depot_id)
    if above:
        note("refused", user=by, depot=depot_id, wanted=_listed(above))
        words = " and ".join(str(Role(role).label).lower() for role in sorted(above))
        raise Refused(
            _("Your role here does not give the role of {words}. Nothing was changed.").format(
                words=words
            )
        )


def _refuse_last(person: User, depots: Collection[Depot]) -> None:
    """The depots are locked, so two cannot take each other's role at one moment."""
    for depot in depots:
        others = Membership.objects.filter(
            depot=depot, role=Role.ADMINISTRATOR, user__is_active=True
        ).exclude(user=person)
        if not others.exists():
            raise Refused(
                _("{person} is the last administrator of {depot}. Name another one first.").format(
                    person=person.name, depot=depot
                )
            )


def _own_reason(depot: Depot, reason: str) -> str:
    if not depot.one_person:
        raise Refused(_("Nobody changes their own roles. Another manager or administrator does."))
    try:
        return clean(reason, low=SHORTEST_REASON, high=LONGEST_REASON)
    except TextRefused as wrong:
        raise Refused(
            _("Why you change your own roles: {wrong}").format(wrong=wrong), field="reason"
        ) from wrong


def _give(person: User, depot: Depot, given: Collection[Role], *, learner: bool) -> None:
    Membership.objects.bulk_create(
        Membership(user=person, depot=depot, role=role, learner=learner) for role in sorted(given)
    )


def _checked(told: Told, *, of: User | None = None) -> Told:
    try:
        name = clean(told.name, low=1, high=LONGEST_NAME, lines=False)
    except TextRefused as wrong:
        raise Refused(f"Name: {wrong}", field="name") from wrong
    sign_in, email = told.sign_in.strip().casefold(), told.email.strip()
    if of is None or sign_in != of.sign_in:
        try:
            SIGN_IN_NAME(sign_in)
        except ValidationError as wrong:
            raise Refused(wrong.messages[0], field="sign_in") from wrong
        if User.objects.filter(sign_in__iexact=sign_in).exclude(pk=of.pk if of else 0).exists():
            raise Refused(_("This sign-in name is taken. Take another."), field="sign_in")
    if email:
        try:
            validate_email(email)
        except ValidationError as wrong:
            raise Refused(
                _("This is no e-mail address. Write it like ida@yard.example, or leave it out."),
                field="email",
            ) from wrong
    return Told(name, sign_in, email)


def _listed(roles: Collection[Role]) -> str:
    return ",".join(str(role) for role in Role if role in roles)


def _names(roles: Collection[Role]) -> list[Canonical]:
    return [str(role) for role in Role if role in roles]


def _seal_everywhere(
    person: User, *, by: User, at: datetime, data: Mapping[str, Canonical]
) -> None:
    """In the chain of each depot where the account counts."""
    for depot in Depot.objects.filter(memberships__user=person).distinct().order_by("pk"):
        if may(by, Right.PEOPLE, depot.pk):
            _seal(depot, person, by=by, at=at, data=data)


def _seal(
    depot: Depot,
    person: User,
    *,
    by: User,
    at: datetime,
    data: Mapping[str, Canonical],
    reason: str = "",
    record_id: uuid.UUID | None = None,
) -> Record:
    return seal(
        kind=Record.Kind.ACCESS,
        depot=depot,
        data={**data, "account": str(person.pk)},
        happened_at=at,
        received_at=at,
        by=by,
        role=role_for(by, Right.PEOPLE, depot.pk),
        texts={"person": person.name, "reason": reason},
        record_id=record_id,
    )


def _locked(depot: Depot) -> Depot:
    return Depot.objects.select_for_update().get(pk=depot.pk)


def choose_lengths(*, user: User, lengths: str) -> None:
    """Keeps the unit in which a person reads lengths; a matter of taste, so nothing is sealed.

    Raises:
        Refused: another unit than millimetres and inches.
    """
    if lengths not in Lengths.values:
        raise Refused(_("Choose millimetres or inches. Nothing was changed."), field="lengths")
    User.objects.filter(pk=user.pk).update(lengths=lengths)
