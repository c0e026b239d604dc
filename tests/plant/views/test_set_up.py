"""A new firm begins by a link, once; nobody takes the place afterwards."""

import threading
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from plant.actions import set_up as action
from plant.actions.refusal import Refused
from plant.models import Depot, Membership, Role, SetUp, User

TOLD = {
    "firm": "Quern & Sons",
    "depot": "Hollow Yard",
    "code": "HY",
    "time_zone": "Europe/Dublin",
    "checks_by_label": "no",
    "name": "Una Quern",
    "sign_in": "una",
    "email": "",
    "password": "four odd words apart now",
    "again": "four odd words apart now",
}


def link(capsys: pytest.CaptureFixture[str]) -> str:
    call_command("set_up", "https://plant.example")
    found = [w for w in capsys.readouterr().out.split() if w.startswith("https://plant.example/")]
    return found[0].removeprefix("https://plant.example")


def test_an_empty_system_is_set_up_once_by_its_link(
    db: None, client: Client, capsys: pytest.CaptureFixture[str]
) -> None:
    address = link(capsys)
    door = reverse("plant:sign_in")
    assert "Nothing is set up here yet" in client.get(door).content.decode()
    assert b"Set up and sign in" in client.get(address).content
    # Whatever is wrong is told beside its field, and what was typed stays.
    for odd, words in (
        ({"again": "something else here"}, "not the same"),
        ({"password": "short", "again": "short"}, "15 letters or more"),
        ({"password": "hollow-mixer-1234", "again": "hollow-mixer-1234"}, "built from names"),
        ({"code": "h y!"}, "Only letters a to z"),
        ({"code": "h_y"}, "Only letters a to z"),
        ({"time_zone": "Mars/Base"}, "Choose one of these"),
        ({"firm": ""}, "Fill this in"),
        ({"name": "a\u202eb"}, "turns"),
        ({"depot": "bell\x07"}, "control"),
        ({"firm": "a" * 200}, "80"),
    ):  # fmt: skip
        answer = client.post(address, TOLD | odd)
        assert answer.status_code == 422
        assert words in answer.content.decode(), odd
        assert 'value="una"' in answer.content.decode()
        assert not SetUp.objects.exists()
        assert not User.objects.exists()
    answer = client.post(address, TOLD)
    assert (answer.status_code, answer["Location"]) == (302, reverse("plant:set_up_ready"))
    depot, person = Depot.objects.get(), User.objects.get()
    assert (depot.code, depot.checks_by_label, depot.one_person) == ("hy", False, False)
    assert depot.time_zone == "Europe/Dublin"
    held = set(Membership.objects.filter(user=person, depot=depot).values_list("role", flat=True))
    assert held == {Role.MANAGER, Role.ADMINISTRATOR}
    assert person.check_password(TOLD["password"])
    ready = client.get(reverse("plant:set_up_ready")).content.decode()
    assert "Quern &amp; Sons" in ready
    assert "Nothing is set up" not in Client().get(door).content.decode()
    # The link is dead, and no other is made.
    for method in (client.get, client.post):
        again = method(address, TOLD | {"sign_in": "eve", "code": "ev"})
        assert (again.status_code, again["Location"]) == (302, reverse("plant:sign_in"))
    assert User.objects.count() == Depot.objects.count() == 1
    with pytest.raises(CommandError, match="already"):
        call_command("set_up")
    with pytest.raises(Refused, match="already"):
        action.set_up(_told(sign_in="eve", code="ev"), at=now())


def _told(**more: Any) -> action.Beginning:
    given = {**TOLD, "one_person": False, "checks_by_label": True, **more}
    given.pop("again")
    return action.Beginning(**given)


def test_a_link_that_is_made_up_or_a_day_old_opens_nothing(db: None, client: Client) -> None:
    good = action.new_code()
    assert action.opens(good)
    with time_machine.travel(now() + timedelta(hours=25)):
        assert not action.opens(good)
    for code in ("1", good[:-1], good.replace("1~", "2~", 1), "x" * 500):
        answer = client.post(reverse("plant:set_up", args=[code]), TOLD)
        assert answer.status_code == 302
    assert not User.objects.exists()


def test_one_person_has_every_role_and_an_account_made_otherwise_ends_the_link(db: None) -> None:
    person = action.set_up(_told(one_person=True), at=now())
    assert set(Membership.objects.filter(user=person).values_list("role", flat=True)) == set(Role)
    assert not action.opens(action.new_code())


def test_of_two_at_once_one_begins(transactional_db: None) -> None:
    gate, came, turned_away = threading.Barrier(2), [], []

    def go(sign_in: str) -> None:
        try:
            gate.wait(10)
            action.set_up(_told(sign_in=sign_in, code=sign_in, name=sign_in), at=now())
            came.append(sign_in)
        except Refused as refused:
            turned_away.append(str(refused))
        finally:
            connection.close()

    two = [threading.Thread(target=go, args=[name]) for name in ("una", "eve")]
    for each in two:
        each.start()
    for each in two:
        each.join()
    assert len(came) == 1
    assert turned_away == [action.DONE_ALREADY]
    assert [each.sign_in for each in User.objects.all()] == came
    assert Depot.objects.count() == 1
