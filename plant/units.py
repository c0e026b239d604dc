"""Figures with units as people type them and as they are shown; the only module that loads pint."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from math import ceil, floor, isfinite, log10, pi, trunc
from typing import TYPE_CHECKING, Literal

from plant.translate import gettext as _

if TYPE_CHECKING:
    import pint

MOST_CHARACTERS = 20
MOST_DECIMALS = 6
CLOCK = "h:min"


class NotAccepted(ValueError):
    """What was typed is not one of the forms this field takes; the message says which are."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit that a field takes.

    symbol: as it is typed and shown; pint: its name for pint; spellings: other ways to type it;
    factor: [SI for one of it] when it is exact by definition, else None and pint gives it;
    zero: [own unit] what is added before the factor, for scales that do not start at nothing;
    most_decimals: shown at most, where the own unit of the measure is far smaller.
    """

    symbol: str
    pint: str
    factor: Fraction | None = None
    spellings: tuple[str, ...] = ()
    zero: Fraction = Fraction(0)
    most_decimals: int = MOST_DECIMALS


@dataclass(frozen=True, slots=True)
class Measure:
    """A kind of figure that people type: its own unit, what else it takes, and its hard range.

    name: in words, lower case; si: the unit it is stored in, and si_pint its name for pint;
    units: accepted, the own unit first; low, high: [si] both allowed; decimals: shown in the own
    unit; exact_case: capitals matter, because two units differ by them or could be taken so;
    clock: takes hours and minutes as 4:30; refused: unit as typed (any case) and why not.
    """

    name: str
    si: str
    si_pint: str
    units: tuple[Unit, ...]
    low: float
    high: float
    decimals: int
    exact_case: bool = False
    clock: bool = False
    refused: tuple[tuple[str, str], ...] = ()

    @property
    def unit(self) -> str:
        """The symbol of the own unit: what a plain number is taken to be in."""
        return self.units[0].symbol

    @property
    def symbols(self) -> tuple[str, ...]:
        """Every accepted unit, the own one first."""
        return tuple(unit.symbol for unit in self.units) + ((CLOCK,) if self.clock else ())


@dataclass(frozen=True, slots=True)
class Typed:
    """A figure as it was typed, and what it means.

    text_as_typed: without the spaces around it; value_si: [SI] the correctly rounded value;
    unit: the symbol that was typed or, after a plain number, the field's own.
    """

    text_as_typed: str
    value_si: float
    unit: str


@dataclass(frozen=True, slots=True)
class OpenTyped(Typed):
    """A figure off an instrument that may show only "more than" or "less than" it.

    end: ">" where the value is above the figure, "<" where it is below, empty where it is it.
    """

    end: Literal["", ">", "<"] = ""


def read(text: str, measure: Measure) -> Typed:
    """What the text means in this field.

    Args:
        text: a plain number in the field's own unit, or a number and one of the field's units;
            inches also as a fraction, hours also as 4:30.
        measure: the field.

    Returns:
        The text without outer spaces, its SI value and its unit. The value is the double nearest
        to the exact product of number and factor, so 8 mm is 0.008 to the last bit.

    Raises:
        NotAccepted: the text has another form or unit, or lies outside the hard range.
    """
    if len(text) > 2 * MOST_CHARACTERS:
        raise NotAccepted(_("That is too long. {measure}").format(measure=_accepted(measure)))
    typed = text.replace("\u00a0", " ").strip(" ")
    found = _PATTERN.fullmatch(typed)
    if found is None:
        raise NotAccepted(_what_is_wrong(typed, measure))
    number = _number(found, measure)
    unit = _unit_typed(found, measure)
    value = float((number + unit.zero) * _factor(unit, measure.si_pint))
    if not measure.low <= value <= measure.high:
        raise NotAccepted(
            _("Enter {measure}.{number}").format(
                measure=_range(measure), number=_unit_meant(number, unit, measure)
            )
        )
    return Typed(
        text_as_typed=typed,
        value_si=value,
        unit=CLOCK if found["hours"] is not None else unit.symbol,
    )


@cache
def led_by(measure: Measure, unit: str) -> Measure:
    """The same field with another of its units first: what a plain number is then taken to be in.

    A field that does not take the unit stays as it is, so that a lead is told in metres.
    """
    if unit == measure.unit or unit not in measure.symbols:
        return measure
    first = _unit_named(unit, measure)
    units = (first, *(each for each in measure.units if each is not first))
    return replace(measure, units=units, decimals=_places(first, measure))


def read_open(text: str, measure: Measure) -> OpenTyped:
    """What the text means where an instrument may show only that a figure lies beyond its range.

    Args:
        text: as for read(), with ">" or "<" before it where the instrument shows that sign.
        measure: the field.

    Raises:
        NotAccepted: as read().
    """
    typed = text.replace("\u00a0", " ").strip(" ")
    end: Literal["", ">", "<"] = ""
    if typed[:1] == ">":
        end = ">"
    elif typed[:1] == "<":
        end = "<"
    figure = read(typed[len(end) :], measure)
    return OpenTyped(
        text_as_typed=f"{end} {figure.text_as_typed}".strip(),
        value_si=figure.value_si,
        unit=figure.unit,
        end=end,
    )


def show(
    value_si: float,
    measure: Measure,
    unit: str | None = None,
    decimals: int | None = None,
    doubt: float | None = None,
) -> str:
    """The figure with its unit, for people: "12.0 mm", "12.0 ± 0.7 mm", "4:30".

    Args:
        value_si: [SI] the figure.
        measure: what kind of figure it is.
        unit: one of its symbols; None: its own unit.
        decimals: 0 to 6; None: as many as the measure shows, in other units enough to lose
            nothing, and with a doubt enough for the doubt not to read as nought.
        doubt: [SI] half the width of the range it lies in; never shown as nought unless it is.

    Raises:
        ValueError: not a finite number, a doubt below nought, or a unit the measure does not have.
    """
    if not isfinite(value_si) or (doubt is not None and not (isfinite(doubt) and doubt >= 0)):
        raise ValueError(f"{measure.name}: {value_si} with doubt {doubt} cannot be shown")
    if unit == CLOCK and measure.clock:
        return _clock(value_si)
    chosen = _unit_named(unit or measure.unit, measure)
    factor = _factor(chosen, measure.si_pint)
    places = _places(chosen, measure) if decimals is None else decimals
    spread = None if doubt is None else Fraction(repr(float(doubt))) / factor
    if spread and decimals is None:
        while places < MOST_DECIMALS and _steps(spread, places) == 0:
            places += 1
    number = _rounded(Fraction(repr(float(value_si))) / factor - chosen.zero, places)
    if spread is None:
        return f"{number} {chosen.symbol}"
    if spread:
        spread = max(spread, Fraction(1, 10**places))
    return f"{number} ± {_rounded(spread, places)} {chosen.symbol}"


def to_si(number: float, measure: Measure, unit: str | None = None) -> float:
    """The SI value of a number in one of the measure's units (None: its own); no range check."""
    chosen = _unit_named(unit or measure.unit, measure)
    return float((Fraction(repr(float(number))) + chosen.zero) * _factor(chosen, measure.si_pint))


def from_si(value_si: float, measure: Measure, unit: str | None = None) -> float:
    """The number that an SI value is in one of the measure's units (None: its own)."""
    chosen = _unit_named(unit or measure.unit, measure)
    return float(Fraction(repr(float(value_si))) / _factor(chosen, measure.si_pint) - chosen.zero)


def decimal_string(value: float, digits: int = 12) -> str:
    """The canonical decimal text of an SI value, as it is sealed. FROZEN: seals depend on it.

    Args:
        value: [SI] any finite number.
        digits: significant figures kept, 1 to 17.

    Returns:
        The number rounded to that many significant figures, the exact binary value counting and a
        tie going to the even digit; no exponent, no sign on nought, no noughts after the last
        figure of a fraction: 0.008 is "0.008", 1300.0 is "1300".

    Raises:
        ValueError: not a finite number, or digits outside 1 to 17.
    """
    if not isfinite(value):
        raise ValueError(f"{value} has no decimal string")
    if not 1 <= digits <= 17:
        raise ValueError(f"digits is {digits}; accepted: 1 to 17")
    # Both steps are exact whatever the decimal context is: seals must not depend on a setting.
    text = format(Decimal(f"{value:.{digits - 1}e}"), "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def tenths_of_hour(value_si: float) -> int:
    """Running hours as they are stored: whole tenths of an hour.

    Args:
        value_si: [s] a time.

    Returns:
        [0.1 h] the nearest tenth; three minutes, halfway between two, count as the next tenth up.
        So 4:30 is 45, 4:32 is 45 and 4:33 is 46.
    """
    return floor(Fraction(repr(float(value_si))) / 360 + Fraction(1, 2))


def seconds_of_tenths(tenths: int) -> float:
    """The time [s] of a stored count of tenths of an hour."""
    return tenths * 360.0


_PATTERN = re.compile(
    r"""
    (?: (?P<hours>[0-9]{1,6}) : (?P<minutes>[0-5][0-9])
      | (?: (?P<whole>[0-9]{1,9}) [ ] )? (?P<top>[0-9]{1,3}) / (?P<bottom>[0-9]{1,3})
      | (?P<number>[+-]?[0-9]{1,9}(?:\.[0-9]{1,6})?+)
    )
    (?: [ ]{0,3} (?P<unit>[A-Za-z%°\u03a9\u2126][A-Za-z%°\u03a9\u2126/ ]{0,9})
      | [ ]{1,3} (?P<per>1/min)
    )?
    """,
    re.VERBOSE | re.ASCII,
)
_TAPE = (2, 4, 8, 16, 32, 64)


def _number(found: re.Match[str], measure: Measure) -> Fraction:
    """The exact number that was typed; forms that only some units have are refused elsewhere."""
    if found["hours"] is not None:
        if not measure.clock or found["unit"] not in (None, "h") or found["per"] is not None:
            raise NotAccepted(_accepted(measure))
        return int(found["hours"]) + Fraction(int(found["minutes"]), 60)
    if found["top"] is not None:
        if "in" not in measure.symbols:
            raise NotAccepted(
                _("Use a decimal, not a fraction. {measure}").format(measure=_accepted(measure))
            )
        if (found["unit"] or measure.unit).strip().casefold() not in ("in", "inch"):
            raise NotAccepted(_("A fraction needs its unit, for example 5/16 in or 1 1/2 in."))
        top, bottom = int(found["top"]), int(found["bottom"])
        if bottom not in _TAPE or (found["whole"] is not None and top >= bottom):
            raise NotAccepted(
                _("Use halves, quarters, 8ths, 16ths, 32nds or 64ths, for example 1 1/2 in.")
            )
        return int(found["whole"] or 0) + Fraction(top, bottom)
    return Fraction(found["number"])


def _unit_typed(found: re.Match[str], measure: Measure) -> Unit:
    typed = (found["unit"] or found["per"] or "").strip()
    if not typed:
        return measure.units[0]
    for unit in measure.units:
        if typed in (unit.symbol, *unit.spellings):
            return unit
    folded = typed.casefold()
    for refused, reason in measure.refused:
        if folded == refused.casefold():
            raise NotAccepted(reason)
    alike = [
        unit
        for unit in measure.units
        if folded in [one.casefold() for one in (unit.symbol, *unit.spellings)]
    ]
    if len(alike) == 1 and not measure.exact_case:
        return alike[0]
    if alike:
        raise NotAccepted(
            _("Capitals matter here. Use {listed}.").format(
                listed=_listed([unit.symbol for unit in measure.units])
            )
        )
    raise NotAccepted(_accepted(measure))


def _unit_named(symbol: str, measure: Measure) -> Unit:
    for unit in measure.units:
        if unit.symbol == symbol:
            return unit
    raise ValueError(f"{measure.name} has no unit {symbol!r}; accepted: {measure.symbols}")


def _what_is_wrong(typed: str, measure: Measure) -> str:
    """The first thing wrong with a text that does not have the form of a figure."""
    if not typed:
        return _accepted(measure)
    if "," in typed:
        return _("Use a point for decimals, for example {measure}.").format(
            measure=_example(measure)
        )
    if "in" in measure.symbols and typed[-1] in "\"'\u2032\u2033":
        return _("Write inches as in, for example 5/16 in or 1 1/2 in.")
    if any(one.isdigit() and not one.isascii() for one in typed):
        return _("Use the digits 0 to 9. {measure}").format(measure=_accepted(measure))
    if re.fullmatch(r"[+-]?[0-9]*\.?[0-9]*", typed, re.ASCII):
        return _(
            "Use 1 to 9 digits and, after a point, 1 to 6 more, for example 0.5 {unit}."
        ).format(unit=measure.unit)
    return _accepted(measure)


def _accepted(measure: Measure) -> str:
    symbols = _listed([unit.symbol for unit in measure.units])
    example = "4:30" if measure.clock else _example(measure)
    return _("Enter a number alone or with {symbols}, for example {example}.").format(
        symbols=symbols, example=example
    )


def _example(measure: Measure) -> str:
    return "0.485 in" if measure.unit == "in" else f"12.5 {measure.unit}"


def _listed(words: Sequence[str]) -> str:
    return (
        words[0]
        if len(words) == 1
        else _("{rest} or {last}").format(rest=", ".join(words[:-1]), last=words[-1])
    )


def _unit_meant(number: Fraction, unit: Unit, measure: Measure) -> str:
    """The same whole number in the field's own unit, where it fits and another unit was typed."""
    own = measure.units[0]
    value = float((number + own.zero) * _factor(own, measure.si_pint))
    if unit == own or number.denominator != 1 or not measure.low <= value <= measure.high:
        return ""
    return _(" Write {number} {symbol} if that is meant.").format(number=number, symbol=own.symbol)


def _range(measure: Measure) -> str:
    low, high = (_end(from_si(end, measure), measure) for end in (measure.low, measure.high))
    whole, point, rest = high.partition(".")
    spaced = f"{int(whole):,}".replace(",", " ")
    return _("{low} to {high} {unit}").format(
        low=low, high=f"{spaced}{point}{rest}", unit=measure.unit
    )


def _end(number: float, measure: Measure) -> str:
    """An end of the range; inches are cut off, so that what is named is accepted."""
    if measure.unit == "in":
        number = trunc(number * 1000) / 1000
    return decimal_string(number, digits=9)


def _places(unit: Unit, measure: Measure) -> int:
    """Decimals that lose nothing of what the own unit shows."""
    own = _factor(measure.units[0], measure.si_pint)
    wider = ceil(log10(_factor(unit, measure.si_pint) / own))
    return min(max(measure.decimals + wider, 0), unit.most_decimals)


def _steps(number: Fraction, places: int) -> int:
    """The number counted in steps of the last decimal, halves going away from nought."""
    steps = floor(abs(number) * Fraction(10**places) + Fraction(1, 2))
    return -steps if number < 0 else steps


def _rounded(number: Fraction, places: int) -> str:
    steps = _steps(number, places)
    whole, rest = divmod(abs(steps), 10**places)
    tail = f".{rest:0{places}}" if places else ""
    return f"{'-' if steps < 0 else ''}{whole}{tail}"


def _clock(value_si: float) -> str:
    minutes = floor(Fraction(repr(float(abs(value_si)))) / 60 + Fraction(1, 2))
    sign = "-" if value_si < 0 and minutes else ""
    return f"{sign}{minutes // 60}:{minutes % 60:02}"


@cache
def _factor(unit: Unit, si_pint: str) -> Fraction:
    """SI for one unit; pint works out what is not exact by definition of the prefix, once."""
    if unit.factor is not None:
        return unit.factor
    converted = _registry().Quantity(1.0, unit.pint).to(si_pint).magnitude
    # Pint multiplies chains of factors, which leaves noise in the 16th figure; none of the
    # published definitions used here has more than 14.
    return Fraction(f"{float(converted):.15g}")


@cache
def _registry() -> "pint.UnitRegistry[float]":
    # Imported here because pint costs a third of a second, which most commands need not pay.
    import pint

    return pint.UnitRegistry()


_THOUSAND = Fraction(1000)
_ONE = Fraction(1)
_MILLI = Fraction(1, 1000)
_RPM = Fraction(repr(pi / 30))
_DEGREE = Fraction(repr(pi / 180))

_MM = Unit("mm", "millimeter", _MILLI)
_CM = Unit("cm", "centimeter", Fraction(1, 100))
_M = Unit("m", "meter", _ONE)
_IN = Unit("in", "inch", spellings=("inch",))
_N = Unit("N", "newton", _ONE)
_KN = Unit("kN", "kilonewton", _THOUSAND)
_KGF = Unit("kgf", "kilogram_force")
_LBF = Unit("lbf", "pound_force")
_OHM_SIGNS = "\u03a9\u2126"
_OHM = Unit("ohm", "ohm", _ONE, (*_OHM_SIGNS, "Ohm", "ohms", "Ohms", "OHM"))
_MILLIOHM = Unit(
    "mohm", "milliohm", _MILLI, (*(f"m{sign}" for sign in _OHM_SIGNS), "mOhm", "mohms", "mOhms")
)
_KILOOHM = Unit(
    "kohm", "kiloohm", _THOUSAND,
    (*(f"k{sign}" for sign in _OHM_SIGNS), "kOhm", "kohms", "kOhms"), most_decimals=3,
)  # fmt: skip
_MEGAOHM = Unit(
    "Mohm", "megaohm", Fraction(10**6),
    (*(f"M{sign}" for sign in _OHM_SIGNS), "MOhm", "Mohms", "MOhms"), most_decimals=3,
)  # fmt: skip
_A = Unit("A", "ampere", _ONE)
_MA = Unit("mA", "milliampere", _MILLI)

# The hard ranges only catch slips of the keyboard; what is right for a machine is judged later.
LENGTH = Measure("length", "m", "meter", (_MM, _CM, _M, _IN), 0.0, 10.0, 1)
LEAD_LENGTH = Measure("length of a lead", "m", "meter", (_M, _MM), 0.0, 100.0, 1)
WIDTH = Measure("width", "m", "meter", (_MM, _CM, _M, _IN), 0.0, 10.0, 1)
DEFLECTION = Measure("deflection", "m", "meter", (_MM, _CM, _M, _IN), 0.0, 10.0, 1)
FORCE = Measure("force", "N", "newton", (_N, _KN, _KGF, _LBF), 0.0, 10_000.0, 1)
TENSION = Measure("tension", "N", "newton", (_N, _KN, _KGF, _LBF), 0.0, 10_000.0, 0)
FREQUENCY = Measure("frequency", "Hz", "hertz", (Unit("Hz", "hertz", _ONE),), 0.0, 2_000.0, 1)
SPEED = Measure(
    "speed",
    "rad/s",
    "radian/second",
    (
        Unit("rpm", "revolution/minute", _RPM, ("r/min", "rev/min")),
        Unit("1/min", "revolution/minute", _RPM, ("/min",)),
    ),
    0.0,
    float(20_000 * _RPM),
    0,
)
POWER = Measure(
    "power",
    "W",
    "watt",
    (Unit("kW", "kilowatt", _THOUSAND), Unit("W", "watt", _ONE), Unit("hp", "horsepower")),
    0.0,
    500_000.0,
    2,
    refused=tuple(
        (unit, f"{unit} is apparent power. Enter kW; kVA becomes kW only with a power factor.")
        for unit in ("kVA", "VA")
    ),
)
APPARENT_POWER = Measure(
    "apparent power",
    "VA",
    "volt*ampere",
    (Unit("kVA", "kilovolt*ampere", _THOUSAND), Unit("VA", "volt*ampere", _ONE)),
    0.0,
    500_000.0,
    2,
    refused=tuple(
        (unit, f"{unit} is real power. Enter kVA as it stands on the plate.")
        for unit in ("kW", "W", "hp")
    ),
)
MASS = Measure(
    "mass",
    "kg",
    "kilogram",
    (
        Unit("kg", "kilogram", _ONE),
        Unit("lb", "pound", spellings=("lbs",)),
        Unit("g", "gram", _MILLI),
    ),
    0.0,
    20_000.0,
    1,
)
HOURS = Measure(
    "hours",
    "s",
    "second",
    (Unit("h", "hour", Fraction(3600)), Unit("min", "minute", Fraction(60))),
    0.0,
    float(Fraction("999999.9") * 3600),
    1,
    clock=True,
)
TIME_MS = Measure(
    "time",
    "s",
    "second",
    (Unit("ms", "millisecond", _MILLI), Unit("s", "second", _ONE)),
    0.0,
    2.0,
    0,
)
STANDSTILL = Measure(
    "time to standstill", "s", "second", (Unit("s", "second", _ONE),), 0.0, 120.0, 1
)
FLOW = Measure(
    "flow",
    "m3/s",
    "meter**3/second",
    (Unit("L/min", "liter/minute", Fraction(1, 60_000), ("l/min",)),),
    0.0,
    float(Fraction(1000, 60_000)),
    2,
)
VOLTAGE = Measure(
    "voltage",
    "V",
    "volt",
    (Unit("V", "volt", _ONE), Unit("kV", "kilovolt", _THOUSAND)),
    0.0,
    1_000.0,
    0,
    exact_case=True,
)
CURRENT = Measure("current", "A", "ampere", (_A, _MA), 0.0, 1_000.0, 2, exact_case=True)
RCD_CURRENT = Measure("residual current", "A", "ampere", (_MA, _A), 0.0, 1.0, 0, exact_case=True)
LEAKAGE = Measure("leakage current", "A", "ampere", (_MA, _A), 0.0, 0.1, 2, exact_case=True)
RESISTANCE = Measure(
    "resistance",
    "ohm",
    "ohm",
    (_OHM, _MILLIOHM, _KILOOHM, _MEGAOHM),
    0.0,
    1e10,
    2,
    exact_case=True,
)
EARTH_RESISTANCE = Measure(
    "earth resistance",
    "ohm",
    "ohm",
    (_OHM, _MILLIOHM),
    0.0,
    10_000.0,
    3,
    exact_case=True,
)
INSULATION_RESISTANCE = Measure(
    "insulation resistance",
    "ohm",
    "ohm",
    (_MEGAOHM, _KILOOHM),
    0.0,
    1e10,
    2,
    exact_case=True,
)
ANGLE = Measure("angle", "rad", "radian", (Unit("deg", "degree", _DEGREE, ("°",)),), 0.0, 2 * pi, 1)
TEMPERATURE = Measure(
    "temperature",
    "K",
    "kelvin",
    (
        Unit(
            "°C",
            "degC",
            _ONE,
            ("C", "degC", "deg C"),
            zero=Fraction("273.15"),
        ),
    ),
    233.15,
    393.15,
    0,
)
PERCENT = Measure(
    "share", "1", "dimensionless", (Unit("%", "percent", Fraction(1, 100)),), 0.0, 1.0, 1
)
MEASURES = (
    LENGTH,
    LEAD_LENGTH,
    WIDTH,
    DEFLECTION,
    FORCE,
    TENSION,
    FREQUENCY,
    SPEED,
    POWER,
    APPARENT_POWER,
    MASS,
    HOURS,
    TIME_MS,
    STANDSTILL,
    FLOW,
    VOLTAGE,
    CURRENT,
    RCD_CURRENT,
    LEAKAGE,
    RESISTANCE,
    EARTH_RESISTANCE,
    INSULATION_RESISTANCE,
    ANGLE,
    TEMPERATURE,
    PERCENT,
)
