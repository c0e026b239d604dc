"""A mail server of the test's own on loopback, and people who chose their messages."""

import asyncio
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP
from django.test import override_settings

from make import MONDAY
from plant.models import MessageChoice, User
from plant.models.message import mail_key

SMTP_BACKEND = "django.core.mail.backends.smtp.EmailBackend"


class Server:
    """Takes every mail, until it is told to answer otherwise."""

    def __init__(self) -> None:
        self.taken: list[EmailMessage] = []
        self.tries = 0
        self.answer_to_address = "250 OK"
        self.answer_to_mail = "250 OK"
        self.sleep_s = 0.0

    async def handle_RCPT(
        self, server: SMTP, session: Any, envelope: Any, address: str, options: Any
    ) -> str:
        self.tries += 1
        await asyncio.sleep(self.sleep_s)
        if self.answer_to_address.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.answer_to_address

    async def handle_DATA(self, server: SMTP, session: Any, envelope: Any) -> str:
        if self.answer_to_mail.startswith("250"):
            self.taken.append(message_from_bytes(envelope.content, policy=policy.default))  # type: ignore[arg-type]
        return self.answer_to_mail


@contextmanager
def mail_server(**more: Any) -> Iterator[Server]:
    """The server, and settings that send mail to it."""
    server = Server()
    controller = Controller(server, hostname="127.0.0.1", port=free_port())
    controller.start()
    try:
        with sent_to(controller.port, **more):
            yield server
    finally:
        controller.stop()


def sent_to(port: int, **more: Any) -> Any:
    return override_settings(
        EMAIL_BACKEND=SMTP_BACKEND, EMAIL_HOST="127.0.0.1", EMAIL_PORT=port,
        EMAIL_USE_TLS=False, EMAIL_USE_SSL=False, EMAIL_HOST_USER="", EMAIL_TIMEOUT=5, **more,
    )  # fmt: skip


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wants(user: User, mail: str = "", **more: Any) -> MessageChoice:
    """The person with a proved address, and what they chose."""
    user.email = mail or f"{user.sign_in}@plant.example"
    user.save()
    given = {"proved_key": mail_key(user.email), "proved_at": MONDAY, "morning": False} | more
    return MessageChoice.objects.update_or_create(user=user, defaults=given)[0]


def text_of(mail: Any) -> str:
    """All the words of a mail: subject, text and HTML."""
    if isinstance(mail, EmailMessage):
        parts = [str(part.get_content()) for part in mail.walk() if not part.is_multipart()]
        return "\n".join([str(mail["Subject"]), *parts])
    return "\n".join([mail.subject, mail.body, *(str(each.content) for each in mail.alternatives)])
