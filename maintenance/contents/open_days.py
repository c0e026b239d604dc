"""When a depot is open, and how much fitter time each of its days has."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import QuerySet

from maintenance.models import ClosedDay, WeekDay
from maintenance.rules.due import do_by
from plant.kept import Kept
from plant.models import Depot, User
from plant.rights import Right, depots_where

WORKING_WEEK = range(5)  # Monday to Friday, until somebody says otherwise


@dataclass(frozen=True)
class OpenDays:
    """One depot's week and its closed days.

    minutes: [min] fitter time by weekday; told: whether anybody ever said how the week is.
    """

    open_weekdays: frozenset[int] = frozenset(WORKING_WEEK)
    minutes: dict[int, int] = field(default_factory=dict)
    closed: frozenset[date] = frozenset()
    told: bool = False

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.open_weekdays and day not in self.closed

    def minutes_on(self, day: date) -> int:
        return self.minutes.get(day.weekday(), 0) if self.is_open(day) else 0

    def do_by(self, day: date) -> date:
        """The last open day on or before a day; the day itself where none is near."""
        try:
            return do_by(day, is_open=self.is_open)
        except ValueError:
            return day


def open_days(depots: Iterable[Depot | int]) -> dict[int, OpenDays]:
    """By the depot's key; two queries, whatever their number."""
    pks = [depot if isinstance(depot, int) else depot.pk for depot in depots]
    return _by_depot(pks, _weeks(pks), _closed(pks))


def open_days_of(user: User) -> dict[int, OpenDays]:
    """The same of every depot that the person sees."""
    return _by_depot(depots_where(user, Right.SEE), _WEEKS.rows(user), _CLOSED.rows(user))


def _weeks(pks: Iterable[int]) -> QuerySet[WeekDay]:
    return WeekDay.objects.filter(depot__in=pks)


def _closed(pks: Iterable[int]) -> QuerySet[ClosedDay, Any]:
    return ClosedDay.objects.filter(depot__in=pks).values_list("depot", "on")


_WEEKS = Kept(lambda user: _weeks(depots_where(user, Right.SEE)))
_CLOSED = Kept(lambda user: _closed(depots_where(user, Right.SEE)))


def _by_depot(
    pks: Iterable[int], week_days: Iterable[WeekDay], closed_days: Iterable[tuple[int, date]]
) -> dict[int, OpenDays]:
    weeks: dict[int, list[WeekDay]] = {pk: [] for pk in pks}
    for row in week_days:
        weeks[row.depot_id].append(row)
    closed: dict[int, set[date]] = {pk: set() for pk in weeks}
    for depot_id, on in closed_days:
        closed[depot_id].add(on)
    return {
        pk: OpenDays(
            open_weekdays=frozenset(row.weekday for row in week if row.is_open)
            if week
            else frozenset(WORKING_WEEK),
            minutes={row.weekday: row.fitter_minutes for row in week},
            closed=frozenset(closed[pk]),
            told=bool(week),
        )
        for pk, week in weeks.items()
    }
