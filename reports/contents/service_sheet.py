"""Gathers a service sheet: marks, why now, open faults, steps, and the drives with their sums."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.db.models import Prefetch, prefetch_related_objects
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.contents.drive import read_ahead as read_readings_ahead
from maintenance.contents.due import DueWork, told
from maintenance.contents.fitness import fitness_by, worst_of
from maintenance.models import DueLine, Job, PlanStep, Stop
from maintenance.rules import due as due_rule
from maintenance.rules.words import day_text, moment_text
from plant.models import Drive, Machine, Place
from reports.contents.drive_block import blocks_of
from reports.contents.plate import link_of, plate_of
from reports.pdf.page import Printed
from reports.pdf.service_sheet import Caution, Mark, OpenFault, ServiceSheet, Step, Tick

# Two pages hold this many steps beside a belt drive. A service is never cut in two: one that does
# not fit is named with its job, whose sheet has all of its steps.
MOST_STEPS = 12

# Where read_ahead puts what it read.
_LINES, _STOPS, _JOBS = "lines_ahead", "stops_ahead", "jobs_ahead"

BEFORE_START = (
    _("Stopped, and at rest"),
    _("Unplugged, fuel and plug lead off, or hose or battery off"),
    _("Stored energy gone: drum, springs, pressure, heat"),
    _("Locked off, tag on, key with me"),
)
RELEASE = (_("All guards back and fixed"), _("Runs as it should"), _("Stop control stops it"))


def service_sheet(
    machine: Machine, *, at: datetime, by: str, sheet_number: str, job: Job | None = None
) -> ServiceSheet:
    """Everything on a blank service sheet of one machine, ready to print.

    Args:
        at: the moment of gathering; times are printed in the depot's zone.
        by: the name of who asked for it.
        sheet_number: what the sheet is called.
        job: the job it is printed for; without one, all that is due.
    """
    if not hasattr(machine, _LINES):
        read_ahead([machine])
    on = machine.depot.day_of(at)
    lines: list[DueLine] = getattr(machine, _LINES)
    stops: list[Stop] = getattr(machine, _STOPS)
    work = _work(lines, on, job=job)
    faults = tuple(_fault(stop) for stop in stops)
    steps, left_over = _steps(work, most=MOST_STEPS)
    others = _with_jobs(left_over)
    local = at.astimezone(machine.depot.zone)
    return ServiceSheet(
        sheet_number=sheet_number,
        plate=plate_of(machine),
        printed=Printed(at=moment_text(local), by=by),
        job_number=job.number if job else "",
        link=link_of(machine),
        marks=_marks(machine, on, lines=lines, stops=stops),
        why_now=_why_now(work, left_over, others),
        open_faults=faults,
        before_start=tuple(Tick(gettext(words)) for words in BEFORE_START),
        steps=steps,
        drives=blocks_of(machine, at=at),
        release=(
            *(Tick(gettext(words)) for words in RELEASE),
            Tick(gettext("Test"), blank=gettext("Which, and result")),
        ),
        second_person=(
            ""
            if machine.depot.one_person
            else gettext("Where the machine was stopped, who checks it is not who did the work.")
        ),
    )


def read_ahead(machines: Sequence[Machine]) -> None:
    """Reads for all of them at once what a sheet asks of each, and keeps it on the machine."""
    lines = DueLine.objects.select_related("line", "counter__use_rate").order_by("due_on", "pk")
    jobs = Prefetch("jobs", Job.objects.open(), to_attr=_JOBS)
    prefetch_related_objects(
        machines,
        Prefetch("due_lines", lines.prefetch_related("line__steps", jobs), to_attr=_LINES),
        Prefetch("stops", Stop.objects.standing().select_related("job"), to_attr=_STOPS),
        Prefetch("drives", Drive.objects.select_related("belt_life").order_by("stage")),
    )
    read_readings_ahead([drive for machine in machines for drive in machine.drives.all()])


def _work(lines: Sequence[DueLine], on: date, *, job: Job | None) -> list[DueWork]:
    """What the sheet is for: the job's line, else all lines that are due, else the next one."""
    if job and job.due_line_id:
        return told([line for line in lines if line.pk == job.due_line_id], on)
    work = told(lines, on)
    ranked = (due_rule.OVERDUE, due_rule.NEEDED_BEFORE_USE, due_rule.DUE_SOON)
    due = [each for state in ranked for each in work if each.state == state]
    return due or [each for each in work if each.line.due_on or each.line.due_tenths][:1]


def _steps(work: Iterable[DueWork], *, most: int) -> tuple[tuple[Step, ...], list[DueLine]]:
    """The steps of all that is due, none twice, and what did not fit on two pages."""
    steps: list[Step] = []
    seen: set[str] = set()
    left_over: list[DueLine] = []
    for each in work:
        new = [step for step in each.line.line.steps.all() if step.text not in seen]
        if steps and len(steps) + len(new) > most:
            left_over.append(each.line)
            continue
        seen |= {step.text for step in new}
        steps += [_step(step) for step in new]
    return tuple(steps), left_over


def _with_jobs(lines: Iterable[DueLine]) -> list[str]:
    """Each line's work, with the job that was raised for it."""
    names = []
    for line in lines:
        jobs: list[Job] = getattr(line, _JOBS)
        names.append(f"{line.line.title} ({jobs[-1].number})" if jobs else line.line.title)
    return names


def _why_now(
    work: Iterable[DueWork], left_over: Iterable[DueLine], others: Iterable[str]
) -> tuple[str, ...]:
    """Why each line is due whose steps are here; the others are named in one line."""
    left = {line.pk for line in left_over}
    here = tuple(f"{each.line.line.title}: {each.why}" for each in work if each.line.pk not in left)
    if not left:
        return here
    return (
        *here,
        gettext("Due too, on the sheet of its job each: {others}.").format(
            others="; ".join(others)
        ),
    )


def _step(step: PlanStep) -> Step:
    return Step(
        words=step.text,
        target=step.target,
        unit=step.unit,
        takes_reading=bool(step.unit),
        caution=Caution("Take care", step.caution) if step.caution else None,
    )


def _marks(
    machine: Machine, on: date, *, lines: Iterable[DueLine], stops: Iterable[Stop]
) -> tuple[Mark, ...]:
    fitness = fitness_by(machine, on, stops=stops)
    due = worst_of(lines, machine, on)
    where = str(Place(machine.place).label)
    return (
        Mark("Where it is", where, since=machine.site if machine.place == Place.OUT else ""),
        Mark("May it be used", fitness.mark, since=fitness.reasons[0] if fitness.reasons else ""),
        Mark(
            "What is due", gettext("Nothing due") if due == due_rule.NOTHING else due.capitalize()
        ),
    )


def _fault(stop: Stop) -> OpenFault:
    return OpenFault(
        number=stop.job.number if stop.job else "",
        words=stop.words,
        decision=_decision(stop),
    )


def _decision(stop: Stop) -> str:
    if stop.kind == Stop.Kind.CARRY_ON and stop.until:
        return gettext("Carry on with a note until {until}").format(until=day_text(stop.until))
    return str(stop.get_kind_display())
