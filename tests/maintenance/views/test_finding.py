"""The pages of fault finding: one question a screen, from the machine or the job."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.job import ISOLATED, open_job
from maintenance.models import Finding, Job
from make import make_drive, make_kind, make_machine
from plant.models import Depot, Machine, User

pytestmark = pytest.mark.usefixtures("rule_sheet")


@pytest.fixture
def machine(depot: Depot) -> Machine:
    return make_machine(depot, "MX-203", kind=make_kind(belt_driven=True))


def press(client: Client, job: Job, **given: object) -> str:
    page = client.post(reverse("maintenance:finding", args=[job.pk]), given, follow=True)
    return str(page.content.decode())


def test_from_the_machine_to_a_sealed_cause(client: Client, fitter: User, machine: Machine) -> None:
    make_drive(machine)
    client.force_login(fitter)
    page = client.post(
        reverse("maintenance:find_fault", args=[machine.pk]), {"symptom": "no_turn"}, follow=True
    )
    job = Job.objects.get()
    assert page.redirect_chain == [(reverse("maintenance:finding", args=[job.pk]), 302)]
    text = page.content.decode()
    assert "Belt worn or slack: about 4 in 10." in text
    assert text.index("Guards on, hands off") < text.index("A squeal, or a smell of rubber")

    text = press(client, job, do="answer", test="listen", answer="squeal")
    assert "It is isolated" in text
    assert 'name="answer" value="slack"' not in text
    text = press(client, job, do="isolate", confirmed=[ISOLATED[0][0]])
    assert "Not confirmed yet" in text
    text = press(client, job, do="isolate", confirmed=[key for key, _ in ISOLATED])
    assert text.index("Press mid-span") < text.index('name="answer" value="slack"')
    text = press(client, job, do="answer", test="press_belt", answer="slack")
    assert "Seal it: Belt worn or slack" in text
    text = press(client, job, do="seal")

    found = Finding.objects.select_related("record").get()
    assert found.record is not None
    assert (found.cause, f"Sealed as record {found.record.number}" in text) == ("belt_worn", True)
    told = client.get(reverse("maintenance:record", args=[found.record_id])).content.decode()
    assert told.index("Moving parts pull in") < told.index("A squeal, or a smell of rubber. Finn")
    work = client.get(reverse("maintenance:finish_job", args=[job.pk])).content.decode()
    assert '<option value="no_turn/belt_worn" selected>' in work


def test_a_measured_width_leads_back_to_the_finding(
    client: Client, fitter: User, machine: Machine
) -> None:
    drive = make_drive(machine, belt_fitted_on=None)
    client.force_login(fitter)
    client.post(reverse("maintenance:find_fault", args=[machine.pk]), {"symptom": "no_turn"})
    job = Job.objects.get()

    page = client.post(
        reverse("maintenance:add_width", args=[drive.pk]),
        {"job": job.pk, "width_1": "8.0", "tool": "calliper"},
        follow=True,
    )

    assert page.redirect_chain[-1][0] == reverse("maintenance:finding", args=[job.pk])
    assert "Measure the belt&#x27;s width: worn out" in page.content.decode()


def test_what_is_odd_is_refused_in_words_and_breaks_nothing(
    client: Client, fitter: User, machine: Machine
) -> None:
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="x", at=now(), by=fitter)
    client.force_login(fitter)
    press(client, job, symptom="nonsense")
    assert not Finding.objects.exists()
    press(client, job, symptom="weak")

    for odd in (
        {"do": "nonsense"}, {"do": "answer", "test": "listen", "answer": "x"},
        {"do": "answer"}, {"do": "take back", "step": "999"}, {"do": "take back", "step": "x"},
        {"do": "turns", "turns": "24", "seconds": "60"}, {"do": "turns", "turns": "-1"},
        {"do": "answer", "test": "look_belt", "answer": "gone"}, {"do": "run"},
    ):  # fmt: skip
        page = client.post(reverse("maintenance:finding", args=[job.pk]), odd)
        assert page.status_code == 422, odd
        assert 'role="alert"' in page.content.decode(), odd
    assert not Finding.objects.get().steps.exists()
