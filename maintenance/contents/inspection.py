"""Look-overs and inspections: the last one, and until when it holds by the rule sheet."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.translation import gettext as _

from maintenance.models import RuleSheet
from maintenance.rules import inspection as rule
from maintenance.rules import sheet
from maintenance.rules.words import day_text
from plant.models import Machine, Supply


@dataclass(frozen=True)
class LookOverDue:
    """How the regular look-over of a machine stands.

    due: the last day on which the last one holds; words: that in one line; cited: where the
    interval of the rule sheet is from.
    """

    due: date
    overdue: bool
    words: str
    cited: str

    @property
    def against(self) -> str:
        """Why the machine cannot be issued; empty while the last look-over holds."""
        if not self.overdue:
            return ""
        return _("Look-over needed before issue: the last one held until {due}").format(
            due=day_text(self.due)
        )


def look_over_due(machine: Machine, on: date) -> LookOverDue | None:
    """How the regular look-over of one machine stands; None where none is regular."""
    return look_over_due_of_many([machine], on, rules=rules_on(on))[machine.pk]


def look_over_due_of_many(
    machines: Iterable[Machine], on: date, *, rules: sheet.RuleSheet | None
) -> dict[int, LookOverDue | None]:
    """The same of many machines by their keys; reads nothing more from the database."""
    return {machine.pk: _due(machine, rules, on) for machine in machines}


def _due(machine: Machine, rules: sheet.RuleSheet | None, on: date) -> LookOverDue | None:
    interval = rules.look_interval(machine.supply) if rules else None
    looked_on = machine.depot.day_of(machine.looked_at) if machine.looked_at else None
    due = rule.look_over_due(interval, looked_on=looked_on)
    if interval is None or due is None:
        return None
    return LookOverDue(
        due=due,
        overdue=due < on,
        words=rule.look_over_words(interval, looked_on=looked_on, on=on),
        cited=sheet.cited(interval.source, interval.trust),
    )


def look_over_holds(on: date, *, zone: ZoneInfo, rules: sheet.RuleSheet | None) -> Q:
    """Machines whose regular look-over holds on that day, or that have none; said in SQL."""
    past = Q()
    for supply in Supply.values:
        held = rule.holds_from(rules.look_interval(supply) if rules else None, on=on)
        if held is not None:
            start = datetime.combine(held, time.min, tzinfo=zone)
            past |= Q(supply=supply, looked_at__lt=start)
    return ~past if past else Q()


def rules_on(on: date) -> sheet.RuleSheet | None:
    """What the rule sheet in force says; None where none was brought in."""
    try:
        return RuleSheet.objects.on(on).rules
    except RuleSheet.DoesNotExist:
        return None
