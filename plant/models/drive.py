"""The belt and gear stages between a machine's motor and its working part."""

from typing import Self

from django.db import models

from plant.lazy_text import gettext_lazy as _
from plant.models.machine import Machine
from plant.models.people import User
from plant.rights import Right, depots_where


class DriveQuerySet(models.QuerySet["Drive"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))


class Drive(models.Model):
    """One stage. Lengths are datum values in metres; how each was come by is in ``entries``.

    ``entries`` maps a field's name to {"typed": what was typed, "mark": "measured" | "plate" |
    "guess", "tool": its name or "", "told": the moment of that entry}. "place" holds the moment at
    which centre distance and slot were told together; later readings of the slot move them.
    """

    class Kind(models.TextChoices):
        BELT = "belt", _("Belt")
        GEAR = "gear", _("Gears")

    class Mark(models.TextChoices):
        MEASURED = "measured", _("measured")
        PLATE = "plate", _("from plate")
        GUESS = "guess", _("guess")

    class Load(models.TextChoices):
        """Classes of driven machine of the service-factor table."""

        LIGHT = "light", _("Even: fan, centrifugal pump, small generator")
        MEDIUM = "medium", _("Some shock: saw, screen, lightly loaded mixer")
        HEAVY = "heavy", _("Shock: concrete mixer, compactor, piston compressor")
        EXTRA_HEAVY = "extra heavy", _("Heavy shock: crusher, hoist, breaker")

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="drives")
    stage = models.PositiveSmallIntegerField(default=1, help_text="1 is next to the motor.")
    name = models.CharField(max_length=60, default="Belt drive")
    kind = models.CharField(max_length=4, choices=Kind, default=Kind.BELT)
    entries = models.JSONField(default=dict, blank=True)

    motor_power_w = models.FloatField(null=True, blank=True)
    motor_speed_rpm = models.FloatField(null=True, blank=True)
    load = models.CharField(max_length=12, choices=Load, default=Load.MEDIUM)
    hard_start = models.BooleanField("high starting torque", default=False)
    hours_a_day = models.FloatField(default=8)

    driver_m = models.FloatField("motor pulley, datum diameter", null=True, blank=True)
    driven_m = models.FloatField("driven pulley, datum diameter", null=True, blank=True)
    driver_angle_rad = models.FloatField("groove angle, motor pulley", null=True, blank=True)
    driven_angle_rad = models.FloatField("groove angle, driven pulley", null=True, blank=True)
    # Depth of the groove below the datum line.
    driver_depth_m = models.FloatField("groove depth, motor pulley", null=True, blank=True)
    driven_depth_m = models.FloatField("groove depth, driven pulley", null=True, blank=True)
    centres_m = models.FloatField("centre distance now", null=True, blank=True)
    slot_in_m = models.FloatField("slot: room back inwards from here", null=True, blank=True)
    slot_out_m = models.FloatField("slot: room left outwards from here", null=True, blank=True)

    belt_mark = models.CharField("mark on the belt", max_length=200, blank=True)
    section = models.CharField("belt section", max_length=8, blank=True)
    length_system = models.CharField(max_length=8, blank=True)
    belt_datum_m = models.FloatField("datum length of the belt", null=True, blank=True)
    belts = models.PositiveSmallIntegerField("number of belts", default=1)
    # Its own width, measured when it was fitted; without it the nominal of its system is used.
    belt_new_width_m = models.FloatField("top width when new", null=True, blank=True)
    belt_new_width_u_m = models.FloatField(null=True, blank=True)
    belt_fitted_on = models.DateField(null=True, blank=True)
    belt_fitted_tenths = models.PositiveIntegerField(null=True, blank=True)

    teeth_in = models.PositiveSmallIntegerField(null=True, blank=True)
    teeth_out = models.PositiveSmallIntegerField(null=True, blank=True)
    changed_at = models.DateTimeField(auto_now=True)

    objects = DriveQuerySet.as_manager()

    class Meta:
        ordering = ("machine", "stage")
        constraints = (
            models.UniqueConstraint(fields=("machine", "stage"), name="stage_once_a_machine"),
        )

    def __str__(self) -> str:
        return f"{self.machine}: {self.name}"

    def mark_of(self, field: str) -> str:
        """How that figure was come by; a figure nobody entered is a guess."""
        return str(self.entries.get(field, {}).get("mark", Drive.Mark.GUESS))

    def tool_of(self, field: str) -> str:
        """The tool with which that figure was measured, as it was named; else nothing."""
        measured = self.mark_of(field) == Drive.Mark.MEASURED
        return str(self.entries.get(field, {}).get("tool", "")) if measured else ""

    def typed(self, field: str) -> str:
        """What was typed for that figure."""
        return str(self.entries.get(field, {}).get("typed", ""))
