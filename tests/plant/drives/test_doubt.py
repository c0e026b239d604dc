"""Doubt against the uncertainties library, Monte Carlo and scipy's distributions."""

from math import exp, inf, nan, sin, sqrt, tan

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat
from uncertainties.umath import tan as utan

from plant.drives.doubt import (
    TOOLS,
    Doubtful,
    agree,
    average,
    odds_words,
    probability_above,
    probability_below,
    propagate,
    rectangular,
    tool,
)
from plant.drives.errors import DriveError, OutOfRange, TooFewReadings
from plant.drives.facts import Trust


def _drop(*, new: float, now: float, angle: float) -> float:
    return (new - now) / (2 * tan(angle / 2))


VALUES = {"new": 13.0, "now": 10.4, "angle": 0.593}
DOUBTS = {"new": 0.1, "now": 0.32, "angle": 0.01}


def test_odds_are_never_told_as_sure() -> None:
    told = [odds_words(share) for share in (0.0, 0.0099, 0.01, 0.5, 0.99, 0.9901, 1.0)]
    assert told == ["under 1 %", "under 1 %", "1 %", "50 %", "99 %", "over 99 %", "over 99 %"]


def test_carried_doubt_agrees_with_the_uncertainties_library() -> None:
    found = propagate(_drop, values=VALUES, uncertainties=DOUBTS)

    new, now, angle = (ufloat(VALUES[name], DOUBTS[name]) for name in ("new", "now", "angle"))
    other = (new - now) / (2 * utan(angle / 2))
    assert found.value == pytest.approx(other.nominal_value, rel=1e-12)
    assert found.u == pytest.approx(other.std_dev, rel=2e-4)


def test_carried_doubt_agrees_with_monte_carlo() -> None:
    random = np.random.default_rng(20260302)
    drawn = {name: random.normal(VALUES[name], DOUBTS[name], 400_000) for name in VALUES}
    results = (drawn["new"] - drawn["now"]) / (2 * np.tan(drawn["angle"] / 2))

    found = propagate(_drop, values=VALUES, uncertainties=DOUBTS)

    assert found.u == pytest.approx(results.std(), rel=0.01)


def test_an_input_at_the_end_of_its_range_is_moved_to_the_other_side_only() -> None:
    def half_line(*, x: float) -> float:
        if x > 1:
            raise OutOfRange("x")
        return 3 * x

    assert propagate(half_line, values={"x": 1.0}, uncertainties={"x": 0.1}).u == pytest.approx(0.3)
    upside = propagate(lambda *, x: half_line(x=-x), values={"x": -1.0}, uncertainties={"x": 0.1})
    assert upside.u == pytest.approx(0.3)


def test_a_sum_that_holds_on_neither_side_is_refused() -> None:
    def point(*, x: float) -> float:
        if x != 1:
            raise OutOfRange("x")
        return x

    with pytest.raises(OutOfRange, match="either side"):
        propagate(point, values={"x": 1.0}, uncertainties={"x": 0.1})


@pytest.mark.parametrize("doubts", [{"y": 1.0}, {"x": -1.0}, {"x": nan}, {"x": inf}])
def test_a_doubt_without_input_or_below_nothing_is_refused(doubts: dict[str, float]) -> None:
    with pytest.raises(OutOfRange, match="doubt"):
        propagate(lambda *, x: x, values={"x": 1.0}, uncertainties=doubts)


def test_exact_inputs_give_an_exact_result() -> None:
    assert propagate(lambda *, x: 2 * x, values={"x": 4.0}, uncertainties={}) == (8.0, 0.0)
    assert propagate(lambda *, x: 2 * x, values={"x": 4.0}, uncertainties={"x": 0.0}).u == 0.0


@given(st.floats(0.01, 100), st.floats(0.001, 0.1))
def test_doubt_scales_with_the_unit(scale: float, u: float) -> None:
    plain = propagate(lambda *, x, y: x * y, values={"x": 2, "y": 3}, uncertainties={"x": u})
    scaled = propagate(
        lambda *, x, y: x * y,
        values={"x": 2 * scale, "y": 3},
        uncertainties={"x": u * scale},
    )

    assert scaled.u == pytest.approx(plain.u * scale)


def test_a_steel_rule_is_good_to_a_third_of_a_millimetre() -> None:
    # 0.25 mm reading and 0.5 mm edge, both rectangular: by hand sqrt((0.0625 + 0.25)/3) mm.
    assert tool("steel rule").value == pytest.approx(0.3227e-3, abs=0.0001e-3)
    assert tool("steel rule").trust is Trust.PRACTICE


def test_every_tool_is_sourced_and_better_tools_are_better() -> None:
    assert all(fact.value > 0 and fact.source for fact in TOOLS.values())
    assert TOOLS["calliper"].value < TOOLS["steel rule"].value < TOOLS["tape"].value
    with pytest.raises(OutOfRange, match="accepted: steel rule"):
        tool("thumb")


def test_rectangular_doubt_is_the_spread_of_a_flat_distribution() -> None:
    assert rectangular(half_width=0.5) == pytest.approx(scipy.stats.uniform(-0.5, 1).std())
    for bad in (-1.0, nan, inf):
        with pytest.raises(OutOfRange):
            rectangular(half_width=bad)


def test_average_of_repeated_readings() -> None:
    readings = [12.1, 12.4, 11.9, 12.2]

    found = average(readings, tool_floor=0.1)

    student = scipy.stats.t(3).ppf(0.5 + 0.6827 / 2)  # 1.197; the guide prints 1.20
    scatter = student * np.std(readings, ddof=1) / 2
    assert found.value == pytest.approx(np.mean(readings))
    assert found.u == pytest.approx(sqrt(scatter**2 + 0.1**2), rel=0.01)


@pytest.mark.parametrize("n", [2, 3, 5, 8, 15, 20])
def test_student_factor_agrees_with_scipy(n: int) -> None:
    readings = [10.0 + (-1) ** i for i in range(n)]
    scatter = np.std(readings, ddof=1) / sqrt(n)

    found = average(readings, tool_floor=0.0)

    assert found.u / scatter == pytest.approx(scipy.stats.t(n - 1).ppf(0.84135), abs=0.006)


def test_one_reading_has_the_tools_doubt() -> None:
    assert average([12.0], tool_floor=0.32) == (12.0, 0.32)


def test_repeating_never_beats_the_part_that_the_tool_does_the_same_way() -> None:
    found = average([12.0] * 50, tool_floor=0.5, shared=0.3)

    assert 0.3 < found.u < 0.32
    # Random part of the tool: 0.4 by Pythagoras, over fifty readings.
    assert found.u == pytest.approx(sqrt(0.3**2 + 0.4**2 / 50))


def test_averages_that_cannot_be_taken_are_refused() -> None:
    with pytest.raises(TooFewReadings):
        average([], tool_floor=0.1)
    with pytest.raises(OutOfRange, match="not a number"):
        average([1.0, nan], tool_floor=0.1)
    with pytest.raises(OutOfRange, match="shared"):
        average([1.0, 2.0], tool_floor=0.1, shared=0.2)
    with pytest.raises(OutOfRange):
        average([1.0], tool_floor=-0.1)


@given(st.floats(-10, 10), st.floats(-10, 10), st.floats(0.01, 10))
def test_odds_agree_with_scipy(limit: float, mean: float, u: float) -> None:
    found = probability_below(limit=limit, mean=mean, u=u)

    assert found == pytest.approx(scipy.stats.norm(mean, u).cdf(limit), abs=1e-12)
    assert found + probability_above(limit=limit, mean=mean, u=u) == pytest.approx(1)


def test_small_odds_keep_their_figures() -> None:
    assert probability_above(limit=6, mean=0, u=1) == pytest.approx(
        scipy.stats.norm.sf(6), rel=1e-6
    )


def test_exact_figures_are_certain() -> None:
    assert probability_below(limit=1, mean=0, u=0) == 1
    assert probability_below(limit=0, mean=1, u=0) == 0
    assert probability_below(limit=1, mean=1, u=0) == 0.5
    assert probability_below(limit=inf, mean=1, u=1) == 1
    assert probability_below(limit=-inf, mean=1, u=1) == 0


@pytest.mark.parametrize(
    ("limit", "mean", "u"), [(nan, 0, 1), (0, nan, 1), (0, inf, 1), (0, 0, -1), (0, 0, nan)]
)
def test_odds_of_no_number_are_refused(limit: float, mean: float, u: float) -> None:
    with pytest.raises(DriveError):
        probability_below(limit=limit, mean=mean, u=u)


def test_two_figures_agree_within_twice_their_joint_doubt() -> None:
    assert agree(Doubtful(10, 0.3), Doubtful(10.9, 0.4))
    assert not agree(Doubtful(10, 0.3), Doubtful(11.1, 0.4))
    assert agree(Doubtful(10, 0), Doubtful(10, 0))
    assert Doubtful(1, 0.25).expanded == 0.5
    with pytest.raises(OutOfRange):
        agree(Doubtful(1, 1), Doubtful(1, 1), times=0)


def test_a_curved_sum_is_carried_close_to_its_true_spread() -> None:
    found = propagate(lambda *, x: exp(sin(x)), values={"x": 1.0}, uncertainties={"x": 0.05})

    drawn = np.random.default_rng(7).normal(1.0, 0.05, 400_000)
    assert found.u == pytest.approx(np.exp(np.sin(drawn)).std(), rel=0.01)


@pytest.mark.parametrize("readings", [[nan], [inf, 1.0], [1e308, -1e308], [1.0, 1e10]])
def test_readings_too_large_for_a_sum_are_refused(readings: list[float]) -> None:
    with pytest.raises(OutOfRange):
        average(readings, tool_floor=0.1)
    with pytest.raises(OutOfRange):
        average([1.0, 2.0], tool_floor=1e308)
