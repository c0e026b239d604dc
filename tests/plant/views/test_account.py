"""One's own account, links to set a password, one-time codes at the door, and how sessions end."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from make import make_machine, make_user
from plant import one_time
from plant.actions import one_time as codes
from plant.actions.account import make_way_in
from plant.models import Depot, Firm, OneTime, Role, SignedIn, SpareCode, User

NOW = datetime(2026, 11, 25, 7, 31, tzinfo=UTC)
PASSWORD = "kettle birch lantern otter"


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NOW, tick=False) as travelled:
        yield travelled


@pytest.fixture
def ida(depot: Depot) -> User:
    return make_user("Ida Brandt", (depot, Role.FITTER), password=PASSWORD)


@pytest.fixture
def boss(depot: Depot) -> User:
    return make_user("Mo Boss", (depot, Role.MANAGER), password=PASSWORD)


def come_in(client: Client, user: User, **more: Any) -> Any:
    given = {"sign_in": user.sign_in, "password": PASSWORD}
    return client.post(reverse("plant:sign_in"), given | more)


def is_in(client: Client) -> bool:
    return client.get("/machines").status_code == 200


def with_codes(user: User) -> bytes:
    secret = one_time.new_secret()
    OneTime.objects.create(
        user=user, secret=one_time.locked(secret), begun_at=NOW, confirmed_at=NOW
    )
    return secret


def shown_now(secret: bytes, away: int = 0) -> str:
    return one_time.code_at(secret, one_time.step_of(datetime.now(UTC)) + away)


# --- Links ---------------------------------------------------------------------------------
def test_a_link_is_looked_at_often_and_used_once(
    client: Client, depot: Depot, boss: User, clock: Any
) -> None:
    person = make_user("Ola New", (depot, Role.FITTER))
    link = make_way_in(person=person, at=NOW, by=boss)
    address = reverse("plant:way_in", args=[link.code])

    for _ in range(3):
        assert "Ola New" in client.get(address).content.decode()
    for wrong, told in (
        ({"new_password": "short", "again": "short"}, "Take 15 or more"),
        ({"new_password": PASSWORD, "again": PASSWORD + " "}, "not the same"),
        ({"new_password": "ola.new ola.new 1", "again": "ola.new ola.new 1"}, "built from names"),
        ({"new_password": "x" * 129, "again": "x" * 129}, "Keep to 128"),
    ):
        answer = client.post(address, wrong)
        assert answer.status_code == 422
        assert told in answer.content.decode()
        assert wrong["new_password"] not in answer.content.decode().replace("ola.new", "")
    set_to = {"new_password": f" {PASSWORD} ", "again": f" {PASSWORD} "}
    answer = client.post(address, set_to, headers={"Referer": f"http://testserver{address}"})
    # On to the first page, and not back to a link that counts no more.
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in")
    used, made_up = (
        Client().get(each) for each in (address, reverse("plant:way_in", args=["A" * 44]))
    )
    assert (used.status_code, made_up.status_code) == (404, 404)
    pages = [re.sub(rb"[A-Za-z0-9]{64}", b"", each.content) for each in (used, made_up)]
    assert pages[0] == pages[1]
    assert come_in(client, person).status_code == 422  # spaces count
    assert come_in(client, person, password=f" {PASSWORD} ").status_code == 302


# --- One-time codes ------------------------------------------------------------------------
def test_codes_are_set_up_and_then_asked_for_each_once(
    client: Client, ida: User, clock: Any
) -> None:
    come_in(client, ida)
    clock.shift(timedelta(minutes=11))
    begin = reverse("plant:begin_codes")
    assert "once more" in client.post(begin).content.decode()
    assert not OneTime.objects.exists()
    assert client.post(begin, {"proof": PASSWORD}).status_code == 302
    page = client.get(reverse("plant:own_codes")).content.decode()
    secret = one_time.opened(OneTime.objects.get().secret)
    assert secret is not None
    assert one_time.as_text(secret) in page
    assert "<svg" in page
    confirm = reverse("plant:own_codes")
    assert client.post(confirm, {"code": "000000"}).status_code == 422
    spares = re.findall(r"[0-9A-Z-]{19}", client.post(
        confirm, {"code": shown_now(secret)}
    ).content.decode())  # fmt: skip
    assert len(spares) == 10
    assert client.get(confirm).content.decode().count(spares[0]) == 0

    door, second = Client(), reverse("plant:one_time_code")
    answer = come_in(door, ida, next="/machines")
    assert "The password is right" in answer.content.decode()
    assert not is_in(door)
    assert door.post(second, {"code": shown_now(secret)}).status_code == 422  # used to confirm
    answer = door.post(second, {"code": shown_now(secret, 1), "next": "/machines"})
    assert (answer.status_code, answer["Location"]) == (302, "/machines")
    assert is_in(door)
    other = Client()
    come_in(other, ida)
    assert other.post(second, {"code": shown_now(secret, 1)}).status_code == 422
    assert other.post(second, {"code": spares[3].lower()}).status_code == 302
    third = Client()
    come_in(third, ida)
    assert third.post(second, {"code": spares[3]}).status_code == 422
    assert SpareCode.objects.filter(used_at=None).count() == 9


def test_codes_are_throttled_and_wait_for_ten_minutes_only(
    client: Client, ida: User, clock: Any
) -> None:
    secret, second = with_codes(ida), reverse("plant:one_time_code")
    come_in(client, ida)
    for _ in range(5):
        assert client.post(second, {"code": "000000"}).status_code == 422
    held = client.post(second, {"code": shown_now(secret)})
    assert (held.status_code, held["Retry-After"]) == (429, "60")
    clock.shift(timedelta(minutes=10, seconds=1))
    assert client.post(second, {"code": shown_now(secret)})["Location"] == "/sign-in"
    come_in(client, ida)
    assert client.post(second, {"code": shown_now(secret)}).status_code == 302


def test_the_firm_asks_managers_for_codes_and_nothing_else_opens_before(
    client: Client, boss: User, ida: User, clock: Any
) -> None:
    Firm.objects.create(pk=1, codes_asked=True)
    come_in(client, boss)
    for name in ("reports:today", "maintenance:machine_list", "plant:own_password", "plant:invite"):
        assert client.get(reverse(name))["Location"] == reverse("plant:own_codes")
    client.post(reverse("plant:begin_codes"))
    secret = one_time.opened(OneTime.objects.get().secret)
    assert secret is not None
    client.post(reverse("plant:own_codes"), {"code": shown_now(secret)})
    assert is_in(client)
    client.post(reverse("plant:give_up_codes"))
    assert codes.has_codes(boss)
    fitter = Client()
    come_in(fitter, ida)
    assert is_in(fitter)


# --- Sessions ------------------------------------------------------------------------------
def test_own_sessions_are_listed_and_ended_and_nobody_elses(
    client: Client, ida: User, boss: User, clock: Any
) -> None:
    here, there, bosses = client, Client(HTTP_USER_AGENT="A (Mobile)"), Client()
    for one, person in ((here, ida), (there, ida), (bosses, boss)):
        come_in(one, person)
        clock.shift(timedelta(minutes=2))
    page = here.get(reverse("plant:own_account")).content.decode()
    assert page.count(">last used") == 2
    assert "On a phone" in page
    end, theirs = reverse("plant:end_own"), SignedIn.objects.get(user=boss)
    for which in (str(theirs.pk), "x", "", "9" * 40):
        here.post(end, {"session": which})
    assert is_in(bosses)
    here.post(end, {"session": str(SignedIn.objects.get(device="phone").pk)})
    assert (is_in(here), is_in(there), is_in(bosses)) == (True, False, True)
    come_in(there, ida)
    here.post(end, {"session": "others"})
    assert (is_in(here), is_in(there), is_in(bosses)) == (True, False, True)


def test_another_password_keeps_this_session_and_ends_the_others(
    client: Client, ida: User, clock: Any
) -> None:
    other = Client()
    come_in(client, ida)
    come_in(other, ida)
    before = client.session.session_key
    new = "otter lantern birch kettle"
    answer = client.post(reverse("plant:own_password"), {"new_password": new, "again": new})

    assert answer.status_code == 302
    assert (is_in(client), is_in(other)) == (True, False)
    assert client.session.session_key != before
    assert SignedIn.objects.get().session_key == client.session.session_key
    assert come_in(Client(), ida).status_code == 422


@pytest.mark.parametrize(("role", "idle", "whole"), [
    (Role.OPERATOR, 12, 7 * 24), (Role.DESK, 12, 7 * 24), (Role.FITTER, 12, 7 * 24),
    (Role.FOREMAN, 12, 7 * 24), (Role.MANAGER, 1, 12), (Role.ADMINISTRATOR, 1, 12),
])  # fmt: skip
def test_a_session_ends_unused_and_in_all_after_the_hours_of_the_role(
    client: Client, depot: Depot, role: Role, idle: int, whole: int, clock: Any
) -> None:
    person = make_user("Ro Role", (depot, role), password=PASSWORD)
    come_in(client, person)
    clock.shift(timedelta(hours=idle) - timedelta(minutes=2))
    assert is_in(client)
    clock.shift(timedelta(hours=idle))
    assert not is_in(client)

    come_in(client, person)
    # What a page asks by itself is no use of it.
    clock.shift(timedelta(hours=idle / 2))
    client.get("/machines", headers={"Sec-Fetch-Dest": "empty"})
    clock.shift(timedelta(hours=idle / 2))
    assert not is_in(client)

    come_in(client, person)
    for _ in range(2 * whole // idle - 1):
        clock.shift(timedelta(hours=idle / 2))
        assert is_in(client)
    clock.shift(timedelta(hours=idle / 2))
    assert not is_in(client)


def test_what_was_typed_when_the_session_ended_is_sent_after_signing_in(
    client: Client, depot: Depot, boss: User, ida: User, clock: Any
) -> None:
    machine = make_machine(depot)
    address = reverse("maintenance:report_fault", args=[machine.pk])
    come_in(client, boss)
    clock.shift(timedelta(hours=1))
    typed = {"part": "Something <else>", "told": "Handle\nsnapped", "password": "not carried"}
    answer = client.post(address, typed)
    assert answer.status_code == 403
    page = answer.content.decode()
    assert "nothing is lost" in page
    kept = re.search(r'name="kept" value="([^"]+)"', page).group(1)  # type: ignore[union-attr]

    stranger = Client()
    assert come_in(stranger, ida, kept=kept).status_code == 302  # somebody else's
    assert come_in(Client(), boss, kept=kept[:-3] + "AAA").status_code == 302
    assert 'name="kept"' in come_in(client, boss, kept=kept, password="wrong one").content.decode()
    page = come_in(client, boss, kept=kept).content.decode()
    assert f'action="{address}"' in page
    assert 'value="Something &lt;else&gt;"' in page
    assert "not carried" not in page
    assert client.post(reverse("plant:stay")).json()["seconds"] == 3600
    # Half an hour more, and the page told how long it lasts.
    assert 'data-seconds="3600"' in client.get("/machines").content.decode()


def test_a_heavy_act_asks_for_the_password_again_and_counts_wrong_ones(
    client: Client, boss: User, ida: User, clock: Any
) -> None:
    come_in(client, boss)
    end = reverse("reports:end_account", args=[ida.pk])
    clock.shift(timedelta(minutes=10))
    for proof in ("", "wrong", *["wrong"] * 4):
        assert client.post(end, {"proof": proof}).status_code == 422
    held = client.post(end, {"proof": PASSWORD})
    assert "too many tries" in held.content.decode()
    assert User.objects.get(pk=ida.pk).is_active
    clock.shift(timedelta(minutes=1))
    assert client.post(end, {"proof": PASSWORD}).status_code == 302
    assert not User.objects.get(pk=ida.pk).is_active
    # Not again for ten minutes.
    assert client.post(reverse("plant:bring_back", args=[ida.pk])).status_code == 302
