"""The weeks ahead of one depot: due work against the fitters' time."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from maintenance.contents.open_days import open_days
from maintenance.models import DueLine, Job
from maintenance.rules import ahead as rule
from maintenance.rules.words import MONTHS, day_text
from plant.drawings.svg import to_svg
from plant.drawings.weeks_ahead import Bar, weeks_ahead
from plant.models import Depot, Place

_NOT_PLANNED = (Place.GONE, Place.MISSING, Place.LAID_UP)


@dataclass(frozen=True)
class Ahead:
    """The weeks; whether the fitters' time was ever given; and open jobs that nobody estimated."""

    weeks: tuple[rule.Week, ...]
    hours_given: bool
    without_minutes: int


def ahead(depot: Depot, on: date) -> Ahead:
    """What the coming weeks want of one depot; five queries."""
    days = open_days([depot])[depot.pk]
    last = on + timedelta(days=7 * rule.WEEKS)
    lines = (
        DueLine.objects.filter(machine__depot=depot, plan_on__lte=last)
        .exclude(machine__place__in=_NOT_PLANNED)
        .values_list("plan_on", "line__minutes", "line__every_days", "line__every_months")
    )
    works = [
        rule.Work(on=plan_on, minutes=minutes, every_days=every_days, every_months=every_months)
        for plan_on, minutes, every_days, every_months in lines
        if plan_on is not None
    ]
    raised = Job.objects.open().filter(machine__depot=depot, due_line__isnull=True)
    belts = raised.exclude(belt_work="").filter(due_on__lte=last, expected_minutes__isnull=False)
    works += [
        rule.Work(on=due_on, minutes=minutes, every_days=None, every_months=None)
        for due_on, minutes in belts.values_list("due_on", "expected_minutes")
        if due_on is not None and minutes is not None
    ]
    faults = raised.filter(belt_work="")
    return Ahead(
        weeks=rule.look_ahead(works, start=on, is_open=days.is_open, minutes_on=days.minutes_on),
        hours_given=days.told and any(days.minutes.values()),
        without_minutes=faults.count(),
    )


@dataclass(frozen=True)
class Picture:
    """A drawing ready to stand in a page."""

    svg: str


def picture(found: Ahead) -> Picture:
    """The weeks as a drawing for the page, with their words for who cannot see it."""
    bars = [
        Bar(
            label=f"{week.first.day} {MONTHS[week.first.month - 1]}",
            needed_h=week.needed / 60,
            available_h=week.available / 60 if found.hours_given else None,
        )
        for week in found.weeks
    ]
    told = "; ".join(
        (
            _("week of {first}: {needed} h needed of {available} h")
            if found.hours_given
            else _("week of {first}: {needed} h needed")
        ).format(
            first=day_text(week.first),
            needed=f"{week.needed / 60:.1f}",
            available=f"{week.available / 60:.1f}" if found.hours_given else "",
        )
        for week in found.weeks
    )
    title = _("Fitters' hours in the weeks ahead")
    return Picture(to_svg(weeks_ahead(bars), title=title, description=told))
