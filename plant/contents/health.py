"""Whether the system itself is well, part by part, in plain words."""

import os
import shutil
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psutil
import redis
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import F, Max, Subquery
from django.utils.timezone import localtime, now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from plant.contents.checkpoint import last_signed
from plant.models import ChainCheck, Chore, Heartbeat, Message, Record

# The timer beats each minute; half an hour of silence is loud on the first screen.
LATE = timedelta(minutes=5)
# A checkpoint is signed and every chain read once a day; a day and a half is too long.
UNSIGNED = timedelta(hours=36)
# Stands for a chain from the moment its reading begins until it ends, and after that if it never
# ends; a reading takes minutes.
UNFINISHED = "the reading did not end; run manage.py verify_chain"
READING = timedelta(hours=1)
# So many depots are named on one line.
MOST_TOLD = 5
LEAST_FREE_BYTES = 500_000_000
# Days that are left at the growth of the last thirty backups; ours.
FEWEST_DAYS, GROWTH_OVER = 14, 30
# The clocks of two computers set by the network are much nearer; ours.
NONE, APART = timedelta(), timedelta(seconds=10)
TURNED_BACK = timedelta(minutes=2)
# Made each day and each week, and some time for a computer that was off.
BACKUP_LATE, REHEARSAL_LATE = timedelta(hours=26), timedelta(days=8)
# What was given up is told for this long.
GIVEN_UP_FOR = timedelta(days=7)


@dataclass(frozen=True)
class Part:
    """One part: its name, whether it is well, and what to know or do."""

    name: str
    well: bool
    words: str


def background_silence(at: datetime) -> timedelta | None:
    """How long the background work has been silent; None when it never ran."""
    last = last_in_background()
    return None if last is None else at - last


def last_in_background() -> datetime | None:
    """When the background work last ran; None when it never did."""
    return _BACKGROUND.values_list("at", flat=True).first()


def background_at() -> Subquery:
    """The same, to be read along with rows that a page reads anyway."""
    return Subquery(_BACKGROUND.values("at")[:1])


_BACKGROUND = Heartbeat.objects.filter(name="background")


def health(at: datetime, *, named: Collection[int] | None = None) -> list[Part]:
    """All parts. A database that is down leaves most unsaid, since the page needs it.

    Args:
        named: the depots that are named where something is wrong with one; None: all.
    """
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        beats = dict(Heartbeat.objects.values_list("name", "at"))
        return [
            _web(at),
            Part(_("Database"), True, _("It answers ({vendor}).").format(vendor=connection.vendor)),
            _broker(),
            _timer(at, beats.get("timer")),
            _worker(at, beats.get("background"), beats.get("timer")),
            _clock(at),
            _disk(),
            _mail(at),
            _backup(at),
            _rehearsal(at),
            _seals(at, named),
        ]
    except DatabaseError:
        words = _(
            "It does not answer. Nothing can be saved now. Start the database; see its own log."
        )
        return [_web(at), Part(_("Database"), False, words), _broker()]


def ready() -> str:
    """Why this process cannot serve now; empty when it can. It tells nothing of the inside."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        return _("the database waits for manage.py migrate") if _steps_missing() else ""
    except DatabaseError:
        return _("the database does not answer")


def _steps_missing() -> bool:
    """Asked until the answer is no, and then no more: a process keeps its program."""
    global _up_to_date
    if not _up_to_date:
        executor = MigrationExecutor(connection)
        steps = executor.migration_plan(executor.loader.graph.leaf_nodes())
        _up_to_date = not steps
    return not _up_to_date


_up_to_date = False


def _web(at: datetime) -> Part:
    """The page is its own proof."""
    started = datetime.fromtimestamp(psutil.Process().create_time(), tz=UTC)
    return Part(
        _("Web"),
        True,
        _("It answers; this process since {started}.").format(started=_moment(started)),
    )


def _broker() -> Part:
    """Whether a worker can be woken. Work that waits is in the database and is not lost."""
    name, address = _("Broker"), settings.CELERY_BROKER_URL
    if address == "filesystem://":
        folder = Path(str(settings.CELERY_BROKER_TRANSPORT_OPTIONS["data_folder_in"]))
        if not os.access(folder, os.W_OK):
            return Part(name, False, _("The folder of the queue cannot be written. See its owner."))
        waiting = sum(1 for each in os.scandir(folder) if not each.name.startswith("."))
        return Part(
            name,
            True,
            _("The queue of files takes messages; {waiting} are waiting.").format(waiting=waiting),
        )
    try:
        redis.Redis.from_url(address, socket_connect_timeout=1, socket_timeout=1).ping()
    except (redis.RedisError, OSError, ValueError):
        return Part(
            name,
            False,
            _(
                "It does not answer. What is saved stays saved; printing, mail and imports wait. "
                "Start Redis."
            ),
        )
    return Part(name, True, _("It answers (Redis)."))


def _timer(at: datetime, last: datetime | None) -> Part:
    name = _("Timer")
    if last is None:
        return Part(name, False, _("It has never run. Start the timer."))
    if at - last > LATE:
        words = _("Silent since {last} ({ago}). Start the timer; one is enough.").format(
            last=_moment(last), ago=_ago(at - last)
        )
        return Part(name, False, words)
    return Part(name, True, _("It last asked for work {ago} ago.").format(ago=_ago(at - last)))


def _worker(at: datetime, last: datetime | None, timer: datetime | None) -> Part:
    name = _("Worker")
    if last is None:
        return Part(name, False, _("It has never run. Start the worker and the timer."))
    if at - last <= LATE:
        return Part(name, True, _("It last worked {ago} ago.").format(ago=_ago(at - last)))
    words = _("It has not worked since {last} ({ago}).").format(
        last=_moment(last), ago=_ago(at - last)
    )
    if timer is None or at - timer > LATE:
        return Part(
            name, False, _("{words} Nobody asks it to: start the timer first.").format(words=words)
        )
    return Part(
        name,
        False,
        _("{words} The timer runs. Start the worker, and look at the broker.").format(words=words),
    )


def _clock(at: datetime) -> Part:
    """The computer's clock against the database's, and against what was noted before."""
    name = _("Clock")
    newest = Heartbeat.objects.aggregate(at=Max("at"))["at"]
    last = Record.objects.filter(depot__chain__head_seq=F("seq")).aggregate(at=Max("received_at"))
    ahead = max((each for each in (newest, last["at"]) if each is not None), default=at) - at
    if ahead > TURNED_BACK:
        return Part(
            name,
            False,
            _(
                "It was turned back: something was noted {ahead} from now already. "
                "Set the clock of this computer right, and let it be set by the "
                "network."
            ).format(ahead=_ago(ahead)),
        )
    apart = _apart_from_database()
    if abs(apart) > APART:
        return Part(
            name,
            False,
            _(
                "It is {seconds} s {what} the clock of the database. Let both "
                "computers be set by the network."
            ).format(
                seconds=f"{abs(apart).total_seconds():.0f}",
                what="before" if apart > NONE else "behind",
            ),
        )
    told = _("It reads {at}").format(at=_moment(at))
    if connection.vendor == "sqlite":
        return Part(name, True, _("{told}; the database uses the same one.").format(told=told))
    return Part(
        name,
        True,
        _("{told}, within {seconds} s of the database's.").format(
            told=told, seconds=f"{APART.total_seconds():.0f}"
        ),
    )


def _apart_from_database() -> timedelta:
    """How far our clock is before the database's."""
    if connection.vendor == "sqlite":
        return timedelta()
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        told: datetime = cursor.fetchone()[0]
    return now() - told


def _disk() -> Part:
    """What is free, and for how many days that is at the growth between backups."""
    free = shutil.disk_usage(settings.DATA_DIR).free
    well, words = free >= LEAST_FREE_BYTES, _("{free} GB free.").format(free=f"{free / 1e9:.1f}")
    days = _days_left(free)
    if days is not None:
        words += (
            _(" At the growth of late that is {days} days.").format(days=f"{days:,.0f}")
            if days < 3650
            else (_(" At the growth of late that is more than ten years."))
        )
        well = well and days >= FEWEST_DAYS
    if not well:
        words += _(" Make room soon, or move DATA_DIR to a larger disk: saving will stop.")
    return Part(_("Disk"), well, words)


def _days_left(free: int) -> float | None:
    """None while no two backups a day apart tell the growth, or where nothing grows."""
    rows = Chore.objects.filter(kind=Chore.Kind.BACKUP, state=Chore.State.DONE, held__gt=0)
    last = rows.order_by("-ended_at").values_list("ended_at", "held").first()
    if last is None:
        return None
    before = rows.filter(ended_at__lte=last[0] - timedelta(days=1)).order_by("-ended_at")
    first = list(before.values_list("ended_at", "held")[:GROWTH_OVER])
    grown = last[1] - first[-1][1] if first else 0
    if grown <= 0:
        return None
    return float(free / grown * ((last[0] - first[-1][0]) / timedelta(days=1)))


def _backup(at: datetime) -> Part:
    name = _("Backup")
    done, trouble, since = _last(Chore.Kind.BACKUP)
    if done is None or done.ended_at is None:
        late = since is not None and at - since > BACKUP_LATE
        words = _("None yet; the timer asks for the first one an hour after it first ran.")
        return Part(name, not late, words + _what_now(trouble, late=late))
    age = at - done.ended_at
    words = _("Last one {ended_at}, {age} ago, {done}, {size} MB.").format(
        ended_at=_moment(done.ended_at),
        age=_ago(age),
        done=_why(done),
        size=f"{done.size / 1000000.0:.1f}",
    )
    if done.told:
        words += f" {done.told}"
    where = Path(done.file)
    if not where.exists():
        words += _(
            " Its file {file} is not there any more, which is right if you moved it."
        ).format(file=done.file)
    elif where.stat().st_dev == Path(settings.DATA_DIR).stat().st_dev:
        words += _(
            " It lies in {parent}, on the same disk as the data: copy it to "
            "another computer, or set BACKUP_DIR."
        ).format(parent=where.parent)
    return Part(name, age <= BACKUP_LATE, words + _what_now(trouble, late=age > BACKUP_LATE))


# First words of the names in BACKUP_DIR.
_WHY = {
    "daily": gettext_noop("as each night"),
    "before-update": gettext_noop("before an update"),
    "by-hand": gettext_noop("made by hand"),
}


def _why(backup: Chore) -> str:
    """Why it was made, as the name of its file says."""
    why = Path(backup.file).name.rpartition("-")[0]
    return _(_WHY.get(why, "made by hand"))


def _rehearsal(at: datetime) -> Part:
    name = _("Restore rehearsal")
    done, trouble, since = _last(Chore.Kind.REHEARSAL)
    if done is None or done.ended_at is None:
        late = since is not None and at - since > REHEARSAL_LATE
        words = _("None yet; the timer asks for the first one two hours after it first ran.")
        return Part(name, not late, words + _what_now(trouble, late=late, command="restore"))
    age = at - done.ended_at
    late = age > REHEARSAL_LATE
    words = _("Last one {ended_at}, {age} ago. {told}").format(
        ended_at=_moment(done.ended_at), age=_ago(age), told=done.told
    )
    return Part(name, not late, words + _what_now(trouble, late=late, command="restore"))


def _last(
    kind: Chore.Kind,
) -> tuple[Chore | None, Chore | None, datetime | None]:
    """The newest that was done, a newer one that has trouble, and since when they are asked for."""
    rows = Chore.objects.filter(kind=kind)
    done = rows.filter(state=Chore.State.DONE).order_by("-ended_at").first()
    trouble = rows.exclude(why="").order_by("-asked_at").first()
    if done and trouble and done.asked_at >= trouble.asked_at:
        trouble = None
    return done, trouble, rows.order_by("asked_at").values_list("asked_at", flat=True).first()


def _what_now(trouble: Chore | None, *, late: bool, command: str = "backup") -> str:
    words = _(" The newest try failed: {why}").format(why=trouble.why) if trouble else ""
    if late and command == "backup":
        words += _(
            " That is too long ago. Run manage.py backup now, and see that timer and worker run."
        )
    elif late:
        words += _(
            " That is too long ago. Restore the newest backup into an empty place by hand, as the "
            "page Restore says, and see that timer and worker run."
        )
    return words


def _ago(span: timedelta) -> str:
    """A span in the unit that people would use."""
    seconds = max(0, int(span.total_seconds()))
    for most, unit, name in ((120, 1, "seconds"), (7200, 60, "minutes"), (172_800, 3600, "hours")):
        if seconds < most:
            return f"{seconds // unit} {name}"
    return _("{seconds} days").format(seconds=seconds // 86400)


def _seals(at: datetime, named: Collection[int] | None) -> Part:
    """What the last reading of all chains found, and how old the newest checkpoint is.

    Records since the last checkpoint could be written anew by who can write the whole database.
    """
    name = _("Sealed records")
    checks = ChainCheck.objects.select_related("depot").order_by("depot__code")
    wrong = [
        each
        for each in checks
        if each.what and not (each.what == UNFINISHED and each.read_at > at - READING)
    ]
    told_of = [each for each in wrong if named is None or each.depot_id in named]
    words = [f"{each}." for each in told_of[:MOST_TOLD]]
    if len(told_of) < len(wrong):
        words.append(_("The records of another depot are not as they were sealed."))
    if wrong:
        words.append(
            _(
                "Keep the database as it is, call your administrator, and read all of it with "
                "manage.py verify_chain."
            )
        )
    last = last_signed()
    if last is None:
        words.append(
            _(
                "No checkpoint was ever signed, so records could be written anew and nobody would "
                "find it. Run manage.py checkpoint now; the "
                "worker and timer then sign one each day."
            )
        )
    else:
        words.append(_("Last checkpoint signed {last}.").format(last=_moment(last)))
        if at - last > UNSIGNED:
            words.append(
                _(
                    "One is wanted each day, and what was sealed since could be written anew. Run "
                    "manage.py checkpoint now, and start the worker and timer."
                )
            )
    unread = (
        Record.objects.filter(seq=1, received_at__lt=at - UNSIGNED)
        .exclude(depot__in=checks.filter(read_at__gte=at - UNSIGNED).values("depot"))
        .order_by("depot__code")
        .values_list("depot", "depot__name")
    )
    if late := list(unread):
        names = [name for pk, name in late if named is None or pk in named]
        whose = ", ".join(names[:MOST_TOLD]) or _("another depot")
        words.append(
            _(
                "Not read against their seals for 36 hours: {whose}. Start the "
                "worker and timer, or run manage.py verify_chain."
            ).format(whose=whose)
        )
    well = not wrong and not late and last is not None and at - last <= UNSIGNED
    if well:
        oldest = checks.order_by("read_at").values_list("read_at", flat=True).first()
        told = (
            _("all as sealed when last read, {oldest}").format(oldest=_moment(oldest))
            if oldest
            else _("not read yet")
        )
        words.append(
            _(
                "All chains: {told}. The files of photos and the content of sheets "
                "are read by manage.py verify_chain."
            ).format(told=told)
        )
    return Part(name, well, " ".join(words))


def _moment(at: datetime) -> str:
    shown = localtime(at)
    return f"{shown.day} {shown:%b %Y %H:%M}"


def _mail(at: datetime) -> Part:
    """Mail is not well when the server takes none; one person's wrong address is told, no more."""
    name = _("Mail")
    if not settings.MAIL_ON:
        return Part(name, True, _("No mail is sent: MAIL_URL is not set. Nobody gets messages."))
    words, well = [], True
    refused = Message.objects.refused()
    by_server = refused.filter(address_refused=False)
    oldest = by_server.order_by("refused_since").first()
    if oldest is not None and oldest.refused_since is not None:
        well = False
        since = localtime(oldest.refused_since)
        words.append(
            _(
                "Mail refused since {day} {since}: {why} {count} waiting; tried "
                "again by itself for a day."
            ).format(
                day=since.day, since=f"{since:%b %Y %H:%M}", why=oldest.why, count=by_server.count()
            )
        )
    addresses = refused.filter(address_refused=True).values("person").distinct().count()
    if addresses:
        words.append(
            _(
                "{addresses} of the addresses are refused; each person reads why "
                "on the page Messages."
            ).format(addresses=addresses)
        )
    given_up = Message.objects.given_up(at - GIVEN_UP_FOR).count()
    if given_up:
        words.append(_("{given_up} given up in the last 7 days.").format(given_up=given_up))
    return Part(name, well, " ".join(words) or _("Nothing is refused."))
