"""Readings: meters, belt widths and tensions, electrical tests. Each stands on a sealed record.

The float columns are derived from the record for sums and lists; the record is the proof.
"""

from typing import Self

from django.db import models
from django.db.models import Q

from plant.models import Drive, Machine, Meter, Record, User
from plant.rights import Right, depots_where


class MeterReadingQuerySet(models.QuerySet["MeterReading"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(meter__machine__depot_id__in=depots_where(user, right))

    def counting(self) -> Self:
        """Without the questioned ones, which move nothing."""
        return self.filter(questioned="")


class MeterReading(models.Model):
    """A figure read off a dial, and the running hours that it stands for."""

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="readings")
    at = models.DateTimeField()
    dial_tenths = models.PositiveIntegerField()
    total_tenths = models.PositiveIntegerField()
    questioned = models.CharField(max_length=200, blank=True, help_text="Why it moves nothing yet")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="meter_row")

    objects = MeterReadingQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        indexes = (models.Index(fields=("meter", "-at"), name="reading_by_meter"),)

    def __str__(self) -> str:
        return f"{self.dial_tenths / 10:.1f} h"


class DriveReadingQuerySet(models.QuerySet["WidthReading"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(drive__machine__depot_id__in=depots_where(user, right))


class WidthReading(models.Model):
    """The top width of the fitted belt, measured with a named tool, and the verdict then given."""

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="width_readings")
    at = models.DateTimeField()
    width_m = models.FloatField()
    u_m = models.FloatField("standard uncertainty")
    tool = models.CharField(max_length=40)
    hours_tenths = models.PositiveIntegerField(null=True, blank=True)
    verdict = models.CharField(max_length=20)
    sums_version = models.CharField(max_length=20)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="width_row")

    objects = DriveReadingQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        constraints = (
            models.CheckConstraint(condition=Q(width_m__gt=0), name="belt_width_positive"),
        )

    def __str__(self) -> str:
        return f"{self.width_m * 1000:.1f} mm"

    @property
    def expanded_m(self) -> float:
        """[m] twice the standard uncertainty, about 19 in 20."""
        return 2 * self.u_m


class TensionReading(models.Model):
    """The static tension of the belt, from a deflection force or a span frequency."""

    class Method(models.TextChoices):
        FORCE = "force", "Deflection and force at mid-span"
        FREQUENCY = "frequency", "Frequency of the plucked span"

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="tension_readings")
    at = models.DateTimeField()
    method = models.CharField(max_length=9, choices=Method)
    tension_n = models.FloatField()
    u_n = models.FloatField("standard uncertainty")
    required_n = models.FloatField(null=True, blank=True)
    stage = models.CharField(max_length=6, default="run-in")
    verdict = models.CharField(max_length=20)
    sums_version = models.CharField(max_length=20)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="tension_row")

    objects = DriveReadingQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        constraints = (
            models.CheckConstraint(condition=Q(tension_n__gte=0), name="tension_not_negative"),
        )

    def __str__(self) -> str:
        return f"{self.tension_n:.0f} N"

    @property
    def expanded_n(self) -> float:
        """[N] twice the standard uncertainty, about 19 in 20."""
        return 2 * self.u_n


class ElectricalTestQuerySet(models.QuerySet["ElectricalTest"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))


class ElectricalTest(models.Model):
    """An RCD trip test with an instrument; the result is worked out from the readings."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="electrical_tests")
    at = models.DateTimeField()
    profile = models.CharField("device standard", max_length=20)
    instrument = models.CharField(max_length=80)
    passed = models.BooleanField()
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="test_row")

    objects = ElectricalTestQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)

    def __str__(self) -> str:
        return f"{self.machine}: {'passed' if self.passed else 'failed'}"
