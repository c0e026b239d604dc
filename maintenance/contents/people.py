"""The people of a depot with what they are competent for, and whose competence ends soon."""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import DateField, Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from maintenance.models import Competence
from maintenance.rules import competence as rule
from maintenance.rules.words import day_text
from plant.kept import Given, Kept
from plant.models import Depot, Membership, Role, User
from plant.rights import ON_A_PHONE, Right, depots_where


@dataclass
class Person:
    """One person in one depot.

    member: the key that stands for both in an address; on_phones: may be given a first code.
    """

    user: User
    depot: Depot
    member: int
    roles: list[str] = field(default_factory=list)
    learner: bool = False
    on_phones: bool = False
    competences: list["Shown"] = field(default_factory=list)


@dataclass(frozen=True)
class Shown:
    """A competence with how it stands today: in words, and whether it can be ended."""

    competence: Competence
    words: str
    counts: bool


@dataclass(frozen=True)
class Ending:
    """A competence whose last day is near, with nothing after it."""

    competence: Competence
    words: str


def people_of(user: User, *, on: date) -> list[tuple[Depot, list[Person]]]:
    """The people of the depots where the person may give competences; a handful of queries."""
    depots = depots_where(user, Right.PEOPLE)
    found: dict[tuple[int, int], Person] = {}
    members = Membership.objects.filter(depot__in=depots, user__is_active=True)
    order = [str(role) for role in Role]
    for row in members.select_related("user", "depot").order_by("depot__name", "user__name", "pk"):
        key = (row.depot_id, row.user_id)
        person = found.setdefault(key, Person(row.user, row.depot, row.pk))
        person.roles.append(row.role)
        person.learner |= row.learner
        person.on_phones |= row.role in ON_A_PHONE and row.user_id != user.pk
    rows = Competence.objects.filter(depot__in=depots).select_related("record__depot")
    for each in rows:
        if holder := found.get((each.depot_id, each.user_id)):
            holder.competences.append(shown(each, on=on))
    by_depot: dict[int, tuple[Depot, list[Person]]] = {}
    for person in found.values():
        person.roles = [
            str(Role(r).label) for r in sorted(person.roles, key=lambda r: order.index(r))
        ]
        person.competences.sort(key=lambda each: not each.counts)
        by_depot.setdefault(person.depot.pk, (person.depot, []))[1].append(person)
    return list(by_depot.values())


def person_of(member: Membership, *, viewer: User, on: date) -> Person:
    """One person at one depot, with everything they were given there."""
    rows = Membership.objects.filter(user=member.user, depot=member.depot)
    held = {row.role: row for row in rows}
    order = [str(role) for role in Role]
    person = Person(
        member.user,
        member.depot,
        member.pk,
        roles=[str(Role(role).label) for role in sorted(held, key=order.index)],
        learner=any(row.learner for row in rows),
        on_phones=any(role in ON_A_PHONE for role in held) and member.user_id != viewer.pk,
    )
    given = Competence.objects.filter(user=member.user, depot=member.depot)
    person.competences = sorted(
        (shown(each, on=on) for each in given.select_related("record__depot")),
        key=lambda each: not each.counts,
    )
    return person


def shown(each: Competence, *, on: date) -> Shown:
    held = each.held
    if each.ended_on is not None:
        return Shown(each, _("ended on {ended_on}").format(ended_on=day_text(each.ended_on)), False)
    if held.has_run_out(on):
        assert each.valid_until is not None
        return Shown(
            each,
            _("ran out on {valid_until}").format(valid_until=day_text(each.valid_until)),
            False,
        )
    last = (
        _("until {valid_until}").format(valid_until=day_text(each.valid_until))
        if each.valid_until
        else _("without a last day")
    )
    if each.valid_from > on:
        return Shown(
            each,
            _("from {valid_from}, {last}").format(valid_from=day_text(each.valid_from), last=last),
            True,
        )
    return Shown(each, last, True)


def ending_soon(user: User, *, right: Right, on: date) -> list[Ending]:
    """Whose competence ends within the notice with nothing that follows it, the nearest first."""
    return [
        Ending(each, _ends(each))
        for each in _ENDING.rows(user, right, on=on, notice=on + rule.NOTICE)
    ]


def _ending(user: User, right: Right) -> QuerySet[Competence]:
    on: Any = Given("on", DateField())
    notice: Any = Given("notice", DateField())
    here = Competence.objects.visible_to(user, right).ending(on, notice)
    here = here.filter(user__is_active=True, user__memberships__depot=F("depot"))
    follows = Competence.objects.not_ended().filter(
        Q(valid_until__isnull=True) | Q(valid_until__gt=notice),
        Q(family="") | Q(family=OuterRef("family")),
        user=OuterRef("user"), depot=OuterRef("depot"), skill=OuterRef("skill"),
    )  # fmt: skip
    read = ("skill", "family", "depot", "told", "valid_until", "user__name")
    rows = here.exclude(Exists(follows)).select_related("user").only(*read)
    return rows.order_by("valid_until", "user__name").distinct()


_ENDING = Kept(_ending)


def _ends(each: Competence) -> str:
    assert each.valid_until is not None
    told = (
        _("Competence of {user} for {skill} on {machines} ends on {valid_until}.")
        if each.family
        else _("Competence of {user} for {skill} ends on {valid_until}.")
    )
    return told.format(
        user=each.user.name,
        skill=each.skill_within,
        machines=each.for_machines,
        valid_until=day_text(each.valid_until),
    )
