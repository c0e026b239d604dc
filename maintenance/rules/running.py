"""Running hours at any moment: between meter figures, beyond them, or by the days out alone."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import accumulate, pairwise

from maintenance.rules.usage import HOURS_A_DAY_OUT, Rate, days_out

_DAY = timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class Running:
    """What is known of a machine's running.

    figures: (moment in the depot's zone, running hours in tenths) that count, oldest first.
    rate: how fast it runs; None where nothing tells. is_estimate: that rate stands on days out.
    out: first and last day of each time out; since: the first day that the register knows.
    """

    figures: Sequence[tuple[datetime, int]] = ()
    rate: Rate | None = None
    is_estimate: bool = False
    out: Sequence[tuple[date, date | None]] = ()
    since: date = date(2000, 1, 1)

    def hours_at(self, moment: datetime) -> float:
        """Running hours at a moment, in the depot's zone.

        Between two figures the machine is taken to have run evenly. Before the first and after
        the last one the hours follow its rate, and where no meter gives a rate, its days out.

        Returns:
            [h] never below 0; a count from an unknown beginning where there is no meter.

        Source:
            Common practice, no source: even running, and 4 h a day out.
        """
        if not self.figures:
            return self._by_days_out(self.since, moment.date())
        moments = [at for at, _ in self.figures]
        hours = [tenths / 10 for tenths in accumulate((t for _, t in self.figures), max)]
        if moment >= moments[-1]:
            return hours[-1] + self._beyond(moments[-1], moment)
        if moment <= moments[0]:
            return max(hours[0] - self._beyond(moment, moments[0]), 0.0)
        pairs = pairwise(zip(moments, hours, strict=True))
        (before, low), (after, high) = next(pair for pair in pairs if moment < pair[1][0])
        return low + (high - low) * ((moment - before) / (after - before))

    def since_told(self, told: Sequence[tuple[datetime, int | None]]) -> "Running":
        """The same with figures from before the first one, where something else kept them."""
        first = self.figures[0] if self.figures else None
        more = {
            (moment, tenths)
            for moment, tenths in told
            if tenths is not None and (first is None or (moment < first[0] and tenths <= first[1]))
        }
        return replace(self, figures=sorted({*more, *self.figures})) if more else self

    def knows(self, moment: datetime) -> bool:
        """Whether the register knew the machine then, by a figure or by where it was."""
        if self.figures:
            return self.figures[0][0] <= moment
        return self.since <= moment.date()

    def is_read(self, moment: datetime) -> bool:
        """Whether figures stand on both sides of the moment, so that its hours are no estimate."""
        return bool(self.figures) and self.figures[0][0] <= moment <= self.figures[-1][0]

    def _beyond(self, start: datetime, end: datetime) -> float:
        if self.rate is not None and not self.is_estimate:
            return self.rate.likely * ((end - start) / _DAY)
        return self._by_days_out(start.date() + _DAY, end.date())

    def _by_days_out(self, first: date, last: date) -> float:
        return HOURS_A_DAY_OUT * days_out(self.out, since=first, until=last)
