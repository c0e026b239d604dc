"""How fast the driven side turns."""

from math import sqrt

from plant.drives import driven
from plant.drives.doubt import Doubtful
from plant.drives.errors import OutOfRange
from plant.drives.facts import Fact, Trust
from plant.drives.outcome import DrivenPart, Geometry
from plant.drives.parts.known import Known, use
from plant.translate import gettext as _

# What stands in for a figure that nobody gave.
SLIP = Fact(0.01, "slip of a healthy V-belt, the middle of 0.5 to 1.5 %", Trust.PRACTICE)


def driven_part(drive: Known, shape: Geometry | None) -> DrivenPart | None:
    given = drive.given
    if shape is None or given.motor_speed is None or drive.driver is None or drive.driven is None:
        return None
    d1, d2 = drive.driver.diameter, drive.driven.diameter
    slip = SLIP.value if given.slip is None else given.slip
    use(drive, "slip", slip, 0.0, "", assumed=SLIP if given.slip is None else None)
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
    drive: Known, motor: float, counted: float, shape: Geometry
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
        drive.warnings.append(
            _("The counted speed is left out: {refused}.").format(refused=refused)
        )
        return None, ""
    return found.slip.value, found.words
