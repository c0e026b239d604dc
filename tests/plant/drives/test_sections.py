"""Belt sections against the printed tables and the trade's own rules of thumb."""

from math import pi

import pytest

from plant.drives.errors import NotSourced, UnknownSection
from plant.drives.facts import Trust
from plant.drives.lengths import System
from plant.drives.sections import SECTIONS, Family, section, width_at_cord


def test_a_belt_is_13_wide_and_8_thick():
    # common practice, no source; Klein, Einführung in die DIN-Normen, Table 441.1 prints the same
    belt = section("A")

    assert (belt.top_width, belt.height) == (0.013, 0.008)


@pytest.mark.parametrize(
    ("code", "width", "height", "datum", "smallest"),
    [
        # Klein, Einführung in die DIN-Normen, Table 441.1
        ("Y", 6, 4, 5.3, 28),
        ("Z", 10, 6, 8.5, 50),
        ("A", 13, 8, 11, 75),
        ("B", 17, 11, 14, 125),
        ("C", 22, 14, 19, 200),
        ("D", 32, 20, 27, 355),
        ("E", 40, 25, 32, 500),
        # DIN 7753-1 (from memory)
        ("SPZ", 9.7, 8, 8.5, 63),
        ("SPA", 12.7, 10, 11, 90),
        ("SPB", 16.3, 13, 14, 140),
        ("SPC", 22, 18, 19, 224),
    ],
)
def test_printed_sizes(code, width, height, datum, smallest):
    belt = section(code)

    assert belt.top_width == pytest.approx(width * 1e-3)
    assert belt.height == pytest.approx(height * 1e-3)
    assert belt.datum_width == pytest.approx(datum * 1e-3)
    assert belt.min_diameter is not None
    assert belt.min_diameter.value == pytest.approx(smallest * 1e-3)


@pytest.mark.parametrize(("code", "kc"), [("A", 0.561), ("B", 0.965), ("C", 1.716)])
def test_mass_agrees_with_the_centrifugal_constant(code, kc):
    # Shigley's Mechanical Engineering Design, Table 17-16 (from memory): Kc in lbf at 1000 ft/min,
    # so m = 4.448 Kc/5.08^2; the two sources agree to a tenth
    assert section(code).mass.value == pytest.approx(4.448 * kc / 5.08**2, rel=0.12)


def test_new_width_follows_the_system_and_keeps_the_gap_as_its_doubt():
    belt = section("A")

    assert belt.new_width(System.ISO_DIN) == pytest.approx((0.013, 0.0003))
    assert belt.new_width(System.RMA) == pytest.approx((0.0127, 0.0003))
    value, spread = section("E").new_width(System.ISO_DIN)
    assert (value, spread) == pytest.approx((0.040, 0.002))
    # a section that only one system has gives its own
    assert section("SPB").new_width(System.RMA) == pytest.approx((0.0163, 0.0007))


def test_cogged_belts_have_the_size_of_the_plain_and_bend_tighter():
    for cogged, plain in (("AX", "A"), ("BX", "B"), ("CX", "C"), ("XPZ", "SPZ"), ("XPB", "SPB")):
        one, other = section(cogged), section(plain)
        assert one.cogged
        assert not other.cogged
        assert one.top_width == other.top_width
        assert one.groove == other.groove
        assert one.min_diameter is not None
        assert other.min_diameter is not None
        assert one.min_diameter.value < other.min_diameter.value
        assert one.mass.value < other.mass.value


def test_every_figure_keeps_its_source_and_trust():
    for belt in SECTIONS.values():
        facts = [fact for size in belt.sizes for fact in (size.width, size.height)]
        facts += [*belt.other_min_diameters]
        facts += [
            fact
            for fact in (belt.mass_held, belt.min_diameter, belt.pitch, belt.cord_rise)
            if fact is not None
        ]
        assert facts
        for fact in facts:
            assert fact.value > 0
            assert fact.source
            assert isinstance(fact.trust, Trust)


def test_sections_are_found_however_they_are_written():
    assert section(" spz ").code == "SPZ"
    assert section("17").code == "B"


@pytest.mark.parametrize("code", ["", "Q", "A26", "A" * 5000, "١٣"])
def test_unknown_sections_are_refused_with_what_is_held(code):
    with pytest.raises(UnknownSection, match="accepted: Y, Z, A"):
        section(code)


def test_toothed_belts_have_no_wedge_to_sink():
    belt = section("T10")

    assert belt.family is Family.SYNCHRONOUS
    assert not belt.wedges
    for figure in ("top_width", "height", "belt_angle", "mass"):
        with pytest.raises(NotSourced):
            getattr(belt, figure)
    with pytest.raises(NotSourced):
        belt.new_width(System.ISO_DIN)


def test_inch_pitches_are_exact():
    pitches = {"XL": 1 / 5, "L": 3 / 8, "H": 1 / 2, "XH": 7 / 8}
    for code, inches in pitches.items():
        pitch = section(code).pitch
        assert pitch is not None
        assert pitch.value == pytest.approx(inches * 0.0254, abs=1e-12)


def test_width_at_the_cord_is_the_datum_width_within_the_known_half_millimetre():
    # at the depth by lengths, 20/(2 pi) = 3.18 mm, an A belt is 10.68 mm wide; its groove 11 mm
    width = width_at_cord("A", top_width=0.013, cord_depth=0.020 / (2 * pi))

    assert width == pytest.approx(0.011, abs=0.0005)
