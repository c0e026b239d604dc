"""Scan: four characters or a number open the machine, and guessing is held back."""

from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from make import make_machine, make_user
from plant.actions.throttle import A_MINUTE
from plant.models import Depot, Machine, Role, SignInAttempt, User
from plant.models.attempt import ENTRIES_BY_LABEL, LABEL_TIME, label_key

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
SCAN = "/scan"
pytestmark = pytest.mark.usefixtures("rule_sheet")


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def typed(user: User, code: str) -> Any:
    return signed_in(user).post(SCAN, {"code": code})


def codes(user: User) -> Any:
    """The codes of this person that are counted; each sending is counted beside them."""
    return SignInAttempt.objects.filter(name_key=label_key("typed codes", str(user.pk)))


@pytest.fixture
def coded(machine: Machine) -> Machine:
    Machine.objects.filter(pk=machine.pk).update(short_code="7F3K")
    machine.refresh_from_db()
    return machine


@pytest.mark.parametrize(
    "code", ["7F3K", "7f3k", " 7f3k ", "7 F 3 K", "Code 7F3K", "code 7f3k", "MX-203", "mx 203"]
)
def test_the_code_and_the_number_open_the_machine_however_they_are_typed(
    coded: Machine, desk: User, code: str
) -> None:
    answer = typed(desk, code)

    assert (answer.status_code, answer["Location"]) == (
        302, reverse("maintenance:machine", args=[coded.pk]),
    )  # fmt: skip


def test_an_operator_comes_straight_to_the_check_and_others_to_the_machine(
    coded: Machine, operator: User, fitter: User, administrator: User
) -> None:
    check = reverse("maintenance:check", args=[coded.pk])
    page = reverse("maintenance:machine", args=[coded.pk])

    assert typed(operator, "7F3K")["Location"] == check
    assert typed(fitter, "7F3K")["Location"] == page
    assert typed(administrator, "7F3K")["Location"] == page
    assert signed_in(operator).get(check).status_code == 200


@pytest.mark.parametrize(
    "odd", ["ZZZZ", "7F3", "é", "🔧", "' OR 1=1", "%", "____", "a" * 80, "MX-20", "../../x"]
)
def test_what_opens_nothing_is_said_in_one_way_and_what_was_typed_stays(
    coded: Machine, desk: User, odd: str
) -> None:
    answer = typed(desk, odd)

    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "No machine of your depots has this code or number. Read the label again." in shown
    assert coded.number not in shown


def test_another_depots_code_is_answered_like_a_made_up_one(coded: Machine, outsider: User) -> None:
    def said(code: str) -> str:
        page: str = typed(outsider, code).content.decode()
        return page.partition("<main")[2].replace(code, "").partition("csrf")[0]

    assert typed(outsider, "7F3K").status_code == 422
    assert said("7F3K") == said("ZZZZ")
    assert said("MX-203") == said("QX-999")


def test_a_code_that_is_also_a_number_asks_which(
    coded: Machine, depot: Depot, operator: User
) -> None:
    other = make_machine(depot, "7F-3K")

    answer = typed(operator, "7F3K")

    shown = answer.content.decode()
    assert answer.status_code == 200
    for machine in (coded, other):
        assert reverse("maintenance:check", args=[machine.pk]) in shown


def test_guessing_is_held_back_for_this_person_alone_and_what_is_right_counts_for_nothing(
    coded: Machine, desk: User, operator: User
) -> None:
    with time_machine.travel(NOW, tick=False) as clock:
        for _ in range(3 * ENTRIES_BY_LABEL):
            assert typed(desk, "7F3K").status_code == 302
        assert not codes(desk).exists()
        # Sixty sendings a minute are the most of anything; this is about codes.
        clock.shift(2 * A_MINUTE)
        for _ in range(ENTRIES_BY_LABEL):
            assert typed(desk, "ZZZZ").status_code == 422

        held = typed(desk, "7F3K")

        assert held.status_code == 429
        assert held["Retry-After"] == str(int(LABEL_TIME.total_seconds()))
        assert "Too many codes that open nothing. Wait 10 minutes" in held.content.decode()
        assert typed(operator, "7F3K").status_code == 302
        clock.shift(LABEL_TIME)
        assert typed(desk, "7F3K").status_code == 302


def test_what_is_counted_names_nobody_and_no_code(coded: Machine, desk: User) -> None:
    typed(desk, "ZZZZ")

    counted = codes(desk).get()
    assert counted.address == ""
    assert "ZZZZ" not in counted.name_key
    assert desk.sign_in not in counted.name_key


def test_nobody_comes_in_without_an_account(coded: Machine) -> None:
    answer = Client().post(SCAN, {"code": "7F3K"})

    assert (answer.status_code, answer["Location"]) == (302, "/sign-in?next=/scan")
    assert not SignInAttempt.objects.exists()


def test_who_works_with_labels_has_it_in_the_menu_and_all_others_under_more(depot: Depot) -> None:
    for role in Role:
        client = signed_in(make_user(f"One {role.label}", (depot, role)))
        menu = client.get(SCAN).content.decode().split('aria-label="Pages"')[1].split("</nav>")[0]
        assert ('href="/scan"' in menu) == (role in (Role.OPERATOR, Role.FITTER))
        assert 'href="/scan"' in client.get("/pages").content.decode()
