"""When each line of a machine falls due: worked out afresh from everything known, in one place.

Whatever moves a due date ends here: a meter figure, work done, a correction, putting off, another
plan. The answer depends on what is known and never on the order in which it was heard.
"""

import uuid
from collections.abc import Callable, Collection, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connection, transaction
from django.db.models import Exists, Manager, Model, OuterRef, Q
from django.utils.translation import gettext as _

from maintenance.actions.signing import locked, sealed_before, words
from maintenance.contents.known import counted_of, known_of
from maintenance.models import Completion, CountRate, DueLine, Job, PlanLine, PutOff, UseRate
from maintenance.rules import due as rule
from maintenance.rules.due_line import Known, WorkedOut, points_done, work_out
from maintenance.rules.words import day_text, figure_as_written
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.kept import GivenKeys, KeptRows
from plant.models import Machine, Measure, Record, User
from plant.rights import Right, role_for
from plant.rows import among, read_rows, update_rows, without_collecting
from plant.sealing import Canonical

# So old may a due date be before it is worked out afresh; a list says so when it is older still.
AGE = timedelta(hours=20)
# So many machines are worked out at once: people wait a fifth of a second at most.
BLOCK = 1000
_RATE = ("basis", "low", "likely", "high", "readings", "first_on", "last_on")
_LINES = KeptRows(
    lambda: (
        DueLine.objects.select_for_update()
        .filter(machine__in=GivenKeys())
        .order_by("pk")
        .values_list(
            "pk", "machine", "line", "counter", "start_on", "start_tenths", "passed_over",
            "resting_because",
        )
    )
)  # fmt: skip
_DONE = KeptRows(
    lambda: (
        Completion.objects.counting()
        .filter(due_line__machine__in=GivenKeys())
        .order_by()
        .values_list("due_line", "on", "tenths")
    )
)
_PUT_OFF = KeptRows(
    lambda: (
        PutOff.objects.filter(due_line__machine__in=GivenKeys())
        .order_by("at", "pk")
        .values_list("due_line", "cycle", "to_on")
    )
)
_OPEN_JOBS = KeptRows(
    lambda: (
        Job.objects.open()
        .filter(due_line__machine__in=GivenKeys())
        .order_by()
        .values_list("pk", "due_line", "cycle", "due_on", "due_tenths")
    )
)
_RATED: dict[type[Model], KeptRows] = {
    UseRate: KeptRows(lambda: UseRate.objects.filter(pk__in=GivenKeys()).values_list("pk")),
    CountRate: KeptRows(lambda: CountRate.objects.filter(pk__in=GivenKeys()).values_list("pk")),
}
# Each line of a plan with all its versions.
_VERSIONS = KeptRows(
    lambda: PlanLine.objects.filter(
        Exists(
            PlanLine.objects.filter(
                Q(kind=OuterRef("kind")) | Q(machine=OuterRef("machine")),
                pk__in=GivenKeys(),
                key=OuterRef("key"),
            )
        )
    )
)
_NOT_BEGUN = (Job.State.REPORTED, Job.State.LOOKED_AT, Job.State.GIVEN_OUT)


def rework(machine: Machine, *, at: datetime) -> None:
    """Works out every line of the machine afresh. Call with the machine locked.

    Jobs that were raised for a line follow it; one that nobody has begun is called off when the
    line is no longer due.
    """
    rework_many([machine.pk], at=at)


def rework_many(pks: Collection[int], *, at: datetime) -> None:
    """The same for many machines, in no more queries than for one. Call with them locked."""
    known = known_of(pks, at=at)
    _keep_rates(UseRate.objects, known, at=at)
    # Locked before the versions of the plan are read: a change of it meanwhile is not lost.
    lines = _LINES(pks)
    done: dict[int, list[rule.Done]] = {}
    for pk, on, tenths in _DONE(pks):
        done.setdefault(pk, []).append((on, tenths))
    put_off_to = {(pk, cycle): to_on for pk, cycle, to_on in _PUT_OFF(pks)}
    versions = _versions({each[2] for each in lines})
    asked = {line.pk: line.asked for every in versions.values() for line in every}
    measures = {line.pk: line.measure for every in versions.values() for line in every}
    counted: dict[tuple[int, str], Known] = {}
    if any(measure != Measure.HOURS for measure in measures.values()):
        counted = counted_of(pks, at=at)
        _keep_rates(
            CountRate.objects, {each.counter or 0: each for each in counted.values()}, at=at
        )
    stamp = connection.ops.adapt_datetimefield_value(at)
    worked_out: dict[int, WorkedOut] = {}
    rows, followed, fitted = [], [], []
    for pk, machine, line, counter, start_on, start_tenths, passed_over, resting in lines:
        if len(versions[line]) > 1:
            on = at.astimezone(known[machine].zone).date()
            (in_force,) = PlanLine.in_force(versions[line], on).values()
            if in_force.pk != line:
                line = in_force.pk
                followed.append((line, pk))
        meter = known[machine]
        if measures[line] != Measure.HOURS:
            meter = counted.get((machine, measures[line])) or Known(zone=meter.zone)
        if meter.counter != counter:
            fitted.append((meter.counter, pk))
        points = points_done(
            done.get(pk, ()), start_on=start_on, start_tenths=start_tenths, known=meter
        )
        worked_out[pk] = work_out(
            asked[line],
            start_on=start_on,
            start_tenths=start_tenths,
            known=meter,
            done=points,
            passed_over=passed_over,
            resting=bool(resting),
            put_off_to=put_off_to.get((pk, len(points) + 1 + passed_over)),
        )
        rows.append((*worked_out[pk], stamp, pk))
    update_rows(DueLine, (*WorkedOut._fields, "worked_out_at"), rows)
    # Apart, for it is rare, and SQLite lays every index anew of a column that is written at all.
    update_rows(DueLine, ("line_id",), followed)
    update_rows(DueLine, ("counter_id",), fitted)
    _let_jobs_follow(worked_out, known, at=at)


def expire(line: PlanLine, *, at: datetime) -> None:
    """Marks every due date of a kind's line as old, so that the background works it out afresh."""
    lines = DueLine.objects.filter(line__kind=line.kind_id, line__key=line.key)
    # In the order in which the background takes them, so that neither waits for the other.
    list(lines.select_for_update(of=("self",)).order_by("pk").values_list("pk"))
    lines.update(worked_out_at=at - AGE - timedelta(seconds=1))


def rework_old(
    *, at: datetime, most: int = 10_000, pause: Callable[[], object] | None = None
) -> int:
    """Works out afresh the machines whose due dates are old; returns how many there were.

    Estimates move with the days out, and a new version of a plan begins on its day. What may be
    used, and what is overdue by what is known, never waits for this. A machine on which somebody
    works just now is left for the next time.

    Args:
        most: so many machines at most.
        pause: called between blocks, when nothing is locked.
    """
    old = DueLine.objects.filter(worked_out_at__lt=at - AGE, machine__in=Machine.objects.in_fleet())
    pks = list(old.order_by("machine").values_list("machine", flat=True).distinct()[:most])
    for start in range(0, len(pks), BLOCK):
        if start and pause is not None:
            pause()
        with without_collecting(), transaction.atomic():
            machines = Machine.objects.filter(pk__in=among(pks[start : start + BLOCK]))
            free = machines.order_by("pk").select_for_update(skip_locked=True).values_list("pk")
            rework_many([pk for (pk,) in read_rows(free)], at=at)
    return len(pks)


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
    role = role_for(by, Right.GIVE_OUT, machine.depot_id)
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
        record_id=record_id, kind=Record.Kind.PUT_OFF, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before.put_off_row
    on = machine.depot.day_of(at)
    if due_line.due_on is None and due_line.due_tenths is None:
        raise Refused(_("This is not due, so there is nothing to put off."))
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
            "was_due_at": (
                figure_as_written(due_line.due_tenths, due_line.line.measure)
                if due_line.due_tenths
                else None
            ),
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
        tenths: [0.1 of what the line counts] the right figure, where one was read.

    Raises:
        Refused: no reason, a day to come, or struck out already.
    """
    machine = locked(completion.due_line.machine)
    role = role_for(by, Right.GIVE_OUT, machine.depot_id)
    completion = Completion.objects.select_related("due_line__line", "job").get(pk=completion.pk)
    reason = words(reason, field="reason", what="reason", low=10, high=500)
    line = completion.due_line.line
    told: dict[str, Canonical] = {
        "line": line.key,
        "title": line.title,
        "was_done_on": completion.on.isoformat(),
        "done_on": on.isoformat() if on else None,
        "hours": figure_as_written(tenths, line.measure) if tenths is not None else None,
    }
    texts = {"reason": reason}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.CORRECTION, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before
    if completion.struck_by_id is not None:
        raise Refused(_("This was corrected already. Open the page afresh."))
    if completion.included_in_id is not None:
        raise Refused(_("It was done with a larger service. Correct that one."))
    if on is not None and on > machine.depot.day_of(at):
        raise Refused(_("That day is still to come."), field="on")
    record = seal(
        kind=Record.Kind.CORRECTION, depot=machine.depot, machine=machine, data=told,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id, corrects=_sealed_closing(completion),
    )  # fmt: skip
    included = completion.includes.counting().select_related("due_line__line")
    struck = [completion, *included]
    for each in struck:
        each.struck_by = record
    Completion.objects.bulk_update(struck, ["struck_by"])
    if on is not None:
        first = None
        for each in struck:
            same = each.due_line.line.measure == line.measure
            made = Completion.objects.create(
                due_line_id=each.due_line_id, on=on, tenths=tenths if same else None, at=at,
                job=each.job, included_in=first,
            )  # fmt: skip
            first = first or made
    rework(machine, at=at)
    return record


def _sealed_closing(completion: Completion) -> Record | None:
    if completion.job is None:
        return None
    labour = completion.job.labour.select_related("record").order_by("pk").first()
    return labour.record if labour else None


def _versions(pks: Collection[int]) -> dict[int, list[PlanLine]]:
    """Each line of a plan with all its versions; nearly always it is the only one."""
    lines: dict[int, PlanLine] = {}
    versions: dict[tuple[int | None, int | None, str], list[PlanLine]] = {}
    for line in _VERSIONS.objects(pks):
        lines[line.pk] = line
        versions.setdefault((line.kind_id, line.machine_id, line.key), []).append(line)
    return {
        pk: versions[line.kind_id, line.machine_id, line.key]
        for pk, line in lines.items()
        if pk in pks
    }


def _keep_rates(rows: Manager[Any], known: Mapping[int, Known], *, at: datetime) -> None:
    """Keeps the rates, by the key of the machine or of the counter."""
    rated = {pk: each for pk, each in known.items() if each.rate is not None}
    kept = {pk for (pk,) in _RATED[rows.model](known)}
    if gone := kept - rated.keys():
        rows.filter(pk__in=gone).delete()
    rows.bulk_create(
        rows.model(pk=pk, worked_out_at=at, **dict(zip(_RATE, _rate_row(each), strict=True)))
        for pk, each in rated.items()
        if pk not in kept
    )
    stamp = connection.ops.adapt_datetimefield_value(at)
    update_rows(
        rows.model,
        (*_RATE, "worked_out_at"),
        [(*_rate_row(each), stamp, pk) for pk, each in rated.items() if pk in kept],
    )


def _rate_row(known: Known) -> tuple[object, ...]:
    rate, span = known.rate, known.span
    assert rate is not None
    assert span is not None
    basis = UseRate.Basis.READINGS if rate.readings else UseRate.Basis.DAYS_OUT
    return basis.value, rate.low, rate.likely, rate.high, rate.readings, *span


def _let_jobs_follow(
    worked_out: Mapping[int, WorkedOut], known: Mapping[int, Known], *, at: datetime
) -> None:
    """Jobs take on the day of their line, or go when it is no longer due."""
    moved = {
        pk: line
        for pk, line, *stands in _OPEN_JOBS(known)
        if stands != [getattr(worked_out[line], name) for name in ("cycle", "due_on", "due_tenths")]
    }
    if not moved:
        return
    lines = DueLine.objects.select_related("line").in_bulk(set(moved.values()))
    for job in Job.objects.filter(pk__in=moved).order_by("pk"):
        line = lines[moved[job.pk]]
        if (job.cycle, job.due_on, job.due_tenths) == (line.cycle, line.due_on, line.due_tenths):
            continue
        on = at.astimezone(known[line.machine_id].zone).date()
        rests = bool(line.resting_because) or line.line.ended
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
        return line.resting_because or _("It is not due any more.")
    if last.included_in is not None:
        return _("Included in: {line}.").format(line=last.included_in.due_line.line.title)
    return _("Done already, on {on}.").format(on=day_text(last.on))
