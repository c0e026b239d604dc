"""Every reading of a belt drive in one list, newest first, with those that were put right."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.models import (
    AlignmentReading,
    PulleyReading,
    RideReading,
    SlotReading,
    TensionReading,
    WidthReading,
)
from maintenance.models.reading import BeltReading
from plant.length_words import number_text, spread_text
from plant.models import Drive
from plant.tool_words import tool_words

_SORTS: tuple[tuple[type[BeltReading], str], ...] = (
    (WidthReading, _("Width")),
    (RideReading, _("Ride")),
    (SlotReading, _("Slot")),
    (TensionReading, _("Tension")),
    (AlignmentReading, _("In line")),
    (PulleyReading, _("Pulley")),
)
# Verdicts as they are kept with a reading.
_VERDICTS = (
    _("fit on"), _("watch"), _("tighten"), _("change now"), _("measure again"),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Read:
    """One reading as it stands in the list. figure, doubt: with their units; note: more of it."""

    at: datetime
    what: str
    figure: str
    doubt: str
    note: str
    tool: str
    verdict: str
    stands: bool
    corrects: bool
    record_id: UUID


def readings_of(drive: Drive, *, most: int) -> list[Read]:
    """The last readings of all sorts. Those that no longer stand are among them, marked."""
    found: list[Read] = []
    for rows, what in _SORTS:
        taken = rows.objects.filter(drive=drive).select_related("record").newest_first()
        found += [_read(row, gettext(what)) for row in taken[:most]]
    found.sort(key=lambda read: (read.at, read.stands, read.record_id), reverse=True)
    return found[:most]


def _read(row: BeltReading, what: str) -> Read:
    figure, doubt, note = row.said, "", ""
    if isinstance(row, WidthReading):
        doubt = f"± {spread_text(row.expanded_m)}"
        note = (
            ""
            if row.hours_tenths is None
            else gettext("at {hours_tenths} h").format(hours_tenths=f"{row.hours_tenths / 10:.1f}")
        )
    elif isinstance(row, TensionReading):
        doubt = f"± {row.expanded_n:.0f} N"
        told = []
        if row.required_n is not None:
            told.append(gettext("{required} N at least").format(required=f"{row.required_n:.0f}"))
        told.append(gettext("new belt") if row.stage == "new" else gettext("run-in belt"))
        note = ", ".join([*told, row.get_method_display().lower()])
    elif isinstance(row, RideReading | SlotReading | AlignmentReading):
        doubt = f"± {spread_text(2 * row.u_m)}"
        if isinstance(row, SlotReading):
            note = {True: gettext("belt tight"), False: gettext("belt slack"), None: ""}[row.tight]
    elif isinstance(row, PulleyReading):
        seen = (
            (gettext("floor shines"), gettext("no floor shines"), row.shines),
            (gettext("step"), gettext("no step"), row.step),
            (gettext("rust"), gettext("no rust"), row.corroded),
        )
        told = [yes if is_so else no for yes, no, is_so in seen if is_so is not None]
        if row.dish_m is not None:
            told.insert(
                0,
                gettext("dished {dish} ± {spread_text}").format(
                    dish=number_text(row.dish_m), spread_text=spread_text(2 * (row.u_m or 0))
                ),
            )
        note = ", ".join(told)
    return Read(
        at=row.at, what=what, figure=figure, doubt=doubt, note=note, tool=tool_words(row.tool),
        verdict=gettext(row.verdict), stands=row.stands,
        corrects=row.record.corrects_id is not None, record_id=row.record_id,
    )  # fmt: skip
