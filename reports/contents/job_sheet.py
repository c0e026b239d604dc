"""What was written of a job, filled into its service sheet; what nobody wrote yet stays blank."""

from dataclasses import replace
from datetime import datetime

from django.utils.translation import gettext as _

from maintenance.contents.step import before_text, last, with_answers
from maintenance.models import Job, JobStep, StepAnswer
from maintenance.rules.step import Asked, range_text
from maintenance.rules.words import moment_text
from plant.models import User
from reports.pdf.service_sheet import Caution, PartLine, ServiceSheet, Signature, Step


def filled(sheet: ServiceSheet, job: Job) -> ServiceSheet:
    """The sheet with the job's steps as they were asked and answered, its time, parts and words."""
    steps = tuple(_step(job, step) for step in with_answers(job))
    minutes = sum(each.minutes for each in job.labour.all())
    ticks = sheet.before_start
    if job.isolated_by_id:
        ticks = tuple(replace(tick, done=True) for tick in ticks)
    return replace(
        sheet,
        before_start=ticks,
        made_safe=_signed(job, job.isolated_by, job.isolated_at),
        steps=steps or sheet.steps,
        parts=tuple(
            PartLine("", part.what, part.taken_from, str(part.kept)) for part in job.parts.all()
        ),
        minutes=str(minutes) if minutes else "",
        found=job.symptom,
        cause=job.cause,
        done=job.action,
        done_by=_signed(job, job.done_by, job.done_at),
        checked_by=_signed(job, job.closed_by, job.closed_at),
    )


def _step(job: Job, step: JobStep) -> Step:
    asked = Asked(position=step.position, unit=step.unit, low=step.low, high=step.high)
    counts = last(step)
    # A figure typed in the step's own unit stands beside the unit that is printed in its box.
    reading = counts.typed.removesuffix(step.unit).rstrip() if counts else ""
    return Step(
        words=step.text,
        target=range_text(asked) or step.target,
        unit=step.unit,
        takes_reading=bool(step.unit),
        reading=reading,
        answer="" if counts is None or not counts.is_done else "OK",
        note=" ".join(_told(job, answer) for answer in step.answers.all()),
        caution=Caution("Take care", step.caution) if step.caution else None,
    )


def _told(job: Job, answer: StepAnswer) -> str:
    """One answer with who gave it and when; a later one stands after it and counts."""
    told = before_text(answer)
    odd = _(", outside the range") if answer.out_of_range else ""
    return f"{told[:1].upper()}{told[1:]}{odd}. {answer.by}, {_moment(job, answer.at)}."


def _signed(job: Job, person: User | None, at: datetime | None) -> Signature:
    if person is None or at is None:
        return Signature()
    return Signature(person.name, _moment(job, at))


def _moment(job: Job, at: datetime) -> str:
    return moment_text(at.astimezone(job.machine.depot.zone))
