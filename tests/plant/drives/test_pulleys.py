"""Pulleys out of line and worn grooves: against vectors, trials and the limits of the trade."""

from math import degrees, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.drives.doubt import Doubtful
from plant.drives.errors import OutOfRange
from plant.drives.facts import Trust
from plant.drives.pulleys import ALIGNMENT, DISH, Lies, alignment, groove

MM = 1e-3


@given(
    near=st.floats(0, 8), far=st.floats(0, 8), across=st.floats(60, 400), span=st.floats(80, 900)
)
def test_the_worst_angle_is_that_of_plain_vectors(
    near: float, far: float, across: float, span: float
) -> None:
    found = alignment(
        near=near * MM, far=far * MM, across=across * MM, span=span * MM, u_gap=0.1 * MM
    )

    belt = np.array([span, (near + far) / 2])
    plane = np.array([across, far - near])

    def between(a: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> float:
        return abs(float(np.arctan2(a[0] * belt[1] - a[1] * belt[0], a @ belt)))

    by_hand = max(between(np.array([1.0, 0.0])), between(plane))
    assert found.worst.value == pytest.approx(by_hand, abs=1e-12)


def test_the_odds_agree_with_trials_of_the_two_gaps() -> None:
    given_ = {"near": 1.0 * MM, "far": 2.2 * MM, "across": 120 * MM, "span": 180 * MM}
    found = alignment(**given_, u_gap=0.3 * MM)
    dice = np.random.default_rng(5)
    near, far = (dice.normal(given_[name], 0.3 * MM, 200_000) for name in ("near", "far"))

    fleet = np.arctan((near + far) / 2 / given_["span"])
    worst = np.maximum(abs(fleet), abs(np.arctan((far - near) / given_["across"]) - fleet))

    # The larger of two is not bell-shaped; by this much the straight sum of doubts may be out.
    assert found.odds == pytest.approx(float((worst > ALIGNMENT.value).mean()), abs=0.08)
    assert found.lies == Lies.UNSURE


@pytest.mark.parametrize(
    ("far", "lies", "words"),
    [
        (0.2, "within", "are in line"),
        (3.0, "over", "Line them up before a belt is fitted"),
        (0.9, "not certain", "Measure with feelers"),
    ],
)
def test_what_is_out_of_line_is_said(far: float, lies: str, words: str) -> None:
    found = alignment(near=0.0, far=far * MM, across=80 * MM, span=120 * MM, u_gap=0.1 * MM)

    assert found.lies == lies
    assert words in found.words
    assert "0.50° (common practice, no source)" in found.words


def test_a_gap_below_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange, match="near gap"):
        alignment(near=-1e-3, far=0, across=0.1, span=0.2, u_gap=0)


@pytest.mark.parametrize(
    ("dish", "step", "worn", "words"),
    [
        (0.3, False, False, "no step"),
        (1.2, None, True, "Change the pulley"),
        (0.8, None, False, "gauge it again"),
        (None, True, True, "a step in the flank"),
    ],
)
def test_a_groove_is_worn_past_the_limit_of_the_trade_or_with_a_step(
    dish: float | None, step: bool | None, worn: bool, words: str
) -> None:
    found = groove(
        name="motor pulley",
        dish=None if dish is None else Doubtful(dish * MM, 0.08 * MM),
        step=step,
    )

    # 0.8 mm, 1/32 in of dish a flank: common practice, no source.
    assert (DISH.value, DISH.trust) == (0.8 * MM, Trust.PRACTICE)
    assert found.worn is worn
    assert words in found.words


def test_the_limit_may_come_from_elsewhere() -> None:
    given_ = {"near": 0.0, "far": 1.2 * MM, "across": 80 * MM, "span": 120 * MM}
    strict = alignment(**given_, u_gap=1e-5, limit=ALIGNMENT)
    found = alignment(
        **given_,
        u_gap=1e-5,
        limit=type(ALIGNMENT)(pi / 180, "a sheet of one's own", Trust.SEEN),
    )

    assert (strict.lies, found.lies) == ("over", "within")
    assert degrees(found.worst.value) == pytest.approx(0.573, abs=0.001)
