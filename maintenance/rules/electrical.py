"""Electrical readings against the limits of a rule sheet: a result is worked out, not typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from plant import units
from plant.translate import gettext as _

HIGHEST_TRIP_MS = 2000.0
"""[ms] Longest trip time that a field takes."""
SHORTEST_TRIP_MS = 1.0
"""[ms] A shorter time is one of seconds, its unit forgotten (common practice, no source)."""

NO_TRIP = "no trip"
RCD_TYPES: tuple[str, ...] = ("AC", "A", "F", "B", "not marked")

# By the unit of a limit: what is typed, and the SI unit in which it is sealed.
MEASURES: dict[str, units.Measure] = {
    "ohm": units.EARTH_RESISTANCE,
    "Mohm": units.INSULATION_RESISTANCE,
    "mA": units.LEAKAGE,
    "V": units.VOLTAGE,
    "Hz": units.FREQUENCY,
    "ms": units.TIME_MS,
}

End: TypeAlias = Literal["", ">", "<"]
AskedKind: TypeAlias = Literal["confirm", "look", "earth", "limit", "trip"]
ASKED_KINDS: tuple[AskedKind, ...] = ("confirm", "look", "earth", "limit", "trip")
Look: TypeAlias = Literal["right", "not right", "none on it"]
LOOKS: tuple[Look, ...] = ("right", "not right", "none on it")


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

    @property
    def told(self) -> str:
        """The limit as it stands beside the box."""
        if not self.must_trip:
            return _("no trip within {hold_ms} ms").format(hold_ms=f"{self.hold_ms:g}")
        if self.min_ms is not None:
            return _("{min_ms} to {max_ms} ms").format(
                min_ms=f"{self.min_ms:g}", max_ms=f"{self.max_ms:g}"
            )
        return _("at most {max_ms} ms").format(max_ms=f"{self.max_ms:g}")


@dataclass(frozen=True, kw_only=True)
class RcdProfile:
    """The rows of one device standard.

    portable: whether such a device may protect a portable tool; the delayed type may not.
    """

    key: str
    name: str
    rows: tuple[TripRow, ...]
    portable: bool = True

    def row(self, factor: float) -> TripRow:
        """What it must do at this multiple of its rated residual current.

        Raises:
            ValueError: the standard has no row for it.
        """
        for each in self.rows:
            if each.factor == factor:
                return each
        known = ", ".join(f"{each.factor:g}" for each in self.rows)
        raise ValueError(f"{self.name} has limits at {known} times, not at {factor:g}")


@dataclass(frozen=True, kw_only=True)
class EarthRule:
    """The earth-path limit: a base in ohm, and ohm per metre of conductor by core size in mm2."""

    base_ohm: float
    ohm_per_m: Mapping[float, float]
    source: str = ""
    trust: str = ""


@dataclass(frozen=True, kw_only=True)
class Limit:
    """One limit of a reading: at least, at most, or both."""

    key: str
    words: str
    least: float | None
    most: float | None
    unit: str
    source: str
    trust: str

    def __post_init__(self) -> None:
        if self.least is None and self.most is None:
            raise ValueError(f"{self.key}: a limit needs a figure")

    @property
    def told(self) -> str:
        """The limit as it stands beside the box."""
        if self.least is None:
            return _("at most {most} {unit}").format(most=f"{self.most:g}", unit=self.unit)
        if self.most is None:
            return _("at least {least} {unit}").format(least=f"{self.least:g}", unit=self.unit)
        return _("{least} to {most} {unit}").format(
            least=f"{self.least:g}", most=f"{self.most:g}", unit=self.unit
        )


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One thing that a test asks for, and how it is judged.

    kind: confirmed before anything else; looked at; an earth path, judged with its lead; a figure
    with a limit; or the trip time of an RCD. may_lack: some things of the sort have no such part.
    """

    key: str
    kind: AskedKind
    words: str
    hint: str = ""
    limit: Limit | None = None
    factor: float | None = None
    may_lack: bool = False
    source: str
    trust: str

    def __post_init__(self) -> None:
        if self.kind not in ASKED_KINDS:
            raise ValueError(f"{self.key}: kind is one of {', '.join(ASKED_KINDS)}")
        if (self.kind == "limit") != (self.limit is not None):
            raise ValueError(f"{self.key}: a figure with a limit, and nothing else, has a limit")
        if (self.kind == "trip") != (self.factor is not None):
            raise ValueError(f"{self.key}: a trip time, and nothing else, has a factor")
        if self.may_lack and self.kind != "look":
            raise ValueError(f"{self.key}: only what is looked at may be lacking")


@dataclass(frozen=True, kw_only=True)
class Form:
    """What is asked of one sort of thing: machine by class, lead, transformer, RCD, generator.

    families, supplies, protections: which machines it is for (None: all); least_w: only from this
    power; portable_only: devices that may protect a portable tool; plan: keys of the plan lines
    that a passed test of it satisfies.
    """

    key: str
    name: str
    item: str
    hint: str
    families: frozenset[str] | None
    without_families: frozenset[str]
    supplies: frozenset[str] | None
    protections: frozenset[str] | None
    least_w: float | None
    portable_only: bool
    plan: tuple[str, ...]
    asked: tuple[Asked, ...]
    source: str
    trust: str

    def __post_init__(self) -> None:
        keys = [each.key for each in self.asked]
        if len(set(keys)) != len(keys):
            raise ValueError(f"{self.key}: two readings share a key")
        if not any(each.kind != "confirm" for each in self.asked):
            raise ValueError(f"{self.key}: a test needs at least one reading")

    def fits(self, *, family: str, supply: str, protection: str, power_w: float | None) -> bool:
        """Whether it is for this machine."""
        return (
            (self.families is None or family in self.families)
            and family not in self.without_families
            and (self.supplies is None or supply in self.supplies)
            and (self.protections is None or protection in self.protections)
            and (self.least_w is None or (power_w is not None and power_w >= self.least_w))
        )

    @property
    def has_earth(self) -> bool:
        return any(each.kind == "earth" for each in self.asked)

    @property
    def has_trips(self) -> bool:
        return any(each.kind == "trip" for each in self.asked)

    @property
    def has_serial(self) -> bool:
        """Whether what is tested has a serial number of its own, which is not the machine's: an
        RCD, or a lead or a transformer that is tested with any machine."""
        return self.has_trips or (self.item != "machine" and self.families is None)

    @property
    def units(self) -> frozenset[str]:
        """The units in which its instrument must read."""
        fixed = {"earth": "ohm", "trip": "ms"}
        return frozenset(
            each.limit.unit if each.limit else fixed[each.kind]
            for each in self.asked
            if each.limit or each.kind in fixed
        )

    def devices(self, profiles: Sequence[RcdProfile]) -> tuple[RcdProfile, ...]:
        """The device standards that may be tested by it: those with a row for each current."""
        factors = {each.factor for each in self.asked if each.factor is not None}
        return tuple(
            each
            for each in profiles
            if (each.portable or not self.portable_only)
            and factors <= {row.factor for row in each.rows}
        )


@dataclass(frozen=True, kw_only=True)
class Lead:
    """The lead whose resistance is part of an earth path: length and size of its earth core."""

    length_m: float
    core_mm2: float


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was found for one thing asked.

    figure: in the unit of the limit (ohm, ms for an earth path and a trip time); None where it
    did not trip. end: ">" or "<" where the instrument showed the end of its range.
    """

    figure: float | None = None
    end: End = ""
    look: Look | None = None


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """Passed or not, the limit in words, the reason in words, and where the limit comes from."""

    passed: bool
    limit: str
    reason: str
    source: str = ""
    trust: str = ""


def judge(
    asked: Asked,
    found: Found,
    *,
    earth: EarthRule,
    lead: Lead | None = None,
    device: RcdProfile | None = None,
) -> Judgement:
    """Judges what was found for one thing asked.

    Args:
        earth: the earth-path rule of the sheet.
        lead: needed for an earth path.
        device: the standard marked on the device; needed for a trip time.

    Raises:
        ValueError: something needed is missing, a figure is out of range, or an end of range
            does not tell on which side of the limit the value lies.
    """
    if asked.kind in ("look", "confirm"):
        return _judge_look(asked, found.look)
    if asked.kind == "trip":
        if device is None or asked.factor is None:
            raise ValueError("a trip time needs the standard of its device")
        if found.end:
            raise ValueError("a trip time has a figure, or it did not trip")
        if found.figure is not None and found.figure < SHORTEST_TRIP_MS:
            raise ValueError(
                f"{found.figure:g} ms is too short for an RCD; write {found.figure:g} s for seconds"
            )
        return judge_trip(device, factor=asked.factor, trip_ms=found.figure)
    if found.figure is None:
        raise ValueError("a figure is needed")
    if asked.limit is not None:
        return judge_limit(asked.limit, found.figure, end=found.end)
    if lead is None:
        raise ValueError("an earth path needs the length and core size of its lead")
    return judge_earth_path(
        earth, ohms=found.figure, length_m=lead.length_m, core_mm2=lead.core_mm2, end=found.end
    )


def judge_limit(limit: Limit, value: float, *, end: End = "") -> Judgement:
    """Judges one figure, also one that is only known to lie beyond the end of a range.

    Raises:
        ValueError: a negative or endless figure, or the end of the range does not decide it.
    """
    return _judge(value, limit, end=end)


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
    row = profile.row(factor)
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
    rule: EarthRule, *, ohms: float, length_m: float, core_mm2: float, end: End = ""
) -> Judgement:
    """Judges an earth-path reading, with the sum behind the limit.

    The limit is taken to the microohm, so that a reading equal to the printed sum passes.

    Raises:
        ValueError: a negative reading, or as earth_path_limit() and judge_limit().
    """
    most = round(earth_path_limit(rule, length_m=length_m, core_mm2=core_mm2), 6)
    limit = Limit(
        key="earth", words=_("Earth path"), least=None, most=most, unit="ohm",
        source=rule.source, trust=rule.trust,
    )  # fmt: skip
    per_m = rule.ohm_per_m[core_mm2]
    told = _("at most {base_ohm} ohm + {length} m x {per} ohm/m = {most} ohm").format(
        base_ohm=f"{rule.base_ohm:g}", length=f"{length_m:g}", per=f"{per_m:g}", most=f"{most:g}"
    )
    return _judge(ohms, limit, end=end, told=told)


def outcome(judgements: Sequence[Judgement]) -> bool:
    """Whether the whole test passed: every reading did.

    Raises:
        ValueError: there are no readings.
    """
    if not judgements:
        raise ValueError("a test needs at least one reading")
    return all(each.passed for each in judgements)


def _must_trip(row: TripRow, trip_ms: float | None) -> tuple[bool, str, str]:
    most, least, limit = row.max_ms or 0.0, row.min_ms, row.told
    if trip_ms is None:
        return (
            False,
            limit,
            _("It did not trip; it must within {most} ms.").format(most=f"{most:g}"),
        )
    if trip_ms > most:
        return (
            False,
            limit,
            _("{trip_ms} ms is longer than {most} ms.").format(
                trip_ms=f"{trip_ms:g}", most=f"{most:g}"
            ),
        )
    if least is not None and trip_ms < least:
        return (
            False,
            limit,
            _("{trip_ms} ms is shorter than {least} ms.").format(
                trip_ms=f"{trip_ms:g}", least=f"{least:g}"
            ),
        )
    return (
        True,
        limit,
        _("{trip_ms} ms is within the limit, {limit}.").format(trip_ms=f"{trip_ms:g}", limit=limit),
    )


def _must_hold(row: TripRow, trip_ms: float | None, held_ms: float | None) -> tuple[bool, str, str]:
    hold = row.hold_ms or 0.0
    limit = row.told
    if trip_ms is not None and trip_ms <= hold:
        return (
            False,
            limit,
            _("It tripped after {trip_ms} ms; it must not within {hold} ms.").format(
                trip_ms=f"{trip_ms:g}", hold=f"{hold:g}"
            ),
        )
    if held_ms is not None and held_ms < hold:
        raise ValueError(f"held for {held_ms:g} ms only; {hold:g} ms are needed")
    return True, limit, _("It did not trip within {hold} ms.").format(hold=f"{hold:g}")


def _judge_look(asked: Asked, look: Look | None) -> Judgement:
    answers = LOOKS if asked.may_lack else LOOKS[:2]
    if look not in answers:
        raise ValueError("answer what was seen")
    passed = look != "not right"
    return Judgement(
        passed=passed,
        limit=_("right, or none on it") if asked.may_lack else _("right"),
        reason=f"{asked.words}: {look}.",
        source=asked.source,
        trust=asked.trust,
    )


def _judge(value: float, limit: Limit, *, end: End, told: str = "") -> Judgement:
    told, unit = told or limit.told, limit.unit
    if not 0 <= value < float("inf"):
        raise ValueError(f"a reading must be 0 {unit} or more, not {value}")
    low, high = limit.least is not None, limit.most is not None
    under = limit.least is not None and value < limit.least
    over = limit.most is not None and value > limit.most
    at_least = limit.least is not None and value <= limit.least
    at_most = limit.most is not None and value >= limit.most
    # Beyond the figure on one side: it may still decide, if the limit lies on the other.
    if end == ">":
        passed = low and not high and not under
        decided = passed or at_most
    elif end == "<":
        passed = high and not low and not over
        decided = passed or at_least
    else:
        passed, decided = not under and not over, True
    shown = f"{end} {value:g} {unit}".strip()
    if not decided:
        raise ValueError(f"{shown} does not tell whether it is {told}; use another range")
    side = "within" if passed else "outside"
    return Judgement(
        passed=passed,
        limit=told,
        reason=_("{shown} is {side} the limit, {told}.").format(shown=shown, side=side, told=told),
        source=limit.source,
        trust=limit.trust,
    )
