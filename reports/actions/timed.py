"""Paper that is printed by itself: set up, ended, and each turn of it taken once."""

import logging
from collections.abc import Collection
from datetime import datetime, time, timedelta

from django.db import DatabaseError, transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from maintenance.models import DueLine
from maintenance.rules.timed import last_turn, moment
from plant.actions.refusal import Refused
from plant.actions.throttle import TooOften
from plant.models import Depot, Machine, Place, User
from plant.rights import may, role_for
from reports.actions.day_paper import ask_board, ask_job_lists
from reports.actions.sheet import MOST_SHEETS, ask_sheets
from reports.models import Batch, TimedPrint, TimedTurn
from reports.models.sheet import RIGHTS

log = logging.getLogger(__name__)
AHEAD = timedelta(days=7)
MOST_OF_A_DEPOT = 20


@transaction.atomic
def set_up(
    *, depot: Depot, kind: TimedPrint.What, days: Collection[int], clock: time, by: User,
    at: datetime,
) -> TimedPrint:  # fmt: skip
    """From now on this paper is printed on these days at this time of the depot's clock.

    Args:
        days: of the week; Monday is 0.

    Raises:
        Refused: no day, the same is set up already, or too many are.
        PermissionError: no role of theirs prints this here.
    """
    role_for(by, RIGHTS[Batch.Kind(kind)][1], depot.pk)
    if not days:
        raise Refused(_("Choose at least one day of the week."), field="days")
    Depot.objects.select_for_update().get(pk=depot.pk)
    running = TimedPrint.objects.filter(depot=depot, ended_at=None)
    if running.count() >= MOST_OF_A_DEPOT:
        raise Refused(
            _("A depot has at most {most_of_a_depot} of these. End one first.").format(
                most_of_a_depot=MOST_OF_A_DEPOT
            )
        )
    weekdays = "".join(str(day) for day in sorted(set(days)))
    if running.filter(kind=kind, at=clock, weekdays=weekdays).exists():
        raise Refused(_("This is set up already. Nothing was added."))
    return TimedPrint.objects.create(
        depot=depot, kind=kind, weekdays=weekdays, at=clock, set_up_by=by, set_up_at=at
    )


@transaction.atomic
def end(*, timed: TimedPrint, by: User, at: datetime) -> None:
    """It is not printed by itself any more; what was printed stays.

    Raises:
        PermissionError: no role of theirs prints this here.
    """
    role_for(by, RIGHTS[Batch.Kind(timed.kind)][1], timed.depot_id)
    TimedPrint.objects.filter(pk=timed.pk, ended_at=None).update(ended_at=at)


def take_turns(*, at: datetime) -> list[int]:
    """Asks for what is due to be printed now. Harmless when run twice, at once, or late.

    A turn is a row that the database has once a day. After a silence only the newest turn is
    taken; of a job list or a board only on its own day, for yesterday's is of no use.

    Returns:
        The batches that were asked for.
    """
    found = []
    for timed in TimedPrint.objects.filter(ended_at=None).select_related("depot", "set_up_by"):
        zone = timed.depot.zone
        day = last_turn(timed.days, timed.at, zone=zone, now=at, since=timed.set_up_at)
        if day is None or timed.turns.filter(day=day).exists():
            continue
        try:
            batch = _take(timed.pk, at=at, turn_at=moment(day, timed.at, zone))
        except DatabaseError:
            raise
        except Exception:
            # What is odd about one must not keep back those of all other depots.
            log.exception("timed print not asked for", extra={"timed": timed.pk})
            continue
        if batch is not None:
            found.append(batch)
    return found


@transaction.atomic
def _take(pk: int, *, at: datetime, turn_at: datetime) -> int | None:
    rows = TimedPrint.objects.select_for_update(of=("self",))
    timed = rows.select_related("depot", "set_up_by").get(pk=pk)
    day = timed.depot.day_of(turn_at)
    # Another worker may have been quicker; its row is seen now that ours is the lock.
    if timed.ended_at is not None or timed.turns.filter(day=day).exists():
        return None
    if timed.kind != TimedPrint.What.SERVICE and day != timed.depot.day_of(at):
        why = _("The background ran too late for that day, so nothing was printed.")
        TimedTurn.objects.create(timed=timed, day=day, at=at, why=why)
        return None
    by = timed.set_up_by
    if not may(by, RIGHTS[Batch.Kind(timed.kind)][1], timed.depot_id):
        why = _("{by} may no longer print here. Set it up anew.").format(by=by.name)
        timed.ended_at, timed.why = at, why
        timed.save(update_fields=["ended_at", "why"])
        TimedTurn.objects.create(timed=timed, day=day, at=at, why=why)
        return None
    batch, why = None, ""
    try:
        with transaction.atomic():
            batch = _ask(timed, at=at)
    except TooOften:
        return None  # its turn is taken in the next minute
    except Refused as refused:
        why = str(refused)
    TimedTurn.objects.create(timed=timed, day=day, at=at, batch=batch, why=why)
    return batch.pk if batch else None


def _ask(timed: TimedPrint, *, at: datetime) -> Batch:
    depot, by = timed.depot, timed.set_up_by
    today = depot.day_of(at)
    if timed.kind == TimedPrint.What.JOB_LIST:
        return ask_job_lists(depot=depot, on=today, by=by, at=at)
    if timed.kind == TimedPrint.What.BOARD:
        return ask_board(depot=depot, on=today, by=by, at=at)
    machines = due_within(depot, by, at=at)
    if not machines:
        raise Refused(_("Nothing falls due in the 7 days, so nothing was printed."))
    return ask_sheets(depot=depot, machines=machines, by=by, at=at)


def due_within(depot: Depot, user: User, *, at: datetime) -> list[Machine]:
    """Machines of the depot with work that is past or falls due within 7 days, by number."""
    soon = Q(plan_on__lte=depot.day_of(at) + AHEAD) | Q(hours_past=True)
    lines = DueLine.objects.visible_to(user).filter(soon, machine__depot=depot)
    wanted = Machine.objects.filter(depot=depot, pk__in=lines.values("machine")).in_fleet()
    wanted = wanted.exclude(place__in=(Place.MISSING, Place.LAID_UP))
    return list(wanted.order_by("number_key")[: MOST_SHEETS + 1])
