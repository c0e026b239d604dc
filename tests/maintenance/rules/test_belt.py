"""Which length a mark gives a drive that is kept."""

import pytest

from maintenance.rules.belt import belt_of
from plant.drives.sections import System


@pytest.mark.parametrize(
    ("mark", "length"),
    # 3V500 is 50.0 in and 6PJ1200 1200 mm of effective length (ANSI/RMA IP-22, ISO 9982); 13A690
    # 660 Li names its datum length.
    [("3V500", 50.0 * 0.0254), ("6PJ1200", 1.2), ("13A690 660 Li", 0.69)],
)
def test_belts_sized_at_the_rim_are_kept_by_their_effective_length(
    mark: str, length: float
) -> None:
    belt = belt_of(mark=mark, by_hand="", length=None, choice="", system=System.ISO_DIN)

    assert belt is not None
    assert belt.length == pytest.approx(length)
