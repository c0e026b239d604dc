"""The named refusals of the drive mathematics: what is wrong and what would be accepted."""

from math import isfinite

from plant.length_words import bound_text, length_unit, short_text
from plant.translate import gettext as _


class DriveError(ValueError):
    """The drive cannot be worked out from these figures."""


class OutOfRange(DriveError):
    """A figure lies outside the range for which the formula holds."""


class PulleysOverlap(DriveError):
    """The pulleys would touch at this centre distance."""


class BeltTooShort(DriveError):
    """The belt does not reach round the pulleys."""


class UnknownSection(DriveError):
    """No such belt section is held."""


class UnknownMark(DriveError):
    """What stands on the belt could not be read."""


class NotSourced(DriveError):
    """No published value is held for this; the sum is refused rather than guessed."""


class MixedMethods(DriveError):
    """A rating of one published method was put together with a factor of another."""


class TooFewReadings(DriveError):
    """The readings are too few, or too close together for their error, to draw a line through."""


def mm(value: float) -> str:
    """A length as people on the tools say it, for the words of a refusal.

    Args:
        value: [m] the length.

    Returns:
        The length to a tenth of a millimetre, or in the unit of who reads it, with its unit.

    Raises:
        Nothing.

    Source:
        SI prefixes (BIPM, The International System of Units, 9th ed., table 7).
    """
    return short_text(value)


def finite(name: str, value: float, *, low: float, high: float, unit: str) -> float:
    """Returns the value when it is a number inside [low, high].

    Args:
        name: what the figure is, in words.
        value: [unit] the figure.
        low, high: [unit] the ends of the accepted range, both allowed.
        unit: the unit named in the message.

    Returns:
        [unit] the value, unchanged.

    Raises:
        OutOfRange: the value is not a number, infinite, or outside the range.

    Source:
        Guard of this package; the ranges are named where it is called.
    """
    if not isfinite(value) or not low <= value <= high:
        if unit == "m":
            told = f"{bound_text(value)} {length_unit()}"
            ends = _("{low} to {high} {length_unit}").format(
                low=bound_text(low), high=bound_text(high), length_unit=length_unit()
            )
        else:
            told, ends = (
                f"{value:g} {unit}",
                _("{low} to {high} {unit}").format(low=f"{low:g}", high=f"{high:g}", unit=unit),
            )
        raise OutOfRange(
            _("{name} is {told}; accepted: {ends}").format(name=name, told=told, ends=ends)
        )
    return value
