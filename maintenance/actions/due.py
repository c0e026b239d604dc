"""When each line of a machine falls due: worked out afresh from everything known, in one place.

Whatever moves a due date ends here: a meter figure, work done, a correction, putting off, another
plan. The answer depends on what is known and never on the order in which it was heard.
"""

import uuid
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import accumulate
from typing import Any, TypeAlias

from django.db import transaction
from django.db.models import Q

from maintenance.actions.signing import locked, sealed_before, signing_role, words
from maintenance.models import (
    Completion,
    DueLine,
    Job,
    MeterReading,
    Move,
    PlanLine,
    PutOff,
    Stay,
    UseRate,
)
from maintenance.rules import due as rule
from maintenance.rules import usage
from maintenance.rules.words import day_text, hours_text
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Place, Record, User
from plant.rights import Right
from plant.sealing import Canonical

# A rate looks at so many of the newest figures at most, since it compares every pair of them.
MOST_READINGS = 60
# So old may a due date be before it is worked out afresh; a list says so when it is older still.
AGE = timedelta(hours=20)
_NOT_BEGUN = (Job.State.REPORTED, Job.State.LOOKED_AT, Job.State.GIVEN_OUT)
_COLUMNS = (
    "line_id", "last_done_on", "last_done_tenths", "cycle", "due_on", "due_tenths", "put_off_to",
    "early_on", "likely_on", "late_on", "is_estimate", "plan_on", "raise_on", "raise_tenths",
    "past_after", "hours_near", "hours_past",
)  # fmt: skip
_Done: TypeAlias = tuple[date, int | None]


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of a machine's running: enough to say when hours are up.

    hours_tenths: [0.1 h] now; last: the newest figure that counts, its moment in the depot's zone.
    rate: by readings, or by days out where is_estimate says so.
    """

    hours_tenths: int | None = None
    readings: Sequence[tuple[date, int]] = ()
    last: usage.Reading | None = None
    rate: usage.Rate | None = None
    is_estimate: bool = False
    span: tuple[date, date] | None = field(default=None)


def work_out(
    due_line: DueLine,
    *,
    at: datetime,
    known: Known,
    done: Sequence[rule.Done] = (),
    put_off_to: date | None = None,
) -> None:
    """Sets when the line is due next and everything that follows. Saves nothing.

    Args:
        known: of its machine.
        done: its completions, oldest first.
        put_off_to: the day to which this cycle was put off.
    """
    line = due_line.line
    due_line.last_done_on, due_line.last_done_tenths = done[-1] if done else (None, None)
    due_line.cycle = len(done) + 1 + due_line.passed_over
    due_line.worked_out_at = at
    due = rule.Due(on=None, tenths=None, cycle=due_line.cycle)
    asked = not due_line.resting_because and not line.ended
    if asked:
        due = rule.next_due(
            line.rule,
            start_on=due_line.start_on,
            start_tenths=due_line.start_tenths,
            done=tuple(done),
            notice_days=line.notice_days,
            notice_tenths=line.notice_tenths,
        )
    due_line.due_on, due_line.due_tenths = due.on, due.tenths
    due_line.put_off_to = put_off_to
    told = _forecast(due_line, due, known=known) if asked else None
    due_line.is_estimate = told is not None and known.is_estimate
    due_line.early_on = None if told is None else told.earliest
    due_line.likely_on = None if told is None else told.likely
    due_line.late_on = None if told is None else told.latest
    # A safety test that was put off stays past where it is; only the work is planned later.
    moved = put_off_to if not line.is_test else None
    due_line.past_after = moved or due.on
    due_line.plan_on = put_off_to or usage.plan_day(due_on=due.on, forecast=told)
    first = put_off_to or (due_line.plan_on if due_line.is_estimate else due.on)
    due_line.raise_on = None if first is None else first - timedelta(days=line.notice_days)
    due_line.raise_tenths = None if due.tenths is None else due.tenths - line.notice_tenths
    near = past = False
    if known.hours_tenths is not None and due.tenths is not None and moved is None:
        past = known.hours_tenths > due.tenths
        near = put_off_to is None and known.hours_tenths >= due.tenths - line.notice_tenths
    due_line.hours_near, due_line.hours_past = near, past


def rework(machine: Machine, *, at: datetime) -> None:
    """Works out every line of the machine afresh. Call with the machine locked.

    Jobs that were raised for a line follow it; one that nobody has begun is called off when the
    line is no longer due.
    """
    known = known_of(machine, at=at)
    _keep_rate(machine, known, at=at)
    lines = list(
        DueLine.objects.select_for_update(of=("self",))
        .filter(machine=machine)
        .select_related("line")
        .order_by("pk")
    )
    before = {each.pk: _columns(each) for each in lines}
    _follow_plan(lines, machine, on=machine.depot.day_of(at))
    done: dict[int, list[_Done]] = {each.pk: [] for each in lines}
    completions = Completion.objects.counting().filter(due_line__machine=machine)
    for pk, on, tenths in completions.order_by().values_list("due_line", "on", "tenths"):
        done[pk].append((on, tenths))
    put_off = {
        (pk, cycle): to_on
        for pk, cycle, to_on in PutOff.objects.filter(due_line__machine=machine)
        .order_by("at", "pk")
        .values_list("due_line", "cycle", "to_on")
    }
    for each in lines:
        points = sorted(
            ((on, _hours_at(on, tenths, each, known)) for on, tenths in done[each.pk]),
            key=lambda point: (point[0], -1 if point[1] is None else point[1]),
        )
        cycle = len(points) + 1 + each.passed_over
        work_out(each, at=at, known=known, done=points, put_off_to=put_off.get((each.pk, cycle)))
        # Most news moves one line of many; the rest is only stamped as worked out.
        now, was = _columns(each), before[each.pk]
        if changed := {name: now[name] for name in now if now[name] != was[name]}:
            DueLine.objects.filter(pk=each.pk).update(**changed)
    DueLine.objects.filter(machine=machine).update(worked_out_at=at)
    _let_jobs_follow(lines, on=machine.depot.day_of(at), at=at)


def expire(line: PlanLine, *, at: datetime) -> None:
    """Marks every due date of a kind's line as old, so that the background works it out afresh."""
    DueLine.objects.filter(line__kind=line.kind_id, line__key=line.key).update(
        worked_out_at=at - AGE - timedelta(seconds=1)
    )


def rework_old(*, at: datetime, most: int = 500) -> int:
    """Works out afresh the machines whose due dates are old; returns how many there were.

    Estimates move with the days out, and a new version of a plan begins on its day. What may be
    used, and what is overdue by what is known, never waits for this.
    """
    old = DueLine.objects.filter(worked_out_at__lt=at - AGE, machine__in=Machine.objects.in_fleet())
    pks = list(old.order_by("machine").values_list("machine", flat=True).distinct()[:most])
    for pk in pks:
        with transaction.atomic():
            rework(locked(Machine(pk=pk)), at=at)
    return len(pks)


def known_of(machine: Machine, *, at: datetime) -> Known:
    """What the machine's readings, or its days out, say of its running."""
    zone = machine.depot.zone
    counting = MeterReading.objects.counting().filter(meter__machine=machine)
    readings: list[usage.Reading] = [
        (moment.astimezone(zone), tenths)
        for moment, tenths in counting.order_by("at", "pk").values_list("at", "total_tenths")
    ]
    days = [(moment.date(), tenths) for moment, tenths in readings]
    last = readings[-1] if readings else None
    if machine.hours_tenths is not None and machine.hours_at is not None:
        # The register may hold a figure that no reading stands for, brought in with the machine.
        last = (machine.hours_at.astimezone(zone), machine.hours_tenths)
        days = sorted({*days, (last[0].date(), last[1])})
    try:
        newest = usage.recent(readings[-MOST_READINGS:])
        rate: usage.Rate | None = usage.rate(newest)
    except ValueError:  # too few of them, or figures that make no rate
        newest, rate = (), None
    if rate is not None:
        span = (newest[0][0].date(), newest[-1][0].date())
        return Known(
            hours_tenths=machine.hours_tenths, readings=days, last=last, rate=rate, span=span
        )
    on = machine.depot.day_of(at)
    since = max(
        on - timedelta(days=usage.DAYS_OUT_WINDOW - 1), machine.depot.day_of(machine.added_at)
    )
    since = min(since, on)
    out = usage.days_out(_spans(machine, at=at), since=since, until=on)
    return Known(
        hours_tenths=machine.hours_tenths,
        readings=days,
        last=last,
        rate=usage.rate_from_days_out(out=out, of=(on - since).days + 1),
        is_estimate=True,
        span=(since, on),
    )


@transaction.atomic
def put_off(
    *,
    due_line: DueLine,
    to: date,
    reason: str,
    at: datetime,
    by: User,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> PutOff:
    """Puts the work of this cycle off to a day. It stands on the record for ever.

    Raises:
        Refused: a safety test of a machine in use, too far, not due by any day, or no reason.
    """
    machine = locked(due_line.machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.GIVE_OUT)
    due_line = (
        DueLine.objects.select_for_update(of=("self",)).select_related("line").get(pk=due_line.pk)
    )
    reason = words(reason, field="reason", what="reason")
    told: dict[str, Canonical] = {
        "line": due_line.line.key,
        "title": due_line.line.title,
        "put_off_to": to.isoformat(),
    }
    texts = {"reason": reason}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.PUT_OFF, machine=machine, by=by, by_name="",
        told=told, texts=texts,
    ):  # fmt: skip
        return before.put_off_row
    on = machine.depot.day_of(at)
    if due_line.due_on is None and due_line.due_tenths is None:
        raise Refused("This is not due, so there is nothing to put off.")
    # Hours that are up count from today; what is not due yet, from its day.
    due_on = due_line.due_on or on
    if due_line.hours_past or due_line.hours_near:
        due_on = min(due_on, on)
    if refused := rule.put_off_refusal(
        is_test=due_line.line.is_test,
        in_use=machine.in_use,
        due_on=due_on,
        to=to,
        limit_days=max(rule.put_off_limit(due_line.line.rule), 0),
        reason=reason,
    ):
        raise Refused(refused, field="reason" if "reason" in refused else "to")
    record = seal(
        kind=Record.Kind.PUT_OFF, depot=machine.depot, machine=machine,
        data={
            **told,
            "was_due_on": due_line.due_on.isoformat() if due_line.due_on else None,
            "was_due_at": hours_text(due_line.due_tenths) if due_line.due_tenths else None,
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    made = PutOff.objects.create(
        due_line=due_line, cycle=due_line.cycle, due_on=due_line.due_on, to_on=to, reason=reason,
        by=by, at=at, record=record,
    )  # fmt: skip
    rework(machine, at=at)
    return made


@transaction.atomic
def correct_done(
    *,
    completion: Completion,
    on: date | None,
    reason: str,
    at: datetime,
    by: User,
    tenths: int | None = None,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Corrects when a line was done, or strikes it out as not done; the first word stays sealed.

    Args:
        on: the right day; None: it was not done.
        tenths: [0.1 h] the right figure, where one was read.

    Raises:
        Refused: no reason, a day to come, or struck out already.
    """
    machine = locked(completion.due_line.machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.GIVE_OUT)
    completion = Completion.objects.select_related("due_line__line", "job").get(pk=completion.pk)
    reason = words(reason, field="reason", what="reason", low=10, high=500)
    told: dict[str, Canonical] = {
        "line": completion.due_line.line.key,
        "title": completion.due_line.line.title,
        "was_done_on": completion.on.isoformat(),
        "done_on": on.isoformat() if on else None,
        "hours": hours_text(tenths) if tenths is not None else None,
    }
    texts = {"reason": reason}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.CORRECTION, machine=machine, by=by, by_name="",
        told=told, texts=texts,
    ):  # fmt: skip
        return before
    if completion.struck_by_id is not None:
        raise Refused("This was corrected already. Open the page afresh.")
    if completion.included_in_id is not None:
        raise Refused("It was done with a larger service. Correct that one.")
    if on is not None and on > machine.depot.day_of(at):
        raise Refused("That day is still to come.", field="on")
    record = seal(
        kind=Record.Kind.CORRECTION, depot=machine.depot, machine=machine, data=told,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id, corrects=_sealed_closing(completion),
    )  # fmt: skip
    struck = [completion, *completion.includes.counting()]
    for each in struck:
        each.struck_by = record
    Completion.objects.bulk_update(struck, ["struck_by"])
    if on is not None:
        first = None
        for each in struck:
            made = Completion.objects.create(
                due_line_id=each.due_line_id, on=on, tenths=tenths, at=at, job=each.job,
                included_in=first,
            )  # fmt: skip
            first = first or made
    rework(machine, at=at)
    return record


def _sealed_closing(completion: Completion) -> Record | None:
    if completion.job is None:
        return None
    labour = completion.job.labour.select_related("record").order_by("pk").first()
    return labour.record if labour else None


def _columns(line: DueLine) -> dict[str, Any]:
    """What follows from everything known, as it stands in the row."""
    return {name: getattr(line, name) for name in _COLUMNS}


def _forecast(due_line: DueLine, due: rule.Due, *, known: Known) -> usage.Forecast | None:
    if known.rate is None:
        return None
    if due.tenths is not None and known.last is not None:
        return usage.forecast(due_tenths=due.tenths, last=known.last, rate=known.rate)
    # No figure at all: the hours of the rule, run down by the days out since it was last done.
    line, once_done = due_line.line.rule, due_line.last_done_on is not None
    interval = line.every_hours_tenths if once_done else line.first_hours_tenths
    interval = interval or line.every_hours_tenths
    if interval is None or known.hours_tenths is not None or (once_done and line.once):
        return None
    since = datetime.combine(due_line.last_done_on or due_line.start_on, time())
    return usage.forecast(due_tenths=interval, last=(since, 0), rate=known.rate)


def _follow_plan(lines: Sequence[DueLine], machine: Machine, *, on: date) -> None:
    """Puts each line of the kind's plan on the version that is in force, once its day has come."""
    keys = {(each.line.kind_id, each.line.key) for each in lines}
    of_kinds = {kind for kind, _ in keys if kind}
    others = PlanLine.objects.filter(
        Q(kind__in=of_kinds) | Q(machine=machine), key__in=[key for _, key in keys]
    )
    # Nearly always there are none, and nothing more is read.
    others = others.exclude(pk__in=[each.line_id for each in lines])
    versions: dict[tuple[int | None, str], list[PlanLine]] = {}
    for version in others:
        versions.setdefault((version.kind_id, version.key), []).append(version)
    for each in lines:
        if found := versions.get((each.line.kind_id, each.line.key)):
            each.line = PlanLine.in_force([each.line, *found], on)[each.line.key]


def _hours_at(on: date, tenths: int | None, due_line: DueLine, known: Known) -> int | None:
    """[0.1 h] Running hours when it was done: as read then, else worked out from the figures.

    Between two figures the hours are taken to have run evenly; after the last one they stand at it,
    which errs towards due too early. The figure that the line began with is one of them.
    """
    if tenths is not None:
        return tenths
    figures = list(known.readings)
    if due_line.start_tenths is not None:
        figures = sorted([*figures, (due_line.start_on, due_line.start_tenths)])
    days = [day for day, _ in figures]
    hours = list(accumulate((figure for _, figure in figures), max))  # running hours never fall
    place = bisect_right(days, on)
    if not place:
        return None
    day, before = days[place - 1], hours[place - 1]
    if day == on or place == len(days):
        return before
    return before + (hours[place] - before) * (on - day).days // (days[place] - day).days


def _spans(machine: Machine, *, at: datetime) -> list[tuple[date, date | None]]:
    """First and last day of each time it was out."""
    day_of = machine.depot.day_of
    stays = Stay.objects.filter(machine=machine).values_list("out_at", "back_at")
    spans: list[tuple[date, date | None]] = [
        (day_of(out), None if back is None else day_of(back)) for out, back in stays
    ]
    if machine.in_use and all(last is not None for _, last in spans):
        # It is out and nobody said with whom: since it was moved out, or since it was added.
        moved = Move.objects.filter(machine=machine, to=Place.OUT).order_by("-at").first()
        spans.append((day_of(moved.at if moved else machine.added_at), None))
    return spans


def _keep_rate(machine: Machine, known: Known, *, at: datetime) -> None:
    if known.rate is None or known.span is None:
        UseRate.objects.filter(machine=machine).delete()
        return
    basis = UseRate.Basis.DAYS_OUT if known.is_estimate else UseRate.Basis.READINGS
    told = {
        "basis": basis, "low": known.rate.low, "likely": known.rate.likely,
        "high": known.rate.high, "readings": known.rate.readings, "first_on": known.span[0],
        "last_on": known.span[1], "worked_out_at": at,
    }  # fmt: skip
    if not UseRate.objects.filter(machine=machine).update(**told):
        UseRate.objects.create(machine=machine, **told)


def _let_jobs_follow(lines: Iterable[DueLine], *, on: date, at: datetime) -> None:
    by_pk = {each.pk: each for each in lines}
    jobs = Job.objects.open().filter(due_line__in=list(by_pk)).order_by("pk")
    for job in jobs:
        line = by_pk[job.due_line_id or 0]
        rests = bool(line.resting_because) or line.line.ended
        if (job.cycle, job.due_on, job.due_tenths) == (line.cycle, line.due_on, line.due_tenths):
            continue
        announced = line.hours_near or (line.raise_on is not None and line.raise_on <= on)
        not_due = not announced and (rests or job.cycle != line.cycle)
        if not_due and job.state in _NOT_BEGUN:
            if job.cycle == line.cycle:
                # There is one job a cycle: should the line come back, it starts another.
                line.passed_over, line.cycle = line.passed_over + 1, line.cycle + 1
                line.save(update_fields=["passed_over", "cycle"])
            job.state, job.state_since = Job.State.CALLED_OFF, at
            job.called_off_because = _why_called_off(line)
            job.closed_at = at
        elif not Job.objects.filter(due_line=line, cycle=line.cycle).exclude(pk=job.pk).exists():
            job.cycle, job.due_on, job.due_tenths = line.cycle, line.due_on, line.due_tenths
        job.save()


def _why_called_off(line: DueLine) -> str:
    completions = line.completions.counting().select_related("included_in__due_line__line")
    last = completions.order_by("-on", "-pk").first()
    if line.resting_because or line.line.ended or last is None:
        return line.resting_because or "It is not due any more."
    if last.included_in is not None:
        return f"Included in: {last.included_in.due_line.line.title}."
    return f"Done already, on {day_text(last.on)}."
