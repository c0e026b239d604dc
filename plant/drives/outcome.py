"""What is known of a drive, and what the sums say of it: the frozen input and result."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from plant.drives import grooves, tension, wear
from plant.drives.doubt import Doubtful
from plant.drives.formula import FormulaLine
from plant.drives.sections import SECTIONS, Family, System
from plant.translate import gettext_noop as _

MARKS = ("measured", "plate", "guess")


class Verdict(StrEnum):
    """What is to be done, in the fewest words; ``verdict_words`` say why."""

    FIT_ON = "fit on"  # the belt may stay on
    WATCH = "watch"
    TIGHTEN = "tighten"
    CHANGE = "change now"
    AGAIN = "measure again"


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveGiven:
    """What is known of one open drive of two pulleys. None: not known.

    Lengths [m], angles [rad], power [W], speed [rad/s], force [N], frequency [Hz]; every
    ``..._u`` is a standard uncertainty in the unit of its figure, and None takes it from the mark.

    driver, driven: datum diameters; the driver is on the motor. Narrow inch belts (3V, 5V, 8V) and
    ribbed ones go by outside or effective diameters and effective length. depths: of the groove
    below the datum line. groove_system: the standard that stands in for what is not given of it.
    length: datum length of the belt; length_system: "ISO/DIN", "RMA" or "IS". width_new: this
    belt's own, else the nominal of its system is taken. rides: top of the belt above the rim,
    below it negative; ride_new the same with this belt when new. centres: now. slot_in, slot_out:
    room to move the motor inwards and outwards from there; slot_out_new: the same outwards with
    this belt when new and tight. belt_tight: whether the belt was tight when centres and slot were
    read; width_placed: its top width then, None where it is the width now. shines: whether the
    floor of the groove shines, looked at with this belt. load: "light", "medium", "heavy" or "extra
    heavy". hard_start: high starting torque. hours_a_day: [h].
    friction: of belt on flank. reading_depth: how deep the span was pressed, None for span / 64.
    stage: "new" or "run-in". gears: (teeth in, teeth out) of each stage after the belt. slip:
    share; driven_speed: as counted, slip and all.
    marks: field -> "measured", "plate" or "guess"; typed: field -> what was typed, for display;
    tools: field -> tool of ``doubt.TOOLS`` that it was measured with, whose error it then has.
    """

    driver: float | None = None
    driven: float | None = None
    driver_angle: float | None = None
    driven_angle: float | None = None
    driver_depth: float | None = None
    driven_depth: float | None = None
    groove_system: str = grooves.ISO
    section: str = ""
    length: float | None = None
    length_system: str = System.ISO_DIN.value
    belts: int = 1
    width_new: float | None = None
    width_new_u: float | None = None
    width_now: float | None = None
    width_now_u: float | None = None
    driver_ride: float | None = None
    driven_ride: float | None = None
    driver_ride_new: float | None = None
    driven_ride_new: float | None = None
    ride_u: float | None = None
    centres: float | None = None
    slot_in: float | None = None
    slot_out: float | None = None
    slot_out_new: float | None = None
    width_placed: float | None = None
    width_placed_u: float | None = None
    belt_tight: bool | None = None
    driver_shines: bool | None = None
    driven_shines: bool | None = None
    motor_power: float | None = None
    motor_speed: float | None = None
    load: str = "medium"
    hard_start: bool = False
    hours_a_day: float = 8.0
    idler: str = "none"
    friction: float | None = None
    power_method: str = ""
    tension_method: str = tension.Method.RMA.value
    force_form: str = tension.StiffnessForm.RMA.value
    stage: str = tension.Stage.RUN_IN.value
    reading_force: float | None = None
    reading_force_u: float | None = None
    reading_depth: float | None = None
    reading_frequency: float | None = None
    reading_frequency_u: float | None = None
    gears: tuple[tuple[int, int], ...] = ()
    slip: float | None = None
    driven_speed: float | None = None
    marks: Mapping[str, str] = field(default_factory=dict)
    typed: Mapping[str, str] = field(default_factory=dict)
    tools: Mapping[str, str] = field(default_factory=dict)

    @property
    def sized_at(self) -> str:
        """Line at which pulleys and belt are sized: "datum", "rim", "effective" or "pitch"."""
        held = SECTIONS.get(self.section.upper())
        return _SIZED_AT.get(held.family, "datum") if held is not None else "datum"

    def label(self, name: str) -> str:
        """What a field is called for this belt: some are sized by other lines than the datum."""
        words = LABELS[name]
        diameter, length = _SIZES.get(self.sized_at, ("datum diameter", "datum length"))
        return words.replace("datum diameter", diameter).replace("datum length", length)


_SIZED_AT = {
    Family.INCH_NARROW: "rim",
    Family.RIBBED: "effective",
    Family.SYNCHRONOUS: "pitch",
}
_SIZES = {
    "rim": ("outside diameter", "effective length"),
    "effective": ("effective diameter", "effective length"),
    "pitch": ("pitch diameter", "pitch length"),
}


# What else such a field is called.
_ALSO = (
    _("motor pulley, outside diameter"), _("driven pulley, outside diameter"),
    _("motor pulley, effective diameter"), _("driven pulley, effective diameter"),
    _("motor pulley, pitch diameter"), _("driven pulley, pitch diameter"),
    _("effective length of the belt"), _("pitch length of the belt"),
)  # fmt: skip
# What every field is called on screen and paper, where it is looked up.
LABELS: dict[str, str] = {
    "driver": _("motor pulley, datum diameter"),
    "driven": _("driven pulley, datum diameter"),
    "driver_angle": _("groove angle, motor pulley"),
    "driven_angle": _("groove angle, driven pulley"),
    "driver_depth": _("groove depth below the datum line, motor pulley"),
    "driven_depth": _("groove depth below the datum line, driven pulley"),
    "groove_system": _("groove standard"),
    "section": _("belt section"),
    "length": _("datum length of the belt"),
    "length_system": _("length system"),
    "belts": _("number of belts"),
    "width_new": _("top width when new"),
    "width_now": _("top width now"),
    "driver_ride": _("belt above the rim now, motor pulley"),
    "driven_ride": _("belt above the rim now, driven pulley"),
    "driver_ride_new": _("belt above the rim when new, motor pulley"),
    "driven_ride_new": _("belt above the rim when new, driven pulley"),
    "centres": _("centre distance now"),
    "slot_in": _("slot: room inwards from here"),
    "slot_out": _("slot: room left outwards from here"),
    "slot_out_new": _("slot: room left outwards when the belt was new"),
    "width_placed": _("top width when the slot was read"),
    "belt_tight": _("belt tight as it stands"),
    "driver_shines": _("floor of the groove shines, motor pulley"),
    "driven_shines": _("floor of the groove shines, driven pulley"),
    "motor_power": _("motor power"),
    "motor_speed": _("motor speed"),
    "load": _("load"),
    "hard_start": _("high starting torque"),
    "hours_a_day": _("hours a day"),
    "idler": _("idler"),
    "friction": _("friction of belt on flank"),
    "power_method": _("rating method"),
    "tension_method": _("tension method"),
    "force_form": _("force formula"),
    "stage": _("stage of the belt"),
    "reading_force": _("force read at mid-span"),
    "reading_depth": _("depth pressed"),
    "reading_frequency": _("frequency of the plucked span"),
    "gears": _("gear teeth, in and out"),
    "slip": _("slip"),
    "driven_speed": _("driven speed as counted"),
}


@dataclass(frozen=True, slots=True)
class Used:
    """One figure that the sums started from, given or assumed.

    field, label: which; value, u: [SI unit ``unit``] figure and standard uncertainty; mark:
    "measured", "plate" or "guess"; typed: as typed, empty when assumed; note: source of what
    was assumed; trust: of that source.
    """

    field: str
    label: str
    value: float
    u: float
    unit: str
    mark: str
    typed: str = ""
    note: str = ""
    trust: str = ""


@dataclass(frozen=True, slots=True)
class Missing:
    """A figure nobody gave. field, label: which; settles: what it would settle; instead: what the
    sums took in its place, empty when a part was left out for want of it."""

    field: str
    label: str
    settles: str
    instead: str = ""


@dataclass(frozen=True, slots=True)
class Geometry:
    """The drive with a new belt and as it stands worn. None: a figure for it is missing.

    centres [m] as the belt's length asks for them; span [m]; wraps [rad]; speed [m/s] of the belt;
    passes [1/s]; length_for_centres [m] datum length that is tight at the centre distance now.
    """

    small_is_driver: bool
    ratio_new: float  # driven / driver
    ratio_now: float | None
    centres_new: Doubtful | None
    centres_needed: Doubtful | None
    length_for_centres: Doubtful | None
    span_new: float | None
    span_now: float | None
    wrap_driver_new: float | None
    wrap_driven_new: float | None
    wrap_driver_now: float | None
    wrap_driven_now: float | None
    speed_new: float | None
    speed_now: float | None
    passes_new: float | None


@dataclass(frozen=True, slots=True)
class Seat:
    """The belt in one groove. Lengths [m], angle [rad].

    drop_free: what the width alone gives; drop: as it sits, on flanks or floor, or as measured;
    room: under the belt by the width (measured ride: as measured); ride, ride_new: top above the
    rim; odds_bottoms: that it stands on the floor; diameter_now: that the cord runs on;
    measured: the ride was measured and outranks the model; depth_guessed, and then
    deeper_depth, deeper_room, deeper_bottoms: the same in the deepest standard groove;
    width_bottoms: [m] width at which it reaches the floor, None past a quarter of the width, where
    the sums no longer hold. shines: whether the floor was seen to shine, None: not looked at.
    """

    name: str
    angle: float
    depth: float
    depth_guessed: bool
    drop_free: Doubtful | None
    drop: Doubtful
    room: Doubtful
    bottoms: bool
    near: bool
    odds_bottoms: float
    ride: Doubtful
    ride_new: Doubtful
    above_datum: float
    diameter_new: float
    diameter_now: float
    measured: bool
    ride_new_measured: bool
    width_bottoms: float | None
    deeper_depth: float | None = None
    deeper_room: Doubtful | None = None
    deeper_bottoms: bool | None = None
    deeper_system: str = ""
    groove_worn: wear.GrooveWear | None = None
    shines: bool | None = None


@dataclass(frozen=True, slots=True)
class TakeUp:
    """The slot and what the worn belt takes of it, all [m].

    low, high: centre distance at the ends; travel: what a new belt has when just tensioned;
    used: extra centre distance, by the wear; used_read: by the slot itself, read when the belt was
    new and now; since: used by the wear since the slot was read, with the belt tight there; left:
    below 0, past the end; ended: no slot is left by the best figure,
    odds_ended: how sure that is; to_tight: how much further out the motor has to go for a tight
    belt; agrees: with the slot as read, None when that cannot be told.
    """

    low: float | None
    high: float
    travel: Doubtful
    used: Doubtful
    left: Doubtful
    to_tight: Doubtful | None
    ended: bool
    odds_ended: float
    agrees: bool | None
    travel_from_geometry: bool
    words: str
    used_read: Doubtful | None = None
    since: Doubtful | None = None


@dataclass(frozen=True, slots=True)
class WearPart:
    """The worn belt. Lengths [m].

    loss, share: width lost, and as a share of the new width; shown: more than its error;
    extra_free: centre distance that the flanks alone ask for, extra: as it really sits (floor or
    measured ride); per_width: centre distance for each unit of width. driven_slower: share by
    which the driven shaft turns slower, before slip. width_bottoms, width_ends_slot: widths at
    which the floor and the end of the slot are reached, None when not within a quarter of the
    width or not known; first: "slot", "floor", "" when neither comes or not known; first_words in
    words.
    deeper_extra: extra centre distance in the deepest standard groove where a depth is a guess.
    """

    width_new: Doubtful
    width_now: Doubtful | None
    loss: Doubtful | None
    share: float | None
    shown: bool
    driver: Seat
    driven: Seat
    extra_free: Doubtful | None
    extra: Doubtful | None
    deeper_extra: Doubtful | None
    per_width: float | None
    driven_slower: float
    width_bottoms: float | None
    width_ends_slot: float | None
    first: str
    first_words: str
    take_up: TakeUp | None


@dataclass(frozen=True, slots=True)
class Rating:
    """One published rating of one belt, with its own factors. Powers [W].

    basic: with its ratio part, at half a turn; arc_factor, length_factor: of the same method;
    each: what one belt may carry here; belts: needed for the design power. words: why there is
    none, when ``each`` is None; or what to take care of.
    """

    method: str
    source: str
    trust: str
    basic: float | None = None
    arc_factor: float | None = None
    length_factor: float | None = None
    each: float | None = None
    belts: int | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class PowerPart:
    """Design power [W] and what the published methods say one belt may carry.

    chosen: the method that counts here; belts_fitted, belts_needed (None: not sourced; see
    ``words``). Ratings are never mixed; they differ by up to a factor of two.
    """

    power: float
    service_factor: float
    service_source: str
    service_trust: str
    design_power: Doubtful
    ratings: tuple[Rating, ...]
    chosen: str
    belts_fitted: int
    belts_needed: int | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """What one belt is to be set to. Forces and tensions [N], lengths [m], frequencies [Hz].

    required_rma, required_theory: static tension by both published coefficients; required: by the
    chosen one. low, high, over: the band of the stage. force_...: at mid-span for the band, None
    where no stiffness is held; hub_load: on each shaft, all belts, at ``high``; span, wrap, speed:
    what it rests on; pull: effective pull [N] of one belt at the design power.
    """

    stage: str
    required_rma: float
    required_theory: float
    required: Doubtful
    method: str
    low: float
    high: float
    over: float
    span: float
    deflection: float
    force_low: float | None
    force_high: float | None
    frequency_low: float
    frequency_high: float
    hub_load: float
    wrap: float
    speed: float
    arc_factor: float
    pull: float
    stiffness: float | None
    mass: float
    length: float
    design_power: float
    belts: int
    force_form: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A tension reading against the band. tension [N] one belt; verdict: "under", "within",
    "high" or "over", empty when no band is known; under, over: odds; sure: at least 19 in 20;
    ratio: to the required. span, length [m], mass [kg/m], stiffness [N]: what it was read by."""

    kind: str
    tension: Doubtful
    verdict: str
    under: float
    over: float
    sure: bool
    ratio: float
    span: float
    length: float
    mass: float
    stiffness: float | None
    words: str


@dataclass(frozen=True, slots=True)
class TensionPart:
    """Tension. this_belt: its setting, None when tensioning again is not to be offered;
    new_belt: the first setting of a new one; offered: whether the slot and the belt allow it;
    slip_new, slip_now: margins at the required tension (now: at the reading where there is one);
    reading: judged against the band of the stage given, of this belt as it stands, even when
    tensioning again is not offered."""

    this_belt: Setting | None
    new_belt: Setting
    offered: bool
    slip_new: tension.SlipMargin | None
    slip_now: tension.SlipMargin | None
    friction: float
    groove_angle: float | None
    on_floor: bool
    reading: Reading | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrivenPart:
    """The driven side. Speeds [rad/s] with the slip taken off, torque [N m], heat [W].

    output_...: after the gears. slip_measured: from the counted speed, None when not counted.
    """

    slip: float
    driven_new: float
    driven_now: float | None
    output_new: float
    output_now: float | None
    output_torque: float | None
    slip_heat: float | None
    slip_measured: float | None
    words: str


@dataclass(frozen=True, slots=True)
class DriveWorkout:
    """Everything the sums can say of one drive; a part is None when figures for it are missing.

    unjudged: a tension that was read where motor power or speed is missing to judge it by.
    """

    given: DriveGiven
    sums_version: str
    used: tuple[Used, ...]
    geometry: Geometry | None
    wear: WearPart | None
    power: PowerPart | None
    tension: TensionPart | None
    driven: DrivenPart | None
    missing: tuple[Missing, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    verdict: Verdict
    verdict_words: tuple[str, ...]
    lines: tuple[FormulaLine, ...]
    unjudged: Reading | None = None
