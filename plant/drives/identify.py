"""Which belt is this? Odds over sections and standard lengths, from uncertain measurements."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import erfc, exp, log, pi, sqrt

from plant.drives import geometry, lengths
from plant.drives.errors import NotSourced, OutOfRange, TooFewReadings, finite
from plant.drives.fits import mates
from plant.drives.grooves import groove, systems
from plant.drives.lengths import INCH, System
from plant.drives.sections import SECTIONS, Family, section
from plant.length_words import both_text, length_text
from plant.translate import gettext

# What may be measured, with the range accepted [m, and rad for the angle].
QUANTITIES: dict[str, tuple[float, float]] = {
    "top width": (0.003, 0.06),
    "height": (0.002, 0.04),
    "outside length": (0.1, 20.0),
    "inside length": (0.1, 20.0),
    "belt angle": (0.3, 1.2),
}

# How often a belt of each family is met on small plant, and a listed length against a kept one.
# Common practice, no source: set by judgement, and shown with every answer.
PRIORS: dict[Family, float] = {
    Family.CLASSICAL: 1.0,
    Family.COGGED: 0.3,
    Family.NARROW: 0.4,
    Family.NARROW_COGGED: 0.15,
    Family.INCH_NARROW: 0.1,
    Family.LIGHT_DUTY: 0.15,
}
KEPT_BY_TRADE = 0.7
WRONG_BELT_FITTED = 0.03  # that a belt of a section not meant for the pulley was on it
PRIOR_WORDS = (
    "Odds start from how often each kind is met on small plant (classical 1, narrow 0.4, cogged "
    "0.3, narrow cogged and light duty 0.15, inch narrow 0.1) and from a used belt having lost 4 % "
    "of its width on average; common practice, no source."
)

WEAR_SHARE = 0.04  # mean loss of width of a used belt, as a share of its new width
NEW_WIDTH = 0.0002  # [m] how new belts of one printing differ in width
HEIGHT = 0.0004  # [m] and in height; it is kept while the flanks wear
LENGTH_SHARE = 0.005  # of the length, where no tolerance is held
ANGLE = 0.035  # [rad]
SAME_BELT = 0.0025  # [m] closer than this, two listed lengths are one belt under two names
GROOVE = 0.0005  # [m] a measured groove width against the standard's
FAR_OFF = 4.0  # standard errors at which even the best candidate is doubted

# Standard uncertainty of a careful measurement not yet made, for choosing the next one
# (common practice, no source).
TOOLS: dict[str, float] = {
    "height": 0.0003,
    "top width": 0.0003,
    "outside length": 0.002,
    "inside length": 0.003,
}


@dataclass(frozen=True, slots=True)
class Witness:
    """The drive itself. small, large: [m] datum diameters; closest, farthest: [m] ends of the slot;
    doubt: [m] standard uncertainty of the belt length worked out from them; pulley: the section
    the grooves are cut for, empty when not known."""

    small: float
    large: float
    closest: float
    farthest: float
    doubt: float = 0.004
    pulley: str = ""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One belt it may be: its mark, its lengths [m], its share of the odds (0 to 1), and how far
    the measurements lie from it, in standard errors, by quantity."""

    section: str
    mark: str
    system: System
    datum: float | None
    inside: float | None
    outside: float | None
    odds: float
    misses: tuple[tuple[str, float], ...]
    words: str


@dataclass(frozen=True, slots=True)
class Split:
    """The next measurement: quantity, its value for the leading candidate and for the second [m],
    how many standard errors they lie apart, and a sentence."""

    quantity: str
    first: float
    second: float
    apart: float
    words: str


@dataclass(frozen=True, slots=True)
class Identification:
    """The ranking. settled: the first is more than ten times as likely as the next
    that is not the same belt by another name; split: the
    measurement that would best part the leading two, None when settled or nothing would; doubtful:
    even the best lies far from the measurements; words: the whole in sentences."""

    candidates: tuple[Candidate, ...]
    settled: bool
    doubtful: bool
    split: Split | None
    words: str


def identify(
    measured: Mapping[str, tuple[float, float]],
    *,
    system: System,
    drive: Witness | None = None,
    cogged: bool | None = None,
    used: bool = True,
    most: int = 8,
) -> Identification:
    """Ranks the belts a blank one may be.

    Args:
        measured: quantity of ``QUANTITIES`` -> (value, standard uncertainty), [m] or [rad].
        system: in which inch numbers are turned into datum lengths.
        drive: the pulleys and slot it runs on, a second witness for the length.
        cogged: whether cogs are seen on the inside; None when nobody looked.
        used: a used belt may be narrower than new, never wider; its height is about kept.
        most: how many candidates to give, 1 to 50.

    Returns:
        Identification; lengths [m], odds adding to 1 over all belts held.

    Raises:
        TooFewReadings: neither a width nor a height, or nothing that tells the length.
        OutOfRange: an unknown quantity, or a value or uncertainty outside its range.
        PulleysOverlap: the pulleys of the drive touch with the slot fully in.

    Source:
        Bayes' rule. Normal errors for height, lengths and angle; for the width an exponential loss
        plus a normal error. Sizes and lengths from ``sections`` and ``lengths``; length tolerance
        of DIN 2215 where held; priors by judgement, see ``PRIOR_WORDS``. Holds for single V-belts
        of a listed or commonly kept length.
    """
    _check(measured, most=most)
    if not {"outside length", "inside length"} & measured.keys() and drive is None:
        raise TooFewReadings(
            gettext(
                "nothing tells the length; measure the "
                "outside with a tape, or give pulleys and slot"
            )
        )
    if not {"top width", "height"} & measured.keys():
        raise TooFewReadings(gettext("measure the top width or the height; better both"))
    between = None
    if drive is not None:
        between = (
            geometry.open_length(small=drive.small, large=drive.large, centres=drive.closest),
            geometry.open_length(small=drive.small, large=drive.large, centres=drive.farthest),
        )
        if not between[0] < between[1]:
            raise OutOfRange(
                gettext("the slot has no length; accepted: farthest more than closest")
            )
    meant: frozenset[str] | None = None
    if drive is not None and drive.pulley:
        cut = section(drive.pulley).code
        meant = frozenset({cut, *(mate.section for mate in mates(cut))})
    weighed: list[tuple[float, _Belt, tuple[tuple[str, float], ...]]] = []
    for belt in _belts(system):
        if cogged is not None and section(belt.section).cogged is not cogged:
            continue
        score, misses = _score(belt, measured, used=used)
        score += log(belt.prior)
        if drive is not None and between is not None:
            score += _drive_score(belt, drive, between, meant)
        weighed.append((score, belt, misses))
    weighed.sort(key=lambda item: item[0], reverse=True)
    top = weighed[0][0]
    total = sum(exp(score - top) for score, _, _ in weighed)
    candidates = tuple(
        _candidate(belt, odds=exp(score - top) / total, misses=misses)
        for score, belt, misses in weighed[:most]
    )
    first = candidates[0]
    # A48 and A 1250 Ld are one belt under two names: the rival is the next that is not the same
    lead = weighed[0][1]
    rival = next((item for item in weighed[1:] if not _one_belt(lead, item[1])), None)
    second = None
    if rival is not None:
        second = _candidate(rival[1], odds=exp(rival[0] - top) / total, misses=rival[2])
    lead_odds = sum(exp(item[0] - top) for item in weighed if _one_belt(lead, item[1])) / total
    settled = second is None or lead_odds > 10 * second.odds
    doubtful = any(abs(miss) > FAR_OFF for _, miss in first.misses)
    split = None
    if rival is not None and not settled:
        known = drive is not None and bool(drive.pulley)
        split = _best_split(lead, rival[1], measured, pulley_known=known)
    return Identification(
        candidates=candidates,
        settled=settled and not doubtful,
        doubtful=doubtful,
        split=split,
        words=_words(first, second, settled=settled, doubtful=doubtful, split=split),
    )


def doubt_after(*, apart: float, first: float, second: float) -> tuple[float, float]:
    """How likely the likelier of two is the wrong one: now, and after a measurement, on average.

    Args:
        apart: [-] how many standard errors the two lie apart in that measurement, 0 to 1000.
        first: [-] odds of the one now, over 0 and up to 1.
        second: [-] odds of the other; only their ratio counts.

    Returns:
        [-] chance of naming the wrong one, 0 to 0.5: before, and expected after.

    Raises:
        OutOfRange: a figure outside its range.

    Source:
        Bayes' decision between two normal densities of equal spread: with d apart and odds ratio r
        the wrong side is taken with P1 F(-d/2 - ln r / d) + P2 F(-d/2 + ln r / d), F the normal
        distribution. Holds where it is one of the two.
    """
    finite("distance", apart, low=0, high=1000, unit=gettext("standard errors"))
    for name, odds in (("odds of the first", first), ("odds of the second", second)):
        finite(name, odds, low=1e-12, high=1, unit="")
    share = first / (first + second)
    before = min(share, 1 - share)
    if apart < 1e-9:
        return before, before
    lean = log(first / second) / apart
    after = share * _below(-apart / 2 - lean, 1) + (1 - share) * _below(-apart / 2 + lean, 1)
    return before, min(before, after)


@dataclass(frozen=True, slots=True)
class _Belt:
    section: str
    mark: str
    system: System
    widths: tuple[float, ...]
    heights: tuple[float, ...]
    inside: float | None
    datum: float | None
    outside: float | None
    effective: float | None
    shift: float  # [m] mean of the tolerance, which is not symmetrical
    spread: float  # [m]
    prior: float


@cache
def _belts(system: System) -> tuple[_Belt, ...]:
    found: list[_Belt] = []
    for code, belt in SECTIONS.items():
        if belt.family not in PRIORS:
            continue
        widths = tuple(sorted({size.width.value for size in belt.sizes}))
        heights = tuple(sorted({size.height.value for size in belt.sizes}))
        round_height = 2 * pi * belt.height
        rows: list[tuple[str, System, float | None, float | None, float, float | None, bool]] = []
        if belt.family is Family.LIGHT_DUTY:
            rows = [
                (f"{code}{inch}0", System.RMA, None, None, inch * INCH, None, False)
                for inch in range(12, 101)
            ]
        else:
            try:
                listed = lengths.stocked(code, system=system)
            except NotSourced:
                continue
            for item in listed:
                if item.effective is not None:
                    # the top stands a little proud of the rim
                    outside = item.effective + 0.004
                elif item.inside is not None and item.mark[-1].isdigit() and " " not in item.mark:
                    # a number is the inside, whatever the system makes of its datum length
                    outside = item.inside + round_height
                else:
                    outside = lengths.outside_from_datum(code, item.datum)
                rows.append(
                    (
                        item.mark,
                        item.system,
                        item.inside,
                        item.datum,
                        outside,
                        item.effective,
                        item.standard,
                    )
                )
        share = PRIORS[belt.family]
        for mark, used, inside, datum, outside, effective, standard in rows:
            shift, spread = _give(code, datum, outside, used)
            found.append(
                _Belt(
                    section=code,
                    mark=mark,
                    system=used,
                    widths=widths,
                    heights=heights,
                    inside=inside if inside is not None else outside - round_height,
                    datum=datum,
                    outside=outside,
                    effective=effective,
                    shift=shift,
                    spread=spread,
                    prior=share * (1.0 if standard else KEPT_BY_TRADE),
                )
            )
    return tuple(found)


def _give(code: str, datum: float | None, outside: float, system: System) -> tuple[float, float]:
    """Mean and standard deviation [m] of a new belt's length about its name."""
    if datum is not None:
        try:
            # the metric deviation is asked for inch belts too: theirs is a limit, not a spread
            held = lengths.tolerance(code, datum=datum, system=System.ISO_DIN)
            return (held.over - held.under) / 2, (held.over + held.under) / 4
        except NotSourced:
            pass
    return 0.0, LENGTH_SHARE * outside


def _check(measured: Mapping[str, tuple[float, float]], *, most: int) -> None:
    finite("number of candidates", most, low=1, high=50, unit="candidates")
    for name, (value, doubt) in measured.items():
        if name not in QUANTITIES:
            raise OutOfRange(
                gettext("{name} is not asked for; accepted: {quantities}").format(
                    name=f"{name!r}", quantities=", ".join(QUANTITIES)
                )
            )
        low, high = QUANTITIES[name]
        unit = "rad" if name == "belt angle" else "m"
        finite(name, value, low=low, high=high, unit=unit)
        finite(f"uncertainty of {name}", doubt, low=1e-6, high=high / 4, unit=unit)


def _score(
    belt: _Belt, measured: Mapping[str, tuple[float, float]], *, used: bool
) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Log likelihood, and by how many standard errors each measurement misses."""
    score = 0.0
    misses: list[tuple[str, float]] = []
    for name, (value, doubt) in measured.items():
        if name == "top width":
            error = sqrt(doubt * doubt + NEW_WIDTH * NEW_WIDTH)
            wear = WEAR_SHARE * belt.widths[-1]
            if used:
                terms = [_log_worn(width - value, error, wear) for width in belt.widths]
            else:
                terms = [_log_normal(width - value, error) for width in belt.widths]
            score += _log_mean(terms)
            nearest = min((width - value for width in belt.widths), key=abs)
            # loss of width is no miss for a used belt until it is past a worn-out quarter
            slack = 0.25 * belt.widths[-1] if used and nearest > 0 else 0.0
            gap = max(abs(nearest) - slack, 0.0)
            misses.append((name, -gap / error if nearest > 0 else gap / error))
            continue
        if name == "height":
            error = sqrt(doubt * doubt + HEIGHT * HEIGHT)
            gaps = [value - height for height in belt.heights]
            score += _log_mean([_log_normal(gap, error) for gap in gaps])
            misses.append((name, min(gaps, key=abs) / error))
            continue
        if name == "belt angle":
            wedge = section(belt.section).belt_angle
            error = sqrt(doubt * doubt + ANGLE * ANGLE)
            gap = value - wedge
        else:
            nominal = belt.outside if name == "outside length" else belt.inside
            if nominal is None:
                continue
            error = sqrt(doubt * doubt + belt.spread * belt.spread)
            gap = value - nominal - belt.shift
        score += _log_normal(gap, error)
        misses.append((name, gap / error))
    return score, tuple(misses)


def _drive_score(
    belt: _Belt, drive: Witness, between: tuple[float, float], meant: frozenset[str] | None
) -> float:
    """Log of the odds that this belt is taut within the slot, and belongs in the groove."""
    score = 0.0
    length = belt.effective if belt.effective is not None else belt.datum
    if length is None and belt.outside is not None:
        twin = {"3L": "Z", "4L": "A", "5L": "B"}.get(belt.section)
        if twin is not None:
            length = belt.outside - lengths.outside_offset(twin).value
    if length is not None:
        error = sqrt(drive.doubt**2 + belt.spread**2)
        inside = _below(length + belt.shift - between[0], error) * _below(
            between[1] - length - belt.shift, error
        )
        score += log(max(inside, 1e-12))
    if meant is not None and belt.section not in meant:
        score += log(WRONG_BELT_FITTED)
    return score


def _below(gap: float, error: float) -> float:
    return 0.5 * erfc(-gap / (error * sqrt(2)))


def _log_normal(gap: float, error: float) -> float:
    return -0.5 * (gap / error) ** 2 - log(error * sqrt(2 * pi))


def _log_worn(loss: float, error: float, wear: float) -> float:
    """Log density of a loss of width that is exponential wear plus a normal error.

    The convolution is exp(s^2/(2 w^2) - x/w)/(2 w) erfc((s/w - x/s)/sqrt 2); where the argument is
    large the tail of erfc is written out, so that the log stays finite.
    """
    argument = (error / wear - loss / error) / sqrt(2)
    front = 0.5 * (error / wear) ** 2 - loss / wear - log(2 * wear)
    if argument < 20:
        return front + log(erfc(argument))
    return front - argument * argument - log(argument * sqrt(pi))


def _log_mean(terms: list[float]) -> float:
    top = max(terms)
    return top + log(sum(exp(term - top) for term in terms) / len(terms))


def _candidate(belt: _Belt, *, odds: float, misses: tuple[tuple[str, float], ...]) -> Candidate:
    told = [
        f"{name} {both_text(length)}"
        for name, length in (("datum", belt.datum), ("outside", belt.outside))
        if length is not None
    ]
    return Candidate(
        section=belt.section,
        mark=belt.mark,
        system=belt.system,
        datum=belt.datum,
        inside=belt.inside,
        outside=belt.outside,
        odds=odds,
        misses=misses,
        words=gettext("{mark}: {told}; odds {odds} in 100.").format(
            mark=belt.mark, told=", ".join(told), odds=f"{odds * 100:.0f}"
        ),
    )


def _best_split(
    first: _Belt,
    second: _Belt,
    measured: Mapping[str, tuple[float, float]],
    *,
    pulley_known: bool,
) -> Split | None:
    """The measurement, made with care, in which the two lie furthest apart by its own error."""
    options: list[Split] = []
    rims = _rim(first.section), _rim(second.section)
    if not pulley_known and rims[0] is not None and rims[1] is not None:
        apart = abs(rims[0] - rims[1]) / GROOVE
        words = gettext(
            "Measure the width of the pulley's groove at the rim: about {rim} "
            "for {section}, {other_rim} for {other_section}."
        ).format(
            rim=length_text(rims[0]),
            section=first.section,
            other_rim=length_text(rims[1]),
            other_section=second.section,
        )
        options.append(Split(gettext("groove width"), rims[0], rims[1], apart, words))
    for name, doubt in TOOLS.items():
        one, other, spread = _expected(first, second, name)
        if one is None or other is None:
            continue
        apart = abs(one - other) / sqrt(doubt * doubt + spread * spread)
        if name in measured:  # taken already: a second time helps only with a finer tool
            apart *= max(0.0, 1 - (doubt / measured[name][1]) ** 2) ** 0.5
        words = gettext("Measure the {name}: {mark} has {one}, {other_mark} {other}.").format(
            name=name,
            mark=first.mark,
            one=length_text(one),
            other_mark=second.mark,
            other=length_text(other),
        )
        options.append(Split(name, one, other, apart, words))
    if section(first.section).cogged is not section(second.section).cogged:
        words = gettext("Look at the inside of the belt: cogs or smooth?")
        options.append(Split("cogs", 0.0, 0.0, 10.0, words))
    best = max(options, key=lambda option: option.apart, default=None)
    return best if best is not None and best.apart >= 1 else None


def _one_belt(one: _Belt, other: _Belt) -> bool:
    if one.section != other.section or one.outside is None or other.outside is None:
        return False
    return abs(one.outside - other.outside) < SAME_BELT


def _rim(code: str) -> float | None:
    """Width [m] of the usual groove at the rim, on a pulley of twice the smallest usual size."""
    belt = section({"3L": "Z", "4L": "A", "5L": "B"}.get(code, code))
    held = systems(belt.code)
    if not held or belt.min_diameter is None:
        return None
    return groove(belt.code, diameter=2 * belt.min_diameter.value, system=held[0]).rim_width


def _expected(first: _Belt, second: _Belt, name: str) -> tuple[float | None, float | None, float]:
    if name == "height":
        return _middle(first.heights), _middle(second.heights), HEIGHT
    if name == "top width":
        one, other = _middle(first.widths), _middle(second.widths)
        return one, other, NEW_WIDTH + WEAR_SHARE * max(one, other)
    spread = sqrt(first.spread**2 + second.spread**2)
    if name == "outside length":
        return first.outside, second.outside, spread
    return first.inside, second.inside, spread


def _middle(values: tuple[float, ...]) -> float:
    return (values[0] + values[-1]) / 2


def _words(
    first: Candidate,
    second: Candidate | None,
    *,
    settled: bool,
    doubtful: bool,
    split: Split | None,
) -> str:
    said = gettext("Likeliest {first}").format(first=first.words)
    if second is not None:
        said += gettext(" Then {second}").format(second=second.words)
    if doubtful:
        name = max(first.misses, key=lambda miss: abs(miss[1]))[0]
        said += gettext(
            " Even the first lies far from the {name} measured: measure that again."
        ).format(name=name)
    elif settled:
        said += gettext(" The first is more than ten times as likely.")
    elif split is not None:
        said += gettext(" To settle it: {split}").format(split=split.words)
    else:
        said += gettext(" No single measurement would part them: look for what is left of a mark.")
    return f"{said} {PRIOR_WORDS}"
