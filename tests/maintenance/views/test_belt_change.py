"""Changing a belt, page by page: what is kept, asked again, and sealed at the end."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.models import BeltDraft, BeltFitting, Job
from make import make_drive
from plant.models import Drive, Machine, User


@pytest.fixture
def drive(machine: Machine) -> Drive:
    return make_drive(machine)


@pytest.fixture
def job(drive: Drive, fitter: User) -> Job:
    return open_job(
        machine=drive.machine, kind=Job.Kind.BELT, title="Change it", at=now(), by=fitter
    )


def test_a_belt_is_changed_in_three_pages_each_kept_for_whoever_goes_on(
    job: Job, drive: Drive, fitter: User, foreman: User
) -> None:
    client, other = Client(), Client()
    client.force_login(fitter)
    other.force_login(foreman)
    address = reverse("maintenance:change_belt", args=[job.pk, drive.pk])
    assert "Isolate the machine first" in client.get(address).content.decode()
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=now(), by=fitter)

    assert client.post(address, {"tool": "calliper"}).status_code == 422
    kept = client.post(address, {"width_1": "10.9", "tool": "calliper"})
    assert kept["Location"].endswith("step=new")
    # Who writes over it without having seen it reads it first, with his own figure still there.
    late = other.post(address, {"step": "old", "width_1": "11.2", "tool": "calliper"})
    assert 'value="11.2"' in late.content.decode()
    assert "saved this step meanwhile" in late.content.decode()
    assert "<dt>Top width of the old belt</dt><dd>10.9</dd>" in late.content.decode()
    new = {"mark": "13A690", "width": "11.0", "tool": "calliper", "motor_in": "on"}
    asked = client.post(f"{address}?step=new", new)
    assert asked.status_code == 422
    assert "A new A belt is about 13.0 mm wide" in asked.content.decode()
    # The foreman goes on where the fitter stopped.
    shown = other.get(address).content.decode()
    assert "Step 2 of 3" in shown
    kept = other.post(f"{address}?step=new", new | {"width": "13.1"})
    assert kept["Location"].endswith("step=set")
    page = client.get(address).content.decode()
    assert "Wanted for this new belt" in page
    assert "kgf" in page
    slip = client.post(f"{address}?step=set", {"because": "No gauge", "tool": "spring gauge"})
    assert "Put the guards back on first" in slip.content.decode()
    done = client.post(
        f"{address}?step=set",
        {"because": "No gauge", "tool": "spring gauge", "guards_on": "on"},
    )

    assert done["Location"] == reverse("maintenance:finish_job", args=[job.pk])
    fitting = BeltFitting.objects.get()
    assert (fitting.mark, fitting.width_m) == ("13A690", 0.0131)
    assert not BeltDraft.objects.exists()
    assert "New belt 13A690 fitted" in client.get(done["Location"]).content.decode()
    assert "sealed already" in other.get(address).content.decode()
