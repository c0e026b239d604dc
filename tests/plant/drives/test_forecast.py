"""The wear line against numpy and scipy, its interval against Monte Carlo, and its refusals."""

from math import inf, isinf, nan

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq, curve_fit

from plant.drives import forecast
from plant.drives.errors import OutOfRange, TooFewReadings
from plant.drives.forecast import Outlook

READINGS = [
    (10.0, 0.01300, 0.00010),
    (120.0, 0.01272, 0.00010),
    (230.0, 0.01238, 0.00015),
    (300.0, 0.01221, 0.00008),
]


def test_line_and_covariance_agree_with_numpy_and_scipy() -> None:
    line = forecast.wear_line(READINGS)

    hours, widths, doubts = (np.array(column) for column in zip(*READINGS, strict=True))
    (slope, intercept), covariance = np.polyfit(hours, widths, 1, w=1 / doubts, cov="unscaled")
    assert line.slope == pytest.approx(slope, rel=1e-9)
    assert line.intercept == pytest.approx(intercept, rel=1e-9)
    assert line.var_slope == pytest.approx(covariance[0, 0], rel=1e-9)
    assert line.covariance == pytest.approx(covariance[0, 1], rel=1e-9)
    assert line.var_intercept == pytest.approx(covariance[1, 1], rel=1e-9)
    fitted, other = curve_fit(
        lambda x, a, b: a + b * x, hours, widths, sigma=doubts, absolute_sigma=True, p0=(0.013, 0)
    )
    assert fitted == pytest.approx([line.intercept, line.slope], rel=1e-4)
    assert other[1, 1] == pytest.approx(line.var_slope, rel=1e-3)


def test_chi_square_agrees_with_scipy() -> None:
    line = forecast.wear_line(READINGS)

    hours, widths, doubts = (np.array(column) for column in zip(*READINGS, strict=True))
    residuals = (widths - line.intercept - line.slope * hours) / doubts
    assert line.chi_square == pytest.approx(float((residuals**2).sum()))
    assert line.chance == pytest.approx(scipy.stats.chi2(2).sf(line.chi_square))
    assert line.believable


@given(st.floats(0, 500), st.integers(1, 40))
def test_chi_square_tail_agrees_with_scipy(value: float, freedom: int) -> None:
    found = forecast.chi_square_tail(value, freedom)

    assert found == pytest.approx(scipy.stats.chi2(freedom).sf(value), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(("value", "freedom"), [(-1.0, 2), (nan, 2), (inf, 2), (1.0, 0)])
def test_chi_square_tail_outside_its_range_is_refused(value: float, freedom: int) -> None:
    with pytest.raises(OutOfRange):
        forecast.chi_square_tail(value, freedom)


def test_width_at_agrees_with_the_covariance() -> None:
    line = forecast.wear_line(READINGS)
    width, u = line.width_at(500.0)

    row = np.array([1.0, 500.0])
    matrix = np.array([[line.var_intercept, line.covariance], [line.covariance, line.var_slope]])
    assert width == pytest.approx(line.intercept + 500 * line.slope)
    assert u == pytest.approx(float(np.sqrt(row @ matrix @ row)), rel=1e-6)


def test_interval_is_where_the_doubt_of_the_line_meets_the_limit() -> None:
    line = forecast.wear_line(READINGS)

    found = forecast.when(line, width_limit=0.01106, now=300, u_limit=0.0001, confidence=0.9)

    k = scipy.stats.norm.ppf(0.95)

    def apart(hours: float) -> float:
        width, u = line.width_at(hours)
        return float((width - 0.01106) ** 2 - k**2 * (u**2 + 0.0001**2))

    assert found.hours is not None
    assert found.early == pytest.approx(brentq(apart, 300, found.hours), rel=1e-6)
    assert found.late == pytest.approx(brentq(apart, found.hours, 5000), rel=1e-6)
    assert found.left == pytest.approx(found.hours - 300)
    assert found.outlook is Outlook.AHEAD
    assert "90 in 100" in found.words


def test_interval_holds_the_truth_as_often_as_it_says() -> None:
    random = np.random.default_rng(5)
    hours = np.array([0.0, 100.0, 200.0, 300.0])
    true = 0.0130 - 2.6e-6 * hours
    inside = total = 0
    for _ in range(3000):
        drawn = true + random.normal(0, 0.00007, 4)
        limit = 0.0115 + random.normal(0, 0.00007)
        line = forecast.wear_line(
            [(h, w, 0.00007) for h, w in zip(hours.tolist(), drawn.tolist(), strict=True)]
        )
        found = forecast.when(line, width_limit=limit, now=300, u_limit=0.00007, confidence=0.9)
        if found.early is None or found.late is None:
            continue
        total += 1
        inside += found.early <= (0.0130 - 0.0115) / 2.6e-6 <= found.late
    assert total > 2900
    assert inside / total == pytest.approx(0.9, abs=0.02)


def test_a_date_without_doubt_in_its_line_is_the_crossing() -> None:
    exact = [(0.0, 0.0130, 1e-6), (100.0, 0.0127, 1e-6), (200.0, 0.0124, 1e-6)]

    found = forecast.when(forecast.wear_line(exact), width_limit=0.0115, now=200)

    assert found.hours == pytest.approx(500)
    assert found.late - found.early < 6  # type: ignore[operator]


def test_an_interval_without_end() -> None:
    line = forecast.wear_line([(0, 0.0130, 0.0001), (100, 0.01282, 0.0001), (200, 0.01256, 0.0001)])

    found = forecast.when(line, width_limit=0.0115, now=200, confidence=0.999)
    near = forecast.when(line, width_limit=0.01298, now=200, confidence=0.999)

    assert found.early is not None
    assert 200 < found.early < 600
    assert isinf(found.late or 0)
    assert "no end" in found.words
    assert near.outlook is Outlook.PASSED
    assert near.early == -inf
    assert "long ago" in near.words


def test_a_limit_amid_unsure_readings_is_open_at_both_ends() -> None:
    line = forecast.wear_line([(0, 0.0130, 0.0001), (100, 0.01282, 0.0001), (200, 0.01256, 0.0001)])

    found = forecast.when(line, width_limit=line.width_at(100)[0], now=200, confidence=0.999)

    assert (found.early, found.late) == (-inf, inf)


def test_the_open_end_lies_on_the_side_that_the_readings_cannot_rule_out() -> None:
    line = forecast.wear_line([(0, 0.0130, 0.0001), (100, 0.01282, 0.0001), (200, 0.01256, 0.0001)])
    k = scipy.stats.norm.ppf(0.9995)

    found = forecast.when(line, width_limit=0.0115, now=200, confidence=0.999)

    assert found.early is not None
    for hours in (found.early * 1.001, found.early * 2, found.early * 50):
        width, u = line.width_at(hours)
        assert abs(width - 0.0115) <= k * u
    width, u = line.width_at(found.early * 0.99)
    assert abs(width - 0.0115) > k * u


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_readings_give_no_date(count: int) -> None:
    with pytest.raises(TooFewReadings, match="measure again after"):
        forecast.wear_line(READINGS[:count])


def test_two_readings_are_told_when_to_measure_again() -> None:
    with pytest.raises(TooFewReadings, match="measure again after 110 h"):
        forecast.wear_line(READINGS[:2])


def test_readings_by_rule_too_close_together_give_no_date() -> None:
    rule = 0.00032
    thin = [(0, 0.0130, rule), (50, 0.0128, rule), (100, 0.0127, rule)]

    with pytest.raises(TooFewReadings, match=r"measure again after (\d+) h") as refused:
        forecast.wear_line(thin)

    # What it asks for is enough, if the wear goes on as it did.
    again = int(str(refused.value).split("again after ")[1].split(" h")[0])
    slope = np.polyfit([0, 50, 100], [0.0130, 0.0128, 0.0127], 1)
    line = forecast.wear_line([*thin, (100 + again, float(np.polyval(slope, 100 + again)), rule)])
    assert line.wears


def test_readings_at_one_count_of_hours_give_no_date() -> None:
    with pytest.raises(TooFewReadings, match="all readings were taken at 100 h"):
        forecast.wear_line([(100, 0.0130, 0.0001), (100, 0.0129, 0.0001), (100, 0.0128, 0.0001)])


def test_a_belt_that_does_not_wear_has_no_date_and_says_so() -> None:
    line = forecast.wear_line([(0, 0.0130, 5e-5), (100, 0.01301, 5e-5), (200, 0.01302, 5e-5)])

    found = forecast.when(line, width_limit=0.0115, now=200)

    assert not line.wears
    assert found.outlook is Outlook.NOT_WEARING
    assert found.hours is found.early is found.late is found.left is None
    assert "do not show" in found.words
    with pytest.raises(TooFewReadings, match="do not show"):
        forecast.days_left(found, now=200, hours_a_day=5)


def test_a_belt_that_grows_wider_beyond_doubt_has_no_date() -> None:
    line = forecast.wear_line([(0, 0.0124, 5e-5), (100, 0.0127, 5e-5), (200, 0.0130, 5e-5)])

    assert line.odds_wearing < 1e-6
    found = forecast.when(line, width_limit=0.0115, now=200)
    assert found.outlook is Outlook.NOT_WEARING


def test_a_changed_belt_is_not_a_line() -> None:
    line = forecast.wear_line([*READINGS, (310.0, 0.0130, 0.0001), (400.0, 0.0118, 0.0001)])

    found = forecast.when(line, width_limit=0.0115, now=400)

    assert not line.believable
    assert found.outlook is Outlook.NOT_BELIEVED
    assert "scatter" in found.words


def test_a_limit_behind_is_passed() -> None:
    found = forecast.when(forecast.wear_line(READINGS), width_limit=0.01260, now=400)

    assert found.outlook is Outlook.PASSED
    assert found.left is not None
    assert found.left < 0
    assert "ago" in found.words


@given(st.floats(1e-6, 5e-6), st.floats(1e-5, 1e-4), st.floats(0.2, 5.0), st.floats(-1e-5, 1e-5))
def test_hours_in_another_scale_move_the_date_alike(
    rate: float, u: float, scale: float, off: float
) -> None:
    readings = [(h, 0.013 - rate * h + off * (-1) ** int(h / 100), u) for h in (0, 100, 200, 300)]
    assume(rate * 224 > 4 * u)
    plain = forecast.when(forecast.wear_line(readings), width_limit=0.011, now=300)
    other = forecast.when(
        forecast.wear_line([(h * scale, w, u) for h, w, u in readings]),
        width_limit=0.011,
        now=300 * scale,
    )

    assume(plain.hours is not None)
    assert plain.early is not None
    assert other.hours == pytest.approx(plain.hours * scale, rel=1e-6)  # type: ignore[operator]
    assert other.early == pytest.approx(plain.early * scale, rel=1e-6)


@given(st.floats(0.0105, 0.012), st.floats(0, 0.0005))
def test_a_narrower_limit_is_never_reached_sooner(limit: float, less: float) -> None:
    line = forecast.wear_line(READINGS)

    wide = forecast.when(line, width_limit=limit, now=300)
    narrow = forecast.when(line, width_limit=limit - less, now=300)

    assert wide.hours is not None
    assert narrow.hours is not None
    assert narrow.hours >= wide.hours


def test_order_of_the_readings_does_not_matter() -> None:
    assert forecast.wear_line(READINGS[::-1]) == forecast.wear_line(READINGS)


def first(slot: float | None, bottom: float | None, *, measured: bool = True) -> forecast.First:
    return forecast.which_first(
        forecast.wear_line(READINGS), slot_width=slot, bottom_width=bottom, now=300,
        u_slot=0.0001, u_bottom=0.0003, depth_measured=measured,
    )  # fmt: skip


def test_which_comes_first() -> None:
    found = first(0.01106, 0.0106)

    assert found.first == "take-up"
    assert found.odds_slot_first == pytest.approx(
        scipy.stats.norm.cdf(0.00046 / np.hypot(0.0001, 0.0003))
    )
    assert found.slot is not None
    assert found.slot.words in found.words
    bottom = first(0.0100, 0.0112)
    assert bottom.first == "bottoming"
    assert bottom.bottom is not None
    assert bottom.bottom.words in bottom.words
    assert first(0.01065, 0.0106).first == "either"
    assert "guess" in first(0.01106, 0.0106, measured=False).words


def test_which_comes_first_when_only_one_is_known() -> None:
    assert first(0.011, None, measured=False).first == "take-up"
    assert "guess" not in first(0.011, None, measured=False).words
    assert first(None, 0.011, measured=False).first == "bottoming"
    assert "guess" in first(None, 0.011, measured=False).words
    assert first(None, None).first == "neither"


def test_neither_comes_first_for_a_belt_that_does_not_wear() -> None:
    line = forecast.wear_line([(0, 0.0130, 5e-5), (100, 0.01301, 5e-5), (200, 0.01302, 5e-5)])

    found = forecast.which_first(
        line, slot_width=0.011, bottom_width=0.0105, now=200, depth_measured=True
    )

    assert found.first == "neither"
    assert "do not show" in found.words


def test_limits_without_doubt_are_certain() -> None:
    line = forecast.wear_line(READINGS)

    sure = forecast.which_first(
        line, slot_width=0.011, bottom_width=0.0105, now=300, depth_measured=True
    )
    same = forecast.which_first(
        line, slot_width=0.011, bottom_width=0.011, now=300, depth_measured=True
    )

    assert sure.odds_slot_first == 1
    assert same.first == "either"


def test_days_left() -> None:
    crossing = forecast.when(forecast.wear_line(READINGS), width_limit=0.01106, now=300)
    assert crossing.left is not None
    assert crossing.early is not None
    assert crossing.late is not None

    found = forecast.days_left(crossing, now=300, hours_a_day=5, u_hours_a_day=0.5)

    k = scipy.stats.norm.ppf(0.95) * 0.5
    assert found.likely == pytest.approx(crossing.left / 5)
    assert found.early == pytest.approx((crossing.early - 300) / (5 + k))
    assert found.late == pytest.approx((crossing.late - 300) / (5 - k))
    with pytest.raises(OutOfRange, match="may be nothing"):
        forecast.days_left(crossing, now=300, hours_a_day=1, u_hours_a_day=0.7)
    with pytest.raises(OutOfRange):
        forecast.days_left(crossing, now=300, hours_a_day=0)


@pytest.mark.parametrize(
    "bad", [(-1.0, 0.013, 1e-4), (nan, 0.013, 1e-4), (0.0, 13.0, 1e-4), (0.0, 0.013, 0.0)]
)
def test_a_reading_outside_its_range_is_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(OutOfRange, match="accepted"):
        forecast.wear_line([*READINGS, bad])


@pytest.mark.parametrize(
    "bad", [{"width_limit": 0.0}, {"now": -1.0}, {"u_limit": -1e-4}, {"confidence": 1.0}]
)
def test_a_forecast_outside_its_range_is_refused(bad: dict[str, float]) -> None:
    good = {"width_limit": 0.011, "now": 300.0}
    with pytest.raises(OutOfRange, match="accepted"):
        forecast.when(forecast.wear_line(READINGS), **{**good, **bad})


@pytest.mark.parametrize("now", [nan, inf, -1.0])
def test_days_from_no_hour_are_refused(now: float) -> None:
    crossing = forecast.when(forecast.wear_line(READINGS), width_limit=0.011, now=300)
    with pytest.raises(OutOfRange, match="accepted"):
        forecast.days_left(crossing, now=now, hours_a_day=5)


def test_hours_that_lie_behind_are_said_to_be_ago() -> None:
    line = forecast.wear_line(READINGS)
    ahead = forecast.when(line, width_limit=0.011, now=0)
    assert ahead.hours is not None

    passed = forecast.when(line, width_limit=0.011, now=ahead.hours + 5000)

    assert "-" not in passed.words
    assert passed.words.count(" h ago") == 3


def test_a_line_says_what_it_rests_on() -> None:
    line = forecast.wear_line(READINGS[::-1])

    assert (line.readings, line.first, line.last) == (4, 10.0, 300.0)


@pytest.mark.parametrize("last", [1e-4, 4e-4])
def test_the_hours_to_measure_again_after_are_enough_and_not_far_too_many(last: float) -> None:
    """With one more reading by the last tool, on the line, the date is given."""
    thin = [(0.0, 0.01300, 2e-4), (50.0, 0.01292, 2e-4), (100.0, 0.01286, last)]
    with pytest.raises(TooFewReadings, match="again after ") as refused:
        forecast.wear_line(thin)
    hours = float(str(refused.value).split("again after ")[1].split()[0])
    x, y, u = (np.array(column) for column in zip(*thin, strict=True))
    slope, middle = np.polyfit(x, y, 1, w=1 / u)

    def strength(extra: float) -> float:
        at = np.append(x, 100 + extra)
        _, covariance = np.polyfit(
            at, middle + slope * at, 1, w=1 / np.append(u, last), cov="unscaled"
        )
        return float(abs(slope) / np.sqrt(covariance[0, 0]))

    assert strength(hours) >= 3
    # steps of 15 % and a rounding up to 10 h at most
    assert strength((hours - 10) / 1.15 - 1) < 3


@pytest.mark.parametrize(
    ("hours", "said"),
    [(0.2, 1), (17.2, 18), (19.9, 20), (20.1, 25), (96, 100), (100.1, 110), (104, 110), (250, 250)],
)
def test_hours_are_rounded_up_as_a_fitter_would_say_them(hours: float, said: int) -> None:
    assert forecast._rounded(hours) == said


def test_a_doubt_over_five_millimetres_and_a_day_over_24_hours_are_refused() -> None:
    with pytest.raises(OutOfRange, match="accepted"):
        forecast.wear_line([*READINGS, (310.0, 0.0122, 0.006)])
    crossing = forecast.when(forecast.wear_line(READINGS), width_limit=0.011, now=300)
    assert forecast.days_left(crossing, now=300, hours_a_day=24).likely > 0
    with pytest.raises(OutOfRange, match="accepted"):
        forecast.days_left(crossing, now=300, hours_a_day=24.5)
