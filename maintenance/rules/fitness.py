"""May it be used: worked out from what happened, in whatever order the news arrives."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, TypeAlias

from maintenance.rules.words import day_text

Mark: TypeAlias = Literal["Do not use", "Not yet passed", "Use, with a note", "OK to use"]
StopKind: TypeAlias = Literal["stop", "undecided", "carry on"]

DO_NOT_USE: Mark = "Do not use"
NOT_YET_PASSED: Mark = "Not yet passed"
WITH_A_NOTE: Mark = "Use, with a note"
OK_TO_USE: Mark = "OK to use"
MARKS: tuple[Mark, ...] = (DO_NOT_USE, NOT_YET_PASSED, WITH_A_NOTE, OK_TO_USE)


@dataclass(frozen=True, kw_only=True)
class Stop:
    """One thing that stands against the use of a machine and has not been released.

    kind: stopped, waiting for somebody to decide, or carried on with a note until a day.
    until: the last day of the note; only with, and always with, carry on.
    critical: on the always-critical list, so that nobody may decide otherwise.
    """

    kind: StopKind
    critical: bool
    until: date | None = None
    id: str = ""
    reason: str = ""

    def __post_init__(self) -> None:
        if self.kind not in ("stop", "undecided", "carry on"):
            raise ValueError(f"kind is stop, undecided or carry on, not {self.kind!r}")
        if (self.kind == "carry on") != (self.until is not None):
            raise ValueError("a note to carry on, and nothing else, has a last day")


@dataclass(frozen=True, kw_only=True)
class Fitness:
    """The mark, and every reason for it, the gravest first."""

    mark: Mark
    reasons: tuple[str, ...]


def may_be_used(
    *,
    stops: Sequence[Stop],
    look_wanted_at: datetime | None,
    passed_at: datetime | None,
    on: date,
) -> Fitness:
    """Whether a machine may be used today.

    Args:
        stops: what stands against it, from fold().
        look_wanted_at: when a first look was last asked for (new, returned, received, found
            again, back from lay-up, or a critical item could not be checked).
        passed_at: the last check that was passed; None when there was none.
        on: today, in the depot's zone.
    """
    stopped, notes = [], []
    for stop in stops:
        what = stop.reason or "a fault"
        if stop.kind == "carry on" and not stop.critical and stop.until is not None:
            if on <= stop.until:
                notes.append(f"Carry on until {day_text(stop.until)}: {what}")
            else:
                stopped.append(f"The note ended on {day_text(stop.until)}: {what}")
        elif stop.kind == "undecided":
            stopped.append(f"Waiting for a decision: {what}")
        else:
            stopped.append(f"Stopped: {what}")
    look = []
    if passed_at is None:
        look.append("No check has been passed yet")
    elif look_wanted_at is not None and passed_at <= look_wanted_at:
        look.append("A first look is needed before use")
    reasons = (*stopped, *look, *notes)
    if stopped:
        return Fitness(mark=DO_NOT_USE, reasons=reasons)
    if look:
        return Fitness(mark=NOT_YET_PASSED, reasons=reasons)
    if notes:
        return Fitness(mark=WITH_A_NOTE, reasons=reasons)
    return Fitness(mark=OK_TO_USE, reasons=())


def may_carry_on(stop: Stop) -> str:
    """Why nobody may decide to carry on with this; empty when somebody with the right may."""
    if stop.critical:
        return "This is always critical. Nobody may carry on with it; it must be put right."
    return ""


def carry_on_refusal(
    stop: Stop, *, on: date, until: date | None, reason: str, limit_days: int = 90
) -> str:
    """Why this decision to carry on cannot be kept; empty when it can.

    The limit of 90 days is our own; a depot may set a shorter one.
    """
    if refused := may_carry_on(stop):
        return refused
    if until is None:
        return "Give the last day of the note."
    if until < on:
        return f"The last day must be {day_text(on)} or later."
    if (until - on).days > limit_days:
        return f"A note may run for {limit_days} days at most."
    if len(reason.strip()) < 10:
        return "Write the reason, in 10 letters or more."
    return ""


@dataclass(frozen=True, kw_only=True)
class Failure:
    """Something wrong with the machine: an item, a test, or a person who holds it."""

    id: str
    at: datetime
    critical: bool
    by: str
    reason: str = ""
    decided: bool = True
    """False: wrong on an item that leaves it to a foreman, so it waits for a decision."""


@dataclass(frozen=True, kw_only=True)
class Decision:
    """A named person stops the machine for a failure, or carries on with it until a day."""

    id: str
    at: datetime
    failure: str
    carry_on_until: date | None
    """None: the decision was to stop."""


@dataclass(frozen=True, kw_only=True)
class Release:
    """A release check, and the failures that it frees, each by name."""

    id: str
    at: datetime
    frees: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Correction:
    """Wrong was recorded by mistake. Counts only from a second person."""

    id: str
    at: datetime
    failure: str
    by: str


@dataclass(frozen=True, kw_only=True)
class LookWanted:
    """The machine needs a first look before it is used."""

    id: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Passed:
    """A check was passed. Frees nothing."""

    id: str
    at: datetime


Event: TypeAlias = Failure | Decision | Release | Correction | LookWanted | Passed


def fold(events: Iterable[Event]) -> tuple[Stop, ...]:
    """What stands against the machine, from everything heard so far, oldest failure first.

    The order of arrival and repeats make no difference. A failure stands unless a release names
    it (also one heard before the failure) or a second person corrected it. Of several decisions
    on one failure the latest counts, and stop counts before carry on at the same moment; on an
    always-critical failure carry on counts for nothing.

    Raises:
        ValueError: two different events share an id.
    """
    heard = _heard(events)
    failures = sorted((e for e in heard if isinstance(e, Failure)), key=lambda e: (e.at, e.id))
    freed = {name for e in heard if isinstance(e, Release) for name in e.frees}
    stops = []
    for failure in failures:
        corrected = any(
            isinstance(e, Correction) and e.failure == failure.id and e.by != failure.by
            for e in heard
        )
        if failure.id in freed or corrected:
            continue
        decisions = [e for e in heard if isinstance(e, Decision) and e.failure == failure.id]
        stops.append(_stop(failure, decisions))
    return tuple(stops)


def looks(events: Iterable[Event]) -> tuple[datetime | None, datetime | None]:
    """When a first look was last wanted, and when a check was last passed."""
    heard = _heard(events)
    return (
        max((e.at for e in heard if isinstance(e, LookWanted)), default=None),
        max((e.at for e in heard if isinstance(e, Passed)), default=None),
    )


def fitness_of(events: Iterable[Event], *, on: date) -> Fitness:
    """The mark of a machine today, from everything heard so far."""
    heard = _heard(events)
    look_wanted_at, passed_at = looks(heard)
    return may_be_used(stops=fold(heard), look_wanted_at=look_wanted_at, passed_at=passed_at, on=on)


def _stop(failure: Failure, decisions: Sequence[Decision]) -> Stop:
    def stand(kind: StopKind, until: date | None = None) -> Stop:
        return Stop(
            kind=kind,
            until=until,
            critical=failure.critical,
            id=failure.id,
            reason=failure.reason,
        )

    if failure.critical:
        return stand("stop")
    if not decisions:
        return stand("stop" if failure.decided else "undecided")
    latest = max(e.at for e in decisions)
    at_last = [e.carry_on_until for e in decisions if e.at == latest]
    days = [day for day in at_last if day is not None]
    if len(days) < len(at_last):
        return stand("stop")
    return stand("carry on", min(days))


def _heard(events: Iterable[Event]) -> tuple[Event, ...]:
    by_id: dict[str, Event] = {}
    for event in events:
        if by_id.setdefault(event.id, event) != event:
            raise ValueError(f"two different events share the id {event.id}")
    return tuple(by_id.values())
