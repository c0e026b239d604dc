"""The pages of a test instrument's files: brought, asked, looked at, saved."""

import csv
import io
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from addresses import body, signed_in
from maintenance.actions.readings_file import read_file, save_file
from maintenance.models import ElectricalTest, Instrument, ReadingsFile, RuleSheet
from make import make_instrument, make_machine
from plant.models import Depot, Machine, MachineKind, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")
LINES = (
    "Machine,Tested on,Tested thing,Half,Trip time,Five (ms),Button,Device standard,RCD rating,"
    "Result\n"
    "MX-203,2026-03-02 10:20,Site device,no trip,28,12,ok,BS EN 61008,30 mA,pass\n"
    "MX-203,2026-03-02 10:40,Site device,no trip,330,12,ok,BS EN 61008,30 mA,pass\n"
    "XX-1,2026-03-02 10:40,Site device,no trip,20,12,ok,BS EN 61008,30 mA,pass\n"
)


@pytest.fixture
def machine(depot: Depot, rule_sheet: RuleSheet) -> Machine:
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, "MX-203", kind=kind, supply="e110", protection="I")


@pytest.fixture
def instrument(depot: Depot, manager: User) -> Instrument:
    return make_instrument(depot, manager)


def where(name: str, run: ReadingsFile | None = None) -> str:
    return reverse(f"maintenance:{name}", args=[run.pk] if run else [])


def post(client: Client, run: ReadingsFile, **more: str) -> Any:
    """The questions sent back as the page shows them, but for what is said otherwise."""
    form = client.get(where("readings_file", run)).context["form"]
    filled = {name: form[name].value() or "" for name in form.fields}
    return client.post(where("sort_readings_file", run), filled | more, follow=True)


def test_from_file_to_sealed_tests_in_a_few_presses(
    depot: Depot, machine: Machine, fitter: User, instrument: Instrument
) -> None:
    client = signed_in(fitter)
    assert where("readings_file_list") in client.get(where("test_list")).content.decode()
    file = SimpleUploadedFile("bench.csv", LINES.encode())
    client.post(where("add_readings_file"), {"file": file, "depot": str(depot.pk)})
    run = ReadingsFile.objects.get()
    read_file(run=run, at=now())

    page = client.get(where("readings_file", run)).content.decode()
    assert "Left out, since we do not know these headings" in page
    for heading, field in (("Tested thing", "item"), ("Device standard", "profile")):
        at = list(LINES.partition("\n")[0].split(",")).index(heading)
        more = {f"column:{at}": field}
        post(client, run, **more)
        run.refresh_from_db()
        read_file(run=run, at=now())
    page = client.get(where("readings_file", run)).content.decode()
    assert "Which test is “Site device”?" in page
    assert "At the rated current: which unit is meant?" in page
    post(
        client, run, **{"item:sitedevice": "rcd", "unit:reading_rated": "ms",
        "instrument:": str(instrument.pk)},
    )  # fmt: skip
    read_file(run=run, at=now())

    page = client.get(where("readings_file", run)).content.decode()
    assert "<strong>2 of 3 rows</strong> are ready" in page
    assert "Rows that fail stop their machines as soon as they are saved." in page
    assert "<strong>Fails</strong>; the instrument said pass" in page
    assert "in 1 row the instrument said otherwise" in page
    assert "No machine of this depot has this number." in page
    left = body(client.get(where("readings_left_over", run))).decode("utf-8-sig")
    assert [(row["Row"], row["Machine"]) for row in csv.DictReader(io.StringIO(left))] == [
        ("4", "XX-1")
    ]
    client.post(where("save_readings_file", run))
    assert not save_file(run=run, clock=now, until=now().replace(year=2100))

    page = client.get(where("readings_file", run)).content.decode()
    assert "2 tests" in page
    assert "1 of them failed: do not use those machines" in page
    record = client.get(reverse("maintenance:record", args=[
        ElectricalTest.objects.get(passed=False).record_id]))  # fmt: skip
    assert "Brought from a file: the instrument said" in record.content.decode()


def test_a_column_taken_twice_and_a_number_that_is_nowhere_are_said_at_the_form(
    depot: Depot, machine: Machine, fitter: User
) -> None:
    client = signed_in(fitter)
    file = SimpleUploadedFile("bench.csv", LINES.encode())
    client.post(where("add_readings_file"), {"file": file, "depot": str(depot.pk)})
    run = ReadingsFile.objects.get()
    read_file(run=run, at=now())

    twice = post(client, run, **{"column:2": "on"})
    nowhere = post(client, run, **{"column:0": ""})

    assert twice.status_code == nowhere.status_code == 422
    assert "Tested on is another column already." in twice.content.decode()
    assert "One column has to hold the machine number." in nowhere.content.decode()


def test_the_example_is_read_whole(
    depot: Depot, fitter: User, operator: User, instrument: Instrument
) -> None:
    given = signed_in(fitter).get(where("readings_example"))
    example = body(given)

    assert example == (settings.BASE_DIR / "fixtures/demo/tester_readings.csv").read_bytes()
    assert given.headers["Content-Disposition"].startswith("attachment")
    assert signed_in(operator).get(where("readings_example")).status_code == 403
    client = signed_in(fitter)
    file = SimpleUploadedFile("example.csv", example)
    client.post(where("add_readings_file"), {"file": file, "depot": str(depot.pk)})
    run = ReadingsFile.objects.get()
    assert read_file(run=run, at=now())
    run.refresh_from_db()
    assert set(run.columns) == set(run.headings)
