"""Fault reports: what stops at once, and what waits for a foreman."""

import pytest

from maintenance.actions.fault import report_fault
from maintenance.models import RuleSheet, Stop
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet")


@pytest.mark.parametrize(
    ("part", "stop_now", "kind", "always"),
    [
        ("cable_plug", False, "stop", True),
        ("drum", False, "stop", False),
        ("stands_level", False, "undecided", False),
        ("stands_level", True, "stop", False),
        ("paint", False, "undecided", False),
        ("paint", True, "stop", False),
    ],
)
def test_the_part_says_whether_it_stops(
    machine: Machine, operator: User, part: str, stop_now: bool, kind: str, always: bool
) -> None:
    job = report_fault(
        machine=machine, part=part, told="not as it was", stop_now=stop_now, at=MONDAY, by=operator
    )

    stop = Stop.objects.get()
    assert (stop.kind, stop.always, stop.job) == (kind, always, job)
    assert job.symptom == "not as it was"


def test_by_label_it_gives_a_job_number(machine: Machine) -> None:
    job = report_fault(
        machine=machine,
        part="drum",
        told="grinds",
        stop_now=False,
        at=MONDAY,
        by_name="Ola Builder",
    )

    assert job.number == f"J-{1000 + job.pk}"
    assert Record.objects.get().role == "label"


def test_a_second_report_of_the_same_part_joins_the_open_job(
    machine: Machine, operator: User
) -> None:
    jobs = {
        report_fault(
            machine=machine, part="drum", told=told, stop_now=False, at=MONDAY, by=operator
        ).pk
        for told in ("grinds", "grinds and stops")
    }

    assert len(jobs) == 1
    assert Stop.objects.count() == 2


def test_sent_again_it_is_one_report(machine: Machine, operator: User) -> None:
    record_id = new_id()
    jobs = [
        report_fault(
            machine=machine,
            part="paint",
            told="flakes",
            stop_now=False,
            at=MONDAY,
            by=operator,
            record_id=record_id,
        )
        for _ in range(3)
    ]

    assert len({job.pk for job in jobs}) == 1
    assert Record.objects.count() == 1


def test_long_words_are_kept_whole_in_the_record_and_shortened_in_view(
    machine: Machine, operator: User
) -> None:
    told = "the drum grinds when it is loaded and the motor smells; " * 7

    job = report_fault(
        machine=machine, part="drum", told=told, stop_now=False, at=MONDAY, by=operator
    )

    assert Record.objects.get().texts.get(name="told").text == told.strip()
    assert Stop.objects.get().words.endswith("…")
    assert len(job.title) <= 120


@pytest.mark.parametrize(("part", "told", "field"), [("", "grinds", "part"), ("drum", "", "told")])
def test_part_and_words_are_needed(
    machine: Machine, operator: User, part: str, told: str, field: str
) -> None:
    with pytest.raises(Refused) as refused:
        report_fault(machine=machine, part=part, told=told, stop_now=False, at=MONDAY, by=operator)

    assert refused.value.field == field
    assert Record.objects.count() == 0


def test_without_a_rule_sheet_a_report_is_still_kept(machine: Machine, operator: User) -> None:
    RuleSheet.objects.all().delete()

    report_fault(
        machine=machine, part="drum", told="grinds", stop_now=False, at=MONDAY, by=operator
    )

    assert Stop.objects.get().kind == "undecided"
