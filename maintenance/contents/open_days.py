"""When a depot is open, and how much fitter time each of its days has."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from maintenance.models import ClosedDay, WeekDay
from maintenance.rules.due import do_by
from plant.models import Depot

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
    weeks: dict[int, list[WeekDay]] = {pk: [] for pk in pks}
    for row in WeekDay.objects.filter(depot__in=pks):
        weeks[row.depot_id].append(row)
    closed: dict[int, set[date]] = {pk: set() for pk in pks}
    for depot_id, on in ClosedDay.objects.filter(depot__in=pks).values_list("depot", "on"):
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
