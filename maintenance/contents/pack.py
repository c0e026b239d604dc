"""The pack that a phone keeps: machines with their questions and last mark; no names of people."""

import hashlib
import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import prefetch_related_objects

from maintenance.contents.check_due import wanted_of_many
from maintenance.contents.fitness import fitness_of_many, wants_of
from maintenance.models import RuleSheet
from maintenance.rules.fitness import Fitness, first_look_wanted
from plant.models import Depot, Machine, Place, User
from plant.rights import Right, depots_where

MOST_MACHINES = 5000


def machines_for(user: User) -> list[Machine]:
    """The machines that this person may check, wherever they are now."""
    seen = Machine.objects.visible_to(user, Right.CHECK).exclude(place=Place.GONE)
    return list(seen.select_related("kind", "depot").order_by("number_key")[:MOST_MACHINES])


def pack(
    machines: Iterable[Machine], *, permits: dict[int, str], by_label: bool, at: datetime
) -> dict[str, Any]:
    """Everything that a phone needs to check these machines and report on them without signal.

    Args:
        permits: by the key of the depot, or of the machine for a label's pack.
        by_label: nobody is signed in, so a name is asked for.

    The labels' codes stand in it only as hashes, so that a pack opens no machine by itself.
    """
    machines = list(machines)
    prefetch_related_objects(machines, "counters")
    asked: dict[str, dict[str, str]] = {}
    days = {m.depot_id: m.depot.day_of(at) for m in machines}
    sheets = {depot: RuleSheet.objects.on(day) for depot, day in days.items()}
    marks: dict[int, Fitness] = {}
    for depot, day in days.items():
        marks |= fitness_of_many([m for m in machines if m.depot_id == depot], day)
    wanted = wanted_of_many(machines, at=at)
    told = []
    for machine in machines:
        passed = machine.passed_at and machine.passed_at.astimezone(machine.depot.zone)
        questions = sheets[machine.depot_id].questions(machine)
        for each in questions:
            asked[each.key] = {
                "words": each.words, "short": each.short, "level": each.level,
                "drawing": each.drawing,
            }  # fmt: skip
        told.append(
            {
                "id": str(machine.pk),
                "number": machine.number,
                "kind": machine.kind.name,
                "mark": marks[machine.pk].mark,
                # No check that is passed on the phone makes such a machine usable.
                "first_look": first_look_wanted(wants_of(machine)),
                "meter": machine.has_meter,
                "counts": sorted(
                    each.measure for each in machine.counters.all() if each.broken_at is None
                ),
                # The phone says it in words, by its own day: a pack may be days old.
                "wanted_on": _iso(wanted[machine.pk].on),
                "passed": f"{passed:%Y-%m-%d %H:%M}" if passed else None,
                "items": [each.key for each in questions],
                "permit": permits[machine.pk if by_label else machine.depot_id],
                "code": hashlib.sha256(machine.label_code.encode()).hexdigest(),
                "short_code": machine.short_code,
            }
        )
    body: dict[str, Any] = {
        "schema": "3",
        "by_label": by_label,
        "questions": asked,
        "machines": told,
    }
    body["version"] = hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()[:16]
    body["made_at"] = at.isoformat()
    return body


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def depots_of(user: User) -> list[Depot]:
    """The depots whose machines the person may check."""
    return list(Depot.objects.filter(pk__in=depots_where(user, Right.CHECK)))
