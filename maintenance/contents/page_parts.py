"""What the page of all parts of pages shows: made-up things, drawn and written as real ones."""

from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from plant.contents.help import drawing
from plant.contents.workout_pictures import Picture
from plant.drawings.odds_bars import Odds, odds_bars
from plant.drawings.running_out import Belt, running_out
from plant.drawings.svg import to_svg
from plant.drawings.weeks_ahead import Bar, weeks_ahead
from plant.drawings.width_over_hours import WidthLimit, WidthRead, width_over_hours
from plant.help_texts import BELT_DRAWINGS
from plant.models import Depot, Machine, MachineKind, Place, Supply

ROWS = (
    ("MX-000", gettext_noop("Cement mixer"), "OK to use", gettext_noop("Nothing due"), 168.0),
    ("MX-001", gettext_noop("Cement mixer"), "Do not use", "Overdue", 1204.5),
    ("PC-000", gettext_noop("Plate compactor"), "Use, with a note", "Due soon", 96.0),
    ("GN-000", gettext_noop("Generator"), "Not yet passed", "Needed before use", 0.4),
)


def machine() -> Machine:
    """A machine of no depot; it is never saved."""
    return Machine(
        number="MX-000", kind=MachineKind(name="Cement mixer, electric"), nickname=_("for show"),
        depot=Depot(name="No depot"), place=Place.YARD, maker=_("Nobody"), type_name="Example 1",
        serial="0000", supply=Supply.E110, power_w=550.0, speed_rpm=1400.0, mass_kg=58.0,
        hours_tenths=1680, year=2020,
    )  # fmt: skip


def rows(count: int = 4) -> list[dict[str, object]]:
    """Rows of a list; more than four repeat the four under other numbers."""
    found = []
    for nth in range(count):
        number, kind, use, due, hours = ROWS[nth % len(ROWS)]
        if nth >= len(ROWS):
            number = f"{number[:3]}{nth:03d}"
        found.append({"number": number, "kind": kind, "use": use, "due": due, "hours": hours})
    return found


def pictures(on: date) -> tuple[Picture, ...]:
    """Each drawing once, with the words that say the same; the belt drive is that of the help."""
    belts = [each for each in map(drawing, BELT_DRAWINGS) if each is not None]
    drawn = (
        (
            _("Width over running hours"),
            _("Three widths, from 12.9 mm at 20 h to 11.8 mm at 180 h. The slot ends at 11.2 mm."),
            width_over_hours(
                [WidthRead(20, 12.9e-3, 0.2e-3), WidthRead(90, 12.4e-3, 0.2e-3),
                 WidthRead(180, 11.8e-3, 0.3e-3)],
                limits=[WidthLimit(_("slot ends"), 11.2e-3)], now=190,
            ),
        ),
        (
            _("Belts running out"),
            _("MX-000: order in 20 days, likely ends in 60. PC-000: order in 70, ends in 120."),
            running_out(
                [_belt("MX-000  A26", 40, 60, 90, 20, on), _belt("PC-000", 95, 120, None, 70, on)],
                today=on,
            ),
        ),
        (
            _("The weeks ahead"),
            _("Four weeks of 40 h. The second wants 46 h, which is 6 h too much."),
            weeks_ahead(
                [Bar(label=_("week {nth}").format(nth=nth), needed_h=need, available_h=40.0)
                 for nth, need in enumerate((22.0, 46.0, 31.5, 8.0), start=1)]
            ),
        ),
        (
            _("Causes and their odds"),
            _("Worn brushes: 6 in 10. A loose plug: 3 in 10. Something else: 1 in 10."),
            odds_bars(
                [Odds(label=_("Worn brushes"), share=0.6, words="6 in 10"),
                 Odds(label=_("A loose plug"), share=0.3, words="3 in 10"),
                 Odds(label=_("Something else"), share=0.1, words="1 in 10")]
            ),
        ),
    )  # fmt: skip
    charts = [
        Picture(title, to_svg(chart, title=title, description=words), words)
        for title, words, chart in drawn
    ]
    return (*belts, *charts)


def _belt(label: str, early: int, likely: int, late: int | None, order: int, on: date) -> Belt:
    def day(days: int) -> date:
        return on + timedelta(days=days)

    return Belt(
        label=label, early=day(early), likely=day(likely),
        late=None if late is None else day(late), order_by=day(order),
    )  # fmt: skip
