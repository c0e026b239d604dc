"""A new belt put on a drive: which it is, whether it is odd, and what it replaces."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from maintenance.actions.drive import BeltUnclear
from maintenance.actions.reading import Questioned
from maintenance.contents.drive import place_now, sentence
from maintenance.contents.rack import equal_sections
from maintenance.models import Part, StockPlace
from maintenance.rules import belt as rule
from plant.actions.refusal import Refused
from plant.contents.drive import given_of
from plant.drives import doubt, geometry
from plant.drives.errors import DriveError
from plant.drives.sections import SECTIONS, System, section
from plant.drives.workout import DriveWorkout, work_out
from plant.length_words import kept, length_text
from plant.models import Drive
from plant.units import LENGTH, Typed

WIDTH_TOOLS = ("calliper", "steel rule")
# A new belt further from the nominal of its section is questioned: it may be worn, or another.
ODD_WIDTH = 1.0e-3  # [m] common practice, no source
# What the drive says of its belt, and of where the motor stood with it; it goes with the belt.
_BELT = (
    "belt_mark", "section", "length_system", "belt_datum_m", "belt_new_width_m",
    "belt_new_width_u_m", "belt_fitted_tenths", "centres_m", "slot_in_m", "slot_out_m",
)  # fmt: skip
_BELT_ENTRIES = (
    "belt_datum_m", "belt_new_width_m", "belt_fitted_on", "belt_choice", "belt_tight",
    "centres_m", "slot_in_m", "slot_out_m", "place",
)  # fmt: skip
_MOMENT = timedelta(seconds=1)


@dataclass(frozen=True, kw_only=True)
class NewBelt:
    """The belt that goes on. part, place: where it was taken from stock; else taken_from in words.

    together: all belts of the drive were changed at once. motor_in: it went on without force.
    sure: the person looked again at what was questioned.
    """

    mark: str
    width: Typed
    tool: str
    section: str = ""
    length: Typed | None = None
    choice: str = ""
    part: Part | None = None
    place: StockPlace | None = None
    taken_from: str = ""
    together: bool = False
    motor_in: bool = False
    sure: bool = False


def check_width(new: NewBelt) -> None:
    if new.tool not in WIDTH_TOOLS:
        raise Refused(_("Choose one of these tools."), field="tool")
    if not new.mark and not new.section:
        raise Refused(_("Read what stands on the belt, or choose its section."), field="mark")


def put_on(
    drive: Drive, new: NewBelt, *, at: datetime, tenths: int | None = None
) -> tuple[str, DriveWorkout]:
    """Puts the new belt on the drive, unsaved; how its mark was read, and the drive worked out."""
    was, depot = drive.section, drive.machine.depot
    found = _belt(drive, new)
    drive.belt_mark, drive.section = new.mark, found.section
    drive.length_system, drive.belt_datum_m = found.system, found.length
    drive.belt_new_width_m = new.width.value_si
    drive.belt_new_width_u_m = doubt.tool(new.tool).value
    drive.belt_fitted_on = depot.day_of(at)
    drive.belt_fitted_tenths = drive.machine.hours_tenths if tenths is None else tenths
    told = at.isoformat()
    _keep_place(drive, at=at)
    length = _with_unit(new.length) if new.length else new.mark
    drive.entries = drive.entries | {
        "belt_datum_m": {
            "typed": length, "mark": Drive.Mark.MEASURED if new.length else Drive.Mark.PLATE,
            "tool": "", "told": told,
        },
        "belt_new_width_m": {
            "typed": _with_unit(new.width), "mark": Drive.Mark.MEASURED, "tool": new.tool,
            "told": told,
        },
        "belt_fitted_on": {
            "typed": drive.belt_fitted_on.isoformat(), "mark": Drive.Mark.MEASURED, "tool": "",
            "told": told,
        },
        "belt_choice": {"typed": new.choice, "mark": Drive.Mark.PLATE, "tool": ""},
        "belt_tight": {"typed": "no", "mark": Drive.Mark.MEASURED, "tool": "", "told": told},
    }  # fmt: skip
    odd, field = _odd(drive, was=was)
    if odd and not new.sure:
        raise Questioned(
            _("{odd} Look again, or say that it is right. Not saved.").format(odd=odd), field=field
        )
    try:
        return found.words, work_out(replace(given_of(drive), stage="new"))
    except DriveError as refused:
        raise Refused(
            _("{refused} Not saved.").format(refused=sentence(refused)), field="mark"
        ) from refused


def _keep_place(drive: Drive, *, at: datetime) -> None:
    """Where the motor stood for the old belt is the drive's own from now on: the new one was not
    tight there. What is read of the slot as the new belt is set counts on from it."""
    stood = place_now(drive)
    for name, value in stood.values.items():
        setattr(drive, name, value)
    entries = {name: dict(entry) for name, entry in stood.entries.items()}
    drive.entries = entries | {"place": {"told": (at - _MOMENT).isoformat()}}


def _belt(drive: Drive, new: NewBelt) -> rule.Belt:
    """The belt that is meant: one marked as the belt before is that belt again."""
    by_hand = new.section or new.length or new.choice
    if not by_hand and new.mark == drive.belt_mark and drive.section and drive.belt_datum_m:
        return rule.Belt(
            section=drive.section, length=drive.belt_datum_m, system=drive.length_system,
            words=_("As the belt before, which has the same mark."),
        )  # fmt: skip
    try:
        found = kept(lambda: rule.belt_of(
            mark=new.mark, by_hand=new.section, choice=new.choice,
            length=new.length.value_si if new.length else None,
            system=System(drive.machine.depot.length_system),
        ))  # fmt: skip
    except rule.MarkUnclear as unclear:
        raise BeltUnclear(str(unclear), readings=unclear.readings) from unclear
    except DriveError as refused:
        raise Refused(sentence(refused), field="section") from refused
    if found is None or not found.section or found.length is None:
        raise Refused(
            _("The mark does not say section and length. Choose the section and give the length."),
            field="mark",
        )
    return found


def _odd(drive: Drive, *, was: str) -> tuple[str, str]:
    """What is odd about the belt now put on, and the field which it is about; empty: nothing."""
    code, width = drive.section, drive.belt_new_width_m or 0.0
    if was and was != code and code not in equal_sections(was):
        return _("The belt before was of section {was}, this is {code}: another groove.").format(
            was=was, code=code
        ), "mark"
    held = SECTIONS.get(code.upper())
    if held is not None and held.sizes:
        nominal, spread = section(code).new_width(System(drive.length_system or "ISO/DIN"))
        if abs(width - nominal) > max(ODD_WIDTH, spread):
            return (
                _("A new {code} belt is about {nominal} wide, this one is {width}.").format(
                    code=code, nominal=length_text(nominal), width=length_text(width)
                ),
                "width",
            )
    return _outside(drive), "mark"


def _outside(drive: Drive) -> str:
    """Whether the belt is taut outside the slot by the drive's figures, in words."""
    ends = (drive.driver_m, drive.driven_m, drive.centres_m, drive.slot_in_m, drive.slot_out_m)
    if any(figure is None for figure in ends) or drive.belt_datum_m is None:
        return ""
    driver, driven, centres, room_in, room_out = (figure or 0.0 for figure in ends)
    try:
        taut = geometry.open_centres(
            small=min(driver, driven), large=max(driver, driven), length=drive.belt_datum_m
        )
    except DriveError:
        return ""  # the sums refuse it in their own words
    if centres - room_in <= taut <= centres + room_out:
        return ""
    where = "short" if taut < centres - room_in else "long"
    return _("By the drive's figures this belt is too {where} for the slot.").format(where=where)


def belt_of_drive(drive: Drive) -> dict[str, Any]:
    """What the drive says of its belt, as it can be put back."""
    fitted = drive.belt_fitted_on
    return {
        **{name: getattr(drive, name) for name in _BELT},
        "belt_fitted_on": fitted.isoformat() if fitted else None,
        "entries": {name: drive.entries[name] for name in _BELT_ENTRIES if name in drive.entries},
    }


def put_back(drive: Drive, before: Mapping[str, Any]) -> None:
    for name in _BELT:
        setattr(drive, name, before[name])
    fitted = before["belt_fitted_on"]
    drive.belt_fitted_on = date.fromisoformat(fitted) if fitted else None
    kept = {name: one for name, one in drive.entries.items() if name not in _BELT_ENTRIES}
    drive.entries = kept | before["entries"]


def _with_unit(typed: Typed) -> str:
    text = typed.text_as_typed
    return f"{text} {LENGTH.unit}" if text[-1:].isdigit() else text
