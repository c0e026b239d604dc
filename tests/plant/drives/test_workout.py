"""A whole drive worked out, against general root-finders, and what it says when little is known."""

from dataclasses import fields, replace
from math import asin, cos, exp, nan, pi, radians, sin, sqrt, tan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import norm

from plant.drives.errors import DriveError, OutOfRange, UnknownSection
from plant.drives.outcome import LABELS
from plant.drives.workout import DriveGiven, DriveWorkout, Verdict, work_out

MM = 1e-3
# An invented mixer: motor 80 mm, drum shaft 180 mm, belt of 690 mm datum length.
MIXER = DriveGiven(
    driver=80 * MM,
    driven=180 * MM,
    driver_angle=radians(34),
    driven_angle=radians(38),
    driver_depth=8.7 * MM,
    driven_depth=8.7 * MM,
    section="A",
    length=690 * MM,
    width_new=13.0 * MM,
    width_new_u=0.1 * MM,
    width_now=10.4 * MM,
    width_now_u=0.1 * MM,
    centres=131.14 * MM,
    slot_in=12 * MM,
    slot_out=10 * MM,
    motor_power=550,
    motor_speed=1400 * pi / 30,
    load="heavy",
    hard_start=True,
)
GOOD = replace(
    MIXER,
    width_now=12.9 * MM,
    slot_out=14 * MM,
    driver_depth=11.2 * MM,
    driven_depth=11.2 * MM,
)


def length(centres: float, d: float, D: float) -> float:
    """The open belt by its arcs and its straight parts, angle by angle."""
    lean = asin((D - d) / (2 * centres))
    return 2 * centres * cos(lean) + d / 2 * (pi - 2 * lean) + D / 2 * (pi + 2 * lean)


def centres(L: float, d: float, D: float) -> float:
    return float(brentq(lambda c: length(c, d, D) - L, (d + D) / 2 + 1e-9, L, xtol=1e-15))


def worn(found: DriveWorkout):
    assert found.wear is not None
    return found.wear


# --- wear ----------------------------------------------------------------------------------------


def test_drops_diameters_and_centres_agree_with_a_general_root_finder() -> None:
    found = worn(work_out(MIXER))
    drops = [2.6 * MM / (2 * tan(radians(half))) for half in (17, 19)]
    before = centres(0.690, 0.080, 0.180)
    free = centres(0.690, 0.080 - 2 * drops[0], 0.180 - 2 * drops[1]) - before
    floor = 8.7 * MM - 30 * MM / (2 * pi)
    capped = centres(0.690, 0.080 - 2 * floor, 0.180 - 2 * drops[1]) - before

    assert found.driver.drop_free.value == pytest.approx(drops[0], abs=1e-12)
    assert found.driven.drop.value == pytest.approx(drops[1], abs=1e-12)
    assert found.driver.drop.value == pytest.approx(floor, abs=1e-12)
    assert found.extra_free.value == pytest.approx(free, abs=1e-9)
    assert found.extra.value == pytest.approx(capped, abs=1e-9)
    assert found.driver.bottoms
    assert not found.driven.bottoms


def test_the_slot_is_judged_by_what_the_worn_belt_needs() -> None:
    slot = worn(work_out(MIXER)).take_up
    needed = centres(0.690, 0.080, 0.180) + worn(work_out(MIXER)).extra.value

    assert slot.low == pytest.approx(119.14 * MM)
    assert slot.high == pytest.approx(141.14 * MM)
    assert slot.left.value == pytest.approx(141.14 * MM - needed, abs=1e-9)
    assert slot.to_tight.value == pytest.approx(needed - 131.14 * MM, abs=1e-9)
    assert slot.ended


def test_what_the_belt_wore_since_the_slot_was_read_is_no_longer_left() -> None:
    given = replace(
        GOOD, belt_tight=True, centres=133.9 * MM, slot_out=7.5 * MM, width_now=12.0 * MM,
        width_now_u=0.1 * MM, width_placed=12.4 * MM, width_placed_u=0.1 * MM,
    )  # fmt: skip

    found = work_out(given).wear
    then = work_out(replace(given, width_now=12.4 * MM, width_placed=None)).wear

    # By the root of the whole belt path at both widths, as scipy finds it.
    def centres(width: float) -> float:
        drops = [(13.0 - width) / (2 * tan(radians(each) / 2)) for each in (34, 38)]
        d, big = 80 - 2 * drops[0], 180 - 2 * drops[1]

        def misses(c: float) -> float:
            lean = asin((big - d) / (2 * c))
            return 2 * c * cos(lean) + pi * (d + big) / 2 + lean * (big - d) - 690

        return float(brentq(misses, 90, 300))

    since = centres(12.0) - centres(12.4)
    assert found.take_up.since.value * 1e3 == pytest.approx(since, abs=0.02)
    assert found.take_up.left.value * 1e3 == pytest.approx(7.5 - since, abs=0.02)
    assert then.take_up.left.value == pytest.approx(7.5 * MM)
    # The travel of a new belt is the same, whichever day it is reckoned from.
    assert found.take_up.travel.value == pytest.approx(then.take_up.travel.value)
    assert work_out(given).verdict != Verdict.TIGHTEN


def test_the_width_at_the_end_of_the_slot_makes_the_belt_tight_there() -> None:
    found = worn(work_out(MIXER))
    loss = 13 * MM - found.width_ends_slot
    small, large = (d - loss / tan(radians(h)) for d, h in ((0.080, 17), (0.180, 19)))

    assert length(141.14 * MM, small, large) == pytest.approx(0.690, abs=1e-9)
    assert found.width_bottoms == pytest.approx(
        13 * MM - 2 * tan(radians(17)) * (8.7 * MM - 30 * MM / (2 * pi)), abs=1e-12
    )
    assert found.first == "slot"


def test_with_a_long_slot_the_floor_comes_first() -> None:
    found = worn(work_out(replace(MIXER, slot_out=60 * MM)))

    assert found.first == "floor"
    assert found.width_ends_slot is None


def test_odds_of_standing_on_the_floor_are_those_of_the_normal_distribution() -> None:
    seat = worn(work_out(MIXER)).driven

    assert seat.odds_bottoms == pytest.approx(norm.cdf(-seat.room.value / seat.room.u), abs=1e-12)
    assert 0.3 < seat.odds_bottoms < 0.45


def test_doubt_of_the_extra_centre_distance_agrees_with_drawn_figures() -> None:
    """First order against 4000 draws of width, depth of the cord and groove angles."""
    import numpy as np

    given = replace(GOOD, width_now=11.8 * MM)
    found = worn(work_out(given))
    draw = np.random.default_rng(7)
    n = 4000
    loss = draw.normal(1.2 * MM, sqrt(2) * 0.1 * MM, n)
    half = [np.radians(a / 2) + draw.normal(0, radians(1) / sqrt(3) / 2, n) for a in (34, 38)]
    before = centres(0.690, 0.080, 0.180)
    extra = [
        centres(0.690, 0.080 - dw / np.tan(a), 0.180 - dw / np.tan(b)) - before
        for dw, a, b in zip(loss, *half, strict=True)
    ]

    assert found.extra.value == pytest.approx(np.mean(extra), abs=0.05 * MM)
    assert found.extra.u == pytest.approx(np.std(extra), rel=0.06)


def test_a_guessed_depth_gives_the_deeper_groove_too() -> None:
    found = work_out(replace(MIXER, driver_depth=None, driven_depth=None))
    seat = worn(found).driver

    assert (seat.depth, seat.depth_guessed) == (0.0087, True)
    assert (seat.deeper_depth, seat.deeper_system) == (0.0112, "DIN 2211")
    assert seat.deeper_room.value == pytest.approx(seat.room.value + 2.5 * MM)
    assert seat.bottoms
    assert seat.deeper_bottoms is False
    assert worn(found).deeper_extra.value == pytest.approx(13.352 * MM, abs=2e-6)
    assert {"driver_depth", "driven_depth"} <= {miss.field for miss in found.missing}


def test_a_measured_depth_has_no_second_answer() -> None:
    seat = worn(work_out(MIXER)).driver

    assert not seat.depth_guessed
    assert seat.deeper_depth is None
    assert worn(work_out(MIXER)).deeper_extra is None


def test_the_width_when_new_is_the_nominal_of_its_system_when_not_measured() -> None:
    metric = work_out(replace(MIXER, width_new=None, width_new_u=None))
    inch = work_out(replace(MIXER, width_new=None, width_new_u=None, length_system="RMA"))

    assert worn(metric).width_new.value == 0.013
    assert worn(inch).width_new.value == 0.0127
    assert worn(metric).width_new.u == pytest.approx(0.3 * MM / sqrt(3))
    assert any("not this belt's own" in words for words in metric.warnings)
    assert not any("not this belt's own" in words for words in work_out(MIXER).warnings)


def test_a_measured_ride_outranks_the_width() -> None:
    given = replace(MIXER, driver_ride=-1.0 * MM, driven_ride=-0.9 * MM, ride_u=0.1 * MM)
    found = worn(work_out(given))
    # Cord 20/(2 pi) below the top, rim 2.75 mm above the datum line.
    drops = [20 * MM / (2 * pi) - 2.75 * MM + ride for ride in (1.0 * MM, 0.9 * MM)]
    extra = centres(0.690, 0.080 - 2 * drops[0], 0.180 - 2 * drops[1]) - centres(
        0.690, 0.080, 0.180
    )

    assert found.driver.drop.value == pytest.approx(drops[0], abs=1e-12)
    assert found.extra.value == pytest.approx(extra, abs=1e-9)
    assert found.driver.measured
    assert not found.driver.bottoms
    # Rim to floor, less how far the top is down and the belt's height.
    assert found.driver.room.value == pytest.approx(
        (8.7 + 2.75 - 1.0) * MM - 50 * MM / (2 * pi), abs=1e-12
    )


def test_rides_alone_are_enough_when_the_width_was_not_read() -> None:
    found = work_out(
        replace(MIXER, width_now=None, driver_ride=-0.3 * MM, driven_ride=-0.2 * MM, slot_out=0.02)
    )

    assert worn(found).loss is None
    assert worn(found).extra.value > 0
    assert worn(found).extra_free is None
    assert found.verdict != Verdict.AGAIN


def test_a_ride_measured_when_new_takes_the_cord_out_of_it() -> None:
    given = replace(
        GOOD,
        driver_ride=-0.4 * MM,
        driver_ride_new=0.6 * MM,
        driven_ride=-0.3 * MM,
        driven_ride_new=0.6 * MM,
        ride_u=0.1 * MM,
    )
    seat = worn(work_out(given)).driver

    assert seat.drop.value == pytest.approx(1.0 * MM)
    assert seat.drop.u == pytest.approx(sqrt(2) * 0.1 * MM)


def test_a_ride_deeper_than_the_width_explains_speaks_of_the_pulley() -> None:
    found = work_out(
        replace(GOOD, driver_ride=-1.4 * MM, driver_ride_new=0.5 * MM, ride_u=0.1 * MM)
    )

    assert worn(found).driver.groove_worn.shown
    assert any("the groove is worn" in words for words in found.warnings)
    assert found.verdict == Verdict.WATCH


def test_a_ride_higher_than_the_width_says_asks_for_another_reading() -> None:
    found = work_out(
        replace(
            GOOD, width_now=12.0 * MM, driver_ride=0.5 * MM, driver_ride_new=0.5 * MM, ride_u=1e-4
        )
    )

    assert found.verdict == Verdict.AGAIN


def test_a_drive_turned_round_wears_the_same() -> None:
    one = worn(work_out(MIXER))
    turned = worn(
        work_out(
            replace(
                MIXER,
                driver=180 * MM,
                driven=80 * MM,
                driver_angle=radians(38),
                driven_angle=radians(34),
            )
        )
    )

    assert turned.extra == one.extra
    assert turned.driven.drop == one.driver.drop
    assert turned.driven_slower < 0 < one.driven_slower


def test_the_driven_shaft_slows_by_the_change_of_ratio() -> None:
    found = work_out(MIXER)

    assert worn(found).driven_slower == pytest.approx(
        1 - found.driven.driven_now / found.driven.driven_new, abs=1e-12
    )
    assert found.geometry.ratio_now > found.geometry.ratio_new == 2.25


# --- slot, read directly -------------------------------------------------------------------------


def test_a_slot_read_with_the_belt_tight_is_the_take_up_left() -> None:
    given = replace(
        GOOD, width_now=12.4 * MM, belt_tight=True, centres=133.9 * MM, slot_out=7.5 * MM
    )
    slot = worn(work_out(given)).take_up

    assert slot.left.value == 7.5 * MM
    assert slot.left.u < 0.4 * MM
    assert slot.agrees is True
    assert slot.travel.value == pytest.approx(7.5 * MM + worn(work_out(given)).extra.value)


def test_a_slot_that_contradicts_the_length_is_said() -> None:
    given = replace(GOOD, belt_tight=True, centres=165 * MM)
    found = work_out(given)

    assert worn(found).take_up.agrees is False
    assert found.verdict == Verdict.AGAIN
    assert any("check the belt's mark" in words for words in found.verdict_words)


# --- verdicts ------------------------------------------------------------------------------------


def test_a_sound_belt_may_stay_on() -> None:
    found = work_out(replace(GOOD, belt_tight=True, centres=131.6 * MM))

    assert found.verdict == Verdict.FIT_ON
    assert found.verdict_words[0] == "The belt may stay on."


def test_no_tensioning_is_offered_at_the_end_of_the_slot() -> None:
    given = replace(
        GOOD, width_now=12.6 * MM, slot_out=0.0, belt_tight=True, centres=133 * MM,
        reading_force=4.0,
    )  # fmt: skip
    found = work_out(given)

    assert found.verdict == Verdict.CHANGE
    assert found.tension.offered is False
    assert found.tension.this_belt is None
    assert found.tension.reading.verdict == "under"
    assert not any("tighten" in words.lower() for words in found.verdict_words)
    assert any("Tensioning again is not possible" in words for words in found.verdict_words)


def test_a_slack_belt_with_slot_left_is_tightened() -> None:
    found = work_out(
        replace(GOOD, belt_tight=True, centres=131.6 * MM, reading_force=3.0, reading_force_u=0.3)
    )

    assert found.verdict == Verdict.TIGHTEN
    assert found.tension.offered
    assert found.tension.reading.verdict == "under"


def test_a_belt_with_no_tension_at_all_reads_as_slack_and_not_as_an_error() -> None:
    found = work_out(replace(GOOD, belt_tight=True, centres=131.6 * MM, reading_force=0.2))

    assert found.tension.reading.tension.value == 0
    assert found.verdict == Verdict.TIGHTEN


def test_an_over_tight_belt_is_slackened() -> None:
    found = work_out(replace(GOOD, belt_tight=True, centres=131.6 * MM, reading_force=25.0))

    assert found.tension.reading.verdict == "over"
    assert found.verdict == Verdict.WATCH
    assert any("Slacken it" in words for words in found.verdict_words)


def test_a_belt_slack_as_it_stands_is_tightened() -> None:
    found = work_out(
        replace(GOOD, belt_tight=False, length=0.8, centres=170 * MM, slot_out=40 * MM)
    )

    assert found.verdict == Verdict.TIGHTEN
    assert any("slack as it stands" in words for words in found.verdict_words)


@pytest.mark.parametrize(
    ("now", "verdict"),
    [(12.9, Verdict.FIT_ON), (12.2, Verdict.WATCH), (11.6, Verdict.CHANGE)],
)
def test_width_loss_is_watched_at_a_twentieth_and_changed_at_a_tenth(
    now: float, verdict: Verdict
) -> None:
    found = work_out(
        replace(GOOD, width_now=now * MM, slot_out=40 * MM, belt_tight=True, centres=135 * MM)
    )

    assert found.verdict == verdict


def test_take_up_is_watched_in_its_last_quarter() -> None:
    given = replace(GOOD, width_now=12.5 * MM, belt_tight=True, centres=133.6 * MM)
    used = worn(work_out(given)).extra.value

    assert work_out(replace(given, slot_out=used)).verdict == Verdict.FIT_ON
    low = work_out(replace(given, slot_out=0.3 * used, width_now_u=1e-5, width_new_u=1e-5))
    assert low.verdict == Verdict.WATCH
    assert any("Have a belt ready" in words for words in low.verdict_words)


def ride_odds(found: DriveWorkout) -> float:
    """Odds of 1.5 mm or more below the rim of the motor pulley (common practice, no source)."""
    ride = worn(found).driver.ride
    return float(norm.cdf(-1.5 * MM, loc=ride.value, scale=ride.u))


def test_a_ride_worked_out_from_the_width_has_its_odds() -> None:
    """9 % of the width of an A belt puts it at the limit of the ride, give or take as much."""
    free = replace(GOOD, slot_out=40 * MM, belt_tight=True, centres=137 * MM)
    found = work_out(replace(free, width_now=11.8 * MM))

    assert worn(found).driver.ride.value < -1.5 * MM
    assert 0.5 < ride_odds(found) < 0.8
    assert found.verdict == Verdict.WATCH
    assert any("Measure the ride: that decides" in words for words in found.verdict_words)
    less = work_out(replace(free, width_now=12.0 * MM))
    assert ride_odds(less) < 0.5
    assert not any("Measure the ride" in words for words in less.verdict_words)


@pytest.mark.parametrize(("ride", "verdict"), [(-1.4, Verdict.WATCH), (-1.6, Verdict.CHANGE)])
def test_a_ride_that_was_measured_stands(ride: float, verdict: Verdict) -> None:
    found = work_out(
        replace(
            GOOD, slot_out=40 * MM, belt_tight=True, centres=137 * MM, width_now=11.9 * MM,
            driver_ride=ride * MM, driven_ride=-1.2 * MM,
        )
    )  # fmt: skip

    assert found.verdict == verdict
    assert any("It rides 1.6 mm" in words for words in found.verdict_words) is (ride == -1.6)


def test_a_tall_belt_is_not_changed_for_a_twenty_fifth_of_its_width() -> None:
    given = DriveGiven(
        driver=0.4, driven=0.6, section="D", length=3.2, length_system="RMA",
        width_new=0.0318, width_now=0.0305,
    )  # fmt: skip

    assert 0.5 < ride_odds(work_out(given)) < 0.8
    assert work_out(given).verdict == Verdict.WATCH
    narrower = work_out(replace(given, width_now=0.0299))
    assert ride_odds(narrower) >= 0.8
    assert narrower.verdict == Verdict.CHANGE
    assert any(f"odds {ride_odds(narrower) * 100:.0f} %" in it for it in narrower.verdict_words)


def test_no_width_is_told_past_a_quarter_of_it() -> None:
    deep = work_out(replace(GOOD, driver_depth=22 * MM, driven_depth=22 * MM, slot_out=30 * MM))
    shallow = work_out(replace(GOOD, driver_depth=9.2 * MM, driven_depth=9.2 * MM))

    # On the floor at 13 mm - 2 tan 17° x (22 - 30/(2 pi)) mm = 2.5 mm: no such belt.
    assert 13 - 2 * tan(radians(17)) * (22 - 30 / (2 * pi)) < 0.75 * 13
    assert worn(deep).width_bottoms is worn(deep).driver.width_bottoms is None
    assert worn(deep).first == ""
    assert worn(deep).first_words.startswith("Neither floor nor end of the slot comes within")
    assert "wf1" not in {line.symbol for line in deep.lines}
    assert worn(shallow).width_bottoms == pytest.approx(
        13 * MM - 2 * tan(radians(17)) * (9.2 * MM - 30 * MM / (2 * pi)), abs=1e-12
    )
    slot = work_out(replace(GOOD, driver_depth=22 * MM, driven_depth=22 * MM))
    assert worn(slot).first == "slot"
    assert "does not reach the floor within a quarter" in worn(slot).first_words
    unknown = work_out(
        replace(GOOD, driver_depth=22 * MM, driven_depth=22 * MM, centres=None, slot_out=None)
    )
    assert worn(unknown).first_words.endswith("not reach the floor within a quarter of its width.")


def slot_odds(found: DriveWorkout) -> float:
    left = worn(found).take_up.left
    return float(norm.cdf(0, loc=left.value, scale=left.u))


@pytest.mark.parametrize(
    ("left_mm", "verdict", "said"),
    [
        (2.0, Verdict.WATCH, "the slot may be at its end"),
        (-1.5, Verdict.AGAIN, "By the belt's nominal length the slot is used up (odds"),
        (-4.5, Verdict.CHANGE, "By the belt's nominal length the slot is used up (odds"),
        (-8.0, Verdict.CHANGE, "The slot is used up: change the belt."),
    ],
)
def test_a_slot_known_by_the_nominal_length_has_its_odds(
    left_mm: float, verdict: Verdict, said: str
) -> None:
    needed = centres(0.730, *(d - 0.5 * MM / tan(radians(h)) for d, h in ((0.08, 17), (0.18, 19))))
    given = replace(
        GOOD, length=0.730, width_now=12.5 * MM, centres=needed + (left_mm - 1) * MM,
        slot_out=1 * MM,
    )  # fmt: skip
    found = work_out(given)
    odds, slot = slot_odds(found), worn(found).take_up

    assert slot.left.value == pytest.approx(left_mm * MM, abs=1e-9)
    assert slot.odds_ended == pytest.approx(odds, abs=1e-12)
    assert found.verdict == verdict
    assert any(said in words for words in found.verdict_words)
    assert slot.ended is (odds >= 0.5)
    assert any("not possible" in words for words in found.verdict_words) is (odds >= 0.95)
    if slot.ended:
        assert found.tension.offered is False
    if "(odds" in said:
        assert any(f"(odds {odds * 100:.0f} %)" in words for words in found.verdict_words)


def test_slack_by_the_nominal_length_says_so_unless_somebody_saw_it() -> None:
    given = replace(GOOD, length=0.8, centres=170 * MM, slot_out=40 * MM)

    nominal = work_out(given)
    seen = work_out(replace(given, belt_tight=False))

    assert nominal.verdict == seen.verdict == Verdict.TIGHTEN
    assert nominal.verdict_words[0].startswith("By its nominal length it is slack as it stands")
    assert seen.verdict_words[0].startswith("It is slack as it stands")


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"centres": 131.14 * MM}, "At the centre distance given"),
        ({"centres": 140 * MM, "slot_in": 6 * MM}, "With the slot fully in"),
        ({"centres": None}, "At the centres that this belt asks for when new"),
    ],
)
def test_rims_that_cannot_clear_each_other_are_named(
    changes: dict[str, float | None], where: str
) -> None:
    """80 and 180 mm with rims 2.75 mm above the datum line: 40 + 90 + 5.5 mm is the closest."""
    said = [words for words in work_out(replace(GOOD, **changes)).warnings if "rims" in words]

    assert len(said) == 1
    assert said[0].startswith(f"{where} the pulley rims would touch")
    assert "135.5 mm" in said[0]
    assert "diameter across the rim" in said[0]
    apart = replace(GOOD, length=0.8, centres=190 * MM)
    assert not any("rims" in words for words in work_out(apart).warnings)


def test_narrow_inch_belts_go_by_outside_diameter_and_effective_length() -> None:
    """The cords run 0.025 in inside the rim (ANSI/RMA IP-22, from memory)."""
    given = DriveGiven(driver=0.0838, driven=0.1422, section="3V", length=1.27, motor_speed=146.6)
    found = work_out(given)
    inside = 0.05 * 0.0254
    by_cords = brentq(
        lambda c: length(c, 0.0838 - inside, 0.1422 - inside) - (1.27 - pi * inside), 0.2, 1.0
    )
    labels = {one.field: one.label for one in found.used}
    ratio = (0.1422 - inside) / (0.0838 - inside) / (0.1422 / 0.0838) - 1

    assert found.geometry.centres_new.value == pytest.approx(by_cords, abs=1e-9)
    assert labels["driver"] == "motor pulley, outside diameter"
    assert labels["length"] == "effective length of the belt"
    said = next(words for words in found.warnings if "cords run" in words)
    assert "0.64 mm inside" in said or "0.63 mm inside" in said
    assert f"belt speed is out by {inside / 0.0838 * 100:.1f} %" in said
    assert f"ratio by {ratio * 100:.1f} %" in said
    assert "top width" not in found.verdict_words[0]
    assert "read its tension" in found.verdict_words[0]
    # Width and grooves settle nothing where the seat cannot be worked out; the slot still does.
    missing = {miss.field for miss in found.missing}
    assert missing.isdisjoint({"width_now", "width_new", "driver_depth", "driven_angle"})
    assert "slot_out" in missing
    tight = work_out(replace(given, motor_power=1500, reading_force=17.0, reading_force_u=0.1))
    assert tight.verdict == Verdict.FIT_ON
    assert any("of this section has worn is not judged" in it for it in tight.verdict_words)
    ribbed = replace(given, section="PJ")
    assert ribbed.label("driven") == "driven pulley, effective diameter"
    assert replace(given, section="8M").label("length") == "pitch length of the belt"
    assert replace(given, section="A").label("length") == "datum length of the belt"


def test_a_floor_that_hangs_on_a_guessed_depth_is_measured_first() -> None:
    given = replace(
        GOOD,
        driver_depth=None,
        driven_depth=None,
        section="SPA",
        groove_system="ISO 4183",
        width_new=12.7 * MM,
        width_now=12.6 * MM,
        driver=100 * MM,
        length=800 * MM,
        centres=175 * MM,
        slot_out=30 * MM,
    )
    shallow = replace(given, driver_depth=7.0 * MM, driven_depth=7.0 * MM)

    assert work_out(given).verdict != Verdict.CHANGE
    assert work_out(shallow).verdict in (Verdict.CHANGE, Verdict.AGAIN)
    guessed = replace(shallow, marks={"driver_depth": "guess", "driven_depth": "guess"})
    assert work_out(guessed).verdict == Verdict.AGAIN


def test_a_belt_wider_than_new_is_measured_again() -> None:
    found = work_out(replace(GOOD, width_now=14.0 * MM))

    assert found.verdict == Verdict.AGAIN
    assert found.wear is None
    assert "wider than when new" in found.verdict_words[0]


def test_a_belt_far_too_narrow_may_be_another_section() -> None:
    found = work_out(replace(GOOD, width_now=9.2 * MM))

    assert found.verdict == Verdict.CHANGE
    assert "smaller section" in found.verdict_words[0]
    assert found.tension is not None


# --- tension -------------------------------------------------------------------------------------


def test_tension_agrees_with_the_formula_written_out() -> None:
    found = work_out(replace(GOOD, belt_tight=True, centres=131.6 * MM, slot_out=0.02))
    setting = found.tension.this_belt
    small = found.wear.driver.diameter_now
    large = found.wear.driven.diameter_now
    wrap = pi - 2 * asin((large - small) / (2 * 131.6 * MM))
    K = 1.25 * (1 - 5 ** (-wrap / pi))
    v = 1400 * pi / 30 * small / 2
    rma = 0.450 * (2.5 - K) / K * 550 * 1.5 / v + 0.105 * v**2

    assert setting.required_rma == pytest.approx(rma, rel=1e-12)
    assert setting.required_theory - 0.105 * v**2 == pytest.approx(
        (rma - 0.105 * v**2) / 0.9, rel=1e-12
    )
    span = sqrt((131.6 * MM) ** 2 - ((large - small) / 2) ** 2)
    assert setting.deflection == pytest.approx(span / 64, rel=1e-12)
    assert setting.force_low == pytest.approx((rma + 26.689 * span / 0.690) / 16, rel=1e-4)
    assert setting.frequency_high == pytest.approx(
        sqrt(1.5 * rma / (4 * 0.105 * span**2)), rel=1e-12
    )
    assert setting.hub_load == pytest.approx(2 * 1.5 * rma * sin(wrap / 2), rel=1e-12)


def test_the_slip_margin_agrees_with_the_belt_equation() -> None:
    found = work_out(
        replace(GOOD, belt_tight=True, centres=131.6 * MM, reading_frequency=130.0, friction=0.28)
    )
    setting, margin = found.tension.this_belt, found.tension.slip_now
    tension = found.tension.reading.tension.value
    pull = 550 * 1.5 / setting.speed
    own = 0.105 * setting.speed**2
    ratio = (tension + pull / 2 - own) / (tension - pull / 2 - own)

    assert margin.margin == pytest.approx(
        exp(0.28 * setting.wrap / sin(radians(17))) / ratio, rel=1e-9
    )


def test_a_force_reading_turns_back_into_the_tension_it_was_made_from() -> None:
    base = work_out(replace(GOOD, belt_tight=True, centres=131.6 * MM)).tension.this_belt
    for form, stiff in (("RMA", 26.68932869 * base.span / 0.690), ("GB/T", 15.0)):
        force = (140 + stiff) / 16
        found = work_out(
            replace(GOOD, belt_tight=True, centres=131.6 * MM, reading_force=force, force_form=form)
        )

        assert found.tension.reading.tension.value == pytest.approx(140, rel=1e-6)


@pytest.mark.parametrize("form", ["RMA", "GB/T"])
def test_doubt_of_a_force_reading_agrees_with_small_steps(form: str) -> None:
    base = replace(
        GOOD, belt_tight=True, centres=131.6 * MM, reading_force=8.0, reading_force_u=0.5,
        reading_depth=2.0 * MM, force_form=form,
    )  # fmt: skip

    def read(force: float, depth: float) -> float:
        found = work_out(replace(base, reading_force=force, reading_depth=depth))
        return found.tension.reading.tension.value

    h = 1e-6
    by_force = (read(8.0 + h, 2.0 * MM) - read(8.0 - h, 2.0 * MM)) / (2 * h)
    by_depth = (read(8.0, 2.0 * MM + h * MM) - read(8.0, 2.0 * MM - h * MM)) / (2 * h * MM)
    u = sqrt((by_force * 0.5) ** 2 + (by_depth * 0.32275 * MM) ** 2)

    assert work_out(base).tension.reading.tension.u == pytest.approx(u, rel=1e-4)


def test_a_new_belt_is_set_higher_than_a_run_in_one() -> None:
    run_in = work_out(GOOD).tension.this_belt
    new = work_out(replace(GOOD, stage="new")).tension.this_belt

    assert (run_in.low, run_in.high) == pytest.approx(
        (run_in.required.value, 1.5 * run_in.required.value)
    )
    assert (new.low, new.over) == pytest.approx((1.3 * new.required.value, 2 * new.required.value))


def test_doubt_of_the_required_tension_agrees_with_small_steps() -> None:
    setting = work_out(GOOD).tension.new_belt
    u_power, u_small = 0.02 * 550 / sqrt(3), 0.5 * MM / sqrt(3)

    def required(power: float, small: float) -> float:
        found = work_out(replace(GOOD, motor_power=power, driver=small))
        return found.tension.new_belt.required.value

    by_power = (required(551, 0.080) - required(549, 0.080)) / 2
    by_small = (required(550, 0.0801) - required(550, 0.0799)) / 0.0002
    u = sqrt((by_power * u_power) ** 2 + (by_small * u_small) ** 2)

    assert setting.required.u == pytest.approx(u, rel=0.15)


@pytest.mark.parametrize(
    "reading", [{"reading_force": 8.0}, {"reading_frequency": 120.0}], ids=["force", "frequency"]
)
@pytest.mark.parametrize("missing", ["motor_power", "motor_speed"])
def test_a_tension_read_without_power_is_told_and_not_judged(
    reading: dict[str, float], missing: str
) -> None:
    given = replace(GOOD, belt_tight=True, centres=137 * MM, **reading)
    found = work_out(replace(given, **{missing: None}))

    # A string's own frequency, or three forces in balance, with no power in it.
    d, D = found.wear.driver.diameter_now, found.wear.driven.diameter_now
    span = 137 * MM * cos(asin((D - d) / 2 / (137 * MM)))
    stiff = 6.0 * 4.4482216  # Y of A in pounds-force: ANSI/RMA IP-20 (from memory)
    hand = 16 * 8.0 - stiff * span / 0.690
    if "reading_frequency" in reading:
        hand = 0.105 * (2 * span * 120.0) ** 2
    assert found.tension is None
    assert found.unjudged.tension.value == pytest.approx(hand, rel=1e-6)
    assert found.unjudged.tension == work_out(given).tension.reading.tension
    assert found.unjudged.verdict == ""
    for said in (found.warnings, found.verdict_words):
        assert any("cannot be judged without motor power" in words for words in said)
    assert "T" in {line.symbol for line in found.lines}
    assert work_out(given).unjudged is None


def test_a_belt_that_holds_no_tension_is_slack_whatever_the_power() -> None:
    given = replace(GOOD, belt_tight=True, centres=137 * MM, motor_power=None, reading_force=0.2)
    found = work_out(given)

    assert found.unjudged.tension.value == 0
    assert found.verdict == Verdict.TIGHTEN
    assert "slack" in found.verdict_words[0]


def test_a_reading_alone_judges_nothing_and_one_that_cannot_be_turned_says_so() -> None:
    drive = DriveGiven(driver=0.08, driven=0.18, section="A", length=0.69, reading_frequency=120.0)

    alone = work_out(drive)
    lost = work_out(replace(drive, length=None))

    assert alone.verdict == Verdict.AGAIN
    assert any("cannot be judged" in words for words in alone.verdict_words)
    assert lost.unjudged is None
    assert any("not turned into tension" in words for words in lost.warnings)


# --- power and the driven side -------------------------------------------------------------------


def test_ratings_keep_their_own_factors() -> None:
    found = work_out(MIXER).power

    assert found.design_power.value == pytest.approx(825.0)
    assert len({one.method for one in found.ratings}) == len(found.ratings) >= 5
    for one in found.ratings:
        assert one.each == pytest.approx(one.basic * one.arc_factor * one.length_factor)
    assert any("differ" in words for words in found.words)


def test_the_chosen_method_counts_the_belts() -> None:
    assert work_out(replace(MIXER, power_method="form-1955")).power.belts_needed == 2
    assert work_out(replace(MIXER, power_method="rma-1988")).power.belts_needed == 1


def test_a_section_nobody_rates_says_so_in_words() -> None:
    narrow = replace(
        MIXER,
        section="SPZ",
        width_new=9.7 * MM,
        width_now=9.6 * MM,
        driver_depth=9 * MM,
        driven_depth=9 * MM,
        slot_out=20 * MM,
    )
    found = work_out(narrow)

    assert found.power.belts_needed is None
    assert "no published rating" in found.power.words[0].lower()
    assert found.tension is not None


def test_a_rating_without_its_factors_is_not_called_unpublished() -> None:
    """For SPA a bare rating is held; its arc and length factors are not."""
    given = DriveGiven(
        driver=0.100, driven=0.180, section="SPA", length=1.0, motor_power=1500, motor_speed=146.6
    )
    words = " ".join(work_out(given).power.words)

    assert "no published rating" not in words
    assert "The number of belts is not worked out. SPA table of one maker" in words
    assert "factors are not held" in words


def test_the_rating_that_counts_is_named_with_its_place_among_the_others() -> None:
    power = work_out(MIXER).power
    each = {one.method: one.each for one in power.ratings if one.each is not None}
    said = " ".join(power.words)

    assert power.chosen == max(each, key=each.get) == "rma-1988"
    assert "RMA 1988 counts here, the first of those held that rates this belt: " in said
    assert f"{each[power.chosen] / 1000:.2f} kW a belt, the highest of them; from memory." in said
    lowest = min(each, key=each.get)
    belts = -(-power.design_power.value // each[lowest])
    assert f"it would be {belts:.0f} belts" in said
    chosen = " ".join(work_out(replace(MIXER, power_method=lowest)).power.words)
    assert "counts here, as chosen" in chosen
    assert "the lowest of them" in chosen


def test_the_drum_turns_by_belt_gears_and_slip() -> None:
    given = DriveGiven(
        driver=75 * MM, driven=150 * MM, motor_speed=1400 * pi / 30, slip=0.01,
        gears=((15, 60), (12, 84)),
    )  # fmt: skip

    assert work_out(given).driven.output_new * 30 / pi == pytest.approx(24.75)


def test_slip_is_told_from_sinking() -> None:
    """The drum of a sunk belt turns slower without slipping."""
    given = replace(MIXER, driven_speed=work_out(replace(MIXER, slip=0.0)).driven.driven_now)

    assert work_out(given).driven.slip_measured == pytest.approx(0.0, abs=1e-12)


def test_an_odd_counted_speed_costs_only_itself() -> None:
    """A fifth faster than the pulleys allow: a figure is wrong, the belt is judged all the same."""
    fast = 1.2 * 1400 * pi / 30 * 80 / 180
    base = replace(GOOD, belt_tight=True, centres=137 * MM)
    found = work_out(replace(base, driven_speed=fast))

    assert found.driven.slip_measured is None
    assert any("counted speed is left out" in words for words in found.warnings)
    assert (found.verdict, found.wear, found.tension) == (
        work_out(base).verdict, work_out(base).wear, work_out(base).tension,
    )  # fmt: skip


# --- little known, and the impossible ------------------------------------------------------------


def test_nothing_known_gives_a_list_of_what_would_help() -> None:
    found = work_out(DriveGiven())

    assert found.verdict == Verdict.AGAIN
    assert found.geometry is found.wear is found.power is found.tension is found.driven is None
    assert {"driver", "driven", "section", "length", "width_now"} <= {
        miss.field for miss in found.missing
    }
    assert all(miss.settles for miss in found.missing)


OPTIONAL_FIELDS = [field.name for field in fields(DriveGiven) if field.default is None]


@settings(max_examples=300, deadline=None)
@given(left_out=st.sets(st.sampled_from([*OPTIONAL_FIELDS, "section"])))
def test_whatever_is_missing_there_is_an_answer(left_out: set[str]) -> None:
    full = replace(
        GOOD, width_now=12.5 * MM, driver_ride=-0.1 * MM, driven_ride=-0.1 * MM,
        driver_ride_new=0.4 * MM, reading_force=8.0, reading_depth=1.9 * MM, belt_tight=True,
        centres=133 * MM, friction=0.3, slip=0.01, driven_speed=64.0,
    )  # fmt: skip
    gone = {name: "" if name == "section" else None for name in left_out}

    found = work_out(replace(full, **gone))

    assert found.verdict_words
    missing = {miss.field for miss in found.missing}
    for name in left_out & {"driver", "driven", "section", "length", "width_now", "centres"}:
        assert name in missing
    if "length" not in left_out and {"driver", "driven"}.isdisjoint(left_out):
        assert found.geometry.centres_new is not None


@pytest.mark.parametrize(
    "wrong",
    [
        {"driver": 0.0},
        {"driver": nan},
        {"driver_angle": 1.5},
        {"width_now": 0.2},
        {"length": 0.3},
        {"slot_out": -0.001},
        {"belts": 0},
        {"motor_power": -5.0},
        {"section": "Q9"},
        {"length_system": "metric"},
        {"groove_system": "own"},
        {"stage": "old"},
        {"load": "very heavy"},
        {"tension_method": "feel"},
        {"power_method": "guess"},
        {"force_form": "x"},
        {"idler": "somewhere"},
        {"gears": ((0, 10),)},
        {"marks": {"driver": "seen"}},
        {"marks": {"colour": "guess"}},
        {"reading_force": 8.0, "reading_depth": 0.4},
    ],
    ids=str,
)
def test_impossible_figures_are_refused_in_words(wrong: dict[str, object]) -> None:
    with pytest.raises(DriveError) as refused:
        work_out(replace(MIXER, **wrong))

    assert len(str(refused.value)) > 15


def test_the_refusal_names_the_range() -> None:
    with pytest.raises(OutOfRange, match=r"groove angle, motor pulley .* accepted: 0.349"):
        work_out(replace(MIXER, driver_angle=radians(70)))
    with pytest.raises(UnknownSection, match="accepted"):
        work_out(replace(MIXER, section="Q9"))


def test_a_toothed_belt_is_only_measured() -> None:
    found = work_out(replace(MIXER, section="8M", width_new=None, width_now=None))

    assert found.wear is None
    assert found.tension is None
    assert found.geometry is not None
    assert any("must not run in V grooves" in words for words in found.warnings)


def test_every_figure_used_is_named_and_marked() -> None:
    found = work_out(
        replace(MIXER, driver_depth=None, marks={"motor_power": "plate"}, typed={"driver": "80 mm"})
    )
    used = {one.field: one for one in found.used}

    assert used["driver"].typed == "80 mm"
    assert used["motor_power"].mark == "plate"
    assert used["driver_depth"].mark == "guess"
    assert used["driver_depth"].note
    assert used["driver_depth"].trust
    assert set(used) <= set(LABELS)


def test_cautions_are_always_there() -> None:
    for found in (work_out(DriveGiven()), work_out(MIXER)):
        assert any("isolate" in words for words in found.cautions)
        assert any("Guards back on" in words for words in found.cautions)
        assert any("competent person" in words for words in found.cautions)


def test_no_word_says_that_a_belt_stretched() -> None:
    found = work_out(MIXER)
    said = " ".join([*found.warnings, *found.verdict_words, *(line.name for line in found.lines)])

    assert "stretch" not in said.lower()
    assert "narrow, not long" in said


@pytest.mark.parametrize(("section", "new"), [("B", 0.0167), ("C", 0.0222), ("D", 0.0318)])
def test_a_sound_inch_belt_does_not_stand_on_the_floor(section: str, new: float) -> None:
    """Its inside length is a name; taken as a measure it made the belt 3 mm too high."""
    found = work_out(
        DriveGiven(
            driver=0.4,
            driven=0.5,
            section=section,
            length=2.6,
            length_system="RMA",
            width_new=new,
            width_now=new - 0.001,
        )
    )

    assert found.wear is not None
    for seat in (found.wear.driver, found.wear.driven):
        assert not seat.bottoms
        assert seat.odds_bottoms < 0.05


def test_a_belt_that_may_stay_on_is_still_to_be_looked_at() -> None:
    found = work_out(replace(MIXER, width_now=0.0130, width_new=0.0130, slot_out=0.020))

    assert found.verdict == Verdict.FIT_ON
    assert "cracks" in found.verdict_words[-1]
    assert "common practice" in found.verdict_words[-1]


def test_a_slot_that_is_just_used_up_asks_for_nothing_more() -> None:
    found = work_out(replace(MIXER, centres=0.1441, slot_out=0.0, belt_tight=True))

    assert found.verdict == Verdict.CHANGE
    assert not any("-0.0" in words or "asks for" in words for words in found.verdict_words)


def test_a_ride_line_is_left_out_only_where_the_ride_was_measured_new() -> None:
    lines = {line.symbol for line in work_out(MIXER).lines}
    measured = {line.symbol for line in work_out(replace(MIXER, driver_ride_new=0.4 * MM)).lines}

    assert {"e1", "e2"} <= lines
    assert "e1" not in measured
    assert "e2" in measured


def test_a_little_wider_than_new_is_inside_the_error_of_both_readings() -> None:
    wide = replace(GOOD, width_now=13.2 * MM, width_new_u=1e-6)

    assert work_out(replace(wide, width_now_u=0.15 * MM)).wear is not None
    assert work_out(replace(wide, width_now_u=0.05 * MM)).wear is None
    assert work_out(replace(wide, width_now_u=1e-6, width_new_u=0.15 * MM)).wear is not None


def test_on_the_floor_the_doubt_of_the_ride_is_that_of_the_floor() -> None:
    found = worn(work_out(replace(MIXER, driver_depth=8.0 * MM)))
    cord = 0.5 * MM / sqrt(3)
    depth = 0.27 * MM / sqrt(3)

    assert found.driver.bottoms
    assert found.driver.ride.u == pytest.approx(sqrt(cord**2 + depth**2 + cord**2))
    assert found.driven.ride.u == pytest.approx(sqrt(cord**2 + found.driven.drop_free.u**2))


def warned(**what: object) -> str:
    given = DriveGiven(
        **{
            "driver": 0.080, "driven": 0.180, "section": "A", "length": 0.690, "centres": 0.1312,
            "motor_power": 550.0, "motor_speed": 1400 * pi / 30,
        }
        | what
    )  # fmt: skip
    found = work_out(given)
    return " ".join([*found.warnings, *(found.power.words if found.power else ())])


def test_a_worn_belt_as_wide_as_a_smaller_section_may_be_of_it() -> None:
    """A belt of 10 mm on an A pulley is a worn A or a Z, SPZ or 3V fitted by mistake (belt
    reference, section 3); the widths: DIN 2215 and DIN 7753-1, 10 and 9.7 mm; RMA IP-22, 3/8 in."""
    words = warned(width_now=0.0099, width_now_u=0.0001)
    assert "It is as wide as a new Z, SPZ or 3V belt. Read its mark and measure its height" in words
    assert "as wide as" not in warned(width_now=0.0112, width_now_u=0.0001)


def test_a_short_contact_and_an_idler_are_said() -> None:
    """120 degrees on the small pulley without an idler (common practice, no source)."""
    # 180 - 2 asin((500 - 71) / (2 x 330)) = 99 degrees, worked by hand.
    short = warned(driver=0.071, driven=0.500, length=None, centres=0.330)
    assert "holds only 99° of the small pulley; under 120°" in short
    assert "holds only" not in warned()
    assert "as if it were not there" in warned(idler="outside slack")
    assert "idler" not in warned()


def test_under_the_smallest_pulley_no_number_of_belts_is_made_up() -> None:
    """A B belt on 90 mm, the smallest being 125 mm (DIN 2215): the form of 1955 gives nearly
    nothing there, and would ask for dozens of belts."""
    small = warned(
        section="B", driver=0.090, driven=0.220, length=1.107, centres=0.3, belts=2,
        motor_power=4100.0, motor_speed=3600 * pi / 30, load="extra heavy",
    )  # fmt: skip
    assert "under the smallest for the section: no method is sure there." in small
    assert "it would be" not in small
    assert "it would be 2 belts" in warned()
