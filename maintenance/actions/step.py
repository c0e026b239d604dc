"""The steps of a job: kept as they were asked when it began, answered by whoever did them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.signing import locked, words
from maintenance.contents.step import asked, before_text, last, with_answers
from maintenance.models import Job, JobStep, StepAnswer
from maintenance.rules import step as rule
from plant.actions.refusal import Refused
from plant.models import User
from plant.rights import Right, role_for
from plant.sealing import Canonical
from plant.sealing import moment as sealed_moment
from plant.units import decimal_string


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What is told of one step, and the key of the last answer that its page showed (0: none)."""

    told: rule.Told
    seen: int = 0


def keep_steps(job: Job) -> None:
    """Copies the steps of the job's plan line, once. Call with the machine locked."""
    if job.due_line is None or job.steps.exists():
        return
    asked = job.due_line.line.steps.order_by("position")
    JobStep.objects.bulk_create(
        JobStep(
            job=job,
            position=position,
            **{
                name: getattr(each, name)
                for name in (
                    "text", "target", "unit", "low", "high", "caution", "opens_guard",
                )
            },
        )
        for position, each in enumerate(asked, 1)
    )  # fmt: skip


@transaction.atomic
def tell_steps(*, job: Job, answers: Mapping[int, Answer], at: datetime, by: User) -> int:
    """Keeps what was done of some steps, by position; returns how many answers are new.

    The same sent again adds nothing. They are sealed with the job's record at *Work done*.

    Raises:
        Refused: not under way, an answer that lacks something, a guard before isolating, or
            somebody else has answered the step since the page was shown; nothing is saved.
    """
    machine = locked(job.machine)
    job = (
        Job.objects.select_for_update(of=("self",)).select_related("due_line__line").get(pk=job.pk)
    )
    role_for(by, Right.WORK, machine.depot_id)
    if job.state != Job.State.UNDER_WAY:
        raise Refused(_("Start the job first: isolate the machine. Not saved."))
    keep_steps(job)
    steps = {step.position: step for step in with_answers(job)}
    made = []
    for position, answer in sorted(answers.items()):
        step = steps.get(position)
        if step is None:
            raise Refused(_("This step is not of this job. Open the page afresh."))
        new = _answer(step, answer.told, job=job, at=at, by=by)
        before = last(step)
        if before is not None and _equal(before, new):
            continue
        if before is not None and before.pk != answer.seen:
            raise Refused(
                _(
                    "{by} has answered this since: {before}. Not saved. Look at it, "
                    "then save again."
                ).format(by=before.by, before=before_text(before)),
                field=f"done_{position}",
            )
        made.append(new)
    StepAnswer.objects.bulk_create(made)
    return len(made)


def sealed_steps(steps: list[JobStep]) -> tuple[list[Canonical], dict[str, str]]:
    """The steps as they were asked, with every answer, for the record; and the free words."""
    told: list[Canonical] = []
    texts: dict[str, str] = {}
    for step in steps:
        given: list[Canonical] = []
        for nth, each in enumerate(step.answers.all(), 1):
            name = f"step_{step.position}_{nth}"
            texts |= {f"{name}_because": each.because, f"{name}_tool": each.tool}
            given.append(
                {
                    "done": each.is_done,
                    "text": name,
                    "figure": None if each.value_si is None else {
                        "typed": each.typed, "si": decimal_string(each.value_si),
                        "unit": each.unit_si,
                    },
                    "out_of_range": each.out_of_range,
                    "by": str(each.by_id),
                    "at": sealed_moment(each.at),
                }
            )  # fmt: skip
            texts[f"{name}_by"] = each.by.name
        told.append(
            {
                "step": str(step.position),
                "words": step.text,
                "target": step.target,
                "unit": step.unit,
                "range": rule.range_text(asked(step)),
                "caution": step.caution,
                "opens_guard": step.opens_guard,
                "answers": given,
            }
        )
    return told, texts


def _answer(step: JobStep, told: rule.Told, *, job: Job, at: datetime, by: User) -> StepAnswer:
    at_field = f"_{step.position}"
    because = words(told.because, field=f"because{at_field}", what=_("why not"), high=400)
    tool = words(told.tool, field=f"tool{at_field}", what="tool", high=rule.LONGEST_TOOL)
    part, refused = rule.refusal(asked(step), told, isolated=job.isolated_at is not None)
    if refused:
        raise Refused(
            _("Step {position}: {refused}").format(position=step.position, refused=refused),
            field=f"{part}{at_field}",
        )
    figure = told.figure if told.is_done and step.unit else None
    typed = ""
    if figure is not None:
        bare = not any(c.isalpha() or c in "%°" for c in figure.text_as_typed)
        typed = f"{figure.text_as_typed} {figure.unit}" if bare else figure.text_as_typed
    return StepAnswer(
        step=step,
        is_done=told.is_done,
        because="" if told.is_done else because,
        typed=typed,
        value_si=figure.value_si if figure else None,
        unit_si=rule.measure_of(step.unit).si if figure else "",
        tool=tool if figure else "",
        out_of_range=rule.is_out_of_range(asked(step), figure),
        by=by,
        at=at,
    )


def _equal(one: StepAnswer, other: StepAnswer) -> bool:
    names = ("is_done", "because", "typed", "tool", "by_id")
    return all(getattr(one, name) == getattr(other, name) for name in names)
