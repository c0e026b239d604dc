"""Lengths in words: in millimetres, or in inches for the reader who chose them.

The one place where metres become words. A page is told in the unit of whoever reads it
(``told_in``, entered once a request). What is kept is told in millimetres whoever is reading:
sealed records, jobs, paper, files; it is written under ``as_kept()``.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from math import isfinite
from typing import TypeVar

T = TypeVar("T")
MM, IN = "mm", "in"
UNITS = (MM, IN)
INCH = 0.0254  # [m] exactly: international yard and pound agreement, 1959
# A tenth of a millimetre is four thousandths of an inch, and a calliper reads thousandths.
_MORE_PLACES = 2
_MOST_PLACES = {MM: 3, IN: 4}
_READ_PLACES = 3

_reader: ContextVar[str] = ContextVar("unit of the reader's lengths", default=MM)


@contextmanager
def told_in(unit: str) -> Iterator[None]:
    """Within it every length is told in that unit, "mm" or "in".

    Raises:
        ValueError: another unit.
    """
    if unit not in UNITS:
        raise ValueError(f"lengths are told in {' or '.join(UNITS)}, not in {unit!r}")
    token = _reader.set(unit)
    try:
        yield
    finally:
        _reader.reset(token)


def as_kept() -> AbstractContextManager[None]:
    """Within it lengths are told in millimetres, for what is kept and read by everybody."""
    return told_in(MM)


def length_unit() -> str:
    """The unit in which lengths are told now: "mm" or "in"."""
    return _reader.get()


def scaled(metres: float) -> float:
    """A length [m] as a number in the unit that is told now."""
    return metres * 1e3 if length_unit() == MM else metres / INCH


def number_text(metres: float, places: int = 1) -> str:
    """A length [m] as a number without its unit, a true minus and no minus nought.

    Args:
        places: decimals in millimetres; inches take as many more as keep what these say, three
            at most, which is what a calliper shows.
    """
    if length_unit() == IN:
        places = min(places + _MORE_PLACES, _READ_PLACES)
    text = f"{scaled(metres):.{places}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    return text.replace("-", "\u2212")


def length_text(metres: float, places: int = 1) -> str:
    """A length [m] with its unit: "12.3 mm", "0.484 in". Arguments as ``number_text``."""
    return f"{number_text(metres, places)} {length_unit()}"


def short_text(metres: float) -> str:
    """A length [m] with its unit and no nought after the last figure: "80 mm", "3.15 in"."""
    text = number_text(metres)
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {length_unit()}"


def spread_text(metres: float, places: int = 1) -> str:
    """The half width [m] of a doubt with its unit; never told as nought unless it is."""
    told = number_text(metres, places)
    while metres > 0 and isfinite(metres) and float(told) == 0 and places < _MOST_PLACES[MM]:
        places += 1
        told = number_text(metres, places)
    if metres > 0 and float(told) == 0:
        told = f"{scaled(metres):.{_MOST_PLACES[length_unit()]}f}"
    return f"{told} {length_unit()}"


def bound_text(metres: float) -> str:
    """The end [m] of a range as a bare number: "0.5"; inches to a thousandth."""
    return f"{metres * 1e3:g}" if length_unit() == MM else f"{round(metres / INCH, _READ_PLACES):g}"


def both_text(metres: float, places: int = 0) -> str:
    """A length [m] that a standard or a mark names in millimetres, read in inches beside it.

    So "690 mm", and for who reads inches "690 mm (27.17 in)".
    """
    with told_in(MM):
        named = length_text(metres, places)
    return f"{named} ({length_text(metres, places)})" if length_unit() == IN else named


def sizes_text(*metres: float) -> str:
    """Nominal sizes [m] as a standard names them: "13 x 8 mm"; inches as in ``both_text``."""
    named = f"{' x '.join(f'{size * 1e3:g}' for size in metres)} {MM}"
    return f"{named} ({' x '.join(map(bound_text, metres))} {IN})" if length_unit() == IN else named


def kept(work: Callable[[], T]) -> T:
    """What work gives, with its words as they are kept; what it refuses is said to the reader."""
    found = work()
    if length_unit() == MM:
        return found
    with as_kept():
        return work()
