"""Where nothing is entered yet, every list says what will stand there and gives the next step."""

import re
from collections.abc import Iterator
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from addresses import signed_in
from make import make_depot, make_machine, make_user
from plant.models import Depot, Role
from plant.pages import GROUPS
from plant.templatetags.beginning import _WAIT_FOR_MACHINES

pytestmark = pytest.mark.usefixtures("rule_sheet")
_EMPTY = re.compile(r'<(p|td|div)[^>]*class="[^"]*\bempty\b[^"]*"[^>]*>(.*?)</\1>', re.DOTALL)
_BEGIN = re.compile(r'<div class="begin.*?<a class="button" href="([^"]+)">([^<]+)</a>', re.DOTALL)
_FIRST = {
    Role.MANAGER: "Add the first machine",
    Role.ADMINISTRATOR: "Bring in machines from a file",
}


def pages(client: Client) -> Iterator[tuple[str, str]]:
    """The main part of every page of the table that this person may open."""
    for page in (page for _, group in GROUPS for page in group):
        response = client.get(reverse(page.name))
        if response.status_code == 200:
            text = response.content.decode()
            yield page.name, text[text.index("<main") : text.index("</main>")]


@pytest.mark.parametrize("role", list(Role))
def test_every_list_of_an_empty_depot_says_what_comes_and_how_to_begin(
    depot: Depot, role: Role
) -> None:
    make_machine(make_depot("elsewhere"))  # another depot's machine begins nothing here
    client = signed_in(make_user("Fay First", (depot, role)))
    told = 0
    for name, main in pages(client):
        for _, words in _EMPTY.findall(main):
            # A sentence, not a bare "none".
            assert len(unescape(re.sub("<[^>]+>", "", words)).split()) >= 2, name
            told += 1
        begin = _BEGIN.findall(main)
        if name in _WAIT_FOR_MACHINES:
            assert len(begin) == 1, name
            address, word = begin[0]
            assert word == _FIRST.get(role, "Practise on a machine of your own")
            assert client.get(address).status_code == 200
        else:
            assert not begin, name
    assert told > 10


def test_once_there_is_a_machine_nothing_is_said_of_the_first(depot: Depot) -> None:
    make_machine(depot)
    client = signed_in(make_user("Fay First", (depot, Role.MANAGER)))

    assert not [name for name, main in pages(client) if _BEGIN.search(main)]


def test_nobody_is_told_to_begin_with_a_button_that_is_not_there(depot: Depot) -> None:
    for role in Role:
        client = signed_in(make_user(f"Fay {role.label}", (depot, role)))
        for name, main in pages(client):
            told = " ".join(
                unescape(re.sub("<[^>]+>", "", words)) for _, words in _EMPTY.findall(main)
            )
            # On another page it may be; on this one it must be.
            for word in re.findall(r"Begin with “([^”]+)”(?! on the page)", told):
                assert re.search(rf">\s*{re.escape(word)}\s*</(a|button)>", main), (
                    role,
                    name,
                    word,
                )
