"""The link by which somebody chooses a password, sent by mail: once, to that address, or told why
not; and shown to who made it all the same."""

from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from pytest_django.fixtures import Settings

from mailing import free_port, mail_server, sent_to, text_of
from make import make_user
from plant.actions.account import make_way_in, use_way_in
from plant.actions.refusal import Refused
from plant.models import Depot, Message, Role, User, WayIn
from reports.actions.message import send_waiting

AT = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
PASSWORD = "kettle birch lantern otter"


def sends(at: datetime) -> int:
    return send_waiting(clock=lambda: at, until=at + timedelta(seconds=1))


@pytest.fixture
def ida(depot: Depot) -> User:
    person = make_user("Ida Brandt", (depot, Role.FITTER))
    person.email = "ida@north.example"
    person.save()
    return person


@pytest.fixture
def client(depot: Depot) -> Client:
    manager = make_user("Mo North", (depot, Role.MANAGER), password=PASSWORD)
    client = Client()
    client.post(reverse("plant:sign_in"), {"sign_in": manager.sign_in, "password": PASSWORD})
    return client


def link_page(client: Client, person: User) -> str:
    page = client.get(reverse("plant:way_in_link", args=[person.pk]))
    return unescape(page.content.decode())


def test_a_link_goes_once_to_the_address_and_opens(ida: User, manager: User) -> None:
    link = make_way_in(person=ida, at=AT, by=manager, mail=True)
    assert not mail.outbox  # nobody waits for a mail server

    assert sends(AT) == 1
    assert sends(AT + timedelta(minutes=1)) == 0

    (sent,) = mail.outbox
    assert sent.to == [ida.email]
    words = text_of(sent)

    assert link.code in words
    assert "ida.brandt" in words
    assert "until 26 Nov 2026, 06:30" in words
    assert str(manager) in words
    use_way_in(code=link.code, password=PASSWORD, at=AT + timedelta(hours=1))
    ida.refresh_from_db()
    assert ida.check_password(PASSWORD)


def test_a_person_who_chose_no_messages_gets_the_link_and_nothing_else(
    ida: User, manager: User
) -> None:
    make_way_in(person=ida, at=AT, by=manager, mail=True)
    sends(AT)
    assert [row.kind for row in Message.objects.all()] == ["way in"]
    assert not hasattr(ida, "message_choice")


def test_what_counts_no_more_is_not_sent(ida: User, manager: User) -> None:
    first = make_way_in(person=ida, at=AT, by=manager, mail=True)
    second = make_way_in(person=ida, at=AT, by=manager, mail=True)
    assert sends(AT) == 1
    assert first.code not in text_of(mail.outbox[0])
    assert second.code in text_of(mail.outbox[0])

    # Another address than the one that was meant, a link that was used, a person who left.
    third = make_way_in(person=ida, at=AT, by=manager, mail=True)
    User.objects.filter(pk=ida.pk).update(email="somebody@else.example")
    assert sends(AT + timedelta(minutes=3)) == 0
    User.objects.filter(pk=ida.pk).update(email=ida.email)
    assert WayIn.objects.standing(AT).filter(pk=third.pk).exists()
    fourth = make_way_in(person=ida, at=AT, by=manager, mail=True)
    use_way_in(code=fourth.code, password=PASSWORD, at=AT)
    assert sends(AT + timedelta(minutes=6)) == 0
    make_way_in(person=ida, at=AT, by=manager, mail=True)
    User.objects.filter(pk=ida.pk).update(is_active=False)
    assert sends(AT + timedelta(minutes=9)) == 0
    assert len(mail.outbox) == 1
    assert not Message.objects.open().exists()


def test_without_mail_or_an_address_it_is_refused_in_words_and_no_link_is_made(
    ida: User, manager: User, settings: Settings
) -> None:
    before = make_way_in(person=ida, at=AT, by=manager)
    ida.email = ""
    ida.save()
    with pytest.raises(Refused, match="No address"):
        make_way_in(person=ida, at=AT, by=manager, mail=True)
    settings.MAIL_ON = False
    with pytest.raises(Refused, match="sends no mail"):
        make_way_in(person=ida, at=AT, by=manager, mail=True)
    assert WayIn.objects.standing(AT).get() == before
    assert not Message.objects.exists()


def test_who_invites_sees_the_link_and_how_the_mail_stands(depot: Depot, client: Client) -> None:
    page = client.get(reverse("plant:invite")).content.decode()
    assert "Send the link to this address" in page
    told = {
        "name": "Ida Brandt", "sign_in": "ida.brandt", "email": "ida@north.example", "mail": "on",
        f"role-{depot.pk}-fitter": "on",
    }  # fmt: skip
    answer = client.post(reverse("plant:invite"), told, follow=True)
    link = WayIn.objects.get()
    shown = unescape(answer.content.decode())
    assert link.code in shown
    assert "It is being sent to ida@north.example" in shown

    with mail_server() as server:
        server.answer_to_address = "550 5.1.1 no such box"
        assert sends(now()) == 0
        shown = link_page(client, link.user)
        assert "Not sent to ida@north.example yet: 550 5.1.1 no such box." in shown
        assert "Nothing is lost: the link above counts." in shown
        assert link.code in shown

        server.answer_to_address = "250 OK"
        assert sends(now() + timedelta(minutes=3)) == 1
        (taken,) = server.taken
        assert link.code in str(taken)
    assert "Sent to ida@north.example" in link_page(client, link.user)

    # A server that is not there: said, and sent when it is.
    client.post(reverse("plant:way_in_link", args=[link.user.pk]), {"mail": "on"})
    with sent_to(free_port()):
        assert sends(now()) == 0
    assert "The mail server cannot be reached" in link_page(client, link.user)


def test_an_invitation_with_a_tick_and_no_address_keeps_what_was_typed(
    depot: Depot, client: Client
) -> None:
    told = {"name": "Ida Brandt", "sign_in": "ida.brandt", "mail": "on",
            f"role-{depot.pk}-fitter": "on"}  # fmt: skip
    answer = client.post(reverse("plant:invite"), told)
    page = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "No address is entered. Hand the link over." in page
    assert 'value="Ida Brandt"' in page
    assert not User.objects.filter(sign_in="ida.brandt").exists()


def test_where_no_mail_is_sent_nothing_of_it_is_asked(
    ida: User, client: Client, settings: Settings
) -> None:
    settings.MAIL_ON = False
    assert 'name="mail"' not in client.get(reverse("plant:invite")).content.decode()
    assert 'name="mail"' not in link_page(client, ida)
    # A tick that was never offered does nothing.
    client.post(reverse("plant:way_in_link", args=[ida.pk]), {"mail": "on"})
    assert WayIn.objects.filter(user=ida).exists()
    assert not Message.objects.exists()
