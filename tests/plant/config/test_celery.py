"""When the timer gives its turns."""

from unittest.mock import Mock

from celery.beat import ScheduleEntry
from celery.signals import beat_init

from plant.config.celery import Every, app


def test_a_timer_that_never_ran_gives_every_first_turn_at_once_and_a_later_one_waits() -> None:
    schedule = {
        name: ScheduleEntry(name, name, schedule=Every(3600), total_run_count=count, app=app)
        for name, count in (("new", 0), ("had", 3))
    }
    timer = Mock()
    timer.scheduler.schedule = schedule
    beat_init.send(sender=timer)
    assert {name: entry.is_due()[0] for name, entry in schedule.items()} == {
        "new": True,
        "had": False,
    }
