"""One belt drive worked out whole: what is known of it in, everything the sums can say out."""

from dataclasses import dataclass, replace
from math import hypot, pi, sin, sqrt, tan

from plant.drives import (
    doubt,
    driven,
    fits,
    geometry,
    grooves,
    lengths,
    power,
    tension,
    wear,
    working,
)
from plant.drives.doubt import Doubtful, probability_below
from plant.drives.errors import NotSourced, OutOfRange, finite
from plant.drives.facts import Fact, Trust
from plant.drives.lengths import System
from plant.drives.outcome import (
    LABELS,
    MARKS,
    DriveGiven,
    DrivenPart,
    DriveWorkout,
    Geometry,
    Missing,
    PowerPart,
    Rating,
    Reading,
    Seat,
    Setting,
    TakeUp,
    TensionPart,
    Used,
    Verdict,
    WearPart,
)
from plant.drives.sections import Section, section
from plant.drives.wear import PulleyGroove

__all__ = ["SUMS_VERSION", "DriveGiven", "DriveWorkout", "Verdict", "work_out"]

SUMS_VERSION = "1"

# The limits at which a verdict turns; those of width, ride and room stand in ``wear``.
WATCH_TAKE_UP = Fact(0.25, "share of a new belt's take-up left, to watch from", Trust.PRACTICE)
WATCH_ODDS = Fact(0.05, "odds of standing on the floor, to watch from", Trust.PRACTICE)
UNDECIDED_ODDS = Fact(
    0.20, "odds between this and one less this decide nothing: measure again", Trust.PRACTICE
)
SURE_ODDS = Fact(0.95, "odds from which a thing is said without its odds", Trust.PRACTICE)
# What stands in for a figure that nobody gave.
SLIP = Fact(0.01, "slip of a healthy V-belt, the middle of 0.5 to 1.5 %", Trust.PRACTICE)
HEIGHT_SPREAD = Fact(0.3e-3, "height of new belts of one section, half width", Trust.PRACTICE)
LENGTH_SPREAD = Fact(0.01, "length of new belts where no tolerance is held", Trust.PRACTICE)
FLUSH = Fact(-0.5e-3, "ride above which a new belt counts as flush with the rim", Trust.PRACTICE)
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

CAUTIONS: tuple[str, ...] = (
    "Stop the machine, isolate it (pull the plug and keep it, lock the isolator, or take off the "
    "plug lead) and let everything come to rest before the guard comes off.",
    "Never check ride, width or tension with the drive turning. Keep fingers out of the nip; turn "
    "pulleys by hand only with the power isolated.",
    "Slacken the take-up to fit a belt; never lever or roll it over a rim. No dressing "
    "on a V-belt.",
    "Guards back on before any run. A competent person returns the machine to use; local rules "
    "and the maker's instructions come first.",
)

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


def work_out(given: DriveGiven) -> DriveWorkout:
    """Works out one open drive of two pulleys from whatever is known of it.

    Args:
        given: [m, rad, W, rad/s, N, Hz] the figures; those that are None are left out.

    Returns:
        [SI] every part that the figures allow, what is missing and what it would settle, a
        verdict with its reasons, and the working line by line.

    Raises:
        DriveError: a figure is impossible (outside its range, or the belt cannot lie on these
            pulleys). Never for a figure that is merely missing.

    Source:
        The formulas and sources named in each line of the working; the limits of the verdict are
        ``WATCH_TAKE_UP``, ``WATCH_ODDS``, ``UNDECIDED_ODDS`` and ``SURE_ODDS`` here and those of
        ``wear`` (common practice, no source). Holds for two pulleys on fixed parallel shafts, an
        open V-belt and a slide along the line of centres.
    """
    drive = _known(given)
    worn = _wear(drive)
    shape = _geometry(drive, worn)
    rated = _power(drive, shape)
    verdict, why, offered = _wear_verdict(drive, worn)
    pulled = _tension(drive, worn, shape, rated, offered=offered)
    unjudged = _unjudged(drive, worn, shape) if pulled is None else None
    verdict, why = _verdict(drive, worn, pulled, verdict, why, unjudged=unjudged)
    turned = _driven(drive, shape)
    _warn(drive, worn, shape, rated, turned)
    result = DriveWorkout(
        given=given,
        sums_version=SUMS_VERSION,
        used=tuple(drive.used),
        geometry=shape,
        wear=worn,
        power=rated,
        tension=pulled,
        driven=turned,
        missing=_missing(drive),
        warnings=tuple(dict.fromkeys(drive.warnings)),
        cautions=CAUTIONS,
        verdict=verdict,
        verdict_words=tuple(dict.fromkeys(why)),
        lines=(),
        unjudged=unjudged,
    )
    return replace(result, lines=working.lines(result))


# --- what is known -------------------------------------------------------------------------------


@dataclass(slots=True)
class _Side:
    """One pulley and what is known of its groove."""

    name: str
    which: str  # "driver" or "driven"
    diameter: Doubtful
    groove: PulleyGroove | None
    depth_guessed: bool
    deeper: grooves.Groove | None


@dataclass(slots=True)
class _Drive:
    """The figures in hand, given or assumed, with what was said on the way."""

    given: DriveGiven
    belt: Section | None
    system: System
    used: list[Used]
    warnings: list[str]
    driver: _Side | None
    driven: _Side | None
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


def _known(given: DriveGiven) -> _Drive:
    _check(given)
    belt = section(given.section) if given.section else None
    drive = _Drive(
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
        _use(drive, "length", given.length, drive.u_length, "m")
    for name, unit, kind in (
        ("centres", "m", "centres"),
        ("slot_in", "m", "slot"),
        ("slot_out", "m", "slot"),
    ):
        value = getattr(given, name)
        if value is not None:
            _use(drive, name, value, drive.half_width(name, kind) / sqrt(3), unit)
    if given.slot_out_new is not None:
        u = drive.half_width("slot_out", "slot") / sqrt(3)
        _use(drive, "slot_out_new", given.slot_out_new, u, "m")
    if belt is not None and belt.wedges:
        for name in ("driver_ride", "driven_ride", "driver_ride_new", "driven_ride_new"):
            value = getattr(given, name)
            if value is not None:
                _use(drive, name, value, _u_ride(drive), "m")
    for name, unit, kind in (
        ("motor_power", "W", "power, share"),
        ("motor_speed", "rad/s", "speed, share"),
    ):
        value = getattr(given, name)
        if value is not None:
            _use(drive, name, value, value * drive.half_width(name, kind) / sqrt(3), unit)
    return drive


def _check(given: DriveGiven) -> None:
    for name, (low, high, unit) in _RANGES.items():
        value = getattr(given, name)
        if value is not None:
            known = given.label(name) if name in LABELS else name.replace("_", " ")
            finite(known, value, low=low, high=high, unit=unit)
    for name, value, accepted in (
        ("length system", given.length_system, [one.value for one in System]),
        ("groove standard", given.groove_system, list(grooves.SYSTEMS)),
        ("tension method", given.tension_method, [one.value for one in tension.Method]),
        ("force formula", given.force_form, [one.value for one in tension.StiffnessForm]),
        ("stage of the belt", given.stage, [one.value for one in tension.Stage]),
    ):
        if value not in accepted:
            raise OutOfRange(f"no {name} {value!r}; accepted: {', '.join(accepted)}")
    if given.power_method and given.power_method not in power.METHODS:
        raise OutOfRange(
            f"no rating method {given.power_method!r}; accepted: {', '.join(power.METHODS)}"
        )
    for name, mark in given.marks.items():
        if name not in LABELS:
            raise OutOfRange(f"a mark is given for {name!r}, which is no figure of a drive")
        if mark not in MARKS:
            raise OutOfRange(f"no mark {mark!r}; accepted: {', '.join(MARKS)}")
    for named in filter(None, given.tools.values()):
        doubt.tool(named)
    for teeth_in, teeth_out in given.gears:
        finite("gear teeth", teeth_in, low=5, high=500, unit="teeth")
        finite("gear teeth", teeth_out, low=5, high=500, unit="teeth")


def _use(
    drive: _Drive, name: str, value: float, u: float, unit: str, *, assumed: Fact | None = None
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


def _place_cord(drive: _Drive, belt: Section) -> None:
    """Where the cord line lies; known to about half a millimetre."""
    u = wear.ROOM_HALF_WIDTH.value / sqrt(3)
    try:
        system = lengths.system_for(belt.code, wanted=drive.system)
        drive.below_cord = Doubtful(lengths.below_cord(belt.code, system=system).value, u)
        drive.cord_depth = Doubtful(lengths.cord_depth(belt.code).value, u)
    except NotSourced as refused:
        drive.below_cord = drive.cord_depth = None
        drive.warnings.append(f"How the belt sits in its groove is not worked out: {refused}.")


def _widths(drive: _Drive, belt: Section) -> None:
    given = drive.given
    if given.width_new is not None:
        u = doubt.tool("calliper").value if given.width_new_u is None else given.width_new_u
        drive.width_new = _use(drive, "width_new", given.width_new, u, "m")
    elif belt.sizes:
        value, spread = belt.new_width(drive.system)
        source = f"nominal of section {belt.code}, {drive.system}"
        drive.width_new = _use(
            drive,
            "width_new",
            value,
            doubt.rectangular(half_width=spread),
            "m",
            assumed=Fact(value, source, Trust.PRACTICE),
        )
    if given.width_now is not None:
        u = doubt.tool("steel rule").value if given.width_now_u is None else given.width_now_u
        drive.width_now = _use(drive, "width_now", given.width_now, u, "m")


def _side(drive: _Drive, which: str) -> _Side | None:
    given = drive.given
    diameter = getattr(given, which)
    if diameter is None:
        return None
    name = "motor pulley" if which == "driver" else "driven pulley"
    u = drive.half_width(which, "diameter") / sqrt(3)
    side = _Side(name, which, _use(drive, which, diameter, u, "m"), None, False, None)
    if drive.belt is None or not drive.belt.wedges:
        return side
    standard = _standard_groove(drive, diameter)
    angle, depth = getattr(given, f"{which}_angle"), getattr(given, f"{which}_depth")
    u_angle = drive.half_width(f"{which}_angle", "angle") / sqrt(3)
    u_depth = drive.half_width(f"{which}_depth", "depth") / sqrt(3)
    if angle is not None:
        _use(drive, f"{which}_angle", angle, u_angle, "rad")
    elif standard is not None:
        angle = standard.angle
        said = Fact(angle, standard.source, standard.angle_trust)
        _use(drive, f"{which}_angle", angle, u_angle, "rad", assumed=said)
    if depth is not None:
        _use(drive, f"{which}_depth", depth, u_depth, "m")
        side.depth_guessed = _mark(given, f"{which}_depth") == "guess"
    elif standard is not None:
        depth = standard.depth_below_datum.value
        side.depth_guessed = True
        _use(drive, f"{which}_depth", depth, u_depth, "m", assumed=standard.depth_below_datum)
    if angle is None or depth is None:
        return side
    above = standard.above_datum.value if standard is not None else 0.0
    side.groove = PulleyGroove(diameter, angle, depth, above, u_depth=u_depth, u_angle=u_angle)
    if side.depth_guessed and standard is not None:
        deeper = grooves.deeper(drive.belt.code, diameter=diameter)
        if deeper.depth_below_datum.value > depth:
            side.deeper = deeper
    return side


def _standard_groove(drive: _Drive, diameter: float) -> grooves.Groove | None:
    """The groove that stands in for what was not measured; None when no standard has one."""
    assert drive.belt is not None
    held = grooves.systems(drive.belt.code)
    if not held:
        return None
    system = drive.given.groove_system if drive.given.groove_system in held else held[0]
    found = grooves.groove(drive.belt.code, diameter=diameter, system=system)
    return found if found.reference == "datum" else None


def _u_length(drive: _Drive, length: float) -> float:
    """Standard uncertainty [m] of what a belt of this name really measures."""
    half = LENGTH_SPREAD.value * length
    if drive.belt is not None:
        try:
            found = lengths.tolerance(drive.belt.code, datum=length, system=drive.system)
            half = (found.over + found.under) / 2
        except NotSourced:
            pass
    return half / sqrt(3)


# --- wear ----------------------------------------------------------------------------------------


def _wear(drive: _Drive) -> WearPart | None:
    driver, driven = drive.driver, drive.driven
    if driver is None or driven is None or drive.given.length is None:
        return None
    if driver.groove is None or driven.groove is None or drive.width_new is None:
        return None
    if drive.below_cord is None or drive.cord_depth is None:
        return None
    found = _model(drive, driver.groove, driven.groove, width=drive.width_now)
    rides = (drive.given.driver_ride, drive.given.driven_ride)
    if found is None and None in rides:
        return None
    small_first = drive.small_is_driver
    seats: list[Seat] = []
    for side, reading in zip((driver, driven), rides, strict=True):
        is_small = (side is driver) == small_first
        model = None if found is None else (found.small if is_small else found.large)
        seats.append(_seat(drive, side, model, reading))
    first, second = seats
    small, large = (first, second) if small_first else (second, first)
    extra, deeper = _extra(drive, small, large, found)
    take_up = _take_up(drive, extra, now=found, placed=_placed(drive, now=found))
    ends, first_comes, words = _which_first(drive, driver, driven, seats, extra, take_up)
    bottoms = [seat.width_bottoms for seat in seats if seat.width_bottoms is not None]
    ratio_new = driven.groove.diameter / driver.groove.diameter
    return WearPart(
        width_new=drive.width_new,
        width_now=drive.width_now,
        loss=Doubtful(found.loss.loss, found.loss.u) if found else None,
        share=found.loss.share if found else None,
        shown=found.loss.shown if found else False,
        driver=first,
        driven=second,
        extra_free=Doubtful(found.free.extra_centres, found.u_free) if found else None,
        extra=extra,
        deeper_extra=deeper,
        per_width=found.per_width if found else None,
        driven_slower=1 - ratio_new * first.diameter_now / second.diameter_now,
        width_bottoms=max(bottoms) if bottoms else None,
        width_ends_slot=ends,
        first=first_comes,
        first_words=words,
        take_up=take_up,
    )


def _model(
    drive: _Drive, driver: PulleyGroove, driven: PulleyGroove, *, width: Doubtful | None
) -> wear.Wear | None:
    """The wear worked out from a width; None when it cannot be, with a word why."""
    new, now = drive.width_new, width
    assert new is not None
    assert drive.below_cord is not None
    assert drive.cord_depth is not None
    if now is None or _width_is_odd(new, now):
        return None
    small, large = (driver, driven) if drive.small_is_driver else (driven, driver)
    assert drive.given.length is not None

    def found(least: float | None) -> wear.Wear:
        assert drive.given.length is not None
        assert drive.below_cord is not None
        assert drive.cord_depth is not None
        return wear.wear(
            small=small,
            large=large,
            length=drive.given.length,
            width_new=new,
            width_now=now,
            below_cord=drive.below_cord,
            cord_depth=drive.cord_depth,
            min_diameter=least,
        )

    try:
        return found(drive.min_diameter)
    except OutOfRange:
        # A pulley smaller than the section's least: the picture of the belt in its groove is then
        # rough, but the pulley is what it is.
        drive.warnings.append(
            "The belt runs on less than 0.7 of the smallest pulley for its section: drops and "
            "take-up are rough there."
        )
        return found(None)


def _width_is_odd(new: Doubtful, now: Doubtful) -> str:
    """Why a width cannot be that of this belt, in words; empty when it can."""
    loss, u = new.value - now.value, hypot(new.u, now.u)
    if loss < 0 and -loss > 2 * u:
        return (
            f"The belt reads {-loss * 1e3:.1f} mm wider than when new, more than the error "
            f"(± {2 * u * 1e3:.1f} mm) explains. Check the section and the width when new, and "
            "measure the width again."
        )
    if loss > wear.MOST_WIDTH_LOSS.value * new.value:
        return (
            f"The belt has lost {loss / new.value * 100:.0f} % of its width; the sums of its "
            f"seat hold to {wear.MOST_WIDTH_LOSS.value * 100:.0f} %. A belt so narrow may be of "
            "a smaller section, fitted by mistake: read its mark and measure its height."
        )
    return ""


def _seat(drive: _Drive, side: _Side, model: wear.InGroove | None, reading: float | None) -> Seat:
    """The belt in one groove: by its width, or by its ride where that was measured."""
    groove, below, cord = side.groove, drive.below_cord, drive.cord_depth
    assert groove is not None
    assert below is not None
    assert cord is not None
    assert drive.width_new is not None
    half = 2 * tan(groove.angle / 2)
    sits_new = min(0.0, groove.depth - below.value)
    ride_new = Doubtful(
        wear.ride(cord_depth=cord.value, above_datum=groove.above_datum, drop=sits_new), cord.u
    )
    new_reading = getattr(drive.given, f"{side.which}_ride_new")
    if new_reading is not None:
        ride_new = Doubtful(new_reading, _u_ride(drive))
    loss_to_floor = max(half * (groove.depth - below.value), 0.0)
    worn: wear.GrooveWear | None = None
    if reading is None:
        assert model is not None
        drop = Doubtful(
            model.capped, hypot(groove.u_depth, below.u) if model.bottoms else model.drop.u
        )
        room, bottoms, near, odds = model.room, model.bottoms, model.near, model.odds_bottoms
        ride = model.ride
        if new_reading is not None:
            ride = Doubtful(new_reading - (model.capped - sits_new), hypot(_u_ride(drive), drop.u))
    else:
        ride = Doubtful(reading, _u_ride(drive))
        if new_reading is not None:
            drop = Doubtful(new_reading - reading + sits_new, sqrt(2) * ride.u)
        else:
            sits = cord.value - groove.above_datum - reading
            drop = Doubtful(sits, hypot(ride.u, cord.u))
        # Rim to floor less the height of the belt and how far its top stands below the rim:
        # where the cord lies does not come into it.
        height = cord.value + below.value
        u_room = hypot(ride.u, groove.u_depth, HEIGHT_SPREAD.value / sqrt(3))
        room = Doubtful(groove.depth + groove.above_datum + reading - height, u_room)
        bottoms, near = room.value <= 0, abs(room.value) < wear.ROOM_HALF_WIDTH.value
        odds = probability_below(limit=0, mean=room.value, u=room.u)
        if model is not None and not model.bottoms:
            expected = model.ride
            if new_reading is not None:
                expected = Doubtful(new_reading - model.drop.value, hypot(ride.u, model.drop.u))
            worn = wear.groove_wear(
                measured_ride=ride, expected_ride=expected, groove_angle=groove.angle
            )
    deeper_depth = deeper_room = deeper_bottoms = None
    if side.deeper is not None:
        deeper_depth = side.deeper.depth_below_datum.value
        deeper_room = Doubtful(room.value + deeper_depth - groove.depth, room.u)
        deeper_bottoms = deeper_room.value <= 0
    return Seat(
        name=side.name,
        angle=groove.angle,
        depth=groove.depth,
        depth_guessed=side.depth_guessed,
        drop_free=model.drop if model is not None else None,
        drop=drop,
        room=room,
        bottoms=bottoms,
        near=near,
        odds_bottoms=odds,
        ride=ride,
        ride_new=ride_new,
        diameter_new=groove.diameter,
        diameter_now=groove.diameter - 2 * drop.value,
        measured=reading is not None,
        ride_new_measured=new_reading is not None,
        above_datum=groove.above_datum,
        width_bottoms=drive.width_new.value - loss_to_floor
        if loss_to_floor <= wear.MOST_WIDTH_LOSS.value * drive.width_new.value
        else None,
        deeper_depth=deeper_depth,
        deeper_room=deeper_room,
        deeper_bottoms=deeper_bottoms,
        deeper_system=side.deeper.system if side.deeper is not None else "",
        groove_worn=worn,
        shines=getattr(drive.given, f"{side.which}_shines"),
    )


def _u_ride(drive: _Drive) -> float:
    given = drive.given.ride_u
    return doubt.tool("depth gauge").value if given is None else given


def _extra(
    drive: _Drive, small: Seat, large: Seat, found: wear.Wear | None
) -> tuple[Doubtful, Doubtful | None]:
    """Extra centre distance as the belt really sits, and in the deepest standard grooves."""
    length = drive.given.length
    assert length is not None

    def at(drop_small: float, drop_large: float) -> wear.WornDrive:
        return wear.worn_drive(
            small=small.diameter_new,
            large=large.diameter_new,
            length=length,
            drop_small=drop_small,
            drop_large=drop_large,
        )

    if found is not None and not (small.measured or large.measured):
        extra = Doubtful(found.capped.extra_centres, found.u_capped)
    else:
        worn = at(small.drop.value, large.drop.value)
        wrap = geometry.wrap_angle(small=worn.small, large=worn.large, centres=worn.centres)
        cosine = 2 * sin(wrap / 2)
        arms = (wrap / cosine, (2 * pi - wrap) / cosine)
        # The place of the cord is one doubt for both grooves; the readings are two.
        extra = Doubtful(worn.extra_centres, hypot(arms[0] * small.drop.u, arms[1] * large.drop.u))
    below = drive.below_cord
    if (
        found is None
        or below is None
        or (small.deeper_depth is None and large.deeper_depth is None)
    ):
        return extra, None
    drops = [
        seat.drop.value
        if seat.measured or seat.drop_free is None
        else min(seat.drop_free.value, (seat.deeper_depth or seat.depth) - below.value)
        for seat in (small, large)
    ]
    return extra, Doubtful(at(drops[0], drops[1]).extra_centres, extra.u)


def _tight(drive: _Drive) -> bool:
    """Whether the belt is tight at the centre distance given; a tension reading says so too."""
    given = drive.given
    if given.belt_tight is None:
        return _was_read(given)
    return given.belt_tight


def _placed(drive: _Drive, *, now: wear.Wear | None) -> wear.Wear | None:
    """The wear when the slot was read with the belt tight; None where that is the wear now."""
    given = drive.given
    if given.width_placed is None or now is None or not _tight(drive):
        return None
    assert drive.driver is not None
    assert drive.driven is not None
    assert drive.driver.groove is not None
    assert drive.driven.groove is not None
    u = doubt.tool("calliper").value if given.width_placed_u is None else given.width_placed_u
    width = _use(drive, "width_placed", given.width_placed, u, "m")
    return _model(drive, drive.driver.groove, drive.driven.groove, width=width)


def _take_up(
    drive: _Drive, extra: Doubtful, *, now: wear.Wear | None, placed: wear.Wear | None
) -> TakeUp | None:
    given, driver, driven = drive.given, drive.driver, drive.driven
    assert driver is not None
    assert driven is not None
    assert given.length is not None
    if given.centres is None or given.slot_out is None:
        return None
    small, large = sorted((driver.diameter.value, driven.diameter.value))
    new = geometry.open_centres(small=small, large=large, length=given.length)
    u_new = drive.u_length * geometry.centres_per_length(small=small, large=large, centres=new)
    u_slot = drive.half_width("slot_out", "slot") / sqrt(3)
    u_centres = drive.half_width("centres", "centres") / sqrt(3)
    high = given.centres + given.slot_out
    needed = Doubtful(new + extra.value, hypot(u_new, extra.u))
    to_tight = Doubtful(needed.value - given.centres, hypot(needed.u, u_centres))
    used_read = since = None
    # What it had used when the slot was read, and what it has used since then.
    then = extra
    if placed is not None and now is not None:
        then = Doubtful(placed.capped.extra_centres, placed.u_capped)
        widths = hypot(
            drive.width_now.u if drive.width_now is not None else 0.0,
            drive.given.width_placed_u or 0.0,
        )
        worn = max(now.capped.extra_centres - then.value, 0.0)
        since = Doubtful(worn, abs(now.per_width) * widths)
        needed = Doubtful(new + then.value, hypot(u_new, then.u))
        to_tight = Doubtful(needed.value - given.centres, hypot(needed.u, u_centres))
    if _tight(drive):
        # What is left is read on the slot; where the belt was when new is so much further in.
        agrees = abs(to_tight.value) <= 2 * to_tight.u
        words = (
            ""
            if agrees
            else f"The belt's length and width ask for centres of {needed.value * 1e3:.1f} mm and "
            f"it is tight at {given.centres * 1e3:.1f} mm: {abs(to_tight.value) * 1e3:.1f} mm "
            f"apart, where {2 * to_tight.u * 1e3:.1f} mm could be error. Measure again, and check "
            "the belt's mark and the pulleys."
        )
        if given.slot_out_new is not None:
            used_read = Doubtful(given.slot_out_new - given.slot_out, sqrt(2) * u_slot)
            if not doubt.agree(used_read, then):
                agrees = False
                error = 2 * hypot(used_read.u, then.u)
                words = (
                    f"{words} By the slot {used_read.value * 1e3:.1f} mm were used since the belt "
                    f"was new, by the wear {then.value * 1e3:.1f} mm: further apart than the "
                    f"error (± {error * 1e3:.1f} mm). Read width and slot again."
                ).strip()
        lost = since or Doubtful(0.0, 0.0)
        left = Doubtful(given.slot_out - lost.value, hypot(u_slot, lost.u))
        travel = Doubtful(given.slot_out + then.value, hypot(u_slot, then.u))
        to_tight = lost
    else:
        agrees, words = None, ""
        left = Doubtful(high - needed.value, hypot(needed.u, u_centres, u_slot))
        travel = Doubtful(high - new, hypot(u_new, u_centres, u_slot))
    ended = left.value <= 0
    odds = probability_below(limit=0, mean=left.value, u=left.u)
    if ended and ((_tight(drive) and since is None) or odds >= SURE_ODDS.value):
        words = (
            f"The slot is used up: change the belt. Tensioning again is not possible. {words}"
        ).strip()
    elif ended and since is not None:
        words = (
            f"By its width the belt has used up the slot since it was read (odds {odds * 100:.0f} "
            "%). Read the slot again with the belt tight."
        )
    elif ended:
        words = (
            f"By the belt's nominal length the slot is used up (odds {odds * 100:.0f} %). Look "
            "whether the belt is still slack with the motor at the end of the slot."
        )
    return TakeUp(
        low=None if given.slot_in is None else given.centres - given.slot_in,
        high=high,
        travel=travel,
        used=extra,
        left=left,
        to_tight=to_tight,
        ended=ended,
        odds_ended=odds,
        agrees=agrees,
        travel_from_geometry=not _tight(drive),
        words=words,
        used_read=used_read,
        since=since,
    )


def _which_first(
    drive: _Drive,
    driver: _Side,
    driven: _Side,
    seats: list[Seat],
    extra: Doubtful,
    take_up: TakeUp | None,
) -> tuple[float | None, str, str]:
    """Width at which the slot ends, which limit comes first, and that in words."""
    assert driver.groove is not None
    assert driven.groove is not None
    assert drive.width_new is not None
    assert drive.given.length is not None
    assert drive.below_cord is not None
    soonest = max(seats, key=lambda seat: seat.width_bottoms or 0.0)
    floor = soonest.width_bottoms or 0.0
    # Past a quarter of the width the sums no longer hold, and a figure would only mislead.
    at_floor = (
        f"it reaches the floor of the {soonest.name}'s groove at {floor * 1e3:.1f} mm"
        if floor
        else "it does not reach the floor within a quarter of its width"
    )
    if floor >= drive.width_new.value:
        return None, "floor", "Even a new belt stands on the floor of a groove this shallow."
    if take_up is None:
        return None, "", f"At what width the slot ends is not known; {at_floor}."
    if take_up.travel.value <= 0:
        return None, "slot", "Even a new belt of this length is slack at the end of the slot."
    loss = wear.loss_that_ends_slot(
        small=driver.groove,
        large=driven.groove,
        length=drive.given.length,
        travel=min(take_up.travel.value, 1.0),
        width_new=drive.width_new.value,
        below_cord=drive.below_cord.value,
    )
    if loss is None and not floor:
        return None, "", "Neither floor nor end of the slot comes within a quarter of its width."
    if loss is None:
        return None, "floor", f"The floor comes before the end of the slot: {at_floor}."
    ends = drive.width_new.value - loss
    if ends >= floor:
        return ends, "slot", f"The slot ends first, at {ends * 1e3:.1f} mm width; {at_floor}."
    return (
        ends,
        "floor",
        f"The floor comes first: {at_floor}; the slot would end at {ends * 1e3:.1f} mm.",
    )


# --- geometry ------------------------------------------------------------------------------------


def _geometry(drive: _Drive, worn: WearPart | None) -> Geometry | None:
    given, driver, driven = drive.given, drive.driver, drive.driven
    if driver is None or driven is None:
        return None
    d1, d2 = driver.diameter.value, driven.diameter.value
    centres_new = needed = None
    if given.length is not None:
        value = geometry.open_centres(small=d1, large=d2, length=given.length)
        u = drive.u_length * geometry.centres_per_length(small=d1, large=d2, centres=value)
        centres_new = Doubtful(value, u)
        if worn is not None and worn.extra is not None:
            needed = Doubtful(value + worn.extra.value, hypot(u, worn.extra.u))
    measured = None
    length_for = None
    if given.centres is not None:
        measured = Doubtful(given.centres, drive.half_width("centres", "centres") / sqrt(3))
        fits = geometry.open_length(small=d1, large=d2, centres=given.centres)
        rate = geometry.centres_per_length(small=d1, large=d2, centres=given.centres)
        length_for = Doubtful(fits, measured.u / rate)
        if _tight(drive):
            slot = worn.take_up if worn is not None else None
            since = slot.since.value if slot is not None and slot.since is not None else 0.0
            needed = Doubtful(measured.value + since, measured.u)
    # Without a length the sums take the shafts where they stand.
    at_new = centres_new or measured
    at_now = needed or measured
    n1, n2 = (worn.driver.diameter_now, worn.driven.diameter_now) if worn is not None else (d1, d2)
    speed = given.motor_speed
    now = worn is not None and at_now is not None
    speed_new = None if speed is None else geometry.belt_speed(diameter=d1, speed=speed)
    wrap = None if at_new is None else geometry.wrap_angle(small=d1, large=d2, centres=at_new.value)
    wrap_now = (
        geometry.wrap_angle(small=n1, large=n2, centres=at_now.value)
        if now and at_now is not None
        else None
    )
    return Geometry(
        small_is_driver=drive.small_is_driver,
        ratio_new=d2 / d1,
        ratio_now=n2 / n1 if worn is not None else None,
        centres_new=centres_new,
        centres_needed=needed,
        length_for_centres=length_for,
        span_new=None
        if at_new is None
        else geometry.span(small=d1, large=d2, centres=at_new.value),
        span_now=geometry.span(small=n1, large=n2, centres=at_now.value)
        if now and at_now is not None
        else None,
        wrap_driver_new=wrap,
        wrap_driven_new=None if wrap is None else 2 * pi - wrap,
        wrap_driver_now=wrap_now,
        wrap_driven_now=None if wrap_now is None else 2 * pi - wrap_now,
        speed_new=speed_new,
        speed_now=geometry.belt_speed(diameter=n1, speed=speed)
        if speed is not None and worn is not None
        else None,
        passes_new=geometry.belt_passes(belt_speed=speed_new, length=given.length)
        if speed_new is not None and given.length is not None
        else None,
    )


# --- power ---------------------------------------------------------------------------------------


def _power(drive: _Drive, shape: Geometry | None) -> PowerPart | None:
    given = drive.given
    if given.motor_power is None:
        return None
    load = "uniform" if given.load == "light" else given.load
    factor = power.service_factor(
        load=load,
        hours_a_day=given.hours_a_day,
        high_torque=given.hard_start,
        idler=given.idler,
    )
    design = power.design_power(power=given.motor_power, service_factor=factor.value)
    u = factor.value * given.motor_power * drive.half_width("motor_power", "power, share") / sqrt(3)
    ratings, words = _ratings(drive, shape, design)
    chosen = given.power_method
    if not chosen:
        chosen = next((one.method for one in ratings if one.each is not None), "")
    counted = next((one for one in ratings if one.method == chosen and one.each is not None), None)
    needed = counted.belts if counted else None
    if ratings and counted is None:
        refused = next((one for one in ratings if one.method == chosen), ratings[0])
        words.append(
            f"The number of belts is not worked out. {power.METHODS[refused.method].title}: "
            f"{refused.words}."
        )
    if counted is not None:
        words += _spread(counted, ratings, named=bool(given.power_method))
    return PowerPart(
        power=given.motor_power,
        service_factor=factor.value,
        service_source=factor.source,
        service_trust=str(factor.trust),
        design_power=Doubtful(design, u),
        ratings=tuple(ratings),
        chosen=chosen if counted else "",
        belts_fitted=given.belts,
        belts_needed=needed,
        words=tuple(words),
    )


def _spread(counted: Rating, ratings: list[Rating], *, named: bool) -> list[str]:
    """Which rating counts and why, and how far the others lie from it."""
    held = [(one.each, one) for one in ratings if one.each is not None]
    if len(held) < 2 or counted.each is None:
        return []
    (least, weakest), (most, _) = min(held, key=_first), max(held, key=_first)
    why = "as chosen" if named else "the first of those held that rates this belt"
    where = "the highest of them; " if counted.each == most else ""
    where = "the lowest of them; " if counted.each == least else where
    words = (
        f"{power.METHODS[counted.method].title} counts here, {why}: {counted.each / 1e3:.2f} kW a "
        f"belt, {where}{counted.trust}."
    )
    if weakest.belts is not None and weakest.belts != counted.belts:
        words += (
            f" By the lowest, {power.METHODS[weakest.method].title}, it would be "
            f"{weakest.belts} {'belt' if weakest.belts == 1 else 'belts'}."
        )
    return [
        words,
        f"The published methods differ: one belt here carries {least / 1e3:.2f} to "
        f"{most / 1e3:.2f} kW. A rating and its factors are kept to one method.",
    ]


def _first(pair: tuple[float, Rating]) -> float:
    return pair[0]


def _ratings(
    drive: _Drive, shape: Geometry | None, design: float
) -> tuple[list[Rating], list[str]]:
    given = drive.given
    wrap = None if shape is None else _small_wrap(shape, worn=False)
    if drive.belt is None or shape is None or given.motor_speed is None or given.length is None:
        return [], ["What one belt carries needs section, pulleys, length and motor speed."]
    assert wrap is not None
    small, speed, ratio = _small_shaft(drive, shape)
    try:
        found = power.compare(
            section=drive.belt.code,
            small=small,
            shaft_speed=speed,
            ratio=ratio,
            wrap=wrap,
            length=given.length,
        )
    except NotSourced as refused:
        return [], [f"{str(refused)[0].upper()}{str(refused)[1:]}."]
    ratings: list[Rating] = []
    for one in found:
        held = one.method
        if one.power is None:
            ratings.append(Rating(held.key, held.source, str(held.trust), words=one.refusal))
            continue
        ratings.append(
            Rating(
                method=held.key,
                source=held.source,
                trust=str(held.trust),
                basic=one.power.rating.watts,
                arc_factor=one.power.arc.value,
                length_factor=one.power.length.value,
                each=one.power.watts,
                belts=power.belts_needed(design_power=design, per_belt=one.power).count
                if one.power.watts >= 1
                else None,
                words=held.validity,
            )
        )
    return ratings, []


def _small_shaft(drive: _Drive, shape: Geometry) -> tuple[float, float, float]:
    """Diameter [m] and shaft speed [rad/s] of the small pulley, and the ratio, 1 or more."""
    assert drive.driver is not None
    assert drive.driven is not None
    assert drive.given.motor_speed is not None
    d1, d2 = drive.driver.diameter.value, drive.driven.diameter.value
    if shape.small_is_driver:
        return d1, drive.given.motor_speed, d2 / d1
    return d2, drive.given.motor_speed * d1 / d2, d1 / d2


def _small_wrap(shape: Geometry, *, worn: bool) -> float | None:
    wraps = (
        (shape.wrap_driver_now, shape.wrap_driven_now)
        if worn
        else (shape.wrap_driver_new, shape.wrap_driven_new)
    )
    return wraps[0] if shape.small_is_driver else wraps[1]


# --- tension -------------------------------------------------------------------------------------


def _tension(
    drive: _Drive,
    worn: WearPart | None,
    shape: Geometry | None,
    rated: PowerPart | None,
    *,
    offered: bool,
) -> TensionPart | None:
    given = drive.given
    if drive.belt is None or not drive.belt.wedges or drive.belt.mass_held is None:
        return None
    if shape is None or rated is None or given.motor_speed is None or shape.span_new is None:
        return None
    at_new = shape.centres_new.value if shape.centres_new else given.centres
    assert at_new is not None
    assert drive.driver is not None
    assert drive.driven is not None
    words: list[str] = []
    new = _setting(
        drive,
        rated,
        driver=drive.driver.diameter.value,
        driven=drive.driven.diameter.value,
        centres=at_new,
        stage=tension.Stage.NEW.value,
        words=words,
    )
    d1, d2, at = _as_it_stands(drive, worn, shape)
    here = _setting(drive, rated, driver=d1, driven=d2, centres=at, stage=given.stage, words=words)
    if worn is None:
        words.append("The belt's width is not known: its tension is worked out as for a new belt.")
    reading = _reading(drive, here)
    mu = power.ASSUMED_MU.value if given.friction is None else given.friction
    _use(
        drive,
        "friction",
        mu,
        0.0,
        "",
        assumed=power.ASSUMED_MU if given.friction is None else None,
    )
    seat = None
    if worn is not None:
        seat = worn.driver if shape.small_is_driver else worn.driven
    on_floor = bool(seat is not None and seat.bottoms and not seat.near)
    angle = _small_angle(drive, shape)
    slip_new = slip_now = None
    if angle is not None:
        slip_new = _slip(new, new.required.value, mu, angle, on_floor=False)
        slip_now = _slip(
            here,
            reading.tension.value if reading is not None else here.required.value,
            mu,
            angle,
            on_floor=on_floor,
        )
    if not offered:
        words.append(
            "Tensioning this belt again is not offered. The figures are those of the new belt."
        )
    elif here.stage == tension.Stage.NEW.value:
        words.append("A new belt: look at it again after 4 to 24 hours of running, and set it.")
    return TensionPart(
        this_belt=here if offered else None,
        new_belt=new,
        offered=offered,
        slip_new=slip_new,
        slip_now=slip_now,
        friction=mu,
        groove_angle=angle,
        on_floor=on_floor,
        reading=reading,
        words=tuple(dict.fromkeys(words)),
    )


def _as_it_stands(
    drive: _Drive, worn: WearPart | None, shape: Geometry
) -> tuple[float, float, float]:
    """Diameters that the cord runs on and centre distance [m] of the belt that is on."""
    assert drive.driver is not None
    assert drive.driven is not None
    if worn is not None and shape.centres_needed is not None:
        return worn.driver.diameter_now, worn.driven.diameter_now, shape.centres_needed.value
    at = drive.given.centres
    if at is None:
        assert shape.centres_new is not None
        at = shape.centres_new.value
    return drive.driver.diameter.value, drive.driven.diameter.value, at


def _small_angle(drive: _Drive, shape: Geometry) -> float | None:
    side = drive.driver if shape.small_is_driver else drive.driven
    return side.groove.angle if side is not None and side.groove is not None else None


def _setting(
    drive: _Drive,
    rated: PowerPart,
    *,
    driver: float,
    driven: float,
    centres: float,
    stage: str,
    words: list[str],
) -> Setting:
    given, belt = drive.given, drive.belt
    assert belt is not None
    assert belt.mass_held is not None
    assert given.motor_speed is not None
    small, large = min(driver, driven), max(driver, driven)
    shaft = given.motor_speed * driver / small
    mass = belt.mass_held.value

    def required(design: float, small: float, centres: float, method: str) -> tension.Target:
        return tension.target(
            design_power=design,
            shaft_speed=shaft,
            small=small,
            large=large,
            centres=centres,
            belts=given.belts,
            mass=mass,
            method=method,
        )

    design, u_design = rated.design_power
    rma = required(design, small, centres, tension.Method.RMA.value)
    theory = required(design, small, centres, tension.Method.THEORY.value)
    chosen = rma if given.tension_method == tension.Method.RMA.value else theory
    # The part for power goes with the power and against the small diameter; the rest is exact.
    own = tension.centrifugal(mass=mass, speed=chosen.speed)
    u_small = drive.half_width("driver", "diameter") / sqrt(3)
    u = (chosen.tension - own) * hypot(u_design / design, u_small / small)
    wanted = tension.band(required=chosen.tension, stage=stage)
    stiff = _stiffness(drive, words)
    length = given.length
    if length is None:
        length = geometry.open_length(small=small, large=large, centres=centres)
    forces: list[float | None] = [None, None]
    if stiff is not None:
        forces = [
            tension.deflection_force(
                tension=each,
                span=chosen.span,
                length=length,
                stiffness=stiff,
                form=given.force_form,
            )
            for each in (wanted.low, wanted.high)
        ]
    frequencies = [
        tension.span_frequency(tension=each, mass=mass, span=chosen.span)
        for each in (wanted.low, wanted.high)
    ]
    return Setting(
        stage=stage,
        required_rma=rma.tension,
        required_theory=theory.tension,
        required=Doubtful(chosen.tension, u),
        method=given.tension_method,
        low=wanted.low,
        high=wanted.high,
        over=wanted.over,
        span=chosen.span,
        deflection=chosen.deflection,
        force_low=forces[0],
        force_high=forces[1],
        frequency_low=frequencies[0],
        frequency_high=frequencies[1],
        hub_load=tension.hub_load_static(tension=wanted.high, wrap=chosen.wrap, belts=given.belts),
        wrap=chosen.wrap,
        speed=chosen.speed,
        arc_factor=chosen.arc_factor,
        pull=design / chosen.speed / given.belts,
        stiffness=stiff,
        mass=mass,
        length=length,
        design_power=design,
        belts=given.belts,
        force_form=given.force_form,
    )


def _stiffness(drive: _Drive, words: list[str]) -> float | None:
    assert drive.belt is not None
    try:
        return tension.stiffness(section=drive.belt.code, form=drive.given.force_form).value
    except NotSourced as refused:
        words.append(f"No force at mid-span is given: {refused}.")
        return None


def _slip(
    setting: Setting, held: float, mu: float, angle: float, *, on_floor: bool
) -> tension.SlipMargin:
    return tension.slip_margin(
        tension=held,
        pull=setting.pull,
        mass=setting.mass,
        speed=setting.speed,
        mu=mu,
        wrap=setting.wrap,
        groove_angle=angle,
        on_floor=on_floor,
    )


def _was_read(given: DriveGiven) -> bool:
    return given.reading_force is not None or given.reading_frequency is not None


def _read(
    drive: _Drive,
    *,
    span: float,
    length: float,
    stiffness: float | None,
    expected: float | None,
) -> Reading | None:
    """The tension that was read, not yet judged; None when it cannot be told, with a word why."""
    given = drive.given
    assert drive.belt is not None
    assert drive.belt.mass_held is not None
    mass = drive.belt.mass_held.value
    if given.reading_force is not None:
        if stiffness is None:
            drive.warnings.append(
                "The force reading is not turned into tension: no stiffness term is held for this "
                "section in the chosen form. Read the frequency of the span instead."
            )
            return None
        kind, said = "force", ""
        found = _from_force(given, span=span, length=length, stiffness=stiffness)
    elif given.reading_frequency is not None:
        kind = "frequency"
        u = given.reading_frequency_u
        share = doubt.tool("span frequency, share of the reading").value
        read = tension.read_frequency(
            frequency=given.reading_frequency,
            mass=mass,
            span=span,
            height=drive.belt.height,
            expected=expected,
            u_frequency=given.reading_frequency * share if u is None else u,
            u_mass=0.05 * mass,
            u_span=1e-3,
        )
        found, said = read.tension, read.words
    else:
        return None
    return Reading(
        kind=kind,
        tension=found,
        verdict="",
        under=0.0,
        over=0.0,
        sure=False,
        ratio=0.0,
        span=span,
        length=length,
        mass=mass,
        stiffness=stiffness,
        words=said,
    )


def _unjudged(drive: _Drive, worn: WearPart | None, shape: Geometry | None) -> Reading | None:
    """The tension that was read where there is no band to judge it by."""
    given, belt = drive.given, drive.belt
    if not _was_read(given) or (belt is not None and not belt.wedges):
        return None
    if belt is None or belt.mass_held is None or shape is None or shape.span_new is None:
        drive.warnings.append(
            "The tension reading is not turned into tension: that needs section, both pulleys, and "
            "belt length or centre distance."
        )
        return None
    d1, d2, at = _as_it_stands(drive, worn, shape)
    length = given.length
    if length is None:
        length = geometry.open_length(small=d1, large=d2, centres=at)
    found = _read(
        drive,
        span=geometry.span(small=d1, large=d2, centres=at),
        length=length,
        stiffness=_stiffness(drive, []),
        expected=None,
    )
    if found is None:
        return None
    value, u = found.tension
    if value <= 0:
        words = "No tension is left in the belt by the reading: it is slack."
    else:
        words = (
            f"The tension was read as {value:.0f} ± {2 * u:.0f} N. Whether that is enough cannot "
            "be judged without motor power and speed."
        )
        drive.warnings.append(words)
    return replace(found, words=f"{words} {found.words}".strip())


def _reading(drive: _Drive, here: Setting) -> Reading | None:
    """The tension that was read, against the band of the belt as it is, at the stage given."""
    wanted = tension.band(required=here.required.value, stage=here.stage)
    read = _read(
        drive,
        span=here.span,
        length=here.length,
        stiffness=here.stiffness,
        expected=here.required.value,
    )
    if read is None:
        return None
    judged = tension.judge(reading=read.tension, against=wanted)
    words = {
        tension.Verdict.UNDER: "The belt is slacker than its band.",
        tension.Verdict.WITHIN: "The tension is within its band.",
        tension.Verdict.HIGH: "The tension is at the high end of a first setting.",
        tension.Verdict.OVER: "The belt is over-tight: it loads the bearings. Slacken it.",
    }[judged.verdict]
    if not judged.sure:
        words += " The doubt of the reading is too large to be sure of that."
    return replace(
        read,
        verdict=str(judged.verdict),
        under=judged.under,
        over=judged.over,
        sure=judged.sure,
        ratio=read.tension.value / here.required.value if here.required.value > 0 else 0.0,
        words=f"{words} {read.words}".strip(),
    )


def _from_force(given: DriveGiven, *, span: float, length: float, stiffness: float) -> Doubtful:
    assert given.reading_force is not None
    form, depth = given.force_form, given.reading_depth
    usual = tension.deflection(span=span)
    share = 1.0 if depth is None else depth / usual
    u_force = given.reading_force_u
    if u_force is None:
        u_force = doubt.tool("spring gauge").value
    stiff = tension.deflection_force(
        tension=0,
        span=span,
        length=length,
        stiffness=stiffness,
        form=form,
        deflection=depth,
    )
    if given.reading_force <= stiff:
        return Doubtful(0.0, 16 * u_force / share)
    value = tension.from_deflection_force(
        force=given.reading_force,
        span=span,
        length=length,
        stiffness=stiffness,
        form=form,
        deflection=depth,
    )
    # T = 16 (F/s - A s^2) in the RMA form and 16 (F/s - A) in the other, s = depth / (span / 64).
    by_depth = 16 * given.reading_force / share**2
    if form == tension.StiffnessForm.RMA.value:
        by_depth += 32 * stiff / share**2
    u_share = doubt.tool("steel rule").value / usual
    return Doubtful(value, hypot(16 * u_force / share, by_depth * u_share))


# --- the driven side -----------------------------------------------------------------------------


def _driven(drive: _Drive, shape: Geometry | None) -> DrivenPart | None:
    given = drive.given
    if shape is None or given.motor_speed is None or drive.driver is None or drive.driven is None:
        return None
    d1, d2 = drive.driver.diameter, drive.driven.diameter
    slip = SLIP.value if given.slip is None else given.slip
    _use(drive, "slip", slip, 0.0, "", assumed=SLIP if given.slip is None else None)
    stages = [driven.GearStage(teeth_in, teeth_out) for teeth_in, teeth_out in given.gears]
    gear = driven.gear_ratio(stages)
    new = driven.driven_speed(speed=given.motor_speed, driving=d1.value, driven=d2.value, slip=slip)
    ratio_now = shape.ratio_now
    now = None if ratio_now is None else given.motor_speed / ratio_now * (1 - slip)
    torque = heat = None
    if given.motor_power is not None:
        efficiency = (driven.BELT_EFFICIENCY[0].value + driven.BELT_EFFICIENCY[1].value) / 2
        ring = (driven.RING_EFFICIENCY[0].value + driven.RING_EFFICIENCY[1].value) / 2
        torque = driven.driven_torque(
            torque=driven.torque(power=given.motor_power, speed=given.motor_speed),
            ratio=ratio_now or shape.ratio_new,
            efficiency=efficiency,
        )
        for stage in stages:
            torque = driven.driven_torque(
                torque=torque, ratio=driven.gear_ratio([stage]), efficiency=ring
            )
        heat = driven.slip_heat(power=given.motor_power, slip=slip)
    measured, words = None, ""
    if given.driven_speed is not None:
        measured, words = _slip_counted(drive, given.motor_speed, given.driven_speed, shape)
    return DrivenPart(
        slip=slip,
        driven_new=new,
        driven_now=now,
        output_new=new / gear,
        output_now=None if now is None else now / gear,
        output_torque=torque,
        slip_heat=heat,
        slip_measured=measured,
        words=words,
    )


def _slip_counted(
    drive: _Drive, motor: float, counted: float, shape: Geometry
) -> tuple[float | None, str]:
    """Slip by the counted speed, and in words; None when no slip explains that speed."""
    assert drive.driver is not None
    assert drive.driven is not None
    d1, d2 = drive.driver.diameter, drive.driven.diameter
    try:
        # Worn diameters, or the sinking of the belt would read as slip.
        found = driven.slip_from_speeds(
            driving_speed=Doubtful(
                motor, motor * drive.half_width("motor_speed", "speed, share") / sqrt(3)
            ),
            driven_speed=Doubtful(
                counted, counted * drive.half_width("driven_speed", "speed, share") / sqrt(3)
            ),
            driving=d1,
            driven=Doubtful(d1.value * (shape.ratio_now or shape.ratio_new), d2.u),
        )
    except OutOfRange as refused:
        # One odd count must not cost the rest of the answer.
        drive.warnings.append(f"The counted speed is left out: {refused}.")
        return None, ""
    return found.slip.value, found.words


# --- warnings and what is missing ----------------------------------------------------------------


def _warn(
    drive: _Drive,
    worn: WearPart | None,
    shape: Geometry | None,
    rated: PowerPart | None,
    turned: DrivenPart | None,
) -> None:
    said, given, belt = drive.warnings, drive.given, drive.belt
    if belt is not None and not belt.wedges:
        said.append(
            f"{belt.code} is a {belt.family} belt: it does not sink into a groove as it wears, and "
            "it must not run in V grooves. Only the geometry is worked out."
        )
    if belt is not None and belt.note:
        said.append(f"{belt.code}: {belt.note}")
    if belt is not None and shape is not None and shape.speed_new is not None and given.length:
        assert drive.driver is not None
        assert drive.driven is not None
        try:
            found = power.limit_warnings(
                family=belt.family.value,
                speed=shape.speed_new,
                length=given.length,
                small=min(drive.driver.diameter.value, drive.driven.diameter.value),
                min_diameter=belt.min_diameter,
            )
            said.extend(one.words for one in found)
        except NotSourced:
            pass
    said.extend(_rims(drive, shape))
    if shape is not None and given.sized_at in ("rim", "effective"):
        said.extend(_sized_elsewhere(drive, shape))
    for side in (drive.driver, drive.driven):
        if side is not None and side.depth_guessed and side.groove is not None:
            said.append(
                f"The groove depth of the {side.name} is a guess "
                f"({side.groove.depth * 1e3:.1f} mm below the datum line, the least of the "
                "standard). Whether the belt stands on the floor hangs on it: measure it."
            )
    if (
        drive.given.width_new is None
        and drive.width_new is not None
        and drive.width_now is not None
    ):
        said.append(
            f"The width when new is the nominal {drive.width_new.value * 1e3:.1f} mm, not this "
            "belt's own: half a millimetre less would be half a millimetre of wear that is not "
            "there. Measure the next belt when it is fitted."
        )
    if worn is not None:
        for seat in (worn.driver, worn.driven):
            if seat.groove_worn is not None and seat.groove_worn.shown:
                said.append(f"{seat.name.capitalize()}: {seat.groove_worn.words}")
            if seat.deeper_bottoms is not None and seat.deeper_bottoms is not seat.bottoms:
                assert seat.deeper_depth is not None
                said.append(
                    f"In the {seat.name}'s groove the belt stands on the floor if the groove is "
                    f"{seat.depth * 1e3:.1f} mm deep below the datum line, and does not if it is "
                    f"{seat.deeper_depth * 1e3:.1f} mm ({seat.deeper_system})."
                )
        if worn.shown and worn.loss is not None:
            said.append("A worn belt is narrow, not long: do not fit the next shorter length.")
    if rated is not None and (rated.belts_needed or 0) > rated.belts_fitted:
        said.append(
            f"By {rated.chosen} the design power needs {rated.belts_needed} belts and "
            f"{rated.belts_fitted} {'is' if rated.belts_fitted == 1 else 'are'} fitted. The "
            "methods differ by up to a factor of two: judge by how long belts last here."
        )
    if given.belts > 1:
        said.append("Change all belts of a drive together, as a matched set.")
    if turned is not None and turned.words and (turned.slip_measured or 0) > 0:
        said.append(turned.words)


def _rims(drive: _Drive, shape: Geometry | None) -> tuple[str, ...]:
    """Whether the pulley rims would touch where the shafts stand, or with the slot fully in."""
    given, belt = drive.given, drive.belt
    if belt is None or shape is None or drive.driver is None or drive.driven is None:
        return ()
    places: list[tuple[str, float]] = []
    if given.centres is not None:
        places.append(("At the centre distance given", given.centres))
        if given.slot_in is not None:
            places.append(("With the slot fully in", given.centres - given.slot_in))
    if shape.centres_new is not None:
        places.append(("At the centres that this belt asks for when new", shape.centres_new.value))
    for where, centres in places:
        if centres <= 1e-3:
            continue
        found = fits.rims_touch(
            belt.code,
            small=drive.driver.diameter.value,
            large=drive.driven.diameter.value,
            centres=centres,
            where=where,
        )
        if found:
            return found
    return ()


def _sized_elsewhere(drive: _Drive, shape: Geometry) -> tuple[str, ...]:
    """How far off the ratio is for pulleys sized at the rim, inside or outside of the cords."""
    assert drive.belt is not None
    assert drive.driver is not None
    assert drive.driven is not None
    d1, d2 = drive.driver.diameter.value, drive.driven.diameter.value
    # On every pulley the cords run on a circle smaller by this much; lengths differ by pi times it.
    inward = (1.0 - lengths.cord_from_effective(drive.belt.code, 1.0)) / pi
    if inward >= min(d1, d2):
        return ()
    speeds = abs(inward) / min(d1, d2)
    ratio = abs((d2 - inward) / (d1 - inward) / (d2 / d1) - 1)
    return (
        f"{drive.belt.code} pulleys go by {'outside' if inward > 0 else 'effective'} diameter and "
        f"effective length; the cords run {abs(inward) / 2 * 1e3:.2f} mm "
        f"{'inside' if inward > 0 else 'outside'} of that line. Centres come out right; belt speed "
        f"is out by {speeds * 100:.1f} % and the ratio by {ratio * 100:.1f} %.",
    )


# Field, what it would settle, what stands in for it.
_SETTLES: tuple[tuple[str, str, str], ...] = (
    ("driver", "every sum on the drive", ""),
    ("driven", "every sum on the drive", ""),
    ("section", "how the belt sits in its grooves, what it weighs and carries", ""),
    ("length", "centre distance, take-up, and how far the belt still reaches", ""),
    ("width_now", "how far the belt has worn, how deep it rides and the take-up it uses", ""),
    ("width_new", "how much of the narrowness is wear", "the nominal of its length system"),
    ("driver_depth", "whether the belt stands on the floor", "the least depth of the standard"),
    ("driven_depth", "whether the belt stands on the floor", "the least depth of the standard"),
    ("driver_angle", "how far the belt drops for each mm of width", "the angle of the standard"),
    ("driven_angle", "how far the belt drops for each mm of width", "the angle of the standard"),
    ("centres", "where the motor stands in its slot", ""),
    ("slot_out", "how much take-up is left", ""),
    ("slot_in", "whether a new belt can be put on without force", ""),
    ("motor_power", "the tension that the belt needs", ""),
    ("motor_speed", "belt speed, tension and driven speed", ""),
)


# What settles nothing for a section whose seat in the groove cannot be worked out.
_OF_SEAT = (
    "width_now",
    "width_new",
    "driver_depth",
    "driven_depth",
    "driver_angle",
    "driven_angle",
)


def _missing(drive: _Drive) -> tuple[Missing, ...]:
    given = drive.given
    found: list[Missing] = []
    of_seat = () if drive.seat_known else _OF_SEAT
    rides = given.driver_ride is not None and given.driven_ride is not None
    for name, settles, instead in _SETTLES:
        value = getattr(given, name)
        if (value is not None and value != "") or name in of_seat:
            continue
        if name == "width_now" and rides:
            instead = "the ride measured on both pulleys"
        assumed = any(one.field == name for one in drive.used)
        found.append(Missing(name, given.label(name), settles, instead if assumed or rides else ""))
    if not _was_read(given):
        found.append(
            Missing("reading_force", LABELS["reading_force"], "whether the belt is tight enough")
        )
    return tuple(found)


# --- the verdict ---------------------------------------------------------------------------------


def _wear_verdict(drive: _Drive, worn: WearPart | None) -> tuple[Verdict | None, list[str], bool]:
    """What width, ride and slot say; their reasons; whether tensioning again may be offered."""
    new, now = drive.width_new, drive.width_now
    odd = _width_is_odd(new, now) if new is not None and now is not None else ""
    change: list[str] = []
    again: list[str] = []
    watch: list[str] = []
    if odd and new is not None and now is not None:
        (again if now.value > new.value else change).append(odd)
    if worn is not None:
        _judge_width(worn, change=change, again=again, watch=watch)
        for seat in (worn.driver, worn.driven):
            _judge_seat(seat, change=change, again=again, watch=watch)
        if worn.take_up is not None:
            _judge_slot(worn.take_up, change=change, again=again, watch=watch)
    slot_ended = bool(worn is not None and worn.take_up is not None and worn.take_up.ended)
    if not slot_ended and _tight(drive) and drive.given.slot_out == 0:
        change.append("The slot is used up: change the belt. Tensioning again is not possible.")
    if change:
        return Verdict.CHANGE, change + again, False
    if again:
        # With the slot at its end by the best figure, tensioning again waits for a look at it.
        return Verdict.AGAIN, again + watch, not slot_ended
    if watch:
        return Verdict.WATCH, watch, True
    return None, [], True


def _judge_width(worn: WearPart, *, change: list[str], again: list[str], watch: list[str]) -> None:
    if worn.loss is None or worn.share is None:
        return
    share = f"It has lost {worn.loss.value * 1e3:.1f} mm, {worn.share * 100:.0f} % of its width"
    if worn.share >= wear.CHANGE_WIDTH_LOSS.value and worn.shown:
        limit = wear.CHANGE_WIDTH_LOSS
        change.append(f"{share}; change at {limit.value * 100:.0f} % ({limit.trust}).")
    elif worn.share >= wear.WATCH_WIDTH_LOSS.value and worn.shown:
        limit = wear.WATCH_WIDTH_LOSS
        watch.append(f"{share}; watch from {limit.value * 100:.0f} % ({limit.trust}).")
    elif worn.share >= wear.CHANGE_WIDTH_LOSS.value:
        again.append(
            f"{share}, but the reading's error is as large: measure again, with a calliper."
        )


def _judge_seat(seat: Seat, *, change: list[str], again: list[str], watch: list[str]) -> None:
    odds, low, high = seat.odds_bottoms, UNDECIDED_ODDS.value, 1 - UNDECIDED_ODDS.value
    hangs_on_depth = seat.bottoms and seat.deeper_bottoms is False
    undecided = hangs_on_depth or low < odds < high
    room = f"Room under the belt in the {seat.name}'s groove: {seat.room.value * 1e3:.1f} mm"
    if undecided and seat.shines:
        change.append(
            f"The floor of the {seat.name}'s groove shines: the belt stands on it and no longer "
            f"wedges ({Trust.PRACTICE})."
        )
    elif undecided and seat.shines is False:
        watch.append(
            f"{room}, known to about 0.5 mm. The floor does not shine, so the belt does not rub on "
            "it yet: look again at every reading."
        )
    elif hangs_on_depth:
        again.append(
            f"{room} if the groove has the least depth of its standard, which is a guess. Measure "
            "the depth, or look whether floor and belt are shiny."
        )
    elif odds >= high:
        change.append(
            f"It stands on the floor of the {seat.name}'s groove (odds {odds * 100:.0f} %) and no "
            "longer wedges."
        )
    elif odds > low:
        again.append(
            f"{room}, known to about 0.5 mm: it may stand on the floor (odds {odds * 100:.0f} %). "
            "Look for a shiny floor, or measure the ride."
        )
    elif seat.shines:
        again.append(
            f"The floor of the {seat.name}'s groove shines, and by the figures there is "
            f"{seat.room.value * 1e3:.1f} mm of room under the belt. Measure depth and ride: "
            "an earlier belt may have rubbed there."
        )
    elif odds > WATCH_ODDS.value:
        watch.append(f"{room}: the floor is near (odds of standing on it {odds * 100:.0f} %).")
    flush = seat.ride_new.value >= FLUSH.value
    if flush:
        _judge_ride(seat, change=change, watch=watch)
    if seat.groove_worn is not None and seat.groove_worn.shown:
        watch.append(f"{seat.name.capitalize()}: {seat.groove_worn.words}")
    elif seat.groove_worn is not None and seat.groove_worn.words.startswith("The belt rides"):
        again.append(f"{seat.name.capitalize()}: {seat.groove_worn.words}")


def _judge_ride(seat: Seat, *, change: list[str], watch: list[str]) -> None:
    """A ride that was measured stands; one worked out from the width only has odds."""
    limit = wear.CHANGE_RIDE
    below = f"{-seat.ride.value * 1e3:.1f} mm below the rim of the {seat.name}"
    at = f"change at {-limit.value * 1e3:.1f} mm ({limit.trust})"
    if seat.measured:
        if seat.ride.value < limit.value:
            change.append(f"It rides {below}; {at}.")
        return
    odds = probability_below(limit=limit.value, mean=seat.ride.value, u=seat.ride.u)
    modelled = f"By its width it rides {below} (± {2 * seat.ride.u * 1e3:.1f} mm); {at}"
    if odds >= 1 - UNDECIDED_ODDS.value:
        change.append(f"{modelled}; odds {odds * 100:.0f} %.")
    elif seat.ride.value < limit.value:
        watch.append(f"{modelled}. Measure the ride: that decides.")


def _judge_slot(found: TakeUp, *, change: list[str], again: list[str], watch: list[str]) -> None:
    left = f"{found.left.value * 1e3:.1f} mm"
    if found.ended:
        more = -found.left.value
        asks = f" It asks for {more * 1e3:.1f} mm more than the slot has." if more > 5e-5 else ""
        reckoned = found.travel_from_geometry or found.since is not None
        undecided = reckoned and found.odds_ended < 1 - UNDECIDED_ODDS.value
        (again if undecided else change).append(f"{found.words}{asks}")
        return
    if found.agrees is False:
        again.append(found.words)
    if found.left.value <= 2 * found.used.u:
        watch.append(
            f"Take-up left is {left}, no more than the error of the wear: the slot may be at its "
            "end. Have a belt ready."
        )
    elif found.odds_ended > UNDECIDED_ODDS.value:
        watch.append(
            f"Take-up left is {left} by the belt's nominal length, known to "
            f"± {2 * found.left.u * 1e3:.1f} mm: the slot may be at its end (odds "
            f"{found.odds_ended * 100:.0f} %). Read the slot with the belt tight."
        )
    elif found.left.value <= WATCH_TAKE_UP.value * found.travel.value:
        watch.append(
            f"Take-up left is {left} of {found.travel.value * 1e3:.1f} mm; watch from a quarter "
            f"({WATCH_TAKE_UP.trust}). Have a belt ready."
        )


def _verdict(
    drive: _Drive,
    worn: WearPart | None,
    pulled: TensionPart | None,
    verdict: Verdict | None,
    why: list[str],
    *,
    unjudged: Reading | None,
) -> tuple[Verdict, list[str]]:
    """Puts the tension beside what the wear says."""
    reading = pulled.reading if pulled is not None else unjudged
    slack = _slack_words(drive, worn)
    if verdict in (Verdict.CHANGE, Verdict.AGAIN):
        if reading is not None:
            why = [*why, reading.words]
        return verdict, why
    # A belt that holds no tension at all is slack, whatever the motor's power.
    loose = reading is not None and (
        reading.verdict == tension.Verdict.UNDER or reading.tension.value <= 0
    )
    slips = bool(
        reading is not None
        and pulled is not None
        and pulled.slip_now is not None
        and pulled.slip_now.slips
    )
    if loose or slips or slack:
        said = [reading.words] if loose and reading is not None else []
        if slips:
            said.append("At the tension read it slips under the design power.")
        if slack:
            said.append(slack)
        if drive.given.slot_out is None:
            said.append("Look first whether the slot has room left.")
        return Verdict.TIGHTEN, said + why
    if reading is not None and reading.verdict == tension.Verdict.OVER:
        return Verdict.WATCH, [reading.words, *why]
    if verdict is not None:
        return verdict, [*why, unjudged.words] if unjudged is not None else why
    if worn is None and (reading is None or unjudged is not None):
        said = [unjudged.words] if unjudged is not None else []
        return Verdict.AGAIN, [_nothing_to_judge(drive), *said]
    said = []
    if worn is not None and worn.loss is not None:
        said.append(
            f"It has lost {worn.loss.value * 1e3:.1f} mm of width"
            + ("" if worn.shown else ", within the error of the reading")
            + ", and no limit is passed."
        )
    elif worn is not None:
        said.append("It rides within the limits on both pulleys.")
    if reading is not None:
        said.append(reading.words)
    elif pulled is not None:
        said.append("The tension was not read.")
    if worn is None:
        said.append(
            "The width was not measured: wear is not judged."
            if drive.seat_known
            else "How far a belt of this section has worn is not judged here."
        )
    said.append(
        "Not judged here: cracks, bare cords, glazing, oil. Any of them, and the belt is changed "
        f"({Trust.PRACTICE})."
    )
    return Verdict.FIT_ON, ["The belt may stay on.", *said]


def _slack_words(drive: _Drive, worn: WearPart | None) -> str:
    if worn is None or worn.take_up is None or worn.take_up.to_tight is None:
        return ""
    out, u = worn.take_up.to_tight
    if worn.take_up.since is not None:
        return ""  # it was tight when the slot was read; its tension says whether it still is
    if out <= 0 or out <= 2 * u:
        return ""
    # Nobody said that it is slack: then it is only so by the length that its mark names.
    said = drive.given.belt_tight is False
    return (
        f"{'It' if said else 'By its nominal length it'} is slack as it stands: the motor has to "
        f"go {out * 1e3:.1f} mm further out (± {2 * u * 1e3:.1f} mm)."
    )


def _nothing_to_judge(drive: _Drive) -> str:
    wanted = [
        drive.given.label(name)
        for name in ("driver", "driven", "section", "length", "width_now")
        if getattr(drive.given, name) in (None, "") and (drive.seat_known or name != "width_now")
    ]
    if wanted:
        return f"There is too little to judge the belt by. Needed: {', '.join(wanted)}."
    if not drive.seat_known:
        return (
            "Wear of a belt of this section is not worked out here: read its tension, and look for "
            "cracks, bare cords and glazing."
        )
    return "There is nothing to judge the belt by: read its tension, or measure the ride."
