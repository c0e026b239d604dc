"""Whether the system itself is well, part by part, in plain words."""

import shutil
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import Subquery
from django.utils.timezone import localtime

from plant.contents.checkpoint import last_signed
from plant.models import ChainCheck, Heartbeat, Message, Record

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
    """All parts. A database that is down leaves the rest unsaid, since the page needs it.

    Args:
        named: the depots that are named where something is wrong with one; None: all.
    """
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        silence = background_silence(at)
        mail = _mail(at)
    except DatabaseError:
        return [Part("Database", False, "It does not answer. Nothing can be saved now.")]
    free = shutil.disk_usage(settings.DATA_DIR).free
    return [
        Part("Database", True, f"It answers ({connection.vendor})."),
        _background(silence),
        mail,
        _seals(at, named),
        Part(
            "Disk",
            free >= LEAST_FREE_BYTES,
            f"{free / 1e9:.1f} GB free."
            + ("" if free >= LEAST_FREE_BYTES else " Make room soon: saving will stop."),
        ),
    ]


def _background(silence: timedelta | None) -> Part:
    name = "Background work"
    if silence is None:
        return Part(name, False, "It has never run. Start the worker and the timer.")
    minutes = int(silence.total_seconds() // 60)
    if silence > LATE:
        return Part(name, False, f"It last ran {minutes} minutes ago. Start the worker and timer.")
    return Part(name, True, f"It last ran {max(0, int(silence.total_seconds()))} seconds ago.")


def _seals(at: datetime, named: Collection[int] | None) -> Part:
    """What the last reading of all chains found, and how old the newest checkpoint is.

    Records since the last checkpoint could be written anew by who can write the whole database.
    """
    name = "Sealed records"
    checks = ChainCheck.objects.select_related("depot").order_by("depot__code")
    wrong = [
        each
        for each in checks
        if each.what and not (each.what == UNFINISHED and each.read_at > at - READING)
    ]
    told_of = [each for each in wrong if named is None or each.depot_id in named]
    words = [f"{each}." for each in told_of[:MOST_TOLD]]
    if len(told_of) < len(wrong):
        words.append("The records of another depot are not as they were sealed.")
    if wrong:
        words.append(
            "Keep the database as it is, call your administrator, and read all of it with "
            "manage.py verify_chain."
        )
    last = last_signed()
    if last is None:
        words.append(
            "No checkpoint was ever signed, so records could be written anew and nobody would "
            "find it. Run manage.py checkpoint now; the worker and timer then sign one each day."
        )
    else:
        words.append(f"Last checkpoint signed {_moment(last)}.")
        if at - last > UNSIGNED:
            words.append(
                "One is wanted each day, and what was sealed since could be written anew. Run "
                "manage.py checkpoint now, and start the worker and timer."
            )
    unread = (
        Record.objects.filter(seq=1, received_at__lt=at - UNSIGNED)
        .exclude(depot__in=checks.filter(read_at__gte=at - UNSIGNED).values("depot"))
        .order_by("depot__code")
        .values_list("depot", "depot__name")
    )
    if late := list(unread):
        names = [name for pk, name in late if named is None or pk in named]
        whose = ", ".join(names[:MOST_TOLD]) or "another depot"
        words.append(
            f"Not read against their seals for 36 hours: {whose}. Start the worker and timer, or "
            "run manage.py verify_chain."
        )
    well = not wrong and not late and last is not None and at - last <= UNSIGNED
    if well:
        oldest = checks.order_by("read_at").values_list("read_at", flat=True).first()
        told = f"all as sealed when last read, {_moment(oldest)}" if oldest else "not read yet"
        words.append(
            f"All chains: {told}. The files of photos and the content of sheets are read by "
            "manage.py verify_chain."
        )
    return Part(name, well, " ".join(words))


def _moment(at: datetime) -> str:
    shown = localtime(at)
    return f"{shown.day} {shown:%b %Y %H:%M}"


def _mail(at: datetime) -> Part:
    """Mail is not well when the server takes none; one person's wrong address is told, no more."""
    name = "Mail"
    if not settings.MAIL_ON:
        return Part(name, True, "No mail is sent: MAIL_URL is not set. Nobody gets messages.")
    words, well = [], True
    refused = Message.objects.refused()
    by_server = refused.filter(address_refused=False)
    oldest = by_server.order_by("refused_since").first()
    if oldest is not None and oldest.refused_since is not None:
        well = False
        since = localtime(oldest.refused_since)
        words.append(
            f"Mail refused since {since.day} {since:%b %Y %H:%M}: {oldest.why} "
            f"{by_server.count()} waiting; tried again by itself for a day."
        )
    addresses = refused.filter(address_refused=True).values("person").distinct().count()
    if addresses:
        words.append(
            f"{addresses} of the addresses are refused; each person reads why on the page Messages."
        )
    given_up = Message.objects.given_up(at - GIVEN_UP_FOR).count()
    if given_up:
        words.append(f"{given_up} given up in the last 7 days.")
    return Part(name, well, " ".join(words) or "Nothing is refused.")
