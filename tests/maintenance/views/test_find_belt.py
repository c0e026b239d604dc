"""Find a belt: by its mark, by measuring it, by the drive alone; and where it lies."""

from html import unescape
from math import asin, pi, sqrt

import pytest
from django.test import Client
from django.urls import reverse
from scipy.optimize import brentq

from maintenance.actions.rack import add_place, receive, save_part
from maintenance.models import StockPlace
from make import MONDAY, make_drive, make_machine
from plant.models import Depot, Firm, User

PULLEYS = {"driver": "80 mm", "driven": "180 mm"}
SLOT = {"centres": "165 mm", "slot_in": "6 mm", "slot_out": "14 mm"}


@pytest.fixture
def fitter_client(fitter: User) -> Client:
    client = Client()
    client.force_login(fitter)
    return client


def found(client: Client, status: int = 200, **asked: object) -> str:
    answer = client.get(reverse("maintenance:find_belt"), asked)
    assert answer.status_code == status
    return unescape(answer.content.decode())


def test_a_mark_that_can_be_read_twice_shows_both_and_what_would_settle_it(
    fitter_client: Client,
) -> None:
    page = found(fitter_client, way="mark", mark="13x660")
    assert "can be read in more than one way" in page
    assert "datum 690 mm" in page
    assert "datum 660 mm" in page
    assert "Lay a tape round the outside" in page
    assert "ISO/DIN" in page


def test_an_inch_number_names_its_system_and_what_it_would_be_in_the_other(
    fitter_client: Client,
) -> None:
    page = found(fitter_client, way="mark", mark="A26")
    assert "Section A, datum length 690 mm." in page
    assert "693 mm in the RMA system" in page
    assert "13x660 Li" in page


@pytest.mark.parametrize(
    ("asked", "warned"),
    [
        ({"mark": "150L050"}, "never in a V groove"),
        ({"mark": "480J6", "pulley": "A"}, "cannot run on it|V-belt|sinks|stands out"),
        ({"mark": "SPA 800", "pulley": "A"}, "Measure the groove first"),
        ({"mark": "B38", "pulley": "A"}, "stands out of the groove"),
        ({"mark": "B38", "small": "80 mm"}, "The small pulley is 80 mm"),
    ],
)
def test_a_wrong_belt_for_the_pulley_is_warned_of(
    fitter_client: Client, asked: dict[str, str], warned: str
) -> None:
    page = found(fitter_client, way="mark", **asked)
    assert any(each in page for each in warned.split("|"))


def test_what_cannot_be_read_is_kept_and_says_what_would_be(fitter_client: Client) -> None:
    page = found(fitter_client, 422, way="mark", mark="<b>690")
    assert "no part of a belt mark" in page
    assert (
        'value="<b>690"'
        not in fitter_client.get(
            reverse("maintenance:find_belt"), {"way": "mark", "mark": "<b>690"}
        ).content.decode()
    )


def test_a_blank_belt_is_ranked_and_the_measurement_that_parts_the_leaders_is_named(
    fitter_client: Client,
) -> None:
    page = found(fitter_client, way="measure", outside="700", width="12.4", height="8.1", cogs="no")
    assert "Not certain. Likeliest is A25" in page
    assert "Measure the inside length: A25 has 635.0 mm, A26 660.4 mm." in page
    assert "after it" in page
    assert (
        "measure the top width or the height"
        in found(fitter_client, 422, way="measure", outside="700").lower()
    )


def test_a_drive_alone_gives_the_lengths_that_fit_with_the_pointer_in_the_slot(
    fitter_client: Client,
) -> None:
    page = found(fitter_client, way="drive", section="A", **PULLEYS, **SLOT)

    # Centre distance of an A29 (29 x 25.4 + 30 mm) on the exact open-belt length of Shigley's
    # Mechanical Engineering Design, 10th ed., eq. (17-1) and (17-2), by scipy's root finder.
    def over(c: float) -> float:
        wrap = 2 * asin(50 / c)
        return sqrt(4 * c * c - 100 * 100) + (180 * (pi + wrap) + 80 * (pi - wrap)) / 2 - 766.6

    centres = brentq(over, 131, 400)
    assert f"is taut at {centres:.1f} mm between centres" in page
    assert f"{centres - 159:.1f} mm out of 20.0 mm" in page
    assert "Next shorter" in page
    assert "Next longer" in page
    assert page.count("<svg") >= 3


def test_from_a_machine_the_drives_own_figures_answer_at_once(
    depot: Depot, other_depot: Depot, fitter: User, fitter_client: Client
) -> None:
    drive = make_drive(make_machine(depot, "MX-203"), centres_m=0.165, belts=2)
    page = found(fitter_client, way="drive", drive=drive.pk)
    assert "Find a belt for MX-203" in page
    assert "into this slot. First to try" in page
    assert "Change all of them together" in page
    theirs = make_drive(make_machine(other_depot, "MX-9"))
    found(fitter_client, 404, way="drive", drive=theirs.pk)
    found(fitter_client, 404, way="drive", drive="x")
    link = f"{reverse('maintenance:find_belt')}?way=drive&drive={drive.pk}"
    drive_page = fitter_client.get(reverse("maintenance:drive", args=[drive.pk]))
    assert link in unescape(drive_page.content.decode())


def test_where_it_lies_and_what_it_serves_stand_with_each_result(
    depot: Depot, other_depot: Depot, fitter: User, manager: User, outsider: User,
    fitter_client: Client,
) -> None:  # fmt: skip
    make_drive(make_machine(depot, "MX-203"), belt_datum_m=0.6904)
    for where, who, name in ((depot, manager, "Van 2"), (other_depot, outsider, "Ed's van")):
        place = add_place(depot=where, name=name, kind=StockPlace.Kind.VAN, by=who)
        part = save_part(depot=where, name="A26", is_belt=True, at=MONDAY, by=who)
        receive(part=part, place=place, quantity=3, on=MONDAY.date(), at=MONDAY, by=who)
    page = found(fitter_client, way="mark", mark="A26")
    assert "Van 2, North yard" in page
    assert "MX-203" in page
    assert "South yard" not in page
    Firm.objects.create(pk=1, depots_seen=True)
    page = found(fitter_client, way="mark", mark="A26")
    assert "At South yard: <b>3</b>" in page
    assert "Ed's" not in page
