"""The belt-drive calculation, as it stands on any sheet."""

from dataclasses import dataclass
from typing import Literal

from plant.drives.formula import FormulaLine

Certainty = Literal["measured", "from plate", "guess"]


@dataclass(frozen=True)
class DriveInput:
    """One figure that the sums start from.

    name: "small pulley, datum diameter"; value: with its unit, "80.0 mm"; doubt: "± 0.5 mm" or
    empty; certainty: how it is known, printed as a word; symbol: as in the formulas, "d1";
    note: where from or when, "gauge 3, 18 Aug 2026", or empty.
    """

    name: str
    value: str
    certainty: Certainty
    doubt: str = ""
    symbol: str = ""
    note: str = ""


@dataclass(frozen=True)
class DriveBlank:
    """A figure to be measured today: printed as an empty box, or filled when value is given.

    label: "top width"; unit: "mm", stands inside the box; last: "last 11.9 ± 0.2 mm, 18 Aug 2026".
    """

    label: str
    unit: str
    value: str = ""
    last: str = ""


@dataclass(frozen=True)
class DriveResult:
    """One answer: "room under the belt, small pulley", "−0.3 mm", "± 0.5 mm", "it may touch"."""

    name: str
    value: str
    doubt: str = ""
    note: str = ""


@dataclass(frozen=True)
class GroovePicture:
    """What plant.drawings.belt_in_groove draws; all lengths [m], angles [rad] (whole angle).

    clearance: room under the belt without the cap, so it may be negative;
    drop_now: drop from the flanks alone; capped_drop: the drop once the floor holds the belt.
    """

    label: str
    datum_width: float
    groove_angle: float
    groove_depth_below_datum: float
    above_datum: float
    belt_top_width_new: float
    belt_height: float
    belt_angle: float
    drop_now: float
    capped_drop: float
    width_now: float
    clearance: float
    depth_guessed: bool = False


@dataclass(frozen=True)
class LayoutPicture:
    """What plant.drawings.drive_layout draws; all lengths [m].

    small, large: datum diameters; centres_*: shaft distance when the belt was new, now, and needed
    for a tight belt; slot_low, slot_high: shaft distance at the two ends of the slot; None where
    it is not known.
    """

    small: float
    large: float
    centres_now: float
    centres_new: float | None = None
    centres_needed: float | None = None
    slot_low: float | None = None
    slot_high: float | None = None
    small_name: str = "small pulley"
    large_name: str = "large pulley"


@dataclass(frozen=True)
class BandPicture:
    """What plant.drawings.tension_band draws; all forces [N]."""

    low: float
    high: float
    reading: float | None = None
    reading_doubt: float = 0.0


@dataclass(frozen=True)
class DriveBlock:
    """One belt drive of a machine with its sums, ready to print.

    title: "Belt drive: motor to drum"; belt: what is fitted, with its length and system;
    verdict: the answer in words, first; because: sentences after it (reasons, likely date with
    earliest and latest); warnings: each with what to do; blanks: boxes to fill today;
    last: the last reading in one sentence; sums_version: of the mathematics, as text.
    """

    title: str
    belt: str
    verdict: str
    because: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    inputs: tuple[DriveInput, ...] = ()
    blanks: tuple[DriveBlank, ...] = ()
    last: str = ""
    results: tuple[DriveResult, ...] = ()
    lines: tuple[FormulaLine, ...] = ()
    sums_version: str = ""
    grooves: tuple[GroovePicture, ...] = ()
    layout: LayoutPicture | None = None
    band: BandPicture | None = None
