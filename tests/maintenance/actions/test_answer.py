"""Who told a fault hears back: who has it, what was decided, and words to him."""

import json
from datetime import timedelta

import pytest

from maintenance.actions.answer import answer_report, have_it
from maintenance.actions.fault import report_fault
from maintenance.actions.job import call_off_job, open_job
from maintenance.actions.stop import decide_stop
from maintenance.contents.answer import jobs_of, reply, told_by
from maintenance.contents.record import summary
from maintenance.models import Job
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet")
LATER = MONDAY + timedelta(minutes=20)


@pytest.fixture
def job(machine: Machine, operator: User) -> Job:
    return report_fault(
        machine=machine, part="stands_level", told="wheel stiff", stop_now=False, at=MONDAY,
        by=operator,
    )  # fmt: skip


def lines(job: Job, *, own: bool = True) -> tuple[str, ...]:
    return reply(jobs_of([job.opened_by_record]).get(pk=job.pk), own=own).lines


def test_at_first_nobody_has_it(job: Job) -> None:
    assert lines(job) == ("Nobody has it yet. It is on the foreman's list.",)


def test_i_have_it_is_sealed_once_and_read_by_who_told_it(job: Job, foreman: User) -> None:
    for _ in range(3):
        have_it(job=job, at=LATER, by=foreman)

    record = Record.objects.get(kind=Record.Kind.ANSWER)
    assert (record.by, record.role) == (foreman, "foreman")
    assert json.loads(record.content)["data"] == {"job": job.number, "answer": "has it"}
    assert lines(job) == ("Freya Foreman, foreman, has it, since 09:20 on 2 Mar 2026.",)
    assert lines(job, own=False) == ("A foreman has it, since 09:20 on 2 Mar 2026.",)


def test_another_takes_it_over(job: Job, foreman: User, fitter: User) -> None:
    have_it(job=job, at=LATER, by=foreman)
    have_it(job=job, at=LATER + timedelta(minutes=5), by=fitter)

    assert lines(job) == ("Finn Fitter, fitter, has it, since 09:25 on 2 Mar 2026.",)


def test_carrying_on_needs_an_answer_and_it_is_read(job: Job, foreman: User) -> None:
    stop = job.stops.get()
    until = MONDAY.date() + timedelta(days=7)

    def decide(answer: str) -> Record:
        return decide_stop(
            stop=stop, carry_on_until=until, reason="stiff, not loose", answer=answer, at=LATER,
            by=foreman,
        )  # fmt: skip

    for short in ("", " ", "fine"):
        with pytest.raises(Refused) as refused:
            decide(short)
        assert refused.value.field == "answer"
    assert not Record.objects.filter(kind=Record.Kind.DECISION).exists()

    decide("It turns and holds: go on, on level ground.")

    said = lines(job)[-1]
    assert "carry on with a note until 9 Mar 2026" in said
    assert said.endswith("It turns and holds: go on, on level ground.")
    assert "It turns" not in " ".join(lines(job, own=False))


def test_calling_off_what_somebody_told_needs_an_answer(job: Job, foreman: User) -> None:
    decide_stop(stop=job.stops.get(), carry_on_until=None, reason="", at=LATER, by=foreman)
    job.refresh_from_db()
    with pytest.raises(Refused) as refused:
        call_off_job(job=job, reason="told twice", at=LATER, by=foreman)
    assert refused.value.field == "answer"

    call_off_job(
        job=job, reason="told twice", answer="Told before: it is J-1001.", at=LATER, by=foreman
    )

    assert lines(job)[-1].endswith("Told before: it is J-1001.")


def test_planned_work_is_called_off_without_one_and_nobody_is_answered(
    machine: Machine, foreman: User, fitter: User
) -> None:
    job = open_job(machine=machine, kind=Job.Kind.SERVICE, title="Grease", at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="Nobody reported"):
        answer_report(job=job, answer="We looked at it.", at=LATER, by=fitter)

    assert call_off_job(job=job, reason="done", at=LATER, by=foreman).state == "called off"


def test_an_answer_sent_twice_is_one_and_reads_in_the_story(job: Job, fitter: User) -> None:
    entry = new_id()
    for _ in range(2):
        record = answer_report(
            job=job, answer="A new wheel comes on Friday.", at=LATER, by=fitter, record_id=entry
        )

    assert summary(record) == f"Answer to a report: {job.number}: A new wheel comes on Friday."
    assert lines(job)[-1] == "Finn Fitter, fitter, answers: A new wheel comes on Friday."


def test_an_operator_takes_nothing_on_and_an_ended_job_is_nobodys(
    job: Job, operator: User, foreman: User, fitter: User
) -> None:
    for act in (
        lambda: have_it(job=job, at=LATER, by=operator),
        lambda: answer_report(job=job, answer="I think it is fine.", at=LATER, by=operator),
    ):
        with pytest.raises(PermissionError):
            act()
    decide_stop(stop=job.stops.get(), carry_on_until=None, reason="", at=LATER, by=foreman)
    job.refresh_from_db()
    call_off_job(job=job, reason="twice", answer="It was told before.", at=LATER, by=foreman)
    with pytest.raises(Refused, match="at its end"):
        have_it(job=job, at=LATER, by=fitter)


def test_each_reads_the_answers_to_his_own_reports(job: Job, operator: User, fitter: User) -> None:
    since = MONDAY - timedelta(days=1)

    assert [each.job for each in told_by(operator, operator.pk, since=since)] == [job]
    assert not told_by(fitter, fitter.pk, since=since).exists()
    assert not told_by(operator, operator.pk, since=LATER).exists()
