"""The steps of a job with their answers: which are open, and what was said of each."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from maintenance.models import Job, JobStep, PlanStep, StepAnswer
from maintenance.rules import step as rule
from maintenance.rules.words import day_text


@dataclass(frozen=True)
class StepTold:
    """One step with its answers in words, the last of which counts."""

    text: str
    target: str
    unit: str
    caution: str
    told: list[str]


def asked(step: JobStep) -> rule.Asked:
    """The step as the rules take it."""
    return rule.Asked(
        position=step.position,
        unit=step.unit,
        low=step.low,
        high=step.high,
        opens_guard=step.opens_guard,
    )


def with_answers(job: Job) -> list[JobStep]:
    """The steps in order, with their answers and who gave them read ahead; two queries."""
    answers = Prefetch("answers", StepAnswer.objects.select_related("by").order_by("at", "pk"))
    return list(job.steps.order_by("position").prefetch_related(answers))


def last(step: JobStep) -> StepAnswer | None:
    """The answer that counts; needs the answers read ahead."""
    return next(reversed(list(step.answers.all())), None)


def before_text(answer: StepAnswer) -> str:
    """The answer in a few words."""
    if not answer.is_done:
        return _("not done, because {because}").format(because=answer.because)
    return (
        _("{typed}, by {tool}").format(typed=answer.typed, tool=answer.tool)
        if answer.typed
        else "done"
    )


def open_positions(steps: Sequence[JobStep]) -> list[int]:
    """The steps that nobody has answered; needs the answers read ahead."""
    return [step.position for step in steps if last(step) is None]


def told(job: Job) -> tuple[list[StepTold], int]:
    """The steps of a job for its page, and how many are open; before it begins, the plan's."""
    steps = with_answers(job)
    if not steps:
        plan = job.due_line.line.steps.all() if job.due_line else PlanStep.objects.none()
        return [_told(each, []) for each in plan], 0
    zone = job.machine.depot
    found = [
        _told(
            step,
            [
                f"{before_text(each).capitalize()}. {each.by}, {day_text(zone.day_of(each.at))}."
                for each in step.answers.all()
            ],
        )
        for step in steps
    ]
    return found, len(open_positions(steps))


def _told(step: JobStep | PlanStep, told: list[str]) -> StepTold:
    ends = rule.range_text(rule.Asked(position=0, unit=step.unit, low=step.low, high=step.high))
    return StepTold(step.text, ends or step.target, step.unit, step.caution, told)
