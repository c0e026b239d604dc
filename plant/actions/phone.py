"""Enrolling and withdrawing shared phones, setting codes, and signing in by them."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.db import IntegrityError, transaction
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _

from plant import phone_codes
from plant.actions.refusal import Refused
from plant.actions.sign_in import HeldBack
from plant.models import Depot, Membership, Phone, PhoneCode, SignInAttempt, User
from plant.models.attempt import code_key, phone_key
from plant.models.phone import FIRST_CODE_TIME, LINK_TIME, hashed, link_hashed
from plant.rights import ON_A_PHONE, Right, role_for
from plant.text import TextRefused, clean

LONGEST_NAME = 40
# Works on a code like any other, and is nobody's.
NO_CODE = "!"
# A phone is noted as seen no oftener than this.
SEEN_EVERY = timedelta(minutes=5)
# A session on a phone ends after this, however much it is used.
LONGEST_SESSION = timedelta(days=7)


# --- Phones --------------------------------------------------------------------------------
@transaction.atomic
def ask_phone(*, depot: Depot, name: str, by: User, at: datetime) -> tuple[Phone, str]:
    """A place for a phone, and the code that enrols it once within the hour.

    Raises:
        Refused: no name, or one that another phone of the depot bears.
    """
    role_for(by, Right.PEOPLE, depot.pk)
    try:
        name = clean(name, low=1, high=LONGEST_NAME, lines=False)
    except TextRefused as wrong:
        raise Refused(f"Name: {wrong}", field="name") from wrong
    code = phone_codes.new_link_code()
    # One that was asked for and never opened gives its name back.
    Phone.objects.filter(depot=depot, enrolled_at=None, link_until__lte=at).delete()
    try:
        with transaction.atomic():
            phone = Phone.objects.create(
                depot=depot,
                name=name,
                asked_at=at,
                asked_by=by,
                link_hash=link_hashed(code),
                link_until=at + LINK_TIME,
            )
    except IntegrityError as same:
        raise Refused(_("Another phone of this depot bears that name."), field="name") from same
    return phone, code


def enrol(*, code: str, at: datetime) -> tuple[Phone, str]:
    """Uses the code up; the phone's secret is told once and kept as a hash.

    Raises:
        Refused: unknown, used, too old or withdrawn; which of them is not told.
    """
    secret = secrets.token_urlsafe(16)
    link = link_hashed(phone_codes.typed_link_code(code))
    won = Phone.objects.filter(
        link_hash=link, enrolled_at=None, withdrawn_at=None, link_until__gt=at
    ).update(link_hash="", key_hash=hashed(secret), enrolled_at=at, last_seen_at=at)
    if not won:
        raise Refused(_("This code does not count. Nothing was enrolled. Ask for a new one."))
    return Phone.objects.select_related("depot").get(key_hash=hashed(secret)), secret


def withdraw(*, phone: Phone, by: User, at: datetime) -> None:
    """Ends it at once: whoever is signed in on it is out with the next request."""
    role_for(by, Right.PEOPLE, phone.depot_id)
    Phone.objects.filter(pk=phone.pk, withdrawn_at=None).update(
        withdrawn_at=at, withdrawn_by=by, link_hash=""
    )


def note_seen(phone: Phone, *, at: datetime) -> bool:
    """Whether it was worth noting."""
    if phone.last_seen_at is not None and at - phone.last_seen_at < SEEN_EVERY:
        return False
    return bool(Phone.objects.filter(pk=phone.pk).update(last_seen_at=at))


# --- Codes ---------------------------------------------------------------------------------
def set_own_code(*, user: User, code: str, at: datetime) -> PhoneCode:
    """Raises: Refused: not six figures, easily guessed, or the same as before."""
    refused = phone_codes.refusal(code)
    if refused:
        raise Refused(refused, field="new_code")
    before = PhoneCode.objects.filter(user=user).first()
    if before is not None and check_password(code, before.code):
        raise Refused(_("This is the code you have now. Take another."), field="new_code")
    return _set(user, code, at=at, first_until=None)


def give_first_code(*, person: User, depot: Depot, by: User, at: datetime) -> str:
    """Six figures by chance, good for a day; the person changes them when they first sign in.

    Raises:
        Refused: the giver themselves, or somebody who does not sign in on a phone of the depot.
    """
    role_for(by, Right.PEOPLE, depot.pk)
    if person.pk == by.pk:
        raise Refused(_("For yourself, set your own code instead."))
    if not people_on_phones(depot.pk).filter(pk=person.pk).exists():
        raise Refused(_("This person does not sign in on phones of this depot."))
    code = phone_codes.new_code()
    _set(person, code, at=at, first_until=at + FIRST_CODE_TIME)
    return code


def _set(user: User, code: str, *, at: datetime, first_until: datetime | None) -> PhoneCode:
    kept = {"code": make_password(code), "set_at": at, "first_until": first_until, "wrong": 0}
    return PhoneCode.objects.update_or_create(user=user, defaults=kept)[0]


# --- Signing in ----------------------------------------------------------------------------
def people_on_phones(depot_id: int) -> QuerySet[User]:
    """Who may sign in on a phone of the depot: its people with a role that counts there."""
    held = Membership.objects.filter(depot=depot_id, role__in=list(ON_A_PHONE)).values("user")
    return User.objects.filter(is_active=True, pk__in=held)


def begin_code_attempt(*, person: int, phone: Phone, at: datetime) -> SignInAttempt:
    """Counts the try before any code is worked on: for the person, and for the phone.

    Raises:
        HeldBack: too many were wrong; this try is not counted.
    """
    SignInAttempt.objects.older_than_kept(at).delete()
    key, address = code_key(person, phone.depot_id), phone_key(phone.pk)
    mine = SignInAttempt.objects.create(name_key=key, address=address, at=at)
    others = SignInAttempt.objects.exclude(pk=mine.pk)
    free_at = max(others.name_free_at(key, at=at), others.phone_free_at(address, at=at))
    if free_at > at:
        mine.delete()
        raise HeldBack(free_at - at)
    return mine


@dataclass(frozen=True)
class Known:
    """Whose code it was; first: it is a first code, which is changed before anything else."""

    user: User
    code: PhoneCode
    first: bool


def known_by_code(*, person: int, code: str, phone: Phone, at: datetime) -> Known | None:
    """Whose six figures these are, on this phone; None whatever is wrong with them.

    Works on exactly one code, also for who has none, has left or is of another depot.
    """
    here = people_on_phones(phone.depot_id).filter(pk=person)
    # Counted before it is worked on, so that tries side by side count too.
    PhoneCode.objects.filter(user__in=here).update(wrong=F("wrong") + 1)
    kept = PhoneCode.objects.select_related("user").filter(user=person).first()
    if not check_password(code, kept.code if kept else NO_CODE):
        return None
    if kept is None or not kept.works(at):
        return None
    if not here.exists():
        return None
    PhoneCode.objects.filter(pk=kept.pk).update(wrong=0)
    return Known(kept.user, kept, kept.first_until is not None)


def phone_of_session(
    *, told: object, secret: str, user: User, at: datetime
) -> tuple[Phone | None, bool]:
    """The phone of a session that was begun on one, and whether it was noted as seen just now.

    None where the session is over: the phone was withdrawn or is another, the code was changed,
    or a week has gone by.
    """
    if not isinstance(told, dict):
        return None, False
    phone = Phone.objects.by_secret(secret)
    if phone is None or phone.pk != told.get("phone"):
        return None, False
    since = datetime.fromisoformat(str(told.get("since")))
    stamp = datetime.fromisoformat(str(told.get("code")))
    if at - since > LONGEST_SESSION:
        return None, False
    if not PhoneCode.objects.filter(user=user, set_at=stamp).exists():
        return None, False
    return phone, note_seen(phone, at=at)
