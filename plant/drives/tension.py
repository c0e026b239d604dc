"""Belt tension: what is required, what a reading says, what the shafts carry, when it slips."""

from dataclasses import dataclass
from enum import StrEnum
from math import cos, exp, log, pi, sin, sqrt

from plant.drives import geometry
from plant.drives.doubt import Doubtful, probability_above, probability_below
from plant.drives.errors import NotSourced, OutOfRange, finite
from plant.drives.facts import Fact, Trust
from plant.translate import gettext as _

_LBF = 4.4482216152605  # [N] exact: 0.45359237 kg x 9.80665 m/s2
_INCH = 0.0254  # [m] exact


class Method(StrEnum):
    """Which published coefficient the required static tension is worked out with."""

    RMA = "RMA"
    THEORY = "theory"


# Coefficient c in Ts = c (2.5 - K)/K Pd/(N v) + m v2, with Pd in watts.
COEFFICIENTS: dict[Method, Fact] = {
    Method.RMA: Fact(0.450, "ANSI/RMA IP-20 (1988), 450 with kilowatts", Trust.MEMORY),
    Method.THEORY: Fact(
        0.500,
        "half sum of the two strand tensions at a 5 to 1 design ratio; GB/T 13575.1, 500 with kW",
        Trust.MEMORY,
    ),
}


class StiffnessForm(StrEnum):
    """Which published form of the deflection force the stiffness figure belongs to."""

    RMA = "RMA"
    GB = "GB/T"


_Y_SOURCE = "ANSI/RMA IP-20 and IP-22, stiffness term Y"
_DF0_SOURCE = "GB/T 13575.1, stiffness term dF0"
# As printed: lbf for Y.
STIFFNESS: dict[StiffnessForm, dict[str, Fact]] = {
    StiffnessForm.RMA: {
        section: Fact(y * _LBF, _Y_SOURCE, Trust.MEMORY)
        for section, y in {
            "A": 6, "AX": 7, "B": 9, "BX": 10, "C": 16, "CX": 17, "D": 30, "E": 45,
            "3V": 4, "3VX": 4, "5V": 12, "5VX": 12, "8V": 22,
        }.items()
    },
    StiffnessForm.GB: {
        section: Fact(df0, _DF0_SOURCE, Trust.MEMORY)
        for section, df0 in {
            "Y": 6.0, "Z": 10.0, "A": 15.0, "B": 20.0, "C": 29.4, "D": 58.8, "E": 108.0,
            "SPZ": 12.0, "SPA": 19.0, "SPB": 32.0, "SPC": 55.0,
        }.items()
    },
}  # fmt: skip


def stiffness(*, section: str, form: StiffnessForm | str = StiffnessForm.RMA) -> Fact:
    """Stiffness term of a belt section in the deflection force.

    Args:
        section: [-] belt section, such as "A".
        form: [-] "RMA" (term Y, used with span/length) or "GB/T" (term dF0, used alone).

    Returns:
        [N] the term with its source; the two forms are not interchangeable.

    Raises:
        NotSourced: no published figure is held for this section in this form.
        OutOfRange: no such form.

    Source:
        ANSI/RMA IP-20 and IP-22 (from memory); GB/T 13575.1 (from memory).
    """
    table = STIFFNESS[_form(form)]
    if section not in table:
        raise NotSourced(
            _("no {form} stiffness term is held for section {section}; held: {table}").format(
                form=form, section=section, table=", ".join(table)
            )
        )
    return table[section]


def _form(form: StiffnessForm | str) -> StiffnessForm:
    try:
        return StiffnessForm(form)
    except ValueError:
        raise OutOfRange(
            _("no deflection form {form}; accepted: RMA, GB/T").format(form=f"{form!r}")
        ) from None


def effective_pull(*, power: float, speed: float) -> float:
    """Difference of tight and slack strand tension that carries a power.

    Args:
        power: [W] power carried, all belts together.
        speed: [m/s] belt speed.

    Returns:
        [N] effective pull, all belts together.

    Raises:
        OutOfRange: the power is negative or over 1 MW, or the speed not within 0.1 to 60 m/s.

    Source:
        Mechanics: power = force times speed.
    """
    finite("power", power, low=0, high=1e6, unit="W")
    return power / _speed(speed)


def _speed(speed: float) -> float:
    return finite("belt speed", speed, low=0.1, high=60, unit="m/s")


def design_ratio(*, wrap: float) -> float:
    """Ratio of tight to slack strand tension that V-belt drives are designed for.

    Args:
        wrap: [rad] contact angle on the small pulley.

    Returns:
        [-] 5 at half a turn.

    Raises:
        OutOfRange: the wrap is not within 0 to two pi.

    Source:
        Belt-maker formula sheet, tight/slack = exp(0.5123 wrap), 0.5123 = ln 5 / pi
        (seen, second hand). A design value, not the ratio at which a belt slips.
    """
    finite("wrap", wrap, low=0, high=2 * pi, unit="rad")
    return exp(log(5) / pi * wrap)


def design_arc_factor(*, wrap: float) -> float:
    """Arc factor that follows from the 5 to 1 design ratio, used in the static tension.

    Args:
        wrap: [rad] contact angle on the small pulley.

    Returns:
        [-] 1 at half a turn, less below.

    Raises:
        OutOfRange: the wrap is not within 80 degrees to two pi.

    Source:
        1.25 (1 - 5^(-wrap/pi)); agrees with Machinery's Handbook, 31st ed., p. 2581, Table 12
        within 0.006 from 83 to 180 degrees.
    """
    finite("wrap", wrap, low=80 * pi / 180, high=2 * pi, unit="rad")
    return 1.25 * (1 - 1 / design_ratio(wrap=wrap))


def centrifugal(*, mass: float, speed: float) -> float:
    """Tension that a running belt needs only to stay on its round path.

    Args:
        mass: [kg/m] mass of one belt for each metre.
        speed: [m/s] belt speed.

    Returns:
        [N] mass times speed squared, one belt.

    Raises:
        OutOfRange: the mass is not within 0 to 3 kg/m or the speed not within 0 to 60 m/s.

    Source:
        Budynas & Nisbett, Shigley's Mechanical Engineering Design, 10th ed., section 17-2
        (from memory).
    """
    finite("mass", mass, low=0, high=3, unit="kg/m")
    finite("belt speed", speed, low=0, high=60, unit="m/s")
    return mass * speed**2


# Kc [lbf at 1000 ft/min], as printed.
KC: dict[str, Fact] = {
    section: Fact(
        kc, "Budynas & Nisbett, Shigley's Mechanical Engineering Design, Table 17-16", Trust.MEMORY
    )
    for section, kc in {
        "A": 0.561, "B": 0.965, "C": 1.716, "D": 3.498, "E": 5.041,
        "3V": 0.425, "5V": 1.217, "8V": 3.288,
    }.items()
}  # fmt: skip


def mass_from_kc(*, kc: float) -> float:
    """Mass of a belt for each metre from the printed centrifugal constant.

    Args:
        kc: [lbf] centrifugal tension at 1000 ft/min, as printed.

    Returns:
        [kg/m] mass of one belt for each metre.

    Raises:
        OutOfRange: the constant is not within 0 to 20 lbf.

    Source:
        Shigley's Mechanical Engineering Design, Table 17-16: Fc = Kc (V/1000)^2, V in ft/min
        (from memory); solved for the mass, 1000 ft/min = 5.08 m/s.
    """
    finite("Kc", kc, low=0, high=20, unit="lbf")
    return kc * _LBF / (1000 * 12 * _INCH / 60) ** 2


def static_tension(
    *,
    design_power: float,
    speed: float,
    belts: int,
    arc_factor: float,
    mass: float,
    method: Method | str = Method.RMA,
) -> float:
    """Tension that each strand needs at rest, one belt, run-in.

    Args:
        design_power: [W] power times service factor, all belts together.
        speed: [m/s] belt speed.
        belts: [-] number of belts.
        arc_factor: [-] arc factor of the wrap on the small pulley.
        mass: [kg/m] mass of one belt for each metre.
        method: [-] "RMA" (450 with kilowatts) or "theory" (500 with kilowatts).

    Returns:
        [N] static tension of one strand of one belt.

    Raises:
        OutOfRange: a figure outside 0 to 1 MW, 0.1 to 60 m/s, 1 to 50 belts, arc factor 0.4
            to 1.25, 0 to 3 kg/m; or no such method.

    Source:
        ANSI/RMA IP-20 (1988) (from memory); GB/T 13575.1 (from memory). The coefficients
        differ by a tenth; both are in use.
    """
    try:
        coefficient = COEFFICIENTS[Method(method)].value
    except ValueError:
        raise OutOfRange(
            _("no tension method {method}; accepted: RMA, theory").format(method=f"{method!r}")
        ) from None
    finite("number of belts", belts, low=1, high=50, unit="belts")
    finite("arc factor", arc_factor, low=0.4, high=1.25, unit="")
    pull = effective_pull(power=design_power, speed=speed) / belts
    return coefficient * (2.5 - arc_factor) / arc_factor * pull + centrifugal(
        mass=mass, speed=speed
    )


@dataclass(frozen=True, slots=True)
class Target:
    """What one belt of a drive should be set to, at the diameters it runs on now."""

    tension: float  # [N] required static tension, run-in
    speed: float  # [m/s] belt speed
    wrap: float  # [rad] contact angle on the small pulley
    span: float  # [m] free length between the pulleys
    arc_factor: float  # [-]
    deflection: float  # [m] span / 64
    method: Method


def target(
    *,
    design_power: float,
    shaft_speed: float,
    small: float,
    large: float,
    centres: float,
    belts: int,
    mass: float,
    method: Method | str = Method.RMA,
) -> Target:
    """Required tension from the diameters that the belt runs on, new or worn.

    A worn belt runs lower in both grooves, so it runs slower and has to pull harder for the
    same power. Give the worn diameters and the worn centre distance for its target.

    Args:
        design_power: [W] power times service factor, all belts together.
        shaft_speed: [rad/s] speed of the shaft with the small pulley.
        small, large: [m] diameters of the cord line on both pulleys.
        centres: [m] distance between the shaft centres.
        belts: [-] number of belts.
        mass: [kg/m] mass of one belt for each metre.
        method: [-] "RMA" or "theory".

    Returns:
        [N, m/s, rad, m] target of one belt with the geometry that it rests on.

    Raises:
        DriveError: the pulleys overlap, or a figure is outside its range.

    Source:
        ANSI/RMA IP-20 (1988) (from memory), with exact geometry of an open drive.
    """
    speed = geometry.belt_speed(diameter=small, speed=shaft_speed)
    wrap = geometry.wrap_angle(small=small, large=large, centres=centres)
    span = geometry.span(small=small, large=large, centres=centres)
    arc = design_arc_factor(wrap=wrap)
    tension = static_tension(
        design_power=design_power,
        speed=speed,
        belts=belts,
        arc_factor=arc,
        mass=mass,
        method=method,
    )
    return Target(tension, speed, wrap, span, arc, deflection(span=span), Method(method))


class Stage(StrEnum):
    """How far a belt is run in when it is read."""

    NEW = "new"
    RUN_IN = "run-in"


class Verdict(StrEnum):
    """What a tension reading means."""

    UNDER = "under"
    WITHIN = "within"
    HIGH = "high"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Band:
    """The tensions [N] between which a reading must lie at a stage."""

    low: float  # [N] below this the belt is too slack
    high: float  # [N] up to here it is within the band
    over: float  # [N] above this it is too tight for the bearings
    stage: Stage
    low_factor: Fact
    high_factor: Fact
    over_factor: Fact

    def verdict(self, tension: float) -> Verdict:
        """Names where a tension [N] lies against the band."""
        if tension < self.low:
            return Verdict.UNDER
        if tension <= self.high:
            return Verdict.WITHIN
        return Verdict.HIGH if tension <= self.over else Verdict.OVER


_ARMY = "US Army TM 5-4310-339-15, section 5-5 (normal to 150 % of normal; new up to twice)"
_GB_BANDS = "GB/T 13575.1 (1.3 run-in, 1.5 new)"
BAND_FACTORS: dict[Stage, tuple[Fact, Fact, Fact]] = {
    Stage.NEW: (
        Fact(1.3, _GB_BANDS + "; the low end of a first setting", Trust.PRACTICE),
        Fact(1.5, _GB_BANDS, Trust.MEMORY),
        Fact(2.0, _ARMY, Trust.SEEN),
    ),
    Stage.RUN_IN: (
        Fact(1.0, _ARMY, Trust.SEEN),
        Fact(1.5, _ARMY, Trust.SEEN),
        Fact(1.5, _ARMY, Trust.SEEN),
    ),
}


def band(*, required: float, stage: Stage | str) -> Band:
    """The tensions that a reading must lie between, for a new or a run-in belt.

    Args:
        required: [N] required static tension, run-in.
        stage: [-] "new" (first setting) or "run-in" (second look and after).

    Returns:
        [N] low and high end, and the end above which it is over-tight.

    Raises:
        OutOfRange: the required tension is not within 0 to 20 kN, or no such stage.

    Source:
        US Army TM 5-4310-339-15, section 5-5 (seen); GB/T 13575.1 (from memory). Put together
        from sources that do not share one base tension; judge beside the hub load.
    """
    finite("required tension", required, low=0, high=20e3, unit="N")
    try:
        stage = Stage(stage)
    except ValueError:
        raise OutOfRange(
            _("no stage {stage}; accepted: new, run-in").format(stage=f"{stage!r}")
        ) from None
    low, high, over = BAND_FACTORS[stage]
    return Band(
        required * low.value, required * high.value, required * over.value, stage, low, high, over
    )


@dataclass(frozen=True, slots=True)
class Judgement:
    """A reading against its band, with the odds that its doubt leaves."""

    verdict: Verdict
    under: float  # [-] odds that the belt is slacker than the band
    over: float  # [-] odds that it is tighter than the band allows
    sure: bool  # the verdict stands with at least 19 in 20


def judge(*, reading: Doubtful, against: Band) -> Judgement:
    """Judges a tension reading with its doubt against a band.

    Args:
        reading: [N] measured tension and its standard uncertainty.
        against: [N] the band of the stage.

    Returns:
        [-] verdict, odds of being under and over, and whether the verdict is sure.

    Raises:
        OutOfRange: the reading is not a number or its doubt is negative.

    Source:
        Normal distribution; JCGM 100:2008, clause 4.3.6.
    """
    value, u = reading
    verdict = against.verdict(value)
    under = probability_below(limit=against.low, mean=value, u=u)
    above_high = probability_above(limit=against.high, mean=value, u=u)
    over = probability_above(limit=against.over, mean=value, u=u)
    odds = {
        Verdict.UNDER: under,
        Verdict.WITHIN: 1 - under - above_high,
        Verdict.HIGH: above_high - over,
        Verdict.OVER: over,
    }[verdict]
    return Judgement(verdict, under, over, odds >= 0.95)


def deflection(*, span: float) -> float:
    """How far to press a span at its middle for the force reading.

    Args:
        span: [m] free length between the pulleys.

    Returns:
        [m] span / 64.

    Raises:
        OutOfRange: the span is not within 20 mm to 10 m.

    Source:
        US Army TM 5-4310-339-15, section 5-5: 1/64 in for each inch of span (seen).
    """
    return _span(span) / 64


def _span(span: float) -> float:
    return finite("span", span, low=0.02, high=10, unit="m")


def deflection_force(
    *,
    tension: float,
    span: float,
    length: float,
    stiffness: float,
    form: StiffnessForm | str = StiffnessForm.RMA,
    factor: float = 1.0,
    deflection: float | None = None,
) -> float:
    """Force at the middle of a span that presses it in by a given depth.

    Args:
        tension: [N] static tension of the strand.
        span: [m] free length between the pulleys.
        length: [m] length of the belt; it counts in the RMA form only.
        stiffness: [N] stiffness term of this form, from ``stiffness``; 0 for a pure string.
        form: [-] "RMA": (k Ts + (t/L) Y)/16, or "GB/T": (k F0 + dF0)/16.
        factor: [-] k, multiple of the tension that is aimed at: 1 to 2.
        deflection: [m] depth pressed; None takes span / 64.

    Returns:
        [N] force on one belt.

    Raises:
        OutOfRange: a figure is outside its range; the depth pressed must be 0.5 to 1.5 times
            span / 64 (RMA) or 0.9 to 1.1 times (GB/T).

    Source:
        ANSI/RMA IP-20 (from memory); GB/T 13575.1 (from memory). Away from span / 64 the
        string term goes with the depth and the RMA term with its cube: it is the stretch of
        the belt between fixed centres, 8 EA d^3 / (t^2 L), with EA = 2048 Y. The GB/T term is
        taken in proportion, so near span / 64 only.
    """
    finite("tension", tension, low=0, high=20e3, unit="N")
    finite("factor", factor, low=1, high=2, unit="")
    depth, added = _terms(
        span=span, length=length, stiffness=stiffness, form=form, deflection=deflection
    )
    return 4 * factor * tension * depth / span + added


def from_deflection_force(
    *,
    force: float,
    span: float,
    length: float,
    stiffness: float,
    form: StiffnessForm | str = StiffnessForm.RMA,
    deflection: float | None = None,
) -> float:
    """Static tension from a force reading at the middle of a span.

    Args:
        force: [N] force on one belt.
        span: [m] free length between the pulleys.
        length: [m] length of the belt; it counts in the RMA form only.
        stiffness: [N] stiffness term of this form; 0 for a pure string.
        form: [-] "RMA" or "GB/T".
        deflection: [m] depth pressed; None takes span / 64.

    Returns:
        [N] static tension of the strand.

    Raises:
        OutOfRange: a figure is outside its range, or the force is less than the stiffness
            alone would give at no tension.

    Source:
        ANSI/RMA IP-20 (from memory) and GB/T 13575.1 (from memory), solved for the tension.
    """
    finite("force", force, low=0, high=5e3, unit="N")
    depth, added = _terms(
        span=span, length=length, stiffness=stiffness, form=form, deflection=deflection
    )
    if force < added * (1 - 1e-12):
        raise OutOfRange(
            _(
                "force is {force} N; the belt's own stiffness alone gives {added} "
                "N at no tension: the belt is slack, or the depth or the stiffness "
                "figure is wrong"
            ).format(force=f"{force:g}", added=f"{added:.3g}")
        )
    return max(force - added, 0.0) * span / (4 * depth)


def _terms(
    *,
    span: float,
    length: float,
    stiffness: float,
    form: StiffnessForm | str,
    deflection: float | None,
) -> tuple[float, float]:
    """Depth pressed [m] and the force [N] that stiffness adds there."""
    _span(span)
    finite("belt length", length, low=2 * span, high=25, unit="m")
    finite("stiffness term", stiffness, low=0, high=500, unit="N")
    form = _form(form)
    normal = span / 64
    depth = normal if deflection is None else deflection
    low, high = (0.5, 1.5) if form is StiffnessForm.RMA else (0.9, 1.1)
    finite("depth pressed", depth, low=low * normal, high=high * normal, unit="m")
    share = depth / normal
    if form is StiffnessForm.RMA:
        return depth, span / length * stiffness / 16 * share**3
    return depth, stiffness / 16 * share


@dataclass(frozen=True, slots=True)
class TabledForce:
    """Deflection force of a printed table [N], for one belt pressed in by span / 64."""

    new: float  # [N] new belt
    used: float  # [N] run-in belt
    source: str
    trust: Trust


# Section, small pulley [in] from-to, speed [rpm] from-to, new [lbf], used [lbf], as printed.
# The row AX 5.0-7.0 (9.4 new, 5.7 used) breaks the ratio of all others and is left out.
_FORCE_ROWS: tuple[tuple[str, float, float, float, float, float, float], ...] = (
    ("A", 3.0, 3.6, 1000, 2500, 5.5, 3.7),
    ("A", 3.0, 3.6, 2501, 4000, 4.2, 2.8),
    ("A", 3.8, 4.8, 1000, 2500, 6.8, 4.5),
    ("A", 3.8, 4.8, 2501, 4000, 5.7, 3.8),
    ("A", 5.0, 7.0, 1000, 2500, 8.0, 5.4),
    ("A", 5.0, 7.0, 2501, 4000, 7.0, 4.7),
    ("AX", 3.0, 3.6, 1000, 2500, 6.1, 4.1),
    ("AX", 3.0, 3.6, 2501, 4000, 5.0, 3.4),
    ("AX", 3.8, 4.8, 1000, 2500, 7.4, 5.0),
    ("AX", 3.8, 4.8, 2501, 4000, 6.4, 4.3),
    ("B", 4.4, 5.6, 860, 2500, 7.9, 5.3),
    ("B", 4.4, 5.6, 2501, 4000, 6.7, 4.5),
    ("BX", 3.4, 4.2, 860, 2500, 7.2, 4.9),
    ("BX", 4.4, 5.6, 860, 2500, 10.5, 7.1),
    ("C", 7.0, 9.0, 500, 1740, 17.0, 11.5),
    ("C", 9.5, 16.0, 500, 1740, 21.0, 14.1),
)


def tabled_force(*, section: str, small: float, speed: float) -> TabledForce:
    """Deflection force as a printed table gives it, without power or wrap.

    Args:
        section: [-] belt section: A, AX, B, BX or C.
        small: [m] diameter of the small pulley.
        speed: [rad/s] speed of the small pulley's shaft.

    Returns:
        [N] force at span / 64 for a new and for a run-in belt.

    Raises:
        NotSourced: the table has no row for these; the gaps between rows are not bridged.
        OutOfRange: the pulley is not within 10 mm to 2 m, or the speed not within 0 to 1200 rad/s.

    Source:
        Deflection-force table of a belt-maker installation guide, maker not named (seen,
        second hand).
    """
    finite("small pulley", small, low=0.01, high=2, unit="m")
    finite("shaft speed", speed, low=0, high=1200, unit="rad/s")
    inches = round(small / _INCH, 2)
    rpm = round(speed * 30 / pi)
    for name, d_low, d_high, n_low, n_high, new, used in _FORCE_ROWS:
        if name == section and d_low <= inches <= d_high and n_low <= rpm <= n_high:
            source = _("deflection-force table of a belt-maker installation guide")
            return TabledForce(new * _LBF, used * _LBF, source, Trust.SECOND_HAND)
    raise NotSourced(
        _("the printed table has no row for section {section}, {inches} in, {rpm} rpm").format(
            section=section, inches=f"{inches:g}", rpm=rpm
        )
    )


def span_frequency(*, tension: float, mass: float, span: float) -> float:
    """Frequency at which a plucked span swings.

    Args:
        tension: [N] static tension of the strand.
        mass: [kg/m] mass of one belt for each metre.
        span: [m] free length between the pulleys.

    Returns:
        [Hz] first mode, as of a string; 0 for a slack belt.

    Raises:
        OutOfRange: tension outside 0 to 20 kN, mass outside 0.005 to 3 kg/m, span outside
            20 mm to 10 m.

    Source:
        Mechanics of the string, f = sqrt(T / (4 m L^2)); belt at rest, stiffness neglected.
    """
    finite("tension", tension, low=0, high=20e3, unit="N")
    return sqrt(tension / _mass(mass)) / (2 * _span(span))


def _mass(mass: float) -> float:
    return finite("mass", mass, low=0.005, high=3, unit="kg/m")


def from_span_frequency(*, frequency: float, mass: float, span: float) -> float:
    """Static tension from the frequency of a plucked span.

    Args:
        frequency: [Hz] first mode of the span.
        mass: [kg/m] mass of one belt for each metre.
        span: [m] free length between the pulleys.

    Returns:
        [N] static tension of the strand.

    Raises:
        OutOfRange: frequency outside 1 to 1000 Hz, mass outside 0.005 to 3 kg/m, span outside
            20 mm to 10 m.

    Source:
        Mechanics of the string, T = 4 m L^2 f^2; belt at rest, stiffness neglected: on a short
        span the figure is high (see ``read_frequency``).
    """
    finite("frequency", frequency, low=1, high=1000, unit="Hz")
    return 4 * _mass(mass) * (_span(span) * frequency) ** 2


# A span of fewer belt heights than this is stiff enough to swing too fast.
SHORT_SPAN = Fact(20, "span in belt heights below which a reading is taken with care",
                  Trust.PRACTICE)  # fmt: skip
# By how much the tension then reads high.
SHORT_SPAN_HIGH = (
    Fact(0.05, "share by which a short span reads high, low end", Trust.PRACTICE),
    Fact(0.10, "share by which a short span reads high, high end", Trust.PRACTICE),
)
_MODE_WINDOW = 0.15  # a reading within 15 % of a multiple of the expected frequency


@dataclass(frozen=True, slots=True)
class FrequencyReading:
    """A frequency turned into tension, with what speaks against believing it."""

    tension: Doubtful  # [N] taken as the first mode
    mode: int  # the mode that the reading fits best: 1, 2 or 3
    tension_if_mode: float  # [N] tension if it is that mode
    questioned: bool  # near a multiple of the expected frequency
    short_span: bool
    words: str


def read_frequency(
    *,
    frequency: float,
    mass: float,
    span: float,
    height: float,
    expected: float | None = None,
    u_frequency: float = 0.0,
    u_mass: float = 0.0,
    u_span: float = 0.0,
) -> FrequencyReading:
    """Turns a frequency into tension, and questions a second mode and a short span.

    Args:
        frequency: [Hz] the reading.
        mass: [kg/m] mass of one belt for each metre.
        span: [m] free length between the pulleys.
        height: [m] height of the belt section.
        expected: [N] tension that the belt should have; None when it is not known.
        u_frequency: [Hz] standard uncertainty of the reading.
        u_mass: [kg/m] standard uncertainty of the mass.
        u_span: [m] standard uncertainty of the span.

    Returns:
        [N] tension with its doubt, the mode it fits, and words.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Mechanics of the string; second mode at twice the first. Short span: common practice,
        no source (20 belt heights, 5 to 10 % high).
    """
    finite("belt height", height, low=1e-3, high=0.06, unit="m")
    for name, u, unit in (
        ("frequency", u_frequency, "Hz"), ("mass", u_mass, "kg/m"), ("span", u_span, "m"),
    ):  # fmt: skip
        finite(f"doubt of the {name}", u, low=0, high=1e3, unit=unit)
    tension = from_span_frequency(frequency=frequency, mass=mass, span=span)
    share = sqrt(
        (2 * u_frequency / frequency) ** 2 + (u_mass / mass) ** 2 + (2 * u_span / span) ** 2
    )
    mode = 1
    said: list[str] = []
    if expected is not None and expected > 0:
        ratio = frequency / span_frequency(tension=expected, mass=mass, span=span)
        mode = next((m for m in (2, 3) if abs(ratio / m - 1) <= _MODE_WINDOW), 1)
        if mode > 1:
            said.append(
                _(
                    "The reading is about {mode} times the expected frequency: it may "
                    "be mode {mode} of the span. Pluck at mid-span, and check with the "
                    "force method."
                ).format(mode=mode)
            )
    short = span < SHORT_SPAN.value * height
    if short:
        said.append(
            _(
                "The span is short ({span} belt heights, {short_span} or more are "
                "wanted): the belt's stiffness makes it swing faster, so that the "
                "tension reads 5 to 10 % high or more (common practice, no source)."
            ).format(span=f"{span / height:.0f}", short_span=f"{SHORT_SPAN.value:g}")
        )
    return FrequencyReading(
        Doubtful(tension, tension * share), mode, tension / mode**2, mode > 1, short, " ".join(said)
    )


def strain(*, slack: float, tensioned: float) -> float:
    """Growth of a gauge length marked on the slack belt.

    Args:
        slack: [m] distance between the two marks on the slack belt.
        tensioned: [m] the same distance on the tensioned belt.

    Returns:
        [-] growth as a share of the slack distance.

    Raises:
        OutOfRange: the slack distance is not within 50 mm to 25 m, or the growth is not
            within 0 to 3 %.

    Source:
        Definition of strain; the limit is common practice, no source (0.4 to 1.0 % is usual).
    """
    finite("slack distance", slack, low=0.05, high=25, unit="m")
    return finite("growth", (tensioned - slack) / slack, low=0, high=0.03, unit="")


def from_strain(*, strain: float, rigidity: float) -> float:
    """Tension from the growth of a gauge length.

    Args:
        strain: [-] growth as a share of the slack distance.
        rigidity: [N] tension for a growth of one (EA), from the belt's maker or from
            ``rigidity_from_stiffness``.

    Returns:
        [N] tension of the strand.

    Raises:
        OutOfRange: the growth is not within 0 to 3 % or the rigidity not within 1 kN to 5 MN.

    Source:
        Hooke's law.
    """
    finite("growth", strain, low=0, high=0.03, unit="")
    return strain * finite("rigidity", rigidity, low=1e3, high=5e6, unit="N")


def rigidity_from_stiffness(*, stiffness: float) -> float:
    """Rigidity EA of a belt from the RMA stiffness term.

    Args:
        stiffness: [N] the RMA term Y of the section.

    Returns:
        [N] EA = 2048 Y.

    Raises:
        OutOfRange: the term is not within 1 to 500 N.

    Source:
        Worked out here: a span t pressed in by t/64 at fixed centres grows by t/2048, which
        raises the tension by EA t/(2048 L) and the force by a sixteenth of that; set equal to
        the RMA term (t/L) Y/16.
    """
    return 2048 * finite("stiffness term", stiffness, low=1, high=500, unit="N")


def hub_load_static(*, tension: float, wrap: float, belts: int) -> float:
    """Load on a shaft at rest from the belts' tension.

    Args:
        tension: [N] static tension of each strand.
        wrap: [rad] contact angle on that pulley.
        belts: [-] number of belts.

    Returns:
        [N] load towards the other shaft; for bearings take this one.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Sum of the strand tensions, 2 N Ts sin(wrap/2).
    """
    finite("tension", tension, low=0, high=20e3, unit="N")
    finite("wrap", wrap, low=0, high=2 * pi, unit="rad")
    finite("number of belts", belts, low=1, high=50, unit="belts")
    return 2 * belts * tension * sin(wrap / 2)


def hub_load_running(*, tight: float, slack: float, wrap: float, belts: int) -> float:
    """Load on a shaft under way.

    Args:
        tight: [N] tension of the tight strand, one belt.
        slack: [N] tension of the slack strand, one belt.
        wrap: [rad] contact angle on that pulley.
        belts: [-] number of belts.

    Returns:
        [N] load on the shaft.

    Raises:
        OutOfRange: a figure is outside its range, or the slack strand is the tighter one.

    Source:
        Cosine rule on the two strand tensions. The part m v^2 of each strand does not load
        the shaft; give the tensions less that part for the running load alone.
    """
    finite("tight strand", tight, low=0, high=40e3, unit="N")
    finite("slack strand", slack, low=0, high=tight, unit="N")
    finite("wrap", wrap, low=0, high=2 * pi, unit="rad")
    finite("number of belts", belts, low=1, high=50, unit="belts")
    return belts * sqrt(max(tight**2 + slack**2 - 2 * tight * slack * cos(wrap), 0.0))


def limiting_ratio(*, mu: float, wrap: float, groove_angle: float) -> float:
    """Strand ratio at which a belt wedged in a V groove begins to slip.

    Args:
        mu: [-] friction between belt and flank; an assumption unless measured.
        wrap: [rad] contact angle.
        groove_angle: [rad] included angle of the groove.

    Returns:
        [-] (tight - m v^2) / (slack - m v^2) at the point of slip.

    Raises:
        OutOfRange: mu outside 0 to 1.2, wrap outside 0 to two pi, groove angle outside 20
            to 60 degrees.

    Source:
        Baker and Haynes, Engineering Statics: Open and Interactive, section 9.5 (belt
        friction; the belt touches the flanks and not the floor).
    """
    finite("groove angle", groove_angle, low=20 * pi / 180, high=60 * pi / 180, unit="rad")
    return flat_ratio(mu=mu / sin(groove_angle / 2), wrap=wrap, _most=1.2 / sin(groove_angle / 2))


def flat_ratio(*, mu: float, wrap: float, _most: float = 1.2) -> float:
    """Strand ratio at which a belt that lies on a groove's floor begins to slip.

    Args:
        mu: [-] friction between belt and floor; an assumption unless measured.
        wrap: [rad] contact angle.

    Returns:
        [-] (tight - m v^2) / (slack - m v^2) at the point of slip.

    Raises:
        OutOfRange: mu outside 0 to 1.2 or wrap outside 0 to two pi.

    Source:
        Baker and Haynes, Engineering Statics: Open and Interactive, section 9.5.
    """
    finite("friction", mu, low=0, high=_most, unit="")
    finite("wrap", wrap, low=0, high=2 * pi, unit="rad")
    return exp(mu * wrap)


@dataclass(frozen=True, slots=True)
class SlipMargin:
    """How far one belt is from slipping."""

    margin: float  # [-] limiting ratio / ratio now; below 1 the belt slips; 0 when no slack left
    limiting: float  # [-] strand ratio at which it slips
    most_pull: float  # [N] effective pull at which it slips, one belt
    tight: float  # [N] tight strand under this load
    slack: float  # [N] slack strand under this load
    slips: bool


def slip_margin(
    *,
    tension: float,
    pull: float,
    mass: float,
    speed: float,
    mu: float,
    wrap: float,
    groove_angle: float,
    on_floor: bool = False,
) -> SlipMargin:
    """How far a belt is from slipping at a given load.

    Args:
        tension: [N] static tension of each strand, one belt.
        pull: [N] effective pull of one belt.
        mass: [kg/m] mass of one belt for each metre.
        speed: [m/s] belt speed.
        mu: [-] friction; an assumption unless measured.
        wrap: [rad] contact angle on the small pulley.
        groove_angle: [rad] included angle of its groove.
        on_floor: [-] True when the belt has bottomed and the flanks no longer wedge it.

    Returns:
        [-] margin and the figures behind it.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Euler-Eytelwein belt friction with m v^2 taken off both strands, and strands at
        static tension plus and minus half of the pull (fixed centres).
    """
    finite("tension", tension, low=0, high=20e3, unit="N")
    finite("pull", pull, low=0, high=40e3, unit="N")
    own = centrifugal(mass=mass, speed=speed)
    wedged = limiting_ratio(mu=mu, wrap=wrap, groove_angle=groove_angle)
    limit = flat_ratio(mu=mu, wrap=wrap) if on_floor else wedged
    tight, slack = tension + pull / 2, tension - pull / 2
    most = max(2 * (tension - own) * (limit - 1) / (limit + 1), 0.0)
    margin = limit * (slack - own) / (tight - own) if slack > own else 0.0
    return SlipMargin(margin, limit, most, tight, slack, margin < 1)
