"""Test instruments: what their calibrations say of the readings that were taken with them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from maintenance.rules.words import day_text


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """One calibration: the day, how the instrument was found, and until when it then holds.

    valid_until: None where it was not brought right again; it then reads nothing that counts.
    """

    done_on: date
    found_good: bool
    valid_until: date | None
    id: int = 0

    def __post_init__(self) -> None:
        if self.valid_until is not None and self.valid_until < self.done_on:
            raise ValueError("a calibration holds from its day on")


def in_force(calibrations: Iterable[Calibration], *, on: date) -> Calibration | None:
    """The last calibration up to that day; of two on one day the one told last."""
    done = [each for each in calibrations if each.done_on <= on]
    return max(done, key=lambda each: (each.done_on, each.id), default=None)


def refusal(calibrations: Iterable[Calibration], *, on: date) -> str:
    """Why readings of this instrument cannot make a pass on that day; empty when they can."""
    last = in_force(calibrations, on=on)
    if last is None:
        return "This instrument has no calibration yet. Its readings cannot make a pass."
    if last.valid_until is None:
        told = day_text(last.done_on)
        return f"Found wrong on {told} and not put right. Its readings cannot make a pass."
    if on > last.valid_until:
        ended = day_text(last.valid_until)
        return f"Calibration ended on {ended}. Its readings cannot make a pass."
    return ""


def doubted_by(calibrations: Iterable[Calibration], *, day: date) -> Calibration | None:
    """The calibration that throws doubt on a reading of that day; None where none does.

    An instrument that was found wrong may have read wrong since it was last known to be right: on
    the day of the calibration before, or since it was new. Days have no hours here, so a reading
    of either day itself is in doubt too.
    """
    known = sorted(calibrations, key=lambda each: (each.done_on, each.id))
    since: date | None = None
    for each in known:
        if not each.found_good and day <= each.done_on and (since is None or since <= day):
            return each
        if each.valid_until is not None:
            since = each.done_on
    return None
