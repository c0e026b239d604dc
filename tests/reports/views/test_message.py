"""The page Messages: what is chosen there is kept, and an address is proved by its link."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse

from mailing import wants
from plant.models import Depot, Message, MessageChoice, User
from reports.actions.message import send_waiting

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
PAGE = "/messages"


@pytest.fixture(autouse=True)
def _clock() -> Any:
    mail.outbox = []
    with time_machine.travel(AT, tick=False):
        yield


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def shown(client: Client) -> str:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_an_address_is_written_proved_by_its_link_and_then_used(
    foreman: User, desk: User, depot: Depot
) -> None:
    client = client_of(foreman)
    assert "Nothing is sent to you: there is no address." in shown(client)

    sent = {"mail": "freya@plant.example", "morning": "on", "at_once": "on", "weekly_for": depot.pk}
    assert client.post(PAGE, sent).status_code == 302
    page = shown(client)
    assert "A link was sent to freya@plant.example." in page
    assert "<strong>freya@plant.example</strong> is not proved" in page
    choice = MessageChoice.objects.get()
    assert (choice.morning, choice.when_well, choice.weekly_for) == (True, False, depot)
    assert choice.at_once_from == AT

    assert send_waiting(clock=lambda: AT, until=AT + timedelta(seconds=1)) == 1
    (link,) = re.findall(r"http://localhost:8000(/messages/proof\?code=\S+)", mail.outbox[0].body)
    stranger = client_of(desk).get(link)
    assert "not good any more" in stranger.content.decode()
    assert "Is <strong>freya@plant.example</strong> yours?" in client.get(link).content.decode()
    assert not MessageChoice.objects.get().proved_key  # looking proves nothing

    code = link.partition("code=")[2]
    assert client_of(desk).post("/messages/proof", {"code": code}).status_code == 422
    assert client.post("/messages/proof", {"code": code}).status_code == 302
    assert "Messages go to <strong>freya@plant.example</strong>." in shown(client)


@pytest.mark.parametrize(
    "typed",
    ["freya", "a@b\r\nBcc: c@d", "a@plant.example, b@plant.example", "a" * 300 + "@plant.example",
     "<script>@plant.example", "a@plant.example\n"],
)  # fmt: skip
def test_what_is_no_address_is_shown_back_and_not_kept(foreman: User, typed: str) -> None:
    answer = client_of(foreman).post(PAGE, {"mail": typed, "morning": "on"})

    if answer.status_code == 302:  # outer space is taken off, as everywhere
        foreman.refresh_from_db()
        assert foreman.email == typed.strip()
        return
    assert answer.status_code == 422
    foreman.refresh_from_db()
    assert foreman.email == ""
    assert not Message.objects.exists()


def test_who_issues_nothing_is_not_offered_the_message_at_once(operator: User) -> None:
    client = client_of(operator)
    assert "At once, when a machine is stopped" not in shown(client)

    client.post(PAGE, {"mail": "", "at_once": "on"})

    assert MessageChoice.objects.get().at_once_from is None


def test_another_depots_weekly_note_cannot_be_chosen(foreman: User, other_depot: Depot) -> None:
    answer = client_of(foreman).post(PAGE, {"mail": "", "weekly_for": other_depot.pk})

    assert answer.status_code == 422
    assert not MessageChoice.objects.exists()


def test_choosing_again_does_not_move_the_moment_from_which_news_counts(foreman: User) -> None:
    wants(foreman, at_once_from=AT - timedelta(days=3))

    client_of(foreman).post(PAGE, {"mail": foreman.email, "at_once": "on"})

    assert MessageChoice.objects.get().at_once_from == AT - timedelta(days=3)


def test_mail_that_is_refused_is_told_to_whom_it_was_for(foreman: User, depot: Depot) -> None:
    wants(foreman, morning=True)
    Message.promised(
        kind=Message.Kind.MORNING, thing="2026-11-25", person=foreman, depot=depot, at=AT,
        refused_since=AT, why="550 no such <b>mailbox</b>.", address_refused=True,
    ).save()  # fmt: skip
    page = shown(client_of(foreman))

    assert "Refused since 25 Nov 2026, 09:00: 550 no such &lt;b&gt;mailbox&lt;/b&gt;." in page

    client_of(foreman).post(PAGE, {"mail": "other@plant.example", "morning": "on"})
    assert "Refused since" not in shown(client_of(foreman))


def test_the_link_can_be_sent_again(foreman: User) -> None:
    client = client_of(foreman)
    client.post(PAGE, {"mail": "freya@plant.example"})
    client.post(reverse("reports:ask_proof"))

    assert Message.objects.filter(kind=Message.Kind.PROOF).count() == 2
    assert "A link was sent to freya@plant.example." in shown(client)
