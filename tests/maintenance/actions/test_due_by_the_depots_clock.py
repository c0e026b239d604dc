"""Work is raised, and overdue, from midnight on the depot's own wall; no other clock matters."""

import os
import time as clock
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.contents.due import told
from maintenance.models import DueLine, PlanLine
from make import make_depot, make_kind, make_machine
from plant.models import Place

# In Santiago the clock goes forward at midnight, so that some days begin at 01:00.
ZONES = ("Europe/London", "America/Santiago", "Pacific/Chatham", "Pacific/Kiritimati")
SERVERS = ("UTC", "America/Los_Angeles", "Asia/Tokyo")
# The clock changes of 2026 in those zones (IANA time zone database), and the ends of months.
DAYS = tuple(
    date.fromisoformat(day)
    for day in (
        "2026-03-28", "2026-03-29", "2026-03-30", "2026-10-24", "2026-10-25", "2026-10-26",
        "2026-04-04", "2026-04-05", "2026-09-05", "2026-09-06", "2026-09-26", "2026-09-27",
        "2027-02-28", "2028-02-28", "2028-02-29", "2028-03-01", "2026-12-31", "2027-01-01",
    )
)  # fmt: skip
AWAY_S = 3 * 3600


@pytest.mark.django_db
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    zone=st.sampled_from(ZONES),
    day=st.one_of(st.sampled_from(DAYS), st.dates(date(2026, 1, 1), date(2030, 1, 1))),
    notice=st.integers(0, 2),
    from_midnight=st.integers(-AWAY_S, AWAY_S),
    server=st.sampled_from(SERVERS),
)
@example(zone="America/Santiago", day=date(2026, 9, 6), notice=0, from_midnight=0, server="UTC")
@example(zone="Europe/London", day=date(2026, 10, 24), notice=0, from_midnight=-1, server="UTC")
@example(zone="Europe/London", day=date(2028, 2, 28), notice=0, from_midnight=0, server="UTC")
def test_raised_and_overdue_from_midnight_at_the_depot(
    zone: str, day: date, notice: int, from_midnight: int, server: str
) -> None:
    began = datetime.combine(day - timedelta(days=90), time(12), ZoneInfo(zone))
    raised_from, overdue_from = (
        _midnight(day - timedelta(days=notice), zone),
        _midnight(day + timedelta(days=1), zone),
    )
    away = timedelta(seconds=from_midnight)
    try:
        with transaction.atomic(), timezone.override(server):
            _server_clock(server)
            depot = make_depot("clock", time_zone=zone)
            machine = make_machine(
                depot, kind=make_kind("clock_kind"), place=Place.OUT, added_at=began
            )
            PlanLine.objects.create(
                kind=machine.kind, key="grease", title="Grease", every_days=90,
                notice_days=notice, source="made up", trust="test",
            )  # fmt: skip
            give_plans([machine], at=began)
            assert DueLine.objects.get().due_on == day
            raised = raise_due_work(depot=depot, at=raised_from + away)
            line = DueLine.objects.select_related("line", "machine__depot").get()
            state = told([line], depot.day_of(overdue_from + away))[0].state
            transaction.set_rollback(True)
    finally:
        _server_clock("UTC")

    assert raised == (from_midnight >= 0)
    assert (state == "overdue") == (from_midnight >= 0)


def _midnight(day: date, zone: str) -> datetime:
    """The first moment of the day there, as the one clock of the world has it."""
    return datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC)


def _server_clock(name: str) -> None:
    os.environ["TZ"] = name
    clock.tzset()
