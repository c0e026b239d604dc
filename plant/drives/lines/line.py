"""One line of the working, its figures rounded no further than its result can bear."""

from collections.abc import Callable
from math import pi

from plant.drives.facts import Trust
from plant.drives.formula import FormulaLine

MM = 1e3
RPM = 30 / pi
_MOST_DECIMALS = 9
# A tie goes up, as on a calculator, also where it is one but for the last bits of the sum.
_TIES_UP = 1 + 1e-12
GEOMETRY = "plane geometry of two circles and their outer tangents, exact"
WEDGE = "geometry of the wedge"
MECHANICS = "mechanics"


def formula_line(
    symbol: str,
    name: str,
    expression: str,
    figures: str,
    compute: Callable[..., float],
    *,
    value: float,
    scale: float,
    unit: str,
    decimals: int,
    source: str,
    validity: str,
    trust: Trust = Trust.COMPUTED,
    u: float | None = None,
    warning: str = "",
    check: tuple[float, int] | None = None,
    more: dict[str, tuple[float, int]] | None = None,
    **inputs: tuple[float, int],
) -> FormulaLine:
    """One line; figures are rounded no further than the printed result can bear.

    figures: with {name} where an input stands; compute: the same sum in printed units; inputs:
    value in the printed unit and least decimals; more: further ones. check: for a result that is
    a root, the figure and its decimals that the sum gives when the root is put in.
    """
    inputs |= more or {}
    shown = value * scale
    target, places = (shown, decimals) if check is None else check
    wanted = _rounded(target, places)
    printed: dict[str, float] = {}
    extra = 0
    while True:
        printed = {key: round(number, least + extra) for key, (number, least) in inputs.items()}
        try:
            gives = _rounded(compute(**printed), places)
        except ZeroDivisionError:
            gives = ""  # an input that rounds to nothing wants more decimals
        if gives == wanted or extra >= _MOST_DECIMALS:
            break
        extra += 1
    texts = {
        key: _number(printed[key], least + extra if least + extra > least else least)
        for key, (_, least) in inputs.items()
    }
    text = figures.format(**texts)
    if check is not None:
        text = f"{text} = {_number(target, places)}"
    return FormulaLine(
        symbol=symbol,
        name=name,
        expression=expression,
        figures=text,
        result=with_unit(shown, decimals, unit),
        unit=unit,
        value=value,
        source=source,
        validity=validity,
        trust=str(trust),
        doubt="" if u is None or u == 0 else doubt_text(u * scale, decimals, unit),
        warning=warning,
    )


def _rounded(number: float, decimals: int) -> str:
    text = f"{number * _TIES_UP:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def _number(number: float, decimals: int) -> str:
    text = _rounded(number, decimals)
    return f"(−{text[1:]})" if text.startswith("-") else text


def with_unit(number: float, decimals: int, unit: str) -> str:
    text = _rounded(number, decimals).replace("-", "−")
    return f"{text} {unit}" if unit else text


def doubt_text(u: float, decimals: int, unit: str) -> str:
    """Twice the standard uncertainty; at least one step of the last decimal."""
    text = f"± {max(2 * u, 10.0**-decimals):.{decimals}f}"
    return f"{text} {unit}" if unit else text
