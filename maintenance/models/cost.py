"""Money: what an hour costs at a depot, what parts cost, and what an outside repairer charged.

It stands beside the jobs and not in the sealed records, which everybody of the depot may read.
"""

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q

from maintenance.models.job import Job, PartUsed
from plant.models import Depot, User

# Three letters after ISO 4217.
CURRENCY = RegexValidator(r"\A[A-Z]{3}\Z", "Write the three letters of the currency: GBP, EUR.")


class MoneySetting(models.Model):
    """The currency of a depot, and whether its foremen see money."""

    depot = models.OneToOneField(
        Depot, on_delete=models.CASCADE, primary_key=True, related_name="money"
    )
    currency = models.CharField(max_length=3, default="GBP", validators=[CURRENCY])
    foremen_see = models.BooleanField("foremen see and enter money", default=False)

    def __str__(self) -> str:
        return f"{self.depot}: {self.currency}"


class HourRate(models.Model):
    """What an hour of work costs from a day on; work before that day keeps the older rate."""

    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="hour_rates")
    from_on = models.DateField("from")
    amount = models.DecimalField("for an hour", max_digits=9, decimal_places=2)
    currency = models.CharField(max_length=3, validators=[CURRENCY])
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-from_on", "-pk")
        constraints = (models.CheckConstraint(condition=Q(amount__gte=0), name="rate_not_below_0"),)

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} from {self.from_on}"


class CostQuerySet(models.QuerySet["Cost"]):
    def counting(self) -> "CostQuerySet":
        """Without those that were struck out."""
        return self.filter(struck_at__isnull=True)


class Cost(models.Model):
    """The price of one piece of a part used, or what an outside repair cost; struck, not edited."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="costs")
    part = models.ForeignKey(
        PartUsed, on_delete=models.PROTECT, related_name="costs", null=True, blank=True
    )
    what = models.CharField(max_length=120)
    amount = models.DecimalField("for each", max_digits=11, decimal_places=2)
    currency = models.CharField(max_length=3, validators=[CURRENCY])
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    entry = models.UUIDField(unique=True)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = CostQuerySet.as_manager()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(amount__gte=0), name="cost_not_below_0"),
            models.UniqueConstraint(
                fields=("part",), condition=Q(struck_at__isnull=True), name="one_price_a_part"
            ),
        )

    def __str__(self) -> str:
        return f"{self.what}: {self.amount} {self.currency}"
