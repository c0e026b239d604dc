"""What stands on a belt, read and written."""

import time
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.drives import lengths, marks
from plant.drives.errors import DriveError, UnknownMark, UnknownSection
from plant.drives.lengths import INCH, System
from plant.drives.sections import SECTIONS

ISO, RMA, IS = System.ISO_DIN, System.RMA, System.IS


def one(text, system=ISO):
    found = marks.read(text, system=system)
    assert found.agreed, found.words
    assert found.settle == ""
    return found.readings[0]


@pytest.mark.parametrize(
    ("text", "section", "basis", "stated_mm", "assumed"),
    [
        # forms of ANSI/RMA IP-20 to IP-23, DIN 2215, ISO 4184, DIN 7753, ISO 9982 (from memory)
        ("A26", "A", "inside", 660.4, False),
        ("AX26", "AX", "inside", 660.4, False),
        ("B42", "B", "inside", 1066.8, False),
        ("Z20", "Z", "inside", 508, False),
        ("A 660 Li", "A", "inside", 660, False),
        ("A690 Ld", "A", "datum", 690, False),
        ("A690 Lw", "A", "datum", 690, False),
        ("A690Lp", "A", "datum", 690, False),
        ("A 710 La", "A", "outside", 710, False),
        ("13x660Li", "A", "inside", 660, False),
        ("17x1473 Li", "B", "inside", 1473, False),
        ("17x11x1067 Li", "B", "inside", 1067, False),
        ("12.5x1000La", "AVX13", "outside", 1000, False),
        ("9.5x850 La", "AVX10", "outside", 850, False),
        ("AVX13x1000", "AVX13", "outside", 1000, False),
        ("SPZ 1000", "SPZ", "datum", 1000, True),
        ("SPA1250 Lw", "SPA", "datum", 1250, False),
        ("XPB2000", "XPB", "datum", 2000, True),
        ("3V250", "3V", "effective", 635, False),
        ("3VX250", "3VX", "effective", 635, False),
        ("8V1000", "8V", "effective", 2540, False),
        ("9N 1270", "3V", "effective", 1270, False),
        ("15N2032", "5V", "effective", 2032, False),
        ("25N 2540", "8V", "effective", 2540, False),
        ("4L260", "4L", "outside", 660.4, False),
        ("6PK1200", "PK", "effective", 1200, False),
        ("480J6", "PJ", "effective", 1219.2, False),
        ("150L050", "L", "pitch", 381, False),
        ("240XL037", "XL", "pitch", 609.6, False),
        ("500-5M-15", "5M", "pitch", 500, False),
        ("800-8M-20", "8M", "pitch", 800, False),
        ("T10-1250-25", "T10", "pitch", 1250, False),
        ("16T5/390", "T5", "pitch", 390, False),
        ("AA96", "AA", "inside", 2438.4, False),
        ("HBB 2500", "BB", "datum", 2500, True),
    ],
)
def test_every_form(text, section, basis, stated_mm, assumed):
    found = one(text)

    assert (found.section, found.basis, found.assumed) == (section, basis, assumed)
    assert found.stated == pytest.approx(stated_mm * 1e-3)


@pytest.mark.parametrize(
    "text",
    ["A26", "a26", " A 26 ", "A-26", "A.26", 'A26"', "A26in", "A\u00a026", "(A26)", "A26."],
)
def test_spelling_does_not_matter(text):
    assert one(text).inside == pytest.approx(0.6604)


@pytest.mark.parametrize(
    "text", ["13x660 Li", "13X660LI", "13×660 Li", "13 * 660 Li", "A 13x660 Li"]
)
def test_times_signs(text):
    assert one(text).inside == pytest.approx(0.66)


def test_teeth_ribs_and_strands_are_counted():
    assert one("150L050").teeth == 40
    assert one("150L050").width == pytest.approx(0.0127)
    assert one("240XL037").width == pytest.approx(0.375 * INCH)
    assert one("124L050").teeth == 33  # 12.375 in, marked to a tenth
    assert one("T10-1250-25").width == pytest.approx(0.025)
    assert one("480J6").count == 6
    assert (one("4/5V1250").count, one("4/5V1250").joined) == (4, True)
    assert (one("R5V1250").count, one("R5V1250").joined) == (1, True)
    assert (one("15J 2032").joined, one("15N 2032").joined) == (True, False)
    assert (one("3/B75").count, one("3/B75").inside) == (3, pytest.approx(75 * INCH))


def test_three_marks_of_one_belt_are_read_together():
    found = marks.read("A26 660Li 13A690", system=ISO)

    assert found.agreed
    assert found.outcome == "agree"
    belt = found.readings[0]
    assert (belt.section, belt.inside, belt.datum) == ("A", 0.66, 0.69)
    assert belt.outside == pytest.approx(0.71)
    assert len(found.parts) == 3


@pytest.mark.parametrize("system", [ISO, RMA, IS])
def test_a_mark_that_states_the_datum_length_outranks_any_sum(system):
    belt = one("A26 13A690", system=system)

    assert belt.datum == 0.69
    assert belt.system is ISO  # the two marks themselves show the 30 mm step


def test_marks_may_show_the_inch_step_instead():
    belt = one("A26 13A693", system=ISO)

    assert (belt.datum, belt.system) == (0.693, RMA)


def test_a_bare_inch_number_follows_the_chosen_system_and_names_the_others():
    # Machinery's Handbook, 31st ed., p. 2575, Table 8: A26 = 27.3 in
    assert one("A26", system=RMA).datum == pytest.approx(27.3 * INCH)
    assert one("A26", system=ISO).datum == pytest.approx(0.6904)
    words = marks.read("A26", system=ISO).words
    assert "693 mm in the RMA system" in words
    assert "696 mm in the IS system" in words


def test_a_metric_mark_is_no_inch_belt():
    assert one("A 660 Li", system=RMA).datum == pytest.approx(0.69)


@pytest.mark.parametrize(
    ("text", "ways"),
    [
        ("A690", [("datum", 0.69), ("inside", 0.72)]),
        ("A660", [("inside", 0.69), ("datum", 0.66)]),  # 660 is 26 in, so inside is likelier
        ("B1400", [("datum", 1.4), ("inside", 1.44)]),
        ("13A690", [("datum", 0.69), ("outside", 0.67)]),
        ("13x690", [("inside", 0.72), ("datum", 0.69)]),
    ],
)
def test_two_readings_are_both_given_with_what_would_settle_it(text, ways):
    found = marks.read(text, system=ISO)

    assert not found.agreed
    assert found.outcome == "more than one reading"
    assert [(way.basis, pytest.approx(way.datum)) for way in found.readings] == ways
    assert all(way.assumed for way in found.readings)
    assert "tape" in found.settle
    for way in found.readings:
        assert f"{way.outside * 1e3:.0f} mm" in found.settle


def test_a_second_mark_settles_an_ambiguous_one():
    assert one("A690 660Li").datum == pytest.approx(0.69)
    assert one("A716 A27").datum == pytest.approx(0.716)
    assert one("13x660 AX26").section == "AX"


def test_heights_settle_which_section_a_width_is():
    found = marks.read("10x8x1000", system=ISO)

    assert {way.section for way in found.readings} == {"SPZ", "AVX10"}
    assert one("13x8x660 Li").section == "A"


def test_marks_of_two_belts_differ():
    for text in ("A26 13A750", "A26 B26", "A26 AX26", "3V250 SPZ 630"):
        found = marks.read(text, system=ISO)

        assert found.outcome == "differ"
        assert not found.agreed
        assert "cannot be of one belt" in found.words
        assert found.settle


def test_batch_codes_are_left_aside_and_named():
    found = marks.read("A26 2024 KX", system=ISO)

    assert found.agreed
    assert set(found.unread) == {"2024", "KX"}
    assert "Not read" in found.words


def test_a_bare_number_that_fits_is_used():
    belt = one("A26 690")

    assert belt.datum == 0.69


def test_a_length_without_a_section_asks_for_the_width():
    found = marks.read("660Li", system=ISO)

    assert (found.outcome, found.agreed) == ("section missing", False)
    assert found.readings[0].section == ""
    assert "13 mm is A" in found.settle
    # 30 mm between inside and datum is the step of section A
    assert marks.read("660Li 690Ld", system=ISO).readings[0].section == "A"


def test_two_names_of_one_size_are_taken_by_the_heavier():
    belt = one("A26 4L280")

    assert belt.section == "A"
    assert "light-duty" in belt.words


@pytest.mark.parametrize(
    ("text", "number"), [("D480", 480), ("E210", 210), ("C240", 240), ("B210", 210), ("A105", 105)]
)
def test_three_figures_are_inches_where_millimetres_would_not_go_round(text, number):
    assert one(text).inside == pytest.approx(number * INCH)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no belt mark"),
        ("hello", "no belt mark"),
        ("690", "number alone"),
        ("17A690", "17 mm and section A"),
        ("A13x8x99999", "accepted"),
        ("12,5x1000", "12.5"),
        ("A26 ☃", "sign"),
        ("A26; DROP TABLE `belts`", "sign"),
        ("13x20x660", "no section 13 x 20"),
        ("A 60 Ld", "leaves no inside"),
        ("A 200 Ld", "no A belt is 200 mm"),
        ("T10-1251-25", "whole teeth"),
        ("501-5M-15", "whole number of teeth"),
        ("A26 " * 60, "characters"),
        ("A26 " * 10, "more than 6 marks"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text, words):
    with pytest.raises(UnknownMark, match=words):
        marks.read(text, system=ISO)


@pytest.mark.parametrize(
    "text",
    ["1" * 200, "-" * 200, "A1" * 100, "1x" * 100, "L" * 200, "A " * 100, "13x" + "0" * 190,
     ("A690 " + "690 " * 5), "/-" * 100],
)  # fmt: skip
def test_hostile_text_is_answered_at_once(text):
    start = time.perf_counter()
    with suppress(UnknownMark):
        marks.read(text, system=ISO)

    assert time.perf_counter() - start < 0.5


@settings(deadline=None)
@given(st.text(max_size=210))
def test_any_text_is_read_or_refused(text):
    try:
        found = marks.read(text, system=ISO)
    except UnknownMark:
        return
    assert found.readings
    assert found.agreed == (found.settle == "")


@settings(deadline=None)
@given(st.text(alphabet="ABCXSPZVLTMHJKid0123456789 x-/.", max_size=30))
def test_belt_like_text_is_read_or_refused(text):
    try:
        found = marks.read(text, system=RMA)
    except UnknownMark:
        return
    for reading in found.readings:
        known = (reading.inside, reading.datum, reading.outside, reading.effective)
        assert any(length is not None for length in known)
        assert all(length is None or 0 < length <= lengths.LONGEST for length in known)


CLASSICAL = [code for code in SECTIONS if code in ("Z", "A", "B", "C", "D", "AX", "BX", "CX")]


@settings(deadline=None)
@given(st.sampled_from(CLASSICAL), st.integers(1700, 9000), st.sampled_from([ISO, RMA, IS]))
def test_every_mark_we_write_reads_back_the_same(code, datum_mm, system):
    if system not in lengths.systems_of(code):
        system = ISO
    reading = marks.reading_of(section=code, basis="datum", stated=datum_mm / 1000, system=system)

    written = marks.equivalents(reading)

    assert any(item.mark.endswith("Ld") for item in written)
    for item in written:
        back = marks.read(item.mark, system=item.system)
        assert back.agreed, item.mark
        assert back.readings[0].datum == item.datum
        assert item.off == pytest.approx(item.datum - reading.datum)
        plain = back.readings[0].section
        assert plain == code
        # metric marks are whole millimetres; inch numbers may be neighbours
        allowed = 0.0011 if item.mark.endswith(("Ld", "Li")) else 0.045
        assert abs(item.off) <= allowed, item


@pytest.mark.parametrize(
    "text",
    ["SPZ 1000", "3V250", "9N 635", "4/5V1250", "R5V1250", "15J 2032", "4L260", "AVX13x1000",
     "6PK1200", "480J6", "150L050", "240XL037", "500-5M-15", "T10-1250-25", "AA96", "HBB 2500",
     "RB75", "3/B75", "20x2000 Li"],
)  # fmt: skip
def test_every_form_has_an_equivalent_that_is_the_same_belt(text):
    reading = marks.read(text, system=ISO).readings[0]

    written = marks.equivalents(reading)

    nearest = min(written, key=lambda item: abs(item.off))
    assert abs(nearest.off) < 0.0006
    for item in written:
        back = marks.read(item.mark, system=item.system).readings[0]
        assert (back.section, back.count, back.joined) == (
            reading.section, reading.count, reading.joined,
        )  # fmt: skip


def test_an_inch_number_is_written_in_every_system_with_what_it_is_there():
    written = marks.equivalents(one("A26"))

    inches = {item.system: item.datum for item in written if item.mark == "A26"}
    assert inches == pytest.approx({ISO: 0.6904, RMA: 0.69342, IS: 0.6964})


def test_no_other_mark_without_a_section():
    with pytest.raises(UnknownMark, match="no section"):
        marks.equivalents(marks.read("660Li", system=ISO).readings[0])


def test_readings_can_be_made_from_a_section_and_a_length():
    reading = marks.reading_of(section="B", basis="inside", stated=1.473, system=ISO)

    assert reading.datum == pytest.approx(1.513)
    for bad in ({"section": "Q"}, {"basis": "waist"}, {"stated": 0.1}, {"stated": 99.0}):
        with pytest.raises((UnknownMark, UnknownSection, DriveError)):
            marks.reading_of(
                **{"section": "B", "basis": "inside", "stated": 1.473, "system": ISO, **bad}
            )


def test_belts_that_do_not_run_in_v_grooves_say_so():
    assert "does not run in V grooves" in one("150L050").words
    assert "ribbed belt does not run" in one("6PK1200").words
    assert "Light duty" in one("4L260").words


@pytest.mark.parametrize(
    ("text", "inside_mm"),
    [
        ("A26 1/2", 673.1),
        ("A 49 1/2", 1257.3),
        ("B42½", 1079.5),
        ("A26-1/4", 666.75),
        ("C60 3/4", 1543.05),
    ],
)
def test_a_fraction_after_the_inches_is_counted(text, inside_mm):
    assert one(text).inside == pytest.approx(inside_mm / 1000)


@pytest.mark.parametrize(
    ("text", "section", "strands"),
    [
        ("B75/4", "B", 4),
        ("RB75-4", "B", 4),
        ("R-C112/5", "C", 5),
        ("3RBX75", "BX", 3),
        ("SPB2000/4", "SPB", 4),
        ("4SPB2000", "SPB", 4),
        ("3-SPB 2000", "SPB", 3),
        ("R3V500-3", "3V", 3),
        ("12/SPA1600", "SPA", 12),
    ],
)
def test_the_strands_of_a_joined_belt_are_not_lost(text, section, strands):
    found = one(text)

    assert (found.section, found.count, found.joined) == (section, strands, True)


def test_a_stray_figure_is_not_taken_for_strands():
    found = marks.read("B75 4", system=ISO)

    assert found.readings[0].count == 1
    assert found.unread == ("4",)


def test_millimetres_that_say_so_are_never_read_as_inches():
    with suppress(DriveError):
        assert one("A 266 Li").inside == pytest.approx(0.266)
    with suppress(DriveError):
        assert one("A 190 mm Li").inside == pytest.approx(0.190)
    assert one("A 660 mm Li").inside == pytest.approx(0.660)


@pytest.mark.parametrize("text", ["A10", "A296", "D250", "AA 380", "AA 9660 Li", "C26", "E75"])
def test_no_mark_is_written_that_would_be_read_as_another_belt(text):
    """The systems put the cords of one inch number up to 70 mm apart, never more."""
    for reading in marks.read(text, system=ISO).readings:
        with suppress(UnknownMark):
            assert all(abs(mark.off) < 0.1 for mark in marks.equivalents(reading))


def test_an_equal_sign_between_two_marks_parts_them():
    found = one("A26=13x660")

    assert found.section == "A"
    assert found.inside == pytest.approx(0.6604, abs=0.0005)
    assert one("A Ld=690").datum == pytest.approx(0.690)
    assert one("A Li 660").datum == pytest.approx(0.690)
    assert one("SPZ Lw: 1000").datum == pytest.approx(1.0)
    assert marks.read("A 660Li / 690Ld", system=ISO).unread == ()


@pytest.mark.parametrize(
    ("text", "basis", "stated"),
    [
        ("AVX13x1000", "outside", 1.0),
        ("AVX13x1000 La", "outside", 1.0),
        ("AVX13x1000 Li", "inside", 1.0),
        ("AVX10-850 Lp", "datum", 0.85),
    ],
)
def test_a_vehicle_belt_goes_by_its_outside_unless_its_mark_says_otherwise(text, basis, stated):
    found = marks.read(text, system=ISO).readings[0]

    assert (found.basis, getattr(found, basis)) == (basis, pytest.approx(stated))


def test_readings_say_their_form_and_system():
    assert one("AA96").form == "double, inches"
    assert one("HBB 2500").form == "double, millimetres"
    assert one("HBB 2500").assumed
    assert not one("HBB 2500 Ld").assumed
    # millimetres are DIN's, whatever system is chosen for inches
    for system in (ISO, RMA):
        found = one("A690 Ld", system=system)
        assert found.system is ISO
        assert (found.inside, found.outside) == pytest.approx((0.66, 0.71))
        assert "(ISO/DIN)" in found.words
    assert "(RMA)" in one("A26", system=RMA).words
    assert "(" not in one("3V250").words


@pytest.mark.parametrize(
    ("text", "basis"), [("690 Ld", "datum"), ("660 Li", "inside"), ("710 La", "outside")]
)
def test_a_bare_length_keeps_the_name_it_bears(text, basis):
    found = marks.read(text, system=ISO).readings[0]

    stated = int(text[:3]) / 1000
    held = {name: getattr(found, name) for name in ("inside", "datum", "outside", "effective")}
    assert {name: value for name, value in held.items() if value is not None} == {basis: stated}
