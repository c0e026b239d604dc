"""Fills the list of rights: who has which roles in which depot, for signature."""

from collections.abc import Collection
from datetime import datetime

from django.utils.translation import gettext as _

from maintenance.rules.words import day_text, moment_text
from plant.contents.people import Account, accounts
from plant.models import Depot, Firm, Role, User
from plant.rights import depots_of
from reports.pdf.page import Printed
from reports.pdf.rights_list import Line, Part, RightsList


def rights_list(user: User, *, depots: Collection[int], at: datetime) -> RightsList:
    """The accounts of these depots as they stand now; times by the clock of the asker's depot."""
    home = next(iter(depots_of(user)), None)
    local = at.astimezone(home.zone) if home else at
    found = accounts(user)
    firm = Firm.now()
    return RightsList(
        printed=Printed(at=moment_text(local), by=user.name),
        day=day_text(local),
        codes=(
            _("Managers and administrators sign in with a one-time code.")
            if firm.codes_asked
            else _("One-time codes are not asked of managers and administrators.")
        ),
        roles=tuple(str(role.label) for role in Role),
        parts=tuple(
            Part(
                depot=depot.name,
                lines=tuple(
                    _line(each, depot)
                    for each in found
                    if _held(each, depot) and each.user.is_active
                ),
                left=tuple(
                    f"{each.user.name} ({each.state_words})"
                    for each in found
                    if _held(each, depot) and not each.user.is_active
                ),
            )
            for depot in Depot.objects.filter(pk__in=depots).order_by("name")
        ),
    )


def _held(account: Account, depot: Depot) -> list[Role]:
    return next((held for at, held in account.roles if at.pk == depot.pk), [])


def _line(account: Account, depot: Depot) -> Line:
    held = _held(account, depot)
    return Line(
        name=account.user.name,
        sign_in=account.user.sign_in,
        held=tuple(role in held for role in Role),
        learner=account.learner,
        codes=bool(getattr(account.user, "has_codes", False)),
        last=account.last_words,
    )
