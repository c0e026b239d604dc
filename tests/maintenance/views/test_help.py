"""The help: open to everybody, found by its words, and opened on the spot where work is done."""

import pytest
from django.test import Client
from django.urls import reverse

from maintenance.contents.help import look_up
from plant.models import Machine, User

pytestmark = pytest.mark.usefixtures("rule_sheet")


def page(name: str, query: dict[str, str] | None = None) -> str:
    response = Client().get(reverse(f"maintenance:{name}"), query or {})
    assert response.status_code == 200
    return response.content.decode()


def test_words_find_their_place_in_the_help() -> None:
    found = page("help_page", query={"q": "take-up left"})
    assert 'href="/help/words#take-up"' in found
    assert "Worked: A belt that is worn" not in found
    assert "help/worked#blank-belt" in page("help_page", query={"q": "Belt MEASURING"})

    nothing = page("help_page", query={"q": "<b>wheelbarrow</b>"})
    assert "Nothing in the help says" in nothing
    assert "<b>wheelbarrow" not in nothing


def test_each_link_of_the_help_leads_to_a_place_that_is_there() -> None:
    pages = {}
    found = [each for letter in "aeiou" for each in look_up(letter)]
    assert len(found) > 100
    for each in found:
        address, _, anchor = each.address.partition("#")
        if address not in pages:
            pages[address] = Client().get(address).content.decode()
        assert f'id="{anchor}"' in pages[address], each.address


def test_a_guide_that_is_not_there_is_not_found() -> None:
    assert Client().get(reverse("maintenance:help_guide", args=["nobody"])).status_code == 404


def test_a_check_says_why_each_question_is_asked(machine: Machine) -> None:
    check = Client().get(reverse("maintenance:label_check", args=[machine.label_code]))
    shown = check.content.decode()

    asked = shown.count('<fieldset data-item="')
    assert asked >= 6
    # One more says when to answer that a thing could not be checked.
    assert shown.count('<details class="reason') == asked + 1
    assert 'href="/help/why#check.' in shown


def test_the_words_and_the_guide_of_operators_are_kept_by_the_phone() -> None:
    worker = Client().get("/sw.js").content.decode()

    assert '"/help/words", "/help/guides/operator"' in worker
    # What is kept without cookies must be there without an account.
    for address in ("/help/words", "/help/guides/operator"):
        assert Client().get(address).status_code == 200


def test_an_empty_register_says_how_to_begin_by_what_the_reader_may(
    manager: User, operator: User
) -> None:
    said = {}
    for who in (manager, operator):
        client = Client()
        client.force_login(who)
        said[who] = client.get(reverse("maintenance:machine_list")).content.decode()
        filtered = client.get(reverse("maintenance:machine_list"), {"q": "nothing"})
        assert "Take a filter off" in filtered.content.decode()

    assert "Add the first one, or bring in" in said[manager]
    assert "Add the first one" not in said[operator]
    assert "A manager adds them" in said[operator]
