"""Whether the system itself is well, part by part, in plain words."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import DatabaseError, connection
from django.utils.timezone import localtime

from plant.contents.checkpoint import last_signed
from plant.models import Heartbeat, Message

# The timer beats each minute; half an hour of silence is loud on the first screen.
LATE = timedelta(minutes=5)
# A checkpoint of the sealed records is signed each day.
UNSIGNED = timedelta(hours=26)
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
    last = Heartbeat.objects.filter(name="background").values_list("at", flat=True).first()
    return None if last is None else at - last


def health(at: datetime) -> list[Part]:
    """All parts. A database that is down leaves the rest unsaid, since the page needs it."""
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
        _seals(at),
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


def _seals(at: datetime) -> Part:
    """A checkpoint that is not signed leaves the newest records open to being written anew."""
    name = "Sealed records"
    last = last_signed()
    if last is None:
        return Part(name, True, "No checkpoint yet. The first is signed within ten minutes.")
    shown = localtime(last)
    words = f"Last checkpoint signed {shown.day} {shown:%b %Y %H:%M}."
    if at - last > UNSIGNED:
        return Part(name, False, f"{words} One is wanted each day: start the worker and timer.")
    return Part(name, True, f"{words} To read all records against it: manage.py verify_chain.")


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
