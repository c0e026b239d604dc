"""Where a person is signed in: noted when it begins, kept up while it is used, ended."""

from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth import SESSION_KEY, login
from django.contrib.sessions.models import Session
from django.db import transaction
from django.http import HttpRequest

from plant.models import Firm, OneTime, Phone, SignedIn, User
from plant.rights import is_senior

MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"
# Where a session keeps when it began, when it was last used, and when a password was last typed.
BEGUN, USED, PROVEN = "begun_at", "used_at", "proven_at"
# Set where one-time codes are asked for and are not set up yet; nothing else opens before.
OWES_CODES = "owes_codes"
# A use is noted no oftener than this.
NOTED_EVERY = timedelta(minutes=1)


def lifetimes(user: User) -> tuple[timedelta, timedelta]:
    """How long a session lasts unused, and how long in all.

    Who manages or administers sits at a desk that others pass, and can do more; a check on a site
    must not begin with a password.
    """
    if is_senior(user):
        return timedelta(hours=1), timedelta(hours=12)
    return timedelta(hours=12), timedelta(days=7)


def begin(request: HttpRequest, user: User, *, at: datetime, phone: Phone | None = None) -> None:
    """Signs the person in under a new session key, and notes where.

    Args:
        phone: the shared phone, where it was done by name and code: that proves no password.
    """
    login(request, user, backend=MODEL_BACKEND)
    request.session[BEGUN] = request.session[USED] = at.isoformat()
    request.session.pop(PROVEN, None)
    request.session.pop(OWES_CODES, None)
    if phone is None:
        request.session[PROVEN] = at.isoformat()
        if owes_codes(user):
            request.session[OWES_CODES] = True
    request.session.save()
    note_key(request, user, at=at, phone=phone)


def note_key(request: HttpRequest, user: User, *, at: datetime, phone: Phone | None = None) -> None:
    """The row by which this session is seen and ended; those that are over go."""
    key = request.session.session_key or ""
    told = {"user": user, "seen_at": at, "device": device_of(request), "phone": phone}
    SignedIn.objects.update_or_create(
        session_key=key, defaults=told, create_defaults={**told, "begun_at": at}
    )
    for row in SignedIn.objects.filter(user=user).exclude(session_key=key):
        if not Session.objects.filter(session_key=row.session_key, expire_date__gt=at).exists():
            row.delete()


def owes_codes(user: User) -> bool:
    """Whether the firm asks this person for one-time codes that are not set up yet."""
    if not is_senior(user) or not Firm.now().codes_asked:
        return False
    return not OneTime.objects.filter(user=user, confirmed_at__isnull=False).exists()


def ends_at(session: Any, user: User) -> datetime | None:
    """When this session is over if it is not used again; None where nothing is known of it."""
    begun, used = session.get(BEGUN), session.get(USED)
    if begun is None or used is None:
        return None
    unused, whole = lifetimes(user)
    return min(
        datetime.fromisoformat(str(used)) + unused, datetime.fromisoformat(str(begun)) + whole
    )


def note_use(request: HttpRequest, user: User, *, at: datetime) -> None:
    """That the session was used. One that did not begin here ends by its own time."""
    used = request.session.get(USED)
    if used is None or at - datetime.fromisoformat(str(used)) < NOTED_EVERY:
        return
    request.session[USED] = at.isoformat()
    SignedIn.objects.filter(session_key=request.session.session_key).update(seen_at=at)


def standing(user: User, *, at: datetime) -> list[SignedIn]:
    """The sessions of a person that still open something, the newest used first."""
    unused, whole = lifetimes(user)
    rows = SignedIn.objects.filter(
        user=user, seen_at__gt=at - unused, begun_at__gt=at - whole
    ).select_related("phone")
    kept = set(
        Session.objects.filter(
            session_key__in=[row.session_key for row in rows], expire_date__gt=at
        ).values_list("session_key", flat=True)
    )
    return [row for row in rows if row.session_key in kept]


@transaction.atomic
def end(rows: list[SignedIn]) -> int:
    """Ends these sessions: their next request is nobody's. Twice is harmless."""
    keys = [row.session_key for row in rows]
    Session.objects.filter(session_key__in=keys).delete()
    SignedIn.objects.filter(session_key__in=keys).delete()
    return len(keys)


def end_all(user: User, *, but: str = "") -> int:
    """Ends every session of a person, also one that was never noted.

    Args:
        but: the key of the one that stays.
    """
    gone = end(list(SignedIn.objects.filter(user=user).exclude(session_key=but)))
    for session in Session.objects.exclude(session_key=but).iterator():
        if session.get_decoded().get(SESSION_KEY) == str(user.pk):
            session.delete()
            gone += 1
    return gone


def device_of(request: HttpRequest) -> str:
    """ "phone", "tablet" or "computer", by what the browser says; no more of it is kept."""
    told = request.META.get("HTTP_USER_AGENT", "").casefold()
    if "tablet" in told or "ipad" in told:
        return "tablet"
    return "phone" if "mobi" in told else "computer"
