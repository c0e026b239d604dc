"""The steps of a job as they were asked when it was begun, and each answer as it was given."""

from django.db import models

from maintenance.models.job import Job
from plant.models import User


class JobStep(models.Model):
    """One step, copied from the plan when the job began, so that a later plan changes nothing."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=200)
    target = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=12, blank=True, help_text="A measured step has one.")
    low = models.FloatField(null=True, blank=True, help_text="In the unit")
    high = models.FloatField(null=True, blank=True, help_text="In the unit")
    caution = models.CharField(max_length=120, blank=True)
    opens_guard = models.BooleanField(default=False)

    class Meta:
        ordering = ("position",)
        constraints = (
            models.UniqueConstraint(fields=("job", "position"), name="step_place_once_a_job"),
        )

    def __str__(self) -> str:
        return self.text


class StepAnswer(models.Model):
    """What one person said of a step: done or not, with the figure and the tool. The last counts.

    An answer is never written over: who answers afresh adds one, and the record keeps both.
    """

    step = models.ForeignKey(JobStep, on_delete=models.CASCADE, related_name="answers")
    is_done = models.BooleanField("done")
    because = models.CharField("why it was not done", max_length=400, blank=True)
    typed = models.CharField("figure as it was typed", max_length=40, blank=True)
    value_si = models.FloatField(null=True, blank=True)
    unit_si = models.CharField(max_length=12, blank=True)
    tool = models.CharField("measured with", max_length=60, blank=True)
    out_of_range = models.BooleanField(default=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(is_done=True) | ~models.Q(because=""),
                name="step_left_out_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.step}: {self.typed or ('done' if self.is_done else 'not done')}"
