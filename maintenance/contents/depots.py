"""Depots with their settings, each told by its effect, and what the rule sheets hold."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Q
from django.utils.translation import gettext as _

from maintenance.models import MoneySetting, RuleSheet
from maintenance.rules.sheet import cited
from maintenance.rules.words import day_text
from plant.models import Depot, Role, User
from plant.rights import Right, depots_where


@dataclass(frozen=True)
class Setting:
    """One setting as it stands: what it is called, how it is set, and what that does."""

    name: str
    value: str
    effect: str
    link: str = ""


@dataclass(frozen=True)
class DepotTold:
    depot: Depot
    people: int
    administrators: int
    settings: list[Setting]
    may_change: bool


def depots_told(user: User) -> list[DepotTold]:
    """The depots whose people the person looks after; a handful of queries for all of them."""
    depots = depots_where(user, Right.PEOPLE)
    changes = depots_where(user, Right.DEPOTS)
    here = Q(memberships__user__is_active=True)
    rows: Any = (
        Depot.objects.filter(pk__in=depots)
        .select_related("money")
        .annotate(
            people=Count("memberships__user", filter=here, distinct=True),
            administrators=Count(
                "memberships__user",
                filter=here & Q(memberships__role=Role.ADMINISTRATOR),
                distinct=True,
            ),
        )
    )
    return [
        DepotTold(
            depot, depot.people, depot.administrators,
            own_settings(depot) + settings_of_others(depot), depot.pk in changes,
        )
        for depot in rows
    ]  # fmt: skip


def own_settings(depot: Depot) -> list[Setting]:
    """What an administrator sets."""
    label = (
        _(
            "Whoever holds a machine's label checks it, reports a fault and stops it, without an "
            "account."
        )
        if depot.checks_by_label
        else _("A label asks to sign in first.")
    )
    alone = (
        _("Where two people are asked for, one may act alone with a written reason on the record.")
        if depot.one_person
        else _("Where two people are asked for, two it is.")
    )
    return [
        Setting(_("Time zone"), depot.time_zone, _("Days begin and end by this clock.")),
        Setting(_("Checks by label"), _on(depot.checks_by_label), label),
        Setting(_("One-person depot"), _on(depot.one_person), alone),
        Setting(
            _("Belt marked with a bare inch number"), depot.get_length_system_display(),
            _("Its datum length follows by this; a mark that states a length outranks it."),
        ),
    ]  # fmt: skip


def settings_of_others(depot: Depot) -> list[Setting]:
    """What the depot's managers set on pages of their own."""
    money = getattr(depot, "money", None) or MoneySetting(depot=depot)
    return [
        Setting(
            _("Money shared with foremen"),
            _on(money.foremen_see),
            _("Foremen see and enter rates, prices and what jobs cost.")
            if money.foremen_see
            else _("Only managers see money."),
            "maintenance:depot_money",
        ),
        Setting(
            _("Days to get a belt"),
            _("{belt_lead_days} days").format(belt_lead_days=depot.belt_lead_days),
            _("A belt's order is raised so long before it runs out, where its part says no other."),
            "maintenance:belt_lead",
        ),
    ]


def _on(value: bool) -> str:
    return "on" if value else "off"


@dataclass(frozen=True)
class SheetTold:
    """A rule sheet: whether it is in force, what it holds, and where its figures are from."""

    sheet: RuleSheet
    standing: str
    note: str
    holds: list[tuple[str, int]]
    limits: list[tuple[str, str, str]]
    intervals: list[tuple[str, str]]
    trust: list[tuple[str, str]]


def rule_sheets(*, on: date) -> list[SheetTold]:
    """Every sheet that is loaded, the newest first."""
    rows = list(RuleSheet.objects.order_by("-dated", "name"))
    if not rows:
        return []
    current = RuleSheet.objects.on(on)
    return [_told(row, current=current, on=on) for row in rows]


def _told(row: RuleSheet, *, current: RuleSheet, on: date) -> SheetTold:
    content: dict[str, Any] = row.content
    if row.pk == current.pk:
        standing = _("in force")
        if row.dated > on:
            standing = _("in force, though dated {dated}: no older one is loaded").format(
                dated=day_text(row.dated)
            )
    elif row.dated > on:
        standing = _("from {dated} on").format(dated=day_text(row.dated))
    else:
        standing = _("over; records made under it keep it")
    holds = [
        (_("questions of the check before use"), len(content.get("items", []))),
        (
            _("points of look-overs and inspections"),
            len(content.get("look_over", {}).get("items", [])),
        ),
        (_("forms of electrical tests"), len(content.get("test_forms", []))),
        (_("limits"), len(content.get("limits", []))),
        (_("RCD types"), len(content.get("rcd", []))),
        (_("intervals"), len(content.get("intervals", []))),
        (_("causes of faults"), len(content.get("finding", {}).get("causes", []))),
        (_("keep times"), len(content.get("keep", []))),
    ]
    return SheetTold(
        sheet=row,
        standing=standing,
        note=content.get("note", ""),
        holds=[(what, count) for what, count in holds if count],
        limits=[
            (each["words"], _limit(each), cited(each["source"], each["trust"]))
            for each in content.get("limits", [])
        ],
        intervals=[
            (each["words"], cited(each["source"], each["trust"]))
            for each in content.get("intervals", [])
        ],
        trust=list(content.get("marks", {}).items()),
    )


def _limit(each: dict[str, Any]) -> str:
    least, most, unit = each.get("least"), each.get("most"), each.get("unit", "")
    if least is not None and most is not None:
        return _("{least} to {most} {unit}").format(least=f"{least:g}", most=f"{most:g}", unit=unit)
    if least is not None:
        return _("{least} {unit} or more").format(least=f"{least:g}", unit=unit)
    return (
        _("{most} {unit} or less").format(most=f"{most:g}", unit=unit) if most is not None else ""
    )
