"""The questions of the pre-use check from dated rule sheets, and the checks that were done."""

from datetime import date
from typing import Self

from django.db import models

from plant.models import Drive, Machine, Record, User
from plant.rights import Right, depots_where


class RuleSheetQuerySet(models.QuerySet["RuleSheet"]):
    def in_force(self, on: date) -> "RuleSheet | None":
        """The newest sheet dated on or before that day; before the first one, the first."""
        return self.filter(dated__lte=on).order_by("-dated").first() or self.order_by("dated").first()


class RuleSheet(models.Model):
    """A named, dated set of questions, limits and intervals; records keep the one they used."""

    name = models.CharField(max_length=60)
    dated = models.DateField()
    limits = models.JSONField(default=dict, blank=True, help_text="RCD rows, intervals, with sources")

    objects = RuleSheetQuerySet.as_manager()

    class Meta:
        ordering = ("-dated",)
        constraints = (
            models.UniqueConstraint(fields=("name", "dated"), name="rule_sheet_once_a_day"),
        )

    def __str__(self) -> str:
        return f"{self.name}, {self.dated:%Y-%m-%d}"

    def items_for(self, machine: Machine) -> "list[CheckItem]":
        """The questions that this machine is asked, in the order asked."""
        belt_driven = (
            machine.kind.belt_driven or machine.drives.filter(kind=Drive.Kind.BELT).exists()
        )
        return [item for item in self.items.all() if item.asks(machine, belt_driven=belt_driven)]


class CheckItem(models.Model):
    """One question; asked when supply, family and belt drive of the machine call for it."""

    class Level(models.TextChoices):
        ALWAYS = "always", "stops the machine, always"
        STOPS = "stops", "stops the machine"
        DECIDE = "decide", "a foreman decides"

    sheet = models.ForeignKey(RuleSheet, on_delete=models.CASCADE, related_name="items")
    key = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField()
    short = models.CharField(max_length=40)
    words = models.CharField(max_length=160)
    level = models.CharField(max_length=8, choices=Level)
    supplies = models.JSONField(default=list, blank=True)
    families = models.JSONField(default=list, blank=True)
    needs_belt = models.BooleanField(default=False)
    drawing = models.CharField(max_length=40, blank=True)
    source = models.CharField(max_length=200)
    trust = models.CharField(max_length=40)

    class Meta:
        ordering = ("position",)
        constraints = (
            models.UniqueConstraint(fields=("sheet", "key"), name="item_once_a_sheet"),
        )

    def __str__(self) -> str:
        return self.short

    def asks(self, machine: Machine, *, belt_driven: bool) -> bool:
        """Whether this question applies to the machine."""
        return (
            (not self.supplies or machine.supply in self.supplies)
            and (not self.families or machine.kind.family in self.families)
            and (belt_driven or not self.needs_belt)
        )


class CheckQuerySet(models.QuerySet["Check"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))


class Check(models.Model):
    """One pre-use check. The answers are in its sealed record; this row is for finding it."""

    class Mark(models.TextChoices):
        PASSED = "passed", "Passed"
        NOT_PASSED = "not passed", "Could not be passed"
        DECIDE = "decide", "A foreman decides"
        STOP = "stop", "Stopped the machine"

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="checks")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="check_row")
    sheet = models.ForeignKey(RuleSheet, on_delete=models.PROTECT, related_name="checks")
    at = models.DateTimeField()
    mark = models.CharField(max_length=10, choices=Mark)
    by_label = models.BooleanField(default=False)

    objects = CheckQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        indexes = (models.Index(fields=("machine", "-at"), name="check_by_machine"),)

    def __str__(self) -> str:
        return f"{self.machine}: {self.get_mark_display()}"
