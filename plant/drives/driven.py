"""The driven side: ratio, slip, torque, gear stages, drum speed, and the heat that slip makes."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, pi, prod
from typing import NamedTuple

from plant.drives.doubt import Doubtful, probability_above
from plant.drives.errors import OutOfRange, finite
from plant.drives.facts import Fact, Trust
from plant.translate import gettext as _

HEALTHY_SLIP = (
    Fact(0.005, "slip of a healthy V-belt, low end", Trust.PRACTICE),
    Fact(0.015, "slip of a healthy V-belt, high end", Trust.PRACTICE),
)
INVESTIGATE_SLIP = Fact(0.02, "slip above which a V-belt is looked at", Trust.PRACTICE)
BELT_EFFICIENCY = (
    Fact(0.93, "efficiency of a V-belt, low end", Trust.PRACTICE),
    Fact(0.96, "efficiency of a V-belt, high end", Trust.PRACTICE),
)
RING_EFFICIENCY = (
    Fact(0.92, "efficiency of an open cast ring gear, low end", Trust.PRACTICE),
    Fact(0.95, "efficiency of an open cast ring gear, high end", Trust.PRACTICE),
)
# Usual speed of a mixer drum [rad/s], 20 to 30 rpm.
MIXER_DRUM_SPEED = (
    Fact(20 * pi / 30, "usual mixer drum, low end", Trust.PRACTICE),
    Fact(30 * pi / 30, "usual mixer drum, high end", Trust.PRACTICE),
)


def _diameter(name: str, value: float) -> float:
    return finite(name, value, low=5e-3, high=5, unit="m")


def _speed(name: str, value: float) -> float:
    return finite(name, value, low=0, high=2000, unit="rad/s")


def ratio(*, driving: float, driven: float) -> float:
    """Speed ratio of a belt drive without slip.

    Args:
        driving: [m] diameter of the cord line on the driving pulley.
        driven: [m] diameter of the cord line on the driven pulley.

    Returns:
        [-] turns of the driving shaft for one of the driven; below 1 speeds up.

    Raises:
        OutOfRange: a diameter is not within 5 mm to 5 m.

    Source:
        Equal belt speed on both pulleys; datum diameters as in ISO 4183 (from memory).
    """
    return _diameter("driven pulley", driven) / _diameter("driving pulley", driving)


def driven_speed(*, speed: float, driving: float, driven: float, slip: float = 0.0) -> float:
    """Speed of the driven shaft.

    Args:
        speed: [rad/s] speed of the driving shaft.
        driving: [m] diameter of the cord line on the driving pulley.
        driven: [m] diameter of the cord line on the driven pulley.
        slip: [-] share of speed lost to slip, 0 to 1.

    Returns:
        [rad/s] speed of the driven shaft.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        n2 = n1 d1/d2 (1 - s); ISO 4183 diameters (from memory), slip common practice, no source.
    """
    finite("slip", slip, low=0, high=1, unit="")
    return _speed("driving speed", speed) / ratio(driving=driving, driven=driven) * (1 - slip)


class SlipVerdict(StrEnum):
    """What a measured slip means."""

    HEALTHY = "healthy"
    WATCH = "watch"
    INVESTIGATE = "investigate"
    DOUBTFUL = "measure again"


@dataclass(frozen=True, slots=True)
class Slip:
    """Slip of a belt with its doubt."""

    slip: Doubtful  # [-]
    verdict: SlipVerdict
    odds_investigate: float  # [-] odds that the slip exceeds 2 %
    words: str


def slip(*, driving_speed: float, driven_speed: float, driving: float, driven: float) -> float:
    """Slip from the speeds of both shafts.

    Args:
        driving_speed: [rad/s] speed of the driving shaft.
        driven_speed: [rad/s] speed of the driven shaft.
        driving: [m] diameter of the cord line on the driving pulley.
        driven: [m] diameter of the cord line on the driven pulley.

    Returns:
        [-] share of speed lost; a little below 0 is error of measurement.

    Raises:
        OutOfRange: a figure is outside its range, the driving shaft stands still, or the
            driven shaft is more than a tenth faster than the pulleys allow.

    Source:
        s = 1 - n2 d2 / (n1 d1); common practice, no source.
    """
    finite("driving speed", driving_speed, low=0.1, high=2000, unit="rad/s")
    _speed("driven speed", driven_speed)
    lost = 1 - driven_speed / driving_speed * ratio(driving=driving, driven=driven)
    if lost < -0.1:
        raise OutOfRange(
            _(
                "the driven shaft turns {share} % faster than the pulleys allow: "
                "check the diameters and which speed is which; accepted: slip of "
                "-10 % to 100 %"
            ).format(share=f"{-lost * 100:.0f}")
        )
    return lost


def slip_from_speeds(
    *, driving_speed: Doubtful, driven_speed: Doubtful, driving: Doubtful, driven: Doubtful
) -> Slip:
    """Slip with its doubt, from a tachometer on both shafts.

    Args:
        driving_speed, driven_speed: [rad/s] speeds with their standard uncertainties.
        driving, driven: [m] diameters of the cord line with theirs. Worn diameters for a worn
            belt: the datum diameters of new pulleys show slip that is not there.

    Returns:
        [-] slip, its doubt, a verdict and words.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        s = 1 - n2 d2 / (n1 d1), doubts to the first order (JCGM 100:2008, 5.1.2). Limits:
        common practice, no source (0.5 to 1.5 % healthy, over 2 % looked at).
    """
    value = slip(
        driving_speed=driving_speed.value,
        driven_speed=driven_speed.value,
        driving=driving.value,
        driven=driven.value,
    )
    # By the speed of each shaft and each pulley: n2 d2/(n1 d1) moves by its own share. The driven
    # speed's part is written out, so that it holds for a shaft at rest too.
    kept = 1 - value
    u = hypot(
        kept * driving_speed.u / driving_speed.value,
        kept * driving.u / driving.value,
        kept * driven.u / driven.value,
        driven_speed.u / driving_speed.value * driven.value / driving.value,
    )
    return _judged(Doubtful(value, u))


def _judged(found: Doubtful) -> Slip:
    odds = probability_above(limit=INVESTIGATE_SLIP.value, mean=found.value, u=found.u)
    percent, error = found.value * 100, 200 * found.u
    figure = _("Slip {percent} % (± {error} %)").format(
        percent=f"{percent:.1f}", error=f"{error:.1f}"
    )
    if found.u > INVESTIGATE_SLIP.value / 2 and abs(found.value) < 2 * found.u + 0.02:
        return Slip(
            found, SlipVerdict.DOUBTFUL, odds,
            _("{figure}: the error is too large to tell. Count for longer, or "
"use a tachometer.").format(figure=figure),
        )  # fmt: skip
    if found.value > INVESTIGATE_SLIP.value:
        verdict = SlipVerdict.INVESTIGATE if odds >= 0.95 else SlipVerdict.WATCH
        words = _(
            "{figure}: over 2 %, look at tension, wear and oil (common practice, no source)."
        ).format(figure=figure)
    elif found.value > HEALTHY_SLIP[1].value:
        verdict = SlipVerdict.WATCH
        words = _(
            "{figure}: a little high; 0.5 to 1.5 % is usual (common practice, no source)."
        ).format(figure=figure)
    elif found.value < -2 * found.u:
        verdict = SlipVerdict.DOUBTFUL
        words = _("{figure}: less than none. Check diameters and speeds.").format(figure=figure)
    else:
        verdict = SlipVerdict.HEALTHY
        words = _("{figure}: usual for a V-belt (common practice, no source).").format(
            figure=figure
        )
    return Slip(found, verdict, odds, words)


def speed_from_turns(*, turns: Doubtful, time: Doubtful) -> Doubtful:
    """Speed from counted turns and a watch.

    Args:
        turns: [-] turns counted, with their standard uncertainty.
        time: [s] time taken, with its standard uncertainty.

    Returns:
        [rad/s] speed with its doubt.

    Raises:
        OutOfRange: fewer than 1 or more than 100 000 turns, a time outside 1 to 3600 s, or a
            doubt below 0 or larger than the figure itself.

    Source:
        Definition of speed; doubts to the first order (JCGM 100:2008, 5.1.2).
    """
    finite("turns", turns.value, low=1, high=1e5, unit="turns")
    finite("time", time.value, low=1, high=3600, unit="s")
    finite("doubt of the turns", turns.u, low=0, high=turns.value, unit="turns")
    finite("doubt of the time", time.u, low=0, high=time.value, unit="s")
    value = 2 * pi * turns.value / time.value
    return Doubtful(value, value * hypot(turns.u / turns.value, time.u / time.value))


class GearStage(NamedTuple):
    """One pair of gears: teeth of the driving and of the driven wheel."""

    driving: int
    driven: int
    efficiency: float = 1.0


def gear_ratio(stages: Sequence[GearStage]) -> float:
    """Ratio of a train of gear stages.

    Args:
        stages: [-] pairs of gears in order; none gives 1.

    Returns:
        [-] turns of the first shaft for one of the last.

    Raises:
        OutOfRange: a wheel has fewer than 5 or more than 500 teeth, or an efficiency is not
            within 0.5 to 1.

    Source:
        Product of the tooth ratios.
    """
    for stage in stages:
        finite("teeth of the driving wheel", stage.driving, low=5, high=500, unit="teeth")
        finite("teeth of the driven wheel", stage.driven, low=5, high=500, unit="teeth")
        finite("efficiency of the gears", stage.efficiency, low=0.5, high=1, unit="")
    return prod(stage.driven / stage.driving for stage in stages)


def drum_speed(
    *,
    motor_speed: float,
    driving: float,
    driven: float,
    slip: float,
    stages: Sequence[Sequence[int]],
) -> float:
    """Speed of a drum behind a belt and gears.

    Args:
        motor_speed: [rad/s] speed of the motor.
        driving, driven: [m] diameters of the cord line on both pulleys.
        slip: [-] share of speed lost in the belt, 0 to 1.
        stages: [-] teeth of each pair of gears, driving wheel first.

    Returns:
        [rad/s] speed of the drum.

    Raises:
        OutOfRange: a figure is outside its range, or a stage is not a pair.

    Source:
        Product of ratios. Example: worked_examples/drum_speed.toml.
    """
    shaft = driven_speed(speed=motor_speed, driving=driving, driven=driven, slip=slip)
    return shaft / gear_ratio(_pairs(stages))


def _pairs(stages: Sequence[Sequence[int]]) -> list[GearStage]:
    for stage in stages:
        if len(stage) != 2:
            raise OutOfRange(
                _("a gear stage has {count} wheels; accepted: 2").format(count=len(stage))
            )
    return [GearStage(stage[0], stage[1]) for stage in stages]


def slip_from_drum(
    *,
    drum_speed: Doubtful,
    motor_speed: Doubtful,
    driving: Doubtful,
    driven: Doubtful,
    stages: Sequence[Sequence[int]],
) -> Slip:
    """Slip without opening the guard: from counted drum turns and the motor's plate speed.

    Args:
        drum_speed: [rad/s] speed of the drum, loaded, with its doubt.
        motor_speed: [rad/s] speed of the motor, with its doubt; the plate gives full load.
        driving, driven: [m] diameters of the cord line, with their doubts.
        stages: [-] teeth of each pair of gears, driving wheel first.

    Returns:
        [-] slip, its doubt, a verdict and words.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Product of ratios, doubts to the first order (JCGM 100:2008, 5.1.2). A motor that is
        not fully loaded runs above its plate speed and hides slip.
    """
    gears = gear_ratio(_pairs(stages))
    return slip_from_speeds(
        driving_speed=motor_speed,
        driven_speed=Doubtful(drum_speed.value * gears, drum_speed.u * gears),
        driving=driving,
        driven=driven,
    )


def torque(*, power: float, speed: float) -> float:
    """Torque on a shaft.

    Args:
        power: [W] power carried.
        speed: [rad/s] speed of the shaft.

    Returns:
        [N m] torque.

    Raises:
        OutOfRange: the power is not within 0 to 1 MW, or the speed not within 0.01 to 2000
            rad/s.

    Source:
        Mechanics: power = torque times speed (9549 kW/rpm in N m).
    """
    finite("power", power, low=0, high=1e6, unit="W")
    return power / finite("speed", speed, low=0.01, high=2000, unit="rad/s")


def driven_torque(*, torque: float, ratio: float, efficiency: float) -> float:
    """Torque behind a belt or a gear stage.

    Args:
        torque: [N m] torque on the driving shaft.
        ratio: [-] speed ratio of the stage.
        efficiency: [-] 0.5 to 1; usual figures in ``BELT_EFFICIENCY`` and ``RING_EFFICIENCY``.

    Returns:
        [N m] torque on the driven shaft.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Mechanics; efficiencies common practice, no source.
    """
    finite("torque", torque, low=0, high=1e6, unit="N m")
    finite("ratio", ratio, low=0.02, high=200, unit="")
    return torque * ratio * finite("efficiency", efficiency, low=0.5, high=1, unit="")


def slip_heat(*, power: float, slip: float) -> float:
    """Heat that a slipping belt makes in its grooves.

    Args:
        power: [W] power on the driving pulley.
        slip: [-] share of speed lost, 0 to 1.

    Returns:
        [W] heat; all of the power when the driven shaft stands still.

    Raises:
        OutOfRange: the power is not within 0 to 1 MW or the slip not within 0 to 1.

    Source:
        Mechanics: pull times the difference of the rim speeds.
    """
    finite("power", power, low=0, high=1e6, unit="W")
    return power * finite("slip", slip, low=0, high=1, unit="")


def overhung_moment(*, load: float, overhang: float) -> float:
    """Bending moment of the belt's pull on the nearest bearing.

    Args:
        load: [N] hub load.
        overhang: [m] distance from the middle of the belts to the bearing.

    Returns:
        [N m] moment.

    Raises:
        OutOfRange: the load is not within 0 to 100 kN or the overhang not within 0 to 1 m.

    Source:
        Mechanics: force times lever.
    """
    finite("hub load", load, low=0, high=1e5, unit="N")
    return load * finite("overhang", overhang, low=0, high=1, unit="m")


@dataclass(frozen=True, slots=True)
class UsualMotor:
    """A kind of motor found on small plant, for a field's hint; the plate goes before it."""

    kind: str
    speeds: tuple[float, ...]  # [rad/s] usual full-load speeds, or the ends of a range
    powers: tuple[float, float]  # [W] usual range
    trust: Trust
    note: str = ""


USUAL_MOTORS: tuple[UsualMotor, ...] = (
    UsualMotor(
        "single phase, 230 V, 50 Hz, 2 pole", (2800 * pi / 30,), (250, 750), Trust.PRACTICE
    ),
    UsualMotor(
        "single phase, 230 V, 50 Hz, 4 pole", (1400 * pi / 30,), (250, 750), Trust.PRACTICE
    ),
    UsualMotor(
        "110 V centre-tapped site supply", (1400 * pi / 30, 2800 * pi / 30), (370, 750),
        Trust.PRACTICE, "16 A at 110 V limits the input to about 1.7 kVA",
    ),
    UsualMotor("three phase, 400 V, 4 pole", (1440 * pi / 30,), (550, 4000), Trust.PRACTICE),
    UsualMotor(
        "small petrol engine", (3000 * pi / 30, 3600 * pi / 30), (2000, 6000), Trust.PRACTICE,
        "a single cylinder counts as high torque",
    ),
)  # fmt: skip
