"""The guard of every figure."""

from math import inf, nan

import pytest

from plant.drives.errors import DriveError, OutOfRange, finite, mm


def test_a_figure_in_its_range_is_returned_and_both_ends_are_accepted() -> None:
    for value in (2.0, 3.0, 5.0):
        assert finite("span", value, low=2, high=5, unit="m") == value


@pytest.mark.parametrize("value", [1.999999, 5.000001, nan, inf, -inf])
def test_anything_else_is_refused_with_the_range(value: float) -> None:
    with pytest.raises(OutOfRange, match=r"span is .* mm; accepted: 2000 to 5000 mm"):
        finite("span", value, low=2, high=5, unit="m")


def test_lengths_are_refused_in_millimetres() -> None:
    assert [mm(value) for value in (0.13, 0.7459552, 2.0)] == ["130 mm", "746 mm", "2000 mm"]


def test_every_refusal_is_a_value_error() -> None:
    assert issubclass(OutOfRange, DriveError)
    assert issubclass(DriveError, ValueError)
