"""What is missing of one machine in a period: checks, tests and services late, and the rest."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from maintenance.contents.known import counted_of, known_of
from maintenance.contents.test import doubt
from maintenance.models import (
    Check,
    DueLine,
    ElectricalTest,
    Inspection,
    MeterReading,
    Move,
    PlanLine,
    RuleSheet,
    Stop,
)
from maintenance.rules import gaps as rule
from maintenance.rules.check_due import rule_for
from maintenance.rules.due_line import Known, points_done
from maintenance.rules.sheet import Interval, cited
from plant.models import Machine, Measure, Place, Record

# Without a figure of its meter for longer than this, a machine in use is said to be unread. Ours.
UNREAD_DAYS = 30
# A record that reached us so long after what it tells was entered later. Ours.
LATER = timedelta(minutes=15)


@dataclass(frozen=True)
class Period:
    """Days of the depot, both included, as far as they have begun and the machine is known."""

    first: date
    last: date
    zone: ZoneInfo
    known_from: date

    @property
    def begin(self) -> datetime:
        return rule.midnight(self.first, self.zone)

    @property
    def end(self) -> datetime:
        return rule.midnight(self.last + rule.ONE_DAY, self.zone)

    def holds(self, at: datetime) -> bool:
        return self.begin <= at < self.end


@dataclass(frozen=True)
class LateWork:
    """Work of one line of the plan that was late in the period, by days in use and not in use."""

    title: str
    measure: str
    is_test: bool
    late: rule.Late
    in_use: int
    not_in_use: int


@dataclass(frozen=True)
class Gaps:
    """What is missing, and what it was counted from.

    known: days of the period that the machine was known, up to the day it went for good;
    in_use: of them those on which it was used; checked: those told apart; often: the rules of the
    checks with the first day of each;
    late: longest first; resting: lines not asked of it now, since when is not known; later,
    questioned: their records; doubts: sentences with the record; unread: runs of days in use with
    no meter figure near; has_meter: whether one is asked for.
    """

    period: Period
    known: int
    in_use: frozenset[date]
    checked: rule.Checked
    often: tuple[tuple[date, Interval | None], ...]
    late: tuple[LateWork, ...]
    lines: int
    resting: tuple[tuple[str, str], ...]
    later: tuple[Record, ...]
    questioned: tuple[tuple[Record, str, bool], ...]
    doubts: tuple[tuple[Record, str], ...]
    unread: tuple[rule.Run, ...]
    has_meter: bool


def period_of(machine: Machine, *, first: date, last: date, at: datetime) -> Period:
    """The days asked for, without those to come."""
    return Period(
        first=first,
        last=min(last, machine.depot.day_of(at)),
        zone=machine.depot.zone,
        known_from=machine.depot.day_of(machine.added_at),
    )


def gaps_of(machine: Machine, period: Period, records: Iterable[Record], *, at: datetime) -> Gaps:
    """Everything that is missing in the period.

    Args:
        machine: its depot and kind must be read already.
        records: of the machine in the period, with their texts read ahead.
        at: the moment of gathering; nothing later is counted.
    """
    records = list(records)
    end = min(period.end, at)
    moves = list(Move.objects.filter(machine=machine).order_by("at", "pk"))
    began = (moves[0].start if moves else machine.place) == Place.OUT
    went = [rule.Went(each.at, each.to == Place.OUT) for each in moves]
    everywhere = rule.stays(went, began=began, since=machine.added_at, until=at)
    used = rule.without(everywhere, [_before(period.begin), (end, _END)])
    # Which stay a check belongs to depends on when the stay began, also before the period.
    stays_met = [stay for stay in everywhere if stay[1] > period.begin and stay[0] < end]
    often = _often(machine)
    checked = rule.unchecked(
        used=stays_met,
        stopped=_stopped(machine, until=at, zone=period.zone),
        passed=_passed(machine),
        done=Check.objects.filter(machine=machine).values_list("at", flat=True),
        often=[
            rule.Often(
                from_on=day,
                every_days=each.every_days if each else None,
                anew=each.before_first_use if each else True,
            )
            for day, each in often
        ],
        zone=period.zone,
    )
    in_use = rule.days_of(used, period.zone)
    late, lines, resting = _late(
        machine, period, rule.days_of(everywhere, period.zone), moves, at=at
    )
    first, last = max(period.first, period.known_from), period.last
    if machine.place == Place.GONE and moves:
        last = min(last, machine.depot.day_of(moves[-1].at))
    return Gaps(
        period=period,
        known=max(0, (last - first).days + 1),
        in_use=frozenset(in_use),
        checked=_within(checked, period),
        often=tuple(often),
        late=late,
        lines=lines,
        resting=resting,
        later=tuple(each for each in records if each.received_at - each.happened_at > LATER),
        questioned=_questioned(machine, records),
        doubts=_doubts(machine, period),
        unread=_unread(machine, in_use, period),
        has_meter=_has_meter(machine),
    )


_END = datetime(9999, 12, 30, tzinfo=UTC)


def _before(at: datetime) -> rule.Span:
    return datetime(1, 1, 2, tzinfo=UTC), at


def _within(checked: rule.Checked, period: Period) -> rule.Checked:
    def kept(days: tuple[date, ...]) -> tuple[date, ...]:
        return tuple(day for day in days if period.first <= day <= period.last)

    return rule.Checked(
        missing=kept(checked.missing),
        held=kept(checked.held),
        idle=kept(checked.idle),
        not_asked=kept(checked.not_asked),
    )


def _often(machine: Machine) -> list[tuple[date, Interval | None]]:
    """How often the rule sheets wanted a check in use, by this machine's supply, from each day."""
    sheets = RuleSheet.objects.order_by("dated", "pk")
    return [(each.dated, rule_for(each.rules.intervals, supply=machine.supply)) for each in sheets]


def _stopped(machine: Machine, *, until: datetime, zone: ZoneInfo) -> list[rule.Span]:
    """When it stood as *Do not use*, by its stops, the decisions on them and their releases."""
    found = []
    decisions = _decisions(machine, until=until)
    for stop in Stop.objects.filter(machine=machine).select_related("released_by"):
        begun, freed = stop.since, stop.released_by.happened_at if stop.released_by else until
        # The row knows the last decision alone; the records know each.
        for at, last in decisions.get((str(stop.record_id), stop.item_key), ()):
            if last is None:
                begun = min(begun, at)
            else:
                found.append((begun, min(at, freed)))
                begun = rule.midnight(last + rule.ONE_DAY, zone)
        found.append((begun, freed))
    return found


def _decisions(
    machine: Machine, *, until: datetime
) -> dict[tuple[str, str], list[tuple[datetime, date | None]]]:
    """By record and item of a stop, when it was decided on, and the last day of each note."""
    found: dict[tuple[str, str], list[tuple[datetime, date | None]]] = {}
    records = Record.objects.filter(
        machine=machine, kind=Record.Kind.DECISION, happened_at__lte=until
    )
    for record in records.order_by("happened_at", "seq"):
        data = json.loads(record.content)["data"]
        if "stop" in data:
            last = date.fromisoformat(data["until"]) if data["until"] else None
            found.setdefault((data["stop"], data["item"]), []).append((record.happened_at, last))
    return found


def _passed(machine: Machine) -> list[datetime]:
    """When a check, a look-over, an inspection or a release check was passed."""
    checks = Check.objects.filter(machine=machine, mark=Check.Mark.PASSED)
    looks = Inspection.objects.filter(machine=machine, mark=Check.Mark.PASSED)
    freed = Record.objects.filter(machine=machine, kind=Record.Kind.RELEASE)
    return [
        *checks.values_list("at", flat=True),
        *looks.values_list("at", flat=True),
        *freed.values_list("happened_at", flat=True),
    ]


def _late(
    machine: Machine, period: Period, in_use: set[date], moves: list[Move], *, at: datetime
) -> tuple[tuple[LateWork, ...], int, tuple[tuple[str, str], ...]]:
    until = period.last
    if machine.place == Place.GONE and moves:
        until = min(until, machine.depot.day_of(moves[-1].at))
    lines = list(
        DueLine.objects.filter(machine=machine).select_related("line", "counter").order_by("pk")
    )
    hours = known_of([machine.pk], at=at)[machine.pk]
    counts = counted_of([machine.pk], at=at)
    offs = _taken_off(machine, until)
    found: list[LateWork] = []
    resting: list[tuple[str, str]] = []
    for line in lines:
        known = hours
        if line.line.measure != Measure.HOURS:
            known = counts.get((machine.pk, line.line.measure)) or Known(zone=period.zone)
        off = offs.get(line.line.key, [])
        # A rest that ended says nothing of the one now, whose beginning is on no record.
        if line.resting_because and not (off and off[-1][1] >= until):
            resting.append((line.line.title, line.resting_because))
            continue
        told = line.completions.counting().values_list("on", "tenths")
        done = points_done(
            sorted(told, key=lambda each: each[0]),
            start_on=line.start_on, start_tenths=line.start_tenths, known=known,
        )  # fmt: skip
        # What is estimated while a dial is broken announces work and makes nothing late.
        figures = [
            (datetime.fromtimestamp(moment, UTC).astimezone(period.zone).date(), tenths)
            for moment, tenths in known.readings
        ]
        each_late = rule.late(
            [(each.from_on, each.asked) for each in _versions(line.line)],
            start_on=line.start_on, start_tenths=line.start_tenths, done=done, figures=figures,
            until=until, resting=off,
        )  # fmt: skip
        for whole in each_late:
            part = whole.within(period.first, period.last)
            if part is not None:
                used, rest = part.split(in_use)
                found.append(
                    LateWork(
                        line.line.title, line.line.measure, line.line.is_test, part, used, rest
                    )
                )
    found.sort(key=lambda each: (-each.in_use, -each.not_in_use, each.late.first, each.title))
    return tuple(found), len(lines), tuple(resting)


def _versions(line: PlanLine) -> list[PlanLine]:
    same = PlanLine.objects.filter(key=line.key, kind=line.kind_id, machine=line.machine_id)
    return list(same.order_by("from_on", "pk"))


def _taken_off(machine: Machine, until: date) -> dict[str, list[rule.Run]]:
    """By line, the runs of days on which it was taken off this machine, from its sealed records."""
    found: dict[str, list[rule.Run]] = {}
    open_since: dict[str, date] = {}
    changes = Record.objects.filter(machine=machine, kind=Record.Kind.PLAN).order_by(
        "happened_at", "seq"
    )
    for record in changes:
        data = json.loads(record.content)["data"]
        key, day = data.get("line", ""), machine.depot.day_of(record.happened_at)
        if data.get("change") == "taken off this machine":
            open_since.setdefault(key, day)
        elif data.get("change") == "asked again" and key in open_since:
            found.setdefault(key, []).append((open_since.pop(key), day - rule.ONE_DAY))
    for key, day in open_since.items():
        found.setdefault(key, []).append((day, max(day, until)))
    return {
        key: [(first, last) for first, last in each if first <= last] for key, each in found.items()
    }


def _questioned(machine: Machine, records: list[Record]) -> tuple[tuple[Record, str, bool], ...]:
    """Meter figures that were questioned when they came, why, and whether they count by now."""
    counting = MeterReading.objects.counting().filter(meter__machine=machine)
    counts = set(counting.values_list("record", flat=True))
    found = []
    for record in records:
        if record.kind != Record.Kind.METER:
            continue
        why = json.loads(record.content)["data"].get("questioned")
        if why:
            found.append((record, str(why), record.pk in counts))
    return tuple(found)


def _doubts(machine: Machine, period: Period) -> tuple[tuple[Record, str], ...]:
    tests = ElectricalTest.objects.filter(
        machine=machine, passed=True, doubted_by__isnull=False,
        at__gte=period.begin, at__lt=period.end,
    ).select_related("doubted_by__instrument", "record__depot", "record__by")  # fmt: skip
    return tuple((test.record, doubt(test)) for test in tests.order_by("at", "pk"))


def _unread(machine: Machine, in_use: set[date], period: Period) -> tuple[rule.Run, ...]:
    """Stretches without a figure of the hours, of more than so many days, with use in them."""
    if not _has_meter(machine):
        return ()
    readings = MeterReading.objects.filter(
        meter__machine=machine, meter__measure=Measure.HOURS, at__lt=period.end
    )
    days = {each.astimezone(period.zone).date() for each in readings.values_list("at", flat=True)}
    first = max(period.first, period.known_from)
    # The last figure before the period counts for its first days.
    last_before = max((day for day in days if day < first), default=first - rule.ONE_DAY)
    edges = [last_before, *sorted(day for day in days if day >= first)]
    found = []
    for before, after in zip(edges, [*edges[1:], period.last + rule.ONE_DAY], strict=True):
        gap = (max(first, before + rule.ONE_DAY), after - rule.ONE_DAY)
        long = (after - before).days - 1 > UNREAD_DAYS
        if long and any(gap[0] <= day <= gap[1] for day in in_use):
            found.append(gap)
    return tuple(found)


def _has_meter(machine: Machine) -> bool:
    return machine.kind.has_meter or machine.meters.filter(measure=Measure.HOURS).exists()


def cited_of(interval: Interval) -> str:
    """Where the interval of a check comes from, in words."""
    return f"{interval.words} ({cited(interval.source, interval.trust)})"
