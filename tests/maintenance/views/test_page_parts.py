"""The page of all parts of pages: for managers and administrators, whole, and never out of date."""

import re

import pytest
from django.test import Client

from make import make_user
from plant.models import Depot, Machine, Role, User
from plant.templatetags.marks import MARK_SETS


def shown(user: User) -> str:
    client = Client()
    client.force_login(user)
    response = client.get("/pages/parts")
    assert response.status_code == 200
    return response.content.decode()


def test_every_mark_caution_and_state_of_a_field_stands_there(depot: Depot) -> None:
    page = shown(make_user("Somebody", (depot, Role.MANAGER)))

    marks = set(re.findall(r'<span class="mark mark-\w+">.*?<span>([^<]+)</span></span>', page))
    assert {mark.word for marks in MARK_SETS.values() for mark in marks} <= marks
    for part in (
        'class="plate"', 'class="stop"', 'class="take-care"', 'class="note"', "message-error",
        "errorlist", " disabled", 'aria-busy="true"', "<progress", 'aria-sort="ascending"',
        'class="empty"', 'rel="next"', "<figcaption>", 'class="tabs"', 'class="story"',
    ):  # fmt: skip
        assert part in page, part
    # What was typed stays beside its error, in words.
    assert "40 bananas" in page
    assert not Machine.objects.exists()


def test_no_two_things_on_it_have_one_name(depot: Depot) -> None:
    page = shown(make_user("Somebody", (depot, Role.ADMINISTRATOR)))
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("role", [Role.FITTER, Role.FOREMAN, Role.DESK, Role.OPERATOR])
def test_it_is_for_those_who_run_the_firm(depot: Depot, role: Role) -> None:
    client = Client()
    client.force_login(make_user("Somebody", (depot, role)))
    assert client.get("/pages/parts").status_code == 403
