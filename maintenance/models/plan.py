"""Service plans: lines of a kind (or one machine), their steps, and when each falls due."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, Self

from django.db import models
from django.db.models import Q

from maintenance.rules.due import DueRule
from maintenance.rules.due_line import Asked
from plant.lazy_text import gettext_lazy as _
from plant.models import Counter, Machine, MachineKind, Measure, Place, User
from plant.rights import Right, depots_where


class KindSheet(models.Model):
    """The machine kinds with their ready-made plans as they were given out under one date."""

    name = models.CharField(max_length=60)
    dated = models.DateField()
    content = models.JSONField()

    class Meta:
        ordering = ("-dated",)
        constraints = (
            models.UniqueConstraint(fields=("name", "dated"), name="kind_sheet_once_a_day"),
        )

    def __str__(self) -> str:
        return f"{self.name}, {self.dated:%Y-%m-%d}"


def due_rule(line: Any) -> DueRule:
    """The rule of a line of a plan, kept or only wanted.

    Raises:
        ValueError: the figures make no rule.
    """
    return DueRule(
        first_tenths=line.first_tenths,
        every_tenths=line.every_tenths,
        first_months=line.first_months,
        every_months=line.every_months,
        first_days=line.first_days,
        every_days=line.every_days,
        counts_from="planned" if line.counts_from == "planned" else "done",
        measure=line.measure,
    )


class PlanLine(models.Model):
    """One kind of service: first at, then every; by a meter, the calendar, or both, whichever
    comes first.

    Its measure says which meter: figures are whole tenths of an hour, or of one count.
    """

    class Counts(models.TextChoices):
        DONE = "done", _("from when done")
        PLANNED = "planned", _("from the planned point")

    kind = models.ForeignKey(
        MachineKind, on_delete=models.CASCADE, related_name="plan_lines", null=True, blank=True
    )
    machine = models.ForeignKey(
        Machine, on_delete=models.CASCADE, related_name="own_plan_lines", null=True, blank=True
    )
    key = models.CharField(max_length=60)
    title = models.CharField(max_length=80)
    # 0 stands alone; 1 and up are services of one machine, the larger including the smaller.
    level = models.PositiveSmallIntegerField(default=0)
    supplies = models.JSONField(default=list, blank=True, help_text="Empty: whatever drives it")
    needs_belt = models.BooleanField(default=False)
    measure = models.CharField(max_length=8, choices=Measure, default=Measure.HOURS)
    first_tenths = models.PositiveIntegerField(null=True, blank=True)
    every_tenths = models.PositiveIntegerField(null=True, blank=True)
    first_months = models.PositiveSmallIntegerField(null=True, blank=True)
    every_months = models.PositiveSmallIntegerField(null=True, blank=True)
    first_days = models.PositiveSmallIntegerField(null=True, blank=True)
    every_days = models.PositiveSmallIntegerField(null=True, blank=True)
    counts_from = models.CharField(max_length=7, choices=Counts, default=Counts.DONE)
    notice_days = models.PositiveSmallIntegerField(default=14)
    notice_tenths = models.PositiveIntegerField(default=100)
    minutes = models.PositiveSmallIntegerField(default=30)
    is_test = models.BooleanField(
        "safety test", default=False, help_text="Cannot be put off for a machine in use."
    )
    from_on = models.DateField(default=date(2000, 1, 1))
    # From this version on the work is not asked any more.
    ended = models.BooleanField(default=False)
    source = models.CharField(max_length=200)
    trust = models.CharField(max_length=40)

    class Meta:
        ordering = ("kind", "title")
        constraints = (
            models.CheckConstraint(
                condition=Q(kind__isnull=False) ^ Q(machine__isnull=False),
                name="plan_line_of_a_kind_or_a_machine",
            ),
            models.UniqueConstraint(
                fields=("kind", "key", "from_on"), name="plan_line_once_a_kind"
            ),
            models.UniqueConstraint(
                fields=("machine", "key", "from_on"), name="plan_line_once_a_machine"
            ),
        )

    def __str__(self) -> str:
        return self.title

    @staticmethod
    def in_force(versions: Iterable["PlanLine"], on: date) -> dict[str, "PlanLine"]:
        """By key, the newest version of each line that has begun; else the first there is."""
        kept: dict[str, PlanLine] = {}
        for line in sorted(versions, key=lambda each: each.from_on):
            if line.key not in kept or line.from_on <= on:
                kept[line.key] = line
        return kept

    def applies_to(self, machine: Machine) -> bool:
        """Whether a machine of the line's kind is given this line."""
        return (
            not self.ended
            and (not self.supplies or machine.supply in self.supplies)
            and (machine.kind.belt_driven or not self.needs_belt)
        )

    @property
    def rule(self) -> DueRule:
        return due_rule(self)

    @property
    def asked(self) -> Asked:
        return Asked(
            rule=None if self.ended else self.rule,
            notice_days=self.notice_days,
            notice_tenths=self.notice_tenths,
            is_test=self.is_test,
        )


class PlanStep(models.Model):
    """What to do, with its target, unit and at most one caution."""

    line = models.ForeignKey(PlanLine, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=200)
    target = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)
    caution = models.CharField(max_length=120, blank=True)
    opens_guard = models.BooleanField(default=False)

    class Meta:
        ordering = ("position",)
        constraints = (
            models.UniqueConstraint(fields=("line", "position"), name="step_place_once_a_line"),
        )

    def __str__(self) -> str:
        return self.text


class DueLineQuerySet(models.QuerySet["DueLine"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(machine__depot_id__in=depots_where(user, right))

    def in_fleet(self) -> Self:
        """Of machines that are not gone."""
        return self.exclude(machine__place=Place.GONE)

    def announced(self, on: date) -> Self:
        """Inside the notice or past it, by the calendar or by hours."""
        return self.filter(Q(raise_on__lte=on) | Q(hours_near=True))

    def past(self, on: date) -> Self:
        """Past their last day or figure."""
        return self.filter(self.is_past(on))

    @staticmethod
    def is_past(on: date) -> Q:
        return Q(past_after__lt=on) | Q(hours_past=True)


class DueLine(models.Model):
    """Where one machine stands on one line: last done, next due, and how often it was done."""

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="due_lines")
    line = models.ForeignKey(PlanLine, on_delete=models.PROTECT, related_name="due_lines")
    # The total that the line counts by; none where that is the machine's hours.
    counter = models.ForeignKey(
        Counter, on_delete=models.SET_NULL, related_name="due_lines", null=True, blank=True
    )
    start_on = models.DateField(help_text="Counting began on this day")
    start_tenths = models.PositiveIntegerField(null=True, blank=True)
    last_done_on = models.DateField(null=True, blank=True)
    last_done_tenths = models.PositiveIntegerField(null=True, blank=True)
    cycle = models.PositiveIntegerField(default=1, help_text="1 until first done, then one more.")
    # Cycles passed over without being done, since each cycle may have one job only.
    passed_over = models.PositiveIntegerField(default=0)
    # Not asked of the machine at present; the line stays for its history and never falls due.
    resting_because = models.CharField(max_length=400, blank=True)
    due_on = models.DateField(null=True, blank=True, db_index=True)
    due_tenths = models.PositiveIntegerField(null=True, blank=True)
    put_off_to = models.DateField(null=True, blank=True)
    # When the hours are likely up, by the use rate; no latest where use may have stopped.
    early_on = models.DateField(null=True, blank=True)
    likely_on = models.DateField(null=True, blank=True)
    late_on = models.DateField(null=True, blank=True)
    # No meter tells the use at present: the days above are an estimate.
    is_estimate = models.BooleanField(default=False)
    # The day to plan for: due, put off to, or the hours likely up, whichever is first.
    plan_on = models.DateField(null=True, blank=True, db_index=True)
    # The day and the figure from which the work is announced: due less the notice.
    raise_on = models.DateField(null=True, blank=True)
    raise_tenths = models.IntegerField(null=True, blank=True)
    # The last day on which it is not past. Hours are compared when they change, not when asked.
    past_after = models.DateField(null=True, blank=True)
    hours_near = models.BooleanField(default=False)
    hours_past = models.BooleanField(default=False)
    worked_out_at = models.DateTimeField()

    objects = DueLineQuerySet.as_manager()

    class Meta:
        ordering = ("due_on", "pk")
        constraints = (
            models.UniqueConstraint(fields=("machine", "line"), name="line_once_a_machine"),
        )
        indexes = (
            models.Index(fields=("raise_on",), name="due_line_by_notice"),
            models.Index(fields=("past_after",), name="due_line_by_last_day"),
            models.Index(fields=("machine",), condition=Q(hours_near=True), name="hours_near"),
            models.Index(fields=("worked_out_at",), name="due_line_by_work_out"),
        )

    def __str__(self) -> str:
        return f"{self.line} of {self.machine}"

    @property
    def by_hours(self) -> bool:
        return self.line.measure == Measure.HOURS

    def total_tenths(self, machine: Machine) -> int | None:
        """[0.1] What its meter stands at: of an hour, or of one count; None where none is known."""
        if self.by_hours:
            return machine.hours_tenths
        return self.counter.total_tenths if self.counter else None

    def broken_at(self, machine: Machine) -> datetime | None:
        """Since when the meter that it counts by is broken; None where it is not."""
        if self.by_hours:
            return machine.meter_broken_at
        return self.counter.broken_at if self.counter else None

    @property
    def done(self) -> tuple[tuple[date, int | None], ...]:
        """The last completion, as the rules take it; nothing when there was none."""
        return () if self.last_done_on is None else ((self.last_done_on, self.last_done_tenths),)
