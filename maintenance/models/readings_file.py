"""A file of an electrical test instrument on its way in: sorted row by row, saved after a yes."""

from django.db import models

from maintenance.models.reading import ElectricalTest
from plant.lazy_text import gettext_lazy as _
from plant.models import BroughtFile, BroughtRow, Machine


class ReadingsFile(BroughtFile):
    """One file of readings; questions and answers by the subjects of rules/tester_file.py."""


class ReadingsRow(BroughtRow):
    """One row of the file with what we make of it.

    passes: as worked out, None where it cannot be; differs: the instrument said otherwise; test:
    what it became.
    """

    class Verdict(models.TextChoices):
        READY = "ready", _("Ready")
        ASK = "ask", _("Needs an answer")
        NO_MACHINE = "no machine", _("No such machine")
        NO_FORM = "no form", _("Not clear which test")
        UNREADABLE = "unreadable", _("Reading missing or not readable")
        SAME = "same", _("Already brought in")

    run = models.ForeignKey(ReadingsFile, on_delete=models.CASCADE, related_name="rows")
    verdict = models.CharField(max_length=10, choices=Verdict)
    machine = models.ForeignKey(Machine, on_delete=models.SET_NULL, null=True, blank=True)
    passes = models.BooleanField(null=True, blank=True)
    differs = models.BooleanField(default=False)
    test = models.ForeignKey(ElectricalTest, on_delete=models.SET_NULL, null=True, blank=True)

    class Meta(BroughtRow.Meta):
        constraints = (
            models.UniqueConstraint(fields=("run", "row"), name="readings_row_once_a_file"),
        )
