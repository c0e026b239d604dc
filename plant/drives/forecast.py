"""When a belt's take-up ends or it bottoms: a line through width readings, with its doubt."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, erfc, exp, fsum, inf, isfinite, lgamma, log, sqrt
from statistics import NormalDist
from typing import NamedTuple

from plant.drives.errors import OutOfRange, TooFewReadings, finite
from plant.drives.facts import Fact, Trust
from plant.length_words import length_text
from plant.translate import gettext, ngettext

FEWEST_READINGS = 3
SPAN_IN_ERRORS = Fact(3.0, "loss that the readings must show, in their own error", Trust.PRACTICE)
# A loss of width that the readings must be able to show before "it does not wear" is an answer.
FLAT_ENOUGH = Fact(0.025, "share of the width", Trust.PRACTICE)
# A scatter that would come up less often than this by chance is not a straight line's.
UNBELIEVABLE = Fact(0.01, "odds below which a straight line is not believed", Trust.PRACTICE)
_NORMAL = NormalDist()


class WidthReading(NamedTuple):
    """One width reading."""

    hours: float  # [h] running hours of the belt or of the machine
    width: float  # [m]
    u: float  # [m] standard uncertainty


@dataclass(frozen=True, slots=True)
class WearLine:
    """A straight line of width over running hours, with the doubt of both its figures."""

    slope: float  # [m/h] negative when the belt wears
    intercept: float  # [m] width at hour 0 of the count
    var_slope: float  # [m2/h2]
    var_intercept: float  # [m2]
    covariance: float  # [m2/h]
    readings: int
    first: float  # [h] hours at the first reading
    last: float  # [h] hours at the last reading
    chi_square: float  # [-] scatter about the line against the readings' own errors
    chance: float  # [-] odds that a true line would scatter as much
    believable: bool  # chance is not less than 1 in 100
    wears: bool  # the slope is negative by at least 3 times its own error
    odds_wearing: float  # [-] odds that the slope is negative
    words: str

    def width_at(self, hours: float) -> tuple[float, float]:
        """Width [m] on the line at a count of hours [h], and its standard uncertainty [m]."""
        variance = self.var_intercept + 2 * hours * self.covariance + hours * hours * self.var_slope
        return self.intercept + self.slope * hours, sqrt(max(variance, 0.0))


def wear_line(readings: Sequence[tuple[float, float, float]]) -> WearLine:
    """Draws the line through width readings, each counted by its own error.

    Args:
        readings: [h, m, m] running hours, width and standard uncertainty of each reading, of
            one and the same belt.

    Returns:
        [m/h, m] the line, its covariance, and whether it is to be believed.

    Raises:
        TooFewReadings: fewer than 3 readings, all at the same hours, or the line's change of
            width over them less than 3 times its own error; the words say after how many hours
            to measure again.
        OutOfRange: hours not within 0 to a million, a width not within 1 to 60 mm, or an
            uncertainty not within 1 micrometre to 5 mm.

    Source:
        Weighted least squares; Press et al., Numerical Recipes, 3rd ed., section 15.2 (from
        memory). Chi-square test of the scatter, same section. The rule of 3 readings and 3
        errors: common practice, no source. Holds while wear is steady; a new belt's first
        hours wear faster.
    """
    taken = [WidthReading(*reading) for reading in readings]
    for reading in taken:
        finite("running hours", reading.hours, low=0, high=1e6, unit="h")
        finite("width", reading.width, low=1e-3, high=60e-3, unit="m")
        finite("doubt of the width", reading.u, low=1e-6, high=5e-3, unit="m")
    taken.sort()
    if len(taken) < FEWEST_READINGS:
        raise TooFewReadings(
            ngettext(
                "{count} width reading; {fewest} or more are needed for a date: {again}",
                "{count} width readings; {fewest} or more are needed for a date: {again}",
                len(taken),
            ).format(count=len(taken), fewest=FEWEST_READINGS, again=_again(taken))
        )
    if taken[-1].hours == taken[0].hours:
        raise TooFewReadings(
            gettext(
                "all readings were taken at {hours} h: measure again after some hours of work"
            ).format(hours=f"{taken[0].hours:g}")
        )
    line = _fit(taken)
    _refuse_thin(line, taken)
    return line


def _fit(taken: Sequence[WidthReading]) -> WearLine:
    weights = [1 / reading.u**2 for reading in taken]
    total = fsum(weights)
    # Hours counted from their weighted middle: slope and middle width are then independent.
    middle = fsum(w * r.hours for w, r in zip(weights, taken, strict=True)) / total
    centre = fsum(w * r.width for w, r in zip(weights, taken, strict=True)) / total
    spread = fsum(w * (r.hours - middle) ** 2 for w, r in zip(weights, taken, strict=True))
    slope = (
        fsum(
            w * (r.hours - middle) * (r.width - centre) for w, r in zip(weights, taken, strict=True)
        )
        / spread
    )
    chi_square = fsum(
        w * (r.width - centre - slope * (r.hours - middle)) ** 2
        for w, r in zip(weights, taken, strict=True)
    )
    var_slope = 1 / spread
    chance = chi_square_tail(chi_square, len(taken) - 2)
    believable = chance >= UNBELIEVABLE.value
    odds = _NORMAL.cdf(-slope / sqrt(var_slope))
    words = ""
    if not believable:
        words = gettext(
            "The readings scatter more about a straight line than their errors allow: a reading "
            "is wrong, the belt was changed, or the wear is not steady."
        )
    return WearLine(
        slope=slope,
        intercept=centre - slope * middle,
        var_slope=var_slope,
        var_intercept=1 / total + middle**2 * var_slope,
        covariance=-middle * var_slope,
        readings=len(taken),
        first=taken[0].hours,
        last=taken[-1].hours,
        chi_square=chi_square,
        chance=chance,
        believable=believable,
        wears=-slope >= SPAN_IN_ERRORS.value * sqrt(var_slope),
        odds_wearing=odds,
        words=words,
    )


def _refuse_thin(line: WearLine, taken: Sequence[WidthReading]) -> None:
    """Refuses a line whose change over the readings is less than 3 times its own error.

    A belt that has got no narrower in all that time is an answer, not a lack of readings: once
    the readings would have shown a loss of 2.5 %, the line stands and says "no date".
    """
    over = line.last - line.first
    change, error = abs(line.slope) * over, sqrt(line.var_slope) * over
    if change >= SPAN_IN_ERRORS.value * error:
        return
    if SPAN_IN_ERRORS.value * error <= FLAT_ENOUGH.value * line.intercept:
        return
    raise TooFewReadings(
        gettext(
            "the readings show {change} of change in {over} h and their own "
            "error is {error}; {span_in_errors} times the error is needed for "
            "a date: {taken}"
        ).format(
            change=length_text(change, 2),
            over=f"{over:.0f}",
            error=length_text(error, 2),
            span_in_errors=f"{SPAN_IN_ERRORS.value:g}",
            taken=_again(taken, line),
        )
    )


def _again(taken: Sequence[WidthReading], line: WearLine | None = None) -> str:
    """After how many hours one more reading would make the line strong enough, in words."""
    if line is None or line.slope >= 0:
        if len(taken) < 2 or taken[-1].hours == taken[0].hours:
            return gettext("measure again after some hours of work")
        pace = taken[-1].hours - taken[0].hours
        return gettext("measure again after {rounded} h").format(
            rounded=_rounded(pace / (len(taken) - 1))
        )
    extra = line.last - line.first
    for _ in range(60):
        hours = line.last + extra
        more = WidthReading(hours, line.width_at(hours)[0], taken[-1].u)
        spread = _fit([*taken, more]).var_slope
        if abs(line.slope) >= SPAN_IN_ERRORS.value * sqrt(spread):
            break
        extra *= 1.15
    return gettext("measure again after {extra} h").format(extra=_rounded(extra))


def _rounded(hours: float) -> int:
    step = 1 if hours < 20 else 5 if hours < 100 else 10
    return max(ceil(hours / step) * step, 1)


class Outlook(StrEnum):
    """What a wear line says about a limit."""

    AHEAD = "ahead"
    PASSED = "passed"
    NOT_WEARING = "no wear shown"
    NOT_BELIEVED = "readings do not agree"


@dataclass(frozen=True, slots=True)
class Crossing:
    """When a belt reaches a width."""

    outlook: Outlook
    width_limit: float  # [m]
    hours: float | None  # [h] likely count of hours; None when no date can be given
    early: float | None  # [h] low end of the interval
    late: float | None  # [h] high end; infinite when the line may never get there
    left: float | None  # [h] likely hours left from now
    confidence: float  # [-] of the interval
    words: str


def when(
    line: WearLine,
    *,
    width_limit: float,
    now: float,
    u_limit: float = 0.0,
    confidence: float = 0.9,
) -> Crossing:
    """When the line reaches a width, with its interval.

    Args:
        line: [m/h, m] the wear line.
        width_limit: [m] width at which the slot ends or the belt bottoms.
        now: [h] running hours now.
        u_limit: [m] standard uncertainty of that width.
        confidence: [-] of the interval, 0.5 to 0.999.

    Returns:
        [h] likely hours and interval; none for a belt that shows no wear or a line that is not
        believed, and the words say so.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Fieller's theorem for the point where a fitted line meets a level; Draper & Smith,
        Applied Regression Analysis, 3rd ed., section 3.2, inverse estimation (from memory),
        with the readings' known errors (normal factor, not Student's). Where the interval is
        open, that end is infinite. Readings by one tool share its error, which moves width and
        limit alike and is not counted twice here.
    """
    finite("width limit", width_limit, low=1e-3, high=60e-3, unit="m")
    finite("running hours now", now, low=0, high=1e6, unit="h")
    finite("doubt of the width limit", u_limit, low=0, high=5e-3, unit="m")
    finite("confidence", confidence, low=0.5, high=0.999, unit="")
    if not line.believable:
        return Crossing(
            Outlook.NOT_BELIEVED,
            width_limit,
            None,
            None,
            None,
            None,
            confidence,
            gettext("No date: {because}").format(because=line.words[:1].lower() + line.words[1:]),
        )
    if not line.wears:
        return Crossing(
            Outlook.NOT_WEARING, width_limit, None, None, None, None, confidence,
            gettext("No date: the readings do not show that the belt is getting narrower."),
        )  # fmt: skip
    likely = (width_limit - line.intercept) / line.slope
    early, late = _fieller(line, width_limit, u_limit, _NORMAL.inv_cdf((1 + confidence) / 2))
    left = likely - now
    outlook = Outlook.AHEAD if left > 0 else Outlook.PASSED
    return Crossing(
        outlook, width_limit, likely, early, late, left, confidence,
        _when_words(outlook, left, early - now, late - now, confidence),
    )  # fmt: skip


def _when_words(outlook: Outlook, left: float, early: float, late: float, confidence: float) -> str:
    odds = gettext("{confidence} in 100").format(confidence=f"{confidence * 100:g}")
    first = _from_now(early) if isfinite(early) else gettext("long ago")
    last = _from_now(late) if isfinite(late) else gettext("no end")
    if outlook is Outlook.PASSED:
        words = gettext("The limit was reached {hours} h ago by the line").format(
            hours=f"{-left:.0f}"
        )
    else:
        words = gettext("About {left} h of work left").format(left=f"{left:.0f}")
    return gettext("{words} ({odds}: {first} to {last}).").format(
        words=words, odds=odds, first=first, last=last
    )


def _from_now(hours: float) -> str:
    """A count of hours as a fitter would say it; never "-50 h from now"."""
    whole = round(hours)
    return gettext("{whole} h from now").format(whole=whole) if whole >= 0 else f"{-whole} h ago"


@dataclass(frozen=True, slots=True)
class DaysLeft:
    """Hours left turned into days of use."""

    likely: float  # [d] below 0 when the limit lies behind
    early: float  # [d]
    late: float  # [d] may be infinite


def days_left(
    crossing: Crossing, *, now: float, hours_a_day: float, u_hours_a_day: float = 0.0
) -> DaysLeft:
    """Days until a crossing at the machine's own rate of use.

    Args:
        crossing: [h] a crossing that has a date.
        now: [h] running hours now, as given for the crossing.
        hours_a_day: [h/d] rate of use.
        u_hours_a_day: [h/d] standard uncertainty of that rate.

    Returns:
        [d] likely days and interval; the fast end of the rate goes with the early end.

    Raises:
        TooFewReadings: the crossing has no date.
        OutOfRange: the rate is not within 0.01 to 24 h a day, or so uncertain that it may be
            nothing; or the hours now are not within 0 to a million.

    Source:
        Hours divided by rate; ends combined on the careful side.
    """
    if crossing.hours is None or crossing.early is None or crossing.late is None:
        raise TooFewReadings(crossing.words)
    finite("running hours now", now, low=0, high=1e6, unit="h")
    finite("hours a day", hours_a_day, low=0.01, high=24, unit="h/d")
    error = _NORMAL.inv_cdf((1 + crossing.confidence) / 2) * finite(
        "doubt of the hours a day", u_hours_a_day, low=0, high=24, unit="h/d"
    )
    if error >= hours_a_day:
        raise OutOfRange(
            gettext(
                "the rate of use is {hours_a_day} ± {error} h a day: it may be "
                "nothing; accepted: a rate known better than that"
            ).format(hours_a_day=f"{hours_a_day:g}", error=f"{error:.2g}")
        )
    fast, slow = hours_a_day + error, hours_a_day - error
    early, late = crossing.early - now, crossing.late - now
    return DaysLeft(
        likely=(crossing.hours - now) / hours_a_day,
        early=early / (fast if early > 0 else slow),
        late=late / (slow if late > 0 else fast),
    )


def _fieller(line: WearLine, limit: float, u_limit: float, k: float) -> tuple[float, float]:
    """Hours [h] for which |line - limit| is within k standard uncertainties."""
    # (a + b x - limit)^2 <= k^2 (va + 2 x cab + x^2 vb + u^2), a quadratic in x. With the level
    # taken off and hours counted from the likely crossing the sum stays exact.
    likely = (limit - line.intercept) / line.slope
    variance = line.width_at(likely)[1] ** 2 + u_limit**2
    cross = line.covariance + likely * line.var_slope
    square = line.slope**2 - k * k * line.var_slope
    half = -k * k * cross
    rest = -k * k * variance
    if square <= 0:
        # The slope itself is not sure at this confidence: the early end only.
        root = half * half - square * rest
        if root <= 0:
            return -inf, inf
        ends = sorted(((-half - sqrt(root)) / square, (-half + sqrt(root)) / square))
        return (likely + ends[1], inf) if ends[1] <= 0 else (-inf, likely + ends[0])
    root = sqrt(half * half - square * rest)
    return likely + (-half - root) / square, likely + (-half + root) / square


@dataclass(frozen=True, slots=True)
class First:
    """Which end comes first."""

    slot: Crossing | None
    bottom: Crossing | None
    first: str  # "take-up", "bottoming", "either" or "neither"
    odds_slot_first: float | None  # [-]
    words: str


def which_first(
    line: WearLine,
    *,
    slot_width: float | None,
    bottom_width: float | None,
    now: float,
    u_slot: float = 0.0,
    u_bottom: float = 0.0,
    depth_measured: bool,
    confidence: float = 0.9,
) -> First:
    """Whether the take-up ends or the belt bottoms first, and when.

    Args:
        line: [m/h, m] the wear line.
        slot_width: [m] width at which the slot ends; None when it does not.
        bottom_width: [m] width at which the belt bottoms; None when it is not known.
        now: [h] running hours now.
        u_slot, u_bottom: [m] standard uncertainties of those widths.
        depth_measured: [-] False when the groove depth is the standard's minimum, a guess.
        confidence: [-] of the intervals.

    Returns:
        [h] both crossings, which is sooner and the odds of it.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        A narrowing belt meets the wider limit first; odds from the doubts of both widths,
        normal distribution (JCGM 100:2008, clause 4.3.6).
    """

    def at(width: float | None, u: float) -> Crossing | None:
        if width is None:
            return None
        return when(line, width_limit=width, now=now, u_limit=u, confidence=confidence)

    slot, bottom = at(slot_width, u_slot), at(bottom_width, u_bottom)
    guess = "" if depth_measured else gettext(" The groove depth is a guess: measure it.")
    known = slot or bottom
    if known is None:
        return First(None, None, "neither", None, gettext("Neither limit is known."))
    if known.hours is None:
        return First(slot, bottom, "neither", None, known.words)
    if slot_width is None or bottom_width is None:
        name = "take-up" if bottom_width is None else "bottoming"
        said = (
            gettext("The take-up ends first. {known}")
            if name == "take-up"
            else gettext("The belt bottoms first. {known}")
        ).format(known=known.words)
        tail = guess if name == "bottoming" else ""
        return First(slot, bottom, name, None, f"{said}{tail}")
    u = sqrt(u_slot**2 + u_bottom**2)
    gap = slot_width - bottom_width
    odds = _NORMAL.cdf(gap / u) if u > 0 else 0.5 if gap == 0 else float(gap > 0)
    if 0.25 < odds < 0.75:
        first, said = (
            "either",
            gettext("The take-up ends and the belt bottoms at about the same time"),
        )
    elif odds >= 0.75:
        first, said = "take-up", gettext("The take-up ends first")
    else:
        first, said = "bottoming", gettext("The belt bottoms first")
    sooner = bottom if bottom is not None and gap < 0 else known
    return First(slot, bottom, first, odds, f"{said}. {sooner.words}{guess}")


def chi_square_tail(value: float, freedom: int) -> float:
    """Odds that a sum of squared normal errors exceeds a value.

    Args:
        value: [-] the sum of squares, 0 or more.
        freedom: [-] degrees of freedom, 1 or more.

    Returns:
        [-] upper tail of the chi-square distribution.

    Raises:
        OutOfRange: the value is negative or not a number, or freedom is below 1.

    Source:
        Abramowitz & Stegun, Handbook of Mathematical Functions, 26.4.4 and 26.4.5 (from
        memory): closed sums for even and odd degrees of freedom.
    """
    if not isfinite(value) or value < 0 or freedom < 1:
        raise OutOfRange(
            gettext(
                "chi-square {value} with {freedom} degrees of freedom; accepted: 0 "
                "or more with 1 or more"
            ).format(value=f"{value:g}", freedom=freedom)
        )
    half = value / 2
    if half == 0:
        return 1.0
    # Terms half^k e^-half / Gamma(k+1), k whole or half-whole, in logarithms: no overflow.
    start = 0.0 if freedom % 2 == 0 else 0.5
    tail = 0.0 if freedom % 2 == 0 else erfc(sqrt(half))
    terms = freedom // 2
    tail += fsum(exp((start + k) * log(half) - half - lgamma(start + k + 1)) for k in range(terms))
    return min(tail, 1.0)
