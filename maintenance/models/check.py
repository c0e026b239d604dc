"""Dated rule sheets with the questions of the pre-use check, and the checks that were done."""

import json
from datetime import date
from functools import lru_cache
from typing import Self

from django.db import models
from django.db.models import Case, F, When
from django.db.models.functions import Cast
from django.utils.functional import cached_property

from maintenance.models.reading import MeterReading
from maintenance.rules import finding_sheet, keep, sheet
from plant.kept import Given, KeptRows
from plant.lazy_text import gettext_lazy as _
from plant.models import Machine, Record, User
from plant.rights import Right, depots_where


class _Read:
    """One file of a rule sheet, each part read when it is first asked for."""

    def __init__(self, text: str) -> None:
        self._content = json.loads(text)

    @cached_property
    def rules(self) -> sheet.RuleSheet:
        return sheet.read(self._content)

    @cached_property
    def finding(self) -> finding_sheet.FindingList:
        return finding_sheet.read(self._content.get("finding"))

    @cached_property
    def keeps(self) -> tuple[keep.Keep, ...]:
        return keep.read(self._content.get("keep"))


# Read once a process, since it takes longer than all the rest of a check; the text itself decides
# whether what was read still stands.
_read = lru_cache(maxsize=8)(_Read)


class RuleSheetQuerySet(models.QuerySet["RuleSheet"]):
    def on(self, day: date) -> "RuleSheet":
        """The sheet in force on that day.

        Raises:
            RuleSheet.DoesNotExist: none is; run the command ``rule_sheets``.
        """
        found = _IN_FORCE.objects(day=day)
        if not found:
            raise RuleSheet.DoesNotExist("No rule sheet is loaded; run manage.py rule_sheets.")
        sheet: RuleSheet = found[0]
        return sheet


def _in_force() -> "models.QuerySet[RuleSheet]":
    # The newest that has begun; before the first begins, that one.
    begun = Case(When(dated__lte=Given("day", models.DateField()), then=F("dated")))
    # As text, which tells whether it was read before; parsing it takes longer than the query.
    whole = RuleSheet.objects.defer("content").annotate(text=Cast("content", models.TextField()))
    return whole.order_by(begun.desc(nulls_last=True), "dated")[:1]


_IN_FORCE = KeptRows(_in_force)


class RuleSheet(models.Model):
    """A named, dated set of questions, limits and intervals; records keep the one they used.

    ``content`` is the file as it was given out; ``rules`` reads it.
    """

    name = models.CharField(max_length=60)
    dated = models.DateField()
    content = models.JSONField()

    objects = RuleSheetQuerySet.as_manager()

    class Meta:
        ordering = ("-dated",)
        constraints = (
            models.UniqueConstraint(fields=("name", "dated"), name="rule_sheet_once_a_day"),
        )

    def __str__(self) -> str:
        return f"{self.name}, {self.dated:%Y-%m-%d}"

    @cached_property
    def _read(self) -> _Read:
        # on() gave it as text alone.
        deferred = "content" in self.get_deferred_fields()
        return _read(vars(self)["text"] if deferred else json.dumps(self.content))

    @property
    def rules(self) -> sheet.RuleSheet:
        """What it asks, how often, and within which limits."""
        return self._read.rules

    @property
    def finding(self) -> finding_sheet.FindingList:
        """Its symptoms, causes and tests; without any in a sheet from before there were."""
        return self._read.finding

    @property
    def keeps(self) -> tuple[keep.Keep, ...]:
        """How long words and photos are kept; nothing in a sheet from before there was any."""
        return self._read.keeps

    def questions(self, machine: Machine) -> tuple[sheet.Question, ...]:
        """The questions that this machine's check asks, in their order."""
        return self.rules.questions_for(
            family=machine.kind.family,
            supply=machine.supply,
            belt_driven=machine.kind.belt_driven,
        )

    def points(self, machine: Machine, part: str) -> tuple[sheet.Point, ...]:
        """What a look-over or an inspection of this machine asks, the isolated part last."""
        return self.rules.points_for(
            part,
            family=machine.kind.family,
            supply=machine.supply,
            belt_driven=machine.kind.belt_driven,
        )


class CheckQuerySet(models.QuerySet["Check"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))


class Check(models.Model):
    """One pre-use check. The answers are in its sealed record; this row is for finding it."""

    class Mark(models.TextChoices):
        PASSED = "passed", _("Passed")
        NOT_PASSED = "not passed", _("Could not be passed")
        DECIDE = "decide", _("A foreman decides")
        STOP = "stop", _("Stopped the machine")

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="checks")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="check_row")
    sheet = models.ForeignKey(RuleSheet, on_delete=models.PROTECT, related_name="checks")
    at = models.DateTimeField()
    mark = models.CharField(max_length=10, choices=Mark)
    by_label = models.BooleanField(default=False)
    # What the meter showed, where it was told with the check.
    reading = models.OneToOneField(
        MeterReading, on_delete=models.PROTECT, related_name="check_row", null=True, blank=True
    )

    objects = CheckQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        indexes = (models.Index(fields=("machine", "-at"), name="check_by_machine"),)

    def __str__(self) -> str:
        return f"{self.machine}: {self.get_mark_display()}"


class Pace(models.Model):
    """How long each question of a check took, as the phone told it. It proves nothing, so it stands
    beside the sealed record and not in it, is shown on no record, and is cleared after a while.
    """

    check_row = models.OneToOneField(
        Check, on_delete=models.CASCADE, primary_key=True, related_name="pace"
    )
    # Item key: tenths of a second. Empty where the phone told none.
    tenths = models.JSONField(default=dict)
    # The phone's clock had to be put right, so its moments are not compared.
    clock_off = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"Pace of {self.check_row}"
