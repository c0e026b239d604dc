"""Paper that is printed by itself on days of the week, and each turn of it."""

from typing import Self

from django.db import models
from django.utils.translation import gettext

from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, User
from plant.rights import Right, depots_where
from reports.models.sheet import Batch

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


class TimedPrintQuerySet(models.QuerySet["TimedPrint"]):
    def visible_to(self, user: User, right: Right = Right.PRINT_MANY) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))


class TimedPrint(models.Model):
    """One kind of paper of a depot, printed at a time of day in the depot's own time."""

    class What(models.TextChoices):
        SERVICE = Batch.Kind.SERVICE, _("Service sheets of what falls due in the next 7 days")
        JOB_LIST = Batch.Kind.JOB_LIST, _("Job lists of the day, one a person")
        BOARD = Batch.Kind.BOARD, _("Wall board of the day")

    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="timed_prints")
    kind = models.CharField("what is printed", max_length=12, choices=What)
    # The digits of its days: "024" is Monday, Wednesday and Friday.
    weekdays = models.CharField(max_length=7)
    at = models.TimeField("time of day")
    set_up_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_up_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    # Why it ended where nobody ended it.
    why = models.CharField(max_length=200, blank=True)

    objects = TimedPrintQuerySet.as_manager()

    class Meta:
        ordering = ("ended_at", "at", "pk")

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.days_text} at {self.at:%H:%M}"

    @property
    def days(self) -> frozenset[int]:
        return frozenset(int(digit) for digit in self.weekdays)

    @property
    def days_text(self) -> str:
        if len(self.days) == len(DAYS):
            return gettext("every day")
        if self.weekdays == "01234":
            return gettext("Mon to Fri")
        return ", ".join(DAYS[day] for day in sorted(self.days))


class TimedTurn(models.Model):
    """One turn of it: its day, and the print asked for, or why there was none."""

    timed = models.ForeignKey(TimedPrint, on_delete=models.CASCADE, related_name="turns")
    day = models.DateField()
    at = models.DateTimeField()
    batch = models.OneToOneField(
        Batch, on_delete=models.SET_NULL, related_name="turn", null=True, blank=True
    )
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-day",)
        constraints = (models.UniqueConstraint(fields=("timed", "day"), name="one_turn_a_day"),)

    def __str__(self) -> str:
        return f"{self.timed}: {self.day}"
