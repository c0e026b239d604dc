"""What a person is competent for at a depot, from when, until when, and on what ground."""

from typing import Any, Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext

from maintenance.rules import competence as rule
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Record
from plant.models.people import User
from plant.rights import Right, depots_where


class Skill(models.TextChoices):
    """The kinds of work that ask for a competence beside a right."""

    TEST = "test", _("Electrical tests")
    RELEASE = "release", _("Release checks")
    INSPECT = "inspect", _("Look-overs and inspections")
    COUNTERSIGN = "countersign", _("Countersign a learner's work")

    @property
    def within(self) -> str:
        """The kind of work within a sentence: competence for electrical tests."""
        return {Skill.COUNTERSIGN: gettext("countersigning a learner's work")}.get(
            self, self.label.lower()
        )


class CompetenceQuerySet(models.QuerySet["Competence"]):
    def visible_to(self, user: User, right: Right = Right.SEE) -> Self:
        return self.filter(depot_id__in=depots_where(user, right))

    def of(self, user: User, *, depot_id: int, skill: str) -> Self:
        return self.filter(user=user, depot_id=depot_id, skill=skill)

    def not_ended(self) -> Self:
        return self.filter(ended_on__isnull=True)

    def ending(self, first: Any, last: Any) -> Self:
        """Those whose last day lies between these two."""
        return self.not_ended().filter(valid_until__range=(first, last))


class Competence(models.Model):
    """One competence, as it was given. It is ended in the open, never changed."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="competences")
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="competences")
    skill = models.CharField(max_length=12, choices=Skill)
    family = models.SlugField(
        "family of machines", max_length=40, blank=True, help_text="Empty: every family."
    )
    valid_from = models.DateField()
    valid_until = models.DateField("last day", null=True, blank=True)
    told = models.CharField("certificate, or the ground for it", max_length=200)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="competence_row")
    ended_on = models.DateField(null=True, blank=True)
    ended_because = models.CharField(max_length=200, blank=True)
    end_record = models.OneToOneField(
        Record, on_delete=models.PROTECT, related_name="competence_ended", null=True, blank=True
    )

    objects = CompetenceQuerySet.as_manager()

    class Meta:
        ordering = ("skill", "family", "-valid_from", "-pk")
        indexes = (models.Index(fields=("user", "depot", "skill"), name="competence_by_person"),)
        constraints = (
            models.CheckConstraint(
                condition=Q(valid_until__isnull=True) | Q(valid_until__gte=F("valid_from")),
                name="competence_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, end_record__isnull=True)
                | Q(ended_on__isnull=False, end_record__isnull=False),
                name="competence_ended_by_a_record",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_skill_display()}, {self.for_machines}"

    @property
    def for_machines(self) -> str:
        """The machines that it is for, in words."""
        return self.family.replace("_", " ") or gettext("all machines")

    @property
    def skill_within(self) -> str:
        return Skill(self.skill).within

    @property
    def held(self) -> rule.Held:
        """As the rule wants it; needs the record and its depot."""
        return rule.Held(
            number=self.record.number,
            family=self.family,
            valid_from=self.valid_from,
            valid_until=self.valid_until,
            ended_on=self.ended_on,
        )
