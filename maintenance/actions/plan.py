"""Gives machines their plan lines, notes what was done, and raises the work that has come due."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from django.db import connection, transaction
from django.db.models import Case, Exists, F, OuterRef, Q, Value, When
from django.db.models.fields import CharField, DateTimeField

from maintenance.models import DueLine, Job, PlanLine, PlanStep
from maintenance.rules.due import Due, includes, next_due
from plant.models import Depot, Machine, Place

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
    lines: dict[int, list[PlanLine]] = {}
    for line in PlanLine.objects.filter(kind__isnull=False).order_by("from_on"):
        kept = [each for each in lines.get(line.kind_id or 0, []) if each.key != line.key]
        lines[line.kind_id or 0] = [*kept, line]  # the newest version of each line
    count = 0
    for block in _blocks(_new_lines(machines, lines, at=at)):
        count += len(DueLine.objects.bulk_create(block, ignore_conflicts=True))
    return count


def _new_lines(
    machines: Iterable[Machine], lines: dict[int, list[PlanLine]], *, at: datetime
) -> Iterator[DueLine]:
    for machine in machines:
        for line in lines.get(machine.kind_id, []):
            if line.applies_to(machine):
                due_line = DueLine(
                    machine=machine,
                    line=line,
                    start_on=machine.depot.day_of(at),
                    start_tenths=machine.hours_tenths,
                )
                work_out(due_line, at=at)
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


def work_out(due_line: DueLine, *, at: datetime) -> Due:
    """Sets when the line is due next, from what was last done. Saves nothing."""
    due = due_of(due_line)
    line = due_line.line
    due_line.due_on, due_line.due_tenths = due.on, due.tenths
    due_line.raise_on = None if due.on is None else due.on - timedelta(days=line.notice_days)
    due_line.raise_tenths = None if due.tenths is None else due.tenths - line.notice_tenths
    due_line.worked_out_at = at
    return due


def due_of(due_line: DueLine) -> Due:
    """The next due point of a line, with the cycle that the line has reached."""
    done = due_line.done
    due = next_due(
        due_line.line.rule,
        start_on=due_line.start_on,
        start_tenths=due_line.start_tenths,
        done=done,
        notice_days=due_line.line.notice_days,
        notice_tenths=due_line.line.notice_tenths,
    )
    return Due(on=due.on, tenths=due.tenths, cycle=due_line.cycle)


@transaction.atomic
def record_done(*, due_line: DueLine, on: date, tenths: int | None, at: datetime) -> None:
    """Moves the line, and the lower services that it includes, on to their next due point.

    Work of a lower level that was already raised is called off as included.

    Args:
        on: the day at the depot on which the work was done.
        tenths: [0.1 h] running hours then, if known.
    """
    same_machine = DueLine.objects.select_for_update().select_related("line")
    for each in same_machine.filter(machine_id=due_line.machine_id).order_by("pk"):
        is_it = each.pk == due_line.pk
        if not is_it and not _includes(due_line.line, each.line):
            continue
        if each.last_done_on is not None and on < each.last_done_on:
            continue  # late paper: newer work has already moved this line on
        if not is_it:
            _call_off_included(each, by=due_line)
        each.last_done_on, each.last_done_tenths = on, tenths
        each.cycle += 1
        work_out(each, at=at)
        each.save()


def _includes(larger: PlanLine, smaller: PlanLine) -> bool:
    return larger.level != smaller.level and includes(larger=larger.level, smaller=smaller.level)


def _call_off_included(due_line: DueLine, *, by: DueLine) -> None:
    Job.objects.open().filter(due_line=due_line, cycle=due_line.cycle).update(
        state=Job.State.CALLED_OFF, called_off_because=f"Included in: {by.line.title}."
    )


def raise_due_work(*, depot: Depot, at: datetime) -> int:
    """Raises a job for each line of the depot that has come due; returns how many were new.

    One statement, and a constraint allows one job for each cycle of a line: running it twice, at
    once, or after days of silence gives each job once.
    """
    on = depot.day_of(at)
    text = CharField()
    rows = (
        DueLine.objects.filter(machine__depot=depot)
        .filter(Q(raise_on__lte=on) | Q(raise_tenths__lte=F("machine__hours_tenths")))
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
    query = rows.values_list(*columns.values()).query
    select, params = query.get_compiler(connection=connection).as_sql()
    into = ", ".join(connection.ops.quote_name(name) for name in columns)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {Job._meta.db_table} ({into}) {select} ON CONFLICT DO NOTHING",
            params,
        )
        return max(0, int(cursor.rowcount))
