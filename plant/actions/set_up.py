"""The first firm, depot and account of an empty system, by a link that its console printed."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core import signing
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext, gettext_noop

from plant.actions.account import refusal_among
from plant.actions.refusal import Refused
from plant.models import Depot, Membership, Role, SetUp, User
from plant.passwords import as_kept

# Who starts a system sets it up the same day; a new start prints a new link.
OPEN_FOR = timedelta(hours=24)
_SALT = "set up"
DONE_ALREADY = gettext_noop("This system is set up already. Nothing was changed. Sign in.")


@dataclass(frozen=True)
class Beginning:
    """What is told to begin with."""

    firm: str
    depot: str
    code: str
    time_zone: str
    one_person: bool
    checks_by_label: bool
    name: str
    sign_in: str
    email: str
    password: str


def is_wanted() -> bool:
    """Whether nobody has begun here yet."""
    return not (SetUp.objects.exists() or Depot.objects.exists() or User.objects.exists())


def new_code() -> str:
    """What the link carries: a moment with the site's signature, which nobody else can make."""
    return signing.TimestampSigner(salt=_SALT, sep="~").sign("1")


def opens(code: str) -> bool:
    """Whether the code is ours, of today, and nobody has begun yet."""
    try:
        signing.TimestampSigner(salt=_SALT, sep="~").unsign(code, max_age=OPEN_FOR)
    except signing.BadSignature:
        return False
    return is_wanted()


def set_up(told: Beginning, *, at: datetime) -> User:
    """Makes the first depot, and its first person: manager and administrator of it.

    In a one-person depot that person has every role.

    Raises:
        Refused: somebody was first, or the password is too easily guessed.
    """
    roles = list(Role) if told.one_person else [Role.MANAGER, Role.ADMINISTRATOR]
    person = User(sign_in=told.sign_in, name=told.name, email=told.email)
    refused = refusal_among(
        told.password, told.firm, told.depot, told.code, told.name, told.sign_in, told.email
    )
    if refused:
        raise Refused(refused, field="password")
    try:
        with transaction.atomic():
            # The one row of its table: whoever writes it second is turned away by the database.
            SetUp.objects.create(firm=told.firm, at=at)
            if Depot.objects.exists() or User.objects.exists():
                raise Refused(gettext(DONE_ALREADY))
            depot = Depot(
                code=told.code, name=told.depot, time_zone=told.time_zone,
                one_person=told.one_person, checks_by_label=told.checks_by_label,
            )  # fmt: skip
            depot.full_clean()
            depot.save()
            person.set_password(as_kept(told.password))
            person.password_set_at = at
            person.full_clean(exclude=["password"])
            person.save()
            for role in roles:
                Membership.objects.create(user=person, depot=depot, role=role)
    except IntegrityError as second:
        raise Refused(gettext(DONE_ALREADY)) from second
    except ValidationError as odd:
        field, words = next(iter(odd.message_dict.items()))
        raise Refused(" ".join(words), field=field) from odd
    return person
