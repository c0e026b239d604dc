"""How a work-out is told: units, doubts, marks, and pictures with the same figures."""

import re
from dataclasses import replace
from math import atan, pi, radians, tan
from xml.etree import ElementTree

import pytest
from scipy.optimize import brentq

from plant.contents.workout import belt_words, told
from plant.contents.workout_pictures import pictures
from plant.drives.outcome import DriveGiven, Verdict
from plant.drives.workout import work_out
from plant.length_words import length_text

# Belt examples V14 and V24: 80 and 180 mm pulleys, a 690 mm A belt worn from 13 to 10.4 mm.
WORN = DriveGiven(
    driver=0.080,
    driven=0.180,
    driver_angle=radians(34),
    driven_angle=radians(38),
    driver_depth=0.0087,
    driven_depth=0.0087,
    section="A",
    length=0.690,
    width_now=0.0104,
    width_now_u=0.0003,
    centres=0.1312,
    slot_in=0.006,
    slot_out=0.014,
    motor_power=550.0,
    motor_speed=1400 * pi / 30,
    load="heavy",
    gears=((12, 120),),
    marks={"driver": "plate", "driver_depth": "guess"},
    typed={"driver": "3.15 in", "driven": "180"},
)


def belt_length(centres: float, small: float, large: float) -> float:
    """Length of an open belt by tangents and arcs, another way round than the project's."""
    lean = atan((large - small) / 2 / (centres**2 - (large - small) ** 2 / 4) ** 0.5)
    straight = (centres**2 - (large - small) ** 2 / 4) ** 0.5
    length: float = 2 * straight + small / 2 * (pi - 2 * lean) + large / 2 * (pi + 2 * lean)
    return length


def centres_for(small: float, large: float) -> float:
    found: float = brentq(
        lambda centres: belt_length(centres, small, large) - 0.690, (small + large) / 2, 1.0
    )
    return found


def test_the_figures_are_those_of_the_worked_examples() -> None:
    said = told(work_out(WORN))
    shown = {each.key: each for each in said.results}

    drops = [0.0026 / (2 * tan(radians(angle) / 2)) for angle in (34, 38)]
    # The cord lies (Ld - Li) / 2 pi = 30 mm / 2 pi above the belt's floor (DIN 2215, section A).
    most = 0.0087 - 0.030 / (2 * pi)
    new = centres_for(0.080, 0.180)
    free = centres_for(0.080 - 2 * drops[0], 0.180 - 2 * drops[1]) - new
    held = centres_for(0.080 - 2 * min(drops[0], most), 0.180 - 2 * drops[1]) - new
    assert shown["driver_drop"].value == f"{drops[0] * 1e3:.2f} mm" == "4.25 mm"
    assert shown["driven_drop"].value == f"{drops[1] * 1e3:.2f} mm" == "3.78 mm"
    assert shown["extra"].value == f"{held * 1e3:.2f} mm" == "12.93 mm"
    assert shown["extra"].note.startswith(f"{free * 1e3:.2f} mm by the flanks alone")
    assert f"{free * 1e3:.2f}" == "13.35"
    assert shown["driver_drop"].note == f"held by the floor at {most * 1e3:.2f} mm"


def test_the_answer_and_what_to_do_come_in_words() -> None:
    said = told(work_out(WORN))

    assert (said.verdict, said.tone) == ("Change the belt now.", "stop")
    assert said.to_do[0].startswith("Fit a new belt: A, datum length 690 mm (ISO/DIN).")
    assert "It has lost 2.6 mm, 20 % of its width" in said.because[0]


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        (replace(WORN, width_now=0.0130), Verdict.FIT_ON),
        (replace(WORN, section=""), Verdict.AGAIN),
        (replace(WORN, width_now=0.0128, reading_force=3.0), Verdict.TIGHTEN),
        (replace(WORN, width_now=0.0140), Verdict.AGAIN),
        (replace(WORN, width_now=0.0120, centres=None, width_now_u=0.0001), Verdict.WATCH),
    ],
)
def test_every_verdict_says_what_to_do(given: DriveGiven, verdict: Verdict) -> None:
    found = work_out(given)
    said = told(found)

    assert found.verdict == verdict
    assert said.to_do
    assert said.verdict.endswith(".")
    assert said.verdict not in said.because


def test_figures_carry_unit_doubt_and_how_they_are_known() -> None:
    inputs = {each.field: each for each in told(work_out(WORN)).inputs}

    driver = inputs["driver"]
    assert (driver.value, driver.known, driver.symbol) == ("80.0 mm", "from plate", "d1")
    assert driver.note == "typed 3.15 in"
    # 0.25 mm rectangular from a plate, told as twice the standard uncertainty.
    assert driver.figure == "80.0 ± 0.3 mm"
    assert inputs["driven"].note == ""
    assert inputs["driver_depth"].known == "guess"
    assert inputs["driver_angle"].figure == "34.0 ± 1.2°"
    assert inputs["motor_power"].value == "0.55 kW"
    assert "no source" in inputs["width_new"].note


def test_guesses_and_gaps_are_named() -> None:
    said = told(work_out(WORN))

    assert "groove depth below the datum line, motor pulley" in said.guesses
    assert "motor pulley, datum diameter" not in said.guesses
    assert {each.field for each in said.missing} == {"width_new", "reading_force"}


def test_a_guessed_depth_gives_the_answer_for_the_deeper_groove_too() -> None:
    room = told(work_out(WORN)).result("driver_room")

    assert room is not None
    # DIN 2211 grooves of section A are 11.2 mm deep, 2.5 mm more than the ISO minimum of 8.7 mm.
    assert room.value == "−0.3 mm"
    assert "2.2 mm if 11.2 mm deep" in room.note


def test_a_belt_read_tight_is_told_by_the_slot_and_a_new_one_by_its_nominal_length() -> None:
    """Used, left and the place when new are of one belt: its true length, not the nominal one."""
    tight = replace(
        WORN, driver_depth=0.0112, driven_depth=0.0112, slot_in=0.008, slot_out=0.006,
        belt_tight=True, width_now=0.0118, width_placed=0.0124, width_placed_u=0.0001,
    )  # fmt: skip
    workout = work_out(tight)
    said = told(workout)
    assert workout.wear is not None
    slot = workout.wear.take_up
    assert slot is not None
    assert slot.since is not None
    needed = said.result("centres_needed")
    assert needed is not None
    when_new = tight.centres + slot.since.value - slot.used.value
    assert needed.note.startswith(f"{when_new * 1e3:.1f} mm when it was new; ")
    assert needed.note.endswith("for a new belt, by its nominal length")
    # The travel of that belt when it was new is to the same end of the slot.
    assert slot.travel.value == pytest.approx(slot.high - when_new)
    line = next(each for each in said.in_short if each[0] == "Slot")[1]
    assert re.search(r"mm used by the wear, [\d.]+ mm of that since the slot was read; ", line)


def test_forces_are_told_in_every_unit_of_a_gauge() -> None:
    force = told(work_out(WORN)).result("force")

    assert force is not None
    newtons = [float(each) for each in re.findall(r"[\d.]+", force.value)]
    others = [float(each) for each in re.findall(r"[\d.]+", force.note)]
    # 1 kgf is 9.80665 N, 1 lbf is 4.4482216 N (NIST SP 811).
    assert others == pytest.approx(
        [
            newtons[0] / 9.80665,
            newtons[1] / 9.80665,
            newtons[0] / 4.4482216,
            newtons[1] / 4.4482216,
        ],
        abs=0.06,
    )


def test_pictures_hold_the_figures_that_are_told() -> None:
    said = told(work_out(WORN))
    made = pictures(said)

    assert [each.title for each in made] == [
        "Motor pulley, groove 34°", "Driven pulley, groove 38°", "The drive and its slot",
        "Static tension of one belt",
    ]  # fmt: skip
    for each in made:
        svg = ElementTree.fromstring(each.svg)
        assert svg.attrib["role"] == "img"
        assert each.words in "".join(svg.itertext())
        assert "style" not in each.svg
    ride = said.result("driver_ride")
    assert ride is not None
    assert ride.value.removeprefix("−") in made[0].words
    assert "slot reaches from 125.2 mm to 145.2 mm" in made[2].words


def test_a_drive_of_which_little_is_known_is_told_without_pictures() -> None:
    said = told(work_out(DriveGiven(driver=0.08)))

    assert said.belt == "belt not known"
    assert said.verdict == "Not certain. Measure again."
    assert pictures(said) == ()
    assert said.results == ()


def test_a_measured_ride_outranks_the_model_in_words_and_picture() -> None:
    rides = replace(WORN, driver_ride=-0.002, driven_ride=-0.001, width_now=0.0121)

    said = told(work_out(rides))

    drop = said.result("driver_drop")
    assert drop is not None
    assert drop.note == "by the ride as measured"
    assert said.grooves[0].ride == -0.002


def test_a_reading_that_was_taken_is_never_called_not_read() -> None:
    said = told(work_out(replace(WORN, reading_force=8.0)))
    unread = told(work_out(WORN))

    assert said.result("tension_read") is not None
    assert "not read" not in pictures(said)[-1].words
    assert "of a new belt" in pictures(said)[-1].words
    assert pictures(unread)[-1].words.endswith("It was not read.")


def test_the_way_to_go_is_until_the_tension_is_right_with_its_doubt() -> None:
    given = replace(
        WORN, width_now=0.0128, length=0.800, centres=0.170, slot_out=0.040, belt_tight=False
    )
    found = work_out(given)
    assert found.wear is not None
    assert found.wear.take_up is not None
    out = found.wear.take_up.to_tight
    assert out is not None

    step = told(found).to_do[0]

    assert step == (
        "Move the motor outwards until the tension is right: about "
        f"{out.value * 1e3:.1f} ± {2 * out.u * 1e3:.1f} mm by the belt's length."
    )


def test_a_pull_is_that_of_the_high_end_and_not_called_the_most() -> None:
    pull = told(work_out(WORN)).result("hub_load")

    assert pull is not None
    assert pull.name == "pull on each shaft, at the high end"


def test_a_tension_without_power_is_told() -> None:
    read = told(
        work_out(replace(WORN, width_now=0.0129, motor_power=None, reading_frequency=120.0))
    ).result("tension_read")

    assert read is not None
    assert "cannot be judged" in read.note
    assert "±" in read.figure


def test_a_slot_ended_by_the_nominal_length_says_its_odds() -> None:
    left = told(work_out(replace(WORN, width_now=0.0122, slot_out=0.003))).result("left")

    assert left is not None
    assert "by the belt's nominal length, odds" in left.note


def test_a_narrow_inch_belt_is_told_by_its_effective_length() -> None:
    drive = DriveGiven(
        driver=0.0838, driven=0.1422, section="3V", length=1.27, motor_power=1500,
        motor_speed=146.6, reading_force=17.0, reading_force_u=0.1,
    )  # fmt: skip
    assert told(work_out(drive)).to_do == (
        "Nothing now. Look at the belt and read its tension at the next service.",
    )
    assert (
        belt_words(DriveGiven(section="3V", length=1.27, length_system="RMA"))
        == "3V, effective length 1270 mm (RMA)"
    )


def test_several_belts_are_counted_in_the_words() -> None:
    assert belt_words(replace(WORN, belts=2)) == "2 × A, datum length 690 mm (ISO/DIN)"
    assert (
        told(work_out(replace(WORN, belts=2)))
        .to_do[0]
        .startswith("Fit 2 new belts, as a matched set: A, datum length")
    )


@pytest.mark.parametrize(
    ("value", "text"), [(-0.00033, "−0.3 mm"), (-0.00001, "0.0 mm"), (0.0104, "10.4 mm")]
)
def test_millimetres_have_a_true_minus_and_no_minus_nought(value: float, text: str) -> None:
    assert length_text(value) == text
