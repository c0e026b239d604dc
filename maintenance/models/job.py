"""Jobs: faults and services from report to close, with their time and parts; and the stops."""

from datetime import date
from typing import Any, Self

from django.db import models
from django.db.models import Min, Q

from maintenance.models.plan import DueLine
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Drive, Machine, Record, User
from plant.rights import Right, depots_where

FIRST_NUMBER = 1000


class JobQuerySet(models.QuerySet["Job"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))

    def open(self) -> Self:
        """Not yet closed or called off."""
        return self.exclude(state__in=(Job.State.CLOSED, Job.State.CALLED_OFF))

    def nobody_has(self) -> Self:
        """Nobody has begun it, was given it or said *I have it*."""
        return self.filter(state__in=Job.UNTAKEN, has_it__isnull=True)

    def create(self, **given: Any) -> "Job":
        """A job of a practice depot takes no number of the firm's run."""
        if given["machine"].depot.is_practice:
            given["pk"] = self.practice_key()
        return super().create(**given)

    def practice_key(self) -> int:
        """The next key of a practice job, below nought: no database counts on from there.

        Two who practise at once wait for each other, at the row of the oldest practice depot.
        """
        practised = Depot.objects.exclude(practice_of=None).order_by("pk")
        practised.select_for_update(no_key=True).only("pk").first()
        return min(Job.objects.aggregate(lowest=Min("pk"))["lowest"] or 0, 0) - 1


class Job(models.Model):
    """Booked work on one machine. Symptom, cause and action are kept apart."""

    class Kind(models.TextChoices):
        FAULT = "fault", _("Fault")
        SERVICE = "service", _("Service")
        TEST = "test", _("Test")
        BELT = "belt", _("Belt work")
        ORDER = "order", _("To order")

    class BeltWork(models.TextChoices):
        """What the background raises about one fitted belt, each once."""

        ORDER = "order", _("Order the next belt")
        FIRST_LOOK = "look 1", _("First look at a new belt")
        SECOND_LOOK = "look 2", _("Second look at a new belt")

    class State(models.TextChoices):
        REPORTED = "reported", _("Reported")
        LOOKED_AT = "looked at", _("Looked at")
        GIVEN_OUT = "given out", _("Given out")
        UNDER_WAY = "under way", _("Under way")
        WAITING = "waiting", _("Waiting")
        DONE = "work done", _("Work done")
        CLOSED = "closed", _("Checked and closed")
        CALLED_OFF = "called off", _("Called off")

    UNTAKEN = (State.REPORTED, State.LOOKED_AT)

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="jobs")
    kind = models.CharField(max_length=8, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.REPORTED)
    title = models.CharField(max_length=120)
    # Work that came due: at most one job for each cycle of a line, whoever raises it.
    due_line = models.ForeignKey(
        DueLine, on_delete=models.PROTECT, related_name="jobs", null=True, blank=True
    )
    cycle = models.PositiveIntegerField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    due_tenths = models.PositiveIntegerField(null=True, blank=True)
    # Belt work names its drive; what follows from one fitted belt, that belt too.
    drive = models.ForeignKey(
        Drive, on_delete=models.PROTECT, related_name="jobs", null=True, blank=True
    )
    belt_work = models.CharField(max_length=6, choices=BeltWork, blank=True)
    belt_key = models.CharField("belt that was fitted then", max_length=40, blank=True)
    opened_at = models.DateTimeField()
    opened_by_record = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="jobs_opened", null=True, blank=True
    )
    # Guards, electrics, brakes: closing it needs a release check.
    is_safety = models.BooleanField(default=False)
    given_to = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="jobs_given", null=True, blank=True
    )
    given_for = models.DateField("day it is given out for", null=True, blank=True)
    # Who said "I have it", and when; read by who told the fault.
    has_it = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="jobs_had", null=True, blank=True
    )
    has_it_since = models.DateTimeField(null=True, blank=True)
    # Since when it has been in its state; for a job never moved, since it was opened.
    state_since = models.DateTimeField(null=True, blank=True)
    waiting_for = models.CharField(max_length=120, blank=True)
    expected_on = models.DateField("wait expected to end", null=True, blank=True)
    # Estimated where the plan does not say it; the order within the day of the person.
    expected_minutes = models.PositiveSmallIntegerField("expected to take", null=True, blank=True)
    promised_at = models.DateTimeField("promised for", null=True, blank=True)
    day_place = models.PositiveSmallIntegerField(default=0, db_default=0)
    sent_back_because = models.CharField(max_length=400, blank=True)
    # A learner's work waits until a competent person has looked at it.
    countersign_wanted = models.BooleanField(default=False, db_default=False)
    # The job, closed shortly before, whose trouble this is again.
    back_again_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="back_again", null=True, blank=True
    )
    symptom = models.CharField(max_length=400, blank=True)
    cause = models.CharField(max_length=400, blank=True)
    action = models.CharField(max_length=1000, blank=True)
    # Which of the rule sheet's symptoms and causes these were; closed jobs count by them.
    symptom_key = models.CharField(max_length=30, blank=True, db_default="")
    cause_key = models.CharField(max_length=30, blank=True, db_default="")
    # Isolate-first: who confirmed it and when, before any cover came off.
    isolated_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    isolated_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="jobs_done", null=True, blank=True
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        User, on_delete=models.PROTECT, related_name="jobs_closed", null=True, blank=True
    )
    called_off_because = models.CharField(max_length=400, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ("-opened_at", "-pk")
        indexes = (
            models.Index(fields=("machine", "state"), name="job_by_machine_and_state"),
            models.Index(
                fields=("state", "due_on"),
                condition=~Q(state__in=("closed", "called off")),
                name="open_jobs_by_day",
            ),
            models.Index(
                fields=("given_for", "given_to"),
                condition=Q(given_to__isnull=False),
                name="jobs_given_by_day",
            ),
            models.Index(
                fields=("symptom_key", "machine"),
                condition=Q(state="closed") & ~Q(cause_key=""),
                name="causes_by_symptom",
            ),
        )
        constraints = (
            models.UniqueConstraint(
                fields=("due_line", "cycle"),
                condition=Q(due_line__isnull=False),
                name="due_work_raised_once",
            ),
            models.UniqueConstraint(
                fields=("drive", "belt_key", "belt_work"),
                condition=~Q(belt_work=""),
                name="belt_work_raised_once_a_belt",
            ),
        )

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    @property
    def number(self) -> str:
        """The number people say: J-1042, and in practice P-J42."""
        return f"J-{FIRST_NUMBER + self.pk}" if self.pk > 0 else f"P-J{-self.pk}"

    @property
    def is_open(self) -> bool:
        return self.state not in (self.State.CLOSED, self.State.CALLED_OFF)

    @property
    def nobody_has_it(self) -> bool:
        return self.state in self.UNTAKEN and self.has_it_id is None

    @property
    def needs_isolation(self) -> bool:
        """Whether the machine is isolated first: a test needs the supply, an order no machine."""
        return self.kind not in (self.Kind.TEST, self.Kind.ORDER)

    @property
    def minutes_expected(self) -> int | None:
        """[min] by the estimate, else by the plan; None where nobody said. Needs the plan line."""
        if self.expected_minutes is not None or self.due_line is None:
            return self.expected_minutes
        return self.due_line.line.minutes


class Labour(models.Model):
    """Minutes that one person put into one job."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="labour")
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    minutes = models.PositiveSmallIntegerField()
    learner = models.BooleanField("worked as a learner", default=False)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.person}: {self.minutes} min"


class PartUsedQuerySet(models.QuerySet["PartUsed"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(job__machine__depot_id__in=depots_where(user, right))


class PartUsed(models.Model):
    """A part that went into a job."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="parts")
    what = models.CharField(max_length=120)
    quantity = models.PositiveSmallIntegerField(default=1)
    # Of those taken from stock, how many were put back.
    returned = models.PositiveSmallIntegerField(default=0, db_default=0)
    taken_from = models.CharField(max_length=60, blank=True)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")

    objects = PartUsedQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(returned__lte=models.F("quantity")), name="no_more_back_than_taken"
            ),
        )

    def __str__(self) -> str:
        return f"{self.quantity} x {self.what}"

    @property
    def kept(self) -> int:
        """Pieces that stayed in the machine."""
        return self.quantity - self.returned


class StopQuerySet(models.QuerySet["Stop"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))

    def standing(self) -> Self:
        """Not freed by a release check."""
        return self.filter(released_by__isnull=True)


class Stop(models.Model):
    """Something wrong that speaks against using a machine, until a release check names it."""

    class Kind(models.TextChoices):
        STOP = "stop", _("Do not use")
        UNDECIDED = "undecided", _("Do not use, until a foreman decides")
        CARRY_ON = "carry on", _("Carry on with a note")

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="stops")
    kind = models.CharField(max_length=9, choices=Kind)
    item_key = models.CharField(max_length=40, blank=True)
    words = models.CharField(max_length=200)
    # Always critical: nobody can decide to carry on.
    always = models.BooleanField(default=False)
    since = models.DateTimeField()
    job = models.ForeignKey(
        Job, on_delete=models.PROTECT, related_name="stops", null=True, blank=True
    )
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="stops_made")
    decided_by = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="stops_decided", null=True, blank=True
    )
    note = models.CharField(max_length=400, blank=True)
    until = models.DateField(null=True, blank=True)
    released_by = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="stops_freed", null=True, blank=True
    )

    objects = StopQuerySet.as_manager()

    class Meta:
        ordering = ("since",)
        indexes = (
            models.Index(
                fields=("machine",), condition=Q(released_by__isnull=True), name="standing_stops"
            ),
        )
        constraints = (
            models.CheckConstraint(
                condition=Q(kind="carry on", always=False, until__isnull=False)
                | ~Q(kind="carry on"),
                name="carrying_on_has_an_end_and_is_never_for_critical",
            ),
        )

    def __str__(self) -> str:
        return self.words

    @property
    def waits_for_a_decision(self) -> bool:
        """Whether nobody decided on it yet, and somebody with the right may."""
        return self.kind == self.Kind.UNDECIDED and not self.always

    def carries_on(self, on: date) -> bool:
        """Whether somebody decided that the machine may be used with a note on that day."""
        return self.kind == self.Kind.CARRY_ON and self.until is not None and self.until >= on
