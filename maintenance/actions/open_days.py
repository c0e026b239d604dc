"""A depot's week: which days it is open, the fitters' time, and the days it is closed."""

from collections.abc import Mapping
from datetime import date

from django.db import transaction
from django.utils.translation import gettext

from maintenance.models import ClosedDay, WeekDay
from plant.actions.refusal import Refused
from plant.models import Depot, User
from plant.rights import Right, role_for
from plant.text import TextRefused, clean

MOST_MINUTES = 60_000


@transaction.atomic
def set_week(*, depot: Depot, days: Mapping[int, tuple[bool, int]], by: User) -> None:
    """Sets the week of the depot.

    Args:
        days: weekday (0 is Monday) to whether it is open, and the fitters' time in minutes.

    Raises:
        PermissionError: no role of theirs sets it.
        Refused: time out of range, or no day open.
    """
    role_for(by, Right.PLAN, depot.pk)
    if not any(is_open for is_open, _ in days.values()):
        raise Refused(gettext("Leave at least one day open."))
    for weekday, (is_open, minutes) in days.items():
        if not 0 <= minutes <= MOST_MINUTES:
            raise Refused(gettext("Enter 0 to 1000 h of fitters' time."), field=f"hours_{weekday}")
        WeekDay.objects.update_or_create(
            depot=depot,
            weekday=weekday,
            defaults={"is_open": is_open, "fitter_minutes": minutes},
        )


@transaction.atomic
def close_day(*, depot: Depot, on: date, name: str, by: User) -> ClosedDay:
    """Marks one day as closed. Due days stay as they are; the day to do it by comes forward.

    Raises:
        PermissionError: no role of theirs sets it.
        Refused: no name for it.
    """
    role_for(by, Right.PLAN, depot.pk)
    try:
        name = clean(name, low=1, high=60)
    except TextRefused as wrong:
        raise Refused(
            gettext("Why it is closed: {wrong}").format(wrong=wrong), field="name"
        ) from wrong
    day, _ = ClosedDay.objects.update_or_create(depot=depot, on=on, defaults={"name": name})
    return day


@transaction.atomic
def open_day(*, depot: Depot, on: date, by: User) -> None:
    """Takes a closed day away again; nothing happens where there is none."""
    role_for(by, Right.PLAN, depot.pk)
    ClosedDay.objects.filter(depot=depot, on=on).delete()
