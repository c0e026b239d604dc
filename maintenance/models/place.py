"""Where machines go: hirers, stays with them or on our own sites, transfers, and every move."""

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Machine, Place, Record
from plant.models.people import User
from plant.rights import Right, depots_where

# The site of a stay whose words went when their time was over; its hirer went with them.
WORDS_ERASED = "words erased"


class HirerQuerySet(models.QuerySet["Hirer"]):
    def visible_to(self, user: User, right: Right = Right.MOVE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))


class Hirer(models.Model):
    """A firm or a person who takes machines out from one depot."""

    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="hirers")
    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=400, blank=True)

    objects = HirerQuerySet.as_manager()

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(fields=("depot", "name"), name="hirer_once_a_depot"),
        )

    def __str__(self) -> str:
        return self.name


class MoveQuerySet(models.QuerySet["Move"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))


class Move(models.Model):
    """One change of place, as its record tells it. The newest says since when."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="moves")
    start = models.CharField("from", max_length=8, choices=Place)
    to = models.CharField(max_length=8, choices=Place)
    at = models.DateTimeField()
    reason = models.CharField(max_length=400, blank=True)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="move_row")

    objects = MoveQuerySet.as_manager()

    class Meta:
        ordering = ("-at", "-pk")
        indexes = (models.Index(fields=("machine", "-at"), name="move_by_machine"),)

    def __str__(self) -> str:
        return f"{self.machine}: {self.get_start_display()} to {self.get_to_display()}"


class StayQuerySet(models.QuerySet["Stay"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))

    def open(self) -> Self:
        """Not ended: the machine is there now."""
        return self.filter(back_at__isnull=True)


class Stay(models.Model):
    """One stay with a hirer or on a site of our own, until it goes on or comes back."""

    class Fuel(models.TextChoices):
        NOT_TOLD = "", _("Not told")
        EMPTY = "empty", _("Empty")
        QUARTER = "1/4", _("A quarter")
        HALF = "1/2", _("Half")
        THREE_QUARTERS = "3/4", _("Three quarters")
        FULL = "full", _("Full")

    class Clean(models.TextChoices):
        NOT_TOLD = "", _("Not told")
        CLEAN = "clean", _("Clean")
        DIRTY = "dirty", _("Dirty: it has to be cleaned")

    class Plan(models.TextChoices):
        NOTHING = "", _("Nothing falls due")
        VISIT = "visit", _("A fitter visits the site before that day")
        SWAP = "swap", _("Another machine is brought, and this one fetched, before that day")
        ANYWAY = "anyway", _("It goes all the same, with a reason")

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="stays")
    # None: a site of our own.
    hirer = models.ForeignKey(
        Hirer, on_delete=models.PROTECT, related_name="stays", null=True, blank=True
    )
    site = models.CharField(max_length=120)
    site_phone = models.CharField(max_length=40, blank=True)
    out_at = models.DateTimeField()
    due_back_on = models.DateField()
    out_tenths = models.PositiveIntegerField(null=True, blank=True)
    went_with = models.CharField(max_length=400, blank=True)
    condition_out = models.CharField(max_length=400, blank=True)
    fuel_out = models.CharField(max_length=5, choices=Fuel, blank=True, default="")
    clean_out = models.CharField(max_length=5, choices=Clean, blank=True, default="")
    plan = models.CharField(max_length=6, choices=Plan, blank=True, default="")
    plan_reason = models.CharField(max_length=400, blank=True)
    # The last fact told about it: the issue, a pass on, or a later day to be back.
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="stay_begun")
    back_at = models.DateTimeField(null=True, blank=True)
    back_tenths = models.PositiveIntegerField(null=True, blank=True)
    came_with = models.CharField(max_length=400, blank=True)
    condition_in = models.CharField(max_length=400, blank=True)
    missing_in = models.CharField("did not come back", max_length=400, blank=True)
    fuel_in = models.CharField(max_length=5, choices=Fuel, blank=True, default="")
    clean_in = models.CharField(max_length=5, choices=Clean, blank=True, default="")
    ended = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="stays_ended", null=True, blank=True
    )

    objects = StayQuerySet.as_manager()

    class Meta:
        ordering = ("-out_at", "-pk")
        indexes = (
            models.Index(
                fields=("due_back_on",), condition=Q(back_at__isnull=True), name="open_stays_by_day"
            ),
        )
        constraints = (
            models.UniqueConstraint(
                fields=("machine",), condition=Q(back_at__isnull=True), name="one_stay_at_a_time"
            ),
        )

    def __str__(self) -> str:
        return f"{self.machine} at {self.site}"

    @property
    def with_whom(self) -> str:
        if self.site == WORDS_ERASED:
            return WORDS_ERASED
        return self.hirer.name if self.hirer else gettext("our own site")


class TransferQuerySet(models.QuerySet["Transfer"]):
    def visible_to(self, user: User, right: Right = Right.MOVE) -> Self:
        """Those that leave or are meant for a depot of the person's."""
        depots = depots_where(user, right)
        return self.filter(Q(from_depot_id__in=depots) | Q(to_depot_id__in=depots))

    def open(self) -> Self:
        """On the way: neither received nor turned back nor lost."""
        return self.filter(ended_at__isnull=True)


class Transfer(models.Model):
    """A machine sent from one depot to another. It counts at the sender until it is received."""

    class End(models.TextChoices):
        NONE = "", _("On the way")
        RECEIVED = "received", _("Received")
        TURNED_BACK = "back", _("Turned back")
        LOST = "lost", _("Missing on the way")

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="transfers")
    from_depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="sent")
    to_depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="coming")
    sent_at = models.DateTimeField()
    went_with = models.CharField(max_length=400, blank=True)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="transfer_sent")
    ended_at = models.DateTimeField(null=True, blank=True)
    end = models.CharField(max_length=8, choices=End, blank=True, default="")
    ended = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="transfers_ended", null=True, blank=True
    )

    objects = TransferQuerySet.as_manager()

    class Meta:
        ordering = ("-sent_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("machine",), condition=Q(ended_at__isnull=True), name="on_one_way_at_a_time"
            ),
            models.CheckConstraint(
                condition=~Q(from_depot=models.F("to_depot")), name="sent_to_another_depot"
            ),
        )

    def __str__(self) -> str:
        return f"{self.machine}: {self.from_depot} to {self.to_depot}"
