"""Work that the background does: the row is the promise, the message only wakes somebody up."""

from datetime import datetime, timedelta
from itertools import takewhile
from typing import Any, Self

from django.db import models, transaction
from django.db.models import F, Q
from django.utils.timezone import now
from django.utils.translation import gettext

from plant.lazy_text import gettext_lazy as _
from plant.models.people import Depot, User

# A worker that has said nothing for this long is taken for dead. Never shorter than the time
# after which a task is ended by force, so that a row has one worker at a time.
LEASE = timedelta(minutes=2)
# For work that is one long piece, in a task with limits of its own.
LONG_LEASE = timedelta(minutes=10)
# A row that has killed its worker this often is parked and shown.
MOST_ATTEMPTS = 3
# The timer comes round each minute, so this is more than a message that was lost.
LATE = timedelta(minutes=3)


class WorkQuerySet(models.QuerySet[Any]):
    def waiting(self, at: datetime) -> Self:
        """Rows that nobody works on: asked for, or left behind by a dead worker."""
        return self.filter(
            Q(state=BackgroundWork.State.ASKED)
            | Q(state=BackgroundWork.State.WORKING, lease_until__lt=at)
            # Taken before the clock was put back: no lease is so long.
            | Q(state=BackgroundWork.State.WORKING, lease_until__gt=at + 2 * LONG_LEASE)
        )

    def open(self) -> Self:
        return self.filter(state__in=BackgroundWork.OPEN)

    def claim(self, pk: int, *, at: datetime) -> bool:
        """Takes the row for one worker; False when another has it or it is finished.

        The attempt is counted before the work, so that work which kills its worker stops.
        """
        return bool(
            self.waiting(at)
            .filter(pk=pk, attempts__lt=MOST_ATTEMPTS)
            .update(
                state=BackgroundWork.State.WORKING,
                lease_until=at + LEASE,
                attempts=F("attempts") + 1,
            )
        )

    def claim_next(self, *, at: datetime, most: int, lease: timedelta = LEASE) -> list[int]:
        """Takes up to so many rows for one worker, in the order of the query.

        What stopped its worker before is taken alone, so that it takes no other along.
        """
        with transaction.atomic():
            able = self.waiting(at).filter(attempts__lt=MOST_ATTEMPTS).select_for_update()
            rows = list(able.values_list("pk", "attempts")[:most])
            if not rows:
                return []
            fresh = [pk for pk, attempts in takewhile(lambda row: row[1] == 0, rows)]
            taken = fresh or [rows[0][0]]
            self.model._default_manager.filter(pk__in=taken).update(
                state=BackgroundWork.State.WORKING,
                lease_until=at + lease,
                attempts=F("attempts") + 1,
            )
        return taken

    def held(
        self, pk: int | None = None, *, claimed_at: datetime, lease: timedelta = LEASE
    ) -> Self:
        """The rows, or the one, as long as the claim of that moment still holds; else nothing.

        A worker that was taken for dead and wakes up again changes nothing by way of this.
        """
        rows = self if pk is None else self.filter(pk=pk)
        return rows.filter(state=BackgroundWork.State.WORKING, lease_until=claimed_at + lease)

    def park_hopeless(self, at: datetime) -> int:
        """Marks as failed what has used up its attempts and is held by nobody."""
        return (
            self.waiting(at)
            .filter(attempts__gte=MOST_ATTEMPTS)
            .update(
                state=BackgroundWork.State.FAILED,
                why=gettext(
                    "Tried three times; it stopped half-way each time. Tell your administrator."
                ),
                ended_at=at,
            )
        )


class BackgroundWork(models.Model):
    """What every kind of background work has in common."""

    class State(models.TextChoices):
        ASKED = "asked", _("Waiting its turn")
        WORKING = "working", _("Under way")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")

    OPEN = (State.ASKED, State.WORKING)

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="+")
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True)
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=State, default=State.ASKED, db_index=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    ended_at = models.DateTimeField(null=True, blank=True)
    why = models.CharField("what went wrong", max_length=400, blank=True)

    class Meta:
        abstract = True

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def is_late(self) -> bool:
        """Whether it has waited so long that who waits for it should be told."""
        since = self.asked_at if self.lease_until is None else self.lease_until
        return self.is_open and now() - since > LATE


class Heartbeat(models.Model):
    """When the background last ran; one row a kind of work."""

    name = models.CharField(max_length=40, primary_key=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} ran at {self.at}"
