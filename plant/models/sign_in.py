"""How people get in beside their password: links, one-time codes, and where they are signed in."""

import uuid
from datetime import datetime, timedelta
from typing import Self

from django.db import models

from plant.links import code_of
from plant.models.people import User
from plant.models.phone import Phone

LINK_TIME = timedelta(hours=24)
# What a link's code is signed for; see plant.links.
LINK = "way in"


class WayInQuerySet(models.QuerySet["WayIn"]):
    def standing(self, at: datetime) -> Self:
        """Not used, not too old, not taken back, and of somebody who has not left."""
        return self.filter(used_at=None, until__gt=at, user__is_active=True)


class WayIn(models.Model):
    """A link by which one person sets a password of their own, once, within a day.

    The row holds its number alone; the link is made of that and the site's key.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="ways_in")
    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    until = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects = WayInQuerySet.as_manager()

    class Meta:
        ordering = ("-made_at",)

    def __str__(self) -> str:
        return f"A way in for {self.user}"

    @property
    def code(self) -> str:
        return code_of(LINK, self.uid)


class OneTime(models.Model):
    """The secret from which a person's one-time codes follow (RFC 6238), sealed by the site's key.

    last_step: the newest time step whose code was taken; it and those before it count no more.
    """

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="one_time")
    secret = models.CharField(max_length=255)
    begun_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    last_step = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"One-time codes of {self.user}"


class SpareCode(models.Model):
    """A code that stands in once for a one-time code, kept as its hash."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="spare_codes")
    code_hash = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("user", "code_hash"), name="spare_code_once"),
        )

    def __str__(self) -> str:
        return f"A spare code of {self.user}"


class SignedIn(models.Model):
    """One session of one person, so that they can see where they are signed in and end it.

    device: "phone", "tablet" or "computer", all that is kept of what the browser says of itself.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="signed_in")
    session_key = models.CharField(max_length=40, unique=True)
    begun_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    device = models.CharField(max_length=12)
    phone = models.ForeignKey(
        Phone, on_delete=models.SET_NULL, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering = ("-seen_at",)

    def __str__(self) -> str:
        return f"{self.user} on a {self.device}"
