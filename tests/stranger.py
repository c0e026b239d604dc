"""What a stranger counts from the sealed records of one machine, with the standard library alone.

He holds nothing but the contents as they were hashed, one text a record. He knows no rule of ours
but how often a check is wanted on a site, and looks at every hour of the period by itself.
"""

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Counted:
    """Records by kind, failures, corrections, and the days in use without a check that held."""

    kinds: dict[str, int]
    failures: int
    corrections: int
    unchecked: list[date]


def count(
    contents: Iterable[str], *, first: date, last: date, until: datetime, every_days: int
) -> Counted:
    told = sorted((json.loads(each) for each in contents), key=lambda each: _at(each))
    zone = ZoneInfo("Europe/London")
    inside = [each for each in told if first <= _at(each).astimezone(zone).date() <= last]
    failed = [each for each in inside if _failed(each)]
    free = {stop["record"]: _at(each) for each in told if each["kind"] == "release"
            for stop in each["data"]["stops"]}  # fmt: skip
    stops = [each for each in told if _stops(each)]
    decided = [each for each in told if each["kind"] == "decision"]
    carried: dict[str, list[tuple[datetime, str | None]]] = {}
    for each in decided:
        if "stop" in each["data"]:
            note = (_at(each), each["data"]["until"])
            carried.setdefault(each["data"]["stop"], []).append(note)
    passes = [_at(each) for each in told if _passes(each)]
    checks = [_at(each) for each in told if each["kind"] == "check"] + passes
    missing = set()
    hour = datetime(first.year, first.month, first.day, tzinfo=zone).astimezone(UTC)
    while hour.astimezone(zone).date() <= last and hour < until:
        out_since = _out_since(told, hour)
        stopped = any(_at(each) <= hour and not _freed(each, hour, free, carried, zone)
                      for each in stops)  # fmt: skip
        if out_since is not None and not stopped:
            day = hour.astimezone(zone).date()
            recent = [at for at in passes if at >= out_since
                      and 0 <= (day - at.astimezone(zone).date()).days < every_days]  # fmt: skip
            if not recent and not any(at.astimezone(zone).date() == day and _out_since(told, at)
                                      for at in checks):  # fmt: skip
                missing.add(day)
        hour += HOUR
    return Counted(
        kinds=dict(Counter(each["kind"] for each in inside)),
        failures=len(failed),
        corrections=sum(each["corrects"] is not None for each in inside),
        unchecked=sorted(missing),
    )


def _at(record: dict) -> datetime:
    return datetime.fromisoformat(record["happened_at"].replace("Z", "+00:00"))


def _passes(record: dict) -> bool:
    return record["kind"] == "release" or (
        record["kind"] in ("check", "inspection") and record["data"]["mark"] == "passed"
    )


def _failed(record: dict) -> bool:
    if record["kind"] in ("check", "inspection"):
        return record["data"]["mark"] != "passed"
    if record["kind"] == "test":
        return not record["data"]["passed"]
    return record["kind"] in ("fault", "stop")


def _stops(record: dict) -> bool:
    return _failed(record) and record["data"].get("mark") != "not passed"


def _freed(
    record: dict,
    hour: datetime,
    free: dict[str, datetime],
    carried: dict[str, list[tuple[datetime, str | None]]],
    zone: ZoneInfo,
) -> bool:
    if record["id"] in free and free[record["id"]] <= hour:
        return True
    notes = [until for decided, until in carried.get(record["id"], ()) if decided <= hour]
    # The last word counts: a note until a day, or None for standing as it was.
    if not notes or notes[-1] is None:
        return False
    return hour.astimezone(zone).date() <= date.fromisoformat(notes[-1])


def _out_since(told: list[dict], hour: datetime) -> datetime | None:
    moves = [each for each in told if each["kind"] == "place" and _at(each) <= hour]
    if not moves or moves[-1]["data"]["to"] != "Out":
        return None
    return _at(moves[-1])
