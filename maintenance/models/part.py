"""Parts of a depot, where they lie, and every movement; the stock is the sum of the movements."""

from datetime import date
from typing import Self

from django.db import models
from django.db.models import Q

from maintenance.models.cost import CURRENCY
from maintenance.models.job import Job, PartUsed
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Record, User
from plant.rights import Right, depots_where


class PartQuerySet(models.QuerySet["Part"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))

    def kept(self) -> Self:
        """Without those that were withdrawn."""
        return self.filter(withdrawn_at__isnull=True)

    def matching(self, words: str) -> Self:
        """Parts of which the name or any of the numbers holds the words."""
        key = "".join(c for c in words.upper() if c.isascii() and c.isalnum())
        found = Q(name__icontains=words) | Q(bought_from__icontains=words)
        if key:
            numbers = PartNumber.objects.filter(key__contains=key)
            found |= Q(name_key__contains=key) | Q(pk__in=numbers.values("part"))
        return self.filter(found)


class Part(models.Model):
    """Something kept to be fitted: a belt, known by section and length, or a small part by name.

    length_m: datum length of a belt; for sections sized at the rim the effective length, for light
    duty ones (2L to 5L) the outside length that their mark names.
    """

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="parts")
    name = models.CharField(max_length=60)
    name_key = models.CharField(max_length=60, editable=False)
    section = models.CharField("belt section", max_length=8, blank=True)
    length_m = models.FloatField("length of the belt", null=True, blank=True)
    length_system = models.CharField(max_length=8, blank=True)
    bought_from = models.CharField("where it is bought", max_length=60, blank=True)
    lead_days = models.PositiveSmallIntegerField("days from order to rack", null=True, blank=True)
    # Seen and entered only by who may see money.
    price = models.DecimalField(
        "price of one", max_digits=11, decimal_places=2, null=True, blank=True
    )
    currency = models.CharField(max_length=3, blank=True, validators=[CURRENCY])
    # No longer kept; what was taken of it stays told.
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = PartQuerySet.as_manager()

    class Meta:
        ordering = ("name", "pk")
        indexes = (models.Index(fields=("depot", "section", "length_m"), name="part_by_belt"),)
        constraints = (
            models.UniqueConstraint(fields=("depot", "name_key"), name="part_name_once_a_depot"),
            models.CheckConstraint(
                condition=Q(section="", length_m__isnull=True) | ~Q(section="") & Q(length_m__gt=0),
                name="belt_part_has_a_length",
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def is_belt(self) -> bool:
        return bool(self.section)

    @property
    def days_to_rack(self) -> int | None:
        """[d] From order to rack: its own, of a belt else the depot's; None where nobody said."""
        if self.lead_days is None and self.is_belt:
            return self.depot.belt_lead_days
        return self.lead_days

    @property
    def as_belt(self) -> tuple[str, float] | None:
        """Section and length [m] by which belts are compared; None for a small part."""
        return None if self.length_m is None else (self.section, self.length_m)


class PartNumber(models.Model):
    """Another number of the same part; who said that it is the same, and why."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="numbers")
    number = models.CharField(max_length=60)
    key = models.CharField(max_length=60, editable=False, db_index=True)
    note = models.CharField(max_length=200, blank=True)
    approved_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    approved_at = models.DateTimeField()

    class Meta:
        ordering = ("number", "pk")
        constraints = (models.UniqueConstraint(fields=("part", "key"), name="number_once_a_part"),)

    def __str__(self) -> str:
        return self.number


class StockPlaceQuerySet(models.QuerySet["StockPlace"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))

    def kept(self) -> Self:
        """Without those that were withdrawn."""
        return self.filter(withdrawn_at__isnull=True)


class StockPlace(models.Model):
    """Where parts lie: a rack at the depot, or a van."""

    class Kind(models.TextChoices):
        RACK = "rack", _("Rack")
        VAN = "van", _("Van")

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="stock_places")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=4, choices=Kind)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = StockPlaceQuerySet.as_manager()

    class Meta:
        ordering = ("kind", "name")
        constraints = (
            models.UniqueConstraint(fields=("depot", "name"), name="stock_place_once_a_depot"),
        )

    def __str__(self) -> str:
        return self.name


class StockMove(models.Model):
    """Pieces that came, went or were counted. Rows are added and never edited; each is sealed."""

    class Kind(models.TextChoices):
        RECEIVED = "received", _("Received")
        COUNTED = "counted", _("Counted")
        TAKEN = "taken", _("Taken to a job")
        RETURNED = "returned", _("Put back")
        MOVED = "moved", _("Moved")

    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="moves")
    place = models.ForeignKey(StockPlace, on_delete=models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=8, choices=Kind)
    change = models.IntegerField(help_text="Pieces that came; below 0: that went.")
    counted = models.PositiveIntegerField("pieces counted", null=True, blank=True)
    received_on = models.DateField(null=True, blank=True)
    at = models.DateTimeField()
    job = models.ForeignKey(
        Job, on_delete=models.PROTECT, related_name="stock_moves", null=True, blank=True
    )
    used = models.ForeignKey(
        PartUsed, on_delete=models.PROTECT, related_name="stock_moves", null=True, blank=True
    )
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="stock_moves")

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (
            models.Index(fields=("part", "place"), name="stock_by_part_and_place"),
            models.Index(fields=("part", "-at"), name="stock_by_part_and_time"),
        )
        constraints = (
            models.CheckConstraint(
                condition=Q(kind="counted", counted__isnull=False)
                | ~Q(kind="counted") & Q(counted__isnull=True),
                name="a_count_says_how_many",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.change:+d} {self.part}"


class PartOrder(models.Model):
    """Pieces that somebody ordered, until they are received."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="orders")
    # Still to come: a part delivery takes off what came.
    quantity = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    expected_on = models.DateField()
    came_at = models.DateTimeField(null=True, blank=True)
    entry = models.UUIDField(unique=True)

    class Meta:
        ordering = ("-at", "-pk")

    def __str__(self) -> str:
        return f"{self.quantity} x {self.part}, ordered"

    def is_late(self, on: date) -> bool:
        return self.came_at is None and self.expected_on < on
