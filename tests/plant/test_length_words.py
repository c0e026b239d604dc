"""Lengths as they are told: in the unit of who reads, and kept in millimetres."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant import units
from plant.length_words import (
    IN,
    MM,
    as_kept,
    both_text,
    kept,
    length_text,
    length_unit,
    sizes_text,
    spread_text,
    told_in,
)

THOUSANDTHS = st.integers(min_value=1, max_value=390_000)


@given(THOUSANDTHS)
def test_what_a_calliper_shows_in_inches_is_shown_again(thousandths: int) -> None:
    typed = f"{thousandths / 1000:.3f}"
    measure = units.led_by(units.LENGTH, IN)

    with told_in(IN):
        assert length_text(units.read(typed, measure).value_si) == f"{typed} in"


@given(st.integers(min_value=1, max_value=99_999))
def test_what_is_typed_in_tenths_of_a_millimetre_is_shown_again(tenths: int) -> None:
    typed = f"{tenths / 10:.1f}"

    assert length_text(units.read(typed, units.LENGTH).value_si) == f"{typed} mm"


@given(st.floats(min_value=0.0001, max_value=9.9), st.sampled_from([0, 1]))
def test_inches_are_those_of_pint_and_no_coarser_than_the_millimetres(
    metres: float, places: int
) -> None:
    by_pint = pint.UnitRegistry().Quantity(metres, "meter").to("inch").magnitude

    with told_in(IN):
        told = float(length_text(metres, places).removesuffix(" in"))

    # A digit of theirs is worth less than a digit of the millimetres: 10^-(n+2) in < 10^-n mm.
    assert told == pytest.approx(by_pint, abs=0.5 * 10 ** -(places + 2) + 1e-9)
    assert 25.4 * 10 ** -(places + 2) < 10**-places


def test_a_doubt_is_never_told_as_nought() -> None:
    with told_in(IN):
        assert spread_text(5e-6) == "0.0002 in"
    assert spread_text(4e-5) == "0.04 mm"


def test_what_a_standard_names_in_millimetres_keeps_them() -> None:
    assert both_text(0.690) == "690 mm"
    assert sizes_text(0.013, 0.008) == "13 x 8 mm"
    with told_in(IN):
        # 690 / 25.4 = 27.165..., 13 / 25.4 = 0.5118, 8 / 25.4 = 0.31496
        assert both_text(0.690) == "690 mm (27.17 in)"
        assert sizes_text(0.013, 0.008) == "13 x 8 mm (0.512 x 0.315 in)"


def test_what_is_kept_is_in_millimetres_and_what_is_refused_is_said_to_the_reader() -> None:
    def refuses() -> str:
        raise ValueError(length_text(0.0254))

    with told_in(IN):
        with as_kept():
            assert length_text(0.0254) == "25.4 mm"
        assert kept(lambda: length_text(0.0254)) == "25.4 mm"
        with pytest.raises(ValueError, match=r"^1\.000 in$"):
            kept(refuses)
        assert length_unit() == IN
    assert length_unit() == MM


def test_no_other_unit_is_taken() -> None:
    with pytest.raises(ValueError, match="mm or in"), told_in("cm"):
        pass
