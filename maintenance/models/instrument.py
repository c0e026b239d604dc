"""Test instruments and their calibrations. Each fact stands on a sealed record."""

from datetime import date
from typing import Self

from django.db import models
from django.db.models import F, Q

from maintenance.rules import instrument as rule
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Record, User
from plant.rights import Right, depots_where


class InstrumentQuerySet(models.QuerySet["Instrument"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))

    def in_use(self) -> Self:
        return self.filter(withdrawn_by__isnull=True)


class Instrument(models.Model):
    """An instrument of a depot, with which electrical readings are taken."""

    class Reads(models.TextChoices):
        """What it reads, by the unit that it shows."""

        TRIP = "ms", _("RCD trip times")
        EARTH = "ohm", _("Earth path")
        INSULATION = "Mohm", _("Insulation resistance")
        CURRENT = "mA", _("Protective conductor current")
        VOLTAGE = "V", _("Voltage")
        FREQUENCY = "Hz", _("Frequency")

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="instruments")
    name = models.CharField(max_length=40)
    description = models.CharField(max_length=120, blank=True)
    serial = models.CharField(max_length=60)
    reads = models.JSONField(default=list)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="instrument_row")
    withdrawn_by = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="withdrawn_instrument", null=True, blank=True
    )

    objects = InstrumentQuerySet.as_manager()

    class Meta:
        ordering = ("name", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("depot", "serial"),
                condition=Q(withdrawn_by__isnull=True),
                name="instrument_in_use_once_a_depot",
            ),
        )

    def __str__(self) -> str:
        return f"{self.name}, serial {self.serial}"

    @property
    def reads_words(self) -> str:
        words = {unit: str(word) for unit, word in self.Reads.choices}
        return ", ".join(words.get(unit, unit) for unit in self.reads)

    def known(self) -> list[rule.Calibration]:
        """Its calibrations as the rule takes them; read ahead where they are prefetched."""
        return [each.as_rule for each in self.calibrations.all()]

    def refusal(self, on: date) -> str:
        """Why its readings cannot make a pass on that day; empty when they can."""
        return rule.refusal(self.known(), on=on)

    def valid_until(self, on: date) -> date | None:
        """The last day of the calibration in force on that day."""
        last = rule.in_force(self.known(), on=on)
        return last.valid_until if last else None


class Calibration(models.Model):
    """One calibration: how the instrument was found, and until when it holds then."""

    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, related_name="calibrations"
    )
    done_on = models.DateField()
    found_good = models.BooleanField()
    valid_until = models.DateField(null=True, blank=True)
    certificate = models.CharField(max_length=60, blank=True)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="calibration_row")
    # The correction by which it was struck out, where it was entered by mistake.
    struck_by = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="struck_calibration", null=True, blank=True
    )

    class Meta:
        ordering = ("-done_on", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(valid_until__isnull=True) | Q(valid_until__gte=F("done_on")),
                name="calibration_holds_from_its_day",
            ),
        )

    def __str__(self) -> str:
        return f"{self.instrument}, {self.done_on}"

    @property
    def as_rule(self) -> rule.Calibration:
        return rule.Calibration(
            id=self.pk,
            done_on=self.done_on,
            found_good=self.found_good,
            valid_until=self.valid_until,
            struck=self.struck_by_id is not None,
        )
