"""The sheet of one job says what was written of it, by whom and when; the rest stays for a biro."""

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.plan import give_plans
from maintenance.actions.step import Answer, tell_steps
from maintenance.actions.work_done import finish_job
from maintenance.models import DueLine, Job, PlanLine, PlanStep
from maintenance.rules.step import Told, measure_of
from make import MONDAY
from plant.models import Machine, User
from plant.units import read
from reports.actions.sheet import ask_sheets, print_batch
from reports.models import Sheet


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    line = PlanLine.objects.create(
        kind=machine.kind, key="belt", title="Belt service", every_months=3, source="s", trust="t"
    )
    steps = (
        {"text": "Measure the gap.", "unit": "mm", "low": 3, "high": 8},
        {"text": "Grease the ring.", "caution": "Ring traps fingers. Stop the drum."},
        {"text": "Turn it by hand."},
    )
    for n, more in enumerate(steps, 1):
        PlanStep.objects.create(line=line, position=n, **more)
    give_plans([machine], at=MONDAY)
    made = Job.objects.create(
        machine=machine, kind=Job.Kind.SERVICE, title=line.title, cycle=1, opened_at=MONDAY,
        due_line=DueLine.objects.get(line=line), state=Job.State.LOOKED_AT,
    )  # fmt: skip
    return start_job(job=made, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=fitter)


def printed(job: Job, by: User) -> str:
    at = MONDAY + timedelta(hours=2)
    batch = ask_sheets(depot=job.machine.depot, machines=[job.machine], by=by, at=at, job=job)
    print_batch(batch.pk, clock=lambda: at, until=at + timedelta(minutes=1))
    with Sheet.objects.get(batch=batch).file.open("rb") as file:
        pages = PdfReader(io.BytesIO(file.read())).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_the_sheet_of_a_job_tells_its_answered_steps(job: Job, fitter: User, desk: User) -> None:
    gap = Told(is_done=True, figure=read("5.2 mm", measure_of("mm")), tool="feeler gauge")
    answers = {1: gap, 2: Told(is_done=True), 3: Told(is_done=False, because="the drum is full")}
    tell_steps(
        job=job, answers={n: Answer(told=each, seen=0) for n, each in answers.items()},
        at=MONDAY + timedelta(minutes=20), by=fitter,
    )  # fmt: skip
    finish_job(
        job=job, symptom="due", cause="by plan", action="Greased all round", minutes=35,
        at=MONDAY + timedelta(hours=1), by=fitter,
    )  # fmt: skip

    words = printed(job, desk)

    for told in (
        job.number, "3 to 8 mm", "5.2 mm, by feeler gauge. Finn Fitter, 2 Mar 2026 09:20.",
        "Not done, because the drum is full. Finn Fitter", "Greased all round", "35",
        "Ring traps fingers. Stop the drum.",
    ):  # fmt: skip
        assert told in words, told


def test_before_anybody_answered_the_sheet_is_blank_for_use_by_hand(job: Job, desk: User) -> None:
    words = printed(job, desk)

    assert "Measure the gap." in words
    assert "Grease the ring." in words
    assert "by feeler gauge" not in words
