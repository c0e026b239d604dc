"""Shared phones of a depot, and the six figures by which people sign in on them."""

from datetime import datetime, timedelta
from hashlib import sha256
from typing import Self

from django.db import models
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from plant.models.people import Depot, User
from plant.rights import Right, depots_where

LINK_TIME = timedelta(hours=1)
FIRST_CODE_TIME = timedelta(hours=24)
# Far below the 100 in a row that NIST SP 800-63B allows (from memory).
MOST_WRONG = 50


def hashed(secret: str) -> str:
    """What is kept of a phone's secret: it has 128 random bits, so a plain hash is enough."""
    return sha256(secret.encode()).hexdigest()


def link_hashed(code: str) -> str:
    """What is kept of the code that enrols: it is shorter, so the site's own key goes in."""
    return salted_hmac("enrol a phone", code, algorithm="sha256").hexdigest()


class PhoneQuerySet(models.QuerySet["Phone"]):
    def visible_to(self, user: User, right: Right = Right.PEOPLE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))

    def enrolled(self) -> Self:
        return self.filter(enrolled_at__isnull=False, withdrawn_at__isnull=True)

    def not_withdrawn(self) -> Self:
        return self.filter(withdrawn_at__isnull=True)

    def by_secret(self, secret: str) -> "Phone | None":
        """The enrolled phone that holds this secret."""
        if not secret:
            return None
        return self.enrolled().select_related("depot").filter(key_hash=hashed(secret)).first()


class Phone(models.Model):
    """A phone or tablet that several people of one depot use; named after its box or van."""

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="phones")
    name = models.CharField(max_length=40)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    link_hash = models.CharField(max_length=64, blank=True)
    link_until = models.DateTimeField()
    key_hash = models.CharField(max_length=64, unique=True, null=True, blank=True)
    enrolled_at = models.DateTimeField(null=True, blank=True)
    last_seen_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = PhoneQuerySet.as_manager()

    class Meta:
        ordering = ("depot__name", "name", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("depot", "name"),
                condition=models.Q(withdrawn_at__isnull=True),
                name="phone_name_once_a_depot",
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def words(self) -> str:
        """How a record names it: the number never changes, and it names no person."""
        return _("shared phone {pk}").format(pk=self.pk)

    def is_waiting(self, at: datetime) -> bool:
        """Whether its link can still be opened."""
        return self.enrolled_at is None and self.withdrawn_at is None and at < self.link_until


class PhoneCode(models.Model):
    """The six figures of one person, by the password hasher. A first code is changed at once.

    wrong: tries in a row that were wrong; past the most, it works no more until a new one is set.
    """

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="phone_code")
    code = models.CharField(max_length=128)
    set_at = models.DateTimeField()
    first_until = models.DateTimeField(null=True, blank=True)
    wrong = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"Code of {self.user}"

    def works(self, at: datetime) -> bool:
        return self.wrong <= MOST_WRONG and (self.first_until is None or at < self.first_until)

    @property
    def stamp(self) -> str:
        """What a session remembers of it: another code ends the session."""
        return self.set_at.isoformat()
