"""When checks are wanted: for one machine or many, and which are overdue while in use."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta
from types import MappingProxyType
from typing import Any, TypeAlias

from django.db.models import Count, DateTimeField, F, FilteredRelation, Q, QuerySet, Window
from django.utils.translation import gettext, gettext_noop

from maintenance.models import RuleSheet, Stay, Stop
from maintenance.rules import check_due as rule
from maintenance.rules.words import day_text
from plant.kept import Given, Kept
from plant.models import Depot, Machine, Place, Supply, User
from plant.rights import depots_of
from plant.sealing import Canonical

_NONE: Mapping[int, RuleSheet | None] = MappingProxyType({})
# Words by state, for lists and pages; the day is filled in.
_HEADS = {
    rule.WANTED: gettext_noop("Check wanted today, before use."),
    rule.BEFORE_USE: gettext_noop("Check it before use."),
}


class Wanted:
    """How a machine's next check stands, in words."""

    def __init__(self, found: rule.CheckDue, machine: Machine, at: datetime) -> None:
        self.state, self.on, self.why, self.interval = (
            found.state, found.on, found.why, found.interval,
        )  # fmt: skip
        self.overdue = found.state == rule.OVERDUE
        self._machine, self._at = machine, at

    def __str__(self) -> str:
        """The one sentence that is shown at the scan."""
        passed = self._machine.passed_at
        if self.overdue and self.on:
            return gettext("Check is overdue since {day}.").format(day=day_text(self.on))
        if self.state in _HEADS:
            return gettext(_HEADS[self.state])
        assert passed is not None
        then = passed.astimezone(self._machine.depot.zone)
        today = self._machine.depot.day_of(self._at)
        told = (
            gettext("Checked today {at}.")
            if then.date() == today
            else gettext("Checked on {day}, {at}.")
        )
        return told.format(day=day_text(then.date()), at=f"{then:%H:%M}")

    @property
    def source(self) -> str:
        """The rule behind it, and how far it was seen."""
        if self.interval is None:
            return ""
        return f"{self.interval.words}. {self.interval.source} ({self.interval.trust})"

    def sealed(self) -> Canonical:
        """As it stands on the record of a check."""
        return {
            "on": self.on.isoformat() if self.on else None,
            "rule": self.interval.words if self.interval else None,
            "source": self.interval.source if self.interval else None,
            "trust": self.interval.trust if self.interval else None,
        }


def wanted_of(machine: Machine, *, at: datetime, sheet: RuleSheet | None = None) -> Wanted:
    """When this machine's next check is wanted; by this rule sheet, where it was read before."""
    sheets = {machine.depot_id: sheet} if sheet else {}
    return wanted_of_many([machine], at=at, sheets=sheets)[machine.pk]


def sheets_of(depots: Iterable[Depot], *, at: datetime) -> dict[int, RuleSheet | None]:
    """The rule sheet in force at each depot today, by its key; one query a day of theirs."""
    days: dict[date, RuleSheet | None] = {}
    found = {}
    for depot in depots:
        day = depot.day_of(at)
        if day not in days:
            days[day] = _sheet(depot, at)
        found[depot.pk] = days[day]
    return found


def wanted_of_many(
    machines: Iterable[Machine],
    *,
    at: datetime,
    sheets: Mapping[int, RuleSheet | None] = _NONE,
    out_at: Mapping[int, datetime | None] | None = None,
) -> dict[int, Wanted]:
    """The same of many by their keys; two queries, whatever their number.

    The machines need their depot read ahead.

    Args:
        sheets: the rule sheets by depot; out_at: since when each is out; where they were read
            before.
    """
    machines = list(machines)
    if out_at is None:
        stays = Stay.objects.open().filter(machine__in=machines)
        out_at = dict(stays.values_list("machine_id", "out_at"))
    unread = {each.depot_id: each.depot for each in machines if each.depot_id not in sheets}
    in_force = {**sheets, **sheets_of(unread.values(), at=at)}
    found = {}
    for machine in machines:
        depot = machine.depot
        sheet = in_force[depot.pk]
        went, passed = out_at.get(machine.pk), machine.passed_at
        found[machine.pk] = Wanted(
            rule.due(
                rule.rule_for(sheet.rules.intervals, supply=machine.supply) if sheet else None,
                out=machine.in_use,
                out_on=depot.day_of(went) if went else None,
                passed_on=depot.day_of(passed) if passed else None,
                passed_here=bool(passed and (went is None or passed >= went)),
                on=depot.day_of(at),
            ),
            machine,
            at,
        )
    return found


def overdue_in_use(
    machines: QuerySet[Machine], depots: Iterable[Depot], *, at: datetime
) -> QuerySet[Machine]:
    """Only the machines that are out with a check overdue, the longest first: the rule in SQL.

    Without those that must not be used, since nobody should check them but who puts them right.
    Each is told since when it is out, as ``out_at``.
    """
    depots = list(depots)
    asked, moments = _asked(depots, sheets_of(depots, at=at), at)
    return _overdue(machines, asked, moments)


def first_overdue(
    user: User, sheets: Mapping[int, RuleSheet | None], *, at: datetime, most: int
) -> list[Any]:
    """The first of them that the person sees, each with how many there are as ``in_all``."""
    asked, moments = _asked(depots_of(user), sheets, at)
    return _FIRST_OVERDUE.rows(user, asked, most, **moments)


# By depot: each rule by how many days a check holds, whether it is asked before the first use, and
# the supplies that it is for.
_Asked: TypeAlias = tuple[tuple[int, tuple[tuple[int, bool, tuple[str, ...]], ...]], ...]


def _asked(
    depots: Iterable[Depot], sheets: Mapping[int, RuleSheet | None], at: datetime
) -> tuple[_Asked, dict[str, datetime]]:
    """The rules, and the midnights that they look at, by name."""
    asked, moments = [], {}
    for depot in depots:
        rules = _alike(sheets[depot.pk])
        asked.append(
            (depot.pk, tuple((*which, tuple(supplies)) for which, supplies in rules.items()))
        )
        for days in {0, *(days for days, _ in rules)}:
            moments[f"midnight_{depot.pk}_{days}"] = _midnight(depot, at, days)
    return tuple(asked), moments


def _overdue(
    machines: QuerySet[Machine], asked: _Asked, moments: Mapping[str, Any]
) -> QuerySet[Machine]:
    late = Q(pk__in=())
    for depot, rules in asked:
        out_before_today = Q(out_at__lt=moments[f"midnight_{depot}_0"])
        for every_days, before_first_use, supplies in rules:
            unseen_here = Q(passed_at__isnull=True)
            if before_first_use:
                unseen_here |= Q(out_at__gt=F("passed_at"))
            counted = Q(passed_at__lt=moments[f"midnight_{depot}_{every_days}"])
            late |= Q(depot=depot, supply__in=supplies) & (counted | out_before_today & unseen_here)
    late_first = F("passed_at").asc(nulls_first=True)
    stopped = Stop.objects.standing().exclude(kind=Stop.Kind.CARRY_ON).values("machine")
    # A machine has one stay at a time.
    open_stay = FilteredRelation("stays", condition=Q(stays__back_at__isnull=True))
    machines = machines.filter(place=Place.OUT).annotate(
        open_stay=open_stay, out_at=F("open_stay__out_at")
    )
    machines = machines.filter(late)
    return machines.exclude(pk__in=stopped).order_by(late_first, "number_key")


def _first_overdue(user: User, asked: _Asked, most: int) -> QuerySet[Machine]:
    moments: dict[str, Any] = {}
    for depot, rules in asked:
        for days in {0, *(days for days, *_ in rules)}:
            name = f"midnight_{depot}_{days}"
            moments[name] = Given(name, DateTimeField())
    return (
        _overdue(Machine.objects.visible_to(user), asked, moments)
        .annotate(in_all=Window(Count("*")))
        .select_related("kind", "depot")
        .only("number", "supply", "place", "site", "passed_at", "kind__name", "depot")[:most]
    )


_FIRST_OVERDUE = Kept(_first_overdue)


def _alike(sheet: RuleSheet | None) -> dict[tuple[int, bool], list[str]]:
    """The supplies by how many days a check holds, and whether it is asked before the first use."""
    found: dict[tuple[int, bool], list[str]] = {}
    for supply in Supply.values if sheet else ():
        assert sheet is not None
        interval = rule.rule_for(sheet.rules.intervals, supply=supply)
        if interval is not None and interval.every_days is not None:
            key = interval.every_days, interval.before_first_use
            found.setdefault(key, []).append(supply)
    return found


def _midnight(depot: Depot, at: datetime, days_before: int) -> datetime:
    day = depot.day_of(at) - timedelta(days=days_before)
    return datetime.combine(day, time(), tzinfo=depot.zone)


def _sheet(depot: Depot, at: datetime) -> RuleSheet | None:
    try:
        return RuleSheet.objects.on(depot.day_of(at))
    except RuleSheet.DoesNotExist:
        return None
