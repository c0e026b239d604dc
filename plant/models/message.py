"""Messages by e-mail: what each person chose, and one row for each message that was promised."""

import uuid
from datetime import datetime
from typing import Any, Self

from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac

from plant.lazy_text import gettext_lazy as _
from plant.models.people import Depot, User
from plant.models.sign_in import WayIn
from plant.models.work import BackgroundWork, WorkQuerySet


def mail_key(address: str) -> str:
    """What stands for an address that was proved; the address itself is kept once, with the person.

    Capitals count: before the @ they may make another mailbox.
    """
    return salted_hmac("mail", address).hexdigest()


def link_thing(link: WayIn) -> str:
    """What a message that sends a link is about: that link, to the address as it is now."""
    return f"{link.pk} {mail_key(link.user.email)[:32]}"


class MessageChoiceQuerySet(models.QuerySet["MessageChoice"]):
    def proved(self) -> Self:
        """Of people who are here and have an address; compare it with ``is_proved``."""
        return (
            self.filter(user__is_active=True)
            .exclude(proved_key="")
            .exclude(user__email="")
            .select_related("user")
        )


class MessageChoice(models.Model):
    """Which messages one person wants. Without such a row nobody is written to."""

    user = models.OneToOneField(
        User, on_delete=models.CASCADE, primary_key=True, related_name="message_choice"
    )
    # The key of the address that was proved; another address has to be proved afresh.
    proved_key = models.CharField(max_length=64, blank=True)
    proved_at = models.DateTimeField(null=True, blank=True)
    morning = models.BooleanField(default=True)
    when_well = models.BooleanField(default=False)
    at_once_from = models.DateTimeField("at once, since it was chosen", null=True, blank=True)
    # Counts where the person is manager: silence there is what this message is against.
    passed_up = models.BooleanField("stops that nobody has", default=True, db_default=True)
    weekly_for = models.ForeignKey(
        Depot, on_delete=models.SET_NULL, related_name="+", null=True, blank=True
    )

    objects = MessageChoiceQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Messages of {self.user}"

    @property
    def is_proved(self) -> bool:
        """Whether the person's address as it is now was proved."""
        return bool(self.user.email) and self.proved_key == mail_key(self.user.email)


class MessageQuerySet(WorkQuerySet):
    def waiting(self, at: datetime) -> Self:
        return super().waiting(at).filter(due_at__lte=at)

    def refused(self) -> Self:
        """Refused at least once, and tried again later."""
        return self.open().filter(refused_since__isnull=False)

    def about_link(self, link: WayIn) -> Self:
        """The one message by which this link was sent, if it was, to the address as it is now."""
        return self.filter(kind=Message.Kind.WAY_IN, person=link.user, thing=link_thing(link))

    def given_up(self, since: datetime) -> Self:
        """Parked after that moment."""
        return self.filter(state=BackgroundWork.State.FAILED, ended_at__gte=since)


class Message(BackgroundWork):
    """One message to one person about one thing. Its words are written when it is sent, so that it
    never tells what is no longer so, and are not kept.

    ``attempts`` counts the workers that died over it, ``refusals`` how often it was not taken.
    """

    class Kind(models.TextChoices):
        PROOF = "proof", _("Proof of an address")
        WAY_IN = "way in", _("Link to choose a password")
        STOPPED = "stopped", _("Stopped, told at once")
        NOBODY = "nobody", _("Nobody has it, passed up")
        MORNING = "morning", _("Morning message")
        WEEKLY = "weekly", _("Weekly note")

    # In this order they are sent.
    TURNS = {
        Kind.PROOF: 0, Kind.WAY_IN: 0, Kind.STOPPED: 0, Kind.NOBODY: 0, Kind.MORNING: 1,
        Kind.WEEKLY: 2,
    }  # fmt: skip

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=8, choices=Kind)
    thing = models.CharField(max_length=80, help_text="The day, the record, or the address's key")
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    turn = models.PositiveSmallIntegerField()
    due_at = models.DateTimeField("not before")
    # None of a message that is done: there was nothing left to tell.
    sent_at = models.DateTimeField(null=True, blank=True)
    refused_since = models.DateTimeField(null=True, blank=True)
    refusals = models.PositiveSmallIntegerField(default=0)
    address_refused = models.BooleanField("this address is refused, not all mail", default=False)

    objects = MessageQuerySet.as_manager()

    class Meta:
        ordering = ("turn", "due_at", "pk")
        indexes = (
            models.Index(
                fields=("turn", "due_at"),
                condition=Q(state__in=("asked", "working")),
                name="messages_to_send",
            ),
        )
        constraints = (
            models.UniqueConstraint(
                fields=("kind", "thing", "person"), name="message_once_a_thing_and_person"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.thing}"

    @classmethod
    def promised(
        cls, *, kind: Kind, thing: str, person: User, depot: Depot, at: datetime, **more: Any
    ) -> "Message":
        """A new row, not saved."""
        return cls(
            kind=kind, thing=thing, person=person, depot=depot, asked_by=person, asked_at=at,
            due_at=at, turn=cls.TURNS[kind], **more,
        )  # fmt: skip
