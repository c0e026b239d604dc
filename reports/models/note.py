"""The weekly note of one depot to one person, and its link that needs no password."""

import uuid
from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q

from plant.models import Depot
from plant.models.people import User

OPEN_FOR = timedelta(days=7)


class WeeklyNote(models.Model):
    """What one week's note told: at most five lines, kept as the keys of stops and due lines."""

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="weekly_notes")
    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="weekly_notes")
    week_of = models.DateField("the Monday")
    made_at = models.DateTimeField()
    lines = models.JSONField(default=list)
    # How many more there were; the note says so.
    left_out = models.PositiveIntegerField(default=0)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-week_of", "-pk")
        constraints = (
            models.UniqueConstraint(fields=("person", "depot", "week_of"), name="note_once_a_week"),
            models.UniqueConstraint(
                fields=("person",),
                condition=Q(withdrawn_at__isnull=True),
                name="one_open_note_a_person",
            ),
        )

    def __str__(self) -> str:
        return f"Note of {self.depot}, week of {self.week_of}"

    @property
    def ends_at(self) -> datetime:
        return self.made_at + OPEN_FOR

    def is_open(self, at: datetime) -> bool:
        """Whether its link opens, as far as the note itself goes."""
        return self.withdrawn_at is None and at < self.ends_at
