"""When checks are wanted: for one machine or many, and which are overdue while in use."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta
from types import MappingProxyType

from django.db.models import F, FilteredRelation, Q, QuerySet

from maintenance.models import RuleSheet, Stay, Stop
from maintenance.rules import check_due as rule
from maintenance.rules.words import day_text
from plant.models import Depot, Machine, Place, Supply
from plant.sealing import Canonical

_NONE: Mapping[int, RuleSheet | None] = MappingProxyType({})
# Words by state, for lists and pages; the day is filled in.
_HEADS = {
    rule.WANTED: "Check wanted today, before use.",
    rule.BEFORE_USE: "Check it before use.",
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
            return f"Check is overdue since {day_text(self.on)}."
        if self.state in _HEADS:
            return _HEADS[self.state]
        assert passed is not None
        then = passed.astimezone(self._machine.depot.zone)
        today = self._machine.depot.day_of(self._at)
        day = "today" if then.date() == today else f"on {day_text(then.date())},"
        return f"Checked {day} {then:%H:%M}."

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
    machines: QuerySet[Machine],
    depots: Iterable[Depot],
    *,
    at: datetime,
    sheets: Mapping[int, RuleSheet | None] | None = None,
) -> QuerySet[Machine]:
    """Only the machines that are out with a check overdue, the longest first: the rule in SQL.

    Without those that must not be used, since nobody should check them but who puts them right.
    Each is told since when it is out, as ``out_at``.
    """
    late = Q(pk__in=())
    depots = list(depots)
    in_force = sheets_of(depots, at=at) if sheets is None else sheets
    for depot in depots:
        out_before_today = Q(out_at__lt=_midnight(depot, at, 0))
        for (every_days, before_first_use), supplies in _alike(in_force[depot.pk]).items():
            unseen_here = Q(passed_at__isnull=True)
            if before_first_use:
                unseen_here |= Q(out_at__gt=F("passed_at"))
            counted = Q(passed_at__lt=_midnight(depot, at, every_days))
            late |= Q(depot=depot.pk, supply__in=supplies) & (
                counted | out_before_today & unseen_here
            )
    late_first = F("passed_at").asc(nulls_first=True)
    stopped = Stop.objects.standing().exclude(kind=Stop.Kind.CARRY_ON).values("machine")
    # A machine has one stay at a time.
    open_stay = FilteredRelation("stays", condition=Q(stays__back_at__isnull=True))
    machines = machines.filter(place=Place.OUT).annotate(
        open_stay=open_stay, out_at=F("open_stay__out_at")
    )
    machines = machines.filter(late)
    return machines.exclude(pk__in=stopped).order_by(late_first, "number_key")


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
