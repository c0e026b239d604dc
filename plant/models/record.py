"""Sealed records: written once, linked into their depot's chain, corrected only by new ones."""

from typing import Any, Self

from django.db import models
from django.db.models import Q

from plant.lazy_text import gettext_lazy as _
from plant.models.machine import Machine
from plant.models.people import Depot, User
from plant.rights import Right, depots_where
from plant.sealing import NO_HASH

# The role on a record that nobody signed: the system did it by a rule.
BY_RULE = "rule"


class Chain(models.Model):
    """The head of a depot's chain; its row is the lock under which numbers are given."""

    depot = models.OneToOneField(Depot, on_delete=models.PROTECT, primary_key=True)
    head_seq = models.PositiveBigIntegerField(default=0)
    head_hash = models.CharField(max_length=64, default=NO_HASH)

    def __str__(self) -> str:
        return f"Chain of {self.depot}"


class ChainCheck(models.Model):
    """What the newest reading of a depot's whole chain found; it proves nothing by itself.

    ``what`` is empty where all was as sealed; ``bad_seq`` is None where no one record is at fault.
    """

    depot = models.OneToOneField(Depot, on_delete=models.CASCADE, primary_key=True)
    read_at = models.DateTimeField()
    count = models.PositiveBigIntegerField()
    bad_seq = models.PositiveBigIntegerField(null=True, blank=True)
    what = models.CharField(max_length=400, blank=True)

    def __str__(self) -> str:
        if not self.what:
            return f"{self.depot.name}: {self.count} records, all as sealed"
        if self.bad_seq is None:
            return f"{self.depot.name}: {self.what}"
        return f"{self.depot.name}: record {self.depot.code.upper()}-{self.bad_seq}: {self.what}"


class RecordQuerySet(models.QuerySet["Record"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        """Records of the person's depots, and those that a machine of theirs brought with it."""
        depots = depots_where(user, right)
        return self.filter(Q(depot_id__in=depots) | Q(machine__depot_id__in=depots))


class Record(models.Model):
    """One fact as it was told. Triggers in the database refuse any change or removal.

    ``content`` is the canonical text that was hashed; names, notes and photos stand in it only as
    salted commitments, their text in RecordText and RecordPhoto, where it can be erased by law.
    """

    class Kind(models.TextChoices):
        CHECK = "check", _("Check")
        FAULT = "fault", _("Fault report")
        METER = "meter", _("Meter figure")
        WIDTH = "width", _("Belt width reading")
        TENSION = "tension", _("Belt tension reading")
        RIDE = "ride", _("Belt ride or slot reading")
        ALIGNMENT = "alignment", _("Pulley alignment reading")
        PULLEY = "pulley", _("Pulley condition")
        DRIVE = "drive", _("Drive data")
        BELT = "belt", _("Belt fitted")
        FINDING = "finding", _("Fault finding")
        TEST = "test", _("Electrical test")
        DECISION = "decision", _("Decision on a fault")
        STOP = "stop", _("Stopped by a person")
        JOB = "job", _("Job done")
        RELEASE = "release", _("Release check")
        PLACE = "place", _("Move")
        INSPECTION = "inspection", _("Look-over or inspection")
        ANSWER = "answer", _("Answer to a report")
        COMPETENCE = "competence", _("Competence of a person")
        ACCESS = "access", _("Roles, accounts and settings")
        INSTRUMENT = "instrument", _("Test instrument")
        LABEL = "label", _("Label replaced")
        PUT_OFF = "put off", _("Work put off")
        PLAN = "plan", _("Plan of a machine changed")
        STOCK = "stock", _("Parts counted or moved")
        SHEET = "sheet", _("Printed sheet")
        FILES = "files", _("Files of printed sheets")
        HELD = "held", _("Records held back")
        ERASED = "erased", _("Words and photos erased")
        IMPORT = "import", _("Brought in from a file")
        CORRECTION = "correction", _("Correction")

    id = models.UUIDField(primary_key=True, editable=False)
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="records")
    seq = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=12, choices=Kind)
    machine = models.ForeignKey(
        Machine, on_delete=models.PROTECT, related_name="records", null=True, blank=True
    )
    corrects = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="corrections", null=True, blank=True
    )
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="records", null=True, blank=True
    )
    role = models.CharField(max_length=16, blank=True)
    happened_at = models.DateTimeField()
    received_at = models.DateTimeField()
    content = models.TextField()
    content_hash = models.CharField(max_length=64)
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ("-happened_at", "-seq")
        indexes = (models.Index(fields=("machine", "-happened_at"), name="record_by_machine"),)
        constraints = (
            models.UniqueConstraint(fields=("depot", "seq"), name="record_number_once_a_depot"),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.seq}"

    @property
    def number(self) -> str:
        """The number as it stands on paper: depot and place in its chain."""
        return f"{self.depot.code.upper()}-{self.seq}"

    @property
    def short_hash(self) -> str:
        return self.hash[:16]


class ErasableQuerySet(models.QuerySet[Any]):
    def standing(self) -> Self:
        """Not erased."""
        return self.filter(erased_at__isnull=True)


class RecordText(models.Model):
    """A name or a note of a record, erasable by law while its commitment stays in the chain."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="texts")
    name = models.CharField(max_length=40)
    text = models.TextField(blank=True)
    salt = models.CharField(max_length=64, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)
    # The record that says who erased it and why.
    erased_with = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = ErasableQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("record", "name"), name="text_once_a_record"),
        )

    def __str__(self) -> str:
        return f"{self.name} of {self.record_id}"


class RecordPhoto(models.Model):
    """A photo of a record, without its metadata; erasable like a text."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="photos")
    name = models.CharField(max_length=40)
    file = models.FileField(upload_to="photos/", blank=True)
    salt = models.CharField(max_length=64, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)
    erased_with = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = ErasableQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("record", "name"), name="photo_once_a_record"),
        )

    def __str__(self) -> str:
        return f"{self.name} of {self.record_id}"


class LeftFile(models.Model):
    """A file that no row names any more; the row stays until the file is off the disk."""

    name = models.CharField(max_length=200, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
