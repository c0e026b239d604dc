"""Six figures that nobody tries first."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.phone_codes import LETTERS, in_fours, new_code, new_link_code, refusal, typed_link_code


@pytest.mark.parametrize(
    "code",
    [
        "", "12345", "1234567", "12a456", "12 456", "１２３４５６", "-12345",
        "000000", "111111", "121212", "123456", "654321", "890123", "210987", "123123", "101010",
        "112211", "123321", "123789", "001100",
    ],
)  # fmt: skip
def test_what_is_no_code_or_is_tried_first_is_refused(code: str) -> None:
    assert refusal(code)


@pytest.mark.parametrize("code", ["471903", "020817", "993140"])
def test_others_will_do(code: str) -> None:
    assert refusal(code) == ""


@given(st.integers(0, 999_999))
def test_no_code_of_two_figures_or_the_same_both_ways_passes(number: int) -> None:
    code = f"{number:06d}"
    if len(set(code)) < 3 or code == code[::-1] or code[:3] == code[3:]:
        assert refusal(code)


def test_few_are_refused_so_that_guessing_stays_hard() -> None:
    refused = sum(bool(refusal(f"{number:06d}")) for number in range(0, 1_000_000, 7))

    assert refused / (1_000_000 / 7) < 0.01


def test_a_first_code_is_one_that_would_do() -> None:
    assert all(refusal(new_code()) == "" for _ in range(50))


@given(st.text(max_size=200))
def test_typed_letters_are_read_whatever_stands_between(noise: str) -> None:
    typed = typed_link_code(noise)
    assert len(typed) <= 64
    assert typed.isascii()


def test_the_letters_survive_being_shown_and_typed_in_small() -> None:
    code = new_link_code()

    assert len(code) == 12
    assert set(code) <= set(LETTERS)
    assert typed_link_code(in_fours(code).lower().replace("-", " - ")) == code
