"""A spreadsheet of machines on its way in: read, sorted row by row, and saved only after a yes."""

from django.db import models
from django.db.models.fields.json import KeyTransform

from plant.lazy_text import gettext_lazy as _
from plant.models.brought import BroughtFile, BroughtRow
from plant.models.machine import Machine

_TOLD_OF = KeyTransform("told_of", "values")


class MachineImport(BroughtFile):
    """A spreadsheet of machines; questions and answers by the subjects of machine_columns."""

    def depots_told_of(self) -> set[int]:
        """The depots of which its rows say something: their own, and those they are compared with.

        Who brought it may have seen more depots than others do, or than they themselves do now.
        """
        found: set[int | None] = {self.depot_id}
        for path in (KeyTransform("depot", KeyTransform("is", "values")), _TOLD_OF):
            found |= set(self.rows.order_by().values_list(path, flat=True).distinct())
        return {depot_id for depot_id in found if depot_id is not None}


class MachineImportRow(BroughtRow):
    """One row of the file with what we make of it."""

    class Verdict(models.TextChoices):
        READY = "ready", _("Ready")
        SAME = "same", _("Same machine twice")
        CLASH = "clash", _("Clash")
        ASK = "ask", _("Needs an answer")
        UNREADABLE = "unreadable", _("Cannot be read")

    run = models.ForeignKey(MachineImport, on_delete=models.CASCADE, related_name="rows")
    verdict = models.CharField(max_length=10, choices=Verdict)
    machine = models.ForeignKey(Machine, on_delete=models.SET_NULL, null=True, blank=True)

    class Meta(BroughtRow.Meta):
        constraints = (models.UniqueConstraint(fields=("run", "row"), name="row_once_a_run"),)
