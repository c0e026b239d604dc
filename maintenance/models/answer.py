"""What the one who told a fault hears back: who has it, what was decided, and words to him."""

from django.db import models

from maintenance.models.job import Job
from plant.lazy_text import gettext_lazy as _
from plant.models import Record


class Answer(models.Model):
    """One answer on a job. Its words are a text of its record, where they can be erased."""

    class Kind(models.TextChoices):
        HAS_IT = "has it", _("Somebody has it")
        TOLD = "told", _("Answer")
        CARRY_ON = "carry on", _("Decided: carry on with a note")
        STOP = "stop", _("Decided: it stays stopped")
        CALLED_OFF = "called off", _("Called off")

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="answers")
    kind = models.CharField(max_length=10, choices=Kind)
    at = models.DateTimeField()
    until = models.DateField("last day of carrying on", null=True, blank=True)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="answer_row")

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.job.number}: {self.get_kind_display()}"
