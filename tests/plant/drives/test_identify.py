"""Which belt a blank one is; the odds worked again with general distributions."""

from math import log, pi, radians

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import exponnorm, norm

from plant.drives import identify as identify_module
from plant.drives.errors import OutOfRange, PulleysOverlap, TooFewReadings
from plant.drives.identify import PRIORS, TOOLS, Witness, doubt_after, identify
from plant.drives.lengths import System, outside_from_datum, stocked
from plant.drives.sections import Family, section

ISO, RMA = System.ISO_DIN, System.RMA
RULE, CALLIPER, TAPE = 0.0003, 0.0003, 0.002


def measured(width, height, outside):
    return {
        "top width": (width, CALLIPER),
        "height": (height, CALLIPER),
        "outside length": (outside, TAPE),
    }


def test_a_narrow_looking_belt_of_full_height_is_a_worn_a_not_a_new_z():
    # a 10.4 mm top with 8 mm height: worn A (13 x 8), not Z (10 x 6)
    found = identify(measured(0.0104, 0.008, 0.711), system=ISO, cogged=False)

    assert found.candidates[0].mark == "A26"
    z = sum(candidate.odds for candidate in found.candidates if candidate.section == "Z")
    assert found.candidates[0].odds > 20 * z
    # and with 6 mm height it is the Z
    found = identify(measured(0.0100, 0.006, 0.698), system=ISO, cogged=False)
    assert found.candidates[0].section == "Z"


def test_a_belt_is_never_wider_than_new():
    # 1.5 mm over nominal: far out; 1.5 mm under: ordinary wear
    wide = identify(measured(0.0145, 0.008, 0.711), system=ISO, cogged=False)
    worn = identify(measured(0.0115, 0.008, 0.711), system=ISO, cogged=False)

    assert wide.doubtful or wide.candidates[0].section != "A"
    assert worn.candidates[0].mark == "A26"
    assert not worn.doubtful


def test_a_new_belt_is_judged_by_both_sides_of_its_width():
    used = identify(measured(0.0104, 0.008, 0.713), system=ISO, cogged=False)
    new = identify(measured(0.0097, 0.008, 0.713), system=ISO, cogged=False, used=False)

    assert used.candidates[0].section == "A"
    assert new.candidates[0].section in ("SPZ", "3V")


def test_odds_are_bayes_rule_with_textbook_distributions():
    width, height, outside = 0.0122, 0.0081, 0.812
    got = identify(measured(width, height, outside), system=ISO, cogged=False, most=50)
    ranked = {candidate.mark: candidate.odds for candidate in got.candidates}

    def likelihood(item):
        belt = section(item.section)
        widths = {size.width.value for size in belt.sizes}
        heights = {size.height.value for size in belt.sizes}
        error = (CALLIPER**2 + 0.0002**2) ** 0.5
        wear = 0.04 * max(widths)
        wide = sum(
            exponnorm.pdf(w - width, wear / error, loc=0, scale=error) for w in widths
        ) / len(widths)
        tall = sum(norm.pdf(height, h, (CALLIPER**2 + 0.0004**2) ** 0.5) for h in heights) / len(
            heights
        )
        over, under = (0.015, 0.007) if item.datum <= 0.8 else (0.017, 0.008)
        nominal = outside_from_datum(item.section, item.datum)
        spread = ((over + under) / 4) ** 2
        long = norm.pdf(outside, nominal + (over - under) / 2, (TAPE**2 + spread) ** 0.5)
        return wide * tall * long

    listed = {item.mark: item for item in stocked("A", system=ISO)}
    # two metric marks of one section, so that only the measurements differ
    one, other = listed["A 790 Ld"], listed["A 700 Ld"]
    expected = likelihood(one) / likelihood(other)
    assert log(ranked["A 790 Ld"] / ranked["A 700 Ld"]) == pytest.approx(log(expected), rel=1e-6)


@pytest.mark.parametrize("loss", [-0.003, -0.001, 0.0, 0.0005, 0.002, 0.01])
def test_loss_of_width_is_an_exponential_with_a_normal_error(loss):
    error, wear = 0.0004, 0.0005

    got = identify_module._log_worn(loss, error, wear)

    assert got == pytest.approx(exponnorm.logpdf(loss, wear / error, scale=error), rel=1e-6)


def test_the_far_tail_stays_finite():
    value = identify_module._log_worn(-0.05, 0.0001, 0.0005)

    # a normal tail of 500 standard errors
    assert value == pytest.approx(-0.5 * 500**2, rel=1e-3)


def test_the_drive_is_a_second_witness_for_the_length():
    alone = {"top width": (0.0129, RULE), "height": (0.008, RULE)}
    drive = Witness(small=0.08, large=0.18, closest=0.276, farthest=0.30, pulley="A")

    found = identify(alone, system=ISO, drive=drive, cogged=False)

    # open drives of 80 and 180 mm at 276 to 300 mm take about 970 to 1018 mm
    for candidate in found.candidates[:3]:
        assert 0.955 < (candidate.datum or 0) < 1.03 or candidate.section == "4L"
    assert found.candidates[0].section == "A"


def test_a_pulley_cut_for_another_section_speaks_against():
    between = measured(0.0098, 0.008, 0.816)
    drive = {"small": 0.08, "large": 0.1, "closest": 0.22, "farthest": 0.29}

    spz = identify(between, system=ISO, drive=Witness(**drive, pulley="SPZ"), cogged=False)
    a = identify(between, system=ISO, drive=Witness(**drive, pulley="A"), cogged=False)

    def odds(found, code):
        return sum(c.odds for c in found.candidates if c.section == code)

    assert odds(spz, "SPZ") > odds(a, "SPZ")
    assert odds(a, "A") > odds(spz, "A")


def test_plain_and_cogged_are_parted_by_looking():
    found = identify(measured(0.0129, 0.008, 0.711), system=ISO)

    assert not found.settled
    assert found.split is not None
    assert found.split.quantity == "cogs"
    assert all(
        section(c.section).cogged
        for c in identify(measured(0.0129, 0.008, 0.711), system=ISO, cogged=True).candidates
    )


def test_the_missing_height_is_what_parts_a_worn_a_from_a_z():
    found = identify(
        {"top width": (0.0103, RULE), "outside length": (0.7035, 0.004)}, system=ISO, cogged=False,
        drive=Witness(small=0.08, large=0.1, closest=0.16, farthest=0.24, pulley="A"),
    )  # fmt: skip

    assert {c.section for c in found.candidates[:6]} >= {"A"}
    if found.split is not None:
        assert found.split.quantity in {*TOOLS, "groove width"}
        assert found.split.apart >= 1


def test_two_names_of_one_belt_do_not_unsettle_it():
    # A48 and A 1250 Ld lie a millimetre apart
    found = identify(measured(0.0129, 0.008, 1.272), system=ISO, cogged=False)

    assert found.settled
    assert {c.mark for c in found.candidates[:2]} == {"A48", "A 1250 Ld"}


def test_a_narrow_belt_is_told_by_its_height():
    found = identify(measured(0.0164, 0.0132, 2.023), system=ISO, cogged=False)

    assert found.candidates[0].mark == "SPB 2000"
    assert found.settled


def test_nothing_held_comes_near():
    found = identify(measured(0.0164, 0.0232, 2.023), system=ISO)

    assert found.doubtful
    assert not found.settled
    assert "measure that again" in found.words


def test_priors_are_stated_with_every_answer():
    words = identify(measured(0.0129, 0.008, 0.711), system=ISO).words

    assert "common practice, no source" in words
    assert all(value > 0 for value in PRIORS.values())
    assert Family.RIBBED not in PRIORS


@settings(deadline=None, max_examples=60)
@given(st.floats(0.006, 0.04), st.floats(0.004, 0.025), st.floats(0.4, 5))
def test_odds_are_shares_in_falling_order(width, height, outside):
    found = identify(measured(width, height, outside), system=RMA, most=50)

    odds = [candidate.odds for candidate in found.candidates]
    assert odds == sorted(odds, reverse=True)
    assert 0 <= sum(odds) <= 1 + 1e-9
    assert all(0 <= value <= 1 for value in odds)


@settings(deadline=None, max_examples=60)
@given(st.integers(22, 100), st.floats(0, 1.5), st.sampled_from([ISO, RMA]))
def test_a_belt_made_to_its_name_is_found_again(number, loss_mm, system):
    outside = number * 0.0254 + 2 * pi * 0.008
    found = identify(
        measured(0.013 - loss_mm / 1000, 0.008, outside + 0.004), system=system, cogged=False
    )

    assert f"A{number}" in [candidate.mark for candidate in found.candidates]


def test_refusals():
    good = measured(0.0129, 0.008, 0.711)
    with pytest.raises(TooFewReadings, match="length"):
        identify({"top width": (0.013, RULE)}, system=ISO)
    with pytest.raises(TooFewReadings, match="width or the height"):
        identify({"outside length": (0.7, TAPE)}, system=ISO)
    with pytest.raises(OutOfRange, match="accepted: top width"):
        identify({**good, "weight": (1.0, 0.1)}, system=ISO)
    for bad in (float("nan"), -0.01, 0.5):
        with pytest.raises(OutOfRange):
            identify({**good, "top width": (bad, RULE)}, system=ISO)
    with pytest.raises(OutOfRange):
        identify({**good, "top width": (0.013, 0.0)}, system=ISO)
    with pytest.raises(OutOfRange):
        identify({**good, "belt angle": (radians(90), 0.02)}, system=ISO)
    with pytest.raises(PulleysOverlap):
        identify(good, system=ISO, drive=Witness(0.1, 0.2, 0.1, 0.2))
    with pytest.raises(OutOfRange):
        identify(good, system=ISO, most=0)


@pytest.mark.parametrize(("gap", "error"), [(-0.0004, 0.0003), (0.0, 0.002), (0.003, 0.0011)])
def test_densities_and_shares_of_the_bell_agree_with_scipy(gap, error):
    assert identify_module._log_normal(gap, error) == pytest.approx(norm.logpdf(gap, scale=error))
    assert identify_module._below(gap, error) == pytest.approx(norm.cdf(gap, scale=error))


def test_new_belts_lie_about_the_middle_of_their_tolerance():
    # DIN 2215 (second hand), over 630 to 800 mm: +15/-7, so 4 mm over the name, two sigma 11 mm
    for system in (ISO, RMA):
        assert identify_module._give("A", 0.69, 0.71, system) == pytest.approx((0.004, 0.0055))
    # no tolerance is held over 2.5 m, nor for light duty: half a per cent
    assert identify_module._give("A", 3.0, 3.02, ISO) == pytest.approx((0.0, 0.0151))
    assert identify_module._give("4L", None, 0.66, RMA) == pytest.approx((0.0, 0.0033))


def belt(mark, system=ISO):
    return next(one for one in identify_module._belts(system) if one.mark == mark)


def test_misses_are_counted_from_the_nearest_printed_size():
    # B is 17 mm wide in DIN and 16.7 in inches; 11, 11.1 and 10.3 mm high
    readings = {
        "top width": (0.0170, 0.0003), "height": (0.0103, 0.0003), "belt angle": (0.72, 0.02),
    }  # fmt: skip
    _, misses = identify_module._score(belt("B42"), readings, used=False)
    assert dict(misses) == pytest.approx(
        {
            "top width": 0.0,
            "height": 0.0,
            "belt angle": (0.72 - radians(40)) / (0.02**2 + 0.035**2) ** 0.5,
        },
        abs=1e-9,
    )
    wide, _ = readings["top width"]
    for off in (0.0005, -0.0009):
        readings["top width"] = (wide + off, 0.0003)
        _, misses = identify_module._score(belt("B42"), readings, used=False)
        gap = off if off > 0 else -0.0006  # 16.1 mm lies nearer to 16.7
        assert dict(misses)["top width"] == pytest.approx(gap / (0.0003**2 + 0.0002**2) ** 0.5)


def test_used_belts_miss_only_past_a_worn_out_quarter_of_their_width():
    for width, miss in ((0.0126, 0.0), (0.0120, 0.00045)):
        readings = {"top width": (width, 0.0003)}
        _, misses = identify_module._score(belt("B42"), readings, used=True)
        expected = -max(0.0167 - width - 0.25 * 0.017, 0.0) / (0.0003**2 + 0.0002**2) ** 0.5
        assert dict(misses)["top width"] == pytest.approx(expected, abs=1e-9)
        assert abs(expected) == pytest.approx(miss / (0.0003**2 + 0.0002**2) ** 0.5, abs=1e-9)


def test_a_candidate_carries_its_three_lengths():
    found = identify(measured(0.0129, 0.008, 0.711), system=ISO, cogged=False).candidates[0]

    # 26 in round the inside, DIN 30 mm more at the cords, a belt 8 mm high
    assert found.mark == "A26"
    assert (found.inside, found.datum) == pytest.approx((0.6604, 0.6904))
    assert found.outside == pytest.approx(0.6604 + 2 * pi * 0.008)


def test_the_next_measurement_by_hand():
    a26, a27, spz, ax = belt("A26"), belt("A27"), belt("SPZ 710"), belt("AX26")
    # rims by ISO 4183: 11 + 2 x 2.75 tan 19 and 8.5 + 2 x 2.0 tan 19; good to half a millimetre
    rims = 0.011 + 0.0055 * 0.34432761, 0.0085 + 0.004 * 0.34432761
    split = identify_module._best_split(a26, spz, {}, pulley_known=False)
    assert split.quantity == "groove width"
    assert (split.first, split.second) == pytest.approx(rims)
    assert split.apart == pytest.approx((rims[0] - rims[1]) / 0.0005)
    # with the pulley known the belt's own width is next: 12.7 to 13 against 9.7 to 10
    split = identify_module._best_split(a26, spz, {}, pulley_known=True)
    assert split.quantity == "top width"
    assert (split.first, split.second) == pytest.approx((0.01285, 0.00985))
    spread = 0.0002 + 0.04 * 0.01285
    assert split.apart == pytest.approx(0.003 / (0.0003**2 + spread**2) ** 0.5)
    # taken with a tool twice as coarse, a second time is worth sqrt(3/4) of it
    split = identify_module._best_split(a26, spz, {"top width": (0.012, 0.0006)}, pulley_known=True)
    assert split.apart == pytest.approx(0.75**0.5 * 0.003 / (0.0003**2 + spread**2) ** 0.5)
    # an inch of length, each belt out by 5.5 mm on its own and the tape by 2 mm
    split = identify_module._best_split(a26, a27, {}, pulley_known=True)
    assert split.quantity == "outside length"
    assert split.second - split.first == pytest.approx(0.0254)
    assert split.apart == pytest.approx(0.0254 / (0.002**2 + 2 * 0.0055**2) ** 0.5)
    split = identify_module._best_split(a26, ax, {}, pulley_known=True)
    assert (split.quantity, split.first, split.second, split.apart) == ("cogs", 0.0, 0.0, 10.0)
    assert "cogs or smooth" in split.words
    assert identify_module._best_split(a26, a26, {}, pulley_known=True) is None


def test_the_drive_gives_odds_that_the_belt_is_taut_within_the_slot():
    drive = Witness(small=0.08, large=0.18, closest=0.25, farthest=0.35)
    one = belt("A 990 Ld")
    # DIN 2215 (second hand), 900 to 1250 mm: +19/-10, so 4.5 mm over the name and 7.25 mm sigma
    error = (0.004**2 + 0.00725**2) ** 0.5
    for ends in ((0.99, 1.2), (0.8, 1.0), (0.985, 1.005)):
        expected = norm.cdf((0.9945 - ends[0]) / error) * norm.cdf((ends[1] - 0.9945) / error)
        found = identify_module._drive_score(one, drive, ends, None)
        assert found == pytest.approx(log(expected))
        wrong = identify_module._drive_score(one, drive, ends, frozenset({"B"}))
        assert wrong - found == pytest.approx(log(0.03))


@settings(max_examples=25)
@given(apart=st.floats(0.1, 8), share=st.floats(0.05, 0.95))
def test_the_doubt_after_a_measurement_is_the_integral_of_the_wrong_side(apart, share):
    # scipy.integrate.quad over every outcome: the smaller of the two joint densities is the doubt
    expected, _ = quad(
        lambda x: min(share * norm.pdf(x), (1 - share) * norm.pdf(x, apart)), -12, 20, limit=200
    )
    before, after = doubt_after(apart=apart, first=share, second=1 - share)
    assert before == pytest.approx(min(share, 1 - share))
    assert after == pytest.approx(expected, abs=1e-6)


def test_two_that_do_not_lie_apart_are_told_apart_by_nothing():
    assert doubt_after(apart=0, first=0.4, second=0.2) == (pytest.approx(1 / 3),) * 2
    with pytest.raises(OutOfRange):
        doubt_after(apart=1, first=0, second=0.2)
