"""What an answer to a step still lacks, and which figures are questioned."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.step import (
    Asked,
    Told,
    is_out_of_range,
    measure_of,
    range_text,
    refusal,
    still_open,
)
from plant.units import NotAccepted, read

GAP = Asked(position=4, unit="mm", low=3, high=8)


def told(text: str, *, unit: str = "mm", tool: str = "rule", sure: bool = False) -> Told:
    return Told(is_done=True, figure=read(text, measure_of(unit)), tool=tool, sure=sure)


@pytest.mark.parametrize(
    ("text", "out"),
    [("3", False), ("8.0 mm", False), ("0.8 cm", False), ("2.9", True), ("8.1 mm", True),
     ("5/16 in", False), ("3/8 in", True)],
)  # fmt: skip
def test_the_ends_of_the_range_belong_to_it_in_any_unit(text: str, out: bool) -> None:
    assert is_out_of_range(GAP, told(text).figure) is out


def test_the_supply_voltage_of_a_site_is_judged_by_its_published_band() -> None:
    """230 V +10 %, -6 % is 216.2 to 253.0 V: BS 7671:2018, appendix 2 (from memory)."""
    supply = Asked(position=1, unit="V", low=216.2, high=253.0)

    assert [is_out_of_range(supply, told(v, unit="V").figure) for v in ("216", "230", "254")] == [
        True, False, True,
    ]  # fmt: skip


def test_an_odd_figure_is_questioned_and_taken_when_it_was_looked_at_again() -> None:
    part, words = refusal(GAP, told("40"), isolated=True)
    assert (part, words.startswith("Outside 3 to 8 mm")) == ("sure", True)

    assert refusal(GAP, told("40", sure=True), isolated=True) == ("", "")


@pytest.mark.parametrize(
    ("answer", "part"),
    [
        (Told(is_done=True), "figure"),
        (told("5", tool=" "), "tool"),
        (Told(is_done=False, because="  "), "because"),
        (Told(is_done=False, because="no calliper here"), ""),
        (told("5"), ""),
    ],
)
def test_a_measured_step_needs_figure_and_tool_or_a_reason(answer: Told, part: str) -> None:
    assert refusal(GAP, answer, isolated=True)[0] == part


def test_no_guard_comes_off_before_isolating_but_it_may_stay_on() -> None:
    guard = Asked(position=1, opens_guard=True)

    assert refusal(guard, Told(is_done=True), isolated=False)[0] == "done"
    assert refusal(guard, Told(is_done=True), isolated=True)[0] == ""
    assert refusal(guard, Told(is_done=False, because="seized"), isolated=False)[0] == ""


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (GAP, "3 to 8 mm"),
        (Asked(position=1, unit="L/min", low=0.5), "0.5 L/min or more"),
        (Asked(position=1, unit="s", high=10), "10 s or less"),
        (Asked(position=1, unit="N"), ""),
    ],
)
def test_the_range_in_words(asked: Asked, words: str) -> None:
    assert range_text(asked) == words


@pytest.mark.parametrize(
    ("unit", "text", "si"),
    [("L/min", "6 L/min", 1e-4), ("Nm", "22 Nm", 22.0), ("s", "2 min", 120.0), ("bar", "1.5", 1.5)],
)
def test_every_unit_of_a_plan_is_read(unit: str, text: str, si: float) -> None:
    assert read(text, measure_of(unit)).value_si == pytest.approx(si)


def test_another_unit_is_refused() -> None:
    with pytest.raises(NotAccepted):
        read("5 parsecs", measure_of("bar"))


def test_what_is_left_is_said_by_number() -> None:
    assert still_open([]) == ""
    assert still_open([3]).startswith("Step 3 still to answer")
    assert still_open([2, 3, 7]).startswith("Steps 2, 3 and 7 still to answer")


@given(st.integers(0, 999_999), st.integers(0, 999_999), st.integers(0, 999_999))
def test_a_figure_is_questioned_exactly_when_it_lies_outside(a: int, b: int, value: int) -> None:
    low, high = sorted((a, b))
    asked = Asked(position=1, unit="N", low=low / 100, high=high / 100)
    text = f"{value // 100}.{value % 100:02}"

    assert is_out_of_range(asked, told(text, unit="N").figure) is not (low <= value <= high)
