"""How far a figure can be trusted: tool errors, averaged readings, carried doubt and odds."""

from collections.abc import Callable, Mapping, Sequence
from math import fsum, hypot, isfinite, isinf, isnan, pi, sqrt
from statistics import NormalDist
from typing import NamedTuple

from plant.drives.errors import DriveError, OutOfRange, TooFewReadings
from plant.drives.facts import Fact, Trust
from plant.translate import gettext as _
from plant.translate import gettext_noop

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement"
_STANDARD_NORMAL = NormalDist()
_LARGEST = 1e9  # of a reading, in any unit; its square must stay a number


class Doubtful(NamedTuple):
    """A figure [its own unit] with its standard uncertainty [same unit]; unpacks to two floats."""

    value: float
    u: float

    @property
    def expanded(self) -> float:
        """Twice the standard uncertainty [same unit], about 19 in 20 for a bell-shaped doubt."""
        return 2 * self.u


def propagate(
    function: Callable[..., float],
    *,
    values: Mapping[str, float],
    uncertainties: Mapping[str, float],
) -> Doubtful:
    """Carries the doubt of the inputs through a sum, to the first order.

    Each input in turn is moved up and down by its own standard uncertainty, and half of the
    change of the result is that input's share. Where the sum refuses one of the two points
    (an input at the end of its range) the change to the other side is taken whole.

    Args:
        function: [-] the sum, called with ``values`` as keyword arguments.
        values: [units of function] best value of every input.
        uncertainties: [units of function] standard uncertainties; inputs left out are exact.

    Returns:
        [unit of function] value of the sum and its standard uncertainty.

    Raises:
        OutOfRange: an uncertainty is negative or not a number, names no input, or the sum
            can be worked out on neither side of an input.
        DriveError: whatever the sum itself raises at the best values.

    Source:
        JCGM 100:2008, clause 5.1.2 eq. (10) and 5.1.3 note 2. Holds for inputs that do not
        depend on one another and where the sum is close to straight within one uncertainty.
    """
    value = function(**values)
    shares: list[float] = []
    for name, u in uncertainties.items():
        if name not in values:
            raise OutOfRange(
                _("a doubt is given for {name}, which is not an input").format(name=name)
            )
        if not isfinite(u) or u < 0:
            raise OutOfRange(
                _("the doubt of {name} is {u}; accepted: 0 or more").format(name=name, u=f"{u:g}")
            )
        if u > 0:
            shares.append(_share(function, values=values, name=name, u=u, value=value))
    return Doubtful(value, hypot(*shares) if shares else 0.0)


def _share(
    function: Callable[..., float],
    *,
    values: Mapping[str, float],
    name: str,
    u: float,
    value: float,
) -> float:
    def at(shift: float) -> float | None:
        try:
            return function(**{**values, name: values[name] + shift})
        except DriveError:
            return None

    above, below = at(u), at(-u)
    if above is not None and below is not None:
        return (above - below) / 2
    if above is not None:
        return above - value
    if below is not None:
        return value - below
    raise OutOfRange(
        _("the sum cannot be worked out on either side of {name} = {values}").format(
            name=name, values=f"{values[name]:g}"
        )
    )


def rectangular(*, half_width: float) -> float:
    """Standard uncertainty of a figure that lies anywhere within plus or minus a half width.

    Args:
        half_width: [unit of the figure] the most it can be out, either way.

    Returns:
        [same unit] half width / sqrt(3).

    Raises:
        OutOfRange: the half width is negative or not a number.

    Source:
        JCGM 100:2008, clause 4.3.7, eq. (7).
    """
    if not isfinite(half_width) or half_width < 0:
        raise OutOfRange(
            _("the half width is {half_width}; accepted: 0 or more").format(
                half_width=f"{half_width:g}"
            )
        )
    return half_width / sqrt(3)


_PRACTICE = "readings of a site tool, taken as evenly spread within the limits named"


def _tool(*half_widths: float, limits: str) -> Fact:
    return Fact(
        sqrt(fsum(w * w for w in half_widths) / 3), f"{_PRACTICE}: {limits}", Trust.PRACTICE
    )


# Standard uncertainty of one reading, [SI unit of what the tool reads]. Those that are a share
# of the reading end in ", share of the reading" and are plain ratios.
TOOLS: dict[str, Fact] = {
    gettext_noop("steel rule"): _tool(
        0.25e-3, 0.5e-3, limits="0.25 mm reading, 0.5 mm finding the edge"
    ),
    gettext_noop("calliper"): _tool(
        0.05e-3, 0.1e-3, limits="0.05 mm tool, 0.1 mm pinch of a soft belt"
    ),
    gettext_noop("depth gauge"): _tool(0.05e-3, 0.15e-3, limits="0.05 mm tool, 0.15 mm seat"),
    gettext_noop("groove gauge"): _tool(
        0.1e-3, 0.1e-3, limits="0.1 mm gauge, 0.1 mm feeler against it"
    ),
    gettext_noop("groove angle gauge"): _tool(
        pi / 180, limits="1 degree: the gauges come in steps of 2"
    ),
    gettext_noop("feeler blades"): _tool(0.05e-3, limits="0.05 mm"),
    gettext_noop("tape"): _tool(0.5e-3, 1.0e-3, limits="0.5 mm reading, 1 mm hook and lie"),
    gettext_noop("tape round the belt"): _tool(
        0.5e-3, 3.0e-3, limits="0.5 mm reading, 3 mm lie on the belt"
    ),
    gettext_noop("straight edge"): _tool(0.25e-3, 0.25e-3, limits="0.25 mm edge, 0.25 mm rule"),
    gettext_noop("spring gauge"): _tool(0.5, 1.0, limits="0.5 N reading, 1 N jerk"),
    gettext_noop("tension pen"): _tool(1.0, 1.5, limits="1 N ring on the stem, 1.5 N hand"),
    gettext_noop("span frequency, share of the reading"): _tool(0.02, limits="2 % of the reading"),
    gettext_noop("tachometer, share of the reading"): _tool(0.001, limits="0.1 % of the reading"),
    gettext_noop("stop watch"): _tool(0.2, 0.2, limits="0.2 s to start, 0.2 s to stop"),
    gettext_noop("counted turns"): _tool(0.25, 0.25, limits="a quarter turn at start and at stop"),
    gettext_noop("hour meter"): _tool(
        0.05 * 3600, limits="0.05 h: the last figure shown is a tenth"
    ),
}

_SHORT = (gettext_noop("span frequency"), gettext_noop("tachometer"))


def tool(name: str) -> Fact:
    """Standard uncertainty of one reading with a tool.

    Args:
        name: [-] one of the names in ``TOOLS``.

    Returns:
        [SI unit of what the tool reads, or a share where the name says so] the uncertainty.

    Raises:
        OutOfRange: no such tool is held.

    Source:
        Common practice, no source: limits named in each entry, evenly spread
        (JCGM 100:2008, clause 4.3.7).
    """
    try:
        return TOOLS[name]
    except KeyError:
        raise OutOfRange(
            _("no tool {name} is held; accepted: {tools}").format(
                name=f"{name!r}", tools=", ".join(TOOLS)
            )
        ) from None


# One-sigma (68.27 %) two-sided Student factors by degrees of freedom; scatter of few readings
# says little about the true scatter. JCGM 100:2008, Table G.2, column p = 68.27 %.
_STUDENT: dict[int, float] = {
    1: 1.84, 2: 1.32, 3: 1.20, 4: 1.14, 5: 1.11, 6: 1.09, 7: 1.08, 8: 1.07, 9: 1.06, 10: 1.05,
    11: 1.05, 12: 1.04, 13: 1.04, 14: 1.04, 15: 1.03, 16: 1.03, 17: 1.03, 18: 1.03, 19: 1.03,
}  # fmt: skip


def average(
    readings: Sequence[float], *, tool_floor: float, shared: float | None = None
) -> Doubtful:
    """Mean of repeated readings, with the scatter and the tool both counted.

    The scatter shrinks with the number of readings. What the tool does the same way each time
    does not: that part (``shared``) stays whole however often the fitter reads.

    Args:
        readings: [any one unit] one or more readings of the same thing.
        tool_floor: [same unit] standard uncertainty of a single reading with this tool.
        shared: [same unit] the part of ``tool_floor`` common to all readings; None takes all
            of it, which is the careful choice.

    Returns:
        [same unit] mean and standard uncertainty.

    Raises:
        TooFewReadings: there is none.
        OutOfRange: a reading or the tool's doubt is not a number or beyond 1e9 either way, or
            ``shared`` exceeds ``tool_floor``.

    Source:
        JCGM 100:2008, clauses 4.2.3 and G.3 (Student factor for few readings, Table G.2).
    """
    if not readings:
        raise TooFewReadings(_("there is no reading to average; one or more are needed"))
    if not all(abs(reading) <= _LARGEST for reading in readings):
        raise OutOfRange(
            _("one of the readings is not a number within {largest} either way").format(
                largest=f"{_LARGEST:g}"
            )
        )
    floor = tool_floor if shared is None else shared
    if not 0 <= tool_floor <= _LARGEST or not 0 <= floor <= tool_floor:
        raise OutOfRange(
            _("the tool's doubt must be 0 to {largest}, and its shared part no larger").format(
                largest=f"{_LARGEST:g}"
            )
        )
    n = len(readings)
    mean = fsum(readings) / n
    alone = sqrt(tool_floor**2 - floor**2)
    if n == 1:
        return Doubtful(mean, tool_floor)
    scatter = sqrt(fsum((reading - mean) ** 2 for reading in readings) / (n - 1))
    student = _STUDENT.get(n - 1, 1.03 if n - 1 < 30 else 1.0)
    # The readings' own scatter already holds the tool's random part; the larger of the two counts.
    return Doubtful(mean, hypot(max(student * scatter, alone) / sqrt(n), floor))


def probability_below(*, limit: float, mean: float, u: float) -> float:
    """Odds that the true figure lies below a limit.

    Args:
        limit: [any one unit] the limit.
        mean: [same unit] best value of the figure.
        u: [same unit] its standard uncertainty; 0 for an exact figure.

    Returns:
        [-] probability from 0 to 1; an exact figure on the limit itself gives 0.5.

    Raises:
        OutOfRange: the mean or limit is not a number, or the doubt is negative.

    Source:
        Normal distribution; JCGM 100:2008, clause 4.3.6 (bell-shaped doubt assumed).
    """
    if not isfinite(mean) or isnan(limit) or not isfinite(u) or u < 0:
        raise OutOfRange(_("mean, limit and doubt must be numbers, the doubt 0 or more"))
    if isinf(limit):
        return 1.0 if limit > 0 else 0.0
    if u == 0:
        return 0.5 if mean == limit else float(mean < limit)
    return _STANDARD_NORMAL.cdf((limit - mean) / u)


def probability_above(*, limit: float, mean: float, u: float) -> float:
    """Odds that the true figure lies above a limit.

    Args:
        limit: [any one unit] the limit.
        mean: [same unit] best value of the figure.
        u: [same unit] its standard uncertainty; 0 for an exact figure.

    Returns:
        [-] probability from 0 to 1, worked out in the upper tail itself.

    Raises:
        OutOfRange: the mean or limit is not a number, or the doubt is negative.

    Source:
        Normal distribution; JCGM 100:2008, clause 4.3.6 (bell-shaped doubt assumed).
    """
    return probability_below(limit=-limit, mean=-mean, u=u)


def agree(first: Doubtful, second: Doubtful, *, times: float = 2.0) -> bool:
    """Tells whether two figures for the same thing agree within their doubts.

    Args:
        first, second: [same unit] the two figures, found independently of each other.
        times: [-] how many standard uncertainties of the difference are allowed.

    Returns:
        [-] True when the difference is no more than ``times`` its standard uncertainty.

    Raises:
        OutOfRange: ``times`` is not a positive number.

    Source:
        JCGM 100:2008, clause 6.3.3 (k = 2, about 19 in 20).
    """
    if not isfinite(times) or times <= 0:
        raise OutOfRange(_("times is {times}; accepted: more than 0").format(times=f"{times:g}"))
    return abs(first.value - second.value) <= times * hypot(first.u, second.u)


def odds_words(share: float) -> str:
    """A probability as a percentage; what is nearly sure is never called sure.

    Args:
        share: [-] the probability, 0 to 1.

    Returns:
        The words, "under 1 %" and "over 99 %" at the ends.

    Raises:
        Nothing.

    Source:
        Ours: below 1 in 100 the odds rest on tails that nobody has measured.
    """
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{share * 100:.0f} %"
