"""On the rack and parts of a job, as people use them."""

import re
from datetime import date, timedelta
from html import unescape

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from maintenance.actions import rack
from maintenance.actions.cost import set_money
from maintenance.actions.job import open_job
from maintenance.models import Job, Part, StockMove, StockPlace
from make import MONDAY, make_drive, make_machine
from plant.models import Depot, Machine, User


@pytest.fixture
def place(depot: Depot, manager: User) -> StockPlace:
    return rack.add_place(depot=depot, name="Van 2", kind=StockPlace.Kind.VAN, by=manager)


@pytest.fixture
def part(depot: Depot, place: StockPlace, fitter: User) -> Part:
    made = rack.save_part(depot=depot, name="A26", is_belt=True, at=MONDAY, by=fitter)
    rack.receive(part=made, place=place, quantity=2, on=MONDAY.date(), at=MONDAY, by=fitter)
    return made


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    make_drive(machine, belt_datum_m=0.6904)
    return open_job(machine=machine, kind=Job.Kind.BELT, title="Belt", at=MONDAY, by=fitter)


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def shown(client: Client, name: str, *args: int, **asked: str) -> str:
    return unescape(client.get(reverse(f"maintenance:{name}", args=args), asked).content.decode())


def hidden(page: str, button: str) -> dict[str, str]:
    """The hidden fields of the form with that button."""
    form = next(f for f in re.findall(r"<form.*?</form>", page, re.S) if button in f)
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))


def test_two_taps_from_the_job_take_the_belt_that_fits_and_one_more_puts_it_back(
    part: Part, place: StockPlace, job: Job, fitter: User
) -> None:
    client = client_of(fitter)
    assert reverse("maintenance:job_parts", args=[job.pk]) in shown(client, "job", job.pk)
    page = shown(client, "job_parts", job.pk)
    assert "Fits Drum drive" in page
    press = hidden(page, "Take 1 x A26 from Van 2 (2 there)")
    for _ in range(2):
        answer = client.post(reverse("maintenance:job_parts", args=[job.pk]), press)
        assert answer.status_code == 302
    assert StockMove.objects.filter(kind="taken").count() == 1

    page = shown(client, "job", job.pk)
    assert "1 of A26" in page
    used = job.parts.get()
    client.post(reverse("maintenance:put_back_part", args=[used.pk]), hidden(page, "Put 1 A26"))
    assert "1 of 1 put back." in shown(client, "job", job.pk)


def test_a_part_is_looked_for_by_any_of_its_numbers(
    part: Part, job: Job, fitter: User, foreman: User
) -> None:
    rack.add_number(part=part, number="4471-B", at=MONDAY, by=foreman)
    other = rack.save_part(depot=part.depot, name="Grease", is_belt=False, at=MONDAY, by=fitter)
    client = client_of(fitter)
    page = shown(client, "job_parts", job.pk, q="4471b")
    assert "A26" in page
    assert "Grease" in shown(client, "job_parts", job.pk, q="grease")
    assert "No part of this depot" in shown(client, "job_parts", job.pk, q="nothing like it")
    # A machine never took it, so it is not likely for the job.
    assert other.name not in shown(client, "job_parts", job.pk)


def test_a_count_changes_what_was_counted_and_nothing_else(
    part: Part, place: StockPlace, fitter: User
) -> None:
    grease = rack.save_part(depot=part.depot, name="Grease", is_belt=False, at=MONDAY, by=fitter)
    client = client_of(fitter)
    page = shown(client, "count_place", place.pk)
    assert "By the moves since: 2." in page
    entry = hidden(page, "Save the count")["entry"]
    address = reverse("maintenance:count_place", args=[place.pk])
    client.post(address, {"entry": entry, f"count_{part.pk}": "5"})
    assert StockMove.objects.get(kind="counted").change == 3
    assert not grease.moves.exists()
    page = shown(client, "rack")
    assert "Van 2: 5" in page
    assert "Too few." in page  # the grease, of which none was ever told
    assert client.post(address, {"entry": entry}).status_code == 422


def test_the_shopping_list_holds_what_is_short_what_is_due_and_belts_that_run_out(
    depot: Depot, part: Part, place: StockPlace, job: Job, fitter: User
) -> None:
    rack.save_part(
        depot=depot, name="Grease", is_belt=False, bought_from="Farm shop", at=MONDAY, by=fitter
    )
    client = client_of(fitter)
    with time_machine.travel(MONDAY, tick=False):
        page = shown(client, "shopping")
        assert "1 x Grease" in re.sub(r"<[^>]*>", "", page)
        assert "Farm shop" in page
        assert "A26" not in page  # two lie there
        press = hidden(page, "1 x Grease ordered")
        for _ in range(2):
            part_pk = Part.objects.get(name="Grease").pk
            client.post(reverse("maintenance:order_part", args=[part_pk]), press)
        page = shown(client, "shopping")
    assert "Nothing to buy" in page
    assert "expected 16 Mar 2026" in page


def test_a_part_and_a_place_are_withdrawn_by_a_press_and_shown_so(
    part: Part, place: StockPlace, fitter: User, foreman: User
) -> None:
    client = client_of(foreman)
    withdraw = reverse("maintenance:withdraw_part", args=[part.pk])
    client.post(withdraw, {"withdrawn": "yes"})
    assert "stays. Not while some lie there (Van 2: 2)." in shown(client, "part", part.pk)
    rack.count_place(place=place, counts={part.pk: 0}, at=MONDAY, by=fitter)
    assert hidden(shown(client, "part", part.pk), "Withdraw it")["withdrawn"] == "yes"

    client.post(withdraw, {"withdrawn": "yes"})
    client.post(reverse("maintenance:withdraw_place", args=[place.pk]), {"withdrawn": "yes"})

    page = shown(client, "part", part.pk)
    assert "Withdrawn by Freya Foreman" in page
    assert "Some came" not in page
    assert hidden(page, "Keep it again")["withdrawn"] == "no"
    assert "A26" not in shown(client, "rack").split("<tbody")[-1]
    page = shown(client, "rack", only="withdrawn")
    assert "A26" in page
    assert "Count Van 2" not in page
    assert hidden(page, "Keep parts in Van 2 again")["withdrawn"] == "no"
    # Who had the page open before is told, and what he typed is not dropped.
    answer = client.post(
        reverse("maintenance:count_place", args=[place.pk]), {f"count_{part.pk}": "3"}
    )
    assert answer.status_code == 422
    assert "A26 is withdrawn" in answer.content.decode()


def test_money_is_seen_on_a_part_only_by_who_may_see_money(
    part: Part, fitter: User, manager: User
) -> None:
    set_money(
        depot=part.depot, currency="GBP", foremen_see=False, rate=None, from_on=None, at=MONDAY,
        by=manager,
    )  # fmt: skip
    client = client_of(manager)
    address = reverse("maintenance:part_price", args=[part.pk])
    assert client.post(address, {"price": "8.40"}).status_code == 302
    assert "8.40" in shown(client, "part", part.pk)
    assert "8.40" not in shown(client_of(fitter), "part", part.pk)


def test_an_old_belt_on_the_rack_is_said_to_be_old(
    depot: Depot, place: StockPlace, fitter: User
) -> None:
    old = rack.save_part(depot=depot, name="A27", is_belt=True, at=MONDAY, by=fitter)
    came = date.today() - timedelta(days=6 * 366 + 9)
    rack.receive(part=old, place=place, quantity=1, on=came, at=MONDAY, by=fitter)
    make_drive(make_machine(depot, "MX-7"), belt_datum_m=0.7158)
    page = shown(client_of(fitter), "part", old.pk)
    assert "look for cracks" in page
    assert "MX-7" in page
