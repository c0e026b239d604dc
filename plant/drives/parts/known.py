"""What is known of one drive: the figures given or assumed, checked against their ranges."""

from dataclasses import dataclass
from math import pi, sqrt

from plant.drives import doubt, grooves, lengths, power, tension, wear
from plant.drives.doubt import Doubtful
from plant.drives.errors import NotSourced, OutOfRange, finite
from plant.drives.facts import Fact, Trust
from plant.drives.lengths import System
from plant.drives.outcome import LABELS, MARKS, DriveGiven, Used
from plant.drives.sections import Section, section
from plant.drives.wear import PulleyGroove
from plant.translate import gettext as _

LENGTH_SPREAD = Fact(0.01, "length of new belts where no tolerance is held", Trust.PRACTICE)
# Half widths of the doubt of a figure that is measured, from a plate, or a guess. A share where
# the name says so.
HALF_WIDTHS: dict[str, tuple[float, float, float]] = {
    "diameter": (0.5e-3, 0.25e-3, 3e-3),
    "angle": (pi / 180, pi / 180, pi / 180),
    "depth": (0.27e-3, 0.3e-3, 0.3e-3),
    "centres": (1.0e-3, 2e-3, 5e-3),
    "slot": (0.5e-3, 1e-3, 3e-3),
    "power, share": (0.02, 0.0, 0.10),
    "speed, share": (0.001, 0.02, 0.05),
}
HALF_WIDTHS_TRUST = Trust.PRACTICE

# Hard ranges [SI] of every figure; what is right for a machine is judged later.
_RANGES: dict[str, tuple[float, float, str]] = {
    "driver": (0.01, 3, "m"),
    "driven": (0.01, 3, "m"),
    "driver_angle": (20 * pi / 180, 60 * pi / 180, "rad"),
    "driven_angle": (20 * pi / 180, 60 * pi / 180, "rad"),
    "driver_depth": (0, 0.06, "m"),
    "driven_depth": (0, 0.06, "m"),
    "length": (0.05, 25, "m"),
    "belts": (1, 50, "belts"),
    "width_new": (3e-3, 60e-3, "m"),
    "width_new_u": (0, 5e-3, "m"),
    "width_now": (2e-3, 60e-3, "m"),
    "width_now_u": (0, 5e-3, "m"),
    "driver_ride": (-0.05, 0.05, "m"),
    "driven_ride": (-0.05, 0.05, "m"),
    "driver_ride_new": (-0.05, 0.05, "m"),
    "driven_ride_new": (-0.05, 0.05, "m"),
    "ride_u": (0, 5e-3, "m"),
    "centres": (0.01, 10, "m"),
    "slot_in": (0, 1, "m"),
    "slot_out": (0, 1, "m"),
    "slot_out_new": (0, 1, "m"),
    "motor_power": (1, 500e3, "W"),
    "motor_speed": (1, 1200, "rad/s"),
    "hours_a_day": (0, 24, "h"),
    "friction": (0.05, 1.2, ""),
    "reading_force": (0, 5e3, "N"),
    "reading_force_u": (0, 1e3, "N"),
    "reading_depth": (1e-4, 0.5, "m"),
    "reading_frequency": (1, 1000, "Hz"),
    "reading_frequency_u": (0, 200, "Hz"),
    "slip": (0, 0.5, ""),
    "driven_speed": (0, 1200, "rad/s"),
}


@dataclass(slots=True)
class Side:
    """One pulley and what is known of its groove."""

    name: str
    which: str  # "driver" or "driven"
    diameter: Doubtful
    groove: PulleyGroove | None
    depth_guessed: bool
    deeper: grooves.Groove | None


@dataclass(slots=True)
class Known:
    """The figures in hand, given or assumed, with what was said on the way."""

    given: DriveGiven
    belt: Section | None
    system: System
    used: list[Used]
    warnings: list[str]
    driver: Side | None
    driven: Side | None
    below_cord: Doubtful | None
    cord_depth: Doubtful | None
    width_new: Doubtful | None
    width_now: Doubtful | None
    u_length: float

    @property
    def small_is_driver(self) -> bool:
        assert self.driver is not None
        assert self.driven is not None
        return self.driver.diameter.value <= self.driven.diameter.value

    @property
    def seat_known(self) -> bool:
        """Whether it can be said how a belt of this section sits in its groove."""
        return self.belt is None or self.below_cord is not None

    @property
    def min_diameter(self) -> float | None:
        held = self.belt.min_diameter if self.belt is not None else None
        return held.value if held is not None else None

    def half_width(self, name: str, kind: str) -> float:
        named = self.given.tools.get(name, "")
        if named and _mark(self.given, name) == MARKS[0]:
            return doubt.tool(named).value * sqrt(3)
        return HALF_WIDTHS[kind][MARKS.index(_mark(self.given, name))]


def _mark(given: DriveGiven, name: str) -> str:
    """How a figure was come by; one that was given without a word counts as measured."""
    return given.marks.get(name, MARKS[0])


def known_of(given: DriveGiven) -> Known:
    _check(given)
    belt = section(given.section) if given.section else None
    drive = Known(
        given=given,
        belt=belt,
        system=System(given.length_system),
        used=[],
        warnings=[],
        driver=None,
        driven=None,
        below_cord=None,
        cord_depth=None,
        width_new=None,
        width_now=None,
        u_length=0.0,
    )
    if belt is not None:
        if belt.wedges:
            _place_cord(drive, belt)
        _widths(drive, belt)
    for name in ("driver", "driven"):
        setattr(drive, name, _side(drive, name))
    if given.length is not None:
        drive.u_length = _u_length(drive, given.length)
        use(drive, "length", given.length, drive.u_length, "m")
    for name, unit, kind in (
        ("centres", "m", "centres"),
        ("slot_in", "m", "slot"),
        ("slot_out", "m", "slot"),
    ):
        value = getattr(given, name)
        if value is not None:
            use(drive, name, value, drive.half_width(name, kind) / sqrt(3), unit)
    if given.slot_out_new is not None:
        u = drive.half_width("slot_out", "slot") / sqrt(3)
        use(drive, "slot_out_new", given.slot_out_new, u, "m")
    if belt is not None and belt.wedges:
        for name in ("driver_ride", "driven_ride", "driver_ride_new", "driven_ride_new"):
            value = getattr(given, name)
            if value is not None:
                use(drive, name, value, u_ride(drive), "m")
    for name, unit, kind in (
        ("motor_power", "W", "power, share"),
        ("motor_speed", "rad/s", "speed, share"),
    ):
        value = getattr(given, name)
        if value is not None:
            use(drive, name, value, value * drive.half_width(name, kind) / sqrt(3), unit)
    return drive


def _check(given: DriveGiven) -> None:
    for name, (low, high, unit) in _RANGES.items():
        value = getattr(given, name)
        if value is not None:
            known = given.label(name) if name in LABELS else name.replace("_", " ")
            finite(known, value, low=low, high=high, unit=unit)
    for name, value, accepted in (
        (_("length system"), given.length_system, [one.value for one in System]),
        (_("groove standard"), given.groove_system, list(grooves.SYSTEMS)),
        (_("tension method"), given.tension_method, [one.value for one in tension.Method]),
        (_("force formula"), given.force_form, [one.value for one in tension.StiffnessForm]),
        (_("stage of the belt"), given.stage, [one.value for one in tension.Stage]),
    ):
        if value not in accepted:
            raise OutOfRange(
                _("no {name} {value}; accepted: {accepted}").format(
                    name=name, value=f"{value!r}", accepted=", ".join(accepted)
                )
            )
    if given.power_method and given.power_method not in power.METHODS:
        raise OutOfRange(
            _("no rating method {power_method}; accepted: {methods}").format(
                power_method=f"{given.power_method!r}", methods=", ".join(power.METHODS)
            )
        )
    for name, mark in given.marks.items():
        if name not in LABELS:
            raise OutOfRange(
                _("a mark is given for {name}, which is no figure of a drive").format(
                    name=f"{name!r}"
                )
            )
        if mark not in MARKS:
            raise OutOfRange(
                _("no mark {mark}; accepted: {marks}").format(
                    mark=f"{mark!r}", marks=", ".join(MARKS)
                )
            )
    for named in filter(None, given.tools.values()):
        doubt.tool(named)
    for teeth_in, teeth_out in given.gears:
        finite("gear teeth", teeth_in, low=5, high=500, unit="teeth")
        finite("gear teeth", teeth_out, low=5, high=500, unit="teeth")


def use(
    drive: Known, name: str, value: float, u: float, unit: str, *, assumed: Fact | None = None
) -> Doubtful:
    drive.used.append(
        Used(
            field=name,
            label=drive.given.label(name),
            value=value,
            u=u,
            unit=unit,
            mark="guess" if assumed else _mark(drive.given, name),
            typed="" if assumed else drive.given.typed.get(name, ""),
            note=assumed.source if assumed else "",
            trust=str(assumed.trust) if assumed else "",
        )
    )
    return Doubtful(value, u)


def _place_cord(drive: Known, belt: Section) -> None:
    """Where the cord line lies; known to about half a millimetre."""
    u = wear.ROOM_HALF_WIDTH.value / sqrt(3)
    try:
        system = lengths.system_for(belt.code, wanted=drive.system)
        drive.below_cord = Doubtful(lengths.below_cord(belt.code, system=system).value, u)
        drive.cord_depth = Doubtful(lengths.cord_depth(belt.code).value, u)
    except NotSourced as refused:
        drive.below_cord = drive.cord_depth = None
        drive.warnings.append(
            _("How the belt sits in its groove is not worked out: {refused}.").format(
                refused=refused
            )
        )


def _widths(drive: Known, belt: Section) -> None:
    given = drive.given
    if given.width_new is not None:
        u = doubt.tool("calliper").value if given.width_new_u is None else given.width_new_u
        drive.width_new = use(drive, "width_new", given.width_new, u, "m")
    elif belt.sizes:
        value, spread = belt.new_width(drive.system)
        source = _("nominal of section {belt}, {system}").format(
            belt=belt.code, system=drive.system
        )
        drive.width_new = use(
            drive,
            "width_new",
            value,
            doubt.rectangular(half_width=spread),
            "m",
            assumed=Fact(value, source, Trust.PRACTICE),
        )
    if given.width_now is not None:
        u = doubt.tool("steel rule").value if given.width_now_u is None else given.width_now_u
        drive.width_now = use(drive, "width_now", given.width_now, u, "m")


def _side(drive: Known, which: str) -> Side | None:
    given = drive.given
    diameter = getattr(given, which)
    if diameter is None:
        return None
    name = _("motor pulley") if which == "driver" else _("driven pulley")
    u = drive.half_width(which, "diameter") / sqrt(3)
    side = Side(name, which, use(drive, which, diameter, u, "m"), None, False, None)
    if drive.belt is None or not drive.belt.wedges:
        return side
    standard = _standard_groove(drive, diameter)
    angle, depth = getattr(given, f"{which}_angle"), getattr(given, f"{which}_depth")
    u_angle = drive.half_width(f"{which}_angle", "angle") / sqrt(3)
    u_depth = drive.half_width(f"{which}_depth", "depth") / sqrt(3)
    if angle is not None:
        use(drive, f"{which}_angle", angle, u_angle, "rad")
    elif standard is not None:
        angle = standard.angle
        said = Fact(angle, standard.source, standard.angle_trust)
        use(drive, f"{which}_angle", angle, u_angle, "rad", assumed=said)
    if depth is not None:
        use(drive, f"{which}_depth", depth, u_depth, "m")
        side.depth_guessed = _mark(given, f"{which}_depth") == "guess"
    elif standard is not None:
        depth = standard.depth_below_datum.value
        side.depth_guessed = True
        use(drive, f"{which}_depth", depth, u_depth, "m", assumed=standard.depth_below_datum)
    if angle is None or depth is None:
        return side
    above = standard.above_datum.value if standard is not None else 0.0
    side.groove = PulleyGroove(diameter, angle, depth, above, u_depth=u_depth, u_angle=u_angle)
    if side.depth_guessed and standard is not None:
        deeper = grooves.deeper(drive.belt.code, diameter=diameter)
        if deeper.depth_below_datum.value > depth:
            side.deeper = deeper
    return side


def _standard_groove(drive: Known, diameter: float) -> grooves.Groove | None:
    """The groove that stands in for what was not measured; None when no standard has one."""
    assert drive.belt is not None
    held = grooves.systems(drive.belt.code)
    if not held:
        return None
    system = drive.given.groove_system if drive.given.groove_system in held else held[0]
    found = grooves.groove(drive.belt.code, diameter=diameter, system=system)
    return found if found.reference == "datum" else None


def _u_length(drive: Known, length: float) -> float:
    """Standard uncertainty [m] of what a belt of this name really measures."""
    half = LENGTH_SPREAD.value * length
    if drive.belt is not None:
        try:
            found = lengths.tolerance(drive.belt.code, datum=length, system=drive.system)
            half = (found.over + found.under) / 2
        except NotSourced:
            pass
    return half / sqrt(3)


def u_ride(drive: Known) -> float:
    given = drive.given.ride_u
    return doubt.tool("depth gauge").value if given is None else given
