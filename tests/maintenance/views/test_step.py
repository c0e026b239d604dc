"""The page of a job's steps: saved as they go, and what was typed is never lost."""

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.models import Job, PlanLine, PlanStep, StepAnswer
from make import make_machine
from plant.models import Depot, Record, User

ALL = [key for key, _ in ISOLATED]


@pytest.fixture
def job(depot: Depot, fitter: User) -> Job:
    machine = make_machine(depot)
    line = PlanLine.objects.create(
        kind=machine.kind, key="gap", title="Gap", first_days=1, every_days=30,
        source="common practice, no source", trust="common practice, no source",
    )  # fmt: skip
    PlanStep.objects.create(
        line=line, position=1, text="Take the cover off.", opens_guard=True,
        caution="Belt can pull fingers in.",
    )  # fmt: skip
    PlanStep.objects.create(
        line=line, position=2, text="Measure the gap.", target="3 to 8", unit="mm", low=3, high=8
    )
    give_plans([machine], at=now())
    raise_due_work(depot=depot, at=now())
    return start_job(job=Job.objects.get(), confirmed=ALL, at=now(), by=fitter)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def send(user: User, job: Job, **data: Any) -> Any:
    given = {"entry": str(uuid.uuid4())} | data
    return signed_in(user).post(reverse("maintenance:job_steps", args=[job.pk]), given)


def page(user: User, name: str, job: Job) -> str:
    return signed_in(user).get(reverse(f"maintenance:{name}", args=[job.pk])).content.decode()


def test_the_caution_stands_before_its_step(job: Job, fitter: User) -> None:
    shown = page(fitter, "job_steps", job)

    assert shown.index("Belt can pull fingers in.") < shown.index("Take the cover off.")
    assert "Target: 3 to 8 mm" in shown


def test_some_now_and_some_later_then_work_done(job: Job, fitter: User, foreman: User) -> None:
    assert send(fitter, job, done_1="ok").status_code == 302
    assert "1 of 2 still open" in page(foreman, "job_steps", job)
    work = {"symptom": "a", "cause": "b", "action": "c", "minutes": "20"}
    finish = reverse("maintenance:finish_job", args=[job.pk])
    early = signed_in(fitter).post(finish, {"entry": str(uuid.uuid4())} | work)
    assert early.status_code == 422
    assert "Step 2 still to answer" in early.content.decode()

    response = send(foreman, job, figure_2="0.5 cm", tool_2="steel rule")

    assert response["Location"] == reverse("maintenance:job", args=[job.pk])
    assert StepAnswer.objects.get(step__position=2).value_si == 0.005
    signed_in(fitter).post(finish, {"entry": str(uuid.uuid4())} | work)
    record = Record.objects.get(kind=Record.Kind.JOB)
    shown = signed_in(foreman).get(reverse("maintenance:record", args=[record.pk]))
    assert "0.5 cm (0.005 m), by steel rule. Freya Foreman." in shown.content.decode()
    assert "0.5 cm, by steel rule. Freya Foreman" in page(fitter, "job", job)


def test_a_figure_outside_is_asked_about_at_once_and_kept_in_its_box(
    job: Job, fitter: User
) -> None:
    odd = {"figure_2": "12", "tool_2": "rule"}
    response = send(fitter, job, **odd)

    shown = response.content.decode()
    assert response.status_code == 422
    assert "Outside 3 to 8 mm" in shown
    assert 'value="12"' in shown
    assert 'name="sure_2"' in shown
    assert 'name="sure_2"' not in page(fitter, "job_steps", job)
    assert send(fitter, job, **odd, sure_2="on").status_code == 302


@pytest.mark.parametrize("typed", ["1,5", "5 N", "five", "5 mm 3", "9" * 30])
def test_a_figure_that_cannot_be_read_is_refused_with_the_rest_kept(
    job: Job, fitter: User, typed: str
) -> None:
    response = send(fitter, job, done_1="ok", figure_2=typed, tool_2="rule")

    assert response.status_code == 422
    assert typed in response.content.decode()
    assert StepAnswer.objects.count() == 0


def test_the_tool_used_last_is_remembered(job: Job, fitter: User) -> None:
    send(fitter, job, figure_2="5", tool_2="my calliper")

    assert 'value="my calliper"' in page(fitter, "job_steps", job)


def test_several_things_wrong_are_said_all_at_once(job: Job, fitter: User) -> None:
    shown = send(fitter, job, done_1="not done", done_2="ok").content.decode()

    assert "Write why this step was not done." in shown
    assert "Write what you measured, in mm" in shown


def test_an_operator_does_no_steps_and_another_depot_knows_none(
    job: Job, operator: User, outsider: User
) -> None:
    assert send(operator, job, done_1="ok").status_code == 403
    assert send(outsider, job, done_1="ok").status_code == 404
