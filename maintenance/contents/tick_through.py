"""Checks that a foreman may want to look at together with who did them; of one depot at a time."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import CharField, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import gettext
from django.utils.translation import gettext as _

from maintenance.models import Check, Stay
from maintenance.rules.tick_through import Done, Look, worth_a_look
from plant.models import Depot, RecordText

# What is usual is known from so far back; only what is newer is told.
USUAL_FROM, TOLD_FROM = timedelta(days=90), timedelta(days=28)


@dataclass(frozen=True)
class Watched:
    """What was found.

    checks: how many passed checks were read; quiet: how many people have too few of them.
    """

    looks: list[Look]
    quiet: int
    checks: int


def watched(depot: Depot, *, at: datetime) -> Watched:
    """Reads the checks passed at this depot, wherever their machines are now.

    As many queries for ten thousand as for one.
    """
    typed = RecordText.objects.filter(record=OuterRef("record"), name="by_name").values("text")
    name = Coalesce("record__by__name", Subquery(typed[:1]), output_field=CharField())
    rows = (
        Check.objects.filter(
            record__depot=depot, mark=Check.Mark.PASSED, at__gt=at - USUAL_FROM, at__lte=at
        )
        .order_by()
        .values_list(
            "record_id", "record__by_id", name, "machine_id",
            "machine__number", "machine__kind__name", "at", "record__received_at",
            "pace__tenths", "pace__clock_off",
        )
    )  # fmt: skip
    sites = _Sites(depot, since=at - USUAL_FROM)
    found = []
    names: dict[str, str] = {}
    for record, account, who, machine, number, kind, done, received, tenths, off in rows.iterator():
        if not who:
            continue  # erased by law
        person = (
            _("account {account}").format(account=account)
            if account
            else _("name {casefold}").format(casefold=who.strip().casefold())
        )
        names[person] = who if account else _("{who}, by label").format(who=who)
        found.append(
            Done(
                key=str(record),
                person=person,
                machine=number,
                kind=kind,
                site=sites.where(machine, done),
                at=done.astimezone(depot.zone),
                received_at=received,
                seconds=tuple(n / 10 for n in (tenths or {}).values()),
                steady=not off,
            )
        )
    looks, quiet = worth_a_look(found, since=at - TOLD_FROM)
    return Watched(
        looks=[_named(look, names) for look in looks],
        quiet=len(quiet),
        checks=len(found),
    )


def _named(look: Look, names: dict[str, str]) -> Look:
    return Look(
        person=names[look.person],
        pattern=gettext(look.pattern),
        words=look.words,
        newest=look.newest,
    )


class _Sites:
    """Where each machine stood, from its stays; empty where it was in, or nobody said."""

    def __init__(self, depot: Depot, *, since: datetime) -> None:
        self._stays: dict[int, list[tuple[datetime, datetime | None, str]]] = defaultdict(list)
        checked = Check.objects.filter(record__depot=depot, at__gt=since).values("machine")
        stays = Stay.objects.filter(machine__in=checked).exclude(back_at__lt=since)
        for machine, out, back, site in stays.values_list(
            "machine_id", "out_at", "back_at", "site"
        ):
            self._stays[machine].append((out, back, site))

    def where(self, machine: int, at: datetime) -> str:
        for out, back, site in self._stays[machine]:
            if out <= at and (back is None or at < back):
                return site.strip()
        return ""
