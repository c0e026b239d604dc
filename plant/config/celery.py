"""The Celery app; its settings are the ``CELERY_`` names of settings.py."""

import os
from datetime import datetime, timedelta
from typing import Any

from celery import Celery
from celery.schedules import schedule
from celery.signals import beat_init
from kombu.transport import TRANSPORT_ALIASES

TRANSPORT_ALIASES["filesystem"] = "plant.folder_queue:Transport"
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.config.settings")
app = Celery("plant")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


class Every(schedule):  # type: ignore[misc]
    """A turn each so many seconds, also after the computer's clock was put back.

    The timer keeps when each turn last was. Put back by a day it would else wait that day out.
    """

    def is_due(self, last_run_at: datetime) -> Any:
        return super().is_due(min(self.maybe_make_aware(last_run_at), self.now()))


@beat_init.connect  # type: ignore[untyped-decorator]
def first_turns_at_once(sender: Any, **_: Any) -> None:
    """What never had a turn has it when the timer starts, so a new depot is well in seconds."""
    for entry in sender.scheduler.schedule.values():
        if not entry.total_run_count:
            entry.last_run_at -= timedelta(days=1)
