"""The machine's page, decisions, releases, and records."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.meter import record_meter
from maintenance.actions.release import LOOKS
from maintenance.actions.work_done import finish_job
from maintenance.models import Job, MeterReading, Stop
from maintenance.rules.check import Given
from make import make_machine
from plant.models import Depot, Machine, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet")
RIGHT = {key: "right" for key, _ in LOOKS}


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def page(user: User, name: str, pk: object, **query: str) -> str:
    response = signed_in(user).get(reverse(f"maintenance:{name}", args=[pk]), query)
    assert response.status_code == 200
    return response.content.decode()


def fault(machine: Machine, by: User, part: str = "drum") -> Stop:
    report_fault(machine=machine, part=part, told="grinds", stop_now=False, at=now(), by=by)
    return Stop.objects.get()


def repaired(machine: Machine, by: User, operator: User) -> Stop:
    stop = fault(machine, operator)
    job = Job.objects.get()
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=now(), by=by)
    finish_job(
        job=job, symptom="grinds", cause="dry", action="greased", minutes=10, at=now(), by=by
    )
    return stop


def test_the_first_line_answers_and_faults_link_on(
    machine: Machine, operator: User, foreman: User
) -> None:
    stop = fault(machine, operator)

    shown = page(foreman, "machine", machine.pk)

    assert "<strong>Do not use.</strong>" in shown
    assert "Drum and lock: grinds" in shown
    assert reverse("maintenance:decide", args=[stop.pk]) in shown
    assert reverse("maintenance:release", args=[machine.pk]) in shown


def test_an_operator_is_offered_only_what_he_may(machine: Machine, operator: User) -> None:
    stop = fault(machine, operator)

    shown = page(operator, "machine", machine.pk)

    assert reverse("maintenance:check", args=[machine.pk]) in shown
    for name, pk in (("decide", stop.pk), ("release", machine.pk), ("add_test", machine.pk)):
        assert reverse(f"maintenance:{name}", args=[pk]) not in shown


def test_the_story_is_paged_and_costs_no_query_a_row(machine: Machine, fitter: User) -> None:
    for step in range(35):
        at = now() - timedelta(days=40 - step)
        record_meter(
            machine=machine, dial_tenths=1001 + step, typed="x", at=at, by=fitter, confirmed=True
        )

    few = make_machine(machine.depot)
    record_meter(machine=few, dial_tenths=1001, typed="x", at=now(), by=fitter)
    counts = []
    client = signed_in(fitter)
    for each in (few, machine):
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("maintenance:machine", args=[each.pk]))
        counts.append(len(queries))

    assert counts[1] - counts[0] <= 2
    assert "1 to 30 of 35 records" in page(fitter, "machine", machine.pk)
    assert "31 to 35 of 35 records" in page(fitter, "machine", machine.pk, story="2")


def test_carry_on_from_the_page(machine: Machine, operator: User, foreman: User) -> None:
    stop = fault(machine, operator, "stands_level")
    until = now().date() + timedelta(days=7)
    data = {
        "entry": str(uuid.uuid4()),
        "decision": "carry on",
        "answer": "Level ground only, please.",
        "until": until.isoformat(),
        "reason": "Level ground only until the wheel comes.",
    }

    signed_in(foreman).post(reverse("maintenance:decide", args=[stop.pk]), data)

    assert "Use, with a note" in page(operator, "machine", machine.pk)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"until": ""}, "Give the last day of the note."),
        ({"until": "2001-01-01"}, "The last day must be"),
        ({"reason": "short"}, "10 letters or more"),
        ({"decision": ""}, "Choose one."),
    ],
)
def test_a_decision_that_cannot_be_kept_comes_back_filled_in(
    machine: Machine, operator: User, foreman: User, change: dict[str, str], message: str
) -> None:
    stop = fault(machine, operator, "stands_level")
    data = {
        "entry": str(uuid.uuid4()),
        "decision": "carry on",
        "answer": "Level ground only, please.",
        "until": (now().date() + timedelta(days=7)).isoformat(),
        "reason": "Level ground only until the wheel comes.",
    } | change

    response = signed_in(foreman).post(reverse("maintenance:decide", args=[stop.pk]), data)

    assert response.status_code == 422
    assert message in response.content.decode()
    assert data["reason"] in response.content.decode()
    stop.refresh_from_db()
    assert stop.kind == "undecided"


def test_carrying_on_is_not_offered_for_what_is_always_critical(
    machine: Machine, operator: User, foreman: User
) -> None:
    stop = fault(machine, operator, "cable_plug")
    assert "Carry on with a note" not in page(foreman, "decide", stop.pk)
    data = {
        "entry": str(uuid.uuid4()),
        "decision": "carry on",
        "answer": "Level ground only, please.",
        "until": (now().date() + timedelta(days=7)).isoformat(),
        "reason": "we are in a hurry today",
    }

    response = signed_in(foreman).post(reverse("maintenance:decide", args=[stop.pk]), data)

    assert response.status_code == 422
    stop.refresh_from_db()
    assert stop.kind == "stop"


@pytest.mark.usefixtures("competent")
def test_released_from_the_page(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    stop = repaired(machine, fitter, operator)
    data = {"entry": str(uuid.uuid4()), "frees": [str(stop.pk)], **RIGHT}

    response = signed_in(foreman).post(
        reverse("maintenance:release", args=[machine.pk]), data, follow=True
    )

    assert "OK to use" in response.content.decode()
    assert Job.objects.get().state == "closed"


@pytest.mark.usefixtures("competent")
@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"frees": []}, "Name what this release frees."),
        ({"runs": ""}, "Choose one."),
        ({"runs": "not right"}, "Put it right first."),
        ({"frees": ["999999"]}, "999999"),
    ],
)
def test_a_release_that_is_not_whole_frees_nothing(
    machine: Machine,
    operator: User,
    fitter: User,
    foreman: User,
    change: dict[str, object],
    message: str,
) -> None:
    stop = repaired(machine, fitter, operator)
    data = {"entry": str(uuid.uuid4()), "frees": [str(stop.pk)], **RIGHT} | change

    response = signed_in(foreman).post(reverse("maintenance:release", args=[machine.pk]), data)

    assert response.status_code == 422
    assert message in response.content.decode()
    assert Stop.objects.standing().count() == 1


def test_who_may_not_decide_or_release(
    machine: Machine, operator: User, desk: User, outsider: User
) -> None:
    stop = fault(machine, operator)
    data = {"entry": str(uuid.uuid4()), "frees": [str(stop.pk)], **RIGHT}
    addresses = [
        reverse("maintenance:release", args=[machine.pk]),
        reverse("maintenance:decide", args=[stop.pk]),
    ]

    for person, status in ((operator, 403), (desk, 403), (outsider, 404)):
        client = signed_in(person)
        for address in addresses:
            assert client.get(address).status_code == status
            assert client.post(address, data).status_code == status
    assert Stop.objects.standing().count() == 1


def test_a_record_shows_its_words_its_number_and_its_hash(
    machine: Machine, operator: User, outsider: User
) -> None:
    fault(machine, operator)
    record = Record.objects.get()

    shown = page(operator, "record", record.pk)

    for part in ("grinds", record.number, record.hash, "Olwen Operator", "as operator"):
        assert part in shown
    where = reverse("maintenance:record", args=[record.pk])
    assert signed_in(outsider).get(where).status_code == 404
    assert (
        signed_in(operator).get(reverse("maintenance:record", args=[uuid.uuid4()])).status_code
        == 404
    )


def test_a_meter_figure_that_does_not_fit_is_asked_about_once(
    machine: Machine, operator: User
) -> None:
    where = reverse("maintenance:add_meter_figure", args=[machine.pk])
    client = signed_in(operator)
    assert "I have read it again" not in client.get(where).content.decode()
    data = {"entry": str(uuid.uuid4()), "dial": "40.7 h"}

    first = client.post(where, data)

    shown = first.content.decode()
    assert first.status_code == 422
    assert "40.7 h is lower than the last reading, 100.0 h" in shown
    assert 'value="40.7 h"' in shown
    assert "I have read it again" in shown
    assert MeterReading.objects.count() == 0

    client.post(where, data | {"confirmed": "on"})

    assert MeterReading.objects.get().questioned
    machine.refresh_from_db()
    assert machine.hours_tenths == 1000


@pytest.mark.parametrize(
    ("dial", "message"),
    [("12,5", "Use a point for decimals"), ("", "Fill this in."), ("9999999", "Enter 0 to 999")],
)
def test_a_meter_figure_that_cannot_be_read(
    machine: Machine, operator: User, dial: str, message: str
) -> None:
    where = reverse("maintenance:add_meter_figure", args=[machine.pk])

    response = signed_in(operator).post(where, {"entry": str(uuid.uuid4()), "dial": dial})

    assert response.status_code == 422
    assert message in response.content.decode()


def test_two_depots_keep_their_machines_apart(
    machine: Machine, other_depot: Depot, operator: User
) -> None:
    other = make_machine(other_depot)

    assert (
        signed_in(operator).get(reverse("maintenance:machine", args=[other.pk])).status_code == 404
    )


def test_a_changed_dial_and_a_figure_that_counts_after_all(
    machine: Machine, operator: User, fitter: User, foreman: User
) -> None:
    figure = reverse("maintenance:add_meter_figure", args=[machine.pk])
    data = {"entry": str(uuid.uuid4()), "dial": "40.7", "confirmed": "on"}
    signed_in(operator).post(figure, data)
    reading = MeterReading.objects.get()
    accept = reverse("maintenance:accept_meter_figure", args=[reading.pk])
    reason = {"entry": str(uuid.uuid4()), "reason": "looked again"}
    assert signed_in(fitter).post(accept, reason).status_code == 403

    answer = signed_in(foreman).post(accept, reason)

    assert answer.status_code == 422
    assert "Was the meter changed?" in answer.content.decode()
    changed = reverse("maintenance:meter_changed", args=[machine.pk])
    data = {"entry": str(uuid.uuid4()), "dial": "40.7", "blind": "1:30", "reason": "new dial"}
    assert signed_in(fitter).post(changed, data).status_code == 302
    machine.refresh_from_db()
    assert machine.hours_tenths == 1015


def test_a_check_is_shown_question_by_question(machine: Machine, operator: User) -> None:
    _, asked = questions(machine, at=now())
    answers = {each.key: Given(answer="ok") for each in asked}
    answers["drum"] = Given(answer="wrong", word="grinds <b>loudly</b>")
    check = record_check(machine=machine, answers=answers, at=now(), by=operator)

    shown = page(operator, "record", check.record_id)

    assert shown.count('data-label="Answer"') == len(asked)
    assert "grinds &lt;b&gt;loudly&lt;/b&gt;" in shown
