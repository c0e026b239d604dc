"""The rule sheet and the machine kinds that come with the product."""

import copy
import json
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from maintenance.rules.due import DueRule
from maintenance.rules.sheet import TRUST, RuleSheet, SheetRefused, read

FOLDER = Path(__file__).parents[3] / "fixtures" / "reference"
RAW: dict[str, Any] = json.loads((FOLDER / "rule_sheet_gb.json").read_text())
KINDS: dict[str, Any] = json.loads((FOLDER / "kinds.json").read_text())
SHEET: RuleSheet = read(RAW)
PAIRS = sorted(
    {(kind["family"], supply) for kind in KINDS["kinds"] for supply in kind["usual_supplies"]}
)
LINES = [(kind, line) for kind in KINDS["kinds"] for line in kind["plan"]]
MAINS = {"e230", "e110", "e400"}
STOP_CONTROLS = {"switch", "stop_control", "let_go", "trigger", "emergency_stop", "heater_off"}


def keys(family: str, supply: str, *, belt: bool, level: str | None = None) -> set[str]:
    asked = SHEET.questions_for(family=family, supply=supply, belt_driven=belt)
    return {each.key for each in asked if level in (None, each.level)}


@pytest.mark.parametrize(("pair", "belt"), list(product(PAIRS, [False, True])))
def test_six_to_ten_questions_for_each_machine(pair: tuple[str, str], belt: bool) -> None:
    family, supply = pair

    assert 6 <= len(keys(family, supply, belt=belt)) <= 10


def test_every_family_and_supply_is_met() -> None:
    assert {family for family, _ in PAIRS} == set(RAW["families"])
    assert {supply for _, supply in PAIRS} == set(RAW["supplies"])
    assert len({kind["key"] for kind in KINDS["kinds"]}) == len(KINDS["kinds"]) >= 16


@pytest.mark.parametrize(("family", "supply"), PAIRS)
def test_what_is_always_critical_is_asked(family: str, supply: str) -> None:
    always = keys(family, supply, belt=False, level="always")

    if supply in MAINS:
        assert "cable_plug" in always
    if supply in MAINS - {"e110"} and family != "transformer":
        assert "rcd_button" in always
    if family not in ("transformer", "lead"):
        assert always & STOP_CONTROLS


@pytest.mark.parametrize("kind", KINDS["kinds"], ids=lambda kind: kind["key"])
def test_a_belt_drive_is_asked_for_its_guard(kind: dict[str, Any]) -> None:
    for supply in kind["usual_supplies"]:
        always = keys(kind["family"], supply, belt=kind["belt_driven"], level="always")
        guards = always & {"belt_guard", "mixer_guards", "pump_guard"}
        assert guards or not kind["belt_driven"]


def test_a_guard_a_cable_an_rcd_and_a_stop_are_critical_wherever_named() -> None:
    for each in SHEET.questions:
        words = each.words.lower()
        if "guard" in words or "cable and plug" in words or "rcd" in words or "stop" in words:
            assert each.level == "always", each.key


def test_every_question_is_a_short_plain_one() -> None:
    for each in SHEET.questions:
        assert each.words.endswith("?")
        assert len(each.words.split()) <= 14
        assert len(each.short.split()) <= 3
        assert each.drawing


def figures(node: Any) -> list[dict[str, Any]]:
    """Every object that holds a figure of its own, questions included."""
    found = []
    if isinstance(node, dict):
        own = [value for value in node.values() if isinstance(value, (int, float))]
        holder = any(not isinstance(value, bool) for value in own)
        if (holder or "level" in node) and "text" not in node:
            found.append(node)
        for value in node.values():
            found += figures(value)
    elif isinstance(node, list):
        for value in node:
            found += figures(value)
    return found


@pytest.mark.parametrize("raw", [RAW, KINDS], ids=["rule sheet", "kinds"])
def test_every_figure_has_its_source_and_trust(raw: dict[str, Any]) -> None:
    found = figures(raw)

    assert len(found) > 60
    for each in found:
        assert each["source"], each
        assert each["trust"] in TRUST, each


@pytest.mark.parametrize(("kind", "line"), LINES, ids=lambda part: part.get("key"))
def test_every_plan_line_makes_a_rule(kind: dict[str, Any], line: dict[str, Any]) -> None:
    def tenths(hours: int | None) -> int | None:
        return None if hours is None else hours * 10

    rule = DueRule(
        first_tenths=tenths(line["first_hours"]),
        every_tenths=tenths(line["every_hours"]),
        first_months=line["first_months"],
        every_months=line["every_months"],
        first_days=line["first_days"],
        every_days=line["every_days"],
        counts_from=line["counts_from"],
    )

    assert not rule.once
    assert rule.every_months or rule.every_days, "a machine that stands still comes due too"
    assert line["level"] in (0, 1, 2, 3)
    assert line["level"] == 0 or not line["is_test"]
    assert line["minutes"] > 0
    assert line["supplies"] == "all" or set(line["supplies"]) <= set(kind["usual_supplies"])
    assert kind["belt_driven"] or not line["needs_belt"]


@pytest.mark.parametrize(("kind", "line"), LINES, ids=lambda part: part.get("key"))
def test_steps_are_cautioned_where_a_guard_comes_off(
    kind: dict[str, Any], line: dict[str, Any]
) -> None:
    steps = line["steps"]
    opened = [number for number, step in enumerate(steps) if step["opens_guard"]]

    assert steps
    for step in steps:
        assert step["text"].endswith(".")
        assert len(step["caution"].split()) <= 15
        assert step["low"] is None or step["high"] is None or step["low"] < step["high"]
    if opened:
        assert "isolate" in steps[0]["text"], "isolated first"
        assert all(steps[number]["caution"] for number in opened)
        assert "guard back" in steps[-1]["text"], "guards back last"


def test_plan_keys_are_unique_within_a_kind() -> None:
    for kind in KINDS["kinds"]:
        found = [line["key"] for line in kind["plan"]]
        assert len(set(found)) == len(found), kind["key"]
        for supply in MAINS & set(kind["usual_supplies"]):
            tests = [n for n in kind["plan"] if n["is_test"] and supply in n["supplies"]]
            assert tests, (kind["key"], supply)


# HSE HSG107, 3rd ed., 2013 (second hand): on construction sites 110 V weekly, monthly, 3-monthly;
# 230 V each shift, weekly, monthly.
@pytest.mark.parametrize(
    ("key", "every_days", "every_months"),
    [
        ("check_110", 7, None),
        ("look_110", None, 1),
        ("test_110", None, 3),
        ("check_230", 1, None),
        ("look_230", 7, None),
        ("test_230", None, 1),
    ],
)
def test_site_intervals_are_the_published_ones(
    key: str, every_days: int | None, every_months: int | None
) -> None:
    found = next(each for each in SHEET.intervals if each.key == key)

    assert (found.every_days, found.every_months) == (every_days, every_months)


def test_a_machine_is_asked_only_what_fits_its_supply() -> None:
    petrol = keys("mixer", "petrol", belt=True)
    mains = keys("mixer", "e230", belt=True)

    assert "stop_control" in petrol
    assert not petrol & {"cable_plug", "rcd_button", "test_label"}
    assert "rcd_button" in mains
    assert not mains & {"fuel", "stop_control"}
    assert "belt_guard" not in keys("compactor", "petrol", belt=False)


def spoilt(*path: str | int, value: Any = None, drop: bool = False) -> dict[str, Any]:
    data = copy.deepcopy(RAW)
    node: Any = data
    for step in path[:-1]:
        node = node[step]
    if drop:
        del node[path[-1]]
    else:
        node[path[-1]] = value
    return data


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (spoilt("items", 0, "level", value="minor"), "level must be one of"),
        (spoilt("items", 0, "words", value="why " * 15), "14 words at most"),
        (spoilt("items", 0, "short", value="one two three four"), "3 words at most"),
        (spoilt("items", 0, "source", value=""), "needs its source"),
        (spoilt("items", 0, "trust", value="sure"), "needs its source"),
        (spoilt("items", 0, "families", value="mixer"), "list of names"),
        (spoilt("items", 1, "key", value="cable_plug"), "share a key"),
        (spoilt("rcd", 0, "rows", 1, "max_ms", value=None), "needs a limit"),
        (spoilt("rcd", 0, "rows", 1, "trust", value=""), "needs its source"),
        (spoilt("earth", "conductors", 0, "source", value=""), "needs its source"),
        (spoilt("dated", value="1 Nov 2026"), "odd value"),
        (spoilt("limits", drop=True), "lacks 'limits'"),
        (spoilt("items", value=7), "not laid out"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_refused(data: dict[str, Any], message: str) -> None:
    with pytest.raises(SheetRefused, match=message):
        read(data)


def test_a_profile_that_the_sheet_does_not_hold_is_not_found() -> None:
    with pytest.raises(KeyError):
        SHEET.profile("none")


def test_a_question_gives_its_item() -> None:
    item = SHEET.questions[0].item()

    assert (item.key, item.level, item.short) == ("cable_plug", "always", "Cable and plug")
