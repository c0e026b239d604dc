"""What people type about a drive, turned into the SI figures that the sums take."""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from plant.drives import doubt, marks, power
from plant.drives.errors import DriveError
from plant.drives.outcome import LABELS, MARKS, DriveGiven
from plant.drives.sections import System
from plant.units import (
    ANGLE,
    DEFLECTION,
    FORCE,
    FREQUENCY,
    HOURS,
    LENGTH,
    PERCENT,
    POWER,
    SPEED,
    WIDTH,
    Measure,
    NotAccepted,
    Typed,
    read,
)

# How far the belt's top stands above the rim; below it is negative.
RIDE = replace(LENGTH, name="ride", low=-0.05, high=0.05)

MEASURES: dict[str, Measure] = {
    "driver": LENGTH,
    "driven": LENGTH,
    "driver_angle": ANGLE,
    "driven_angle": ANGLE,
    "driver_depth": LENGTH,
    "driven_depth": LENGTH,
    "length": LENGTH,
    "width_new": WIDTH,
    "width_now": WIDTH,
    "driver_ride": RIDE,
    "driven_ride": RIDE,
    "driver_ride_new": RIDE,
    "driven_ride_new": RIDE,
    "centres": LENGTH,
    "slot_in": LENGTH,
    "slot_out": LENGTH,
    "slot_out_new": LENGTH,
    "width_placed": WIDTH,
    "motor_power": POWER,
    "motor_speed": SPEED,
    "hours_a_day": HOURS,
    "reading_force": FORCE,
    "reading_depth": DEFLECTION,
    "reading_frequency": FREQUENCY,
    "slip": PERCENT,
    "driven_speed": SPEED,
}
# Figures that were read with a tool carry that tool's error.
TOOLS: dict[str, tuple[str, ...]] = {
    "width_new": ("steel rule", "calliper"),
    "width_now": ("steel rule", "calliper"),
    "width_placed": ("steel rule", "calliper"),
    "reading_force": ("spring gauge", "tension pen"),
}
CHOICES: dict[str, tuple[str, ...]] = {
    "groove_system": ("ISO 4183", "DIN 2211", "RMA IP-20"),
    "length_system": tuple(system.value for system in System),
    "load": ("light", "medium", "heavy", "extra heavy"),
    "idler": ("none", "inside slack", "outside slack", "inside tight", "outside tight"),
    "power_method": ("", *power.METHODS),
    "tension_method": ("RMA", "theory"),
    "force_form": ("RMA", "GB/T"),
    "stage": ("new", "run-in"),
}
FLAGS = ("hard_start", "belt_tight", "driver_shines", "driven_shines")
OTHER = ("section", "belt_mark", "belts", "friction", "gears", "marks", "tools")

MOST_MARK = 200


class NotReadable(ValueError):
    """What was typed about a drive cannot be used; ``wrong`` says which field and why."""

    def __init__(self, wrong: Mapping[str, str]) -> None:
        self.wrong = dict(wrong)
        super().__init__("; ".join(f"{field}: {words}" for field, words in self.wrong.items()))


def given_from_typed(entries: Mapping[str, Any]) -> DriveGiven:
    """A drive from what was typed, every figure with its unit as text.

    Args:
        entries: keys are fields of ``DriveGiven``, with ``belt_mark`` (what stands on the belt;
            section and length are read from it where they are not given), ``tools`` (field ->
            tool that it was read with) and ``marks`` (field -> measured, plate or guess).
            Figures are text ("80 mm", or "80" in the field's own unit) or ``units.Typed``; belts
            is a whole number, friction a number, gears "15:60, 12:84" or a list of pairs.
            Empty text and None mean not known.

    Returns:
        [SI] the drive with what was typed beside each figure.

    Raises:
        NotReadable: every field that cannot be used, and why.
    """
    wrong: dict[str, str] = {}
    values: dict[str, Any] = {}
    typed: dict[str, str] = {}
    known = (*MEASURES, *CHOICES, *FLAGS, *OTHER)
    for key, entry in entries.items():
        if key not in known:
            wrong[str(key)[:40]] = _("There is no such field. Fields: {known}.").format(
                known=", ".join(known)
            )
        elif entry is None or entry == "":
            continue
        elif key in MEASURES:
            _figure(key, entry, values=values, typed=typed, wrong=wrong)
        else:
            _kept(key, _READERS.get(key, _choice), entry, values=values, wrong=wrong)
    if "hours_a_day" in values:
        values["hours_a_day"] /= 3600
    tools = values.pop("tools", {})
    for field, tool in tools.items():
        values[f"{field}_u"] = doubt.tool(tool).value
    mark = values.pop("belt_mark", "")
    if mark and not wrong:
        _from_mark(mark, values=values, typed=typed, wrong=wrong)
    if wrong:
        raise NotReadable(wrong)
    return DriveGiven(**values, typed=typed)


def _figure(
    key: str,
    entry: object,
    *,
    values: dict[str, Any],
    typed: dict[str, str],
    wrong: dict[str, str],
) -> None:
    if isinstance(entry, Typed):
        found = entry
    elif isinstance(entry, str):
        try:
            found = read(entry, MEASURES[key])
        except NotAccepted as refused:
            wrong[key] = str(refused)
            return
    else:
        wrong[key] = _('Write the figure as text with its unit, for example "12.5 {unit}".').format(
            unit=MEASURES[key].unit
        )
        return
    values[key], typed[key] = found.value_si, found.text_as_typed


def _kept(
    key: str,
    reader: Callable[[str, Any], Any],
    entry: object,
    *,
    values: dict[str, Any],
    wrong: dict[str, str],
) -> None:
    try:
        values[key] = reader(key, entry)
    except NotAccepted as refused:
        wrong[key] = str(refused)


def _choice(key: str, entry: object) -> str:
    if not isinstance(entry, str) or entry not in CHOICES[key]:
        raise NotAccepted(
            _("Choose one of: {join}.").format(
                join=", ".join(one or "none" for one in CHOICES[key])
            )
        )
    return entry


def _flag(key: str, entry: object) -> bool:
    if not isinstance(entry, bool):
        raise NotAccepted(_("Write true or false."))
    return entry


def _text(key: str, entry: object) -> str:
    if not isinstance(entry, str) or len(entry) > MOST_MARK:
        raise NotAccepted(
            _("Write a text of up to {most_mark} characters.").format(most_mark=MOST_MARK)
        )
    return entry.strip()


def _whole(key: str, entry: object) -> int:
    if isinstance(entry, bool) or not isinstance(entry, int):
        raise NotAccepted(_("Write a whole number, for example 1."))
    return entry


def _plain_number(key: str, entry: object) -> float:
    if isinstance(entry, str) and re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,6})?", entry.strip()):
        return float(entry)
    if isinstance(entry, bool) or not isinstance(entry, int | float):
        raise NotAccepted(_("Write a plain number, for example 0.3."))
    return float(entry)


def _gears(key: str, entry: object) -> tuple[tuple[int, int], ...]:
    said = _("Write teeth in and out of each stage, for example 15:60, 12:84.")
    if isinstance(entry, str):
        if not re.fullmatch(
            r"\s*\d{1,3}\s*:\s*\d{1,3}\s*(,\s*\d{1,3}\s*:\s*\d{1,3}\s*){0,9}", entry, re.ASCII
        ):
            raise NotAccepted(said)
        pairs: list[Any] = [[int(teeth) for teeth in pair.split(":")] for pair in entry.split(",")]
    elif isinstance(entry, list | tuple) and len(entry) <= 10:
        pairs = list(entry)
    else:
        raise NotAccepted(said)
    for pair in pairs:
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise NotAccepted(said)
        if any(isinstance(teeth, bool) or not isinstance(teeth, int) for teeth in pair):
            raise NotAccepted(said)
    return tuple((pair[0], pair[1]) for pair in pairs)


def _marks(key: str, entry: object) -> dict[str, str]:
    said = _("Name a field and one of: {marks}.").format(marks=", ".join(MARKS))
    if not isinstance(entry, Mapping):
        raise NotAccepted(said)
    for field, mark in entry.items():
        if field not in LABELS or mark not in MARKS:
            raise NotAccepted(f"{str(field)[:40]}: {str(mark)[:40]}. {said}")
    return dict(entry)


def _tools(key: str, entry: object) -> dict[str, str]:
    if not isinstance(entry, Mapping):
        raise NotAccepted(
            _("Name a field and its tool. Fields: {tools}.").format(tools=", ".join(TOOLS))
        )
    for field, tool in entry.items():
        if field not in TOOLS:
            raise NotAccepted(
                _("No tool is asked for {field}; only for {tools}.").format(
                    field=str(field)[:40], tools=", ".join(TOOLS)
                )
            )
        if tool not in TOOLS[field]:
            raise NotAccepted(
                _("{field}: choose one of {tools}.").format(
                    field=field, tools=", ".join(TOOLS[field])
                )
            )
    return dict(entry)


_READERS: dict[str, Callable[[str, Any], Any]] = {
    "hard_start": _flag,
    "belt_tight": _flag,
    "driver_shines": _flag,
    "driven_shines": _flag,
    "section": _text,
    "belt_mark": _text,
    "belts": _whole,
    "friction": _plain_number,
    "gears": _gears,
    "marks": _marks,
    "tools": _tools,
}


def _from_mark(
    mark: str, *, values: dict[str, Any], typed: dict[str, str], wrong: dict[str, str]
) -> None:
    """Takes section and length from what stands on the belt, where they are not given."""
    wanted = System(values.get("length_system", System.ISO_DIN.value))
    try:
        found = marks.read(mark, system=wanted)
    except DriveError as refused:
        wrong["belt_mark"] = _sentence(str(refused))
        return
    if not found.agreed:
        wrong["belt_mark"] = f"{found.words} {found.settle}".strip()
        return
    belt = found.readings[0]
    if values.get("section", belt.section).upper() != belt.section:
        wrong["belt_mark"] = _(
            "The mark says section {by_mark}, the field says {by_field}."
        ).format(by_mark=belt.section, by_field=values["section"])
        return
    values["section"] = belt.section
    # Belts whose pulleys are sized at the rim have an effective length, and the sums go by it.
    length = belt.datum if belt.effective is None else belt.effective
    if "length" not in values and length is not None:
        values["length"] = length
        values["length_system"] = belt.system.value
        typed["length"] = mark
        values["marks"] = {"length": "plate"} | values.get("marks", {})


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}." if words and words[-1] != "." else words
