"""Fault finding: the odds against other people's sums, and no hand near a drive that may run."""

import json
import random
import re
from datetime import UTC, datetime, timedelta
from math import log2
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.rules import finding as rule
from maintenance.rules import finding_sheet
from maintenance.rules.finding_sheet import FindingList, Kind
from maintenance.rules.sheet import SheetRefused

FOLDER = Path(__file__).parents[3] / "fixtures" / "reference"
RAW: dict[str, Any] = json.loads((FOLDER / "rule_sheet_gb.json").read_text())["finding"]
KINDS: dict[str, Any] = json.loads((FOLDER / "kinds.json").read_text())
LIST: FindingList = finding_sheet.read(RAW)
EVERY = [
    (symptom.key, kind)
    for kind in sorted(
        {
            Kind(family=each["family"], supply=supply, belt_driven=each["belt_driven"])
            for each in KINDS["kinds"]
            for supply in each["usual_supplies"]
        },
        key=str,
    )
    for symptom in LIST.symptoms_for(kind)
]
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def a_test(chances: dict[str, list[float]], key: str = "t", **more: Any) -> rule.Test:
    """A test with the answers a, b, c.. and these chances of them by cause."""
    many = len(next(iter(chances.values())))
    plain: dict[str, Any] = {
        "key": key, "short": key, "do": "Look.", "way": rule.STANDING, "opens_guard": False,
        "touches": False, "caution": "Take care.", "minutes": 1.0, "group": "", "reading": "",
        "verdicts": {}, "answers": tuple((each, each) for each in "abcdefgh"[:many]),
        "likelihoods": {name: tuple(row) for name, row in chances.items()},
        "otherwise": (1 / many,) * many, "symptoms": frozenset({"s"}), "supplies": None,
        "families": None, "source": "made up", "trust": "common practice, no source",
    }  # fmt: skip
    return rule.Test(**plain | more)


# --- against sums of others ----------------------------------------------------------------------


def test_a_positive_screening_is_right_in_eight_of_a_hundred_and_three() -> None:
    # Gigerenzer and Hoffrage, How to Improve Bayesian Reasoning Without Instruction, Psychological
    # Review 102 (1995), the screening problem: 10 in 1000; 8 of the 10 and 95 of the 990 test
    # positive; 8 of the 103 (from memory).
    test = a_test({"ill": [0.8, 0.2], "well": [95 / 990, 895 / 990]})

    now = rule.odds({"ill": 10, "well": 990}, [(test, "a")])

    assert now["ill"] == pytest.approx(8 / 103, abs=1e-12)


@pytest.mark.parametrize(("each_side", "bits"), [(6, 1.0), (4, log2(3))])
def test_the_weighing_of_twelve_balls_tells_what_the_book_says(each_side: int, bits: float) -> None:
    # MacKay, Information Theory, Inference, and Learning Algorithms (2003), section 4.1: of twelve
    # balls one is heavy or light. Six against six tells 1 bit, four against four 1.58 bits, the
    # most that three answers can (from memory).
    chances = {}
    for ball in range(12):
        on = "left" if ball < each_side else "right" if ball < 2 * each_side else "off"
        for odd in ("heavy", "light"):
            falls = {"left": odd == "heavy", "right": odd == "light"}.get(on)
            row = [0.0, 0.0, 1.0] if falls is None else [float(falls), float(not falls), 0.0]
            chances[f"{ball} {odd}"] = row
    start = dict.fromkeys(chances, 1 / 24)

    assert rule.expected_drop(start, a_test(chances)) == pytest.approx(bits, abs=1e-12)


def test_own_jobs_count_as_in_the_dirichlet_model() -> None:
    # Mean of a Dirichlet posterior, (alpha_i + n_i) / (sum alpha + n): Gelman et al., Bayesian
    # Data Analysis, section 3.4 (from memory); by hand: (10 x 0.6 + 3) / (10 + 20) = 0.3.
    now, jobs = rule.starting(
        {"belt": 0.6, "gear": 0.3, "other": 0.1}, {"belt": 3, "gear": 15, "never heard of": 2},
        enough=20, strength=10,
    )  # fmt: skip

    assert jobs == 20
    assert now == pytest.approx({"belt": 0.3, "gear": 0.6, "other": 0.1})


def test_nineteen_jobs_are_not_enough() -> None:
    stated = {"belt": 0.6, "gear": 0.3, "other": 0.1}

    assert rule.starting(stated, {"gear": 19}, enough=20, strength=10) == (stated, 0)


@st.composite
def situations(draw: st.DrawFn) -> tuple[dict[str, float], list[tuple[rule.Test, str]]]:
    """Starting odds of a few causes, and some tests with their answers; chances out of 20 each."""
    causes = [f"c{n}" for n in range(draw(st.integers(2, 5)))]
    parts = st.lists(st.integers(1, 20), min_size=len(causes), max_size=len(causes))
    start = {cause: float(part) for cause, part in zip(causes, draw(parts), strict=True)}
    told = []
    for n in range(draw(st.integers(1, 4))):
        often = draw(parts)
        chances = {c: [part / 21, 1 - part / 21] for c, part in zip(causes, often, strict=True)}
        answer = draw(st.sampled_from(["a", "b", rule.COULD_NOT]))
        told.append((a_test(chances, key=f"t{n}"), answer))
    return start, told


@settings(max_examples=60, deadline=None)
@given(situations(), st.randoms(use_true_random=False))
def test_the_odds_are_those_of_an_independent_sum_whatever_the_order(
    given_: tuple[dict[str, float], list[tuple[rule.Test, str]]], shuffle: random.Random
) -> None:
    start, told = given_
    weights = np.log(np.array(list(start.values())))
    for test, answer in told:
        if answer != rule.COULD_NOT:
            column = [key for key, _ in test.answers].index(answer)
            weights += np.log([test.likelihoods[each][column] for each in start])
    expected = np.exp(weights - np.logaddexp.reduce(weights))
    other_order = list(told)
    shuffle.shuffle(other_order)

    now = rule.odds(start, told)

    assert list(now.values()) == pytest.approx(list(expected), abs=1e-9)
    assert sum(now.values()) == pytest.approx(1, abs=1e-12)
    assert rule.odds(start, other_order) == now


@settings(max_examples=40, deadline=None)
@given(situations())
def test_the_expected_drop_is_the_mutual_information(
    given_: tuple[dict[str, float], list[tuple[rule.Test, str]]],
) -> None:
    start, [(test, _), *_] = given_
    now = rule.odds(start, [])
    joint = np.array([[now[c] * p for p in test.likelihoods[c]] for c in now])
    apart = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)

    assert rule.expected_drop(now, test) == pytest.approx(
        float((joint * np.log2(joint / apart)).sum()), abs=1e-9
    )


def test_the_odds_are_how_often_the_cause_was_the_one() -> None:
    """Breakdowns drawn by the starting odds and chances: of those with these answers, the share."""
    kind = Kind(family="mixer", supply="e110", belt_driven=True)
    start = LIST.stated_for("no_turn", kind)
    tests = {test.key: test for test in LIST.tests_for("no_turn", kind)}
    answers = (("listen", "squeal"), ("look_belt", "worn"))
    draw = np.random.default_rng(7)
    causes = draw.choice(list(start), p=list(start.values()), size=200_000)
    fits = np.ones(len(causes), dtype=bool)
    for key, answer in answers:
        chance = {cause: tests[key].chance(answer, cause=cause) for cause in start}
        fits &= draw.random(len(causes)) < np.array([chance[cause] for cause in causes])

    now = rule.odds(start, [(tests[key], answer) for key, answer in answers])

    seen = causes[fits]
    for cause, share in now.items():
        error = 4 * (share * (1 - share) / len(seen)) ** 0.5 + 1e-3
        assert np.mean(seen == cause) == pytest.approx(share, abs=error), cause


# --- how it behaves ------------------------------------------------------------------------------


def test_answers_that_fit_no_cause_are_said_so() -> None:
    one = a_test({"x": [1, 0], "y": [0, 1]}, key="one")
    other = a_test({"x": [0, 1], "y": [1, 0]}, key="other")

    with pytest.raises(rule.Contradiction):
        rule.odds({"x": 1, "y": 1}, [(one, "a"), (other, "a")])


def test_could_not_tell_moves_nothing_and_is_not_asked_again() -> None:
    test = a_test({"x": [0.9, 0.1], "y": [0.2, 0.8]})

    assert rule.odds({"x": 3, "y": 1}, [(test, rule.COULD_NOT)]) == {"x": 0.75, "y": 0.25}
    assert rule.left([test], {"t": rule.COULD_NOT}) == []


def test_of_tests_that_tell_the_same_one_counts_unless_it_could_not_tell() -> None:
    press, measure = (a_test({"x": [0.9, 0.1]}, key=key, group="tight") for key in ("p", "m"))

    assert rule.left([press, measure], {"p": "a"}) == []
    assert rule.left([press, measure], {"p": rule.COULD_NOT}) == [measure]


def test_a_quick_test_goes_before_one_that_tells_a_little_more_and_isolating_costs_once() -> None:
    quick = a_test({"x": [0.8, 0.2], "y": [0.2, 0.8]}, key="quick")
    inside = a_test(
        {"x": [0.9, 0.1], "y": [0.1, 0.9]}, key="inside", way=rule.ISOLATED, opens_guard=True
    )
    now = {"x": 0.5, "y": 0.5}
    how: dict[str, Any] = {"may_run": True, "isolate_minutes": 5, "least_bits": 0.01}

    before = rule.ranked(now, [quick, inside], isolated=False, **how)
    after = rule.ranked(now, [quick, inside], isolated=True, **how)

    assert [(n.test.key, n.minutes, n.isolate_first) for n in before] == [
        ("quick", 1, False), ("inside", 6, True)
    ]  # fmt: skip
    assert [(n.test.key, n.minutes) for n in after] == [("inside", 1), ("quick", 1)]


def test_a_cause_is_found_by_its_odds_and_its_lead_and_never_by_being_something_else() -> None:
    ends = rule.Ends(share=0.6, times=3)

    assert rule.standing({"x": 0.75, "y": 0.25}, ends).found
    assert not rule.standing({"x": 0.7, "y": 0.3}, ends).found
    assert not rule.standing({"x": 0.55, "y": 0.15, "z": 0.15, "other": 0.15}, ends).found
    assert not rule.standing({"other": 0.9, "y": 0.1}, ends).found


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "less than 1 in 20"), (0.05, "about 1 in 10"), (0.71, "about 7 in 10"),
        (0.95, "about 9 in 10"), (0.96, "more than 19 in 20"),
    ],
)  # fmt: skip
def test_odds_are_said_in_words(share: float, words: str) -> None:
    assert rule.odds_text(share) == words


# --- no hand near a running drive ----------------------------------------------------------------

_HAND = re.compile(
    r"\b(guard off|take .*(off|out)|press|pull|rock|hold|measure|wipe|by hand|finger|thumb)\b",
    re.IGNORECASE,
)


def test_what_asks_for_a_hand_or_an_open_guard_is_marked_and_isolated() -> None:
    for test in LIST.tests:
        if _HAND.search(test.do):
            assert test.opens_guard or test.touches, test.key
        if test.opens_guard or test.touches:
            assert test.way == rule.ISOLATED, test.key
        if test.way == rule.RUNNING:
            assert "guards on" in test.do.lower(), test.key
            assert re.search("stand clear|hands off", test.caution, re.IGNORECASE), test.key


def test_a_sheet_that_lets_a_hand_near_a_drive_that_may_run_is_refused() -> None:
    for way in ("running", "standing"):
        for what in ("opens_guard", "touches"):
            spoilt = json.loads(json.dumps(RAW))
            row = next(each for each in spoilt["tests"] if each[what])
            row["way"] = way
            with pytest.raises(SheetRefused, match="isolated"):
                finding_sheet.read(spoilt)


def test_what_isolating_shuts_off_is_never_asked_when_isolated() -> None:
    """Isolation as ISOLATED asks for it: stopped, unplugged, fuel, hose or battery off, cooled."""
    gone = re.compile(
        r"\b(tap open|stop pressed|switch off|socket|tripped|gauge at|hiss|couplings, and|"
        r"thermometer)\b",
        re.IGNORECASE,
    )
    assert {each.key for each in LIST.tests if each.needs_supply} == {
        each.key for each in LIST.tests if gone.search(each.do) and each.way == rule.STANDING
    }
    for symptom, kind in EVERY:
        start, tests = LIST.stated_for(symptom, kind), LIST.tests_for(symptom, kind)
        how: dict[str, Any] = {"isolate_minutes": 5, "least_bits": 0.001}
        best = rule.ranked(start, tests, isolated=True, may_run=True, **how)
        assert not [each.test.key for each in best if each.test.needs_supply]
        for test in tests:
            if test.needs_supply:
                assert "tells nothing" in rule.refusal(test, isolated=True, may_run=True)
                assert not rule.refusal(test, isolated=False, may_run=False)


def test_a_sheet_that_asks_for_the_supply_when_isolated_is_refused() -> None:
    spoilt = json.loads(json.dumps(RAW))
    next(each for each in spoilt["tests"] if each["way"] == "isolated")["needs_supply"] = True
    with pytest.raises(SheetRefused, match="needs the supply"):
        finding_sheet.read(spoilt)


def test_a_battery_is_put_in_with_the_trigger_free_and_a_bad_one_never_charged() -> None:
    tests = {each.key: each for each in LIST.tests}
    assert re.search("swollen, hot or damaged.*never charge", tests["charger"].caution, re.I)
    other = tests["other_battery"]
    assert re.search("trigger free.*put in", other.do, re.IGNORECASE)
    assert re.search("battery out before hands", other.caution, re.IGNORECASE)


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(EVERY), st.randoms(use_true_random=False))
def test_in_every_order_an_isolated_test_follows_the_isolating_and_a_running_one_its_end(
    asked: tuple[str, Kind], choose: random.Random
) -> None:
    symptom, kind = asked
    start, tests = LIST.stated_for(symptom, kind), LIST.tests_for(symptom, kind)
    isolated, answered, done = False, {}, []  # type: ignore[var-annotated]
    for _ in range(25):
        act = choose.choice(("isolate", "run again", "best", "any", "any"))
        if act == "isolate":
            isolated = True
            done.append(act)
        elif act == "run again":
            isolated = False
            done.append(act)
        elif left := rule.left(tests, answered):
            now = rule.odds(start, [(t, answered[t.key]) for t in tests if t.key in answered])
            best = rule.ranked(
                now, left, isolated=isolated, may_run=True, isolate_minutes=5, least_bits=0.02
            )
            test = best[0].test if act == "best" and best else choose.choice(left)
            if act == "best" and best and best[0].isolate_first:
                assert rule.refusal(test, isolated=isolated, may_run=True)
                isolated = True
                done.append("isolate")
            if not rule.refusal(test, isolated=isolated, may_run=True):
                answered[test.key] = choose.choice(test.answers)[0]
                done.append(test.key)
    state = False
    for each in done:
        if each in ("isolate", "run again"):
            state = each == "isolate"
            continue
        test = next(test for test in tests if test.key == each)
        if test.opens_guard or test.touches or test.way == rule.ISOLATED:
            assert state, done
        if test.way == rule.RUNNING:
            assert not state, done


def test_nothing_is_run_where_a_guard_or_the_electrics_are_at_fault() -> None:
    for symptom, kind in EVERY:
        best = rule.ranked(
            LIST.stated_for(symptom, kind), LIST.tests_for(symptom, kind), isolated=False,
            may_run=False, isolate_minutes=5, least_bits=0.001,
        )  # fmt: skip
        assert all(each.test.way != rule.RUNNING for each in best)


def test_an_isolation_holds_for_twelve_hours_and_not_from_the_future() -> None:
    assert rule.is_isolated(NOON - timedelta(hours=12), at=NOON)
    assert not rule.is_isolated(NOON - timedelta(hours=12, seconds=1), at=NOON)
    assert not rule.is_isolated(NOON + timedelta(seconds=1), at=NOON)
    assert not rule.is_isolated(None, at=NOON)


# --- the list that comes with the program --------------------------------------------------------


def test_every_belt_driven_kind_has_the_five_symptoms_and_others_only_will_not_start() -> None:
    families = {kind["family"] for kind in KINDS["kinds"] if kind["belt_driven"]}
    for family in sorted(families):
        kind = Kind(family=family, supply="petrol", belt_driven=True)
        assert [each.key for each in LIST.symptoms_for(kind)] == [
            "no_turn", "weak", "noise", "belt_off", "no_start"
        ]  # fmt: skip
    generator = Kind(family="generator", supply="petrol", belt_driven=False)
    assert [each.key for each in LIST.symptoms_for(generator)] == ["no_start"]
    mains = Kind(family="breaker", supply="e110", belt_driven=False)
    assert [each.key for each in LIST.symptoms_for(mains)] == ["no_start"]


@pytest.mark.parametrize(
    ("family", "supply"), [("breaker", "air"), ("breaker", "hydraulic"), ("drill", "battery")]
)
def test_what_air_oil_or_a_battery_drives_is_found_by_tests_that_say_to_let_it_out_first(
    family: str, supply: str
) -> None:
    """The usual cautions of the trade: stored pressure let out, the battery out, before a hand."""
    kind = Kind(family=family, supply=supply, belt_driven=False)
    assert [each.key for each in LIST.symptoms_for(kind)] == ["no_start", "feeble"]
    energy = {"air": "air out|pressure", "hydraulic": "pressure", "battery": "battery out"}[supply]
    for symptom in ("no_start", "feeble"):
        start = LIST.stated_for(symptom, kind)
        for test in LIST.tests_for(symptom, kind):
            if rule.expected_drop(start, test) < LIST.least_bits:
                continue
            assert test.supplies is not None, f"{test.key} is asked of every supply"
            if test.touches:
                words = f"{test.do} {test.caution}"
                assert re.search(energy, words, re.IGNORECASE), (symptom, test.key)
        others = {"supply", "motor", "fuel", "spark", "belt_worn"} & set(start)
        assert not others
        assert len(start) >= 6


@pytest.mark.parametrize(
    ("supply", "family", "told", "cause", "share"),
    [
        # By hand: 35 of 95 with 0.9 against 60 of 95 with 0.05: 31.5 / (31.5 + 3.0).
        ("air", "breaker", {"air_tap": "shut"}, "air_shut", 31.5 / 34.5),
        # 35 of 99 with 0.85 against 64 with 0.05: 29.75 / (29.75 + 3.2).
        ("hydraulic", "breaker", {"hyd_hoses": "wrong"}, "hyd_coupling", 29.75 / 32.95),
        # 45 x 0.95 against 15 x 0.35 + 8 x 0.4 + (15 + 12 + 8) x 0.04: 42.75 / (42.75 + 9.85).
        ("battery", "drill", {"other_battery": "well"}, "battery_flat", 42.75 / 52.6),
    ],
)
def test_one_telling_answer_finds_why_a_tool_does_not_start(
    supply: str, family: str, told: dict[str, str], cause: str, share: float
) -> None:
    kind = Kind(family=family, supply=supply, belt_driven=False)
    tests = {test.key: test for test in LIST.tests_for("no_start", kind)}

    now = rule.odds(
        LIST.stated_for("no_start", kind), [(tests[key], said) for key, said in told.items()]
    )

    assert now[cause] == pytest.approx(share, abs=1e-9)
    assert rule.standing(now, LIST.ends).found


def test_every_cause_can_lead_by_the_tests_that_such_a_machine_has() -> None:
    for symptom, kind in EVERY:
        start, tests = LIST.stated_for(symptom, kind), LIST.tests_for(symptom, kind)
        for cause in set(start) - {rule.OTHER}:
            answered: dict[str, str] = {}
            for test in tests:
                if test in rule.left(tests, answered):
                    # The answer that this cause makes likelier than the others do.
                    tells = {
                        answer: test.chance(answer, cause=cause)
                        / sum(share * test.chance(answer, cause=c) for c, share in start.items())
                        for answer, _ in test.answers
                    }
                    answered[test.key] = max(tells, key=tells.__getitem__)
            now = rule.odds(start, [(t, answered[t.key]) for t in tests if t.key in answered])
            assert rule.in_order(now)[0] == cause, (symptom, kind, cause, now)


def test_a_sheet_without_fault_finding_has_no_symptoms() -> None:
    assert finding_sheet.read(None).symptoms == ()


@pytest.mark.parametrize(
    ("part", "change", "words"),
    [
        ("tests", {"chances": {"else": [0.5, 0.6, 0, 0]}}, "add up to 1"),
        ("tests", {"caution": ""}, "caution"),
        ("tests", {"source": ""}, "source"),
        ("tests", {"symptoms": ["none"]}, "no such symptom"),
        ("tests", {"minutes": 0}, "minutes"),
        ("tests", {"answers": []}, "add up|answers"),
        ("causes", {"key": "Belt"}, "small letters"),
        (
            "symptoms",
            {"starting": [{"families": "all", "odds": [["belt_worn", 1]]}]},
            "above nought",
        ),
    ],
)
def test_an_odd_list_is_refused_and_says_why(part: str, change: dict[str, Any], words: str) -> None:
    spoilt = json.loads(json.dumps(RAW))
    spoilt[part][0] |= change

    with pytest.raises(SheetRefused, match=words):
        finding_sheet.read(spoilt)
