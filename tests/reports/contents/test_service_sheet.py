"""The service sheet gathered: two pages for one drive, why now, faults, and other depots' walls."""

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from maintenance.actions.fault import report_fault
from maintenance.actions.plan import give_plans
from maintenance.actions.reading import record_width
from maintenance.models import DueLine, Job
from make import MONDAY, make_drive, make_machine
from plant import units
from plant.models import Depot, Machine, MachineKind, User
from plant.units import WIDTH
from reports.contents.service_sheet import MOST_STEPS, service_sheet
from reports.pdf.service_sheet import render

pytestmark = pytest.mark.usefixtures("rule_sheet")
LATER = MONDAY + timedelta(days=400)


@pytest.fixture
def mixer(depot: Depot, fitter: User) -> Machine:
    """An electric mixer with all its plan lines overdue, and one drive with a worn belt."""
    machine = make_machine(
        depot, "MX-203", kind=MachineKind.objects.get(key="mixer_electric"), power_w=550.0,
        maker="Tarnhow", type_name="Drum 140", serial="T140-0877", speed_rpm=1400.0,
    )  # fmt: skip
    give_plans([machine], at=MONDAY)
    drive = make_drive(machine, driven_depth_m=None)
    record_width(
        drive=drive, widths=[units.read("10.4", WIDTH)], tool="calliper", at=LATER, by=fitter
    )
    return machine


def printed(machine: Machine, job: Job | None = None) -> tuple[str, int]:
    sheet = service_sheet(machine, at=LATER, by="Finn Fitter", sheet_number="4471", job=job)
    reader = PdfReader(io.BytesIO(render(sheet)))
    words = " ".join(page.extract_text() for page in reader.pages)
    return " ".join(words.split()), len(reader.pages)


def test_a_mixer_with_all_its_work_due_and_one_drive_fits_one_leaf(mixer: Machine) -> None:
    words, pages = printed(mixer)

    assert pages == 2
    for part in ("MX-203", "Change the belt now.", "Take care.", "Release check", "Done by"):
        assert part.casefold() in words.casefold()
    assert "page 1 of 2" in words


def test_two_open_faults_still_leave_it_on_one_leaf(mixer: Machine, operator: User) -> None:
    for text in ("drum lock sticks", "wheel loose"):
        report_fault(machine=mixer, part="drum", told=text, stop_now=False, at=LATER, by=operator)

    words, pages = printed(mixer)

    assert pages == 2
    assert "drum lock sticks" in words
    assert "wheel loose" in words


def test_work_whose_steps_do_not_fit_is_named_with_its_job_and_not_lost(mixer: Machine) -> None:
    raised = [
        Job.objects.create(
            machine=mixer, kind="service", title="x", opened_at=LATER, due_line=line, cycle=1
        )
        for line in DueLine.objects.filter(machine=mixer)
    ]
    sheet = service_sheet(mixer, at=LATER, by="Finn Fitter", sheet_number="4471")

    due = list(DueLine.objects.filter(machine=mixer).select_related("line"))
    assert len(sheet.steps) <= MOST_STEPS
    assert len(due) > 2
    told = " ".join(sheet.why_now)
    for line in due:
        assert line.line.title in told
    others = told.partition("on the sheet of its job each:")[2]
    assert any(f"({job.number})" in others for job in raised)


def test_a_sheet_for_a_job_has_the_steps_of_that_job(mixer: Machine) -> None:
    line = DueLine.objects.filter(machine=mixer).select_related("line").order_by("pk")[1]
    job = Job.objects.create(
        machine=mixer, kind="service", title=line.line.title, opened_at=LATER, due_line=line,
        cycle=1,
    )  # fmt: skip

    sheet = service_sheet(mixer, at=LATER, by="Finn Fitter", sheet_number="4471", job=job)

    assert sheet.job_number == job.number
    assert [step.words for step in sheet.steps] == [step.text for step in line.line.steps.all()]
    assert len(sheet.why_now) == 1


def test_a_machine_without_drive_or_plan_prints_too(depot: Depot) -> None:
    words, pages = printed(make_machine(depot, "SW-7"))

    assert "SW-7" in words
    assert pages <= 2
