"""A spreadsheet of machines on its way in: read, sorted row by row, and saved only after a yes."""

from typing import Any

from django.db import models
from django.db.models.fields.json import KeyTransform

from plant.models.machine import Machine
from plant.models.people import User
from plant.models.work import BackgroundWork, WorkQuerySet
from plant.rights import Right, depots_where

_TOLD_OF = KeyTransform("told_of", "values")


class MachineImportQuerySet(WorkQuerySet):
    def visible_to(self, user: User, right: Right = Right.IMPORT) -> Any:
        return self.filter(depot_id__in=depots_where(user, right))


class MachineImport(BackgroundWork):
    """One file. First read (dry run), then, after a yes, saved."""

    class Step(models.TextChoices):
        READ = "read", "Reading the file"
        ASK = "ask", "Waiting for your yes"
        SAVE = "save", "Saving"
        SAVED = "saved", "Saved"
        DROPPED = "dropped", "Dropped, nothing was saved"

    step = models.CharField(max_length=8, choices=Step, default=Step.READ)
    file = models.FileField(upload_to="imports/")
    file_name = models.CharField(max_length=120)
    # Heading in the file -> our field; what was matched by heading, open to change before the yes.
    columns = models.JSONField(default=dict, blank=True)
    headings = models.JSONField(default=list, blank=True)
    sha256 = models.CharField("SHA-256 of the file", max_length=64, blank=True)
    # What the rows need to know and the file does not say, and what was answered; both by the
    # subjects of plant.machine_columns.
    questions = models.JSONField(default=dict, blank=True)
    answers = models.JSONField(default=dict, blank=True)
    said_yes_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = MachineImportQuerySet.as_manager()

    class Meta:
        ordering = ("-asked_at",)

    def __str__(self) -> str:
        return self.file_name

    def depots_told_of(self) -> set[int]:
        """The depots of which its rows say something: their own, and those they are compared with.

        Who brought it may have seen more depots than others do, or than they themselves do now.
        """
        found: set[int | None] = {self.depot_id}
        for path in (KeyTransform("depot", KeyTransform("is", "values")), _TOLD_OF):
            found |= set(self.rows.order_by().values_list(path, flat=True).distinct())
        return {depot_id for depot_id in found if depot_id is not None}


class MachineImportRow(models.Model):
    """One row of the file with what we make of it."""

    class Verdict(models.TextChoices):
        READY = "ready", "Ready"
        SAME = "same", "Same machine twice"
        CLASH = "clash", "Clash"
        ASK = "ask", "Needs an answer"
        UNREADABLE = "unreadable", "Cannot be read"

    run = models.ForeignKey(MachineImport, on_delete=models.CASCADE, related_name="rows")
    row = models.PositiveIntegerField("row in the file")
    verdict = models.CharField(max_length=10, choices=Verdict)
    number = models.CharField(max_length=64, blank=True)
    reasons = models.JSONField(default=list, blank=True)
    values = models.JSONField(default=dict, blank=True)
    machine = models.ForeignKey(Machine, on_delete=models.SET_NULL, null=True, blank=True)

    class Meta:
        ordering = ("row",)
        constraints = (models.UniqueConstraint(fields=("run", "row"), name="row_once_a_run"),)

    def __str__(self) -> str:
        return f"Row {self.row}: {self.get_verdict_display()}"
