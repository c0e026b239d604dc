"""Signing in: nobody learns who has an account, nobody guesses fast, nobody is sent elsewhere."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from statistics import median
from time import process_time
from typing import Any
from unittest import mock
from urllib.parse import parse_qs, urlsplit

import pytest
import time_machine
from django.contrib.auth.hashers import MD5PasswordHasher
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from plant.models import Depot, Role, SignInAttempt, User
from plant.models.attempt import name_key
from tests.make import make_user

NOW = datetime(2026, 11, 25, 7, 31, tzinfo=UTC)
PASSWORD = " Ångström & kettle, 7 geese? "
WRONG = "seven geese and a kettle"


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def person(depot: Depot) -> User:
    return make_user("Ida Brandt", (depot, Role.FITTER), password=PASSWORD)


def send(
    client: Client,
    name: str = "ida.brandt",
    password: str = PASSWORD,
    address: str = "192.0.2.99",
    next: str = "",
) -> Any:
    given = {"sign_in": name, "password": password, "next": next}
    return client.post(reverse("plant:sign_in"), given, REMOTE_ADDR=address)


def signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_name_in_any_case_and_a_password_with_every_character(client: Client, person: User) -> None:
    answer = send(client, "IDA.Brandt", next="/machines?q=mx&page=2")

    assert (answer.status_code, answer["Location"]) == (302, "/machines?q=mx&page=2")
    assert client.session["_auth_user_id"] == str(person.pk)


def test_spaces_round_a_password_count(client: Client, person: User) -> None:
    assert send(client, password=PASSWORD.strip()).status_code == 422


def test_two_names_that_differ_only_in_case_cannot_exist(person: User) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        User.objects.create(sign_in="Ida.Brandt", name="Another")


def test_session_gets_a_new_key(client: Client, person: User) -> None:
    client.get(reverse("plant:sign_in"))
    session = client.session
    session["before"] = True
    session.save()
    client.cookies["session"] = session.session_key or ""
    old = session.session_key

    send(client)

    assert signed_in(client)
    assert client.session.session_key != old


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://example.org/",
        "//example.org",
        "/\\example.org",
        "\\\\example.org",
        "javascript:alert(1)",
        "http:///example.org",
        "/\t/example.org",
        "machines",
        "",
    ],
)
def test_only_own_paths_follow(client: Client, person: User, elsewhere: str) -> None:
    assert send(client, next=elsewhere)["Location"] == "/"


def test_next_is_kept_through_the_page(client: Client, person: User) -> None:
    page = client.get(reverse("plant:sign_in") + "?next=/due").content.decode()

    assert '<input type="hidden" name="next" value="/due">' in page


def test_who_is_signed_in_goes_straight_on(client: Client, person: User) -> None:
    client.force_login(person)

    assert client.get(reverse("plant:sign_in") + "?next=/due")["Location"] == "/due"


class CountingHasher(MD5PasswordHasher):
    """Counts how often a password is worked on, which is what takes the time."""

    algorithm = "counting"
    worked = 0

    def encode(self, password: str, salt: str) -> str:
        CountingHasher.worked += 1
        return super().encode(password, salt)


def test_unknown_disabled_and_wrong_are_answered_alike(client: Client, depot: Depot) -> None:
    with (
        mock.patch("django.contrib.auth.hashers.get_hashers", return_value=[CountingHasher()]),
        mock.patch(
            "django.contrib.auth.hashers.get_hashers_by_algorithm",
            return_value={"counting": CountingHasher()},
        ),
    ):
        make_user("Known", (depot, Role.FITTER), password=PASSWORD)
        gone = make_user("Gone", (depot, Role.FITTER), password=PASSWORD)
        User.objects.filter(pk=gone.pk).update(is_active=False)
        make_user("Invited", (depot, Role.FITTER), password=None)
        told = {}
        for name, password in (
            ("known", WRONG),
            ("gone", PASSWORD),
            ("gone", WRONG),
            ("nobody", WRONG),
            ("invited", WRONG),
        ):
            CountingHasher.worked = 0
            answer = send(client, name, password)
            text = answer.content.decode().replace(f'value="{name}"', "")
            csrf = answer.context["csrf_token"]
            told[name, password] = (
                answer.status_code,
                text.replace(str(csrf), ""),
                CountingHasher.worked,
            )

    assert not signed_in(client)
    assert len(set(told.values())) == 1
    status, text, worked = told["nobody", WRONG]
    assert (status, worked) == (422, 1)
    assert "This name and password do not go together" in text
    assert WRONG not in text


def test_sixth_try_waits_a_minute_and_works_on_no_password(client: Client, person: User) -> None:
    for _ in range(5):
        assert send(client, password=WRONG).status_code == 422

    with mock.patch("plant.views.sign_in.authenticate") as worked:
        answer = send(client)

    assert answer.status_code == 429
    assert answer["Retry-After"] == "60"
    assert "Wait 1 minute, then try again." in answer.content.decode()
    worked.assert_not_called()


def test_wait_doubles_up_to_a_quarter_of_an_hour_and_ends(client: Client, person: User) -> None:
    waits = []
    with time_machine.travel(NOW, tick=False) as clock:
        for _ in range(5):
            send(client, password=WRONG, address="192.0.2.1")
        for turn in range(6):
            wait = int(send(client, password=WRONG)["Retry-After"])
            waits.append(wait // 60)
            clock.shift(timedelta(seconds=wait))
            assert send(client, password=WRONG, address=f"192.0.2.{turn}").status_code == 422
        clock.shift(timedelta(minutes=15))

        answer = send(client)

    assert waits == [1, 2, 4, 8, 15, 15]
    assert answer.status_code == 302


def test_tries_while_waiting_do_not_lengthen_the_wait(client: Client, person: User) -> None:
    for _ in range(5):
        send(client, password=WRONG)
    for _ in range(30):
        assert send(client).status_code == 429

    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert send(client).status_code == 302


def test_unknown_name_waits_like_a_known_one(client: Client, person: User) -> None:
    for _ in range(5):
        send(client, "nobody", WRONG)

    assert send(client, "NOBODY", WRONG).status_code == 429


def test_success_lets_the_name_start_afresh(client: Client, person: User) -> None:
    for _ in range(4):
        send(client, password=WRONG)
    send(client)
    client.logout()

    for _ in range(4):
        assert send(client, password=WRONG).status_code == 422
    assert send(client).status_code == 302


def test_an_address_is_held_back_after_twenty_names(client: Client, person: User) -> None:
    for number in range(20):
        assert send(client, f"name{number}", WRONG, address="192.0.2.7").status_code == 422

    answer = send(client, address="192.0.2.7")

    assert (answer.status_code, answer["Retry-After"]) == (429, "300")
    assert send(Client(), address="192.0.2.8").status_code == 302
    with time_machine.travel(NOW + timedelta(minutes=5), tick=False):
        assert send(client, address="192.0.2.7").status_code == 302


def test_own_success_does_not_clear_the_address(client: Client, person: User) -> None:
    for number in range(19):
        send(client, f"name{number}", WRONG, address="192.0.2.7")
    send(Client(), address="192.0.2.7")
    send(client, "name19", WRONG, address="192.0.2.7")

    assert send(client, address="192.0.2.7").status_code == 429


def test_addresses_of_one_ipv6_network_count_as_one(client: Client, person: User) -> None:
    for number in range(20):
        send(client, f"name{number}", WRONG, address=f"2001:db8:1:2::{number:x}")

    assert send(client, address="2001:db8:1:2:ffff::1").status_code == 429
    assert send(client, address="2001:db8:1:3::1").status_code == 302


def test_no_typed_name_is_kept_and_rows_go_after_a_day(client: Client, person: User) -> None:
    send(client, PASSWORD, WRONG)
    assert [a.name_key for a in SignInAttempt.objects.all()] == [name_key(PASSWORD)]

    with time_machine.travel(NOW + timedelta(days=1, seconds=1), tick=False):
        send(client)

    assert not SignInAttempt.objects.exists()


@pytest.mark.parametrize("given", [{}, {"sign_in": "ida.brandt"}, {"password": "x" * 129}])
def test_incomplete_form_is_a_422_and_no_attempt(
    client: Client, person: User, given: dict[str, str]
) -> None:
    answer = client.post(reverse("plant:sign_in"), {"sign_in": "", "password": ""} | given)

    assert answer.status_code == 422
    assert not SignInAttempt.objects.exists()


@pytest.mark.parametrize("odd", ["\x00", "a\x00b", "%", "_", "' OR 1=1 --", "é" * 250])
def test_odd_names_are_only_wrong(client: Client, person: User, odd: str) -> None:
    assert send(client, odd, WRONG).status_code == 422


def test_signing_in_needs_the_token_of_its_page(person: User) -> None:
    client = Client(enforce_csrf_checks=True)

    answer = send(client)

    assert answer.status_code == 403
    assert "What you sent was not saved." in answer.content.decode()
    assert not signed_in(client)


def test_signing_out_is_a_post_and_ends_the_session(client: Client, person: User) -> None:
    client.force_login(person)

    assert client.get(reverse("plant:sign_out")).status_code == 405
    assert signed_in(client)
    answer = client.post(reverse("plant:sign_out"))

    assert answer["Location"] == reverse("plant:sign_in")
    assert not signed_in(client)


def cpu_of(client: Client, name: str) -> float:
    """[s] of this process for one try; a busy computer makes it wait, not work."""
    SignInAttempt.objects.all().delete()
    before = process_time()
    assert send(client, name, WRONG).status_code == 422
    return process_time() - before


def test_an_unknown_a_left_an_invited_and_a_known_name_cost_the_same_time(
    client: Client, depot: Depot, settings: Any
) -> None:
    """Medians of 25 within 15 %, on the hasher of the real site, in turns so that all meet the
    same computer."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    make_user("Known", (depot, Role.FITTER), password=PASSWORD)
    User.objects.filter(pk=make_user("Gone", (depot, Role.FITTER), password=PASSWORD).pk).update(
        is_active=False
    )
    make_user("Invited", (depot, Role.FITTER), password=None)
    told: dict[str, list[float]] = {name: [] for name in ("known", "gone", "invited", "nobody")}
    for name in told:
        cpu_of(client, name)  # what is loaded once
    for _ in range(25):
        for name, times in told.items():
            times.append(cpu_of(client, name))

    medians = {name: median(times) for name, times in told.items()}
    assert max(medians.values()) < 1.15 * min(medians.values()), medians
    assert min(medians.values()) > 0.02, "no password was worked on"


def test_a_form_sent_when_signed_out_leads_back_to_its_page_and_not_to_where_it_was_sent(
    client: Client, person: User
) -> None:
    for referer, onward in (
        ("http://testserver/machines?q=mx&page=2", "/machines?q=mx&page=2"),
        ("http://elsewhere.example/machines", "/you/lengths"),
        ("http://testserver@elsewhere.example/", "/you/lengths"),
        ("http://[", "/you/lengths"), ("", "/you/lengths"),
    ):  # fmt: skip
        sent = client.post("/you/lengths", {"lengths": "in"}, headers={"Referer": referer})
        assert sent.status_code == 302
        assert parse_qs(urlsplit(sent["Location"]).query)["next"] == [onward], referer
