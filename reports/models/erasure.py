"""Erasures of people: asked for by a manager, carried out by the administrator."""

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac

from plant.models import Depot, Record
from plant.models.people import User
from plant.rights import Right, depots_where


def erased_name(person_pk: int) -> str:
    """What stands for a person after the erasure; the same each time, and told by no name."""
    return f"Person #{salted_hmac('erased person', str(person_pk)).hexdigest()[:6]}"


class ErasureQuerySet(models.QuerySet["Erasure"]):
    def visible_to(self, user: User, right: Right = Right.KEEP) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))

    def open(self) -> Self:
        return self.filter(done_at__isnull=True, dropped_at__isnull=True)


class Erasure(models.Model):
    """One person's erasure, from the request on. What was taken stands in its record."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="erasures")
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="+")
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    # Until it is carried out; then it is a text of the record.
    reason = models.CharField(max_length=400, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)
    dropped_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    done_at = models.DateTimeField(null=True, blank=True)
    own_words = models.BooleanField("with the words that the person wrote", default=False)
    others_words = models.BooleanField("with words of others that name the person", default=False)
    files = models.BooleanField("with kept files that name the person", default=False)
    # Tells after a restore whether the account of this number is still the same person's.
    sign_in_mark = models.CharField(max_length=64, blank=True, db_default="")
    record = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="erasure", null=True, blank=True
    )

    objects = ErasureQuerySet.as_manager()

    class Meta:
        ordering = ("-asked_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("person",),
                condition=Q(done_at__isnull=True, dropped_at__isnull=True),
                name="erasure_asked_once_at_a_time",
            ),
        )

    def __str__(self) -> str:
        return f"Erasure of {self.person}"

    @property
    def is_open(self) -> bool:
        return self.done_at is None and self.dropped_at is None
