"""Belts that were fitted, and what is kept of a change on the way."""

from typing import Self

from django.db import models

from maintenance.models.job import Job
from plant.models import Drive, Record, User
from plant.rights import Right, depots_where


class BeltFittingQuerySet(models.QuerySet["BeltFitting"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(drive__machine__depot_id__in=depots_where(user, right))

    def counting(self) -> Self:
        """Without those that a correction struck out."""
        return self.filter(struck_by__isnull=True)


class BeltFitting(models.Model):
    """One belt that was fitted to a drive, as its record says it.

    ``before`` is what the drive said of the old belt, so that a fitting told by mistake can be
    taken back.
    """

    drive = models.ForeignKey(Drive, on_delete=models.PROTECT, related_name="fittings")
    job = models.ForeignKey(
        Job, on_delete=models.PROTECT, related_name="fittings", null=True, blank=True
    )
    at = models.DateTimeField()
    mark = models.CharField(max_length=200)
    width_m = models.FloatField("its own width when new")
    width_u_m = models.FloatField("standard uncertainty")
    before = models.JSONField(default=dict)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="fitting_row")
    struck_by = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="fittings_struck", null=True, blank=True
    )

    objects = BeltFittingQuerySet.as_manager()

    class Meta:
        ordering = ("-at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("job", "drive"),
                condition=models.Q(struck_by__isnull=True, job__isnull=False),
                name="belt_fitted_once_a_job",
            ),
        )

    def __str__(self) -> str:
        return f"{self.mark} on {self.drive}"


class BeltDraft(models.Model):
    """What was entered so far of changing the belt of one drive in one job, by whoever did it.

    ``steps`` maps a step to {"typed": fields, "by": name, "at": moment}; ``replaced`` keeps what
    somebody wrote over. It is nobody's record: it goes when the fitting is sealed.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="belt_drafts")
    drive = models.ForeignKey(Drive, on_delete=models.CASCADE, related_name="belt_drafts")
    steps = models.JSONField(default=dict)
    replaced = models.JSONField(default=list)
    kept_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("job", "drive"), name="one_belt_draft_a_job"),
        )

    def __str__(self) -> str:
        return f"{self.drive}, belt on the way"
