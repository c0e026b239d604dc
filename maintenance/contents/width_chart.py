"""The widths of a belt over running hours, with their line and the ends, for page and sheet."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from maintenance.contents.belt_life import worn_when_placed
from maintenance.contents.drive import DriveNow, widths_of
from maintenance.contents.running import running_of
from maintenance.rules.belt_life import RUN_IN
from plant.contents.drive import fitted_since
from plant.contents.workout import for_reader
from plant.contents.workout_pictures import Picture
from plant.drawings.svg import to_svg
from plant.drawings.width_over_hours import WidthLimit, WidthRead, width_over_hours
from plant.drives.errors import DriveError
from plant.drives.forecast import WearLine, wear_line
from plant.drives.formula import FormulaLine
from plant.drives.life import Limits, limits
from plant.drives.working import forecast_lines
from plant.length_words import length_text, number_text, spread_text

FEWEST = 2


@dataclass(frozen=True, kw_only=True)
class WidthChart:
    """What the chart shows. line: None where the readings carry none; estimate: whether the hours
    rest on days out and not on a meter; now: [h] running hours; ends: [m] where it ends, with the
    doubt of both widths, None where the sums do not tell."""

    reads: tuple[WidthRead, ...]
    limits: tuple[WidthLimit, ...]
    line: WearLine | None
    now: float
    estimate: bool
    ends: Limits | None = None

    @property
    def words(self) -> str:
        """The same for who cannot see it."""
        first, last = self.reads[0], self.reads[-1]
        told = [
            _(
                "{count} widths, from {first_width} at "
                "{first_hours} h to {last_width} at {last_hours} h."
            ).format(
                count=len(self.reads),
                first_width=length_text(first.width),
                first_hours=f"{first.hours:,.0f}",
                last_width=length_text(last.width),
                last_hours=f"{last.hours:,.0f}",
            )
        ]
        if self.estimate:
            told.append(_("The hours are estimated from the days out."))
        if self.line is not None:
            fall, u = -self.line.slope * 100, self.line.var_slope**0.5 * 100
            told.append(
                _("The line falls by {fall} ± {spread_text} in 100 h.").format(
                    fall=number_text(fall, 2), spread_text=spread_text(2 * u, 2)
                )
            )
        else:
            told.append(_("No line is told yet."))
        told += [
            _("{limit} at {width}.").format(
                limit=limit.name.capitalize(), width=length_text(limit.width)
            )
            for limit in self.limits
        ]
        return " ".join(told)

    def picture(self) -> Picture:
        """The chart as SVG."""
        title = _("Width over running hours")
        drawing = width_over_hours(
            self.reads, limits=self.limits, now=self.now,
            line=self.line.width_at if self.line is not None else None,
        )  # fmt: skip
        beside = _("{words} Each width stands under Readings, with its hours.")
        words = beside.format(words=self.words)
        return Picture(title, to_svg(drawing, title=title, description=self.words), words)

    def working(self) -> tuple[FormulaLine, ...]:
        """The working of the hours left; nothing where no line or no end is told."""
        if self.line is None or self.ends is None:
            return ()
        found = forecast_lines(self.line, ends=self.ends, now=self.now)
        return tuple(for_reader(line) for line in found)


def width_chart(now: DriveNow, *, at: datetime) -> WidthChart | None:
    """The chart of the belt that is fitted; None without two widths at different hours."""
    rows = widths_of(now.drive)
    if len(rows) < FEWEST:
        return None
    zone = now.drive.machine.depot.zone
    running = running_of(now.drive.machine)
    reads = [
        WidthRead(running.hours_at(row.at.astimezone(zone)), row.width_m, row.expanded_m)
        for row in reversed(rows)
    ]
    if reads[0].hours == reads[-1].hours:
        return None  # nobody knows what it ran between them
    since = fitted_since(now.drive)
    known = since is not None and running.knows(since.astimezone(zone))
    begin = running.hours_at(since.astimezone(zone)) + RUN_IN.value if since and known else None
    counted = [
        (read.hours, read.width, read.doubt / 2)
        for read in reads
        if begin is None or read.hours >= begin
    ]
    line = None
    try:
        found = wear_line(counted)
        line = found if found.believable else None
    except DriveError:
        pass
    ends = None
    if now.workout is not None and now.workout.wear is not None:
        placed = worn_when_placed(now.drive, now, at=at)
        ends = limits(now.workout.wear, placed=placed)
    marked = []
    if ends is not None and ends.slot is not None:
        marked.append(WidthLimit(_("slot ends"), ends.slot))
    if ends is not None and ends.bottom is not None:
        marked.append(WidthLimit("floor", ends.bottom))
    return WidthChart(
        reads=tuple(reads),
        limits=tuple(marked),
        line=line,
        now=running.hours_at(at.astimezone(zone)),
        estimate=running.is_estimate or not running.figures,
        ends=ends,
    )
