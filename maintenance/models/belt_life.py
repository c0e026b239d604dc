"""When each fitted belt runs out, and the looks that a new one asks for, as they were worked out.

Rows here follow from readings, figures and fittings; actions/belt_life.py works them out afresh.
"""

from typing import Self

from django.db import models

from maintenance.models.reading import TensionReading
from maintenance.rules import belt_life as rule
from plant.lazy_text import gettext_lazy as _
from plant.models import Drive, Place, User
from plant.rights import Right, depots_where


class BeltLifeQuerySet(models.QuerySet["BeltLife"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(drive__machine__depot_id__in=depots_where(user, right))

    def in_fleet(self) -> Self:
        """Of machines that are not gone."""
        return self.exclude(drive__machine__place=Place.GONE)


class BeltLife(models.Model):
    """When the belt of one drive comes to its end, and the day to order the next by.

    Hours are running hours of the machine. ``belt_key`` says which fitted belt it is about.
    """

    class State(models.TextChoices):
        NOW = rule.State.NOW, _("Change now")
        DATED = rule.State.DATED, _("Runs out")
        AGAIN = rule.State.AGAIN, _("Measure again")
        FLAT = rule.State.FLAT, _("No wear shown")
        UNKNOWN = rule.State.UNKNOWN, _("Not known")

    class EndsBy(models.TextChoices):
        TAKE_UP = "take-up", _("Take-up ends")
        BOTTOMING = "bottoming", _("Stands on the floor")
        EITHER = "either", _("Take-up or floor, about the same")

    drive = models.OneToOneField(
        Drive, on_delete=models.CASCADE, primary_key=True, related_name="belt_life"
    )
    belt_key = models.CharField(max_length=40, blank=True)
    state = models.CharField(max_length=7, choices=State)
    ends_by = models.CharField(max_length=9, choices=EndsBy, blank=True)
    readings = models.PositiveSmallIntegerField(default=0)
    hours_now = models.FloatField(null=True, blank=True)
    hours_early = models.FloatField(null=True, blank=True)
    hours_likely = models.FloatField(null=True, blank=True)
    hours_late = models.FloatField(null=True, blank=True)
    early_on = models.DateField(null=True, blank=True)
    likely_on = models.DateField(null=True, blank=True)
    # No latest where the line may never get there, or use may have stopped.
    late_on = models.DateField(null=True, blank=True)
    order_by_on = models.DateField(null=True, blank=True)
    lead_days = models.PositiveSmallIntegerField()
    is_estimate = models.BooleanField(default=False)
    why = models.CharField(max_length=1000)
    worked_out_at = models.DateTimeField()

    objects = BeltLifeQuerySet.as_manager()

    class Meta:
        ordering = ("likely_on", "drive")
        indexes = (
            models.Index(fields=("order_by_on",), name="belt_by_order_day"),
            models.Index(fields=("worked_out_at",), name="belt_life_by_age"),
        )

    def __str__(self) -> str:
        return f"{self.drive}: {self.get_state_display()}"


class BeltLook(models.Model):
    """A look that a new belt asks for after its first hours; closed by a tension reading.

    Hours are of running since the belt was fitted.
    """

    class Said(models.TextChoices):
        IN_TIME = "in time", _("in time")
        LATE = "late", _("late")

    drive = models.ForeignKey(Drive, on_delete=models.CASCADE, related_name="belt_looks")
    belt_key = models.CharField(max_length=40)
    number = models.PositiveSmallIntegerField()
    hours = models.FloatField("running hours since it was fitted", default=0)
    is_estimate = models.BooleanField(default=False)
    likely_on = models.DateField("day its window likely ends", null=True, blank=True)
    reading = models.ForeignKey(
        TensionReading, on_delete=models.CASCADE, related_name="closes", null=True, blank=True
    )
    said = models.CharField(max_length=7, choices=Said, blank=True)
    worked_out_at = models.DateTimeField()

    class Meta:
        ordering = ("drive", "number")
        constraints = (
            models.UniqueConstraint(
                fields=("drive", "belt_key", "number"), name="look_once_a_belt"
            ),
        )

    def __str__(self) -> str:
        return f"{self.drive}: look {self.number}"
