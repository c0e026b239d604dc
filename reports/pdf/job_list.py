"""The list of jobs of one person for one day: what, where, in which order, with room to write."""

from dataclasses import dataclass, field
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table, TableStyle

from plant.translate import gettext as _
from reports.pdf.boxes import BARE, FIGURE, NOTE, STRONG, THIN, CautionLine, Flow, Heading, body
from reports.pdf.furniture import Box, TickBox
from reports.pdf.page import WIDTH, Printed, Running, build_counted
from reports.pdf.service_sheet import Caution


@dataclass(frozen=True)
class Task:
    """One job: number, machine and kind, where it stands, what is to be done, what was told.

    when: "promised for 25 Nov 2026 14:00", or ""; minutes: "about 40 min", or "no estimate";
    remarks: "Safety: release check before it is used again".
    """

    number: str
    machine: str
    place: str
    title: str
    told: str = ""
    when: str = ""
    minutes: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class JobList:
    """The day of one person; every text is ready to print. load: "95 of 420 min"."""

    person: str
    day: str
    depot: str
    load: str
    printed: Printed
    tasks: tuple[Task, ...] = ()
    cautions: tuple[Caution, ...] = ()
    defer: str = field(
        default_factory=lambda: _(
            "The maker's handbook, the law and the site's rules where you are go before this list. "
            "Work that needs a licence is for who holds it."
        )
    )


def render(jobs: JobList) -> bytes:
    """Draws the list on as many pages of A4 as it takes; no job is split.

    Returns:
        A PDF; equal lists give equal bytes.
    """
    running = Running(
        title=_("Job list"),
        subject=f"{jobs.person}, {jobs.day}, {jobs.depot}",
        printed=jobs.printed,
    )
    count = len(jobs.tasks)
    heading = (
        _("No job")
        if not count
        else "1 job"
        if count == 1
        else _("{count} jobs").format(count=count)
    )
    story: list[Flowable] = [Heading(heading, remark=jobs.load)]
    for caution in jobs.cautions:
        story += [CautionLine(strength=caution.strength, words=caution.words), Spacer(0, 2)]
    if not count:
        story.append(body(_("Nothing is given out for this day.")))
    for place, task in enumerate(jobs.tasks, 1):
        story += [Spacer(0, 5), _task(task, place=place)]
    story += [Spacer(0, 6), body(jobs.defer, style=NOTE)]
    return build_counted(story, running=running)[0]


_LEFT = 12 * mm
_RIGHT = 44 * mm


def _task(task: Task, *, place: int) -> Flowable:
    middle = WIDTH - _LEFT - _RIGHT
    words: list[Flowable] = [
        body(f"{place}. {task.machine}: {task.title}", style=STRONG),
        body(f"{task.number}. {task.place}".strip()),
    ]
    if task.told:
        words.append(body(_("Told: {told}").format(told=task.told)))
    words += [body(remark, style=STRONG) for remark in task.remarks]
    side: list[Flowable] = [body(task.minutes, style=FIGURE)]
    if task.when:
        side.append(body(task.when, style=STRONG))
    head = Table([[Flow(TickBox()), words, side]], colWidths=[_LEFT, middle, _RIGHT])
    style: list[tuple[Any, ...]] = [*BARE, ("RIGHTPADDING", (1, 0), (1, 0), 6)]
    head.setStyle(TableStyle(style))
    room = WIDTH - _LEFT
    boxes = Table(
        [
            [
                Spacer(0, 0),
                Flow(Box(width=room - 3 * 24 * mm - 9, label=_("Found and done, or why not"))),
                Flow(Box(width=24 * mm, label=_("Begun"))),
                Flow(Box(width=24 * mm, label=_("Ended"))),
                Flow(Box(width=24 * mm, label=_("Time"), unit="min")),
            ]
        ],
        colWidths=[_LEFT, room - 3 * (24 * mm + 3), *([24 * mm + 3] * 3)],
    )
    boxes.setStyle(TableStyle([*BARE, ("LINEBELOW", (0, 0), (-1, 0), THIN, "black")]))
    boxes.setStyle(TableStyle([("BOTTOMPADDING", (0, 0), (-1, 0), 5)]))
    return KeepTogether([head, Spacer(0, 2), boxes])
