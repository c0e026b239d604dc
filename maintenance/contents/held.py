"""Held: every machine that must not be used, what stopped it, and what would free it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, Min, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.contents.fleet import with_use
from maintenance.contents.inspection import rules_on
from maintenance.contents.test import forms_of
from maintenance.models import ElectricalTest, Job, Stop
from maintenance.rules import fitness
from maintenance.rules import held as rule
from maintenance.rules.sheet import RuleSheet
from plant.models import Machine, Place, User

# Where the next step lies with whom; the value stands in the address.
DECIDE, WORK, RELEASE = "decide", "work", "release"
NEXT: dict[str, str] = {
    DECIDE: _("A foreman decides"),
    WORK: _("Work or a test goes on"),
    RELEASE: _("Only the release check is left"),
}
_ENDED = (Job.State.DONE, Job.State.CLOSED, Job.State.CALLED_OFF)


@dataclass(frozen=True, kw_only=True)
class Held:
    """A machine with its stops, oldest first, and the steps that free it."""

    stops: tuple[Stop, ...]
    steps: tuple[str, ...]

    @property
    def since(self) -> datetime:
        return min(stop.since for stop in self.stops)


def held(user: User, on: date) -> QuerySet[Machine]:
    """The machines of the person's depots that must not be used, with the oldest stop's moment."""
    since = (
        Stop.objects.standing()
        .filter(machine=OuterRef("pk"))
        .exclude(_carried(on))
        .order_by()
        .values("machine")
        .annotate(first=Min("since"))
    )
    seen = Machine.objects.visible_to(user).exclude(place=Place.GONE)
    return (
        with_use(seen, fitness.DO_NOT_USE, on)
        .select_related("kind", "depot")
        .annotate(since=Subquery(since.values("first")))
        .order_by("since", "number_key")
    )


def waiting_for(machines: QuerySet[Machine], step: str, on: date) -> QuerySet[Machine]:
    """Of these, the ones whose next step is that one of NEXT."""
    stops = Stop.objects.standing().exclude(_carried(on))
    undecided = Q(kind=Stop.Kind.UNDECIDED, always=False) | Q(kind=Stop.Kind.CARRY_ON)
    to_decide = Q(pk__in=stops.filter(undecided).values("machine"))
    open_job = Q(job__isnull=False) & ~Q(job__state__in=_ENDED)
    to_do = Q(
        pk__in=stops.filter(open_job | Q(job__countersign_wanted=True)).values("machine")
    ) | Q(pk__in=stops.filter(record__in=_failed_and_not_passed()).values("machine"))
    return machines.filter(
        {DECIDE: to_decide, WORK: ~to_decide & to_do, RELEASE: ~to_decide & ~to_do}[step]
    )


def _failed_and_not_passed() -> QuerySet[ElectricalTest, Any]:
    """The records of failed tests without a later pass of the same form. (Where the plate was put
    right since, told() also lets a pass of the same item count, which SQL cannot know.)"""
    later = ElectricalTest.objects.counting().filter(
        machine=OuterRef("machine"), form=OuterRef("form"), at__gt=OuterRef("at")
    )
    return ElectricalTest.objects.filter(~Exists(later), passed=False).values("record")


def told(machines: Iterable[Machine], on: date) -> dict[int, Held]:
    """What stopped each and what would free it: the same few queries, whatever their number."""
    by_pk = {machine.pk: machine for machine in machines}
    stops: dict[int, list[Stop]] = {pk: [] for pk in by_pk}
    for stop in (
        Stop.objects.standing()
        .filter(machine__in=list(by_pk))
        .exclude(_carried(on))
        .select_related("job")
    ):
        stops[stop.machine_id].append(stop)
    tests = _tests_open(by_pk, [stop for each in stops.values() for stop in each], rules_on(on))
    return {
        pk: Held(
            stops=tuple(stops[pk]),
            steps=rule.steps(
                tuple(_standing(stop, tests) for stop in stops[pk]),
                one_person=machine.depot.one_person,
            ),
        )
        for pk, machine in by_pk.items()
    }


def _standing(stop: Stop, tests: dict[UUID, str]) -> rule.Standing:
    job = stop.job
    under_way = job is not None and job.state not in _ENDED
    return rule.Standing(
        decision=stop.waits_for_a_decision,
        ended=stop.until if stop.kind == Stop.Kind.CARRY_ON else None,
        job=job.number if job is not None and under_way else "",
        job_state=job.get_state_display() if job is not None and under_way else "",
        countersign=job.number if job is not None and job.countersign_wanted else "",
        test=tests.get(stop.record_id, ""),
    )


def _tests_open(
    machines: dict[int, Machine], stops: list[Stop], sheet: RuleSheet | None
) -> dict[UUID, str]:
    """By the record of each failed test behind these stops that none has passed since: its title.

    As the release check asks: a pass of the same form, or of the same item where the machine has
    that form no more.
    """
    failed = list(
        ElectricalTest.objects.filter(record__in=[stop.record_id for stop in stops], passed=False)
    )
    if not failed:
        return {}
    passes: dict[int, list[ElectricalTest]] = {}
    for test in ElectricalTest.objects.counting().filter(
        machine__in={test.machine_id for test in failed}
    ):
        passes.setdefault(test.machine_id, []).append(test)
    still = {}
    for test in failed:
        machine = machines[test.machine_id]
        forms = {form.key for form in forms_of(machine, sheet)} if sheet else set()
        again = (
            other.form == test.form if test.form in forms else other.item == test.item
            for other in passes.get(test.machine_id, ())
            if other.at > test.at
        )
        if not any(again):
            still[test.record_id] = gettext("The electrical test ({test})").format(test=test.title)
    return still


def _carried(on: date) -> Q:
    return Q(kind=Stop.Kind.CARRY_ON, always=False, until__gte=on)
