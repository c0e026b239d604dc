"""Belt lengths against the printed tables; the systems stay apart."""

from math import inf, nan, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.drives import lengths
from plant.drives.errors import NotSourced, OutOfRange, UnknownSection
from plant.drives.facts import Trust
from plant.drives.lengths import INCH, System
from plant.drives.sections import section

ISO, RMA, IS = System.ISO_DIN, System.RMA, System.IS
HELD = [(code, system) for code in "YZABCDE" for system in lengths.systems_of(code)]
HELD += [(code, ISO) for code in ("20", "AX", "BX", "SPZ", "SPA", "SPB", "SPC", "XPA")]


def mm(value):
    return pytest.approx(value * 1e-3, abs=1e-9)


def test_classical_number_is_the_inside_in_inches():
    # common practice, no source: A26 is 26 in round the inside
    item = next(item for item in lengths.stocked("A", system=ISO) if item.mark == "A26")

    assert item.inside == pytest.approx(26 * 0.0254)


@pytest.mark.parametrize(
    ("code", "inside", "datum", "outside"),
    [
        # a workshop page restating DIN 2215: Ld = Li + 30/40/58, La = Li + 50/69/88
        ("A", 660, 690, 710),
        ("B", 1473, 1513, 1542),
        ("C", 2000, 2058, 2088),
    ],
)
def test_din_lengths(code, inside, datum, outside):
    found = lengths.datum_from_inside(code, inside * 1e-3, system=ISO)

    assert found == mm(datum)
    assert lengths.outside_from_datum(code, found) == mm(outside)
    assert lengths.datum_from_outside(code, outside * 1e-3) == mm(datum)


@pytest.mark.parametrize(
    ("code", "number", "inches"),
    [
        # Machinery's Handbook, 31st ed., p. 2575, Table 8 (ANSI/RMA IP-20, 1988)
        ("A", 26, 27.3), ("A", 128, 129.3),
        ("B", 35, 36.8), ("B", 210, 211.8), ("B", 240, 240.3), ("B", 300, 300.3),
        ("C", 51, 53.9), ("C", 210, 212.9), ("C", 240, 240.9), ("C", 420, 420.9),
        ("D", 210, 213.3), ("D", 240, 240.8),
    ],
)  # fmt: skip
def test_inch_table_with_its_step_over_210(code, number, inches):
    datum = lengths.datum_from_inside(code, number * INCH, system=RMA)

    assert datum / INCH == pytest.approx(inches, abs=1e-6)


def test_every_row_of_the_inch_table_is_what_the_rule_gives():
    for code in "ABC":
        for item in lengths.stocked(code, system=RMA):
            if item.system is RMA and item.standard and item.inside is not None:
                rule = lengths.datum_from_inside(code, item.inside, system=RMA)
                assert rule == pytest.approx(item.datum, abs=1e-6), item.mark


def test_the_three_systems_disagree_on_one_belt_and_are_not_averaged():
    # DIN 2215 +30 mm, ANSI/RMA +1.3 in, IS 2494 +36 mm (from memory)
    found = [lengths.datum_from_inside("A", 0.6604, system=system) for system in (ISO, RMA, IS)]

    assert found == pytest.approx([0.6904, 0.69342, 0.6964])
    assert max(found) - min(found) == pytest.approx(0.006)


@given(st.sampled_from(HELD), st.floats(0.3, 12))
def test_inside_to_datum_and_back(held, inside):
    code, system = held

    datum = lengths.datum_from_inside(code, inside, system=system)

    assert lengths.inside_from_datum(code, datum, system=system) == pytest.approx(inside, abs=1e-9)


@given(st.sampled_from(HELD), st.floats(0.3, 12), st.floats(1e-4, 1))
def test_a_longer_inside_is_a_longer_datum(held, inside, more):
    code, system = held

    assert lengths.datum_from_inside(code, inside, system=system) < lengths.datum_from_inside(
        code, inside + more, system=system
    )


@pytest.mark.parametrize("code", ["Y", "Z", "A", "B", "C", "D", "E", "SPZ", "SPA", "SPB", "SPC"])
def test_inside_and_outside_differ_by_the_belt_wrapped_once_round(code):
    # La - Li = 2 pi h for a loop of height h: a check on any table of length differences
    gap = lengths.inside_offset(code, inside=1.0, system=ISO).value
    gap += lengths.outside_offset(code).value

    assert gap == pytest.approx(2 * pi * section(code).height, abs=0.002)


def test_cord_line_by_lengths_and_by_widths():
    # A: 20/(2 pi) = 3.18 mm by lengths, (13 - 11)/(2 tan 20) = 2.75 mm by widths
    assert lengths.cord_depth("A").value == mm(20 / (2 * pi))
    assert lengths.below_cord("A").value == mm(30 / (2 * pi))
    assert lengths.cord_depth_from_widths("A").value == pytest.approx(0.002747, abs=1e-6)
    assert lengths.below_cord("A", system=RMA).value == mm(33.02 / (2 * pi))


def test_narrow_inch_belts_have_their_cords_inside_the_rim_and_ribbed_outside():
    # ANSI/RMA IP-22 (from memory): pitch = outside diameter - 0.05 in for 3V
    assert lengths.cord_from_effective("3V", 0.635) == pytest.approx(0.635 - pi * 0.05 * INCH)
    assert lengths.cord_from_effective("PK", 1.2) == pytest.approx(1.2 + 2 * pi * 0.0016)
    back = lengths.effective_from_cord("5VX", lengths.cord_from_effective("5VX", 2.0))
    assert back == pytest.approx(2.0)


def test_a_system_may_be_given_by_its_name():
    assert lengths.datum_from_inside("B", 240 * INCH, system="RMA") == pytest.approx(240.3 * INCH)


def test_tolerances_are_not_symmetrical_for_classical_belts():
    # DIN 2215 as printed in a belt-maker manual (second hand): over 630 to 800 mm +15/-7
    found = lengths.tolerance("A", datum=0.69, system=ISO)

    assert (found.over, found.under) == (0.015, 0.007)
    # Machinery's Handbook, Table 8: 0.6 in either way
    assert lengths.tolerance("A", datum=0.69, system=RMA).over == pytest.approx(0.6 * INCH)
    assert lengths.tolerance("SPZ", datum=0.8, system=ISO).under == pytest.approx(0.008)
    with pytest.raises(NotSourced):
        lengths.tolerance("A", datum=5.0, system=ISO)
    with pytest.raises(NotSourced):
        lengths.tolerance("4L", datum=0.6, system=ISO)


def test_stocked_lengths_are_sorted_and_say_where_they_come_from():
    for code in ("Y", "Z", "A", "AX", "B", "C", "SPZ", "XPB", "3V", "5VX", "8V"):
        listed = lengths.stocked(code, system=ISO)
        assert [item.datum for item in listed] == sorted(item.datum for item in listed)
        for item in listed:
            assert item.section == code
            assert item.source
            assert item.trust
    kept = [item for item in lengths.stocked("A", system=ISO) if not item.standard]
    assert kept
    assert {item.trust for item in kept} == {Trust.PRACTICE}


def test_narrow_belts_have_one_system_whatever_is_wanted():
    assert lengths.system_for("SPA", wanted=RMA) is ISO
    assert lengths.system_for("A", wanted=RMA) is RMA
    with pytest.raises(NotSourced):
        lengths.system_for("4L", wanted=ISO)
    with pytest.raises(NotSourced, match="held: ISO/DIN"):
        lengths.datum_from_inside("SPA", 1.0, system=RMA)


def test_what_is_not_held_is_refused():
    for refused in (
        lambda: lengths.outside_offset("4L"),
        lambda: lengths.cord_from_effective("A", 0.7),
        lambda: lengths.cord_depth_from_widths("3V"),
        lambda: lengths.stocked("PK", system=ISO),
        lambda: lengths.below_cord("25"),
    ):
        with pytest.raises(NotSourced):
            refused()
    with pytest.raises(UnknownSection):
        lengths.datum_from_inside("Q", 1.0, system=ISO)


@pytest.mark.parametrize("length", [0.0, -1.0, 31.0, float("nan"), float("inf")])
def test_lengths_outside_the_range_are_refused(length):
    with pytest.raises(OutOfRange):
        lengths.datum_from_inside("A", length, system=ISO)
    with pytest.raises(OutOfRange):
        lengths.outside_from_datum("A", length)


def test_a_datum_too_short_for_its_section_is_refused():
    with pytest.raises(OutOfRange, match="leaves no inside"):
        lengths.inside_from_datum("E", 0.1, system=ISO)


def test_sections_are_held_in_the_systems_that_print_them() -> None:
    assert lengths.systems_of("A") == (System.ISO_DIN, System.RMA, System.IS)
    assert lengths.systems_of("SPZ") == (System.ISO_DIN,)
    assert lengths.systems_of("5V") == ()


@pytest.mark.parametrize("datum", [inf, nan, 0.0, -1.0])
def test_no_tolerance_of_a_length_that_is_none(datum):
    with pytest.raises(OutOfRange, match="accepted"):
        lengths.tolerance("SPA", datum=datum, system=System.ISO_DIN)


@pytest.mark.parametrize(
    "code", ["Y", "Z", "A", "B", "20", "C", "D", "E", "AX", "CX", "SPA", "XPA"]
)
def test_above_and_below_the_cord_is_a_height_that_the_belt_has(code):
    """A loop's inside and outside differ by 2 pi times its height, whatever a number is called."""
    belt = section(code)
    for system in lengths.systems_of(code):
        whole = lengths.below_cord(code, system=system).value + lengths.cord_depth(code).value
        own = [size.height.value for size in belt.sizes if size.system == system]
        heights = own or [size.height.value for size in belt.sizes]
        assert min(abs(whole - height) for height in heights) <= 0.0005001


def test_an_inch_number_that_is_a_name_is_no_measure_of_the_belt():
    # 2.9 in by the handbook's rule would make a C belt 16.5 mm high; it is 13.5 mm
    found = lengths.below_cord("C", system=RMA)

    assert found.value == mm(13.5 - 30 / (2 * pi))
    assert found.trust is Trust.MEMORY


@pytest.mark.parametrize(
    ("mark", "inches"),
    [
        # Machinery's Handbook, 31st ed., p. 2575, Table 8, and the same table row by row in print
        ("A26", 0.6), ("B35", 0.6), ("A38", 0.7), ("C51", 0.7), ("B85", 0.7), ("A90", 0.8),
        ("D144", 0.8), ("B158", 1.0), ("C180", 1.0), ("D195", 1.1), ("B210", 1.1), ("C240", 1.3),
        ("B300", 1.6), ("D360", 2.0), ("C420", 3.3), ("D660", 3.3),
    ],
)  # fmt: skip
def test_inch_belts_may_be_off_by_what_the_handbook_allows(mark, inches):
    code, number = mark[0], int(mark[1:])
    datum = lengths.datum_from_inside(code, number * INCH, system=RMA)

    found = lengths.tolerance(code, datum=datum, system=RMA)

    assert found.over == found.under == pytest.approx(inches * INCH)


def test_no_inch_tolerance_where_the_table_has_no_column():
    with pytest.raises(NotSourced):
        lengths.tolerance("E", datum=4.686, system=RMA)
    with pytest.raises(NotSourced):
        lengths.tolerance("D", datum=17.5, system=RMA)


def test_figures_drawn_between_two_of_the_print_are_marked_as_worked_out():
    found = lengths.inside_offset("B", inside=225 * INCH, system=RMA)

    assert found.trust is Trust.COMPUTED
    assert "between numbers 210 and 240" in found.source


@pytest.mark.parametrize(
    ("code", "system", "source", "trust"),
    [
        ("A", ISO, "DIN 2215", Trust.SECOND_HAND),
        ("SPA", ISO, "DIN 7753-1", Trust.SECOND_HAND),
        ("A", RMA, "Machinery's Handbook", Trust.SEEN),
    ],
)
def test_a_tolerance_keeps_its_source(code, system, source, trust):
    found = lengths.tolerance(code, datum=1.0, system=system)

    assert source in found.source
    assert found.trust is trust


def test_a_narrow_belt_may_be_off_by_a_hundredth_either_way():
    # DIN 7753-1 (second hand)
    found = lengths.tolerance("SPA", datum=2.0, system=ISO)

    assert (found.over, found.under) == pytest.approx((0.02, 0.02))
