"""Gives machines their plan lines, notes what was done, and raises the work that has come due."""

from collections.abc import Collection, Iterable, Iterator
from datetime import date, datetime

from django.db import connection, transaction
from django.db.models import Case, Exists, OuterRef, QuerySet, Value, When, Window
from django.db.models.fields import CharField, DateTimeField
from django.db.models.functions import RowNumber
from django.utils.translation import gettext as _

from maintenance.actions.due import rework
from maintenance.actions.signing import locked
from maintenance.models import Completion, DueLine, ElectricalTest, Job, PlanLine, PlanStep, Stop
from maintenance.rules.due import includes
from maintenance.rules.due_line import Known, work_out
from plant.models import Counter, Depot, Machine, Place, User

BLOCK = 5000
# Where nobody waits for a machine, its work is not raised; it is asked for when it comes back.
_NOT_RAISED = (Place.GONE, Place.MISSING, Place.LAID_UP)


def give_plans(machines: Iterable[Machine], *, at: datetime) -> int:
    """Starts the lines of each machine's kind on it, counted from today. Running it again adds
    only what is new.

    Args:
        machines: with kind and depot already read.
        at: the moment of starting; the day is the depot's.
    """
    machines = list(machines)
    lines: dict[int, list[PlanLine]] = {}
    for line in PlanLine.objects.filter(kind__isnull=False):
        lines.setdefault(line.kind_id or 0, []).append(line)
    count = 0
    for block in _blocks(_new_lines(machines, lines, at=at)):
        count += len(DueLine.objects.bulk_create(block, ignore_conflicts=True))
    return count


def _new_lines(
    machines: Iterable[Machine], lines: dict[int, list[PlanLine]], *, at: datetime
) -> Iterator[DueLine]:
    kept = DueLine.objects.filter(machine__in=machines, line__kind__isnull=False)
    given = set(kept.values_list("machine_id", "line__kind_id", "line__key"))
    counters = {
        (each.machine_id, each.measure): each
        for each in Counter.objects.filter(machine__in=machines)
    }
    for machine in machines:
        on = machine.depot.day_of(at)
        for line in PlanLine.in_force(lines.get(machine.kind_id, []), on).values():
            is_new = (machine.pk, line.kind_id, line.key) not in given
            if is_new and line.applies_to(machine):
                counter = counters.get((machine.pk, line.measure))
                due_line = DueLine(
                    machine=machine, line=line, counter=counter, start_on=on, worked_out_at=at
                )
                due_line.start_tenths = due_line.total_tenths(machine)
                # Just begun: no figure was read since, and nothing was done.
                known = Known(zone=machine.depot.zone, total_tenths=due_line.start_tenths)
                begun = work_out(
                    line.asked, start_on=on, start_tenths=due_line.start_tenths, known=known
                )
                for name, value in begun._asdict().items():
                    setattr(due_line, name, value)
                yield due_line


def _blocks(due_lines: Iterator[DueLine]) -> Iterator[list[DueLine]]:
    block: list[DueLine] = []
    for due_line in due_lines:
        block.append(due_line)
        if len(block) == BLOCK:
            yield block
            block = []
    if block:
        yield block


@transaction.atomic
def record_done(
    *, due_line: DueLine, on: date, tenths: int | None, at: datetime, job: Job | None = None
) -> Completion:
    """Keeps that a line was done, and the lower services that it includes, and moves them on.

    Work of a lower level that was already raised is called off as included.

    Args:
        on: the day at the depot on which the work was done.
        tenths: [0.1 of what the line counts] read then; None: worked out from the figures.
        job: the job that did it; told again for the same job, nothing is added.
    """
    machine = locked(due_line.machine)
    done = note_done(due_line=due_line, on=on, tenths=tenths, at=at, job=job)
    rework(machine, at=at)
    return done


def note_done(
    *, due_line: DueLine, on: date, tenths: int | None, at: datetime, job: Job | None = None
) -> Completion:
    """The rows of record_done() alone: who notes many at once works the machine out after them."""
    before = Completion.objects.counting().filter(due_line=due_line, job=job)
    if job is not None and (done := before.first()):
        return done
    done = Completion.objects.create(due_line=due_line, on=on, tenths=tenths, at=at, job=job)
    for each in _included(due_line).order_by("pk"):
        read = tenths if each.line.measure == due_line.line.measure else None
        Completion.objects.create(due_line=each, on=on, tenths=read, at=at, included_in=done)
    return done


def record_tested(
    *, test: ElectricalTest, keys: Collection[str], at: datetime, by: User, told: str
) -> None:
    """A passed test satisfies the plan's lines of these keys and closes the jobs raised for them.

    A test is its own proof, so its jobs need no word of their own. Should it come into doubt, it
    counts no longer. Call in its transaction.

    Args:
        told: what the job then says was done.
    """
    machine = test.machine
    on = machine.depot.day_of(at)
    for due_line in DueLine.objects.filter(machine=machine, line__key__in=keys):
        Completion.objects.create(due_line=due_line, on=on, at=at, test=test)
        if due_line.last_done_on is not None and on < due_line.last_done_on:
            continue  # late paper: a newer test has already closed what was raised
        jobs = Job.objects.open().filter(due_line=due_line, opened_at__lte=at)
        for job in jobs.exclude(stops__in=Stop.objects.standing()):
            job.symptom = job.symptom or job.title
            job.cause, job.action = job.cause or _("Due by plan"), job.action or told
            job.state, job.state_since = Job.State.CLOSED, at
            job.done_at, job.done_by = job.done_at or at, job.done_by or by
            job.closed_at, job.closed_by = at, by
            job.save()
    rework(machine, at=at)


def _included(due_line: DueLine) -> QuerySet[DueLine]:
    """The machine's lines of the lower services that this one carries with it."""
    level = due_line.line.level
    lower = [each for each in range(level) if includes(larger=level, smaller=each)]
    lines = DueLine.objects.filter(machine=due_line.machine_id, line__level__in=lower)
    return lines.select_related("line")


@transaction.atomic
def raise_due_work(*, depot: Depot, at: datetime) -> int:
    """Raises a job for each line of the depot that has come due; returns how many were new.

    One statement, and a constraint allows one job for each cycle of a line: running it twice, at
    once, or after days of silence gives each job once.
    """
    on = depot.day_of(at)
    text = CharField()
    rows = (
        DueLine.objects.filter(machine__depot=depot)
        .announced(on)
        .exclude(machine__place__in=_NOT_RAISED)
        .filter(~Exists(Job.objects.filter(due_line=OuterRef("pk"), cycle=OuterRef("cycle"))))
        .annotate(
            job_kind=Case(
                When(line__is_test=True, then=Value(Job.Kind.TEST)),
                default=Value(Job.Kind.SERVICE),
                output_field=text,
            ),
            job_state=Value(Job.State.LOOKED_AT, output_field=text),
            # A guard that came off is looked at by a second person before the machine runs.
            opens_guard=Exists(PlanStep.objects.filter(line=OuterRef("line"), opens_guard=True)),
            opened=Value(at, output_field=DateTimeField()),
        )
        .order_by("pk")
    )
    columns = {
        "machine_id": "machine_id", "due_line_id": "pk", "cycle": "cycle", "title": "line__title",
        "due_on": "due_on", "due_tenths": "due_tenths", "kind": "job_kind", "state": "job_state",
        "opened_at": "opened", "is_safety": "opens_guard",
    }  # fmt: skip
    # What nobody has written yet is the empty text; each column needs a name of its own, since
    # values_list would fold them into one.
    blank = [
        str(field.column)
        for field in Job._meta.concrete_fields
        if isinstance(field, CharField) and field.blank and not field.null
    ]
    rows = rows.annotate(**{f"no_{column}": Value("", output_field=text) for column in blank})
    columns |= {column: f"no_{column}" for column in blank}
    if depot.is_practice:
        keys = Value(Job.objects.practice_key() + 1) - Window(RowNumber(), order_by="pk")
        rows, columns = rows.annotate(practice_key=keys), columns | {"id": "practice_key"}
    query = rows.values_list(*columns.values()).query
    select, params = query.get_compiler(connection=connection).as_sql()
    into = ", ".join(connection.ops.quote_name(name) for name in columns)
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {Job._meta.db_table} ({into}) {select} ON CONFLICT DO NOTHING",
            params,
        )
        return max(0, int(cursor.rowcount))
