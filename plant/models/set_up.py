"""How the system of a firm began: one row, so that nobody sets it up a second time."""

from django.db import models


class SetUp(models.Model):
    """The firm's name and when its system was set up, by the page for it or from an archive."""

    ONLY = 1

    id = models.PositiveSmallIntegerField(primary_key=True, default=ONLY, editable=False)
    firm = models.CharField("name of the firm", max_length=80)
    at = models.DateTimeField()

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(id=1), name="set_up_once"),)

    def __str__(self) -> str:
        return self.firm
