"""A machine with its plans: added by hand, changed, and given what a brought-in one still lacks."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_noop as _

from maintenance.actions.due import rework
from maintenance.actions.plan import give_plans
from maintenance.actions.signing import locked
from maintenance.models import DueLine, PlanLine
from plant.actions import machine as register
from plant.actions.machine import NewMachine
from plant.models import Machine, User

BLOCK = 500
_PUT_RIGHT = _("The machine's kind or supply was put right; this work is not of it.")


@transaction.atomic
def add_machine(new: NewMachine, *, by: User, at: datetime) -> Machine:
    """Adds one machine with the plans of its kind.

    Raises:
        Refused: the number is in use, or cannot be a number.
        PermissionError: the person may not add machines to this depot.
    """
    machine = register.add_machine(new, by=by, at=at)
    give_plans([machine], at=at)
    return machine


@transaction.atomic
def change_machine(
    *,
    machine: Machine,
    by: User,
    at: datetime,
    changes: Mapping[str, Any],
    typed: Mapping[str, str | None] | None = None,
) -> Machine:
    """Changes the named fields; another kind or supply brings its own plans.

    Args:
        changes: fields of Machine to their new values.
        typed: plate figures as they were typed; None takes one away.

    Raises:
        Refused: the new number is in use, or cannot be a number.
        PermissionError: the person may not change machines of this depot.
    """
    machine = register.change_machine(machine=machine, by=by, changes=changes, typed=typed or {})
    if changes.keys() & {"kind", "supply"}:
        _fit_plans(machine, at=at)
    return machine


def _fit_plans(machine: Machine, *, at: datetime) -> None:
    """Rests the lines that are not of the machine any more, and starts those that are."""
    machine = locked(machine)
    lines = DueLine.objects.filter(machine=machine, line__machine__isnull=True)
    for due_line in lines.select_related("line"):
        line = due_line.line
        fits = line.kind_id == machine.kind_id and line.applies_to(machine)
        if fits == (due_line.resting_because != _PUT_RIGHT):
            continue
        due_line.resting_because = "" if fits else _PUT_RIGHT
        due_line.save(update_fields=["resting_because"])
    give_plans([machine], at=at)
    rework(machine, at=at)


def give_missing_plans(*, at: datetime) -> int:
    """Gives their plans to machines that have none yet, as those brought in from a file.

    One cheap query when there are none. Running it twice is harmless.
    """
    without = (
        Machine.objects.in_fleet()
        .filter(
            Exists(PlanLine.objects.filter(kind=OuterRef("kind"))),
            ~Exists(DueLine.objects.filter(machine=OuterRef("pk"))),
        )
        .select_related("kind", "depot")
        .order_by("pk")
    )
    count, last = 0, 0
    # By key, so that a machine to which no line applies is passed once and not for ever.
    while block := list(without.filter(pk__gt=last)[:BLOCK]):
        with transaction.atomic():
            count += give_plans(block, at=at)
        last = block[-1].pk
    return count
