"""The steps of a job: asked as they were, answered by several, sealed at the end."""

import json
from datetime import timedelta

import pytest

from maintenance.actions.job import ISOLATED, isolate_job, start_job
from maintenance.actions.plan import give_plans
from maintenance.actions.step import Answer, tell_steps
from maintenance.actions.work_done import finish_job, send_back_job
from maintenance.contents.record_answers import steps
from maintenance.contents.record_facts import words
from maintenance.models import DueLine, Job, JobStep, PlanLine, PlanStep, StepAnswer
from maintenance.rules.step import Told, measure_of
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.units import read

ALL = [key for key, _ in ISOLATED]
WORK = {"symptom": "due", "cause": "by plan", "action": "done by its steps", "minutes": 30}
SOURCE = {"source": "common practice, no source", "trust": "common practice, no source"}
DONE = Told(is_done=True)


def figure(text: str, *, tool: str = "feeler gauge", sure: bool = False) -> Told:
    return Told(is_done=True, figure=read(text, measure_of("mm")), tool=tool, sure=sure)


def tell(job: Job, by: User, seen: int = 0, minutes: int = 0, **told: Told) -> int:
    answers = {int(n[1:]): Answer(told=each, seen=seen) for n, each in told.items()}
    return tell_steps(job=job, answers=answers, at=MONDAY + timedelta(minutes=minutes), by=by)


@pytest.fixture
def line(machine: Machine) -> PlanLine:
    line = PlanLine.objects.create(
        kind=machine.kind, key="belt", title="Belt service", every_months=3, **SOURCE
    )
    for n, more in enumerate(
        (
            {"text": "Take the cover off.", "opens_guard": True,
             "caution": "Belt can pull fingers in. Isolate first."},
            {"text": "Measure the gap.", "target": "3 to 8", "unit": "mm", "low": 3, "high": 8},
            {"text": "Grease the ring."},
        ), 1,
    ):  # fmt: skip
        PlanStep.objects.create(line=line, position=n, **more)
    return line


@pytest.fixture
def job(machine: Machine, line: PlanLine) -> Job:
    give_plans([machine], at=MONDAY)
    due_line = DueLine.objects.get(line=line)
    return Job.objects.create(
        machine=machine, kind=Job.Kind.SERVICE, title=line.title, due_line=due_line, cycle=1,
        state=Job.State.LOOKED_AT, opened_at=MONDAY,
    )  # fmt: skip


@pytest.fixture
def under_way(job: Job, fitter: User) -> Job:
    return start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)


def test_the_steps_are_kept_as_they_were_when_the_job_began(
    under_way: Job, line: PlanLine, fitter: User
) -> None:
    PlanStep.objects.filter(line=line).update(text="Quite another step.", low=100)
    tell(under_way, fitter, s1=DONE, s2=figure("5.2"), s3=DONE)

    record = finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)

    told = steps(record)
    assert [each.asked for each in told] == [
        "Take the cover off.", "Measure the gap.", "Grease the ring.",
    ]  # fmt: skip
    assert told[0].caution == "Belt can pull fingers in. Isolate first."
    assert told[1].target == "3 to 8 mm"
    assert told[1].answers == ["5.2 mm (0.0052 m), by feeler gauge. Finn Fitter."]
    kept = json.loads(record.content)["data"]["steps"][1]["answers"][0]["figure"]
    assert kept == {"typed": "5.2 mm", "si": "0.0052", "unit": "m"}
    assert not any("step_" in label.lower() for label, _ in words(record))


def test_several_people_do_some_of_them_each(under_way: Job, fitter: User, foreman: User) -> None:
    assert tell(under_way, fitter, s1=DONE, s3=DONE) == 2
    assert tell(under_way, foreman, s2=figure("4", tool="rule")) == 1

    record = finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)

    said = [each.answers[0] for each in steps(record)]
    assert [one.rsplit(". ", 1)[1] for one in said] == [
        "Finn Fitter.", "Freya Foreman.", "Finn Fitter.",
    ]  # fmt: skip


def test_an_unanswered_step_blocks_work_done_and_says_which(under_way: Job, fitter: User) -> None:
    tell(under_way, fitter, s1=DONE)

    with pytest.raises(Refused, match=r"Steps 2 and 3 still to answer"):
        finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)

    under_way.refresh_from_db()
    assert (under_way.state, Record.objects.count()) == ("under way", 0)


def test_a_step_left_out_says_why_and_then_blocks_nothing(under_way: Job, fitter: User) -> None:
    with pytest.raises(Refused) as refused:
        tell(under_way, fitter, s2=Told(is_done=False))
    assert refused.value.field == "because_2"
    out = Told(is_done=False, because="No feeler gauge in the van")
    tell(under_way, fitter, s1=DONE, s2=out, s3=DONE)

    record = finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)

    assert steps(record)[1].answers == ["Not done: No feeler gauge in the van. Finn Fitter."]


def test_an_odd_figure_is_asked_about_and_kept_marked(under_way: Job, fitter: User) -> None:
    with pytest.raises(Refused, match="Outside 3 to 8 mm") as refused:
        tell(under_way, fitter, s2=figure("12.5"))
    assert (refused.value.field, StepAnswer.objects.count()) == ("sure_2", 0)

    tell(under_way, fitter, s2=figure("12.5", sure=True))

    assert StepAnswer.objects.get().out_of_range


def test_no_guard_before_isolating(under_way: Job, fitter: User, foreman: User) -> None:
    tell(under_way, fitter, s1=DONE, s2=figure("5"), s3=DONE)
    finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)
    send_back_job(job=under_way, reason="cover not fixed", at=MONDAY, by=foreman)

    with pytest.raises(Refused, match="Isolate the machine first"):
        tell(under_way, foreman, s1=DONE)
    isolate_job(job=under_way, confirmed=ALL, at=MONDAY, by=foreman)
    seen = StepAnswer.objects.get(step__position=1).pk

    assert tell(under_way, foreman, seen=seen, s1=DONE) == 1


def test_the_same_sent_twice_adds_nothing(under_way: Job, fitter: User) -> None:
    assert tell(under_way, fitter, s2=figure("5.2")) == 1
    assert tell(under_way, fitter, s2=figure("5.2"), minutes=3) == 0


def test_an_answer_of_somebody_else_is_never_written_over_unseen(
    under_way: Job, fitter: User, foreman: User
) -> None:
    tell(under_way, fitter, s2=figure("5.2"))
    with pytest.raises(Refused, match=r"Finn Fitter has answered this since: 5.2 mm, by feeler"):
        tell(under_way, foreman, s2=figure("6.1"), minutes=1)

    seen = StepAnswer.objects.get().pk
    tell(under_way, foreman, seen=seen, minutes=2, s2=figure("6.1"), s1=DONE, s3=DONE)

    record = finish_job(job=under_way, **WORK, at=MONDAY + timedelta(hours=1), by=fitter)
    assert [one.split(" mm")[0] for one in steps(record)[1].answers] == ["5.2", "6.1"]


def test_one_wrong_answer_saves_none_of_them(under_way: Job, fitter: User) -> None:
    with pytest.raises(Refused):
        tell(under_way, fitter, s1=DONE, s2=Told(is_done=True))

    assert StepAnswer.objects.count() == 0


def test_a_step_of_no_such_number_is_refused(under_way: Job, fitter: User) -> None:
    with pytest.raises(Refused, match="not of this job"):
        tell(under_way, fitter, s9=DONE)


def test_before_the_start_and_after_the_end_nothing_is_told(job: Job, fitter: User) -> None:
    with pytest.raises(Refused, match="Start the job first"):
        tell(job, fitter, s1=DONE)
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    tell(job, fitter, s1=DONE, s2=figure("5"), s3=DONE)
    finish_job(job=job, **WORK, at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="Start the job first"):
        tell(job, fitter, s3=Told(is_done=False, because="no"))


def test_finished_twice_by_one_submission_it_is_sealed_once(under_way: Job, fitter: User) -> None:
    tell(under_way, fitter, s1=DONE, s2=figure("5"), s3=DONE)
    entry = new_id()

    for _ in range(2):
        finish_job(job=under_way, **WORK, at=MONDAY, by=fitter, record_id=entry)

    assert Record.objects.count() == 1


def test_who_joins_seals_no_steps_a_second_time(
    under_way: Job, fitter: User, foreman: User
) -> None:
    tell(under_way, fitter, s1=DONE, s2=figure("5"), s3=DONE)
    finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)

    second = finish_job(job=under_way, **WORK, at=MONDAY, by=foreman)

    assert steps(second) == []


def test_words_and_tool_are_erasable_and_the_figure_stays(under_way: Job, fitter: User) -> None:
    tell(under_way, fitter, s1=DONE, s2=figure("5", tool="Finn's own gauge"), s3=DONE)

    record = finish_job(job=under_way, **WORK, at=MONDAY, by=fitter)

    assert "own gauge" not in record.content
    assert '"typed":"5 mm"' in record.content
    assert "Finn" not in record.content


def test_a_job_begun_before_steps_were_kept_gets_them_at_the_first_answer(
    under_way: Job, fitter: User
) -> None:
    JobStep.objects.all().delete()

    tell(under_way, fitter, s1=DONE)

    assert JobStep.objects.filter(job=under_way).count() == 3
