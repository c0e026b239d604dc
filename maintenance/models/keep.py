"""What words and photos will go, and machines whose records are held back."""

from typing import Self

from django.db import models
from django.db.models import Q

from maintenance.models.job import Stop
from plant.models import Depot, Machine, Place, Record, RecordPhoto, RecordText
from plant.models.people import User
from plant.models.record import ErasableQuerySet
from plant.rights import Right, depots_where


def needed_records() -> models.QuerySet[Record]:
    """Records whose words still stand against a machine in use, or allow it on a condition."""
    standing = Stop.objects.standing().exclude(machine__place=Place.GONE)
    return Record.objects.filter(
        Q(pk__in=standing.values("record"))
        | Q(pk__in=standing.filter(decided_by__isnull=False).values("decided_by"))
    ).order_by()


class KeepRound(models.Model):
    """A depot's month in which what will go was listed."""

    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="+")
    month = models.DateField("the first of the month")
    listed_at = models.DateTimeField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("depot", "month"), name="keep_round_once_a_month"),
        )

    def __str__(self) -> str:
        return f"{self.depot}, {self.month:%b %Y}"


class KeepListingQuerySet(models.QuerySet["KeepListing"]):
    def visible_to(self, user: User, right: Right = Right.KEEP) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))

    def open(self) -> Self:
        return self.filter(ended_at__isnull=True)


class KeepListing(models.Model):
    """The promise of what goes: the words and photos of one machine's records of one kind.

    Which they are follows from sealed columns, so nothing that comes later is among them; those
    of a stop that stands on a machine in use are left out as long as it stands.
    """

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="keep_listings")
    # Whose chain holds the records; a machine that moved has some in several.
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField("of record", max_length=12)
    upto_seq = models.PositiveBigIntegerField()
    made_before = models.DateTimeField(null=True, blank=True)
    sheet = models.ForeignKey("maintenance.RuleSheet", on_delete=models.PROTECT, related_name="+")
    months = models.PositiveSmallIntegerField("kept for")
    why = models.CharField(max_length=200)
    texts = models.PositiveIntegerField()
    photos = models.PositiveIntegerField()
    listed_on = models.DateField()
    goes_on = models.DateField(db_index=True)
    # Ended with a record: gone. Without: taken off the list, and why.
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=200, blank=True)
    record = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="keep_listing", null=True, blank=True
    )

    objects = KeepListingQuerySet.as_manager()

    class Meta:
        ordering = ("goes_on", "machine__number_key", "kind")
        constraints = (
            models.UniqueConstraint(
                fields=("machine", "depot", "kind"),
                condition=Q(ended_at__isnull=True),
                name="listed_once_at_a_time",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind_label} of {self.machine}"

    @property
    def kind_label(self) -> str:
        return str(Record.Kind(self.kind).label)

    @property
    def records(self) -> models.QuerySet[Record]:
        """The records whose words and photos it names."""
        found = Record.objects.filter(
            machine_id=self.machine_id, depot_id=self.depot_id, kind=self.kind,
            seq__lte=self.upto_seq,
        )  # fmt: skip
        if self.made_before is not None:
            found = found.filter(happened_at__lt=self.made_before)
        return found.exclude(pk__in=needed_records().values("pk")).order_by()

    @property
    def standing_texts(self) -> ErasableQuerySet:
        return RecordText.objects.standing().exclude(text="").filter(record__in=self.records)

    @property
    def standing_photos(self) -> ErasableQuerySet:
        return RecordPhoto.objects.standing().filter(record__in=self.records)


class KeepHoldQuerySet(models.QuerySet["KeepHold"]):
    def visible_to(self, user: User, right: Right = Right.KEEP) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))

    def standing(self) -> Self:
        return self.filter(released__isnull=True)


class KeepHold(models.Model):
    """A machine whose words and photos are held, a claim running for instance, until released.

    Who holds or releases it and why stands in the two records.
    """

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="keep_holds")
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="hold_row")
    released = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="released_hold", null=True, blank=True
    )

    objects = KeepHoldQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.UniqueConstraint(
                fields=("machine",),
                condition=Q(released__isnull=True),
                name="machine_held_once_at_a_time",
            ),
        )

    def __str__(self) -> str:
        return f"{self.machine} held"
