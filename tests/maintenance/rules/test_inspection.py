"""Look-overs and inspections: the lists that come with the product, and how they are judged."""

import copy
import json
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.check import CheckRefused
from maintenance.rules.inspection import (
    Found,
    holds_from,
    isolation_refusal,
    judge,
    look_over_due,
    look_over_words,
)
from maintenance.rules.sheet import PARTS, TRUST, LookOver, Point, SheetRefused, read
from maintenance.templatetags.pictures import pictures

FOLDER = Path(__file__).parents[3] / "fixtures" / "reference"
RAW: dict[str, Any] = json.loads((FOLDER / "rule_sheet_gb.json").read_text())
KINDS: dict[str, Any] = json.loads((FOLDER / "kinds.json").read_text())
SHEET = read(RAW)
PAIRS = sorted(
    {(kind["family"], supply) for kind in KINDS["kinds"] for supply in kind["usual_supplies"]}
)
MAINS = {"e230", "e110", "e400"}
STOP_CONTROLS = {"switch", "stop_control", "let_go", "trigger", "emergency_stop", "heater_off"}
POINTS = SHEET.look_over.points
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def asked(part: str, family: str, supply: str, *, belt: bool = True) -> tuple[Point, ...]:
    return SHEET.points_for(part, family=family, supply=supply, belt_driven=belt)


def keys(part: str, family: str, supply: str, *, belt: bool = True) -> set[str]:
    return {point.key for point in asked(part, family, supply, belt=belt)}


def test_every_point_is_short_plain_and_has_its_source_trust_and_drawing_or_none() -> None:
    for point in POINTS:
        assert point.words.endswith("?"), point.key
        assert len(point.words.split()) <= 14, point.key
        assert point.source, point.key
        assert point.trust in TRUST, point.key
        assert point.drawing == "" or point.drawing in pictures(), point.key
        assert (point.source == "Common practice, no source") <= (
            point.trust == "common practice, no source"
        )


def test_what_protects_people_is_critical_wherever_it_is_asked() -> None:
    for point in POINTS:
        words = point.words.lower()
        named = ("guard" in words and "guard off" not in words) or "rcd trip" in words
        if named and point.key not in ("belt_runs",):
            assert point.level == "always", point.key
        if point.key in {"cable", "plug", "cable_grip", *STOP_CONTROLS}:
            assert point.level == "always", point.key


@pytest.mark.parametrize(("family", "supply"), PAIRS)
def test_each_family_and_supply_gets_a_list_longer_than_its_check(family: str, supply: str) -> None:
    look, whole = asked("look-over", family, supply), asked("inspection", family, supply)
    check = SHEET.questions_for(family=family, supply=supply, belt_driven=True)

    assert len(check) < len(look) < len(whole) <= 40
    assert not any(point.isolated for point in look)
    order = [point.isolated for point in whole]
    assert order == sorted(order), "the isolated points come last"
    assert set(look) == {point for point in whole if not point.isolated}
    groups = [point.group for point in whole]
    assert len(Counter(groups)) == 1 + sum(a != b for a, b in pairwise(groups))


# How many points each kind of machine is asked, counted by hand from the list once it was written:
# look-over, then inspection.
@pytest.mark.parametrize(
    ("kind", "supply", "counts"),
    [
        ("mixer_electric", "e230", (25, 33)),
        ("mixer_electric", "e110", (24, 31)),
        ("plate_compactor", "petrol", (22, 26)),
        ("cut_off_saw_electric", "e110", (22, 25)),
        ("masonry_saw", "e110", (28, 34)),
        ("breaker_air", "air", (11, 12)),
        ("generator", "diesel", (24, 26)),
        ("heater", "gas", (11, 12)),
        ("hoist", "e230", (23, 27)),
        ("extension_lead", "e110", (10, 12)),
    ],
)
def test_so_many_points_are_asked(kind: str, supply: str, counts: tuple[int, int]) -> None:
    row = next(each for each in KINDS["kinds"] if each["key"] == kind)

    found = [len(asked(part, row["family"], supply, belt=row["belt_driven"])) for part in PARTS]

    assert tuple(found) == counts


@pytest.mark.parametrize("kind", KINDS["kinds"], ids=lambda kind: kind["key"])
def test_a_machine_is_asked_what_its_supply_and_belt_ask_for(kind: dict[str, Any]) -> None:
    for supply in kind["usual_supplies"]:
        found = keys("inspection", kind["family"], supply, belt=kind["belt_driven"])
        assert {"cable", "plug", "electrical_test"} <= found or supply not in MAINS
        assert not found & {"cable", "plug"} or supply in MAINS
        assert ("fuel_parts" in found) == (supply in ("petrol", "diesel"))
        assert ("belt_condition" in found) == kind["belt_driven"]
        assert ("plug_fuse" in found) == (supply == "e230")
        if kind["family"] not in ("transformer", "lead"):
            assert found & STOP_CONTROLS
            assert "guards_back" in found


# The limits of the published lists: EN 50160 (from memory) 207 to 253 V; HSE CIS36 (from memory)
# 0.5 L/min; HSE L114 (from memory) 10 s; EN 1870 and ISO 19085 (from memory) 3 to 8 mm.
@pytest.mark.parametrize(
    ("key", "well", "wrong"),
    [
        ("output_230", (207.0, 230.0, 253.0), (206.9, 253.1, 0.0)),
        ("water_flow", (0.5, 3.0), (0.49, 0.0)),
        ("blade_brake", (10.0, 0.0), (10.1, 60.0)),
        ("riving_knife", (3.0, 8.0), (2.9, 8.1)),
    ],
)
def test_a_figure_is_judged_by_its_limit(
    key: str, well: tuple[float, ...], wrong: tuple[float, ...]
) -> None:
    point = next(point for point in POINTS if point.key == key)

    for figure in (*well, *wrong):
        outcome, judged = judge({key: Found(figure=figure)}, [point])
        assert judged[key].answer == ("ok" if figure in well else "wrong")
        assert outcome.mark == ("passed" if figure in well else "stop")
        assert (point.limit in judged[key].word) == (figure in wrong)


CABLE = next(point for point in POINTS if point.key == "cable")
KNIFE = next(point for point in POINTS if point.key == "riving_knife")
CLEAN = next(point for point in POINTS if point.key == "clean_enough")
BELT = next(point for point in POINTS if point.key == "belt_condition")


@pytest.mark.parametrize(
    ("found", "point", "words"),
    [
        (Found(), CABLE, "no answer"),
        (Found(), KNIFE, "type the figure"),
        (Found(answer="wrong"), CABLE, "say in a word"),
        (Found(answer="could not check", word=" "), KNIFE, "say in a word"),
        (Found(answer="fine"), CABLE, "must be OK, Wrong"),
        (Found(answer="none on it"), CABLE, "every machine of this kind has one"),
        (Found(answer="ok"), KNIFE, "the figure decides"),
        (Found(answer="wrong", word="wide"), KNIFE, "the figure decides"),
        (Found(figure=4.0), CABLE, "no figure is asked"),
        (Found(answer="none on it", figure=4.0), KNIFE, "not both"),
    ],
)
def test_an_answer_that_does_not_fit_is_refused_in_words(
    found: Found, point: Point, words: str
) -> None:
    with pytest.raises(CheckRefused) as refused:
        judge({point.key: found}, [point])

    assert words in refused.value.problems[point.key]


def test_an_answer_to_what_was_not_asked_is_refused() -> None:
    with pytest.raises(CheckRefused, match="not asked"):
        judge({"cable": Found(answer="ok"), "wings": Found(answer="ok")}, [CABLE])


def test_the_gravest_answer_decides_and_what_is_not_on_it_decides_nothing() -> None:
    points = [CABLE, KNIFE, CLEAN]
    well = {"cable": Found(answer="ok"), "clean_enough": Found(answer="ok")}
    lacks = Found(answer="none on it")

    def mark(**other: Found) -> str:
        return judge({**well, "riving_knife": lacks, **other}, points)[0].mark

    assert mark() == "passed"
    assert mark(clean_enough=Found(answer="wrong", word="slurry")) == "decide"
    assert mark(cable=Found(answer="could not check", word="coiled")) == "not passed"
    assert mark(riving_knife=Found(answer="could not check", word="no gauge")) == "not passed"
    assert mark(riving_knife=Found(figure=9.0)) == "stop"


@given(minutes=st.integers(-60, 3000))
def test_the_isolated_part_needs_a_confirmation_of_today(minutes: int) -> None:
    at = NOON + timedelta(minutes=minutes)

    assert isolation_refusal([CABLE], isolated_at=None, at=at) == ""
    assert "confirm it" in isolation_refusal([CABLE, BELT], isolated_at=None, at=at)
    refused = isolation_refusal([CABLE, BELT], isolated_at=NOON, at=at)
    assert (refused == "") == (0 <= minutes <= 720)


# HSE HSG107, 3rd ed., 2013 (second hand): formal visual inspection, 230 V weekly, 110 V monthly.
def test_a_look_over_holds_a_week_at_230_and_a_month_at_110_volts() -> None:
    day = date(2026, 1, 31)
    weekly, monthly = SHEET.look_interval("e230"), SHEET.look_interval("e110")

    assert look_over_due(weekly, looked_on=day) == date(2026, 2, 7)
    assert look_over_due(monthly, looked_on=day) == date(2026, 2, 28)
    assert SHEET.look_interval("petrol") is None
    assert look_over_due(None, looked_on=day) is None
    assert look_over_due(weekly, looked_on=None) is None
    assert look_over_words(weekly, looked_on=day, on=date(2026, 2, 7)).startswith(
        "Look-over due by 7 Feb 2026. "
    )
    assert look_over_words(weekly, looked_on=day, on=date(2026, 2, 8)).startswith(
        "Look-over overdue since 7 Feb 2026. "
    )


@given(
    on=st.dates(date(2000, 3, 1), date(2100, 1, 1)),
    back=st.integers(0, 70),
    supply=st.sampled_from(["e230", "e110", "e400"]),
)
def test_the_earliest_day_that_holds_is_the_earliest(on: date, back: int, supply: str) -> None:
    interval = SHEET.look_interval(supply)
    first, day = holds_from(interval, on=on), on - timedelta(days=back)

    due = look_over_due(interval, looked_on=day)

    assert first is not None
    assert due is not None
    assert (due >= on) == (day >= first)


def test_a_sheet_from_before_look_overs_stays_readable() -> None:
    old = {key: value for key, value in RAW.items() if key != "look_over"}

    assert read(old).look_over == LookOver()
    assert read(old).points_for("look-over", family="mixer", supply="e110", belt_driven=True) == ()


def test_the_lines_that_it_completes_are_lines_of_some_plan() -> None:
    lines = {line["key"] for kind in KINDS["kinds"] for line in kind["plan"]}

    assert SHEET.look_over.completes <= lines
    assert not {"weekly"} & SHEET.look_over.completes, "it greases nothing"


def bad(**changes: Any) -> dict[str, Any]:
    number = next(n for n, row in enumerate(RAW["look_over"]["items"]) if row["unit"] == "mm")
    data = copy.deepcopy(RAW)
    data["look_over"]["items"][number] |= changes
    return data


def bare(**changes: Any) -> dict[str, Any]:
    part = {key: value for key, value in RAW["look_over"].items() if key != "completes"}
    return RAW | {"look_over": part | changes}


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (bad(group="Wings"), "none of the groups"),
        (bad(asked=["party"]), "asked in one of"),
        (bad(asked="all"), "asked in one of"),
        (bad(isolated=True), "in an inspection alone"),
        (bad(unit=""), "has a unit and a limit"),
        (bad(least=None, most=None), "has a unit and a limit"),
        (bad(unit="furlong"), "unit must be one of"),
        (bad(least=8), "not below the most"),
        (bad(least="many"), "odd value"),
        (bad(key="cable"), "share a key"),
        (bad(source=""), "needs its source"),
        (bad(level="minor"), "level must be one of"),
        (bare(), "lacks 'completes'"),
        (bare(completes=[], items=3), "not laid out"),
    ],
)
def test_a_list_that_cannot_be_used_is_refused(data: dict[str, Any], message: str) -> None:
    with pytest.raises(SheetRefused, match=message):
        read(data)
