"""Findings of faults: from a symptom by tests to a cause, kept answer by answer until sealed."""

from typing import Self

from django.db import models
from django.db.models import Q

from maintenance.models.check import RuleSheet
from maintenance.models.job import Job
from plant.lazy_text import gettext_lazy as _
from plant.models import Record, User
from plant.rights import Right, depots_where


class FindingQuerySet(models.QuerySet["Finding"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(job__machine__depot_id__in=depots_where(user, right))

    def under_way(self) -> Self:
        """Not sealed yet."""
        return self.filter(record__isnull=True)


class Finding(models.Model):
    """One search for the cause of one symptom. What it starts from stays as it was on that day.

    ``start`` maps each cause to its starting odds; ``start_jobs`` is from how many closed jobs of
    the depot they are, 0 for the odds of the rule sheet. ``cause`` is empty where none was found.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="findings")
    symptom = models.CharField(max_length=30)
    sheet = models.ForeignKey(RuleSheet, on_delete=models.PROTECT, related_name="findings")
    start = models.JSONField(default=dict)
    start_jobs = models.PositiveIntegerField(default=0)
    begun_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()
    cause = models.CharField(max_length=30, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    record = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="finding_row", null=True, blank=True
    )

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ("-begun_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("job",),
                condition=Q(record__isnull=True),
                name="one_finding_under_way_a_job",
            ),
        )

    def __str__(self) -> str:
        return f"{self.job.number}: {self.symptom}"

    @property
    def words(self) -> tuple[str, str]:
        """Symptom and cause in words; the cause empty while there is none. Needs the sheet."""
        held = self.sheet.finding
        cause = held.causes.get(self.cause)
        return held.symptom(self.symptom).words, cause.words if cause else ""


class FindingStep(models.Model):
    """What one person did or saw in a finding. Nothing is written over: it is taken back."""

    class Kind(models.TextChoices):
        ANSWER = "answer", _("Answered")
        EARLIER = "earlier", _("A reading from before counts")
        ISOLATED = "isolated", _("Isolated")
        RUNNING = "running", _("Guards back on, may run")

    finding = models.ForeignKey(Finding, on_delete=models.CASCADE, related_name="steps")
    kind = models.CharField(max_length=8, choices=Kind)
    test = models.CharField(max_length=30, blank=True)
    answer = models.CharField(max_length=30, blank=True)
    # The figures behind an answer that was worked out, in words.
    figures = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_back_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("finding", "test"),
                condition=Q(kind="answer", taken_back_at__isnull=True),
                name="one_standing_answer_a_test",
            ),
        )

    def __str__(self) -> str:
        return f"{self.test or self.kind}: {self.answer}"
