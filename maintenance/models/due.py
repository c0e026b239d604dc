"""What moves due dates: work done, work put off, how fast a machine runs, and when a depot is open.

DueLine (models/plan.py) holds what follows from these; actions/due.py works it out afresh.
"""

from typing import Self

from django.db import models
from django.db.models import Q

from maintenance.models.plan import DueLine
from maintenance.rules.usage import Rate
from plant.lazy_text import gettext_lazy as _
from plant.models import Counter, Depot, Machine, Record, User
from plant.rights import Right, depots_where


class CompletionQuerySet(models.QuerySet["Completion"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(due_line__machine__depot_id__in=depots_where(user, right))

    def counting(self) -> Self:
        """Without those that a correction struck out, and without tests that came into doubt."""
        sound = Q(test__isnull=True) | Q(test__doubted_by__isnull=True)
        return self.filter(sound, struck_by__isnull=True)


class Completion(models.Model):
    """One line of one machine was done: by a job of its own, a larger service, or a passed test."""

    due_line = models.ForeignKey(DueLine, on_delete=models.CASCADE, related_name="completions")
    on = models.DateField("day it was done, at the depot")
    # Read when it was done; where nobody read it, worked out from those around that day.
    tenths = models.PositiveIntegerField(null=True, blank=True)
    at = models.DateTimeField("told at")
    job = models.ForeignKey(
        "maintenance.Job",
        on_delete=models.PROTECT,
        related_name="completions",
        null=True,
        blank=True,
    )
    test = models.ForeignKey(
        "maintenance.ElectricalTest",
        on_delete=models.PROTECT,
        related_name="completions",
        null=True,
        blank=True,
    )
    included_in = models.ForeignKey(
        "self", on_delete=models.CASCADE, related_name="includes", null=True, blank=True
    )
    struck_by = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="completions_struck", null=True, blank=True
    )

    objects = CompletionQuerySet.as_manager()

    class Meta:
        ordering = ("on", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("due_line", "job"),
                condition=Q(job__isnull=False, struck_by__isnull=True),
                name="done_once_a_job",
            ),
        )

    def __str__(self) -> str:
        return f"{self.due_line}: {self.on}"


class PutOff(models.Model):
    """Work of one cycle put off to a day, by somebody who answers for it."""

    due_line = models.ForeignKey(DueLine, on_delete=models.CASCADE, related_name="put_offs")
    cycle = models.PositiveIntegerField()
    due_on = models.DateField("day it was due", null=True, blank=True)
    to_on = models.DateField("put off to")
    reason = models.CharField(max_length=400)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="put_off_row")

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.due_line}: to {self.to_on}"


class Rates(models.Model):
    """Use a day with its band, from readings or estimated from the days out."""

    class Basis(models.TextChoices):
        READINGS = "readings", _("from meter readings")
        DAYS_OUT = "days out", _("estimated from the days out")

    basis = models.CharField(max_length=8, choices=Basis)
    low = models.FloatField("a day, low")
    likely = models.FloatField("a day")
    high = models.FloatField("a day, high")
    readings = models.PositiveSmallIntegerField(default=0)
    first_on = models.DateField("from")
    last_on = models.DateField("to")
    worked_out_at = models.DateTimeField()

    class Meta:
        abstract = True

    @property
    def rate(self) -> Rate:
        return Rate(low=self.low, likely=self.likely, high=self.high, readings=self.readings)


class UseRate(Rates):
    """How many hours a day a machine runs."""

    machine = models.OneToOneField(
        Machine, on_delete=models.CASCADE, primary_key=True, related_name="use_rate"
    )

    def __str__(self) -> str:
        return f"{self.machine}: {self.likely:.1f} h a day, {self.get_basis_display()}"


class CountRate(Rates):
    """How many starts, strokes and the like a machine makes a day."""

    counter = models.OneToOneField(
        Counter, on_delete=models.CASCADE, primary_key=True, related_name="use_rate"
    )

    def __str__(self) -> str:
        return f"{self.counter}: {self.likely:.1f} a day, {self.get_basis_display()}"


class WeekDay(models.Model):
    """What a depot does on one day of the week: open or not, and the fitters' hours."""

    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="week_days")
    weekday = models.PositiveSmallIntegerField(help_text="0 is Monday")
    is_open = models.BooleanField("open", default=True)
    fitter_minutes = models.PositiveIntegerField("fitters' time, in minutes", default=0)

    class Meta:
        ordering = ("weekday",)
        constraints = (
            models.UniqueConstraint(fields=("depot", "weekday"), name="week_day_once_a_depot"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="week_has_seven_days"),
        )

    def __str__(self) -> str:
        return f"{self.depot}: {self.weekday}"


class ClosedDayQuerySet(models.QuerySet["ClosedDay"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))


class ClosedDay(models.Model):
    """A day on which the depot is closed though its week says open: a holiday, stock-taking."""

    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="closed_days")
    on = models.DateField()
    name = models.CharField(max_length=60)

    objects = ClosedDayQuerySet.as_manager()

    class Meta:
        ordering = ("on",)
        constraints = (
            models.UniqueConstraint(fields=("depot", "on"), name="closed_day_once_a_depot"),
        )

    def __str__(self) -> str:
        return f"{self.on}: {self.name}"
