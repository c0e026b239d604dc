"""Electrical readings against the limits of a rule sheet: a result is worked out, not typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from maintenance.rules.words import day_text

HIGHEST_TRIP_MS = 2000.0
"""[ms] Longest trip time that a field takes."""


@dataclass(frozen=True, kw_only=True)
class TripRow:
    """What a device must do at one multiple of its rated residual current. Times in ms."""

    factor: float
    must_trip: bool
    hold_ms: float | None = None
    min_ms: float | None = None
    max_ms: float | None = None
    source: str = ""
    trust: str = ""

    def __post_init__(self) -> None:
        if self.must_trip and self.max_ms is None:
            raise ValueError(f"factor {self.factor:g}: a device that must trip needs a limit")
        if not self.must_trip and self.hold_ms is None:
            raise ValueError(f"factor {self.factor:g}: a device that must hold needs a time")


@dataclass(frozen=True, kw_only=True)
class RcdProfile:
    """The rows of one device standard."""

    key: str
    name: str
    rows: tuple[TripRow, ...]


@dataclass(frozen=True, kw_only=True)
class EarthRule:
    """The earth-path limit: a base in ohm, and ohm per metre of conductor by core size in mm2."""

    base_ohm: float
    ohm_per_m: Mapping[float, float]
    source: str = ""
    trust: str = ""


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """Passed or not, the limit in words, the reason in words, and where the limit comes from."""

    passed: bool
    limit: str
    reason: str
    source: str = ""
    trust: str = ""


def judge_trip(
    profile: RcdProfile, *, factor: float, trip_ms: float | None, held_ms: float | None = None
) -> Judgement:
    """Judges one trip-time reading.

    Args:
        profile: the standard marked on the device.
        factor: multiple of the rated residual current: 0.5, 1, 2 or 5.
        trip_ms: [ms] the time shown; None when it did not trip.
        held_ms: [ms] how long the instrument held a current that must not trip it, if known.

    Raises:
        ValueError: no row for the factor, a time outside 0 to 2000 ms, or a current not held
            for long enough to judge.
    """
    row = next((each for each in profile.rows if each.factor == factor), None)
    if row is None:
        known = ", ".join(f"{each.factor:g}" for each in profile.rows)
        raise ValueError(f"{profile.name} has limits at {known} times, not at {factor:g}")
    if trip_ms is not None and not 0 <= trip_ms <= HIGHEST_TRIP_MS:
        raise ValueError(f"a trip time must be 0 to 2000 ms, not {trip_ms:g}")
    if row.must_trip:
        passed, limit, reason = _must_trip(row, trip_ms)
    else:
        passed, limit, reason = _must_hold(row, trip_ms, held_ms)
    return Judgement(passed=passed, limit=limit, reason=reason, source=row.source, trust=row.trust)


def earth_path_limit(rule: EarthRule, *, length_m: float, core_mm2: float) -> float:
    """The most that the earth path of a machine with its lead may read.

    Args:
        rule: from the rule sheet.
        length_m: [m] length of the lead, 0 to 100.
        core_mm2: [mm2] size of its protective conductor, one of the rule's sizes.

    Returns:
        [ohm] base plus the resistance of the conductor.

    Raises:
        ValueError: a length out of range, or a core size that the rule does not hold.

    Source:
        IET Code of Practice for In-service Inspection and Testing of Electrical Equipment, limit
        0.1 ohm + R (seen in a secondary copy); conductor figures as the rule says.
    """
    if not 0 <= length_m <= 100:
        raise ValueError(f"the length must be 0 to 100 m, not {length_m:g}")
    if core_mm2 not in rule.ohm_per_m:
        known = ", ".join(f"{size:g}" for size in sorted(rule.ohm_per_m))
        raise ValueError(f"the core size must be one of {known} mm2, not {core_mm2:g}")
    return rule.base_ohm + length_m * rule.ohm_per_m[core_mm2]


def judge_earth_path(
    rule: EarthRule, *, ohms: float, length_m: float, core_mm2: float
) -> Judgement:
    """Judges an earth-path reading, with the sum behind the limit.

    Raises:
        ValueError: a negative reading, or as earth_path_limit().
    """
    limit = earth_path_limit(rule, length_m=length_m, core_mm2=core_mm2)
    per_m = rule.ohm_per_m[core_mm2]
    told = f"at most {rule.base_ohm:g} ohm + {length_m:g} m x {per_m:g} ohm/m = {limit:.3f} ohm"
    return _judge(ohms, limit, told=told, unit="ohm", most=True, rule=(rule.source, rule.trust))


def judge_least(value: float, *, least: float, unit: str, source: str, trust: str) -> Judgement:
    """Judges a reading that must be at least a limit, such as insulation resistance in megohm."""
    told = f"at least {least:g} {unit}"
    return _judge(value, least, told=told, unit=unit, most=False, rule=(source, trust))


def judge_most(value: float, *, most: float, unit: str, source: str, trust: str) -> Judgement:
    """Judges a reading that must be at most a limit, such as protective conductor current."""
    told = f"at most {most:g} {unit}"
    return _judge(value, most, told=told, unit=unit, most=True, rule=(source, trust))


def instrument_refusal(*, calibrated_until: date | None, on: date) -> str:
    """Why readings of this instrument cannot make a pass; empty when they can."""
    if calibrated_until is None:
        return "This instrument has no calibration date. Its readings cannot make a pass."
    if on > calibrated_until:
        ended = day_text(calibrated_until)
        return f"Calibration ended on {ended}. Its readings cannot make a pass."
    return ""


def outcome(judgements: Sequence[Judgement]) -> bool:
    """Whether the whole test passed: every reading did.

    Raises:
        ValueError: there are no readings.
    """
    if not judgements:
        raise ValueError("a test needs at least one reading")
    return all(each.passed for each in judgements)


def _must_trip(row: TripRow, trip_ms: float | None) -> tuple[bool, str, str]:
    most, least = row.max_ms or 0.0, row.min_ms
    limit = f"{least:g} to {most:g} ms" if least is not None else f"at most {most:g} ms"
    if trip_ms is None:
        return False, limit, f"It did not trip; it must within {most:g} ms."
    if trip_ms > most:
        return False, limit, f"{trip_ms:g} ms is longer than {most:g} ms."
    if least is not None and trip_ms < least:
        return False, limit, f"{trip_ms:g} ms is shorter than {least:g} ms."
    return True, limit, f"{trip_ms:g} ms is within the limit, {limit}."


def _must_hold(row: TripRow, trip_ms: float | None, held_ms: float | None) -> tuple[bool, str, str]:
    hold = row.hold_ms or 0.0
    limit = f"no trip within {hold:g} ms"
    if trip_ms is not None and trip_ms <= hold:
        return False, limit, f"It tripped after {trip_ms:g} ms; it must not within {hold:g} ms."
    if held_ms is not None and held_ms < hold:
        raise ValueError(f"held for {held_ms:g} ms only; {hold:g} ms are needed")
    return True, limit, f"It did not trip within {hold:g} ms."


def _judge(
    value: float, limit: float, *, told: str, unit: str, most: bool, rule: tuple[str, str]
) -> Judgement:
    if not 0 <= value < float("inf"):
        raise ValueError(f"a reading must be 0 {unit} or more, not {value}")
    passed = value <= limit if most else value >= limit
    side = "within" if passed else "outside"
    source, trust = rule
    return Judgement(
        passed=passed,
        limit=told,
        reason=f"{value:g} {unit} is {side} the limit, {told}.",
        source=source,
        trust=trust,
    )
