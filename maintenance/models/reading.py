"""Readings: meters, belts and their pulleys, electrical tests. Each stands on a sealed record.

The float columns are derived from the record for sums and lists; the record is the proof.
"""

from typing import Self, TypeVar

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext as _

from maintenance.models.instrument import Calibration, Instrument
from maintenance.rules.words import figure_text
from plant.lazy_text import gettext_lazy
from plant.length_words import as_kept, length_text, number_text
from plant.models import Drive, Machine, Meter, Record, User
from plant.rights import Right, depots_where


class MeterReadingQuerySet(models.QuerySet["MeterReading"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(meter__machine__depot_id__in=depots_where(user, right))

    def counting(self) -> Self:
        """Without the questioned ones, which move nothing."""
        return self.filter(questioned="")


class MeterReading(models.Model):
    """A figure read off a dial, and the total that it stands for."""

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
        return figure_text(self.dial_tenths, self.meter.measure)


R = TypeVar("R", bound="BeltReading", covariant=True)


class BeltReadingQuerySet(models.QuerySet[R]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(drive__machine__depot_id__in=depots_where(user, right))

    def counting(self) -> Self:
        """Without those that were corrected or taken out."""
        return self.filter(stands=True)

    def newest_first(self) -> Self:
        """By the moment of measuring; two of one moment by their records, not by arrival."""
        return self.order_by("-at", "-record_id")


class BeltReading(models.Model):
    """What every reading of a drive has: whose, when, and whether it still stands.

    ``stands`` is False once a correction took its place or took it out. Rows are never edited
    otherwise: the corrected figure is a row of its own, on the record of the correction.
    """

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="%(class)ss")
    at = models.DateTimeField()
    tool = models.CharField(max_length=40, blank=True)
    stands = models.BooleanField(default=True)
    verdict = models.CharField(max_length=20, blank=True)
    sums_version = models.CharField(max_length=20)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="%(class)s")

    objects = BeltReadingQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ("-at",)

    def __str__(self) -> str:
        """As it is kept in words, whoever reads: in millimetres."""
        with as_kept():
            return self.said

    @property
    def said(self) -> str:
        """The figure in the unit of whoever reads."""
        raise NotImplementedError


class WidthReading(BeltReading):
    """The top width of the fitted belt, measured with a named tool, and the verdict then given."""

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="width_readings")
    width_m = models.FloatField()
    u_m = models.FloatField("standard uncertainty")
    hours_tenths = models.PositiveIntegerField(null=True, blank=True)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="width_row")

    class Meta(BeltReading.Meta):
        constraints = (
            models.CheckConstraint(condition=Q(width_m__gt=0), name="belt_width_positive"),
        )

    @property
    def said(self) -> str:
        return length_text(self.width_m)

    @property
    def expanded_m(self) -> float:
        """[m] twice the standard uncertainty, about 19 in 20."""
        return 2 * self.u_m


class TensionReading(BeltReading):
    """The static tension of the belt, from a deflection force or a span frequency."""

    class Method(models.TextChoices):
        FORCE = "force", gettext_lazy("Deflection and force at mid-span")
        FREQUENCY = "frequency", gettext_lazy("Frequency of the plucked span")

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="tension_readings")
    method = models.CharField(max_length=9, choices=Method)
    tension_n = models.FloatField()
    u_n = models.FloatField("standard uncertainty")
    required_n = models.FloatField(null=True, blank=True)
    stage = models.CharField(max_length=6, default="run-in")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="tension_row")

    class Meta(BeltReading.Meta):
        constraints = (
            models.CheckConstraint(condition=Q(tension_n__gte=0), name="tension_not_negative"),
        )

    @property
    def said(self) -> str:
        return f"{self.tension_n:.0f} N"

    @property
    def expanded_n(self) -> float:
        """[N] twice the standard uncertainty, about 19 in 20."""
        return 2 * self.u_n


class RideReading(BeltReading):
    """How far the top of the belt stands above the rim, below it negative; of one pulley or both.

    ``stage`` says whether the belt was still new, so that a later ride can be held against it.
    """

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="ride_readings")
    driver_m = models.FloatField(null=True, blank=True)
    driven_m = models.FloatField(null=True, blank=True)
    u_m = models.FloatField("standard uncertainty")
    stage = models.CharField(max_length=6, default="run-in")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="ride_row")

    class Meta(BeltReading.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(driver_m__isnull=False) | Q(driven_m__isnull=False),
                name="ride_of_a_pulley",
            ),
        )

    @property
    def said(self) -> str:
        told = (("motor pulley", self.driver_m), ("driven pulley", self.driven_m))
        return ", ".join(
            f"{name} {length_text(abs(ride))} {'below' if ride < 0 else 'above'}"
            for name, ride in told
            if ride is not None
        )


class SlotReading(BeltReading):
    """Where the motor stands in its slot: the room left outwards, read on the slot itself.

    ``tight``: whether the belt was tight there, None where that was not said; ``stage``: whether
    it was still new. Taken alone, or with a width or a tension, on whose record it then stands.
    """

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="slot_readings")
    out_m = models.FloatField("room left outwards")
    u_m = models.FloatField("standard uncertainty")
    tight = models.BooleanField(null=True, blank=True)
    stage = models.CharField(max_length=6, default="run-in")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="slot_row")

    class Meta(BeltReading.Meta):
        constraints = (
            models.CheckConstraint(condition=Q(out_m__gte=0), name="slot_room_not_negative"),
        )

    @property
    def said(self) -> str:
        return _("{out} left").format(out=length_text(self.out_m))


class AlignmentReading(BeltReading):
    """A straight edge laid on the face of one pulley: its gaps to the other, at two far points.

    near, far: the gaps at the two edges of that face; across: how far apart these points are.
    """

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="alignment_readings")
    near_m = models.FloatField()
    far_m = models.FloatField()
    across_m = models.FloatField()
    u_m = models.FloatField("standard uncertainty")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="alignment_row")

    class Meta(BeltReading.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(near_m__gte=0, far_m__gte=0, across_m__gt=0),
                name="alignment_gaps_not_negative",
            ),
        )

    @property
    def said(self) -> str:
        gaps = _("{near} and {far}").format(
            near=number_text(self.near_m), far=length_text(self.far_m)
        )
        return _("{gaps} over {across}").format(gaps=gaps, across=length_text(self.across_m, 0))


class PulleyReading(BeltReading):
    """The groove of one pulley, looked at and gauged. None: not looked at, or not gauged."""

    class Pulley(models.TextChoices):
        DRIVER = "driver", gettext_lazy("Motor pulley")
        DRIVEN = "driven", gettext_lazy("Driven pulley")

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="pulley_readings")
    pulley = models.CharField(max_length=6, choices=Pulley)
    dish_m = models.FloatField("gap under the groove gauge", null=True, blank=True)
    u_m = models.FloatField("standard uncertainty", null=True, blank=True)
    shines = models.BooleanField("the floor shines", null=True, blank=True)
    step = models.BooleanField("a step in the flank", null=True, blank=True)
    corroded = models.BooleanField("rust or pitting on the flanks", null=True, blank=True)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="pulley_row")

    class Meta(BeltReading.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(dish_m__isnull=True) | Q(dish_m__gte=0), name="dish_not_negative"
            ),
        )

    @property
    def said(self) -> str:
        return self.get_pulley_display()


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
            models.Index(
                fields=("item_serial", "machine"),
                condition=Q(item_serial__gt=""),
                name="test_by_own_serial",
            ),
        )

    def __str__(self) -> str:
        return f"{self.machine}: {self.result}"

    @property
    def result(self) -> str:
        if not self.passed:
            return "failed"
        return _("passed, in doubt") if self.doubted_by_id else _("passed")

    @property
    def what(self) -> str:
        """What was tested, with the serial number of a part that has its own."""
        return (
            _("{title}, serial {item_serial}").format(
                title=self.title, item_serial=self.item_serial
            )
            if self.item_serial
            else self.title
        )
