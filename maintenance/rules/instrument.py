"""Test instruments: what their calibrations say of the readings that were taken with them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from maintenance.rules.words import day_text
from plant.translate import gettext as _


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """One calibration: the day, how the instrument was found, and until when it then holds.

    valid_until: None where it was not brought right again; it then reads nothing that counts.
    struck: entered by mistake and struck out; it says nothing of any reading any more.
    """

    done_on: date
    found_good: bool
    valid_until: date | None
    id: int = 0
    struck: bool = False

    def __post_init__(self) -> None:
        if self.valid_until is not None and self.valid_until < self.done_on:
            raise ValueError("a calibration holds from its day on")


def in_force(calibrations: Iterable[Calibration], *, on: date) -> Calibration | None:
    """The last calibration up to that day; of two on one day the one told last."""
    done = [each for each in calibrations if each.done_on <= on and not each.struck]
    return max(done, key=lambda each: (each.done_on, each.id), default=None)


def refusal(calibrations: Iterable[Calibration], *, on: date) -> str:
    """Why readings of this instrument cannot make a pass on that day; empty when they can."""
    last = in_force(calibrations, on=on)
    if last is None:
        return _("This instrument has no calibration yet. Its readings cannot make a pass.")
    if last.valid_until is None:
        told = day_text(last.done_on)
        return _(
            "Found wrong on {told} and not put right. Its readings cannot make a pass."
        ).format(told=told)
    if on > last.valid_until:
        ended = day_text(last.valid_until)
        return _("Calibration ended on {ended}. Its readings cannot make a pass.").format(
            ended=ended
        )
    return ""


def doubted_by(calibrations: Iterable[Calibration], *, day: date) -> Calibration | None:
    """The calibration that throws doubt on a reading of that day; None where none does.

    An instrument that was found wrong may have read wrong since it was last known to be right: on
    the day of the calibration before, or since it was new. Days have no hours here, so a reading
    of either day itself is in doubt too.
    """
    counting = (each for each in calibrations if not each.struck)
    known = sorted(counting, key=lambda each: (each.done_on, each.id))
    since: date | None = None
    for each in known:
        if not each.found_good and day <= each.done_on and (since is None or since <= day):
            return each
        if each.valid_until is not None:
            since = each.done_on
    return None


def against_pass(calibrations: Iterable[Calibration], *, day: date) -> Calibration | None:
    """The calibration because of which a pass of that day counts no longer; None where it counts.

    One found wrong afterwards; or the one by which the instrument could make the pass, struck out
    since; or one told late, by which it could make none.
    """
    known = list(calibrations)
    if found := doubted_by(known, day=day):
        return found
    if not refusal(known, on=day):
        return None
    struck = [each for each in known if each.struck and each.done_on <= day]
    held = [each for each in struck if each.valid_until is not None and day <= each.valid_until]
    last = max(held, key=lambda each: (each.done_on, each.id), default=None)
    return last or in_force(known, on=day)
