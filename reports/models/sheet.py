"""Sheets asked for: a batch, and in it one row a machine, printed once or failed with a reason."""

from typing import Any

from django.db import models

from plant.models import BackgroundWork, Machine, Record, User
from plant.models.work import WorkQuerySet
from plant.rights import Right, depots_where


class BatchQuerySet(WorkQuerySet):
    def visible_to(self, user: User, right: Right = Right.PRINT) -> Any:
        return self.filter(depot_id__in=depots_where(user, right))


class Batch(BackgroundWork):
    """Sheets asked for together; when all are printed they are merged into one file."""

    class Kind(models.TextChoices):
        SERVICE = "service", "Service sheet"

    kind = models.CharField(max_length=12, choices=Kind, default=Kind.SERVICE)
    title = models.CharField(max_length=120)
    file = models.FileField(upload_to="paper/", blank=True)
    sha256 = models.CharField(max_length=64, blank=True)

    objects = BatchQuerySet.as_manager()
    # How far it is, set by contents.today.with_progress for the pages that show it.
    total = printed = failed = 0

    class Meta:
        ordering = ("-asked_at", "-pk")
        verbose_name_plural = "batches"

    def __str__(self) -> str:
        return self.title


class SheetQuerySet(WorkQuerySet):
    def visible_to(self, user: User, right: Right = Right.PRINT) -> Any:
        return self.filter(depot_id__in=depots_where(user, right))


class Sheet(BackgroundWork):
    """One sheet of one machine. ``content`` is frozen when it is sealed, so a reprint is equal."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="sheets")
    position = models.PositiveIntegerField()
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="sheets")
    record = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="sheet_row", null=True, blank=True
    )
    content = models.JSONField(null=True, blank=True)
    pages = models.PositiveSmallIntegerField(default=0)
    file = models.FileField(upload_to="paper/", blank=True)
    sha256 = models.CharField(max_length=64, blank=True)

    objects = SheetQuerySet.as_manager()

    class Meta:
        ordering = ("batch", "position")
        constraints = (
            models.UniqueConstraint(fields=("batch", "machine"), name="machine_once_a_batch"),
        )

    def __str__(self) -> str:
        return f"{self.batch}: {self.machine}"
