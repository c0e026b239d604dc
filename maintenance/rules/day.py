"""The day of a workshop: how long each is there, how much is given out, and in what order."""

from collections.abc import Sequence

from plant.translate import gettext as _
from plant.translate import ngettext


def share(*, depot_minutes: int, fitters: int) -> int:
    """[min] The part of one fitter in the depot's hours of a day; what is left over is nobody's."""
    return depot_minutes // fitters if fitters > 0 else 0


def load_text(*, planned: int, unknown: int, minutes: int | None) -> str:
    """How full a day is: 95 of 420 min; what nobody estimated is said, not taken for nothing.

    Args:
        planned: [min] of the jobs that have an estimate.
        unknown: jobs without one.
        minutes: [min] that the person is there; None where nobody said, 0: off.
    """
    told = (
        _("{planned} min given out").format(planned=planned)
        if minutes is None
        else _("{planned} of {minutes} min").format(planned=planned, minutes=minutes)
    )
    if minutes == 0:
        told = (
            _("off this day")
            if not planned
            else _("off this day, yet {planned} min given out").format(planned=planned)
        )
    elif minutes is not None and planned > minutes:
        told += _(", {planned} min too many").format(planned=planned - minutes)
    if unknown:
        told += ngettext(
            ", {count} job without an estimate", ", {count} jobs without an estimate", unknown
        ).format(count=unknown)
    return told


def moved(order: Sequence[int], which: int, *, earlier: bool) -> list[int]:
    """The order with one moved a place; the first goes no earlier, the last no later.

    Raises:
        ValueError: it is not in the order.
    """
    place = list(order).index(which)
    to = max(0, place - 1) if earlier else min(len(order) - 1, place + 1)
    rest = [each for each in order if each != which]
    return [*rest[:to], which, *rest[to:]]
