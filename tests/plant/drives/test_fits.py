"""What fits two pulleys and a slot; every length placed again by a general root-finder."""

from math import asin, cos, pi

import pytest
from scipy.optimize import brentq
from shapely import Point

from plant.drives import lengths
from plant.drives.errors import NotSourced, OutOfRange, PulleysOverlap
from plant.drives.fits import allowances, cautions, mates, neighbours, rims_touch, what_fits
from plant.drives.lengths import INCH, System

ISO, RMA = System.ISO_DIN, System.RMA
DRIVE = {"small": 0.08, "large": 0.18, "closest": 0.25, "farthest": 0.35}


def placed(length, small=0.08, large=0.18):
    def gap(c):
        lean = asin((large - small) / (2 * c))
        arcs = large / 2 * (pi + 2 * lean) + small / 2 * (pi - 2 * lean)
        return 2 * c * cos(lean) + arcs - length

    return brentq(gap, (large + small) / 2, 10, xtol=1e-13)


def test_every_listed_length_in_the_slot_is_given_and_placed():
    choice = what_fits("A", system=ISO, **DRIVE)

    expected = [
        item
        for item in lengths.stocked("A", system=ISO)
        if item.datum > 0.8 and 0.25 <= placed(item.datum) <= 0.35
    ]
    assert [fit.length for fit in choice.fits] == expected
    for fit in choice.fits:
        assert fit.centres == pytest.approx(placed(fit.length.datum), abs=1e-9)
        assert fit.inward == pytest.approx(fit.centres - 0.25)
        assert fit.outward == pytest.approx(0.35 - fit.centres)


def test_neighbours_stand_just_outside_the_slot():
    choice = what_fits("A", system=ISO, **DRIVE)

    assert choice.shorter is not None
    assert choice.longer is not None
    assert choice.shorter.centres < 0.25
    assert choice.longer.centres > 0.35
    assert (choice.shorter.verdict, choice.longer.verdict) == ("does not fit", "does not fit")
    assert "does not go on" in choice.shorter.words
    assert "cannot be tightened" in choice.longer.words


def test_the_sources_for_fitting_and_take_up_disagree_and_all_stand():
    # ISO 155:1998 and GB/T 13575.1: 2 wd + 0.009 Ld and 0.02 Ld; another form 0.015, 0.03;
    # ANSI/RMA IP-20, numbers 26 to 35: 0.75 and 1.0 in (all from memory)
    found = allowances("A", datum=0.69, system=ISO)

    pairs = [(one.fitting * 1e3, one.take_up * 1e3) for one in found]
    assert pairs == [
        pytest.approx((28.21, 13.8)),
        pytest.approx((10.35, 20.7)),
        pytest.approx((19.05, 25.4)),
    ]
    assert len({one.source for one in found}) == 3


@pytest.mark.parametrize(
    ("code", "number", "fitting", "take_up"),
    # ANSI/RMA IP-20 (from memory)
    [("A", 35, 0.75, 1.0), ("A", 36, 0.75, 1.5), ("B", 85, 1.25, 2.0), ("C", 112, 1.5, 2.5),
     ("D", 240, 2.5, 4.5), ("C", 390, 2.0, 6.0)],
)  # fmt: skip
def test_inch_rows(code, number, fitting, take_up):
    datum = lengths.datum_from_inside(code, number * INCH, system=RMA)

    row = allowances(code, datum=datum, system=RMA)[-1]

    assert (row.fitting / INCH, row.take_up / INCH) == pytest.approx((fitting, take_up))


def test_the_longest_inch_row_is_a_share_of_the_length():
    datum = lengths.datum_from_inside("C", 420 * INCH, system=RMA)

    assert allowances("C", datum=datum, system=RMA)[-1].take_up == pytest.approx(0.015 * datum)


def test_verdicts_follow_the_sources():
    choice = what_fits("A", system=ISO, **DRIVE)

    verdicts = {fit.verdict for fit in choice.fits}
    assert verdicts == {"tight slot", "depends on the source", "fits"}
    for fit in choice.fits:
        said = [fit.inward >= one.fitting and fit.outward >= one.take_up for one in fit.allowances]
        assert (fit.verdict == "fits") == all(said)
        assert (fit.verdict == "tight slot") == (not any(said))


def test_new_belts_of_one_name_lie_apart_by_their_tolerance():
    fit = next(f for f in what_fits("A", system=ISO, **DRIVE).fits if f.length.mark == "A 990 Ld")

    # DIN 2215, over 900 to 1250 mm: +19/-10 (second hand)
    assert fit.new_between == pytest.approx((placed(0.980), placed(1.009)))


def test_sections_sized_at_the_rim_are_placed_by_their_effective_length():
    choice = what_fits("3V", system=RMA, **DRIVE)

    assert choice.fits
    for fit in choice.fits:
        assert fit.centres == pytest.approx(placed(fit.length.effective), abs=1e-9)
        assert fit.verdict == "no source"


def test_next_lengths_each_side():
    shorter, longer = neighbours("A", datum=0.9904, small=0.08, large=0.18, system=ISO)

    assert shorter is not None
    assert longer is not None
    assert (shorter[0].mark, longer[0].mark) == ("A37", "A38")
    assert longer[1] == pytest.approx(placed(longer[0].datum), abs=1e-9)


def test_a_neighbour_that_brings_the_pulleys_together_is_none():
    shorter, longer = neighbours("A", datum=0.69, small=0.08, large=0.18, system=ISO)

    assert shorter is None
    assert longer is not None


def test_mates_of_an_a_groove():
    found = {mate.section: mate for mate in mates("A")}

    assert set(found) == {"AX", "SPA", "XPA", "4L", "AA"}
    assert found["AX"].equal
    assert "never mix" in found["AX"].caution
    assert not found["SPA"].equal
    # ISO 4183 (from memory): 11 mm below the datum line against 8.7
    assert "11 mm" in found["SPA"].caution
    assert "8.7 mm" in found["SPA"].caution
    assert "light-duty" in found["4L"].caution
    assert mates("PK") == ()


def test_a_small_pulley_calls_for_the_cogged_belt():
    said = " ".join(cautions("A", small=0.068))

    assert "smallest usual one for A is 75 mm" in said
    assert "AX bends round 63 mm; use it here" in said
    assert "still too large" in " ".join(cautions("A", small=0.05))
    assert cautions("A", small=0.075) == ()
    # DIN 2217 allows 71 mm where DIN 2215 prints 75
    assert "allows 71 mm" in " ".join(cautions("A", small=0.072))
    assert "XPZ" in " ".join(cautions("SPZ", small=0.055))


@pytest.mark.parametrize(
    ("belt", "pulley", "words"),
    [
        ("B", "A", "stands out"),
        ("Z", "A", "sinks to the bottom"),
        ("SPA", "A", "taller"),
        ("SPZ", "3V", "not interchangeable"),
        ("A", "PK", "cannot run"),
        ("A", "T10", "cannot run"),
        ("4L", "A", "light-duty"),
    ],
)
def test_wrong_belts_for_the_pulley(belt, pulley, words):
    assert words in " ".join(cautions(belt, small=0.3, pulley=pulley))


def test_rims_that_touch_before_the_datum_circles_are_named():
    choice = what_fits("A", small=0.08, large=0.18, closest=0.131, farthest=0.15, system=ISO)

    assert any("rims would touch" in text for text in choice.cautions)
    assert not any("rims" in text for text in what_fits("A", system=ISO, **DRIVE).cautions)


@pytest.mark.parametrize("centres", [0.1300, 0.1354, 0.1356, 0.1400])
def test_rims_touch_where_circles_of_the_rim_overlap(centres):
    """Rims of A grooves stand 2.75 mm above the datum line (ISO 4183, from memory)."""
    small, large = (
        Point(at, 0).buffer(datum / 2 + 0.00275, quad_segs=4096)
        for at, datum in ((0.0, 0.08), (centres, 0.18))
    )

    said = rims_touch("A", small=0.08, large=0.18, centres=centres, where="Here")

    assert bool(said) is small.intersects(large)
    assert not said or ("135.5 mm" in said[0] and said[0].startswith("Here the pulley rims"))
    assert rims_touch("3V", small=0.08, large=0.18, centres=centres) == ()
    with pytest.raises(OutOfRange, match="centres"):
        rims_touch("A", small=0.08, large=0.18, centres=float("nan"))


def test_refusals():
    with pytest.raises(OutOfRange, match="slot"):
        what_fits("A", system=ISO, **{**DRIVE, "farthest": 0.25})
    with pytest.raises(PulleysOverlap, match="with the motor fully in, pulleys of"):
        what_fits("A", system=ISO, **{**DRIVE, "closest": 0.12})
    with pytest.raises(NotSourced, match="no V-belt"):
        what_fits("PK", system=ISO, **DRIVE)
    with pytest.raises(NotSourced):
        what_fits("4L", system=ISO, **DRIVE)
    with pytest.raises(NotSourced):
        allowances("3V", datum=1.0, system=ISO)


def test_the_inch_row_is_counted_in_inches_whatever_the_system():
    # C55: 1.5 in up to number 55, 2.0 in from 56; counted back by DIN it would be number 56
    datum = (55 + 2.9) * INCH

    for system in (ISO, RMA):
        assert allowances("C", datum=datum, system=system)[-1].take_up == pytest.approx(1.5 * INCH)


def test_every_room_keeps_its_trust():
    for number in (60, 420):
        datum = lengths.datum_from_inside("C", number * INCH, system=RMA)
        found = allowances("C", datum=datum, system=RMA)
        assert len(found) == 3
        assert {one.trust.value for one in found} == {"from memory"}


@pytest.mark.parametrize(
    ("made_for", "other", "equal", "words"),
    [
        ("3V", "3VX", True, "never mix"),
        ("AX", "A", True, "larger small pulley"),
        ("SPA", "XPA", True, "never mix"),
        ("SPA", "A", False, "carries less"),
        ("A", "SPA", False, "Measure the groove"),
        ("4L", "A", False, "heavier than 4L"),
        ("A", "4L", False, "light-duty"),
        ("A", "AA", False, "not changed for one another"),
        ("AA", "A", False, "not changed for one another"),
    ],
)
def test_what_each_mate_is_worth(made_for, other, equal, words):
    found = {mate.section: mate for mate in mates(made_for)}[other]

    assert found.equal is equal
    assert words in found.caution


@pytest.mark.parametrize("off", [-1e-6, 1e-6])
def test_rims_touch_at_twice_their_height_over_the_datum_circles(off):
    # ISO 4183 (from memory): 2.75 mm for A, so 130 + 5.5 mm between centres
    found = rims_touch("A", small=0.08, large=0.18, centres=0.1355 + off)

    assert bool(found) is (off < 0)
    if found:
        assert "2.75 mm" in found[0]
        assert "135.5 mm" in found[0]
    assert rims_touch("3V", small=0.08, large=0.18, centres=0.14) == ()
