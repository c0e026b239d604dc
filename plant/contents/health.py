"""Whether the system itself is well, part by part, in plain words."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import DatabaseError, connection

from plant.models import Heartbeat

# The timer beats each minute; half an hour of silence is loud on the first screen.
LATE = timedelta(minutes=5)
LEAST_FREE_BYTES = 500_000_000


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
    except DatabaseError:
        return [Part("Database", False, "It does not answer. Nothing can be saved now.")]
    free = shutil.disk_usage(settings.DATA_DIR).free
    return [
        Part("Database", True, f"It answers ({connection.vendor})."),
        _background(silence),
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
