"""When each belt runs out, worked out afresh in one place, and the work that is raised from it.

Whatever moves the answer ends here: a reading, a correction, a fitting, the drive's data, a meter
figure. The answer depends on what is known and never on the order in which it was heard.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import TypeVar

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext

from maintenance.actions.signing import locked
from maintenance.contents.belt_life import worn_when_placed
from maintenance.contents.drive import drive_now
from maintenance.contents.rack import lead_days, length_on
from maintenance.contents.running import running_of
from maintenance.models import BeltLife, BeltLook, Job, TensionReading, WidthReading
from maintenance.rules import belt_life as rule
from maintenance.rules.running import Running
from plant.actions.refusal import Refused
from plant.contents.drive import belt_key, fitted_since
from plant.models import Depot, Drive, Machine, Place, User
from plant.rights import Right, role_for

M = TypeVar("M", BeltLife, BeltLook)
# So many belts are worked out at a time; what is left waits for the next minute.
MOST = 200
# Between figures the hours of a machine are an estimate that grows by the day.
LOOKS_AGE = timedelta(hours=1)
MOST_LEAD_DAYS = 365
# What each takes a fitter. Common practice, no source.
ORDER_MINUTES, LOOK_MINUTES = 10, 20
_NOT_BEGUN = (Job.State.REPORTED, Job.State.LOOKED_AT, Job.State.GIVEN_OUT)
_NOT_RAISED = (Place.GONE, Place.MISSING, Place.LAID_UP)
_LOOK_WORK = {1: Job.BeltWork.FIRST_LOOK, 2: Job.BeltWork.SECOND_LOOK}
_IN_BAND = ("within", "high")


def belt_moved(drive: Drive, *, at: datetime) -> None:
    """Works out afresh when the belt of one drive runs out. Call with its machine locked."""
    if drive.kind == Drive.Kind.BELT:
        _work_out(drive, running_of(drive.machine), at=at)


def machine_moved(machine: Machine, *, at: datetime) -> None:
    """The same for every belt of a machine whose running became better known. Call it locked."""
    drives = list(machine.drives.filter(kind=Drive.Kind.BELT))
    if drives:
        running = running_of(machine)
        for drive in drives:
            drive.machine = machine
            _work_out(drive, running, at=at)


def rework_belts(*, depot: Depot, at: datetime, most: int = MOST) -> int:
    """Works out the belts that were not worked out today by the depot's clock; how many it did.

    Each machine in a transaction of its own, so that nobody waits long. Twice is harmless.
    """
    before = _midnight(depot, at)
    old = Q(belt_life__isnull=True) | Q(belt_life__worked_out_at__lt=before)
    drives = Drive.objects.filter(old, kind=Drive.Kind.BELT, machine__depot=depot)
    drives = drives.exclude(machine__place=Place.GONE)
    pks = list(drives.order_by("machine").values_list("machine", flat=True).distinct()[:most])
    for pk in pks:
        with transaction.atomic():
            machine_moved(locked(Machine(pk=pk)), at=at)
    return len(pks)


def rework_looks(*, depot: Depot, at: datetime, most: int = MOST) -> int:
    """Looks again at new belts whose look is not raised yet; how many machines there were."""
    waiting = BeltLook.objects.filter(
        drive__machine__depot=depot,
        reading__isnull=True,
        worked_out_at__lt=at - LOOKS_AGE,
        belt_key=F("drive__belt_life__belt_key"),
    ).exclude(drive__machine__place__in=_NOT_RAISED)
    pks = list(waiting.order_by().values_list("drive__machine", flat=True).distinct()[:most])
    for pk in pks:
        with transaction.atomic():
            machine_moved(locked(Machine(pk=pk)), at=at)
    return len(pks)


def raise_belt_work(*, depot: Depot, at: datetime) -> int:
    """Raises the orders and the looks that have fallen due; returns how many were new.

    Each once for a fitted belt: running it twice, at once, or after days of silence gives each
    job once. A transaction a job, so that nobody waits long.
    """
    lives = _unraised(BeltLife.objects.all(), Job.BeltWork.ORDER, depot=depot)
    lives = lives.filter(state=BeltLife.State.DATED, order_by_on__lte=depot.day_of(at))
    new = _each(lives, _raise_order, at=at)
    for number, (opens, _) in enumerate(rule.LOOKS, 1):
        looks = _unraised(BeltLook.objects.all(), _LOOK_WORK[number], depot=depot)
        looks = looks.filter(
            number=number, reading__isnull=True, hours__gte=opens,
            belt_key=F("drive__belt_life__belt_key"),
        )  # fmt: skip
        new += _each(looks, _raise_look, at=at)
    return new


def _each(rows: QuerySet[M], raise_one: Callable[..., None], *, at: datetime) -> int:
    """Raises the work of each row as it stands once its machine is locked; how many it did."""
    new = 0
    for pk, machine in list(rows.values_list("pk", "drive__machine")):
        with transaction.atomic():
            locked(Machine(pk=machine))
            # A reading, a fitting or another worker may have come first.
            row = rows.filter(pk=pk).first()
            if row is not None:
                raise_one(row, at=at)
                new += 1
    return new


def _unraised(rows: QuerySet[M], work: Job.BeltWork, *, depot: Depot) -> QuerySet[M]:
    """Of these, the ones of the depot's machines in use or in the yard without such a job."""
    raised = Job.objects.filter(
        drive=OuterRef("drive"), belt_key=OuterRef("belt_key"), belt_work=work
    )
    return (
        rows.filter(~Exists(raised), drive__machine__depot=depot)
        .exclude(drive__machine__place__in=_NOT_RAISED)
        .select_related("drive__machine")
        .order_by("drive")
    )


def _raise_order(life: BeltLife, *, at: datetime) -> None:
    drive = life.drive
    what = drive.belt_mark or drive.section or "belt"
    Job.objects.create(
        drive=drive, belt_key=life.belt_key, belt_work=Job.BeltWork.ORDER,
        machine=drive.machine, kind=Job.Kind.ORDER, state=Job.State.LOOKED_AT, state_since=at,
        opened_at=at, due_on=life.order_by_on, expected_minutes=ORDER_MINUTES,
        title=f"Order a belt: {what}, for {drive.name}"[:120], symptom=life.why[:400],
    )  # fmt: skip


def _raise_look(look: BeltLook, *, at: datetime) -> None:
    drive, (opens, ends) = look.drive, rule.LOOKS[look.number - 1]
    base = drive.belt_fitted_tenths
    Job.objects.create(
        drive=drive,
        belt_key=look.belt_key,
        belt_work=_LOOK_WORK[look.number],
        machine=drive.machine,
        kind=Job.Kind.BELT,
        state=Job.State.LOOKED_AT,
        state_since=at,
        opened_at=at,
        due_on=look.likely_on,
        expected_minutes=LOOK_MINUTES,
        due_tenths=None if base is None else base + round(ends * 10),
        title=f"Look at the new belt again: {drive.name}"[:120],
        symptom=gettext("Read its tension after {opens} to {ends} h of running.").format(
            opens=f"{opens:g}", ends=f"{ends:g}"
        ),
    )


def _work_out(drive: Drive, running: Running, *, at: datetime) -> None:
    zone = drive.machine.depot.zone
    now, key = at.astimezone(zone), belt_key(drive)
    since = fitted_since(drive)
    widths = WidthReading.objects.filter(drive=drive, stands=True)
    if since is not None:
        widths = widths.filter(at__gte=since)
    # What the register said before anybody read the meter stands beside the belt's own rows.
    said = list(widths.values_list("at", "hours_tenths"))
    said += [(since, drive.belt_fitted_tenths)] if since is not None else []
    running = running.since_told([(moment.astimezone(zone), tenths) for moment, tenths in said])
    standing = drive_now(drive, at=at)
    lead = _lead_days(drive)
    found = rule.life(
        workout=standing.workout,
        refusal=standing.refusal,
        readings=[
            (moment.astimezone(zone), width, u)
            for moment, width, u in widths.values_list("at", "width_m", "u_m")
        ],
        running=running,
        fitted_at=None if since is None else since.astimezone(zone),
        at=now,
        lead_days=lead,
        placed=worn_when_placed(drive, standing, at=at),
    )
    told = asdict(found) | {"belt_key": key, "lead_days": lead, "worked_out_at": at}
    told["why"] = found.why[:1000]
    life, _ = BeltLife.objects.update_or_create(drive=drive, defaults=told)
    orders = Job.objects.filter(
        drive=drive, belt_key=key, belt_work=Job.BeltWork.ORDER, state__in=_NOT_BEGUN
    )
    if life.order_by_on is not None:
        orders.exclude(due_on=life.order_by_on).update(due_on=life.order_by_on)
    if since is not None:
        _look(drive, key, running, since=since.astimezone(zone), now=now)


def _lead_days(drive: Drive) -> int:
    """[d] To get this belt: as its part says, else as the depot does."""
    depot, known = drive.machine.depot, None
    length = length_on(drive)
    if drive.section and length is not None:
        known = lead_days(depot, drive.section, length)
    return depot.belt_lead_days if known is None else known


def _look(drive: Drive, key: str, running: Running, *, since: datetime, now: datetime) -> None:
    """How the looks at this belt stand, and the jobs of those that a reading has closed."""
    waiting = list(BeltLook.objects.filter(drive=drive, belt_key=key).order_by("number"))
    if not waiting:
        return
    begin = running.hours_at(since)
    zone = now.tzinfo
    found_readings = TensionReading.objects.filter(drive=drive, at__gte=since, stands=True)
    readings = list(found_readings.select_related("record").order_by("at", "record_id"))
    said = rule.looks(
        [
            (running.hours_at(each.at.astimezone(zone)) - begin, each.verdict in _IN_BAND)
            for each in readings
        ]
    )
    hours = running.hours_at(now) - begin
    lost = []
    for look, found in zip(waiting, said, strict=True):
        if look.reading_id is not None and found.reading is None:
            lost.append(look.number)
        look.reading = None if found.reading is None else readings[found.reading]
        look.said = ""
        if look.reading is not None:
            look.said = BeltLook.Said.LATE if found.late else BeltLook.Said.IN_TIME
        look.hours = hours
        look.is_estimate = not (running.is_read(since) and running.is_read(now))
        look.likely_on = _likely(running, left=rule.LOOKS[look.number - 1][1] - hours, now=now)
        look.worked_out_at = now
        look.save()
    _close_jobs([look for look in waiting if look.reading is not None], at=now)
    # A reading that was taken out since closes nothing: what it closed by itself stands open again.
    jobs = Job.objects.filter(drive=drive, belt_key=key)
    waited = [_LOOK_WORK[look.number] for look in waiting if look.reading is None]
    jobs.filter(belt_work__in=waited, state=Job.State.CLOSED, labour__isnull=True).update(
        state=Job.State.LOOKED_AT, state_since=now, closed_at=None, closed_by=None, done_at=None,
        done_by=None, cause="", action="",
    )  # fmt: skip
    # A job on which the work is done stays as it was done, and stands for the look no longer, so
    # that a new one is raised.
    jobs.filter(
        belt_work__in=[_LOOK_WORK[number] for number in lost], labour__isnull=False,
        state__in=(Job.State.DONE, Job.State.CLOSED),
    ).update(belt_work="")  # fmt: skip


def _close_jobs(looks: Sequence[BeltLook], *, at: datetime) -> None:
    """A tension reading is its own proof: the job of its look needs no word of its own."""
    for look in looks:
        reading = look.reading
        assert reading is not None
        # One that somebody is at, with the guard off, he ends himself.
        jobs = Job.objects.filter(
            drive=look.drive_id, belt_key=look.belt_key, belt_work=_LOOK_WORK[look.number],
            state__in=_NOT_BEGUN,
        )  # fmt: skip
        for job in jobs:
            job.cause = job.cause or gettext("A new belt beds in")
            job.action = job.action or gettext("Tension read: {reading}, {said}").format(
                reading=reading, said=look.get_said_display()
            )
            job.state, job.state_since = Job.State.CLOSED, at
            job.done_at, job.done_by = job.done_at or reading.at, job.done_by or reading.record.by
            job.closed_at, job.closed_by = at, reading.record.by
            job.save()


def _likely(running: Running, *, left: float, now: datetime) -> date | None:
    """The day on which so many hours more are likely run; None where it does not run."""
    if running.rate is None or running.rate.likely <= 0:
        return None
    days = max(left, 0.0) / running.rate.likely
    return now.date() + timedelta(days=int(days)) if days <= rule.LONGEST_AHEAD else None


@transaction.atomic
def set_lead_days(*, depot: Depot, days: int, at: datetime, by: User) -> None:
    """Sets how long a belt takes to get, where its part does not say. The order days follow.

    Raises:
        PermissionError: no role of theirs sets it.
        Refused: not within 0 to 365 days.
    """
    role_for(by, Right.PLAN, depot.pk)
    if not 0 <= days <= MOST_LEAD_DAYS:
        raise Refused(
            gettext("Enter 0 to {most_lead_days} days.").format(most_lead_days=MOST_LEAD_DAYS),
            field="days",
        )
    Depot.objects.filter(pk=depot.pk).update(belt_lead_days=days)
    # The background works all of them out again, as it does after each midnight.
    before = _midnight(depot, at) - timedelta(seconds=1)
    BeltLife.objects.filter(drive__machine__depot=depot).update(worked_out_at=before)


def _midnight(depot: Depot, at: datetime) -> datetime:
    return datetime.combine(depot.day_of(at), datetime.min.time(), tzinfo=depot.zone)
