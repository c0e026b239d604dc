"""The worked examples of the help, held against others' sums and tables."""

import tomllib
from datetime import date
from math import asin, cos, pi, radians, sqrt, tan
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from scipy.optimize import brentq

from maintenance.contents.worked import worked

FIXTURES = Path(__file__).parents[3] / "fixtures"
RESULTS = {each.key: each.results for each in worked()}


def printed(name):
    return tomllib.loads((FIXTURES / "published_tables" / name).read_text(encoding="utf-8"))


def tight_at(small, large, length):
    """Centres at which an open belt is tight: its length in the handbook's form with arcs and
    straight parts, solved by scipy's root-finder."""

    def too_long(centres):
        tilt = asin((large - small) / (2 * centres))
        straight = 2 * centres * cos(tilt)
        return straight + small * (pi / 2 - tilt) + large * (pi / 2 + tilt) - length

    return brentq(too_long, (large - small) / 2 + 1e-6, length / 2)


def test_a_worn_belt_by_the_wedge_and_a_general_root_finder():
    got = RESULTS["worn-belt"]
    # The cord of an A belt lies (Ld - Li) / 2 pi above its base: 30 mm of length, DIN 2215.
    floor = 8.7e-3 - 30e-3 / (2 * pi)
    drops = [min(2.6e-3 / (2 * tan(radians(angle / 2))), floor) for angle in (34, 38)]
    new = tight_at(0.080, 0.180, 0.690)
    extra = tight_at(0.080 - 2 * drops[0], 0.180 - 2 * drops[1], 0.690) - new

    assert got["drop_free"] == pytest.approx(0.004252, abs=1e-6)  # fixtures: drop_a_belt.toml
    assert (got["drop_small"], got["drop_large"]) == pytest.approx(tuple(drops), abs=1e-9)
    assert got["drop_small"] == floor
    assert got["drop_large"] < floor
    assert got["extra"] == pytest.approx(extra, abs=1e-8)
    assert got["extra"] == pytest.approx(0.01293, abs=1e-4)  # fixtures: extra_centres_capped.toml
    assert got["left"] == pytest.approx(0.012 - extra, abs=1e-8)
    assert got["ended"]


def test_a_tension_by_hand():
    got = RESULTS["tension"]

    assert got["span"] == pytest.approx(sqrt(0.140**2 - 0.050**2), abs=1e-12)
    # US Army TM 5-4310-339-15, section 5-5: one 64th of an inch for each inch of span.
    assert got["deflection"] == pytest.approx(got["span"] / 64)
    # (k F0 + dF0) / 16 by hand, GB/T 13575.1 from memory; fixtures: deflection_force_gb.toml
    assert got["force"] == pytest.approx((1.3 * 72 + 15) / 16)


def test_a_due_date_by_hand_and_by_a_date_library():
    got = RESULTS["hours-or-months"]

    assert got["tenths"] == 215 + 1500
    assert got["on"] == date(2026, 5, 4) + relativedelta(months=12)
    assert got["a_day"] == pytest.approx(0.7)  # 21 h in 30 d, 10.5 h in 15 d
    assert got["likely"] == date(2026, 11, 25) + relativedelta(days=5)  # 3.5 h at 0.7 h a day
    assert got["month_end"] == date(2026, 1, 31) + relativedelta(months=1)


def test_electrical_limits_by_the_printed_tables():
    got = RESULTS["test-limits"]
    most = {
        row[0]: row[2] for row in printed("electrical/rcd_trip_times.toml")["general_61008"]["rows"]
    }
    per_m = dict(printed("electrical/earth_conductors.toml")["rows"])

    assert got["five"] == (most[5] >= 28)
    assert got["once"] == (most[1] >= 310)
    assert got["earth_most"] == pytest.approx(0.1 + 10 * per_m[1.5])
    assert got["earth"] == (got["earth_most"] >= 0.21)
    # At least 1 Mohm for class I: IET Code of Practice, from memory.
    assert not got["insulation"]


def test_a_blank_belt_by_the_printed_lengths():
    got = RESULTS["blank-belt"]
    rows = {row[0]: row[1:] for row in printed("lengths_din.toml")["rows"]}
    over_inside, over_datum = rows["A"]

    assert got["mark"] == "A26"
    assert got["datum"] * 1e3 == pytest.approx(26 * 25.4 + over_inside)
    # The table rounds the difference to whole millimetres.
    assert got["outside"] * 1e3 == pytest.approx(26 * 25.4 + over_inside + over_datum, abs=0.5)
    assert 0.5 < got["odds"] < 1


def test_each_example_says_where_it_is_from_and_answers_a_question():
    for each in worked():
        assert each.asks.endswith("?"), each.key
        assert each.answer, each.key
        assert each.checked, each.key
        assert all(line.source and line.result for line in each.lines), each.key
