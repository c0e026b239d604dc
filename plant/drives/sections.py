"""Belt sections and their tables: sizes, datum width, mass, smallest pulley, each sourced."""

from dataclasses import dataclass
from enum import StrEnum
from math import radians, tan

from plant.drives.errors import NotSourced, UnknownSection, finite
from plant.drives.facts import Fact, Trust
from plant.translate import gettext as _


class System(StrEnum):
    """The families of standards that name and size belts differently; never mixed in one sum."""

    ISO_DIN = "ISO/DIN"
    RMA = "RMA"
    IS = "IS"


class Family(StrEnum):
    """Kinds of belt, as the trade groups them."""

    CLASSICAL = "classical"
    COGGED = "cogged"
    NARROW = "narrow"
    NARROW_COGGED = "narrow cogged"
    INCH_NARROW = "inch narrow"
    LIGHT_DUTY = "light duty"
    DOUBLE = "double"
    AUTOMOTIVE = "automotive"
    RIBBED = "ribbed"
    SYNCHRONOUS = "synchronous"


KLEIN = "Klein, Einführung in die DIN-Normen, Table 441.1 (endless V-belts, DIN 2215)"
ISO_4184 = "ISO 4184:1992 and GB/T 11544"
DIN_7753 = "DIN 7753-1"
DIN_7753_3 = "ISO 2790 and DIN 7753-3"
SHIGLEY_9 = "Shigley's Mechanical Engineering Design, 8th to 10th ed., Table 17-9 (ANSI/RMA IP-20)"
SHIGLEY_16 = "Shigley's Mechanical Engineering Design, 8th to 10th ed., Table 17-16"
OTHER_RMA = "ANSI/RMA IP-20, other printings of its belt table"
IP_22 = "ANSI/RMA IP-22"
IP_23 = "ANSI/RMA IP-23"
GB_MASS = "GB/T 13575.1"
ISO_9982 = "ISO 9982 and DIN 7867"
ISO_5289 = "ISO 5289 and ANSI/RMA IP-21"
ISO_5296 = "ISO 5296, DIN 7721 and ISO 13050"
DIN_2217 = "DIN 2211 and DIN 2217, as restated in a belt-maker technical manual"
ISO_4183 = "ISO 4183:1995"
WEAK_MASS = "0.9 of the wrapped belt of the same size"

# A width measured on a new belt differs from its printed one by this much even inside one system.
USUAL_WIDTH_SPREAD = Fact(0.0003, "new belts of one section side by side", Trust.PRACTICE)

_ANGLE = radians(40)
_MM = 1e-3


@dataclass(frozen=True, slots=True)
class Size:
    """Top width and height [m] of a section as one standard prints them.

    standard: the printed source; system: which family of standards it belongs to.
    """

    standard: str
    system: System
    width: Fact
    height: Fact


@dataclass(frozen=True, slots=True)
class Section:
    """One belt section. Lengths [m], angles [rad], mass [kg/m].

    code: how the section is written; family: the kind of belt; sizes: top width and height by
    standard, the usual one first (one rib for a ribbed belt); datum_width: [m] width at the datum
    line, None where the system has none; wedge: [rad] angle between the flanks, None for toothed
    belts; mass_held: [kg/m] for one belt, or one rib; min_diameter: [m] smallest usual pulley,
    min_diameter_at says whether at the datum line, the effective (rim) line or the outside;
    other_min_diameters: what other sources print; groove: the section whose groove it runs in;
    pitch: [m] between ribs or teeth; cord_rise: [m] cord line beyond the effective diameter of a
    ribbed or toothed pulley; note: what to take care of.
    """

    code: str
    family: Family
    sizes: tuple[Size, ...]
    datum_width: float | None = None
    wedge: float | None = _ANGLE
    mass_held: Fact | None = None
    min_diameter: Fact | None = None
    min_diameter_at: str = "datum"
    other_min_diameters: tuple[Fact, ...] = ()
    groove: str = ""
    pitch: Fact | None = None
    cord_rise: Fact | None = None
    note: str = ""

    @property
    def top_width(self) -> float:
        """Nominal top width [m] of one belt, or of one rib; see ``new_width`` for other systems."""
        if not self.sizes:
            raise NotSourced(
                _("{code} belts are made in many widths; measure it").format(code=self.code)
            )
        return self.sizes[0].width.value

    @property
    def height(self) -> float:
        """Nominal height [m]."""
        if not self.sizes:
            raise NotSourced(_("no height is held for {code}; measure it").format(code=self.code))
        return self.sizes[0].height.value

    @property
    def belt_angle(self) -> float:
        """Angle [rad] between the flanks of the free belt."""
        if self.wedge is None:
            raise NotSourced(
                _("{code} is a toothed belt; it has no wedge angle").format(code=self.code)
            )
        return self.wedge

    @property
    def mass(self) -> Fact:
        """Mass [kg/m] of one belt, or of one rib of a ribbed belt."""
        if self.mass_held is None:
            raise NotSourced(
                _("no mass per metre is held for {code}; weigh a belt").format(code=self.code)
            )
        return self.mass_held

    @property
    def cogged(self) -> bool:
        """Whether the inside is moulded with cogs, so that it bends round smaller pulleys."""
        return self.family in (Family.COGGED, Family.NARROW_COGGED) or self.code.endswith("VX")

    @property
    def wedges(self) -> bool:
        """Whether it is a single V-belt that grips by its flanks and sinks as it wears."""
        return self.family not in (Family.RIBBED, Family.SYNCHRONOUS)

    def new_width(self, system: System) -> tuple[float, float]:
        """Nominal top width of a new belt in one system, and how far other printings lie from it.

        Args:
            system: whose nominal is wanted. Where a section is not in that system its own is given.

        Returns:
            [m] width and [m] spread: the largest distance to the width any held standard prints,
            and never under 0.3 mm.

        Raises:
            NotSourced: a toothed belt, made in many widths.

        Source:
            The sizes held with the section; the 0.3 mm is common practice, no source. Measure the
            new belt when it is fitted: that outranks this figure.
        """
        widths = [size.width.value for size in self.sizes]
        own = [size.width.value for size in self.sizes if size.system == system]
        value = own[0] if own else self.top_width
        apart = max(abs(width - value) for width in widths)
        return value, max(apart, USUAL_WIDTH_SPREAD.value)


def section(code: str) -> Section:
    """The section of this code.

    Args:
        code: as written on the belt: "A", "spz", "3VX", "PK"; case and spaces do not matter, and
            the top width in whole millimetres ("13", "17") names a classical section too.

    Returns:
        Section with lengths [m], angles [rad], mass [kg/m].

    Raises:
        UnknownSection: no such section is held; the message lists what is.

    Source:
        Named with each figure in the table.
    """
    key = code.strip().upper() if len(code) <= 20 else ""
    key = _BY_WIDTH.get(key, key)
    try:
        return SECTIONS[key]
    except KeyError:
        raise UnknownSection(
            _("no belt section {code} is held; accepted: {sections}").format(
                code=f"{code[:20]!r}", sections=", ".join(SECTIONS)
            )
        ) from None


def width_at_cord(code: str, *, top_width: float, cord_depth: float) -> float:
    """Width of a V-belt at the line of its cords.

    Args:
        code: section of the belt.
        top_width: [m] measured or nominal top width, 0.001 to 0.1.
        cord_depth: [m] depth of the cord line below the top, 0 to 0.05.

    Returns:
        [m] top width less 2 tan(angle/2) x depth.

    Raises:
        UnknownSection, NotSourced, OutOfRange: no such V-belt, or a figure outside the range.

    Source:
        Plane geometry of a trapezium. Holds for a free, straight belt with unworn flanks.
    """
    belt = section(code)
    finite("top width", top_width, low=0.001, high=0.1, unit="m")
    finite("cord depth", cord_depth, low=0, high=0.05, unit="m")
    return top_width - 2 * tan(belt.belt_angle / 2) * cord_depth


def _mm(value: float, source: str, trust: Trust) -> Fact:
    return Fact(round(value * _MM, 9), source, trust)


def _size(standard: str, system: System, trust: Trust, width: float, height: float) -> Size:
    return Size(standard, system, _mm(width, standard, trust), _mm(height, standard, trust))


def _din(width: float, height: float) -> Size:
    return _size(KLEIN, System.ISO_DIN, Trust.SEEN, width, height)


def _rma(width: float, height: float, standard: str = SHIGLEY_9) -> Size:
    return _size(standard, System.RMA, Trust.MEMORY, width, height)


def _iso(width: float, height: float, trust: Trust = Trust.MEMORY) -> Size:
    return _size(ISO_4184, System.ISO_DIN, trust, width, height)


def _is(width: float, height: float) -> Size:
    return _size("IS 2494", System.IS, Trust.MEMORY, width, height)


def _trapezium(width: float, height: float) -> Fact:
    # 1.2 t/m3 of rubber and cord gives the printed masses of A to C within a tenth
    area = (width - height * tan(_ANGLE / 2)) * height * _MM**2
    return Fact(round(area * 1200, 3), _("area of the section x 1200 kg/m3"), Trust.COMPUTED)


def _classical(
    code: str,
    *,
    sizes: tuple[Size, ...],
    datum: float,
    mass: float,
    smallest: float,
    others: tuple[Fact, ...] = (),
    note: str = "",
) -> Section:
    return Section(
        code=code,
        family=Family.CLASSICAL,
        sizes=sizes,
        datum_width=round(datum * _MM, 9),
        mass_held=Fact(mass, GB_MASS, Trust.MEMORY),
        min_diameter=_mm(smallest, KLEIN, Trust.SEEN),
        other_min_diameters=others,
        groove=code,
        note=note,
    )


def _cogged(code: str, *, plain: str, smallest: float, inch: float, mass: float) -> Section:
    wrapped = _CLASSICAL[plain]
    return Section(
        code=code,
        family=Family.COGGED,
        sizes=wrapped.sizes,
        datum_width=wrapped.datum_width,
        mass_held=Fact(mass, WEAK_MASS, Trust.MEMORY),
        min_diameter=_mm(smallest, KLEIN, Trust.SEEN),
        other_min_diameters=(
            _mm(inch * 25.4, _("ANSI/RMA IP-20, cogged sheave minimum"), Trust.MEMORY),
        ),
        groove=plain,
        note=_("Height is measured over the cogs."),
    )


def _narrow(
    code: str,
    *,
    family: Family,
    size: tuple[float, float],
    iso: tuple[float, float] | None,
    datum: float,
    mass: float,
    smallest: Fact,
    trust: Trust,
) -> Section:
    # only heights were seen restated; the widths are from memory
    width, height = size
    sizes = [
        Size(
            DIN_7753,
            System.ISO_DIN,
            _mm(width, DIN_7753, Trust.MEMORY),
            _mm(height, DIN_7753, trust),
        )
    ]
    if iso is not None:
        sizes.append(_iso(*iso, trust=Trust.SECOND_HAND if code == "SPA" else Trust.MEMORY))
    return Section(
        code=code,
        family=family,
        sizes=tuple(sizes),
        datum_width=round(datum * _MM, 9),
        mass_held=Fact(mass, DIN_7753, Trust.MEMORY),
        min_diameter=smallest,
        groove="SP" + code[-1],
        note=_(
            "DIN 7753-1 and ISO 4184 print sizes up to 0.7 mm (0.028 in) apart; the gap is not "
            "wear."
        ),
    )


def _inch(
    code: str,
    *,
    family: Family,
    source: str,
    size: tuple[float, float],
    mass: Fact,
    smallest: float,
    at: str,
    groove: str,
    note: str = "",
) -> Section:
    return Section(
        code=code,
        family=family,
        sizes=(_rma(*size, standard=source),),
        mass_held=mass,
        min_diameter=_mm(smallest, source, Trust.MEMORY),
        min_diameter_at=at,
        groove=groove,
        note=note,
    )


def _ribbed(
    code: str, rib: float, height: float, mass: float, least: float, rise: float
) -> Section:
    return Section(
        code=code,
        family=Family.RIBBED,
        sizes=(_size(ISO_9982, System.ISO_DIN, Trust.MEMORY, rib, height),),
        mass_held=Fact(mass, _("per rib, ") + ISO_9982 + ", weak", Trust.MEMORY),
        min_diameter=_mm(least, ISO_9982, Trust.MEMORY),
        min_diameter_at="effective",
        groove=code,
        pitch=_mm(rib, ISO_9982, Trust.MEMORY),
        cord_rise=_mm(rise, ISO_9982 + ", weak", Trust.MEMORY),
        note=_(
            "Width is the number of ribs times the rib pitch; the height printed is the greatest."
        ),
    )


def _toothed(code: str, tooth: float, height: float, rise: float) -> Section:
    exact = Trust.COMPUTED if code in ("XL", "L", "H", "XH") else Trust.MEMORY
    return Section(
        code=code,
        family=Family.SYNCHRONOUS,
        sizes=(),
        wedge=None,
        groove=code,
        pitch=_mm(tooth, ISO_5296, exact),
        cord_rise=_mm(rise, ISO_5296, Trust.MEMORY),
        note=_(
            "Toothed belt, {height} mm ({height_in} in) high: it cannot slip, only jump teeth."
        ).format(height=f"{height:g}", height_in=f"{height / 25.4:.3f}"),
    )


def _double(code: str, *, width: float, height: float, single: str, mass: float) -> Section:
    return Section(
        code=code,
        family=Family.DOUBLE,
        sizes=(_size(ISO_5289, System.ISO_DIN, Trust.MEMORY, width, height),),
        datum_width=None,
        mass_held=Fact(mass, ISO_5289 + ", weak", Trust.MEMORY),
        min_diameter=_CLASSICAL[single].min_diameter,
        groove=single,
        note=_("Six-sided: it drives from both faces, and its widest line is in the middle."),
    )


def _automotive(code: str, width: float, height: float) -> Section:
    return Section(
        code=code,
        family=Family.AUTOMOTIVE,
        sizes=(_size(DIN_7753_3, System.ISO_DIN, Trust.MEMORY, width, height),),
        mass_held=_trapezium(width, height),
        groove=code,
        note=_("Sized by its outside length; made for vehicle pulleys."),
    )


_CLASSICAL = {
    "Y": _classical(
        "Y", sizes=(_din(6, 4),), datum=5.3, mass=0.02, smallest=28,
        others=(_mm(20, ISO_4183, Trust.MEMORY),),
    ),
    "Z": _classical("Z", sizes=(_din(10, 6),), datum=8.5, mass=0.06, smallest=50),
    "A": _classical(
        "A",
        sizes=(_din(13, 8), _rma(12.7, 8.7), _rma(12.7, 7.9, OTHER_RMA), _is(13, 8)),
        datum=11, mass=0.105, smallest=75,
        others=(_mm(71, DIN_2217, Trust.SECOND_HAND), _mm(76, SHIGLEY_9, Trust.MEMORY)),
        note="An inch-made belt starts at 12.7 mm (0.500 in); 0.3 mm (0.012 in) under 13 mm "
        "(0.512 in) is not wear.",
    ),
    "B": _classical(
        "B",
        sizes=(_din(17, 11), _rma(16.7, 11.1), _rma(16.7, 10.3, OTHER_RMA), _is(17, 11)),
        datum=14, mass=0.17, smallest=125,
        others=(_mm(112, DIN_2217, Trust.SECOND_HAND), _mm(137, SHIGLEY_9, Trust.MEMORY)),
    ),
    "20": Section(
        code="20", family=Family.CLASSICAL,
        sizes=(_size("DIN 2215", System.ISO_DIN, Trust.MEMORY, 20, 12.5),),
        datum_width=0.017, mass_held=_trapezium(20, 12.5),
        min_diameter=_mm(160, "DIN 2215", Trust.MEMORY), groove="20",
        note="A DIN 2215 size between B and C; no letter.",
    ),
    "C": _classical(
        "C", sizes=(_din(22, 14), _rma(22.2, 13.5), _is(22, 14)), datum=19, mass=0.3, smallest=200,
        others=(_mm(180, DIN_2217, Trust.SECOND_HAND), _mm(229, SHIGLEY_9, Trust.MEMORY)),
    ),
    "25": Section(
        code="25", family=Family.CLASSICAL,
        sizes=(_size("DIN 2215", System.ISO_DIN, Trust.MEMORY, 25, 16),),
        datum_width=0.021, mass_held=_trapezium(25, 16),
        min_diameter=_mm(250, "DIN 2215", Trust.MEMORY), groove="25",
        note="A DIN 2215 size between C and D; no letter.",
    ),
    "D": _classical(
        "D", sizes=(_din(32, 20), _iso(32, 19), _rma(31.8, 19.1), _is(32, 19)),
        datum=27, mass=0.63, smallest=355, others=(_mm(330, SHIGLEY_9, Trust.MEMORY),),
    ),
    "E": _classical(
        "E",
        sizes=(_din(40, 25), _iso(38, 23), _rma(38.1, 25.4), _rma(38.1, 23.0, OTHER_RMA),
               _is(38, 23)),
        datum=32, mass=0.97, smallest=500, others=(_mm(549, SHIGLEY_9, Trust.MEMORY),),
    ),
}  # fmt: skip

_MEM, _2ND = Trust.MEMORY, Trust.SECOND_HAND
_W, _N = Family.NARROW, Family.NARROW_COGGED
_NARROW = {
    item.code: item
    for item in (
        _narrow("SPZ", family=_W, size=(9.7, 8), iso=(10, 8), datum=8.5, mass=0.072,
                smallest=_mm(63, ISO_4183, _MEM), trust=_2ND),
        _narrow("SPA", family=_W, size=(12.7, 10), iso=(13, 10), datum=11, mass=0.112,
                smallest=_mm(90, ISO_4183, _MEM), trust=_MEM),
        _narrow("SPB", family=_W, size=(16.3, 13), iso=(17, 14), datum=14, mass=0.192,
                smallest=_mm(140, ISO_4183, _MEM), trust=_2ND),
        _narrow("SPC", family=_W, size=(22, 18), iso=(22, 18), datum=19, mass=0.37,
                smallest=_mm(224, ISO_4183, _MEM), trust=_2ND),
        _narrow("XPZ", family=_N, size=(9.7, 8), iso=None, datum=8.5, mass=0.065,
                smallest=_mm(50, DIN_7753, _MEM), trust=_MEM),
        _narrow("XPA", family=_N, size=(12.7, 9), iso=None, datum=11, mass=0.111,
                smallest=_mm(63, DIN_7753, _MEM), trust=_MEM),
        _narrow("XPB", family=_N, size=(16.3, 13), iso=None, datum=14, mass=0.183,
                smallest=_mm(100, DIN_7753, _MEM), trust=_MEM),
        _narrow("XPC", family=_N, size=(22, 18), iso=None, datum=19, mass=0.34,
                smallest=_mm(160, DIN_7753, _MEM), trust=_MEM),
    )
}  # fmt: skip

_V, _L = Family.INCH_NARROW, Family.LIGHT_DUTY
_KC = "from Kc of " + SHIGLEY_16
_INCH = {
    item.code: item
    for item in (
        _inch("3V", family=_V, source=IP_22, size=(9.7, 8), mass=Fact(0.073, _KC, _MEM),
              smallest=67, at="outside", groove="3V", note="3/8 x 5/16 in; 9N in ISO 5290."),
        _inch("5V", family=_V, source=IP_22, size=(15.9, 13.5), mass=Fact(0.21, _KC, _MEM),
              smallest=180, at="outside", groove="5V", note="5/8 x 17/32 in; 15N in ISO 5290."),
        _inch("8V", family=_V, source=IP_22, size=(25.4, 23), mass=Fact(0.567, _KC, _MEM),
              smallest=317, at="outside", groove="8V",
              note="1 x 29/32 in (7/8 in as 25N of ISO 5290)."),
        _inch("3VX", family=_V, source=IP_22, size=(9.7, 8), mass=Fact(0.066, WEAK_MASS, _MEM),
              smallest=55.9, at="outside", groove="3V", note="Cogged 3V."),
        _inch("5VX", family=_V, source=IP_22, size=(15.9, 13.5), mass=Fact(0.19, WEAK_MASS, _MEM),
              smallest=111.8, at="outside", groove="5V", note="Cogged 5V."),
        _inch("2L", family=_L, source=IP_23, size=(6.4, 4.0),
              mass=Fact(0.02, IP_23 + ", weak", _MEM), smallest=20, at="outside", groove="2L"),
        _inch("3L", family=_L, source=IP_23, size=(9.5, 5.6),
              mass=Fact(0.05, IP_23 + ", weak", _MEM), smallest=38, at="outside", groove="3L"),
        _inch("4L", family=_L, source=IP_23, size=(12.7, 7.9),
              mass=Fact(0.09, IP_23 + ", weak", _MEM), smallest=64, at="outside", groove="4L",
              note="Light duty. It lies in an A groove but carries less than an A belt."),
        _inch("5L", family=_L, source=IP_23, size=(16.7, 9.5),
              mass=Fact(0.14, IP_23 + ", weak", _MEM), smallest=89, at="outside", groove="5L",
              note="Light duty. It lies in a B groove but carries less than a B belt."),
    )
}  # fmt: skip

# Every section held, by code.
SECTIONS: dict[str, Section] = {
    **_CLASSICAL,
    "AX": _cogged("AX", plain="A", smallest=63, inch=2.2, mass=0.095),
    "BX": _cogged("BX", plain="B", smallest=90, inch=4.0, mass=0.155),
    "CX": _cogged("CX", plain="C", smallest=140, inch=6.8, mass=0.28),
    **_NARROW,
    **_INCH,
    "AA": _double("AA", width=13, height=10, single="A", mass=0.15),
    "BB": _double("BB", width=17, height=13, single="B", mass=0.24),
    "CC": _double("CC", width=22, height=17, single="C", mass=0.44),
    "DD": _double("DD", width=32, height=25, single="D", mass=0.93),
    "AVX10": _automotive("AVX10", 10, 8),
    "AVX13": _automotive("AVX13", 13, 10),
    "PH": _ribbed("PH", 1.6, 3, 0.005, 13, 0.8),
    "PJ": _ribbed("PJ", 2.34, 4, 0.009, 20, 1.25),
    "PK": _ribbed("PK", 3.56, 6, 0.021, 45, 1.6),
    "PL": _ribbed("PL", 4.7, 10, 0.038, 75, 3.5),
    "PM": _ribbed("PM", 9.4, 17, 0.12, 180, 5.0),
    "XL": _toothed("XL", 5.08, 2.3, 0.254),
    "L": _toothed("L", 9.525, 3.6, 0.381),
    "H": _toothed("H", 12.7, 4.3, 0.686),
    "XH": _toothed("XH", 22.225, 11.2, 1.397),
    "T5": _toothed("T5", 5, 2.2, 0.5),
    "T10": _toothed("T10", 10, 4.5, 1.0),
    "3M": _toothed("3M", 3, 2.4, 0.381),
    "5M": _toothed("5M", 5, 3.8, 0.572),
    "8M": _toothed("8M", 8, 6.0, 0.686),
    "14M": _toothed("14M", 14, 10.0, 1.397),
}

# DIN 2215 names its sections by the top width in millimetres.
_BY_WIDTH = {"6": "Y", "10": "Z", "13": "A", "17": "B", "22": "C", "32": "D", "40": "E"}
