"""The driven side against hand sums, the uncertainties library and mechanics."""

from math import inf, nan, pi

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from uncertainties import ufloat

from plant.drives import driven
from plant.drives.doubt import Doubtful
from plant.drives.driven import SlipVerdict
from plant.drives.errors import OutOfRange
from plant.drives.facts import Trust

RPM = pi / 30


def test_drum_speed_by_hand() -> None:
    # 1400 x 75/150 x 0.99 x 15/60 x 12/84 = 24.75 rpm (invented machine).
    found = driven.drum_speed(
        motor_speed=1400 * RPM, driving=0.075, driven=0.150, slip=0.01, stages=[(15, 60), (12, 84)]
    )

    assert found / RPM == pytest.approx(1400 / 2 * 0.99 / 4 / 7)
    low, high = driven.MIXER_DRUM_SPEED
    assert low.value <= found <= high.value


def test_slip_is_what_the_driven_speed_lacks() -> None:
    speed = driven.driven_speed(speed=1400 * RPM, driving=0.075, driven=0.150, slip=0.03)

    assert speed / RPM == pytest.approx(679)
    found = driven.slip(driving_speed=1400 * RPM, driven_speed=speed, driving=0.075, driven=0.150)
    assert found == pytest.approx(0.03)


@given(st.floats(0, 0.9), st.floats(0.05, 0.3), st.floats(0.05, 0.5), st.floats(10, 400))
def test_slip_and_speed_are_each_others_inverse(
    lost: float, driving: float, driven_d: float, speed: float
) -> None:
    assume(speed * driving / driven_d * (1 - lost) <= 2000)  # the stated range of a shaft's speed
    after = driven.driven_speed(speed=speed, driving=driving, driven=driven_d, slip=lost)

    assert driven.slip(
        driving_speed=speed, driven_speed=after, driving=driving, driven=driven_d
    ) == pytest.approx(lost, abs=1e-12)


def measured(*, driven_rpm: float, u_rpm: float = 0.5, u_diameter: float = 0.0003) -> driven.Slip:
    return driven.slip_from_speeds(
        driving_speed=Doubtful(1400 * RPM, 0.8 * RPM),
        driven_speed=Doubtful(driven_rpm * RPM, u_rpm * RPM),
        driving=Doubtful(0.075, u_diameter),
        driven=Doubtful(0.150, u_diameter),
    )


def test_doubt_of_slip_agrees_with_the_uncertainties_library() -> None:
    found = measured(driven_rpm=680)

    other = 1 - ufloat(680, 0.5) * ufloat(0.150, 0.0003) / (
        ufloat(1400, 0.8) * ufloat(0.075, 0.0003)
    )
    assert found.slip.value == pytest.approx(other.nominal_value)
    assert found.slip.u == pytest.approx(other.std_dev)


def test_a_shaft_that_stands_still_slips_wholly() -> None:
    found = measured(driven_rpm=0.0)

    assert found.slip.value == 1
    assert found.slip.u > 0
    assert found.verdict is SlipVerdict.INVESTIGATE


@pytest.mark.parametrize(
    ("rpm", "verdict", "said"),
    [
        (692, SlipVerdict.HEALTHY, "usual for a V-belt"),
        (687, SlipVerdict.WATCH, "a little high"),
        (685.5, SlipVerdict.WATCH, "over 2 %"),
        (660, SlipVerdict.INVESTIGATE, "over 2 %"),
        (707, SlipVerdict.DOUBTFUL, "less than none"),
    ],
)
def test_slip_in_words(rpm: float, verdict: SlipVerdict, said: str) -> None:
    found = measured(driven_rpm=rpm, u_diameter=0.0)

    assert found.verdict is verdict
    assert said in found.words
    assert "±" in found.words


def test_a_slip_lost_in_its_error_is_not_judged() -> None:
    found = measured(driven_rpm=680, u_rpm=15)

    assert found.verdict is SlipVerdict.DOUBTFUL
    assert "Count for longer" in found.words


def test_slip_without_opening_the_guard() -> None:
    # 24 turns of the drum in 60 s, plate speed of the motor, gears 1:4 and 1:7.
    drum = driven.speed_from_turns(turns=Doubtful(24, 0.2), time=Doubtful(60, 0.16))

    found = driven.slip_from_drum(
        drum_speed=drum,
        motor_speed=Doubtful(1400 * RPM, 8 * RPM),
        driving=Doubtful(0.075, 0.0003),
        driven=Doubtful(0.150, 0.0003),
        stages=[(15, 60), (12, 84)],
    )

    other = 1 - (ufloat(24, 0.2) / ufloat(60, 0.16) * 60 * 28 * ufloat(0.150, 0.0003)) / (
        ufloat(1400, 8) * ufloat(0.075, 0.0003)
    )
    assert found.slip.value == pytest.approx(other.nominal_value)
    assert found.slip.u == pytest.approx(other.std_dev)
    assert found.slip.value == pytest.approx(0.04)


def test_counted_turns() -> None:
    found = driven.speed_from_turns(turns=Doubtful(25, 0.2), time=Doubtful(60, 0.16))

    assert found.value / RPM == pytest.approx(25)
    other = ufloat(25, 0.2) / ufloat(60, 0.16)
    assert found.u / found.value == pytest.approx(other.std_dev / other.nominal_value)
    for turns, time in ((0, 60), (25, 0.5), (nan, 60)):
        with pytest.raises(OutOfRange):
            driven.speed_from_turns(turns=Doubtful(turns, 0), time=Doubtful(time, 0))


def test_pulleys_that_are_mixed_up_are_questioned() -> None:
    with pytest.raises(OutOfRange, match="check the diameters"):
        driven.slip(driving_speed=700 * RPM, driven_speed=1400 * RPM, driving=0.075, driven=0.150)
    with pytest.raises(OutOfRange):
        driven.slip(driving_speed=0.0, driven_speed=1.0, driving=0.075, driven=0.150)


def test_torque_in_the_printed_units() -> None:
    # T = 9549 P/n in N m, kW and rpm.
    assert driven.torque(power=750, speed=1400 * RPM) == pytest.approx(9549 * 0.75 / 1400, rel=1e-4)


def test_power_is_kept_through_a_stage_but_for_its_losses() -> None:
    motor = driven.torque(power=750, speed=1400 * RPM)
    ratio = driven.ratio(driving=0.075, driven=0.150)

    behind = driven.driven_torque(torque=motor, ratio=ratio, efficiency=0.95)

    assert behind * 1400 * RPM / ratio == pytest.approx(750 * 0.95)


def test_gear_train() -> None:
    stages = [driven.GearStage(15, 60), driven.GearStage(12, 84, 0.93)]

    assert driven.gear_ratio(stages) == 28
    assert driven.gear_ratio([]) == 1
    for bad in (
        [driven.GearStage(4, 60)], [driven.GearStage(15, 501)], [driven.GearStage(15, 60, 1.1)],
    ):  # fmt: skip
        with pytest.raises(OutOfRange, match="accepted"):
            driven.gear_ratio(bad)
    with pytest.raises(OutOfRange, match="3 wheels"):
        driven.drum_speed(motor_speed=100, driving=0.1, driven=0.2, slip=0, stages=[(15, 60, 12)])


def test_slip_heat_is_the_difference_of_the_powers() -> None:
    pull, speed, lost = 120.0, 5.5, 0.04

    assert driven.slip_heat(power=pull * speed, slip=lost) == pytest.approx(
        pull * speed - pull * speed * (1 - lost)
    )
    assert driven.slip_heat(power=750, slip=1.0) == 750
    assert driven.slip_heat(power=750, slip=0.0) == 0


def test_overhung_moment() -> None:
    assert driven.overhung_moment(load=140, overhang=0.05) == pytest.approx(7)
    with pytest.raises(OutOfRange):
        driven.overhung_moment(load=140, overhang=-0.05)


@pytest.mark.parametrize(
    "bad", [{"speed": -1.0}, {"driving": 0.0}, {"driven": nan}, {"slip": 1.1}, {"slip": -0.1}]
)
def test_driven_speed_outside_its_range_is_refused(bad: dict[str, float]) -> None:
    good = {"speed": 146.0, "driving": 0.075, "driven": 0.150, "slip": 0.01}
    with pytest.raises(OutOfRange, match="accepted"):
        driven.driven_speed(**{**good, **bad})


def test_usual_figures_are_marked_as_practice() -> None:
    assert all(motor.trust is Trust.PRACTICE for motor in driven.USUAL_MOTORS)
    for low, high in (driven.HEALTHY_SLIP, driven.BELT_EFFICIENCY, driven.RING_EFFICIENCY):
        assert low.value < high.value
        assert low.trust is Trust.PRACTICE


def test_usual_motors_run_just_below_the_speed_of_their_field() -> None:
    # 50 Hz: 3000 rpm with 2 poles, 1500 with 4; a motor falls 3 to 8 % short at full load.
    for motor in driven.USUAL_MOTORS:
        if "engine" in motor.kind:
            assert [round(speed / RPM) for speed in motor.speeds] == [3000, 3600]
            continue
        for speed in motor.speeds:
            field = 3000 if speed / RPM > 2000 else 1500
            assert 0.92 <= speed / RPM / field <= 0.97


@pytest.mark.parametrize(
    ("turns", "time"),
    [((30, nan), (60, 0.2)), ((30, 0.2), (60, inf)), ((30, -0.1), (60, 0.2)), ((30, 31), (60, 1))],
)
def test_a_count_with_no_honest_doubt_is_refused(
    turns: tuple[float, float], time: tuple[float, float]
) -> None:
    with pytest.raises(OutOfRange, match="accepted"):
        driven.speed_from_turns(turns=Doubtful(*turns), time=Doubtful(*time))
