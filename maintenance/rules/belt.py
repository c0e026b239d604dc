"""Which belt is meant by its mark, by hand or both; and what is measured from a pulley's rim."""

from dataclasses import dataclass, replace

from plant.drives import grooves, marks
from plant.drives.errors import DriveError, UnknownMark
from plant.drives.marks import SAME_LENGTH, BeltReading
from plant.drives.sections import System, section
from plant.length_words import length_text
from plant.translate import gettext as _

# A force typed in the wrong unit of force is out by standard gravity; this near counts as that.
GRAVITY = 9.80665
_NEAR = 1.6


@dataclass(frozen=True, kw_only=True)
class Belt:
    """A belt: its section, datum length [m] and the system that gave it; words: how it was read."""

    section: str
    length: float | None
    system: str
    words: str = ""


class MarkUnclear(ValueError):
    """The mark can be read in more than one way, or in none; the message says what settles it.

    readings: the ways left, each with a key for ``choice``.
    """

    def __init__(self, message: str, *, readings: tuple[BeltReading, ...] = ()) -> None:
        super().__init__(message)
        self.readings = readings


def key_of(reading: BeltReading) -> str:
    """A lasting name of one way to read a mark, to choose it by."""
    length = length_of(reading)
    size = "" if length is None else f"{length * 1e3:.1f}"
    return f"{reading.section} {size} {reading.system} {reading.basis}"


def length_of(reading: BeltReading) -> float | None:
    """The length [m] to work with: the effective one of belts sized at the rim, else the datum."""
    return reading.datum if reading.effective is None else reading.effective


def kept_length(reading: BeltReading) -> float | None:
    """The length [m] by which a belt is kept on the rack: where its mark names only the outside
    length, as those of light duty do, that one."""
    length = length_of(reading)
    return reading.outside if length is None else length


def as_kept(belt: Belt, *, mark: str) -> Belt:
    """The belt with the length by which it is kept, where its mark says no other one."""
    if belt.length is not None or not mark:
        return belt
    readings = marks.read(mark, system=System(belt.system)).readings
    lengths = {kept_length(each) for each in readings if each.section == belt.section}
    return replace(belt, length=lengths.pop()) if len(lengths) == 1 else belt


def belt_of(
    *, mark: str, by_hand: str, length: float | None, choice: str, system: System
) -> Belt | None:
    """The belt that the entries name.

    Args:
        mark: what stands on the belt, may be empty.
        by_hand: section chosen by hand, may be empty.
        length: [m] datum length given by hand, or None.
        choice: ``key_of`` the reading that the person chose, or empty.
        system: in which a bare inch number is read.

    Returns:
        The belt; None when nothing was told of it.

    Raises:
        MarkUnclear: the mark says several things and nothing settles it, or says nothing that can
            be read and section and length were not both given by hand.
        UnknownSection: no such section is held.
    """
    if by_hand:
        by_hand = section(by_hand).code
    hand = Belt(section=by_hand, length=length, system=str(system))
    if not mark:
        return hand if by_hand or length is not None else None
    try:
        found = marks.read(mark, system=system)
    except UnknownMark as unknown:
        if by_hand and length is not None:
            return hand
        raise MarkUnclear(
            _(
                "The mark cannot be read: {unknown}. Kept as typed. Or choose the "
                "section and give the datum length."
            ).format(unknown=unknown)
        ) from unknown
    left = [reading for reading in found.readings if _fits(reading, by_hand, length)]
    # A choice left over from another mark names none of these readings, and is then no choice.
    left = [reading for reading in left if key_of(reading) == choice] or left
    if len(left) == 1 and (left[0].section or by_hand):
        return _taken(left[0], hand)
    if not left:
        raise MarkUnclear(
            _(
                "The mark and the section or length given by hand are not of one belt. {found}"
            ).format(found=found.words),
            readings=found.readings,
        )
    raise MarkUnclear(f"{found.words} {found.settle}".strip(), readings=tuple(left))


def _fits(reading: BeltReading, by_hand: str, length: float | None) -> bool:
    if by_hand and reading.section and reading.section != by_hand:
        return False
    said = length_of(reading)
    return length is None or said is None or abs(said - length) <= SAME_LENGTH


def _taken(reading: BeltReading, hand: Belt) -> Belt:
    length = length_of(reading)
    return Belt(
        section=reading.section or hand.section,
        length=hand.length if length is None else length,
        system=str(reading.system),
        words=reading.words,
    )


def from_rim(*, section_code: str, outside: float, system: str) -> tuple[float, str]:
    """Datum diameter [m] from a diameter measured across the rim, and how in words.

    Raises:
        DriveError: no groove is held for the section, or the pulley is too small for it.
    """
    standard = standard_for(section_code, diameter=outside, system=system)
    datum = grooves.datum_diameter(section_code, outside=outside, system=standard.system)
    above = standard.above_datum.value
    return datum, (
        _(
            "{outside} across the rim, less 2 × {above} above the datum line ({system}, {trust})"
        ).format(
            outside=length_text(outside),
            above=length_text(above, 2),
            system=standard.system,
            trust=standard.above_datum.trust,
        )
    )


def depth_from_rim(
    *, section_code: str, depth: float, diameter: float, system: str
) -> tuple[float, str]:
    """Groove depth [m] below the datum line from the whole depth below the rim, and how in words.

    Raises:
        DriveError: no groove is held for the section, or the whole depth does not reach the line.
    """
    standard = standard_for(section_code, diameter=diameter, system=system)
    above = standard.above_datum.value
    if depth <= above:
        raise DriveError(
            _(
                "A groove {depth} deep from the rim does not reach the datum line, "
                "{above} below it ({system})"
            ).format(depth=length_text(depth), above=length_text(above, 2), system=standard.system)
        )
    return depth - above, (
        _("{depth} from the rim, less {above} above the datum line ({system}, {trust})").format(
            depth=length_text(depth),
            above=length_text(above, 2),
            system=standard.system,
            trust=standard.above_datum.trust,
        )
    )


def standard_for(section_code: str, *, diameter: float, system: str) -> grooves.Groove:
    """The groove of the chosen standard, or of the usual one where it holds none for the section.

    Raises:
        DriveError: no standard holds a groove for the section, or the diameter is out of range.
    """
    held = grooves.systems(section_code)
    if not held:
        raise DriveError(
            _("No groove is held for section {section_code}; give datum values").format(
                section_code=section_code
            )
        )
    return grooves.groove(
        section_code, diameter=diameter, system=system if system in held else held[0]
    )


def gravity_slip(*, force: float, low: float, high: float) -> str:
    """Whether a force looks as if read in kilogram-force and typed as newtons, or the other way.

    Args:
        force: [N] as it was understood; low, high: [N] the force that is wanted.

    Returns:
        "kgf" when the figure would fit as kilogram-force, "N" when it would fit as newtons, and
        "" when there is nothing to ask.
    """
    if low / _NEAR <= force <= high * _NEAR:
        return ""
    if low / _NEAR <= force * GRAVITY <= high * _NEAR:
        return "kgf"
    if low / _NEAR <= force / GRAVITY <= high * _NEAR:
        return "N"
    return ""
