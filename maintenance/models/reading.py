"""Readings: meters, belt widths and tensions, electrical tests. Each stands on a sealed record.

The float columns are derived from the record for sums and lists; the record is the proof.
"""

from typing import Self

from django.db import models
from django.db.models import Exists, OuterRef, Q

from maintenance.models.instrument import Calibration, Instrument
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

    def counting(self) -> Self:
        """Passed, and with an instrument that nothing speaks against."""
        return self.filter(passed=True, doubted_by__isnull=True)

    def newest_of_each(self) -> Self:
        """Of each machine the last test by each form."""
        later = ElectricalTest.objects.filter(
            machine=OuterRef("machine"), form=OuterRef("form")
        ).filter(Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk")))
        return self.filter(~Exists(later))


class ElectricalTest(models.Model):
    """An electrical test with an instrument; the result is worked out from the readings.

    ``form`` is the form of the rule sheet that it was done by; ``doubted_by`` is worked out from
    the calibrations of its instrument, and no part of what is sealed.
    """

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="electrical_tests")
    at = models.DateTimeField()
    form = models.CharField(max_length=30, default="rcd_portable")
    item = models.CharField(max_length=20, default="rcd")
    title = models.CharField(max_length=80, default="RCD trip times")
    profile = models.CharField("device standard", max_length=20, blank=True)
    # Of a part with a plate of its own, such as an RCD; the machine's serial is on the machine.
    item_serial = models.CharField("serial of what was tested", max_length=60, blank=True)
    # As it was typed, before there was a register; made_with since then.
    instrument = models.CharField(max_length=120, blank=True)
    made_with = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, related_name="tests", null=True, blank=True
    )
    passed = models.BooleanField()
    doubted_by = models.ForeignKey(
        Calibration, on_delete=models.PROTECT, related_name="doubts", null=True, blank=True
    )
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="test_row")

    objects = ElectricalTestQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        indexes = (
            models.Index(fields=("machine", "form", "-at"), name="test_by_machine_and_form"),
        )

    def __str__(self) -> str:
        return f"{self.machine}: {self.result}"

    @property
    def result(self) -> str:
        if not self.passed:
            return "failed"
        return "passed, in doubt" if self.doubted_by_id else "passed"

    @property
    def what(self) -> str:
        """What was tested, with the serial number of a part that has its own."""
        return f"{self.title}, serial {self.item_serial}" if self.item_serial else self.title
