"""The folder of a depot: every machine a page, what is missing first, alike in two readers."""

import io
from datetime import date, timedelta
from typing import Any

import pypdfium2
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from maintenance.actions.plan import give_plans
from maintenance.actions.stop import stop_machine
from make import MONDAY, make_machine, make_user
from plant.models import Depot, Machine, MachineKind, Place, Role, User
from reports.contents.folder import _counted, folder
from reports.models import Batch
from reports.pdf.folder import render

pytestmark = pytest.mark.usefixtures("rule_sheet")
LATER = MONDAY + timedelta(days=200)
WHY = "Guard <b>off</b> & loose"


@pytest.fixture
def fleet(depot: Depot, foreman: User) -> list[Machine]:
    kind = MachineKind.objects.get(key="mixer_electric")
    numbers = ["MX-301", "MX-302", "MX-303"]
    machines = [make_machine(depot, number, kind=kind) for number in numbers]
    make_machine(depot, "MX-999", kind=kind, place=Place.GONE)
    give_plans(machines[:1], at=MONDAY)
    stop_machine(machine=machines[1], told=WHY, at=MONDAY, by=foreman)
    return machines


def test_every_machine_has_its_page_and_the_contents_lead_to_it(
    fleet: list[Machine], depot: Depot
) -> None:
    data = render(folder(depot, at=LATER, by="Freya Foreman", number="3"))

    reader = PdfReader(io.BytesIO(data))
    shown = [" ".join(each.extract_text().split()) for each in reader.pages]
    outline = [each for each in reader.outline if not isinstance(each, list)]
    titles = {each["/Title"]: reader.get_destination_page_number(each) for each in outline}
    assert "MX-999" not in " ".join(shown)
    for n, machine in enumerate(fleet, start=1):
        assert titles[f"{machine.number}, {machine.kind.name}"] == n
        assert f"{machine.number}, {machine.kind.name}" in shown[0]
        assert "Last electrical test None on record" in shown[n]
    assert len(shown) == 4
    assert f"page 4 of {len(shown)}" in shown[3]
    assert "As at 18 Sep 2026 10:00" in shown[0]
    assert "DO NOT USE" in shown[2]
    assert "OK to use" not in shown[1]  # its work is past
    assert "OK to use, as at this day" in shown[3]
    document: Any = pypdfium2.PdfDocument(data)
    for words in (shown[2], " ".join(document[2].get_textpage().get_text_range().split())):
        assert WHY in words


def test_what_is_past_or_stopped_stands_on_the_front(fleet: list[Machine], depot: Depot) -> None:
    found = folder(depot, at=LATER, by="Freya Foreman", number="3")

    assert found.gaps.grid is not None
    rows = found.gaps.grid.rows
    assert {row[0] for row in rows} == {"MX-301", "MX-302"}
    assert any(row[0] == "MX-302" and row[2].startswith("Do not use. Stopped") for row in rows)
    assert any("Needed before use: " in row[2] for row in rows if row[0] == "MX-301")
    assert dict(found.front)["With something missing"] == "2 of 3"


def test_a_larger_fleet_is_read_with_as_many_queries(fleet: list[Machine], depot: Depot) -> None:
    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            folder(depot, at=LATER, by="Freya Foreman", number="3")
        return len(queries)

    before = asked()
    more = [make_machine(depot, kind=fleet[0].kind) for _ in range(8)]
    give_plans(more, at=MONDAY)

    assert asked() == before


def test_one_press_prints_it_for_who_may(
    fleet: list[Machine], depot: Depot, other_depot: Depot, foreman: User, fitter: User,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    client, address = Client(), reverse("reports:ask_folder")
    client.force_login(foreman)
    assert "Print my folder" in client.get(reverse("reports:batch_list")).content.decode()

    with django_capture_on_commit_callbacks(execute=True):
        client.post(address, {"depot": depot.pk})

    batch = Batch.objects.get()
    assert (batch.state, batch.title) == ("done", "Folder of North yard")
    assert batch.sheets.get().record is not None
    assert client.post(address, {"depot": other_depot.pk}).status_code == 404
    client.force_login(fitter)
    assert client.post(address, {"depot": depot.pk}).status_code == 403
    assert Batch.objects.count() == 1


def test_a_builder_with_nothing_wrong_reads_that_nothing_is(depot: Depot) -> None:
    make_user("Mo Manager", (depot, Role.MANAGER))
    make_machine(depot, "MX-301")

    found = folder(depot, at=MONDAY, by="Mo Manager", number="4")

    assert found.gaps.grid is not None
    assert found.gaps.grid.rows == ()
    assert found.shopping is None
    words = PdfReader(io.BytesIO(render(found))).pages[0].extract_text()
    assert "Nothing is overdue, stopped or waiting for a check." in " ".join(words.split())
    assert date(2026, 3, 2).strftime("%Y") in words


def test_a_page_says_how_many_more_reasons_stand_on_the_front() -> None:
    assert _counted(tuple("abcdefgh")) == tuple("abcdefgh")
    assert _counted(tuple("abcdefghij")) == (*"abcdefgh", "And 2 more, on the front.")
