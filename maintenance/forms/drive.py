"""Forms of the belt drive: its data with how each figure is known, and its readings."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext

from maintenance.actions.drive import DATUM, MEASURES, MOST_GEARS, RIM, TOOLS, DriveEntry, Figure
from maintenance.contents.drive import MOVED, place_now
from maintenance.forms.entry import DayField, EntryForm
from maintenance.rules.belt import key_of
from maintenance.rules.words import day_text
from plant import units
from plant.contents.workout import KNOWN
from plant.drives import grooves
from plant.drives.marks import BeltReading
from plant.drives.sections import SECTIONS
from plant.fields import QuantityField, WholeField, WordsField, is_length
from plant.lazy_text import gettext_lazy
from plant.length_words import length_text
from plant.models import Drive, Machine
from plant.tool_words import tool_words
from plant.units import HOURS, Typed

# Figures that may be taken from the rim, since the datum line is not seen on a pulley.
FROM_RIM = {
    "driver_m": (gettext_lazy("datum diameter, as stamped"), gettext_lazy("across the rim")),
    "driven_m": (gettext_lazy("datum diameter, as stamped"), gettext_lazy("across the rim")),
    "driver_depth_m": (
        gettext_lazy("below the datum line"),
        gettext_lazy("from the rim, the whole groove"),
    ),
    "driven_depth_m": (
        gettext_lazy("below the datum line"),
        gettext_lazy("from the rim, the whole groove"),
    ),
}
# Field, label, hint (empty: the hint of the units).
_FIGURES = (
    (
        "belt_datum_m",
        gettext_lazy("Datum length of the belt, by hand"),
        gettext_lazy("Leave empty when the mark says it."),
    ),
    (
        "belt_new_width_m",
        gettext_lazy("This belt's own top width when new"),
        gettext_lazy("Measured when it was fitted."),
    ),
    ("driver_m", gettext_lazy("Motor pulley, diameter"), ""),
    (
        "driver_angle_rad",
        gettext_lazy("Motor pulley, groove angle"),
        gettext_lazy("Leave empty for the standard's angle."),
    ),
    (
        "driver_depth_m",
        gettext_lazy("Motor pulley, groove depth"),
        gettext_lazy(
            "Decides whether a worn belt stands on the floor. Left empty, the least depth of the "
            "standard is taken, as a guess."
        ),
    ),
    ("driven_m", gettext_lazy("Driven pulley, diameter"), ""),
    (
        "driven_angle_rad",
        gettext_lazy("Driven pulley, groove angle"),
        gettext_lazy("Leave empty for the standard's angle."),
    ),
    (
        "driven_depth_m",
        gettext_lazy("Driven pulley, groove depth"),
        gettext_lazy("Left empty, the standard's least, a guess."),
    ),
    ("centres_m", gettext_lazy("Centre distance now"), gettext_lazy("Shaft to shaft.")),
    (
        "slot_in_m",
        gettext_lazy("Slot: room inwards from here"),
        gettext_lazy("For putting a belt on without force."),
    ),
    (
        "slot_out_m",
        gettext_lazy("Slot: room left outwards from here"),
        gettext_lazy("What is left for taking up."),
    ),
    ("motor_power_w", gettext_lazy("Motor power"), ""),
    (
        "motor_speed_rpm",
        gettext_lazy("Motor speed"),
        gettext_lazy("As on the motor's plate, under load."),
    ),
)
_PLATE_FIRST = ("driver_m", "driven_m", "motor_power_w", "motor_speed_rpm", "belt_datum_m")


def known_choices(name: str) -> list[tuple[str, str]]:
    """How a figure may be known; a measured one by its tool, whose error it then has."""
    measured = str(Drive.Mark.MEASURED)
    tools = [
        (
            f"{measured} {tool}",
            gettext("measured, {tool}").format(tool=tool_words(tool.partition(",")[0])),
        )
        for tool in TOOLS.get(name, ())
    ]
    return [(measured, gettext("measured")), *tools, *Drive.Mark.choices[1:]]


class DriveForm(EntryForm):
    seen = forms.DateTimeField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(max_length=60, label=gettext_lazy("Name of this drive"))
    belt_mark = forms.CharField(
        max_length=200, required=False, label=gettext_lazy("What stands on the belt"),
        help_text=gettext_lazy("All of it, as it stands, for example A26 or 13x660 Li."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )  # fmt: skip
    belt_choice = WordsField(
        high=60, required=False, label=gettext_lazy("Which belt is it?"), widget=forms.HiddenInput
    )
    section = forms.ChoiceField(
        required=False, label=gettext_lazy("Section, by hand"),
        choices=[("", gettext_lazy("Read it from the mark")), *((code, code) for code in SECTIONS)],
    )  # fmt: skip
    belts = WholeField(
        min_value=1, max_value=50, initial=1, label=gettext_lazy("Number of belts"),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    fitted_on = DayField(
        required=False,
        label=gettext_lazy("Day this belt was fitted"),
        help_text=gettext_lazy("Readings from before that day are of another belt."),
    )
    groove_system = forms.ChoiceField(
        label=gettext_lazy("Groove standard of the pulleys"),
        help_text=gettext_lazy(
            "Stands in for an angle or depth that was not measured. DIN grooves are deeper."
        ),
        choices=[(name, name) for name in grooves.SYSTEMS],
        initial=grooves.ISO,
    )
    belt_tight = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Was the belt tight when you read centre distance and slot?"),
        choices=[
            ("yes", gettext_lazy("Yes, tight")),
            ("no", gettext_lazy("No, slack")),
            ("", gettext_lazy("Not sure")),
        ],
        initial="",
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    load = forms.ChoiceField(choices=Drive.Load.choices, label=gettext_lazy("What it drives"))
    hard_start = forms.BooleanField(
        required=False, label=gettext_lazy("It starts hard: high starting torque")
    )
    hours_a_day = QuantityField(HOURS, label=gettext_lazy("Hours a day, on a working day"))

    def __init__(self, *args: Any, entered: Mapping[str, str] | None = None, **more: Any) -> None:
        """entered: field -> how and when that figure was entered, in words."""
        super().__init__(*args, **more)
        for name, label, hint in _FIGURES:
            field = QuantityField(MEASURES[name][0], label=label, required=False)
            hints = [str(hint or field.help_text), (entered or {}).get(name, "")]
            field.help_text = " ".join(filter(None, hints))
            self.fields[name] = field
            first = Drive.Mark.PLATE if name in _PLATE_FIRST else Drive.Mark.MEASURED
            self.fields[f"{name}_mark"] = forms.ChoiceField(
                label=gettext("How known"),
                choices=known_choices(name),
                initial=first,
                required=False,
            )
            if name in FROM_RIM:
                datum, rim = FROM_RIM[name]
                self.fields[f"{name}_from"] = forms.ChoiceField(
                    label=gettext("Taken"),
                    choices=[(DATUM, datum), (RIM, rim)],
                    required=False,
                    initial=RIM if "depth" in name else DATUM,
                )
        for stage in range(1, MOST_GEARS + 1):
            for end, words in (("in", gettext("driving")), ("out", gettext("driven"))):
                self.fields[f"gear_{stage}_{end}"] = WholeField(
                    required=False,
                    min_value=5,
                    max_value=500,
                    label=gettext("Gear stage {stage}: teeth of the {words} gear").format(
                        stage=stage, words=words
                    ),
                    widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
                )

    def clean(self) -> None:
        for stage in range(1, MOST_GEARS + 1):
            names = [f"gear_{stage}_{end}" for end in ("in", "out")]
            given = [name for name in names if self.cleaned_data.get(name)]
            if len(given) == 1 and not set(names) & set(self.errors):
                other = next(name for name in names if name not in given)
                self.add_error(other, gettext("Give the teeth of both gears, or of none."))

    def look_again(self, drive: Drive) -> None:
        """Takes the drive as it is now for what was seen, so that the next saving counts."""
        told = {name: self.data[name] for name in self.data}
        self.data = told | {"seen": drive.changed_at.isoformat()}

    def offer(self, readings: tuple[BeltReading, ...]) -> None:
        """Shows the ways to read the mark, to choose one of them."""
        field = self.fields["belt_choice"]
        field.widget = forms.RadioSelect(
            attrs={"class": "choices"},
            choices=[(key_of(reading), reading.words) for reading in readings],
        )
        field.help_text = gettext("The mark can be read in more than one way.")

    def told(self) -> DriveEntry:
        """What was told, for ``save_drive``; of a form that is still wrong, what is right in it."""
        told = {name: field.initial for name, field in self.fields.items()} | self.cleaned_data
        figures = {}
        for name, _, _ in _FIGURES:
            typed: Typed | None = self.cleaned_data.get(name)
            if typed is not None:
                known = told.get(f"{name}_mark") or str(Drive.Mark.GUESS)
                mark, _, tool = known.partition(" ")
                figures[name] = Figure(
                    typed=typed,
                    mark=mark,
                    tool=tool,
                    how=told.get(f"{name}_from") or DATUM,
                )
        stages = [
            (told[f"gear_{stage}_in"], told[f"gear_{stage}_out"])
            for stage in range(1, MOST_GEARS + 1)
            if told[f"gear_{stage}_in"] and told[f"gear_{stage}_out"]
        ]
        return DriveEntry(
            name=told["name"] or "Belt drive",
            figures=figures,
            belt_mark=told["belt_mark"] or "",
            belt_choice=told["belt_choice"] or "",
            section=told["section"] or "",
            belts=told["belts"] or 1,
            fitted_on=told["fitted_on"],
            groove_system=told["groove_system"],
            belt_tight=told["belt_tight"] or "",
            load=told["load"] or Drive.Load.MEDIUM,
            hard_start=bool(told["hard_start"]),
            hours_a_day=told["hours_a_day"].value_si / 3600 if told["hours_a_day"] else 8.0,
            gears=stages,
        )

    def groups(self) -> Iterator[tuple[str, list[list[BoundField]]]]:
        """The fields in the order in which a fitter meets them; fields of a row stand together."""
        yield (
            gettext("Belt"),
            [
                [self["name"]],
                [self["belt_mark"]],
                *([] if self["belt_choice"].is_hidden else [[self["belt_choice"]]]),
                [self["section"], *self._figure("belt_datum_m")],
                [self["belts"], self["fitted_on"]],
                self._figure("belt_new_width_m"),
            ],
        )
        for which, title in (
            ("driver", gettext("Motor pulley")),
            ("driven", gettext("Driven pulley")),
        ):
            names = (f"{which}_m", f"{which}_angle_rad", f"{which}_depth_m")
            yield title, [self._figure(name) for name in names]
        yield gettext("Grooves"), [[self["groove_system"]]]
        yield (
            gettext("Shafts and slot"),
            [
                *(self._figure(name) for name in ("centres_m", "slot_in_m", "slot_out_m")),
                [self["belt_tight"]],
            ],
        )
        yield (
            gettext("Motor and work"),
            [
                self._figure("motor_power_w"),
                self._figure("motor_speed_rpm"),
                [self["load"]],
                [self["hard_start"], self["hours_a_day"]],
            ],
        )
        yield (
            gettext("Gears behind the belt"),
            [
                [self[f"gear_{stage}_in"], self[f"gear_{stage}_out"]]
                for stage in range(1, MOST_GEARS + 1)
            ],
        )

    def _figure(self, name: str) -> list[BoundField]:
        more = [self[f"{name}_from"]] if name in FROM_RIM else []
        return [self[name], *more, self[f"{name}_mark"]]


def initial_of(machine: Machine, drive: Drive | None) -> dict[str, Any]:
    """What the form of a drive begins with: what is known already is never asked for again."""
    if drive is None:
        return {
            "name": gettext("Belt drive"),
            "hours_a_day": "8 h",
            "load": Drive.Load.MEDIUM,
            "motor_power_w": ""
            if machine.power_w is None
            else units.show(machine.power_w, MEASURES["motor_power_w"][0]),
            "motor_speed_rpm": ""
            if machine.speed_rpm is None
            else gettext("{speed_rpm} rpm").format(speed_rpm=f"{machine.speed_rpm:g}"),
        }
    found: dict[str, Any] = {
        "seen": drive.changed_at.isoformat(),
        "name": drive.name,
        "belt_mark": drive.belt_mark,
        "belt_choice": drive.typed("belt_choice"),
        "section": "" if drive.belt_mark else drive.section,
        "belts": drive.belts,
        "fitted_on": drive.belt_fitted_on,
        "groove_system": drive.typed("groove_system") or grooves.ISO,
        "load": drive.load,
        "hard_start": drive.hard_start,
        "hours_a_day": f"{drive.hours_a_day:g} h",
    }
    place = place_now(drive)
    found["belt_tight"] = place.entries.get("belt_tight", {}).get("typed", "")
    for name, (measure, _, _) in MEASURES.items():
        value = place.values[name] if name in place.values else getattr(drive, name)
        entry = place.entries.get(name, {})
        if value is None or (name == "belt_datum_m" and entry.get("typed") == drive.belt_mark):
            continue
        shown = (
            gettext("{value} rpm").format(value=f"{value:g}")
            if name == "motor_speed_rpm"
            else _shown(value, measure)
        )
        found[name] = entry.get("typed") or shown
        known = (entry.get("mark", Drive.Mark.GUESS), entry.get("tool", ""))
        found[f"{name}_mark"] = " ".join(filter(None, known))
        # A figure without an entry is kept as it counts: at the datum line.
        found[f"{name}_from"] = entry.get("from", DATUM)
    after = drive.machine.drives.filter(stage__gt=drive.stage).order_by("stage")
    stages = []
    for each in after:
        if each.kind != Drive.Kind.GEAR:
            break
        stages.append(each)
    for number, each in enumerate(stages[:MOST_GEARS], 1):
        found[f"gear_{number}_in"], found[f"gear_{number}_out"] = each.teeth_in, each.teeth_out
    return found


def _shown(value: float, measure: units.Measure) -> str:
    return length_text(value) if is_length(measure) else units.show(value, measure)


def entered_of(drive: Drive | None) -> dict[str, str]:
    """How and when each figure of a drive was entered, in words."""
    if drive is None:
        return {}
    found = {}
    for name, entry in place_now(drive).entries.items():
        told = entry.get("told", "")
        if name in MEASURES and told:
            day = drive.machine.depot.day_of(datetime.fromisoformat(told))
            known = gettext(KNOWN[entry.get("mark", "guess")])
            how = " ".join(filter(None, (known, tool_words(entry.get("tool", "")))))
            told = (
                gettext("Entered {day}, {how}, moved with the slot.")
                if entry.get("how") == MOVED
                else gettext("Entered {day}, {how}.")
            )
            found[name] = told.format(day=day_text(day), how=how)
    return found
