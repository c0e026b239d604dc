"""Long work for the whole system: backups, their rehearsals, and everything taken out as a file."""

from django.db import models

from plant.lazy_text import gettext_lazy as _
from plant.models.work import BackgroundWork, WorkQuerySet


class Chore(BackgroundWork):
    """One backup, one rehearsal of a restore, or one archive of everything.

    ``turn`` is the moment of the clock for which it was made, so that each has one row; what
    people ask for has none. ``told`` says what came of it, ``why`` what went wrong last.
    """

    class Kind(models.TextChoices):
        BACKUP = "backup", _("Backup")
        REHEARSAL = "rehearsal", _("Restore rehearsal")
        ARCHIVE = "archive", _("Everything as one file")

    # It is of no depot, but of all.
    depot = None  # type: ignore[assignment]
    kind = models.CharField(max_length=9, choices=Kind)
    turn = models.DateTimeField(null=True, blank=True)
    not_before = models.DateTimeField()
    began_at = models.DateTimeField(null=True, blank=True)
    file = models.CharField("path of the file", max_length=400, blank=True)
    size = models.PositiveBigIntegerField("bytes of the file", default=0)
    held = models.PositiveBigIntegerField("bytes of what is in it", default=0)
    done = models.PositiveBigIntegerField(default=0)
    total = models.PositiveBigIntegerField(default=0)
    told = models.CharField("what came of it", max_length=400, blank=True)

    objects = WorkQuerySet.as_manager()

    class Meta:
        ordering = ("-asked_at", "-pk")
        constraints = (models.UniqueConstraint(fields=("kind", "turn"), name="chore_once_a_turn"),)

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.asked_at}"
