"""Calendars of due work and jobs that a person's own calendar program fetches by a private link."""

import uuid

from django.db import models

from plant.lazy_text import gettext_lazy as _
from plant.models import Depot
from plant.models.people import User


class Feed(models.Model):
    """One link for one person and depot; withdrawn, it never opens again."""

    class What(models.TextChoices):
        ALL = "all", _("Due work and all jobs given out")
        MINE = "mine", _("Only jobs given out to me")

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feeds")
    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="feeds")
    what = models.CharField(max_length=4, choices=What, default=What.ALL)
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-made_at", "-pk")

    def __str__(self) -> str:
        return f"Calendar of {self.depot}: {self.get_what_display()}"


class FeedEvent(models.Model):
    """What one event of a calendar said when it was last fetched, and how often it has changed."""

    feed = models.ForeignKey(Feed, on_delete=models.CASCADE, related_name="events")
    uid = models.CharField(max_length=255)
    digest = models.CharField(max_length=32)
    revision = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("feed", "uid"), name="event_once_a_calendar"),
        )

    def __str__(self) -> str:
        return f"{self.uid}: {self.revision}"
