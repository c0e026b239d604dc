"""Sheets asked for: a batch, and in it one row a machine, printed once or failed with a reason."""

from collections.abc import Callable
from typing import Any

from django.db import models
from django.db.models import Q

from plant.lazy_text import gettext_lazy
from plant.models import BackgroundWork, Machine, Record, User
from plant.models.work import WorkQuerySet
from plant.rights import Right, depots_where


class BatchQuerySet(WorkQuerySet):
    def visible_to(self, user: User, right: Right | None = None) -> Any:
        """Batches of the person's depots: those that they may print, or all for another right."""
        return self.filter(_of_kinds(user, "kind", right))


class Batch(BackgroundWork):
    """Sheets asked for together; when all are printed they are put into one file."""

    class Kind(models.TextChoices):
        SERVICE = "service", gettext_lazy("Service sheets")
        PASSPORT = "passport", gettext_lazy("Passports")
        LABEL = "label", gettext_lazy("Labels, 50 x 30 mm, one a page")
        LABEL_SHEET = "label sheet", gettext_lazy("Labels, 50 x 30 mm, on A4 to cut")
        INSPECTION = "inspection", gettext_lazy("Inspection records")
        TEST = "test", gettext_lazy("Electrical test records")
        FAIL_TAG = "fail tag", gettext_lazy("Tags of failed tests")
        STOP_TAG = "stop tag", gettext_lazy("Do not use tags")
        JOB_LIST = "job list", gettext_lazy("Job lists, one a person")
        BOARD = "board", gettext_lazy("Wall board")
        FOLDER = "folder", gettext_lazy("Folder, a page a machine")
        BUNDLE = "bundle", gettext_lazy("Inspector's bundles")

    kind = models.CharField(max_length=12, choices=Kind, default=Kind.SERVICE)
    title = models.CharField(max_length=120)
    file = models.FileField(upload_to="paper/", blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    # The record that holds the SHA-256 of this file; a batch of one sheet has that sheet's.
    file_record = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    # The days that the paper speaks of, both included, where it speaks of days at all.
    first_day = models.DateField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)
    # The issue that a passport was asked for with; each has one.
    issue = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="passport_batch", null=True, blank=True
    )

    objects = BatchQuerySet.as_manager()
    # How far it is, set by contents.today.with_progress for the pages that show it.
    total = printed = failed = 0
    doing, parts_done, parts_all = "", 0, 0

    class Meta:
        ordering = ("-asked_at", "-pk")
        verbose_name_plural = "batches"

    def __str__(self) -> str:
        return self.title

    @property
    def right(self) -> Right:
        """What is needed to ask for it again and to take its file."""
        return RIGHTS[Batch.Kind(self.kind)][0]

    @property
    def thing(self) -> str:
        """What one of its sheets is: a key, whose words are in contents/paper_words.py."""
        return _THINGS[Batch.Kind(self.kind)]

    @property
    def is_sealed(self) -> bool:
        """Whether each of its sheets has a record; paper that states nothing new has none."""
        return self.kind not in _UNSEALED

    @property
    def is_long(self) -> bool:
        """Whether one of its sheets may take minutes."""
        return self.kind in _LONG

    @property
    def has_labels(self) -> bool:
        return self.kind in (Batch.Kind.LABEL, Batch.Kind.LABEL_SHEET)


# The right to print one, and the right to print many at once.
RIGHTS: dict[Batch.Kind, tuple[Right, Right]] = {
    Batch.Kind.SERVICE: (Right.PRINT, Right.PRINT_MANY),
    Batch.Kind.PASSPORT: (Right.PASSPORT, Right.PRINT_MANY),
    Batch.Kind.LABEL: (Right.LABEL, Right.LABEL),
    Batch.Kind.LABEL_SHEET: (Right.LABEL, Right.LABEL),
    Batch.Kind.INSPECTION: (Right.PRINT, Right.PRINT_MANY),
    Batch.Kind.TEST: (Right.PRINT, Right.PRINT_MANY),
    Batch.Kind.FAIL_TAG: (Right.PRINT, Right.PRINT_MANY),
    Batch.Kind.STOP_TAG: (Right.PRINT, Right.PRINT_MANY),
    Batch.Kind.JOB_LIST: (Right.PRINT, Right.PRINT_MANY),
    Batch.Kind.BOARD: (Right.PRINT_MANY, Right.PRINT_MANY),
    Batch.Kind.FOLDER: (Right.PRINT_MANY, Right.PRINT_MANY),
    Batch.Kind.BUNDLE: (Right.PRINT_MANY, Right.PRINT_MANY),
}
_THINGS: dict[Batch.Kind, str] = {
    Batch.Kind.SERVICE: "sheet",
    Batch.Kind.PASSPORT: "passport",
    Batch.Kind.LABEL: "label",
    Batch.Kind.LABEL_SHEET: "label",
    Batch.Kind.INSPECTION: "record",
    Batch.Kind.TEST: "record",
    Batch.Kind.FAIL_TAG: "tag",
    Batch.Kind.STOP_TAG: "tag",
    Batch.Kind.JOB_LIST: "list",
    Batch.Kind.BOARD: "board",
    Batch.Kind.FOLDER: "page",
    Batch.Kind.BUNDLE: "bundle",
}
_UNSEALED = (
    Batch.Kind.LABEL,
    Batch.Kind.LABEL_SHEET,
    Batch.Kind.JOB_LIST,
    Batch.Kind.BOARD,
)
_LONG = (Batch.Kind.FOLDER, Batch.Kind.BUNDLE)
# The kinds that are asked for by machines alone, on the page for many machines.
BY_MACHINES = (
    Batch.Kind.SERVICE,
    Batch.Kind.PASSPORT,
    Batch.Kind.LABEL,
    Batch.Kind.LABEL_SHEET,
)


def _of_kinds(user: User, field: str, right: Right | None) -> Q:
    if right is not None:
        return Q(depot_id__in=depots_where(user, right))
    found = Q(pk__in=())
    for kind, (one, _) in RIGHTS.items():
        found |= Q(**{field: kind}, depot_id__in=depots_where(user, one))
    return found


class SheetQuerySet(WorkQuerySet):
    def visible_to(self, user: User, right: Right | None = None) -> Any:
        """Sheets of the person's depots: those that they may print, or all for another right."""
        return self.filter(_of_kinds(user, "batch__kind", right))


class Sheet(BackgroundWork):
    """One sheet: of a machine, of one of its records, of a person's jobs, or of the depot.

    ``content`` is frozen when it is sealed, so a reprint is equal.
    """

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="sheets")
    position = models.PositiveIntegerField()
    machine = models.ForeignKey(
        Machine, on_delete=models.PROTECT, related_name="sheets", null=True, blank=True
    )
    # The job whose work a service sheet tells; without one it is for use by hand.
    job = models.ForeignKey(
        "maintenance.Job", on_delete=models.PROTECT, related_name="sheets", null=True, blank=True
    )
    # The record that this paper shows, an inspection or a test.
    about = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="shown_on", null=True, blank=True
    )
    # Whose jobs a job list holds.
    person = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    # The record of the printing itself.
    record = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="sheet_row", null=True, blank=True
    )
    content = models.JSONField(null=True, blank=True)
    # The record of the erasure with which its content went.
    erased_with = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    pages = models.PositiveSmallIntegerField(default=0)
    # How far one that takes long is: in words, and in parts of all its parts.
    doing = models.CharField(max_length=80, blank=True)
    parts_done = models.PositiveIntegerField(default=0)
    parts_all = models.PositiveIntegerField(default=0)
    file = models.FileField(upload_to="paper/", blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    # The record that holds the SHA-256 of this file, of those printed with it too. The record of
    # the printing cannot: its own hash stands on the paper.
    file_record = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = SheetQuerySet.as_manager()
    # Told while it is gathered and drawn; set by who prints it.
    tell: Callable[[str, int, int], None] = staticmethod(lambda doing, done, of: None)

    class Meta:
        ordering = ("batch", "position")
        constraints = (
            models.UniqueConstraint(fields=("batch", "position"), name="place_once_a_batch"),
            models.UniqueConstraint(
                fields=("batch", "machine"),
                condition=Q(about=None, person=None),
                name="machine_once_a_batch",
            ),
            models.UniqueConstraint(fields=("batch", "about"), name="record_once_a_batch"),
            models.UniqueConstraint(fields=("batch", "person"), name="person_once_a_batch"),
        )

    def __str__(self) -> str:
        return f"{self.batch}: {self.subject}"

    @property
    def subject(self) -> str:
        """What the sheet is of, in a word: also its bookmark in the file of the batch."""
        if self.machine is not None:
            return f"{self.machine}, {self.about.number}" if self.about else str(self.machine)
        return self.person.name if self.person is not None else self.depot.name

    @property
    def of_machine(self) -> Machine:
        """The machine of a kind of paper that always has one.

        Raises:
            ValueError: it has none.
        """
        if self.machine is None:
            raise ValueError("this sheet is of no machine")
        return self.machine
