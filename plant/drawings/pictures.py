"""What the drawings of a drive are given, on screen as on paper."""

from dataclasses import dataclass


@dataclass(frozen=True)
class GroovePicture:
    """What belt_in_groove draws; all lengths [m], angles [rad] (whole angle).

    clearance: room under the belt without the cap, so it may be negative;
    drop_now: drop from the flanks alone; capped_drop: the drop once the floor holds the belt;
    ride: top of the belt above the rim, as the sums print it (None: taken from the picture).
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
    ride: float | None = None


@dataclass(frozen=True)
class LayoutPicture:
    """What drive_layout draws; all lengths [m].

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
    small_name: str = ""
    large_name: str = ""


@dataclass(frozen=True)
class BandPicture:
    """What tension_band draws; all forces [N]."""

    low: float
    high: float
    reading: float | None = None
    reading_doubt: float = 0.0
