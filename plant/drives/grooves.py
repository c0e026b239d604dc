"""Pulley grooves: width, angle by diameter, depth below and above the datum line, by standard."""

from dataclasses import dataclass
from math import radians, tan

from plant.drives.errors import NotSourced, OutOfRange, finite, mm
from plant.drives.facts import Fact, Trust
from plant.drives.sections import Family, Section, section
from plant.translate import gettext

ISO = "ISO 4183"
DIN = "DIN 2211"
RMA = "RMA IP-20"
IP_22 = "RMA IP-22"

SMALLEST, LARGEST = 0.01, 3.0  # [m] pulley diameters for which the rules are asked

_ISO_SOURCE = "ISO 4183:1995"
_DIN_SOURCE = "DIN 2211 and DIN 2217, as restated in a belt-maker technical manual"
_RMA_SOURCE = "RMA/MPTA IP-20 groove dimensions, as printed in a belt-maker design manual, Table 2"
_IP_22_SOURCE = "RMA IP-22 and ISO 5290 grooves, as printed in a belt-maker manual"


@dataclass(frozen=True, slots=True)
class Groove:
    """One groove of a pulley. Lengths [m], angle [rad].

    datum_width: width at the datum line (at the rim for RMA IP-22, where reference is "rim");
    angle: between the flanks; depth_below_datum and above_datum: the standard's least values;
    system, source: the standard; min_diameter: smallest pulley of that standard, or None;
    angle_trust: how the angle rule came to us.
    """

    section: str
    datum_width: float
    angle: float
    depth_below_datum: Fact
    above_datum: Fact
    system: str
    source: str
    reference: str = "datum"
    min_diameter: Fact | None = None
    angle_trust: Trust = Trust.MEMORY

    def width_at(self, rise: float) -> float:
        """Width [m] of the groove at ``rise`` [m] above (positive) or below the datum line."""
        low, high = -self.depth_below_datum.value * 2, self.above_datum.value * 3 + 0.02
        finite("height in the groove", rise, low=low, high=high, unit="m")
        return self.datum_width + 2 * rise * tan(self.angle / 2)

    @property
    def rim_width(self) -> float:
        """Width [m] at the rim when the groove is as shallow above the datum as allowed."""
        return self.width_at(self.above_datum.value)

    @property
    def depth(self) -> float:
        """Least depth [m] of the whole groove, from the rim to the bottom."""
        return self.depth_below_datum.value + self.above_datum.value


@dataclass(frozen=True, slots=True)
class _Row:
    """Widths and depths [mm], and the angle [degrees] up to a diameter [mm], as printed."""

    width: float
    above: float
    below: float
    angles: tuple[tuple[float, float], ...]
    smallest: float | None = None
    below_narrow: float | None = None


_INF = float("inf")

_ISO_ROWS = {
    "Y": _Row(5.3, 1.6, 4.7, ((60, 32), (_INF, 36)), smallest=20),
    "Z": _Row(8.5, 2.0, 7.0, ((80, 34), (_INF, 38)), smallest=50, below_narrow=9.0),
    "A": _Row(11, 2.75, 8.7, ((118, 34), (_INF, 38)), smallest=75, below_narrow=11.0),
    "B": _Row(14, 3.5, 10.8, ((190, 34), (_INF, 38)), smallest=125, below_narrow=14.0),
    "C": _Row(19, 4.8, 14.3, ((315, 34), (_INF, 38)), smallest=200, below_narrow=19.0),
    "D": _Row(27, 8.1, 19.9, ((475, 36), (_INF, 38)), smallest=355),
    "E": _Row(32, 9.6, 23.4, ((600, 36), (_INF, 38)), smallest=500),
}
_DIN_ROWS = {
    "Z": _Row(8.5, 2.0, 9.0, ((80, 34), (_INF, 38)), smallest=50, below_narrow=9.0),
    "A": _Row(11, 2.8, 11.2, ((118, 34), (_INF, 38)), smallest=71, below_narrow=11.2),
    "B": _Row(14, 3.5, 14.5, ((190, 34), (_INF, 38)), smallest=112, below_narrow=14.5),
    "C": _Row(19, 4.8, 19.2, ((315, 34), (_INF, 38)), smallest=180, below_narrow=19.2),
    "D": _Row(27, 8.1, 19.9, ((500, 36), (_INF, 38)), smallest=355),
    "E": _Row(32, 12, 21, ((630, 36), (_INF, 38)), smallest=500),
}
_RMA_ROWS = {
    "A": _Row(10.62, 3.175, 8.5, ((137, 34), (_INF, 38))),
    "B": _Row(13.46, 4.445, 9.53, ((178, 34), (_INF, 38))),
    "C": _Row(19.23, 5.08, 13.97, ((203, 34), (305, 36), (_INF, 38))),
    "D": _Row(27.33, 7.62, 18.29, ((330, 34), (432, 36), (_INF, 38))),
}
_IP_22_ROWS = {
    "3V": _Row(8.9, 0, 9, ((90, 36), (150, 38), (300, 40), (_INF, 42)), smallest=67),
    "5V": _Row(15.2, 0, 15, ((250, 38), (400, 40), (_INF, 42)), smallest=180),
    "8V": _Row(25.4, 0, 25, ((400, 38), (560, 40), (_INF, 42)), smallest=317),
}
# Standard: rows, source, trust of the depths, trust of widths and angles.
_TABLES: dict[str, tuple[dict[str, _Row], str, Trust, Trust]] = {
    ISO: (_ISO_ROWS, _ISO_SOURCE, Trust.MEMORY, Trust.MEMORY),
    DIN: (_DIN_ROWS, _DIN_SOURCE, Trust.SECOND_HAND, Trust.SECOND_HAND),
    RMA: (_RMA_ROWS, _RMA_SOURCE, Trust.SECOND_HAND, Trust.SECOND_HAND),
    IP_22: (_IP_22_ROWS, _IP_22_SOURCE, Trust.MEMORY, Trust.SECOND_HAND),
}
SYSTEMS = tuple(_TABLES)


def systems(code: str) -> tuple[str, ...]:
    """The groove standards held for this section, the usual one first.

    Args:
        code: section of the belt.

    Returns:
        Names for the ``system`` of ``groove``; empty where none is held.

    Raises:
        UnknownSection: no such belt section is held.

    Source:
        ISO 4183, DIN 2211, RMA IP-20 and IP-22, named with each groove.
    """
    belt = section(code)
    letter = _letter(belt)
    narrow = _is_narrow(belt)
    return tuple(
        name
        for name, (rows, *_) in _TABLES.items()
        if letter in rows and (not narrow or rows[letter].below_narrow is not None)
    )


def groove(code: str, *, diameter: float, system: str = ISO) -> Groove:
    """The standard groove for a belt section on a pulley of this size.

    Args:
        code: section of the belt; a cogged belt runs in the groove of its plain section.
        diameter: [m] datum diameter (outside diameter for RMA IP-22), 0.01 to 3.
        system: "ISO 4183", "DIN 2211", "RMA IP-20" or "RMA IP-22".

    Returns:
        Groove with lengths [m] and angle [rad]. The depths are the least the standard allows: a
        measured depth outranks them, and DIN 2211 grooves are deeper (A 11.2 against 8.7 mm).

    Raises:
        UnknownSection: no such belt section is held.
        NotSourced: that standard holds no groove for the section; the message names those that do.
        OutOfRange: the diameter is no number or outside the range.

    Source:
        ISO 4183:1995 (from memory; a later edition is announced), DIN 2211 and 2217 (second hand),
        RMA/MPTA IP-20 (second hand), RMA IP-22 and ISO 5290 (second hand, depths from memory).
        Pulleys of small plant may be pressed or cast to no standard: measure.
    """
    belt = section(code)
    finite("pulley diameter", diameter, low=SMALLEST, high=LARGEST, unit="m")
    held = systems(code)
    if system not in held:
        known = ", ".join(held) or gettext("none; ask for the section whose groove it lies in")
        raise NotSourced(
            gettext("no {system} groove is held for section {belt}; held: {known}").format(
                system=system, belt=belt.code, known=known
            )
        )
    rows, source, depth_trust, rule_trust = _TABLES[system]
    row = rows[_letter(belt)]
    below = row.below_narrow if _is_narrow(belt) and row.below_narrow else row.below
    mm = round(diameter * 1e3, 6)  # 0.118 m must count as 118 mm
    angle = next(degrees for upto, degrees in row.angles if mm <= upto)
    smallest = None
    if row.smallest is not None:
        smallest = Fact(round(row.smallest * 1e-3, 9), source, depth_trust)
    return Groove(
        section=belt.code,
        datum_width=round(row.width * 1e-3, 9),
        angle=radians(angle),
        depth_below_datum=Fact(round(below * 1e-3, 9), source, depth_trust),
        above_datum=Fact(round(row.above * 1e-3, 9), source, rule_trust),
        system=system,
        source=source,
        reference="rim" if system == IP_22 else "datum",
        min_diameter=smallest,
        angle_trust=rule_trust,
    )


def deeper(code: str, *, diameter: float) -> Groove:
    """The deepest standard groove held for a section: the other answer where depth is a guess.

    Args:
        code: section of the belt.
        diameter: [m] datum diameter, 0.01 to 3.

    Returns:
        Groove, of the standard whose least depth below the datum line is greatest.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``groove``.

    Source:
        As ``groove``; for A and SPA the DIN 2211 depth of 11.2 mm (11.0 mm is also recalled).
    """
    held = systems(code)
    if not held:
        raise NotSourced(
            gettext("no groove is held for section {code}").format(code=section(code).code)
        )
    found = [groove(code, diameter=diameter, system=name) for name in held]
    return max(found, key=lambda item: item.depth_below_datum.value)


def datum_diameter(code: str, *, outside: float, system: str = ISO) -> float:
    """Datum diameter of a pulley from the diameter over its rim.

    Args:
        code: section of the belt.
        outside: [m] diameter measured over the rim, 0.01 to 3.
        system: the groove standard, as ``groove``.

    Returns:
        [m] outside diameter less twice the height above the datum line. Standards give the least
        height: a taller rim makes this figure too large.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``groove``.

    Source:
        As ``groove``. Better: measure the width of the groove at the rim as well.
    """
    above = groove(code, diameter=outside, system=system).above_datum.value
    if outside <= 2 * above + SMALLEST:
        raise OutOfRange(
            gettext(
                "a rim of {outside} leaves no pulley under a groove {above} above "
                "the datum line; accepted: more than {mm}"
            ).format(outside=mm(outside), above=mm(above), mm=mm(2 * above + SMALLEST))
        )
    return outside - 2 * above


def _letter(belt: Section) -> str:
    return belt.groove[-1] if belt.groove.startswith("SP") else belt.groove


def _is_narrow(belt: Section) -> bool:
    return belt.family in (Family.NARROW, Family.NARROW_COGGED)
