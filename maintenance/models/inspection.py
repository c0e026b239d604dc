"""Look-overs and inspections by competent people, and what is kept of one on the way."""

from typing import Self

from django.db import models

from maintenance.models.check import Check, RuleSheet
from maintenance.rules import sheet
from plant.lazy_text import gettext_lazy as _
from plant.models import Machine, Record, User
from plant.rights import Right, depots_where


class InspectionQuerySet(models.QuerySet["Inspection"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))


class Inspection(models.Model):
    """One look-over or inspection. What was found is in its sealed record; this row finds it."""

    class Kind(models.TextChoices):
        LOOK_OVER = sheet.LOOK_OVER, _("Look-over")
        INSPECTION = sheet.INSPECTION, _("Inspection")

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="inspections")
    kind = models.CharField(max_length=10, choices=Kind)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="inspection_row")
    sheet = models.ForeignKey(RuleSheet, on_delete=models.PROTECT, related_name="inspections")
    at = models.DateTimeField()
    mark = models.CharField(max_length=10, choices=Check.Mark)

    objects = InspectionQuerySet.as_manager()

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (models.Index(fields=("machine", "-at"), name="inspection_by_machine"),)

    def __str__(self) -> str:
        return f"{self.machine}: {self.get_kind_display()}, {self.get_mark_display()}"


class InspectionDraft(models.Model):
    """What one person has typed of one list so far, and when they confirmed the isolation.

    It is nobody's record: it goes when the list is sealed, and counts for nothing before.
    """

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="inspection_drafts")
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="inspection_drafts")
    kind = models.CharField(max_length=10, choices=Inspection.Kind)
    typed = models.JSONField(default=dict)
    kept_at = models.DateTimeField()
    isolated_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("machine", "by", "kind"), name="one_draft_a_person_and_list"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.machine}, on the way"
