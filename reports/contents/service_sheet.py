"""Gathers a service sheet: marks, why now, open faults, steps, and the drives with their sums."""

from collections.abc import Iterable
from datetime import date, datetime

from maintenance.contents.due import DueWork, told
from maintenance.contents.fitness import due_state_of_many, fitness_of
from maintenance.models import DueLine, Job, PlanStep, Stop
from maintenance.rules import due as due_rule
from plant.models import Machine, Place
from reports.contents.drive_block import blocks_of
from reports.contents.plate import link_of, plate_of
from reports.pdf.page import Printed
from reports.pdf.service_sheet import (
    Caution,
    Mark,
    OpenFault,
    ServiceSheet,
    Step,
    Tick,
)

# Two pages hold this many steps beside a belt drive; what is left is named for its own sheet.
MOST_STEPS = 12

BEFORE_START = (
    "Stopped, and at rest",
    "Unplugged, fuel and plug lead off, or hose or battery off",
    "Stored energy gone: drum, springs, pressure, heat",
    "Locked off, tag on, key with me",
)
RELEASE = ("All guards back and fixed", "Runs as it should", "Stop control stops it")


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
    on = machine.depot.day_of(at)
    work = _work(machine, on, job=job)
    faults = _faults(machine)
    steps, left_over = _steps(work, most=MOST_STEPS)
    local = at.astimezone(machine.depot.zone)
    return ServiceSheet(
        sheet_number=sheet_number,
        plate=plate_of(machine),
        printed=Printed(at=f"{local:%-d %b %Y %H:%M}", by=by),
        job_number=job.number if job else "",
        link=link_of(machine),
        marks=_marks(machine, on),
        why_now=_why_now(work, left_over),
        open_faults=faults,
        before_start=tuple(Tick(words) for words in BEFORE_START),
        steps=steps,
        drives=blocks_of(machine, at=at),
        release=(*(Tick(words) for words in RELEASE), Tick("Test", blank="Which, and result")),
        second_person=(
            ""
            if machine.depot.one_person
            else "Where the machine was stopped, who checks it is not who did the work."
        ),
    )


def _work(machine: Machine, on: date, *, job: Job | None) -> list[DueWork]:
    """What the sheet is for: the job's line, else all lines that are due, else the next one."""
    lines = list(
        DueLine.objects.filter(machine=machine)
        .select_related("line", "counter__use_rate")
        .prefetch_related("line__steps")
        .order_by("due_on", "pk")
    )
    for line in lines:
        line.machine = machine
    if job and job.due_line_id:
        return told([line for line in lines if line.pk == job.due_line_id], on)
    work = told(lines, on)
    ranked = (due_rule.OVERDUE, due_rule.NEEDED_BEFORE_USE, due_rule.DUE_SOON)
    due = [each for state in ranked for each in work if each.state == state]
    return due or [each for each in work if each.line.due_on or each.line.due_tenths][:1]


def _steps(work: Iterable[DueWork], *, most: int) -> tuple[tuple[Step, ...], tuple[str, ...]]:
    """The steps of all that is due, none twice, and the titles of what did not fit on two pages."""
    steps: list[Step] = []
    seen: set[str] = set()
    left_over: list[str] = []
    for each in work:
        new = [step for step in each.line.line.steps.all() if step.text not in seen]
        if steps and len(steps) + len(new) > most:
            left_over.append(each.line.line.title)
            continue
        seen |= {step.text for step in new}
        steps += [_step(step) for step in new]
    return tuple(steps), tuple(left_over)


def _why_now(work: Iterable[DueWork], left_over: Iterable[str]) -> tuple[str, ...]:
    """Why each line is due whose steps are here; the others are named in one line."""
    others = tuple(left_over)
    here = tuple(
        f"{each.line.line.title}: {each.why}" for each in work if each.line.line.title not in others
    )
    if not others:
        return here
    return (*here, f"Due too, on a sheet of its own each: {'; '.join(others)}.")


def _step(step: PlanStep) -> Step:
    return Step(
        words=step.text,
        target=step.target,
        unit=step.unit,
        takes_reading=bool(step.unit),
        caution=Caution("Take care", step.caution) if step.caution else None,
    )


def _marks(machine: Machine, on: date) -> tuple[Mark, ...]:
    fitness = fitness_of(machine, on)
    due = due_state_of_many([machine], on)[machine.pk]
    where = Place(machine.place).label
    return (
        Mark("Where it is", where, since=machine.site if machine.place == Place.OUT else ""),
        Mark("May it be used", fitness.mark, since=fitness.reasons[0] if fitness.reasons else ""),
        Mark("What is due", "Nothing due" if due == due_rule.NOTHING else due.capitalize()),
    )


def _faults(machine: Machine) -> tuple[OpenFault, ...]:
    return tuple(
        OpenFault(
            number=stop.job.number if stop.job else "",
            words=stop.words,
            decision=_decision(stop),
        )
        for stop in Stop.objects.standing().filter(machine=machine).select_related("job")
    )


def _decision(stop: Stop) -> str:
    if stop.kind == Stop.Kind.CARRY_ON and stop.until:
        return f"Carry on with a note until {stop.until:%-d %b %Y}"
    return str(stop.get_kind_display())
