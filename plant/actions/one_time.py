"""One-time codes: set up, taken at sign-in each once, given up; and the spare codes."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from plant import one_time
from plant.actions.refusal import Refused
from plant.actions.session import owes_codes
from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.models import Firm, OneTime, SpareCode, User
from plant.rights import is_senior
from plant.security_log import note

NOT_RIGHT = gettext_noop("This code does not count. Type the one that shows now; each counts once.")


@transaction.atomic
def begin(*, user: User, at: datetime) -> OneTime:
    """A new secret that counts once a code of it was typed; one that counts already stays.

    Raises:
        Refused: codes are set up already.
    """
    row = OneTime.objects.select_for_update().filter(user=user).first()
    if row is not None and row.confirmed_at is not None:
        raise Refused(_("One-time codes are set up already. Give them up first."))
    kept = {"secret": one_time.locked(one_time.new_secret()), "begun_at": at, "last_step": 0}
    return OneTime.objects.update_or_create(user=user, defaults=kept)[0]


@transaction.atomic
def confirm(*, user: User, typed: str, at: datetime) -> list[str]:
    """The first code makes the secret count; gives the spare codes, shown this once.

    Raises:
        Refused: not begun, set up already, or another code.
    """
    row = OneTime.objects.select_for_update().filter(user=user, confirmed_at=None).first()
    if row is None:
        raise Refused(_("Nothing is waiting to be set up. Begin again."))
    step = _fits(row, typed, at=at)
    if step is None:
        raise Refused(_(NOT_RIGHT), field="code")
    row.confirmed_at, row.last_step = at, step
    row.save(update_fields=["confirmed_at", "last_step"])
    note("one-time codes set up", user=user)
    return new_spares(user=user)


@transaction.atomic
def new_spares(*, user: User) -> list[str]:
    """Ten new spare codes; those before count no more."""
    codes = one_time.new_spare_codes()
    SpareCode.objects.filter(user=user).delete()
    SpareCode.objects.bulk_create(
        SpareCode(user=user, code_hash=one_time.spare_hash(code)) for code in codes
    )
    note("spare codes made", user=user)
    return codes


@transaction.atomic
def give_up(*, user: User) -> None:
    """From now on a password alone signs in.

    Raises:
        Refused: the firm asks for the codes.
    """
    if is_senior(user) and Firm.now().codes_asked:
        raise Refused(_("The firm asks you for one-time codes. They stay."))
    OneTime.objects.filter(user=user).delete()
    SpareCode.objects.filter(user=user).delete()
    note("one-time codes given up", user=user)


def has_codes(user: User) -> bool:
    return OneTime.objects.filter(user=user, confirmed_at__isnull=False).exists()


def check(*, user: User, typed: str, address: str, at: datetime) -> bool:
    """Whether a one-time or a spare code was typed; either counts once.

    Raises:
        HeldBack: too many were wrong; this try is not counted.
    """
    attempt = begin_attempt(sign_in=f"one-time {user.pk}", address=address, at=at)
    typed = one_time.typed_spare(typed)
    if len(typed) == one_time.FIGURES:
        right = _take(user, typed, at=at)
    else:
        right = bool(
            SpareCode.objects.filter(
                user=user, used_at=None, code_hash=one_time.spare_hash(typed)
            ).update(used_at=at)
        )
        if right:
            note("spare code used", user=user)
    if right:
        forget_attempts(attempt)
    return right


def _take(user: User, typed: str, *, at: datetime) -> bool:
    row = OneTime.objects.filter(user=user, confirmed_at__isnull=False).first()
    step = _fits(row, typed, at=at) if row else None
    if row is None or step is None:
        return False
    # Of two that come at one moment with the same code, one wins.
    return bool(OneTime.objects.filter(pk=row.pk, last_step__lt=step).update(last_step=step))


def _fits(row: OneTime, typed: str, *, at: datetime) -> int | None:
    secret = one_time.opened(row.secret)
    if secret is None:
        return None
    figures = one_time.typed_spare(typed)
    return one_time.step_that_fits(secret, figures, at=at, after=row.last_step)


__all__ = ["HeldBack", "begin", "check", "confirm", "give_up", "has_codes", "new_spares",
           "owes_codes"]  # fmt: skip
