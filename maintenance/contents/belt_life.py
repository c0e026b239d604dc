"""When the belts of a person's machines run out: the list, its chart, and one drive's own line."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    Case,
    Count,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
    Window,
)
from django.utils.translation import gettext as _

from maintenance.contents.drive import VISIT, DriveNow, given_now, last_width
from maintenance.models import BeltFitting, BeltLife, BeltLook, Job
from maintenance.rules.belt_life import LOOKS
from maintenance.rules.words import day_text
from plant.contents.drive import belt_key, with_width
from plant.drawings.running_out import Belt, running_out
from plant.drawings.svg import to_svg
from plant.drives.errors import DriveError
from plant.drives.outcome import WearPart
from plant.drives.workout import work_out
from plant.kept import Kept
from plant.models import Depot, Drive, Place, User

# Worst first. What has a day stands by its order day; what nobody can tell, after it.
ORDER = (
    BeltLife.State.NOW,
    BeltLife.State.DATED,
    BeltLife.State.AGAIN,
    BeltLife.State.UNKNOWN,
    BeltLife.State.FLAT,
)
OLD = timedelta(days=1)
DRAWN = 12
CHART_DAYS = 182
# Lines of belt work among due work; the rest is on the page Running out and among the jobs.
MOST_DUE = 6


def belt_lives(user: User) -> QuerySet[BeltLife]:
    """The belts of the machines that the person sees.

    Annotated: ``rank``, the place of its state in ``ORDER``; ``order_job`` and ``order_state`` of
    the job that orders the next belt.
    """
    orders = Job.objects.filter(
        drive=OuterRef("drive"), belt_key=OuterRef("belt_key"), belt_work=Job.BeltWork.ORDER
    )
    ranks = [When(state=state, then=Value(n)) for n, state in enumerate(ORDER)]
    return (
        BeltLife.objects.visible_to(user)
        .in_fleet()
        .select_related("drive__machine__kind", "drive__machine__depot")
        .annotate(
            rank=Case(*ranks, output_field=IntegerField()),
            order_job=Subquery(orders.values("pk")[:1]),
            order_state=Subquery(orders.values("state")[:1]),
        )
    )


@dataclass(frozen=True)
class BeltCounts:
    """How many belts are to be changed now, to be ordered, old, and not worked out at all."""

    now: int
    to_order: int
    old: int
    missing: int
    worked_out_at: datetime | None


def counted(user: User, *, on: date, at: datetime) -> BeltCounts:
    """The counts over all the person's belts; four small queries."""
    lives = BeltLife.objects.visible_to(user).in_fleet()
    drives = Drive.objects.visible_to(user).filter(kind=Drive.Kind.BELT, belt_life__isnull=True)
    due = lives.filter(state=BeltLife.State.DATED, order_by_on__lte=on)
    oldest = lives.order_by("worked_out_at").values_list("worked_out_at", flat=True).first()
    return BeltCounts(
        now=lives.filter(state=BeltLife.State.NOW).count(),
        to_order=due.count(),
        old=lives.filter(worked_out_at__lt=at - OLD).count(),
        missing=drives.exclude(machine__place=Place.GONE).count(),
        worked_out_at=oldest,
    )


@dataclass(frozen=True)
class BeltWork:
    """An order of a belt or a look at a new one that waits; why: the sentence behind it."""

    job: Job
    why: str
    is_late: bool


@dataclass(frozen=True)
class DueBelts:
    """Belt work that waits, the soonest day first, and how much there is in all."""

    lines: tuple[BeltWork, ...]
    orders: int
    looks: int

    @property
    def left_out(self) -> int:
        return self.orders + self.looks - len(self.lines)


def due_belts(user: User, *, on: date, depot: Depot | None = None, key: str = "") -> DueBelts:
    """The orders and looks that are raised and open, in the order of other due work; one query.

    Args:
        depot: of this one alone; key: of machines whose number holds it.
    """
    rows: list[Any]
    if depot is None and not key:  # as nearly every time
        rows = _WAITING.rows(user, MOST_DUE)
    else:
        rows = list(_waiting(user, MOST_DUE, depot=depot, key=key))
    return DueBelts(
        lines=tuple(
            BeltWork(job=job, why=_why(job), is_late=job.due_on is not None and job.due_on < on)
            for job in rows
        ),
        orders=rows[0].all_orders if rows else 0,
        looks=rows[0].all_looks if rows else 0,
    )


def due_belt_rows(
    user: User, *, on: date, depot: Depot | None = None, key: str = ""
) -> Iterator[BeltWork]:
    """All of that belt work, for a file; the job comes with its machine's kind and depot."""
    jobs = _waiting(user, None, depot=depot, key=key)
    for job in jobs.select_related("machine__kind", "machine__depot"):
        yield BeltWork(job=job, why=_why(job), is_late=job.due_on is not None and job.due_on < on)


def _waiting(
    user: User, most: int | None, *, depot: Depot | None = None, key: str = ""
) -> QuerySet[Job]:
    order = Q(belt_work=Job.BeltWork.ORDER)
    jobs = Job.objects.visible_to(user).open().exclude(belt_work="")
    jobs = jobs.exclude(machine__place__in=(Place.GONE, Place.MISSING, Place.LAID_UP))
    if depot is not None:
        jobs = jobs.filter(machine__depot=depot)
    if key:
        jobs = jobs.filter(machine__number_key__contains=key)
    return (
        jobs.select_related("machine", "drive__belt_life")
        .annotate(
            all_orders=Window(Count(Case(When(order, then=1)))),
            all_looks=Window(Count(Case(When(~order, then=1)))),
        )
        .order_by(F("due_on").asc(nulls_last=True), "pk")[:most]
    )


_WAITING = Kept(_waiting)


def _why(job: Job) -> str:
    """Of an order what was worked out last, where that is still about the same belt."""
    life: BeltLife | None = getattr(job.drive, "belt_life", None)
    if job.belt_work == Job.BeltWork.ORDER and life and life.belt_key == job.belt_key:
        ends = f"{life.get_ends_by_display()}." if life.ends_by else ""
        return f"{ends} {end_words(life)}".strip() or job.symptom
    return job.symptom


@dataclass(frozen=True)
class Chart:
    """The soonest belts as a drawing; shown of all that have a day."""

    svg: str
    shown: int
    of: int


def chart(lives: QuerySet[BeltLife], *, on: date) -> Chart | None:
    """The belts that end soonest, over the next half year; None where none has a day."""
    dated = lives.filter(state=BeltLife.State.DATED, likely_on__isnull=False)
    soonest = list(dated.order_by("order_by_on", "drive")[:DRAWN])
    belts = [
        Belt(
            label=_label(life),
            early=life.early_on,
            likely=life.likely_on,
            late=life.late_on,
            order_by=life.order_by_on,
        )
        for life in soonest
        if life.early_on and life.likely_on and life.order_by_on
    ]
    if not belts:
        return None
    told = "; ".join(
        _("{drive}: order by {order_by}, likely ends {likely}").format(
            drive=each.label, order_by=day_text(each.order_by), likely=day_text(each.likely)
        )
        for each in belts
    )
    drawing = running_out(belts, today=on, days=CHART_DAYS)
    svg = to_svg(drawing, title=_("Belts running out in the next half year"), description=told)
    return Chart(svg=svg, shown=len(belts), of=dated.count())


def _label(life: BeltLife) -> str:
    drive = life.drive
    return f"{drive.machine.number}  {drive.belt_mark or drive.section}  {drive.name}"


def end_words(life: BeltLife | None) -> str:
    """When the belt ends and the next is to be ordered, the same on the page and on paper."""
    if life is None or life.state != BeltLife.State.DATED:
        return ""
    if life.likely_on is None or life.early_on is None or life.order_by_on is None:
        return _("No day can be given for its end at the present use.")
    late = day_text(life.late_on) if life.late_on else _("no end")
    told = (
        _(
            "Order the next belt by {order_by_on}. This one likely ends "
            "{likely_on} ({early_on} to {late}, by estimated hours)."
        )
        if life.is_estimate
        else _(
            "Order the next belt by {order_by_on}. This one likely ends "
            "{likely_on} ({early_on} to {late})."
        )
    )
    return told.format(
        order_by_on=day_text(life.order_by_on),
        likely_on=day_text(life.likely_on),
        early_on=day_text(life.early_on),
        late=late,
    )


@dataclass(frozen=True)
class LookTold:
    """One look at a new belt in words; job: the work raised for it."""

    words: str
    job: Job | None


@dataclass(frozen=True)
class LifeOfDrive:
    """What the page of one drive says of its belt's end, and of the looks at a new belt."""

    life: BeltLife | None
    words: str
    order: Job | None
    looks: tuple[LookTold, ...]
    fitting: BeltFitting | None


def life_of(drive: Drive) -> LifeOfDrive:
    """The belt that is on this drive; four queries."""
    key = belt_key(drive)
    life = BeltLife.objects.filter(drive=drive, belt_key=key).first()
    jobs = {
        job.belt_work: job for job in Job.objects.filter(drive=drive, belt_key=key) if job.belt_work
    }
    looks = BeltLook.objects.filter(drive=drive, belt_key=key).select_related("reading")
    return LifeOfDrive(
        life=life,
        words=end_words(life),
        order=jobs.get(Job.BeltWork.ORDER),
        looks=tuple(_look(look, jobs) for look in looks.order_by("number")),
        fitting=BeltFitting.objects.counting().filter(drive=drive, mark=drive.belt_mark).first(),
    )


def _look(look: BeltLook, jobs: dict[str, Job]) -> LookTold:
    opens, ends = LOOKS[look.number - 1]
    job = jobs.get(f"look {look.number}")
    window = _("after {opens} to {ends} h of running").format(opens=f"{opens:g}", ends=f"{ends:g}")
    if look.reading is not None:
        done = _("Looked at {window}: {reading}, {said}.").format(
            window=window, reading=look.reading, said=look.get_said_display()
        )
        return LookTold(words=done, job=None)
    told = (
        _("Look at its tension {window}; about {hours} h run so far")
        if look.is_estimate
        else _("Look at its tension {window}; {hours} h run so far")
    ).format(window=window, hours=f"{look.hours:.1f}")
    if look.hours > ends:
        told = _("{told}: late.").format(told=told)
    elif look.likely_on:
        told = _("{told}, likely up {likely_on}.").format(
            told=told, likely_on=day_text(look.likely_on)
        )
    else:
        told = f"{told}."
    return LookTold(words=told, job=job)


def worn_when_placed(drive: Drive, now_: DriveNow, *, at: datetime) -> WearPart | None:
    """The belt as it was when its slot was last read, where it has been measured since.

    A belt that was tight there has worn since, so the room that was left then is no longer all
    left. None: the last width was read with the slot or before it, or the belt was not tight.
    """
    slot = now_.seen.slot
    if slot is None or not now_.seen.tight or now_.width is None:
        return None
    # A width of the same visit may have been told a little after the slot.
    visit = slot.at + VISIT
    if now_.width.at <= visit:
        return None
    width = last_width(drive, by=visit)
    given = given_now(drive, at=at, width=width, seen=now_.seen)
    if width is None:
        new = drive.belt_new_width_m
        if slot.stage == "new" and new is not None:
            given = with_width(given, width=new, u=drive.belt_new_width_u_m or 0.0)
        else:
            given = with_width(given, width=now_.width.width_m, u=now_.width.u_m)
            given = replace(given, belt_tight=False)
    try:
        return work_out(given).wear
    except DriveError:
        return None
