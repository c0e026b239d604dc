"""May it be used: worked out from what happened, in whatever order the news arrives."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, TypeAlias

from maintenance.rules.words import day_text
from plant.translate import gettext as _

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


@dataclass(frozen=True, kw_only=True)
class Wants:
    """Which looks at a machine were wanted, and which were passed; each the latest of its kind.

    look_wanted_at: a first look by a competent person (new, returned, received, found again, back
        from lay-up, or a critical point could not be looked at in a look-over).
    looked_at: a competent person's look-over or inspection was passed.
    check_wanted_at: a check (a critical item could not be checked, or passed on to another site).
    passed_at: anything was passed: a check, a look-over, a release check.
    """

    look_wanted_at: datetime | None = None
    looked_at: datetime | None = None
    check_wanted_at: datetime | None = None
    passed_at: datetime | None = None


def may_be_used(
    *,
    stops: Sequence[Stop],
    wants: Wants,
    on: date,
) -> Fitness:
    """Whether a machine may be used today.

    Args:
        stops: what stands against it, from fold().
        wants: which looks were wanted and which were passed, from looks().
        on: today, in the depot's zone.
    """
    stopped, notes = [], []
    for stop in stops:
        what = stop.reason or "a fault"
        if stop.kind == "carry on" and not stop.critical and stop.until is not None:
            if on <= stop.until:
                notes.append(
                    _("Carry on until {until}: {what}").format(
                        until=day_text(stop.until), what=what
                    )
                )
            else:
                stopped.append(
                    _("The note ended on {until}: {what}").format(
                        until=day_text(stop.until), what=what
                    )
                )
        elif stop.kind == "undecided":
            stopped.append(_("Waiting for a decision: {what}").format(what=what))
        else:
            stopped.append(f"Stopped: {what}")
    look = _looks_open(wants)
    reasons = (*stopped, *look, *notes)
    if stopped:
        return Fitness(mark=DO_NOT_USE, reasons=reasons)
    if look:
        return Fitness(mark=NOT_YET_PASSED, reasons=reasons)
    if notes:
        return Fitness(mark=WITH_A_NOTE, reasons=reasons)
    return Fitness(mark=OK_TO_USE, reasons=())


def first_look_wanted(wants: Wants) -> bool:
    """Whether a competent person's look is wanted, so that no check makes the machine usable."""
    return _open(wants.look_wanted_at, wants.looked_at)


def _looks_open(wants: Wants) -> list[str]:
    if wants.passed_at is None:
        return [_("No check has been passed yet")]
    if first_look_wanted(wants):
        if _open(wants.look_wanted_at, wants.passed_at):
            return [_("A first look by a competent person is needed before use")]
        return [_("Checked. It still needs a first look by a competent person")]
    if _open(wants.check_wanted_at, wants.passed_at):
        return [_("A passed check is needed before use")]
    return []


def _open(wanted_at: datetime | None, met_at: datetime | None) -> bool:
    return wanted_at is not None and (met_at is None or met_at <= wanted_at)


def may_carry_on(stop: Stop) -> str:
    """Why nobody may decide to carry on with this; empty when somebody with the right may."""
    if stop.critical:
        return _("This is always critical. Nobody may carry on with it; it must be put right.")
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
        return _("Give the last day of the note.")
    if until < on:
        return _("The last day must be {on} or later.").format(on=day_text(on))
    if (until - on).days > limit_days:
        return _("A note may run for {limit_days} days at most.").format(limit_days=limit_days)
    if len(reason.strip()) < 10:
        return _("Write the reason, in 10 letters or more.")
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
    competent: bool = True
    """False: a check that anybody passes is enough."""


@dataclass(frozen=True, kw_only=True)
class Passed:
    """A check was passed. Frees nothing."""

    id: str
    at: datetime
    competent: bool = False
    """True: it was a competent person's look-over or inspection."""


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


def looks(events: Iterable[Event]) -> Wants:
    """Which looks were wanted and which were passed, the latest of each kind."""
    heard = _heard(events)

    def wanted(competent: bool) -> datetime | None:
        moments = (e.at for e in heard if isinstance(e, LookWanted) and e.competent == competent)
        return max(moments, default=None)

    passes = [e for e in heard if isinstance(e, Passed)]
    return Wants(
        look_wanted_at=wanted(True),
        looked_at=max((e.at for e in passes if e.competent), default=None),
        check_wanted_at=wanted(False),
        passed_at=max((e.at for e in passes), default=None),
    )


def fitness_of(events: Iterable[Event], *, on: date) -> Fitness:
    """The mark of a machine today, from everything heard so far."""
    heard = _heard(events)
    return may_be_used(stops=fold(heard), wants=looks(heard), on=on)


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
