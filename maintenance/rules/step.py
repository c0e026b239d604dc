"""The steps of a job: in what unit each is measured, and what its answer still lacks."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from maintenance.rules.words import list_text
from plant import units
from plant.length_words import MM, bound_text, length_unit
from plant.translate import gettext as _
from plant.units import Measure, Typed, Unit

FLOW = Measure(
    "flow", "m3/s", "meter**3/second", (Unit("L/min", "liter/minute", Fraction(1, 60_000)),),
    0.0, 1.0, 1,
)  # fmt: skip
TORQUE = Measure(
    "torque", "N m", "newton*meter", (Unit("Nm", "newton*meter", Fraction(1), ("N m",)),),
    0.0, 10_000.0, 1,
)  # fmt: skip
SPAN = Measure(
    "time", "s", "second",
    (Unit("s", "second", Fraction(1)), Unit("min", "minute", Fraction(60))),
    0.0, 86_400.0, 0,
)  # fmt: skip
_BY_UNIT = {
    "mm": units.LENGTH, "N": units.FORCE, "ohm": units.RESISTANCE,
    "Mohm": units.INSULATION_RESISTANCE, "ms": units.TIME_MS, "rpm": units.SPEED,
    "V": units.VOLTAGE, "A": units.CURRENT, "Hz": units.FREQUENCY, "°C": units.TEMPERATURE,
    "kg": units.MASS, "h": units.HOURS, "%": units.PERCENT, "deg": units.ANGLE,
    "L/min": FLOW, "Nm": TORQUE, "s": SPAN,
}  # fmt: skip
LONGEST_TOOL = 60


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a step asks for; low and high stand in its unit."""

    position: int
    unit: str = ""
    low: float | None = None
    high: float | None = None
    opens_guard: bool = False


@dataclass(frozen=True, kw_only=True)
class Told:
    """What somebody says of a step.

    sure: an unusual figure was looked at again and is right.
    """

    is_done: bool
    because: str = ""
    figure: Typed | None = None
    tool: str = ""
    sure: bool = False


def measure_of(unit: str) -> Measure:
    """The measure of a step's unit; a unit that nothing else takes counts in itself."""
    return _BY_UNIT.get(unit) or Measure(
        "figure", unit, unit, (Unit(unit, unit, Fraction(1)),), -1e9, 1e9, 2
    )


def range_text(asked: Asked) -> str:
    """The range in words: 3 to 8 mm, 0.5 L/min or more; empty without one."""
    unit = reader_unit(asked.unit)
    low, high = (None if end is None else _end(end, asked.unit) for end in (asked.low, asked.high))
    if low is not None and high is not None:
        return _("{low} to {high} {unit}").format(low=low, high=high, unit=unit)
    if low is not None:
        return _("{low} {unit} or more").format(low=low, unit=unit)
    return "" if high is None else _("{high} {unit} or less").format(high=high, unit=unit)


def reader_unit(unit: str) -> str:
    """The unit in which a step's figure is asked for: of lengths the reader's own."""
    return length_unit() if unit == MM else unit


def _end(value: float, unit: str) -> str:
    return bound_text(value / 1e3) if unit == MM else f"{value:g}"


def is_out_of_range(asked: Asked, figure: Typed | None) -> bool:
    """Whether the figure lies outside; the ends belong to the range."""
    if figure is None:
        return False
    measure = measure_of(asked.unit)
    # The ends are converted like what is typed, so that 3 mm is never below 3 mm.
    low = None if asked.low is None else units.to_si(asked.low, measure)
    high = None if asked.high is None else units.to_si(asked.high, measure)
    value = figure.value_si
    return (low is not None and value < low) or (high is not None and value > high)


def refusal(asked: Asked, told: Told, *, isolated: bool) -> tuple[str, str]:
    """Which part of the answer is wrong (done, because, figure, tool, sure), and why; else empty.

    Args:
        isolated: whether somebody has confirmed that the machine is isolated.
    """
    if not told.is_done:
        if not told.because.strip():
            return "because", _("Write why this step was not done.")
        return "", ""
    if asked.opens_guard and not isolated:
        return "done", _("This opens a guard. Isolate the machine first.")
    if asked.unit and told.figure is None:
        return "figure", (
            _("Write what you measured, in {unit}, or say why it was not done.").format(
                unit=reader_unit(asked.unit)
            )
        )
    if asked.unit and not told.tool.strip():
        return "tool", _("Write what you measured it with.")
    if is_out_of_range(asked, told.figure) and not told.sure:
        return "sure", (
            _("Outside {asked}. Not saved. Measure again, or tick that it is right.").format(
                asked=range_text(asked)
            )
        )
    return "", ""


def still_open(positions: Sequence[int]) -> str:
    """What is said where steps have no answer yet; empty when none is left."""
    if not positions:
        return ""
    noun = _("Step") if len(positions) == 1 else _("Steps")
    return _(
        "{noun} {list_text} still to answer: done, or not done and why. Nothing was saved."
    ).format(noun=noun, list_text=list_text([str(each) for each in positions]))
