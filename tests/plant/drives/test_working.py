"""Every printed line is worked out again from its own print, as with a calculator."""

import math
import re
from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.drives.errors import DriveError
from plant.drives.forecast import wear_line
from plant.drives.formula import FormulaLine
from plant.drives.life import Limits
from plant.drives.pulleys import alignment
from plant.drives.working import alignment_lines, forecast_lines
from plant.drives.workout import DriveGiven, work_out

MIXER = DriveGiven(
    driver=0.080,
    driven=0.180,
    section="A",
    length=0.690,
    width_now=0.0104,
    width_now_u=0.0001,
    centres=0.13114,
    slot_in=0.012,
    slot_out=0.010,
    motor_power=550,
    motor_speed=1400 * pi / 30,
    load="heavy",
    hard_start=True,
    gears=((15, 60), (12, 84)),
)
RUN_IN = replace(
    MIXER, width_now=0.0127, width_new=0.0130, slot_out=0.014, reading_force=7.5, belt_tight=True
)
CASES = {
    "worn out": MIXER,
    "run in, force read": RUN_IN,
    "frequency read": replace(RUN_IN, reading_force=None, reading_frequency=120.0),
    "national force form": replace(RUN_IN, force_form="GB/T", tension_method="theory"),
    "pressed deeper": replace(RUN_IN, reading_depth=0.0023),
    "rides measured": replace(MIXER, driver_ride=-0.0012, driven_ride=-0.0010),
    "one ride measured": replace(MIXER, driver_ride=-0.0034, driver_ride_new=0.0006),
    "slot read when new": replace(RUN_IN, slot_out_new=0.0153, driver_ride=-0.0002),
    "worn since the slot was read": replace(RUN_IN, width_now=0.0121, width_placed=0.0125),
    "deep grooves": replace(MIXER, driver_depth=0.0112, driven_depth=0.0112),
    "speeding up": replace(MIXER, driver=0.180, driven=0.080),
    "equal pulleys": replace(MIXER, driver=0.125, driven=0.125),
    "inch C belts": DriveGiven(
        driver=0.230,
        driven=0.400,
        section="C",
        length=1.979,
        length_system="RMA",
        width_now=0.0218,
        centres=0.486,
        slot_out=0.03,
    ),
    # strand tensions that round to nothing at the usual decimals
    "next to no pull": replace(MIXER, motor_power=2, motor_speed=5, belts=50, width_now=0.0127),
    "inch narrow": DriveGiven(
        driver=0.090, driven=0.200, section="3V", length=0.900, motor_power=2200, motor_speed=150
    ),
    "two B belts": DriveGiven(
        driver=0.140,
        driven=0.355,
        section="B",
        length=1.490,
        belts=2,
        width_now=0.0164,
        width_new=0.0170,
        centres=0.341,
        slot_out=0.03,
        motor_power=5500,
        motor_speed=1440 * pi / 30,
    ),
}

_NAMES = {
    "sin": math.sin,
    "tan": math.tan,
    "asin": math.asin,
    "atan": math.atan,
    "sqrt": math.sqrt,
    "pi": math.pi,
    "e": math.e,
}


def calculator(text: str) -> float:
    """Value of a printed sum; asin and atan in radians, ° turns degrees into radians."""
    code = text.replace("×", "*").replace("−", "-").replace("π", "pi").replace("√", "sqrt")
    code = code.replace("²", "**2").replace("³", "**3").replace("^", "**")
    code = code.replace("°", f"*{math.pi / 180!r}")
    assert re.fullmatch(r"[\d.+\-*/() a-z]+", code), code
    return float(eval(code, {"__builtins__": {}}, _NAMES))


def figure(text: str) -> tuple[float, int]:
    """A printed figure and its decimals, the unit left off."""
    number = text.split(" ")[0].strip("()").replace("−", "-")
    return float(number), len(number.partition(".")[2])


def assert_calculator_agrees(line: FormulaLine) -> None:
    sum_, _, put_in = line.figures.partition(" = ")
    wanted, decimals = figure(put_in or line.result)
    got = calculator(sum_)
    # Half of the last printed step, with room for the last bits where the sum is a tie.
    assert abs(got - wanted) <= 0.5 * 10**-decimals * (1 + 1e-6), (line.name, line.figures, got)


@pytest.mark.parametrize("name", CASES)
def test_a_calculator_gives_the_last_printed_figure(name: str) -> None:
    lines = work_out(CASES[name]).lines

    assert len(lines) > 8
    for line in lines:
        assert_calculator_agrees(line)


@pytest.mark.parametrize("name", CASES)
def test_the_printed_result_is_the_unrounded_value_rounded(name: str) -> None:
    scales = {"mm": 1e3, "rpm": 30 / pi, "kW": 1e-3}
    for line in work_out(CASES[name]).lines:
        wanted, decimals = figure(line.result)
        shown = line.value * scales.get(line.unit, 1.0)
        assert abs(shown - wanted) <= 0.5000001 * 10**-decimals, line
        assert line.unit in line.result


@pytest.mark.parametrize("name", CASES)
def test_every_line_names_source_validity_and_trust(name: str) -> None:
    for line in work_out(CASES[name]).lines:
        assert line.source
        assert line.validity
        assert line.trust in (
            "seen", "seen, second hand", "from memory", "common practice, no source", "computed",
        )  # fmt: skip


def test_a_root_is_printed_with_the_length_that_it_gives() -> None:
    lines = {line.symbol: line for line in work_out(MIXER).lines}

    assert lines["C"].figures.endswith("= 690.0")
    assert "131.14" in lines["C"].figures
    assert lines["C"].result == "131.1 mm"
    assert lines["xf"].result == "13.4 mm"
    assert lines["x"].result == "12.9 mm"


def test_the_doubt_is_twice_the_uncertainty() -> None:
    lines = {line.symbol: line for line in work_out(MIXER).lines}

    # 13.0 +- 0.3/sqrt(3) (nominal) and 10.4 +- 0.1: u = 0.2, twice is 0.40.
    assert lines["Δw"].doubt == "± 0.40 mm"


def test_a_guessed_depth_is_marked_on_its_lines() -> None:
    lines = {line.symbol: line for line in work_out(MIXER).lines}
    measured = {line.symbol: line for line in work_out(CASES["deep grooves"]).lines}

    assert "guess" in lines["r1"].warning
    assert measured["r1"].warning == ""


@settings(max_examples=150, deadline=None)
@given(
    small=st.floats(0.070, 0.140),
    times=st.floats(1.0, 3.0),
    gap=st.floats(0.01, 0.3),
    loss=st.floats(0.0, 0.0032),
    angle=st.sampled_from([None, radians(32), radians(36)]),
    force=st.floats(6.0, 60.0),
    rpm=st.integers(900, 3000),
)
def test_any_drive_prints_lines_that_a_calculator_repeats(
    small: float,
    times: float,
    gap: float,
    loss: float,
    angle: float | None,
    force: float,
    rpm: int,
) -> None:
    large = small * times
    centres = (small + large) / 2 + gap
    length = 2 * centres + pi * (small + large) / 2 + (large - small) ** 2 / (4 * centres)
    drive = DriveGiven(
        driver=small,
        driven=large,
        driver_angle=angle,
        section="A",
        length=length,
        width_new=0.0130,
        width_now=0.0130 - loss,
        centres=centres,
        slot_out=0.02,
        motor_power=750,
        motor_speed=rpm * pi / 30,
        reading_force=force,
    )
    try:
        found = work_out(drive)
    except DriveError:
        return
    for line in found.lines:
        assert_calculator_agrees(line)


@pytest.mark.parametrize("name", CASES)
def test_no_input_is_printed_longer_than_a_calculator_takes(name: str) -> None:
    """Where the sum behind a line is not the printed one, decimals grow without end."""
    for line in work_out(CASES[name]).lines:
        longest = max((len(part) for part in re.findall(r"\.(\d+)", line.figures)), default=0)
        assert longest <= 6, (line.name, line.figures)


def test_lines_say_whose_tension_they_are() -> None:
    run_in = [line.name for line in work_out(RUN_IN).lines if line.symbol == "Ts"]
    worn_out = [line.name for line in work_out(MIXER).lines if line.symbol == "Ts"]

    assert all("this belt" in name for name in run_in)
    assert all("new belt" in name for name in worn_out)


def test_the_place_of_the_cord_carries_its_doubt() -> None:
    lines = {line.symbol: line for line in work_out(MIXER).lines}

    # Half a millimetre either way: twice 0.5/sqrt(3).
    assert lines["t"].doubt == lines["b"].doubt == "± 0.58 mm"


def doubts(drive: DriveGiven) -> list[str]:
    return [line.symbol for line in work_out(drive).lines if line.doubt]


# The lines of a worn drive in the order of the working, and those that carry a doubt.
WORN = (
    "i C Lc v B Δw t b y1 r1 e1 d1' y2 r2 e2 d2' C' x Cf xf i' v' wf1 wf2 s ws Pd P1 N P1 P1 P1 P1 "
    "P1 K Ts Ts Tl Th δ F f F f H R M n2 n3 n2 n3"
)
DOUBTED = "C Lc Δw t b y1 r1 e1 d1' y2 r2 e2 d2' x xf s Pd Ts"


def test_every_step_of_a_worn_drive_is_there_with_its_doubt() -> None:
    assert [line.symbol for line in work_out(MIXER).lines] == WORN.split()
    assert doubts(MIXER) == DOUBTED.split()
    # without the centre distance neither its length nor what is left of the slot can be told
    assert not {"Lc", "s"} & {line.symbol for line in work_out(replace(MIXER, centres=None)).lines}


def test_printed_doubts_are_twice_the_standard_one() -> None:
    found = work_out(MIXER)
    worn, shape, power = found.wear, found.geometry, found.power
    assert worn is not None
    assert worn.extra is not None
    assert worn.extra_free is not None
    assert worn.loss is not None
    assert worn.take_up is not None
    assert shape is not None
    assert shape.length_for_centres is not None
    assert power is not None
    held = {
        "Lc": (shape.length_for_centres.u * 1e3, 0),
        "Δw": (worn.loss.u * 1e3, 2),
        "y1": (worn.driver.drop_free.u * 1e3 if worn.driver.drop_free else 0, 2),
        "r2": (worn.driven.room.u * 1e3, 1),
        "d1'": (2 * worn.driver.drop.u * 1e3, 1),
        "x": (worn.extra.u * 1e3, 1),
        "xf": (worn.extra_free.u * 1e3, 1),
        "s": (worn.take_up.left.u * 1e3, 1),
        "Pd": (power.design_power.u * 1e-3, 3),
    }
    printed = {line.symbol: line.doubt.split()[1] for line in found.lines if line.doubt}
    for symbol, (u, decimals) in held.items():
        assert float(printed[symbol]) == pytest.approx(2 * u, abs=0.51 * 10.0**-decimals), symbol


def test_speeds_are_printed_as_a_tachometer_shows_them() -> None:
    shown = [line.result for line in work_out(MIXER).lines if line.symbol in ("n2", "n3")]

    assert [text.split()[1] for text in shown] == ["rpm"] * 4
    assert ["." in text for text in shown] == [False, True, False, True]
    # 1400 rpm over 180/80 less 1 % of slip; then over 4 x 7
    assert float(shown[0].split()[0]) == round(1400 * 80 / 180 * 0.99)
    assert float(shown[1].split()[0]) == pytest.approx(1400 * 80 / 180 * 0.99 / 28, abs=0.051)


def test_each_centre_distance_stands_on_its_own_diameters() -> None:
    found = work_out(MIXER)
    worn = found.wear
    assert worn is not None
    small, large = worn.driver, worn.driven
    assert small.drop_free is not None
    assert large.drop_free is not None
    lines = {line.symbol: line.figures for line in found.lines}
    for symbol, one, other in (
        ("C", 0.080, 0.180),
        ("C'", small.diameter_now, large.diameter_now),
        ("Cf", 0.080 - 2 * small.drop_free.value, 0.180 - 2 * large.drop_free.value),
    ):
        assert f"(({other * 1e3:.2f} − {one * 1e3:.2f}) / 2)" in lines[symbol], symbol


def test_a_calculator_repeats_an_alignment() -> None:
    found = alignment(near=0.4e-3, far=1.25e-3, across=0.0795, span=0.1193, u_gap=0.1e-3)

    lines = alignment_lines(found)

    assert [line.symbol for line in lines] == ["e", "φ", "θ", "ψ"]
    for line in lines:
        assert_calculator_agrees(line)


def test_the_hours_left_are_a_line_through_the_readings() -> None:
    """An independent line through the same readings, by numpy."""
    reads = [(20.0, 0.0131, 1e-4), (120.0, 0.0125, 1e-4), (220.0, 0.0121, 1e-4)]
    ends = Limits(slot=0.0109, u_slot=1e-4, bottom=0.0104, u_bottom=1e-4, depth_measured=True)
    slope, start = np.polyfit([hours for hours, _, _ in reads], [width for _, width, _ in reads], 1)
    now = start + slope * 240.0

    loss, width, slot, floor = forecast_lines(wear_line(reads), ends=ends, now=240.0)

    assert loss.value == pytest.approx(-slope)
    assert width.value == pytest.approx(now)
    for line, end in ((slot, ends.slot), (floor, ends.bottom)):
        assert line.value == pytest.approx((now - end) / -slope)
        assert calculator(line.figures) == pytest.approx(line.value, rel=0.01)


def test_no_hours_are_told_of_a_belt_that_shows_no_wear() -> None:
    flat = [(hours, 0.013, 5e-5) for hours in (20.0, 120.0, 220.0)]
    ends = Limits(slot=0.0109, u_slot=1e-4, bottom=0.0104, u_bottom=1e-4, depth_measured=True)

    assert forecast_lines(wear_line(flat), ends=ends, now=240.0) == ()
