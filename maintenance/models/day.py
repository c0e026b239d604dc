"""How long a person is there on one day, where it differs from the depot's week."""

from django.db import models

from plant.models import Depot, User


class FitterDay(models.Model):
    """The minutes of one person on one day at one depot; 0: off that day."""

    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="fitter_days")
    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    on = models.DateField()
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("depot", "person", "on"), name="fitter_day_once_a_person"
            ),
            models.CheckConstraint(condition=models.Q(minutes__lte=1440), name="day_has_24_hours"),
        )

    def __str__(self) -> str:
        return f"{self.person}, {self.on}: {self.minutes} min"
