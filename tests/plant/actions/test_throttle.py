"""Who does one thing too often is held back in plain words, and nobody for longer than told."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from addresses import NOW
from maintenance.actions.permit import permit_for_person
from make import make_machine
from plant.actions import throttle
from plant.actions.sign_in import HeldBack, begin_attempt
from plant.actions.throttle import TooOften, count_use
from plant.models import Depot, SignInAttempt, User

MINUTE = timedelta(minutes=1)


def use(who: object, at=NOW, most: int = 3) -> None:
    count_use("tries", who, most=most, within=MINUTE, at=at, told="Too many tries.")


def test_so_many_in_a_time_and_each_by_itself(db: None) -> None:
    for second in (0, 10, 20):
        use(1, NOW + timedelta(seconds=second))
    with pytest.raises(TooOften, match=r"Nothing was saved\. Wait 30 seconds") as held:
        use(1, NOW + timedelta(seconds=30))
    assert held.value.seconds == "30"
    use(2, NOW + timedelta(seconds=30))
    use(1, NOW + timedelta(seconds=61))  # the first is a minute ago
    assert SignInAttempt.objects.count() == 4  # who was held back was not counted, the old one went


def test_a_clock_put_back_holds_nobody_back(db: None) -> None:
    for _ in range(30):
        SignInAttempt.objects.create(name_key="x", address="192.0.2.1", at=NOW + timedelta(days=1))
    for _ in range(3):
        use(1, NOW + timedelta(days=1))
    use(1, NOW)
    begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW)
    with pytest.raises(HeldBack):
        begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW + timedelta(days=1))


def test_a_person_who_writes_without_end_is_told_so_and_nothing_is_saved(
    depot: Depot, operator: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("plant.http.MOST_WRITES", 4)
    machine, client, door = make_machine(depot), Client(), reverse("maintenance:scan")
    client.force_login(operator)
    with time_machine.travel(NOW, tick=False) as clock:
        for _ in range(4):
            assert client.post(door, {"code": machine.number}).status_code == 302
        held = client.post(door, {"code": machine.number})
        assert (held.status_code, held["Retry-After"]) == (429, "60")
        page = held.content.decode()
        assert "Nothing was saved. Wait 60 seconds, then try again." in page
        assert "unplug it and tell your foreman" in page
        assert client.get(door).status_code == 200  # reading goes on
        other = Client()
        other.force_login(operator)
        assert other.post(door, {"code": "x"}).status_code == 429  # another browser is no way out
        clock.shift(60)
        assert client.post(door, {"code": machine.number}).status_code == 302


def test_a_phone_that_sends_without_end_is_asked_to_wait(depot: Depot, operator: User) -> None:
    permit = permit_for_person(user=operator, depot_id=depot.pk)
    client, door = Client(), reverse("maintenance:phone_entries")

    def send(permit: str):
        body = {"sent_at": NOW.isoformat(), "entries": [{"permit": permit, "id": "x"}]}
        return client.post(door, body, content_type="application/json")

    with time_machine.travel(NOW, tick=False):
        for _ in range(throttle.MOST_SENDINGS):
            assert send(permit).status_code == 200
        held = send(permit)
        assert (held.status_code, held["Retry-After"]) == (429, "60")
        assert held.json()["words"].startswith("This phone sent too often. Nothing was saved.")
        assert send("made up").status_code == 200  # its sender learns that it does not count
