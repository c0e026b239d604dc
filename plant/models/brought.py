"""A file that somebody brings: read, sorted row by row, and saved only after a yes."""

from typing import Any

from django.db import models

from plant.lazy_text import gettext_lazy as _
from plant.models.people import User
from plant.models.work import BackgroundWork, WorkQuerySet
from plant.rights import Right, depots_where


class BroughtQuerySet(WorkQuerySet):
    def visible_to(self, user: User, right: Right) -> Any:
        return self.filter(depot_id__in=depots_where(user, right))


class BroughtFile(BackgroundWork):
    """One file. First read (dry run), then, after a yes, saved."""

    class Step(models.TextChoices):
        READ = "read", _("Reading the file")
        ASK = "ask", _("Waiting for your yes")
        SAVE = "save", _("Saving")
        SAVED = "saved", _("Saved")
        DROPPED = "dropped", _("Dropped, nothing was saved")

    step = models.CharField(max_length=8, choices=Step, default=Step.READ)
    file = models.FileField(upload_to="imports/")
    file_name = models.CharField(max_length=120)
    # Heading in the file -> our field; what was matched by heading, open to change before the yes.
    columns = models.JSONField(default=dict, blank=True)
    headings = models.JSONField(default=list, blank=True)
    sha256 = models.CharField("SHA-256 of the file", max_length=64, blank=True)
    # What the rows need to know and the file does not say, and what was answered; both by subject.
    questions = models.JSONField(default=dict, blank=True)
    answers = models.JSONField(default=dict, blank=True)
    said_yes_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = BroughtQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ("-asked_at",)

    def __str__(self) -> str:
        return self.file_name

    def saved_before(self) -> Any:
        """The run in which this very file was saved, since then its rows are known; or None."""
        runs: Any = type(self)._default_manager
        return (
            runs.filter(depot=self.depot_id, sha256=self.sha256, step=self.Step.SAVED)
            .exclude(pk=self.pk)
            .exclude(sha256="")
            .order_by("asked_at")
            .first()
        )


class BroughtRow(models.Model):
    """One row of the file with what we make of it; has a run, and a verdict of its own choices."""

    row = models.PositiveIntegerField("row in the file")
    number = models.CharField(max_length=64, blank=True)
    reasons = models.JSONField(default=list, blank=True)
    values = models.JSONField(default=dict, blank=True)

    class Meta:
        abstract = True
        ordering = ("row",)

    def __str__(self) -> str:
        return f"Row {self.row}"
