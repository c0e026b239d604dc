"""The timer, which also shows that it lives, so that its silence is told from the worker's."""

import logging
from typing import Any

from celery.beat import PersistentScheduler
from django.db import connections
from django.utils.timezone import now

from plant.actions.heartbeat import beat

log = logging.getLogger(__name__)
NAME = "timer"


class Timer(PersistentScheduler):  # type: ignore[misc]
    """Notes a beat each time the worker's own is asked for; no database stops it."""

    def apply_entry(self, entry: Any, producer: Any = None) -> None:
        if entry.name == "heartbeat":
            try:
                beat(name=NAME, at=now())
            except Exception as down:
                # It must go on asking whatever the database says.
                log.warning("timer not noted", extra={"reason": repr(down)})
            finally:
                connections.close_all()
        super().apply_entry(entry, producer)
