"""Grooves against the printed tables, and against the plane geometry of a wedge."""

from math import degrees, radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.drives.errors import NotSourced, OutOfRange, UnknownSection
from plant.drives.grooves import SYSTEMS, datum_diameter, deeper, groove, systems


@pytest.mark.parametrize(
    ("code", "system", "diameter", "angle"),
    [
        # ISO 4183:1995 (from memory): A changes at 118 mm
        ("A", "ISO 4183", 80, 34),
        ("A", "ISO 4183", 118, 34),
        ("A", "ISO 4183", 118.1, 38),
        ("Z", "ISO 4183", 80, 34),
        ("B", "ISO 4183", 191, 38),
        ("C", "ISO 4183", 315, 34),
        ("D", "ISO 4183", 480, 38),
        # DIN 2211 (second hand): D changes at 500 mm
        ("D", "DIN 2211", 480, 36),
        # RMA/MPTA IP-20 (second hand): A changes at 137 mm, C has three
        ("A", "RMA IP-20", 137, 34),
        ("A", "RMA IP-20", 138, 38),
        ("C", "RMA IP-20", 250, 36),
        # RMA IP-22 (second hand)
        ("3V", "RMA IP-22", 90, 36),
        ("3V", "RMA IP-22", 301, 42),
    ],
)
def test_angle_by_diameter(code, system, diameter, angle):
    assert degrees(groove(code, diameter=diameter / 1000, system=system).angle) == pytest.approx(
        angle
    )


def test_narrow_belts_need_the_deeper_iso_groove_and_din_cuts_both_deep():
    # ISO 4183:1995 (from memory): A 8.7, SPA 11.0; DIN 2211 (second hand): 11.2
    assert groove("A", diameter=0.1).depth_below_datum.value == 0.0087
    assert groove("AX", diameter=0.1).depth_below_datum.value == 0.0087
    assert groove("SPA", diameter=0.1).depth_below_datum.value == 0.011
    assert groove("XPA", diameter=0.1).depth_below_datum.value == 0.011
    assert groove("A", diameter=0.1, system="DIN 2211").depth_below_datum.value == 0.0112
    assert deeper("A", diameter=0.1).system == "DIN 2211"


@pytest.mark.parametrize(
    ("code", "diameter", "rim"),
    [
        ("A", 0.08, 12.68),
        ("A", 0.2, 12.89),
        ("B", 0.15, 16.14),
        ("C", 0.4, 22.31),
        ("Z", 0.1, 9.88),
    ],
)
def test_rim_width_follows_from_datum_width_and_angle(code, diameter, rim):
    assert groove(code, diameter=diameter).rim_width * 1e3 == pytest.approx(rim, abs=0.006)


@pytest.mark.parametrize(
    ("code", "diameter", "rim"),
    # RMA/MPTA IP-20 (second hand) prints the width at the rim apart from the datum width
    [("A", 0.1, 12.5), ("A", 0.2, 12.8), ("B", 0.15, 16.2), ("C", 0.25, 22.5), ("D", 0.4, 32.3)],
)
def test_inch_grooves_close_on_their_printed_rim_width(code, diameter, rim):
    found = groove(code, diameter=diameter, system="RMA IP-20")

    assert found.rim_width * 1e3 == pytest.approx(rim, abs=0.1)


@given(st.sampled_from(["Y", "Z", "A", "B", "C", "D", "E"]), st.floats(0.05, 2))
def test_width_falls_by_the_wedge(code, diameter):
    found = groove(code, diameter=diameter)
    down = 0.6 * found.depth_below_datum.value

    assert found.width_at(0) == found.datum_width
    assert found.datum_width - found.width_at(-down) == pytest.approx(
        2 * down * tan(found.angle / 2)
    )
    assert found.width_at(-found.depth_below_datum.value) > 0
    assert found.angle <= radians(40)


def test_angle_never_falls_as_pulleys_grow():
    for code in ("Y", "Z", "A", "B", "C", "D", "E", "3V", "5V", "8V"):
        for system in systems(code):
            angles = [
                groove(code, diameter=mm / 1000, system=system).angle for mm in range(20, 1000, 7)
            ]
            assert angles == sorted(angles)


def test_datum_diameter_from_the_rim():
    # ISO 4183 (from memory): b = 2.75 mm, so a pulley of 85.5 mm over the rim has 80 mm
    assert datum_diameter("A", outside=0.0855) == pytest.approx(0.080)
    # RMA IP-20 (second hand): 2hd = 6.35 mm
    assert datum_diameter("A", outside=0.08635, system="RMA IP-20") == pytest.approx(0.080)


def test_what_is_not_held_is_refused_with_what_is():
    with pytest.raises(NotSourced, match="held: RMA IP-22"):
        groove("3V", diameter=0.1)
    with pytest.raises(NotSourced, match="held: ISO 4183, DIN 2211"):
        groove("SPA", diameter=0.1, system="RMA IP-20")
    with pytest.raises(NotSourced):
        groove("4L", diameter=0.1)
    with pytest.raises(NotSourced):
        deeper("T10", diameter=0.1)
    with pytest.raises(UnknownSection):
        groove("Q", diameter=0.1)


@pytest.mark.parametrize("diameter", [0.0, -1.0, 3.1, float("nan"), float("inf")])
def test_diameters_outside_the_rule_are_refused(diameter):
    with pytest.raises(OutOfRange, match="accepted"):
        groove("A", diameter=diameter)


def test_heights_outside_the_groove_and_rims_too_small_are_refused():
    with pytest.raises(OutOfRange):
        groove("A", diameter=0.1).width_at(-0.05)
    with pytest.raises(OutOfRange, match="leaves no pulley"):
        datum_diameter("E", outside=0.012)


def test_every_groove_keeps_source_and_trust():
    for code in ("Y", "Z", "A", "B", "C", "D", "E", "SPA", "8V"):
        for system in systems(code):
            found = groove(code, diameter=0.3, system=system)
            assert system in SYSTEMS
            assert found.source
            assert found.depth_below_datum.trust


def test_heights_in_a_groove_end_at_twice_its_depth_and_well_above_the_rim():
    found = groove("A", diameter=0.1)

    # 8.7 mm below and 2.75 mm above the datum line: -17.4 to 3 x 2.75 + 20 = 28.25 mm
    for rise in (-0.01739, 0.02824):
        assert found.width_at(rise) == pytest.approx(0.011 + 2 * rise * tan(radians(17)))
    for rise in (-0.01741, 0.02826):
        with pytest.raises(OutOfRange):
            found.width_at(rise)


def test_the_smallest_rim_leaves_ten_millimetres_of_pulley():
    assert datum_diameter("A", outside=0.01551) == pytest.approx(0.01001)
    for outside in (0.01549, 2 * 0.00275 + 0.01):  # the end itself is refused, as its words say
        with pytest.raises(OutOfRange, match="leaves no pulley"):
            datum_diameter("A", outside=outside)
