"""Kinds of machine, the machines themselves, and the meters they carry."""

import secrets
from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext

from plant.lazy_text import gettext_lazy
from plant.models.people import Depot, User
from plant.rights import Right, depots_where

# No 0/O, 1/I/L: the code is read aloud over the telephone.
SHORT_CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def new_label_code() -> str:
    """128 random bits as 22 characters: nobody guesses a machine's label."""
    return secrets.token_urlsafe(16)[:22]


def new_short_code() -> str:
    return "".join(secrets.choice(SHORT_CODE_LETTERS) for _ in range(4))


class Supply(models.TextChoices):
    """What drives a machine; the keys are those of the rule sheets."""

    E230 = "e230", gettext_lazy("230 V single phase")
    E110 = "e110", gettext_lazy("110 V centre-tapped")
    E400 = "e400", gettext_lazy("400 V three phase")
    PETROL = "petrol", gettext_lazy("Petrol")
    DIESEL = "diesel", gettext_lazy("Diesel")
    GAS = "gas", gettext_lazy("LP gas")
    OIL = "oil", gettext_lazy("Oil fired")
    AIR = "air", gettext_lazy("Compressed air")
    HYDRAULIC = "hydraulic", gettext_lazy("Hydraulic")
    BATTERY = "battery", gettext_lazy("Battery")


class Place(models.TextChoices):
    """Where a machine is. The allowed moves are in maintenance/rules/place.py."""

    YARD = "yard", gettext_lazy("In yard")
    WORKSHOP = "workshop", gettext_lazy("In workshop")
    OUT = "out", gettext_lazy("Out")
    MOVING = "moving", gettext_lazy("Moving")
    LAID_UP = "laid up", gettext_lazy("Laid up")
    MISSING = "missing", gettext_lazy("Missing")
    GONE = "gone", gettext_lazy("Gone")


class Measure(models.TextChoices):
    """What a meter counts. The words are the plurals that stand beside a figure."""

    HOURS = "hours", gettext_lazy("Running hours")
    STARTS = "starts", gettext_lazy("Starts")
    STROKES = "strokes", gettext_lazy("Strokes")
    DROPS = "drops", gettext_lazy("Drops")
    LIFTS = "lifts", gettext_lazy("Lifts")
    CYCLES = "cycles", gettext_lazy("Cycles")


class MachineKind(models.Model):
    """What a machine is for; brings its checks and its service plan."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    family = models.SlugField(max_length=40, help_text="Chooses the questions of the check.")
    belt_driven = models.BooleanField(default=False)
    has_meter = models.BooleanField(default=False)
    usual_supplies = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class MachineQuerySet(models.QuerySet["Machine"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        """Machines of the depots where the person has the right; others do not exist."""
        return self.filter(depot_id__in=depots_where(user, right))

    def in_fleet(self) -> Self:
        """Without those that are sold, scrapped or settled as stolen."""
        return self.exclude(place=Place.GONE)

    def matching(self, words: str) -> Self:
        """Machines whose number, serial, nickname, maker, type, site or kind holds the words."""
        key = "".join(c for c in words.upper() if c.isascii() and c.isalnum())
        found = models.Q()
        for field in ("serial", "nickname", "maker", "type_name", "site", "kind__name"):
            found |= models.Q(**{f"{field}__icontains": words})
        if key:
            found |= models.Q(number_key__contains=key)
        return self.filter(found)


class Machine(models.Model):
    """One machine for its whole life; its number may be written in several ways."""

    class Protection(models.TextChoices):
        NONE = "", gettext_lazy("not electrical")
        CLASS_I = "I", gettext_lazy("Class I (earthed)")
        CLASS_II = "II", gettext_lazy("Class II (double insulated)")
        CLASS_III = "III", gettext_lazy("Class III (extra-low voltage)")

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="machines")
    kind = models.ForeignKey(MachineKind, on_delete=models.PROTECT, related_name="machines")
    number = models.CharField("machine number", max_length=32)
    number_key = models.CharField(max_length=32, unique=True, editable=False)
    nickname = models.CharField(max_length=80, blank=True)
    # The rating plate; what was typed is kept beside each figure.
    maker = models.CharField(max_length=80, blank=True)
    type_name = models.CharField("type", max_length=80, blank=True)
    serial = models.CharField(max_length=80, blank=True)
    year = models.PositiveSmallIntegerField("year made", null=True, blank=True)
    supply = models.CharField(max_length=9, choices=Supply)
    protection = models.CharField(max_length=3, choices=Protection, blank=True, default="")
    power_w = models.FloatField("power", null=True, blank=True)
    speed_rpm = models.FloatField("motor speed", null=True, blank=True)
    mass_kg = models.FloatField("mass", null=True, blank=True)
    plate_typed = models.JSONField(
        default=dict, blank=True, help_text="Figures as they were typed."
    )
    photo = models.FileField(upload_to="machines/", blank=True)
    note = models.CharField(max_length=2000, blank=True)

    place = models.CharField(max_length=8, choices=Place, default=Place.YARD)
    site = models.CharField("where it is out", max_length=120, blank=True)
    # A competent person's first look is wanted since this moment (new, back, found); only a passed
    # look-over or inspection, looked_at, answers it. A check that is wanted (a critical item could
    # not be checked, passed on to another site) is answered by anything passed.
    look_wanted_at = models.DateTimeField(null=True, blank=True)
    looked_at = models.DateTimeField(null=True, blank=True)
    check_wanted_at = models.DateTimeField(null=True, blank=True)
    passed_at = models.DateTimeField(null=True, blank=True)
    # Continuous running hours in tenths; a meter is a dial on this total.
    hours_tenths = models.PositiveIntegerField(null=True, blank=True)
    hours_at = models.DateTimeField(null=True, blank=True)
    # Since then its dial tells nothing: no figure is asked for, use is estimated.
    meter_broken_at = models.DateTimeField(null=True, blank=True)

    label_code = models.CharField(max_length=22, unique=True, default=new_label_code)
    short_code = models.CharField(max_length=4, unique=True, default=new_short_code)
    added_at = models.DateTimeField()

    objects = MachineQuerySet.as_manager()

    if TYPE_CHECKING:
        get_supply_display: models.Field[str, str]

    class Meta:
        ordering = ("number_key",)
        indexes = (
            models.Index(fields=("depot", "number_key"), name="machine_by_depot_and_number"),
            models.Index(fields=("depot", "place"), name="machine_by_depot_and_place"),
        )
        constraints = (
            models.CheckConstraint(condition=~models.Q(number_key=""), name="machine_has_a_number"),
        )

    def __str__(self) -> str:
        return self.number

    @property
    def in_use(self) -> bool:
        """Whether somebody may be using it now: out with a hirer or on a site of ours."""
        return self.place == Place.OUT

    @property
    def has_meter(self) -> bool:
        """Whether a figure of the hours is asked for: its kind has a meter, or one was told before,
        and it is not broken."""
        has_one = self.kind.has_meter or self.hours_tenths is not None
        return has_one and self.meter_broken_at is None

    def hours_as_of(self, at: datetime) -> str:
        """The running hours with their unit, or words when there are none."""
        return (
            gettext("no meter figure")
            if self.hours_tenths is None
            else f"{self.hours_tenths / 10:.1f} h"
        )


class Counter(models.Model):
    """What a machine has counted beside its hours: the total of its starts, strokes and the like.

    Figures are tenths, as those of the hours are, so that one rule serves both.
    """

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="counters")
    measure = models.CharField(max_length=8, choices=Measure)
    total_tenths = models.PositiveIntegerField(null=True, blank=True)
    total_at = models.DateTimeField(null=True, blank=True)
    broken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("measure",)
        constraints = (
            models.UniqueConstraint(fields=("machine", "measure"), name="counter_once_a_machine"),
            models.CheckConstraint(
                condition=~models.Q(measure=Measure.HOURS), name="hours_stand_on_the_machine"
            ),
        )

    def __str__(self) -> str:
        return f"{self.measure} of {self.machine}"


class Meter(models.Model):
    """A dial on what the machine has run or counted in all: total = dial + offset.

    A dial that is fitted, reset or goes round to nought begins a row of its own.
    """

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="meters")
    fitted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    measure = models.CharField(max_length=8, choices=Measure, default=Measure.HOURS)
    offset_tenths = models.IntegerField(default=0)
    # Run without a dial before this one was fitted, as somebody estimated it; in the offset too.
    # None: it followed no other, or the one before it went round to nought.
    blind_tenths = models.PositiveIntegerField(null=True, blank=True)
    # Told to be broken, and what was run since then, as somebody estimated it later.
    broken_at = models.DateTimeField(null=True, blank=True)
    since_broken_tenths = models.PositiveIntegerField(null=True, blank=True)
    since_broken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("fitted_at",)
        constraints = (
            models.UniqueConstraint(
                fields=("machine", "measure"),
                condition=models.Q(removed_at__isnull=True),
                name="one_meter_at_a_time",
            ),
        )

    def __str__(self) -> str:
        return f"Meter of {self.machine}"
