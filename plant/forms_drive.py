"""The form that works out a belt drive without a machine; every figure may be left out."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext

from plant.drives import grooves, power
from plant.drives.outcome import LABELS, DriveGiven
from plant.drives.sections import SECTIONS, System
from plant.fields import QuantityField, WholeField
from plant.lazy_text import gettext_lazy
from plant.tool_words import tool_words
from plant.typed_drive import CHOICES, MEASURES, NotReadable, given_from_typed

# Figures that people often only guess; a tick says so, and the sums then carry more doubt.
GUESSABLE = (
    "driver", "driven", "driver_depth", "driven_depth", "centres", "slot_out", "motor_power",
    "motor_speed",
)  # fmt: skip
# Those that usually stand on a plate.
_ON_PLATE = ("motor_power", "motor_speed")

_BELT = ("belt_mark", "section", "length", "length_system", "belts")
_WIDTH = ("width_now", "width_now_tool", "width_new", "width_new_tool")
_PULLEYS = (
    "driver", "driven", "driver_depth", "driven_depth", "driver_angle", "driven_angle",
    "groove_system",
)  # fmt: skip
_RIDES = ("driver_ride", "driven_ride", "driver_ride_new", "driven_ride_new")
_SLOT = ("centres", "slot_in", "slot_out", "belt_tight")
_WORK = ("motor_power", "motor_speed", "load", "hard_start", "hours_a_day", "gears")
_READING = ("stage", "reading_force", "reading_force_tool", "reading_depth", "reading_frequency")
_METHODS = ("power_method", "tension_method", "force_form", "idler", "friction", "slip")
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (gettext_lazy("The belt"), _BELT),
    (gettext_lazy("Its width"), _WIDTH),
    (gettext_lazy("The pulleys"), _PULLEYS),
    (gettext_lazy("The slot"), _SLOT),
    (gettext_lazy("Motor and load"), _WORK),
    (gettext_lazy("Tension, as read"), _READING),
    (gettext_lazy("Only guessed"), ("guessed",)),
)
# What few people need stands folded away, below the rest.
SELDOM: tuple[tuple[str, tuple[str, ...]], ...] = (
    (gettext_lazy("How the belt rides, if you measured it"), _RIDES),
    (gettext_lazy("Methods and speed"), (*_METHODS, "driven_speed")),
)

# Keys of the sums, as they are shown.
_CHOICE_WORDS = {
    "light": gettext_lazy("light"), "medium": gettext_lazy("medium"),
    "heavy": gettext_lazy("heavy"), "extra heavy": gettext_lazy("extra heavy"),
    "none": gettext_lazy("none"), "inside slack": gettext_lazy("inside slack"),
    "outside slack": gettext_lazy("outside slack"), "inside tight": gettext_lazy("inside tight"),
    "outside tight": gettext_lazy("outside tight"),
}  # fmt: skip
_RIM = gettext_lazy("For 3V, 5V and 8V the outside diameter, for ribbed belts the effective one.")
_HINTS = {
    "driver": _RIM,
    "driven": _RIM,
    "length": gettext_lazy("For 3V, 5V, 8V and ribbed belts the effective length."),
    "driver_depth": gettext_lazy(
        "Below the datum line. Left empty, the standard's least depth is a guess."
    ),
    "driven_depth": gettext_lazy(
        "Below the datum line. Left empty, the standard's least depth is a guess."
    ),
    "width_new": gettext_lazy(
        "This belt's own, measured when it was fitted. Left empty, the nominal is taken."
    ),
    "driver_ride": gettext_lazy("Top of the belt above the rim; below the rim with a minus."),
    "driven_ride": gettext_lazy("Top of the belt above the rim; below the rim with a minus."),
    "centres": gettext_lazy("Between the middles of the two shafts, as they stand now."),
    "slot_in": gettext_lazy("How far the motor can move inwards from where it stands."),
    "slot_out": gettext_lazy("How far the motor can still move outwards."),
    "reading_depth": gettext_lazy(
        "How far you pressed the belt in at mid-span. Left empty: span / 64."
    ),
    "driven_speed": gettext_lazy("Counted or by tachometer, to tell slip from wear."),
}


class WorkOutForm(forms.Form):
    """Every field may be left empty; what is missing is said with the result."""

    belt_mark = forms.CharField(
        required=False,
        max_length=200,
        label=gettext_lazy("What stands on the belt"),
        help_text=gettext_lazy(
            "All of it, for example A26 or 13x660 Li. It gives section and length."
        ),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    section = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Section, by hand"),
        choices=[("", gettext_lazy("Read it from the mark")), *((code, code) for code in SECTIONS)],
    )
    length_system = forms.ChoiceField(
        required=False,
        label=gettext_lazy("How lengths are reckoned"),
        help_text=gettext_lazy("An inch number gives a different length in each."),
        choices=[(system.value, system.value) for system in System],
    )
    belts = WholeField(
        required=False,
        min_value=1,
        max_value=50,
        initial=1,
        label=gettext_lazy("Number of belts"),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    width_now_tool = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Read with"),
        choices=lambda: [(t, tool_words(t)) for t in ("steel rule", "calliper")],
    )
    width_new_tool = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Read with"),
        choices=lambda: [(t, tool_words(t)) for t in ("calliper", "steel rule")],
    )
    groove_system = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Groove standard"),
        help_text=gettext_lazy("Stands in for an angle or depth that was not measured."),
        choices=[(name, name) for name in CHOICES["groove_system"]],
        initial=grooves.ISO,
    )
    belt_tight = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Was the belt tight when the slot was read?"),
        choices=[
            ("", gettext_lazy("Not sure")),
            ("yes", gettext_lazy("Yes, tight")),
            ("no", gettext_lazy("No, slack")),
        ],
    )
    load = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Load"),
        help_text=gettext_lazy(
            "Concrete mixer, compactor, piston compressor: heavy. Saw, generator: medium."
        ),
        choices=[(name, _CHOICE_WORDS[name]) for name in CHOICES["load"]],
        initial="medium",
    )
    hard_start = forms.BooleanField(
        required=False, label=gettext_lazy("Starts hard: high starting torque")
    )
    gears = forms.CharField(
        required=False,
        max_length=80,
        label=gettext_lazy("Gears behind the belt"),
        help_text=gettext_lazy("Teeth in and out of each stage, for example 15:60, 12:84."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    stage = forms.ChoiceField(
        required=False,
        label=gettext_lazy("The belt is"),
        choices=[("run-in", gettext_lazy("run in")), ("new", gettext_lazy("new"))],
    )
    reading_force_tool = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Read with"),
        choices=lambda: [(t, tool_words(t)) for t in ("spring gauge", "tension pen")],
    )
    guessed = forms.MultipleChoiceField(
        required=False,
        label=gettext_lazy("Which of these figures did you guess?"),
        choices=lambda: [(name, gettext(LABELS[name])) for name in GUESSABLE],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
    )
    power_method = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Rating that counts"),
        choices=[
            ("", gettext_lazy("The first that holds")),
            *((k, m.title) for k, m in power.METHODS.items()),
        ],
    )
    tension_method = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Tension by"),
        choices=[
            ("RMA", gettext_lazy("RMA, 450 with kW")),
            ("theory", gettext_lazy("theory and GB/T, 500 with kW")),
        ],
    )
    force_form = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Force formula"),
        choices=[(n, n) for n in CHOICES["force_form"]],
    )
    idler = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Idler"),
        choices=[(name, _CHOICE_WORDS[name]) for name in CHOICES["idler"]],
    )
    friction = forms.CharField(
        required=False,
        max_length=10,
        label=gettext_lazy("Friction of belt on flank"),
        help_text=gettext_lazy("Left empty, 0.3 is assumed."),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for name, measure in MEASURES.items():
            label = gettext(LABELS[name])
            label = f"{label[0].upper()}{label[1:]}"
            hint = {"help_text": _HINTS[name]} if name in _HINTS else {}
            self.fields[name] = QuantityField(measure, label=label, required=False, **hint)

    def groups(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """The sections of the form that everybody sees."""
        return _bound(self, GROUPS)

    def seldom(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """The sections that stand folded away."""
        return _bound(self, SELDOM)

    @property
    def seldom_open(self) -> bool:
        """Whether something in them was filled in or is wrong."""
        names = [name for _, fields in SELDOM for name in fields]
        return any(name in self.errors or self.data.get(name) for name in names)

    def given(self) -> DriveGiven | None:
        """The drive in SI; None when a field is wrong, with the error set beside it."""
        if not self.is_valid():
            return None
        told = self.cleaned_data
        marks = {name: "plate" for name in _ON_PLATE if told.get(name)}
        marks |= {name: "guess" for name in told["guessed"] if told.get(name)}
        entries: dict[str, Any] = {
            name: told[name]
            for name in told
            if name != "guessed" and name != "belt_tight" and not name.endswith("_tool")
        }
        entries["marks"] = marks
        entries["belt_tight"] = {"yes": True, "no": False}.get(told["belt_tight"])
        entries["tools"] = {
            name: told[f"{name}_tool"]
            for name in ("width_now", "width_new", "reading_force")
            if told.get(name) and told.get(f"{name}_tool")
        }
        try:
            return given_from_typed(entries)
        except NotReadable as refused:
            for name, words in refused.wrong.items():
                self.add_error(name if name in self.fields else None, words)
            return None


def _bound(
    form: WorkOutForm, groups: tuple[tuple[str, tuple[str, ...]], ...]
) -> Iterator[tuple[str, list[forms.BoundField]]]:
    for title, names in groups:
        yield title, [form[name] for name in names]
