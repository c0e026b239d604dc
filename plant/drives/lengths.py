"""Belt lengths: inside, datum, outside, effective; the systems apart; stocked lengths, tolerances.

Inside length Li is taken under the belt, datum (pitch) length Ld at the cords, outside length La
round the top, effective length Le at the rim line of the pulleys.
"""

from dataclasses import dataclass
from functools import cache
from math import pi, tan

from plant.drives.errors import NotSourced, OutOfRange, finite, mm
from plant.drives.facts import Fact, Trust
from plant.drives.sections import Family, Section, System, section
from plant.translate import gettext as _

__all__ = [
    "INCH",
    "NOMINAL_GAP",
    "Stocked",
    "System",
    "Tolerance",
    "below_cord",
    "cord_depth",
    "cord_depth_from_widths",
    "cord_from_effective",
    "datum_from_inside",
    "datum_from_outside",
    "effective_from_cord",
    "inside_from_datum",
    "inside_offset",
    "outside_from_datum",
    "outside_offset",
    "stocked",
    "system_for",
    "systems_of",
    "tolerance",
]

INCH = 0.0254  # [m], exact
# Lengths that ask for a belt this much higher or lower than printed are names, not measures.
NOMINAL_GAP = Fact(0.5e-3, "height by lengths against height as printed", Trust.PRACTICE)  # [m]
SHORTEST, LONGEST = 0.05, 30.0  # [m]

_MH = "Machinery's Handbook, 31st ed., p. 2575, Table 8 (ANSI/RMA IP-20, 1988)"
_FAIRES = "Faires, Design of Machine Elements, 4th ed., Table 17.3"
_SHIGLEY = "Shigley's Mechanical Engineering Design, 8th to 10th ed., Table 17-11"
_DIN = "DIN 2215 and ISO 4184, length differences"
_IS = "IS 2494 and Indian design data books; copies vary (B 45 mm is also printed)"
_NARROW = "DIN 7753-1"
_ISO_4184 = "ISO 4184:1992 and GB/T 11544"
_PRACTICE = "inch numbers kept by the trade"


def _fact(mm: float, source: str, trust: Trust) -> Fact:
    return Fact(round(mm * 1e-3, 9), source, trust)


# Ld - Li [m], by section and system.
_INSIDE: dict[tuple[str, System], Fact] = {
    ("Y", System.ISO_DIN): _fact(15, _DIN, Trust.MEMORY),
    ("Z", System.ISO_DIN): _fact(22, _DIN, Trust.MEMORY),
    ("A", System.ISO_DIN): _fact(30, _DIN, Trust.SEEN),
    ("B", System.ISO_DIN): _fact(40, _DIN, Trust.SEEN),
    ("20", System.ISO_DIN): _fact(50, "DIN 2215 (48 mm is also recalled)", Trust.MEMORY),
    ("C", System.ISO_DIN): _fact(58, _DIN, Trust.SEEN),
    ("D", System.ISO_DIN): _fact(75, _DIN, Trust.MEMORY),
    ("E", System.ISO_DIN): _fact(80, _DIN, Trust.MEMORY),
    ("A", System.RMA): _fact(1.3 * 25.4, _MH, Trust.SEEN),
    ("B", System.RMA): _fact(1.8 * 25.4, _MH, Trust.SEEN),
    ("C", System.RMA): _fact(2.9 * 25.4, _MH, Trust.SEEN),
    ("D", System.RMA): _fact(3.3 * 25.4, _MH, Trust.SEEN),
    ("E", System.RMA): _fact(4.5 * 25.4, _SHIGLEY, Trust.MEMORY),
    ("A", System.IS): _fact(36, _IS, Trust.MEMORY),
    ("B", System.IS): _fact(43, _IS, Trust.MEMORY),
    ("C", System.IS): _fact(56, _IS, Trust.MEMORY),
    ("D", System.IS): _fact(79, _IS, Trust.MEMORY),
    ("E", System.IS): _fact(92, _IS, Trust.MEMORY),
    ("SPZ", System.ISO_DIN): _fact(37, _NARROW, Trust.MEMORY),
    ("SPA", System.ISO_DIN): _fact(45, _NARROW, Trust.SECOND_HAND),
    ("SPB", System.ISO_DIN): _fact(60, _NARROW, Trust.MEMORY),
    ("SPC", System.ISO_DIN): _fact(83, _NARROW, Trust.MEMORY),
}

# La - Ld [m], by section; the ISO/DIN family only.
_OUTSIDE: dict[str, Fact] = {
    "Y": _fact(10, _DIN, Trust.MEMORY),
    "Z": _fact(16, _DIN, Trust.MEMORY),
    "A": _fact(20, _DIN, Trust.SEEN),
    "B": _fact(29, _DIN, Trust.SEEN),
    "20": _fact(28, "DIN 2215", Trust.MEMORY),
    "C": _fact(30, _DIN, Trust.SEEN),
    "D": _fact(51, "2 pi x 20 mm less 75 mm", Trust.COMPUTED),
    "E": _fact(77, "2 pi x 25 mm less 80 mm", Trust.COMPUTED),
    "SPZ": _fact(13, _NARROW, Trust.SECOND_HAND),
    "SPA": _fact(18, _NARROW, Trust.SECOND_HAND),
    "SPB": _fact(22, _NARROW, Trust.SECOND_HAND),
    "SPC": _fact(30, _NARROW, Trust.SECOND_HAND),
}

# The table of inch numbers steps down: (last number with the usual offset, first with the lower
# one, that lower offset [m]).
_STEP: dict[str, tuple[int, int, Fact]] = {
    "B": (210, 240, _fact(0.3 * 25.4, _MH, Trust.SEEN)),
    "C": (210, 240, _fact(0.9 * 25.4, _MH, Trust.SEEN)),
    "D": (210, 240, _fact(0.8 * 25.4, _MH, Trust.SEEN)),
    "E": (210, 240, _fact(1.0 * 25.4, _SHIGLEY, Trust.MEMORY)),
}

# Effective length less the length at the cords [m]: pi x (effective - pitch diameter).
_EFFECTIVE: dict[str, Fact] = {
    "3V": Fact(
        pi * 0.05 * INCH, "ANSI/RMA IP-22, pitch = outside diameter - 0.05 in", Trust.MEMORY
    ),
    "5V": Fact(
        pi * 0.10 * INCH, "ANSI/RMA IP-22, pitch = outside diameter - 0.10 in", Trust.MEMORY
    ),
    "8V": Fact(
        pi * 0.20 * INCH, "ANSI/RMA IP-22, pitch = outside diameter - 0.20 in", Trust.MEMORY
    ),
}


def systems_of(code: str) -> tuple[System, ...]:
    """The systems in which inside and datum length of this section are held.

    Args:
        code: section of the belt.

    Returns:
        Systems, the usual one first; empty for sections sized by effective or outside length.

    Raises:
        UnknownSection: no such section is held.

    Source:
        Named with each length difference.
    """
    key = _key(section(code))
    return tuple(system for system in System if (key, system) in _INSIDE)


def system_for(code: str, *, wanted: System) -> System:
    """The system whose length differences apply to this section.

    Args:
        code: section of the belt.
        wanted: the system chosen by the person or the depot.

    Returns:
        System: the wanted one where the section has it, else the only one it has: a narrow metric
        belt is DIN 7753-1 whatever was chosen.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: no length differences are held for the section.

    Source:
        As ``systems_of``.
    """
    held = systems_of(code)
    if not held:
        raise NotSourced(
            _("no inside and datum length are held for section {code}").format(
                code=section(code).code
            )
        )
    return wanted if wanted in held else held[0]


def inside_offset(code: str, *, inside: float, system: System) -> Fact:
    """How much longer the datum length is than the inside length.

    Args:
        code: section of the belt.
        inside: [m] inside length, or inch number x 0.0254; 0.05 to 30.
        system: whose table is meant.

    Returns:
        [m] Ld - Li with its source and trust.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: that system holds nothing for the section.
        OutOfRange: the length is no number or outside the range.

    Source:
        DIN 2215 and ISO 4184; Machinery's Handbook, 31st ed., p. 2575, Table 8 (ANSI/RMA IP-20,
        1988), whose B, C and D columns step down between numbers 210 and 240: between those two
        no belt is listed and a straight line is drawn.
    """
    belt = section(code)
    finite("inside length", inside, low=SHORTEST, high=LONGEST, unit="m")
    usual = _usual_offset(belt, system)
    step = _STEP.get(_key(belt)) if system == System.RMA else None
    if step is None:
        return usual
    last, first, lower = step
    number = inside / INCH
    if number <= last:
        return usual
    if number >= first:
        return lower
    part = (number - last) / (first - last)
    value = usual.value + part * (lower.value - usual.value)
    return Fact(
        value,
        _("straight line between numbers {last} and {first}, {mh}").format(
            last=last, first=first, mh=_MH
        ),
        Trust.COMPUTED,
    )


def datum_from_inside(code: str, inside: float, *, system: System) -> float:
    """Datum length of a belt from its inside length.

    Args:
        code: section of the belt.
        inside: [m] inside length, or inch number x 0.0254; 0.05 to 30.
        system: whose table is meant; the systems differ by 6 mm on an A26.

    Returns:
        [m] datum length.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``inside_offset``.

    Source:
        As ``inside_offset``. A mark that states a datum length outranks this sum.
    """
    return inside + inside_offset(code, inside=inside, system=system).value


def inside_from_datum(code: str, datum: float, *, system: System) -> float:
    """Inside length of a belt from its datum length; the inverse of ``datum_from_inside``.

    Args:
        code: section of the belt.
        datum: [m] datum length, 0.05 to 30.
        system: whose table is meant.

    Returns:
        [m] inside length; divided by 0.0254 it is the inch number.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: that system holds nothing for the section.
        OutOfRange: the length is no number or outside the range, or too short for the section.

    Source:
        As ``inside_offset``.
    """
    belt = section(code)
    finite("datum length", datum, low=SHORTEST, high=LONGEST, unit="m")
    usual = _usual_offset(belt, system).value
    step = _STEP.get(_key(belt)) if system == System.RMA else None
    inside = datum - usual
    if step is not None:
        last, first, lower = step
        at_last, at_first = last * INCH + usual, first * INCH + lower.value
        if datum >= at_first:
            inside = datum - lower.value
        elif datum > at_last:
            inside = INCH * (last + (first - last) * (datum - at_last) / (at_first - at_last))
    if inside < SHORTEST:
        raise OutOfRange(
            _(
                "a datum length of {datum} leaves no inside length for section "
                "{belt}; accepted: from {mm}"
            ).format(datum=mm(datum), belt=belt.code, mm=mm(SHORTEST + usual))
        )
    return inside


def outside_offset(code: str) -> Fact:
    """How much longer the outside length is than the datum length.

    Args:
        code: section of the belt.

    Returns:
        [m] La - Ld with its source and trust.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: nothing is held for the section.

    Source:
        DIN 2215 and ISO 4184 for A, B and C (seen); the others as marked with the figure.
    """
    belt = section(code)
    try:
        return _OUTSIDE[_key(belt)]
    except KeyError:
        raise NotSourced(
            _("no outside length is held for section {belt}").format(belt=belt.code)
        ) from None


def outside_from_datum(code: str, datum: float) -> float:
    """Outside length, as a tape round the belt reads it, from the datum length.

    Args:
        code: section of the belt.
        datum: [m] datum length, 0.05 to 30.

    Returns:
        [m] outside length.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``outside_offset``, or a length out of range.

    Source:
        As ``outside_offset``. Holds for a new belt lying free.
    """
    finite("datum length", datum, low=SHORTEST, high=LONGEST, unit="m")
    return datum + outside_offset(code).value


def datum_from_outside(code: str, outside: float) -> float:
    """Datum length from the outside length that a tape round the belt reads.

    Args:
        code: section of the belt.
        outside: [m] outside length, 0.05 to 30.

    Returns:
        [m] datum length.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``outside_from_datum``.

    Source:
        As ``outside_offset``. Holds for a belt whose top is not worn.
    """
    finite("outside length", outside, low=SHORTEST, high=LONGEST, unit="m")
    return outside - outside_offset(code).value


def cord_from_effective(code: str, effective: float) -> float:
    """Length at the cords from the effective length, which is taken at the rim of the pulleys.

    Args:
        code: section: 3V, 5V, 8V and their cogged forms, or a ribbed belt.
        effective: [m] effective length, 0.05 to 30.

    Returns:
        [m] length at the cord line: shorter for narrow belts, longer for ribbed ones.

    Raises:
        UnknownSection, NotSourced, OutOfRange: no effective line is held, or a length out of range.

    Source:
        ANSI/RMA IP-22 and ISO 9982 (from memory). Good to 2 mm.
    """
    finite("effective length", effective, low=SHORTEST, high=LONGEST, unit="m")
    return effective - _effective_less_cord(section(code))


def effective_from_cord(code: str, cord: float) -> float:
    """Effective length from the length at the cords; the inverse of ``cord_from_effective``.

    Args:
        code: section: 3V, 5V, 8V and their cogged forms, or a ribbed belt.
        cord: [m] length at the cord line, 0.05 to 30.

    Returns:
        [m] effective length.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``cord_from_effective``.

    Source:
        As ``cord_from_effective``.
    """
    finite("cord length", cord, low=SHORTEST, high=LONGEST, unit="m")
    return cord + _effective_less_cord(section(code))


def cord_depth(code: str) -> Fact:
    """Depth of the cord (datum) line below the top of the belt.

    Args:
        code: section of the belt.

    Returns:
        [m] b_b = (La - Ld)/(2 pi), with source and trust.

    Raises:
        UnknownSection, NotSourced: as ``outside_offset``.

    Source:
        A loop bent round any closed curve: two lines a distance b apart differ by 2 pi b. Good to
        about 0.5 mm: ``cord_depth_from_widths`` places the line otherwise.
    """
    offset = outside_offset(code)
    return Fact(offset.value / (2 * pi), f"(La - Ld)/(2 pi), {offset.source}", offset.trust)


def below_cord(code: str, *, system: System = System.ISO_DIN) -> Fact:
    """Height of the part of the belt below its cord line.

    Args:
        code: section of the belt.
        system: whose length difference is used.

    Returns:
        [m] t_b = (Ld - Li)/(2 pi), with source and trust. Where that and the cord depth together
        are no height of this belt, Li is a name and no measure: then the printed height less the
        cord depth.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: that system holds nothing for the section.

    Source:
        As ``cord_depth``; good to about 0.5 mm. Inside and outside of a loop differ by 2 pi times
        its height; the inch numbers of C, D and E break that by 3 mm of height and more.
    """
    belt = section(code)
    offset = _usual_offset(belt, system)
    by_lengths = offset.value / (2 * pi)
    above = outside_offset(code).value / (2 * pi)
    own = [size.height for size in belt.sizes if size.system == system]
    heights = own or [size.height for size in belt.sizes]
    if any(abs(by_lengths + above - height.value) <= NOMINAL_GAP.value for height in heights):
        return Fact(by_lengths, f"(Ld - Li)/(2 pi), {offset.source}", offset.trust)
    height = heights[0]
    return Fact(
        height.value - above,
        _("height of the belt less b, {source}").format(source=height.source),
        height.trust,
    )


def cord_depth_from_widths(code: str) -> Fact:
    """Depth of the cord line below the top, placed where the belt is as wide as its datum width.

    Args:
        code: section of the belt.

    Returns:
        [m] (top width - datum width)/(2 tan(angle/2)): A 2.75 mm, where the lengths say 3.18 mm.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: the section has no datum width.

    Source:
        Plane geometry on the widths of DIN 2215. The second way to place the line; the gap between
        the two is the doubt of every room under the belt.
    """
    belt = section(code)
    if belt.datum_width is None:
        raise NotSourced(_("section {belt} has no datum width").format(belt=belt.code))
    depth = (belt.top_width - belt.datum_width) / (2 * tan(belt.belt_angle / 2))
    return Fact(depth, _("(top width - datum width)/(2 tan of half the angle)"), Trust.COMPUTED)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a new belt's datum length may lie from its name: over and under [m], both >= 0."""

    over: float
    under: float
    source: str
    trust: Trust


# Upper end of the length class [m], over [m], under [m].
_DIN_2215 = (
    (0.63, 0.013, 0.006),
    (0.80, 0.015, 0.007),
    (0.90, 0.017, 0.008),
    (1.25, 0.019, 0.010),
    (1.60, 0.023, 0.011),
    (2.00, 0.027, 0.013),
    (2.50, 0.031, 0.016),
)


# Last inch number of the row, deviation either way [in]; the same table, sections A to D.
_RMA_DEVIATIONS = (
    (35, 0.6), (85, 0.7), (144, 0.8), (180, 1.0), (210, 1.1), (240, 1.3), (300, 1.6), (390, 2.0),
    (660, 3.3),
)  # fmt: skip


def tolerance(code: str, *, datum: float, system: System) -> Tolerance:
    """How far a new belt of this name may be from its datum length.

    Args:
        code: section of the belt.
        datum: [m] datum length by its name, 0.05 to 30.
        system: whose tolerance is meant.

    Returns:
        Tolerance, over and under [m].

    Raises:
        UnknownSection: no such section is held.
        NotSourced: nothing is held for this section, length or system.
        OutOfRange: the length is no number or outside the range.

    Source:
        DIN 2215 as printed in a belt-maker manual, over 0.5 to 2.5 m (seen, second hand); narrow
        belts 1 % (seen, second hand); inch belts of A to D 0.6 in up to number 35 and more from
        there, Machinery's Handbook, 31st ed., p. 2575, Table 8 (seen); between two numbers of the
        table the longer one's deviation is given.
    """
    belt = section(code)
    finite("datum length", datum, low=SHORTEST, high=LONGEST, unit="m")
    if belt.family in (Family.NARROW, Family.NARROW_COGGED):
        one = 0.01 * datum
        return Tolerance(one, one, "DIN 7753-1, about 1 %", Trust.SECOND_HAND)
    if belt.family in (Family.CLASSICAL, Family.COGGED):
        if system == System.RMA and _key(belt) in "ABCD":
            number = round(inside_from_datum(code, datum, system=system) / INCH, 2)
            for last, inches in _RMA_DEVIATIONS:
                if number <= last:
                    return Tolerance(inches * INCH, inches * INCH, _MH, Trust.SEEN)
        if system == System.ISO_DIN and datum > 0.5:
            for end, over, under in _DIN_2215:
                if datum <= end:
                    source = _("DIN 2215, deviation of the datum length")
                    return Tolerance(over, under, source, Trust.SECOND_HAND)
    raise NotSourced(
        _("no length tolerance is held for {belt} of {datum} in the {system} system").format(
            belt=belt.code, datum=mm(datum), system=system
        )
    )


@dataclass(frozen=True, slots=True)
class Stocked:
    """A length that is listed or kept: its mark, its lengths [m], and where the list comes from.

    inside is the inch number x 0.0254 for inch marks, else by the system's difference; effective is
    given instead of inside for sections sized at the rim; standard says whether a published
    standard lists it (True) or the trade just keeps it (False).
    """

    section: str
    mark: str
    inside: float | None
    datum: float
    effective: float | None
    system: System
    standard: bool
    source: str
    trust: Trust


_RMA_DATUM: dict[str, dict[int, float]] = {
    # Machinery's Handbook, 31st ed., p. 2575, Table 8; A and B agree with Faires, Table 17.3.
    "A": {
        26: 27.3, 31: 32.3, 35: 36.3, 38: 39.3, 42: 43.3, 46: 47.3, 51: 52.3, 55: 56.3, 60: 61.3,
        68: 69.3, 75: 76.3, 80: 81.3, 85: 86.3, 90: 91.3, 96: 97.3, 105: 106.3, 112: 113.3,
        120: 121.3, 128: 129.3,
    },
    "B": {
        35: 36.8, 38: 39.8, 42: 43.8, 46: 47.8, 51: 52.8, 55: 56.8, 60: 61.8, 68: 69.8, 75: 76.8,
        81: 82.8, 85: 86.8, 90: 91.8, 97: 98.8, 105: 106.8, 112: 113.8, 120: 121.8, 128: 129.8,
        144: 145.8, 158: 159.8, 173: 174.8, 180: 181.8, 195: 196.8, 210: 211.8, 240: 240.3,
        270: 270.3, 300: 300.3,
    },
    # C300 and C360 are misprinted in one copy; 300.9 and 360.9 are Faires's.
    "C": {
        51: 53.9, 60: 62.9, 68: 70.9, 75: 77.9, 81: 83.9, 85: 87.9, 90: 92.9, 96: 98.9, 105: 107.9,
        112: 114.9, 120: 122.9, 128: 130.9, 144: 146.9, 158: 160.9, 173: 175.9, 180: 182.9,
        195: 197.9, 210: 212.9, 240: 240.9, 270: 270.9, 300: 300.9, 330: 330.9, 360: 360.9,
        390: 390.9, 420: 420.9,
    },
    "D": {
        120: 123.3, 128: 131.3, 144: 147.3, 158: 161.3, 173: 176.3, 180: 183.3, 195: 198.3,
        210: 213.3, 240: 240.8, 270: 270.8, 300: 300.8, 330: 330.8, 360: 360.8, 390: 390.8,
        420: 420.8, 480: 480.8, 540: 540.8, 600: 600.8, 660: 660.8,
    },
}  # fmt: skip

_DATUM_MM: dict[str, tuple[int, ...]] = {
    "Y": (200, 224, 250, 280, 315, 355, 400, 450, 500),
    "Z": (406, 475, 530, 625, 700, 780, 920, 1080, 1330, 1420, 1540),
    "A": (630, 700, 790, 890, 990, 1100, 1250, 1430, 1550, 1640, 1750, 1940, 2050, 2200, 2300, 2480,
          2700),
    "B": (930, 1000, 1100, 1210, 1370, 1560, 1760, 1950, 2180, 2300, 2500, 2700, 2870, 3200, 3600,
          4060, 4430, 4820, 5370, 6070),
    "C": (1565, 1760, 1950, 2195, 2420, 2715, 2880, 3080, 3520, 4060, 4600, 5380, 6100, 6815, 7600,
          9100, 10700),
    "SPZ": (630, 710, 800, 900, 1000, 1120, 1250, 1400, 1600, 1800, 2000, 2240, 2500, 2800, 3150,
            3550),
    "SPA": (800, 900, 1000, 1120, 1250, 1400, 1600, 1800, 2000, 2240, 2500, 2800, 3150, 3550, 4000,
            4500),
    "SPB": (1250, 1400, 1600, 1800, 2000, 2240, 2500, 2800, 3150, 3550, 4000, 4500, 5000, 5600,
            6300, 7100, 8000),
    "SPC": (2000, 2240, 2500, 2800, 3150, 3550, 4000, 4500, 5000, 5600, 6300, 7100, 8000, 9000,
            10000, 11200, 12500),
}  # fmt: skip

# Effective lengths of ANSI/RMA IP-22, in tenths of an inch (from memory).
_EFFECTIVE_TENTHS: dict[str, tuple[int, ...]] = {
    "3V": (250, 265, 280, 300, 315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670,
           710, 750, 800, 850, 900, 950, 1000, 1060, 1120, 1180, 1250, 1320, 1400),
    "5V": (500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950, 1000, 1060, 1120, 1180, 1250,
           1320, 1400, 1500, 1600, 1700, 1800, 1900, 2000, 2120, 2240, 2360, 2500, 2650, 2800, 3000,
           3150, 3350, 3550),
    "8V": (1000, 1060, 1120, 1180, 1250, 1320, 1400, 1500, 1600, 1700, 1800, 1900, 2000, 2120, 2240,
           2360, 2500, 2650, 2800, 3000, 3150, 3350, 3550, 3750, 4000, 4250, 4500, 5000),
}  # fmt: skip

_TRADE_NUMBERS: dict[str, tuple[int, ...]] = {
    "Z": tuple(range(18, 61)),
    "A": (*range(20, 121), 122, 124, 125, 126, 128, 130, 132, 134, 136, 138, 140, 144, 150, 158,
          162, 173, 180),
    "B": (*range(24, 121), 124, 126, 128, 130, 132, 134, 136, 138, 140, 144, 148, 150, 154, 158,
          162, 173, 180, 195, 210, 240, 270, 300),
}  # fmt: skip


def stocked(code: str, *, system: System) -> tuple[Stocked, ...]:
    """The lengths that are listed by a standard or kept by the trade, shortest first.

    Args:
        code: section of the belt; a cogged section takes the list of its plain one.
        system: in which inch numbers are turned into datum lengths.

    Returns:
        Stocked lengths [m]. Inch numbers and metric datum lengths stand side by side, each with its
        source: two that lie a few millimetres apart are two names, not one length.

    Raises:
        UnknownSection: no such section is held.
        NotSourced: no list is held for the section.

    Source:
        Machinery's Handbook, 31st ed., p. 2575, Table 8; ISO 4184:1992 and GB/T 11544 (from
        memory); inch numbers kept by the trade (common practice, no source).
    """
    return _stocked(section(code), system)


@cache
def _stocked(belt: Section, system: System) -> tuple[Stocked, ...]:
    key = _key(belt)
    found: list[Stocked] = []
    held = systems_of(belt.code)
    used = system if system in held else (held[0] if held else system)
    table = _RMA_DATUM.get(key, {})
    for number in sorted({*table, *_TRADE_NUMBERS.get(key, ())}):
        listed = used == System.RMA and number in table
        inside = number * INCH
        datum = table[number] * INCH if listed else datum_from_inside(key, inside, system=used)
        found.append(
            Stocked(
                section=belt.code,
                mark=f"{belt.code}{number}",
                inside=inside,
                datum=datum,
                effective=None,
                system=used,
                standard=number in table,
                source=_MH if number in table else _PRACTICE,
                trust=Trust.SEEN if number in table else Trust.PRACTICE,
            )
        )
    narrow = belt.family in (Family.NARROW, Family.NARROW_COGGED)
    for each in _DATUM_MM.get(key, ()):
        datum = each / 1000
        found.append(
            Stocked(
                section=belt.code,
                mark=f"{belt.code} {each}" if narrow else f"{belt.code} {each} Ld",
                inside=inside_from_datum(key, datum, system=System.ISO_DIN),
                datum=datum,
                effective=None,
                system=System.ISO_DIN,
                standard=True,
                source=_ISO_4184,
                trust=Trust.MEMORY,
            )
        )
    for tenths in _EFFECTIVE_TENTHS.get(belt.groove, ()):
        effective = tenths * INCH / 10
        found.append(
            Stocked(
                section=belt.code,
                mark=f"{belt.code}{tenths}",
                inside=None,
                datum=effective - _effective_less_cord(belt),
                effective=effective,
                system=System.RMA,
                standard=True,
                source="ANSI/RMA IP-22",
                trust=Trust.MEMORY,
            )
        )
    if not found:
        raise NotSourced(_("no list of lengths is held for section {belt}").format(belt=belt.code))
    return tuple(sorted(found, key=lambda item: item.datum))


def _key(belt: Section) -> str:
    """The section under which lengths are tabled: AX as A, XPA as SPA."""
    return belt.groove if belt.family in (Family.COGGED, Family.NARROW_COGGED) else belt.code


def _usual_offset(belt: Section, system: System) -> Fact:
    try:
        return _INSIDE[_key(belt), system]
    except KeyError:
        held = ", ".join(systems_of(belt.code)) or "none"
        raise NotSourced(
            _("the {system} system holds no inside length for section {belt}; held: {held}").format(
                system=system, belt=belt.code, held=held
            )
        ) from None


def _effective_less_cord(belt: Section) -> float:
    if belt.groove in _EFFECTIVE:
        return _EFFECTIVE[belt.groove].value
    if belt.family is Family.RIBBED and belt.cord_rise is not None:
        return -2 * pi * belt.cord_rise.value
    raise NotSourced(_("section {belt} has no effective length").format(belt=belt.code))
