"""Electrical readings against the Great Britain rule sheet."""

import json
from datetime import date
from math import inf, nan
from pathlib import Path

import pytest

from maintenance.rules.electrical import (
    RcdProfile,
    TripRow,
    earth_path_limit,
    instrument_refusal,
    judge_earth_path,
    judge_least,
    judge_most,
    judge_trip,
    outcome,
)
from maintenance.rules.sheet import RuleSheet, read

FILE = Path(__file__).parents[3] / "fixtures" / "reference" / "rule_sheet_gb.json"


@pytest.fixture(scope="module")
def sheet() -> RuleSheet:
    return read(json.loads(FILE.read_text()))


# Tripping times at 1, 2 and 5 times rated residual current, trade article quoting BS EN 61008-1,
# BS EN 61009-1, BS 4293 and BS 7288 (second hand): general 300, 150, 40 ms; S type 500, 200,
# 150 ms; socket-outlet 200 and 40 ms.
@pytest.mark.parametrize(
    ("key", "factor", "longest"),
    [
        ("general_61008", 1, 300),
        ("general_61008", 2, 150),
        ("general_61008", 5, 40),
        ("delayed_61008", 1, 500),
        ("delayed_61008", 2, 200),
        ("delayed_61008", 5, 150),
        ("socket_7288", 1, 200),
        ("socket_7288", 5, 40),
    ],
)
def test_the_longest_trip_time_is_the_published_one(
    sheet: RuleSheet, key: str, factor: float, longest: float
) -> None:
    profile = sheet.profile(key)

    assert judge_trip(profile, factor=factor, trip_ms=longest).passed
    assert not judge_trip(profile, factor=factor, trip_ms=longest + 0.1).passed
    assert not judge_trip(profile, factor=factor, trip_ms=None).passed


def test_230_ms_passes_one_device_and_fails_another(sheet: RuleSheet) -> None:
    general = judge_trip(sheet.profile("general_61008"), factor=1, trip_ms=230)
    socket = judge_trip(sheet.profile("socket_7288"), factor=1, trip_ms=230)

    assert general.passed
    assert general.reason == "230 ms is within the limit, at most 300 ms."
    assert not socket.passed
    assert socket.reason == "230 ms is longer than 200 ms."
    assert "BS 7288" in socket.source
    assert socket.trust == "secondary"


# 130 ms at rated current for the S type: BS EN 61008-1, second hand.
@pytest.mark.parametrize(("trip_ms", "passed"), [(129.9, False), (130, True)])
def test_a_delayed_device_may_not_be_too_quick(
    sheet: RuleSheet, trip_ms: float, passed: bool
) -> None:
    assert judge_trip(sheet.profile("delayed_61008"), factor=1, trip_ms=trip_ms).passed is passed


@pytest.mark.parametrize("key", ["general_61008", "socket_7288", "portable_7071"])
def test_half_the_rated_current_must_not_trip_it(sheet: RuleSheet, key: str) -> None:
    profile = sheet.profile(key)

    assert judge_trip(profile, factor=0.5, trip_ms=None).passed
    assert judge_trip(profile, factor=0.5, trip_ms=None, held_ms=2000).passed
    tripped = judge_trip(profile, factor=0.5, trip_ms=28)
    assert not tripped.passed
    assert tripped.reason == "It tripped after 28 ms; it must not within 2000 ms."


def test_a_current_not_held_for_long_enough_is_no_pass(sheet: RuleSheet) -> None:
    with pytest.raises(ValueError, match="2000 ms are needed"):
        judge_trip(sheet.profile("general_61008"), factor=0.5, trip_ms=None, held_ms=1000)


@pytest.mark.parametrize("trip_ms", [-1, 2000.1, inf, nan])
def test_a_trip_time_out_of_range_is_refused(sheet: RuleSheet, trip_ms: float) -> None:
    with pytest.raises(ValueError, match="0 to 2000 ms"):
        judge_trip(sheet.profile("general_61008"), factor=1, trip_ms=trip_ms)


def test_a_factor_without_a_row_is_refused(sheet: RuleSheet) -> None:
    with pytest.raises(ValueError, match=r"limits at 0\.5, 1, 5 times, not at 2"):
        judge_trip(sheet.profile("socket_7288"), factor=2, trip_ms=20)


def test_a_row_without_its_limit_is_refused() -> None:
    with pytest.raises(ValueError, match="needs a limit"):
        RcdProfile(key="x", name="x", rows=(TripRow(factor=1, must_trip=True),))
    with pytest.raises(ValueError, match="needs a time"):
        TripRow(factor=0.5, must_trip=False)


def test_the_earth_path_limit_of_a_ten_metre_lead(sheet: RuleSheet) -> None:
    # IET Code of Practice, 0.1 ohm + R with 1.5 mm2 (second hand): 0.233 ohm.
    assert earth_path_limit(sheet.earth, length_m=10, core_mm2=1.5) == pytest.approx(0.233)
    assert earth_path_limit(sheet.earth, length_m=0, core_mm2=1.5) == 0.1


def test_conductor_figures_agree_with_the_resistivity_of_copper(sheet: RuleSheet) -> None:
    # Annealed copper, 1/58 ohm mm2/m at 20 degrees C (IEC 60028). A flexible conductor is of
    # smaller true section and longer lay, so that its largest resistance lies 10 to 20 % above.
    for core, per_m in sheet.earth.ohm_per_m.items():
        assert 1.1 < per_m * core * 58 < 1.2


def test_an_earth_path_reading_is_judged_with_its_sum(sheet: RuleSheet) -> None:
    short = judge_earth_path(sheet.earth, ohms=0.40, length_m=0, core_mm2=1.5)
    long = judge_earth_path(sheet.earth, ohms=0.40, length_m=25, core_mm2=1.5)

    assert not short.passed
    assert long.passed
    assert long.limit == "at most 0.1 ohm + 25 m x 0.0133 ohm/m = 0.432 ohm"


@pytest.mark.parametrize(
    ("length_m", "core_mm2", "message"),
    [(-1, 1.5, "0 to 100 m"), (101, 1.5, "0 to 100 m"), (nan, 1.5, "0 to 100 m"), (5, 3, "core")],
)
def test_a_lead_that_cannot_be_is_refused(
    sheet: RuleSheet, length_m: float, core_mm2: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        earth_path_limit(sheet.earth, length_m=length_m, core_mm2=core_mm2)


@pytest.mark.parametrize("ohms", [-0.1, nan, inf])
def test_a_reading_that_cannot_be_is_refused(sheet: RuleSheet, ohms: float) -> None:
    with pytest.raises(ValueError, match="0 ohm or more"):
        judge_earth_path(sheet.earth, ohms=ohms, length_m=5, core_mm2=1.5)


def test_limits_hold_at_their_very_figure() -> None:
    def at_least(value: float) -> bool:
        return judge_least(value, least=1, unit="Mohm", source="s", trust="seen").passed

    def at_most(value: float) -> bool:
        return judge_most(value, most=5, unit="mA", source="s", trust="seen").passed

    assert (at_least(1), at_least(0.99)) == (True, False)
    assert (at_most(5), at_most(5.01)) == (True, False)


def test_a_test_passes_only_when_every_reading_does(sheet: RuleSheet) -> None:
    good = judge_trip(sheet.profile("general_61008"), factor=1, trip_ms=28)
    bad = judge_trip(sheet.profile("general_61008"), factor=5, trip_ms=41)

    assert outcome([good])
    assert not outcome([good, bad])
    with pytest.raises(ValueError, match="at least one"):
        outcome([])


def test_an_instrument_out_of_calibration_makes_no_pass() -> None:
    day = date(2026, 5, 4)

    assert instrument_refusal(calibrated_until=day, on=day) == ""
    ended = instrument_refusal(calibrated_until=day, on=date(2026, 5, 5))
    assert ended == "Calibration ended on 4 May 2026. Its readings cannot make a pass."
    assert "no calibration date" in instrument_refusal(calibrated_until=None, on=day)
