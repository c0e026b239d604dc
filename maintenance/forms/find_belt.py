"""The three forms that find a belt; all they hold stands in the address, to be passed on."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext

from plant.drives.doubt import TOOLS
from plant.drives.identify import QUANTITIES, Witness
from plant.drives.sections import SECTIONS
from plant.fields import QuantityField, WholeField
from plant.lazy_text import gettext_lazy
from plant.length_words import bound_text, length_text, length_unit
from plant.models import Drive
from plant.tool_words import tool_words
from plant.units import ANGLE, LENGTH, WIDTH, Typed

MARK, MEASURE, DRIVE = "mark", "measure", "drive"
_SECTIONS = [(code, code) for code, belt in SECTIONS.items() if belt.wedges]
_WIDTH_TOOLS = ("calliper", "steel rule")
_ROUND_TOOLS = {
    "tape round the belt": gettext_lazy("Tape round the belt"),
    "tape": gettext_lazy("Tape along the cut belt"),
}
# Quantity of the sums: the field of the form, and the tool where there is but one.
_MEASURED = {
    "outside length": ("outside", ""),
    "top width": ("width", ""),
    "height": ("height", ""),
    "inside length": ("inside", "tape"),
    "belt angle": ("angle", "groove angle gauge"),
}
_MACHINE = gettext_lazy("The machine whose belt it is, if you came from its page.")


class FindForm(forms.Form):
    """What all three have: which way, and the drive that they are asked for."""

    way = forms.CharField(widget=forms.HiddenInput)
    drive = WholeField(required=False, widget=forms.HiddenInput)

    def value(self, name: str) -> float | None:
        """[SI] the figure, None where it was left empty."""
        typed: Typed | None = self.cleaned_data.get(name)
        return None if typed is None else typed.value_si


class ByMarkForm(FindForm):
    mark = forms.CharField(
        max_length=200,
        label=gettext_lazy("What stands on the belt"),
        help_text=gettext_lazy("All of it, for example A26 or 13x660 Li."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    pulley = forms.ChoiceField(
        required=False,
        label=gettext_lazy("The pulley is cut for"),
        choices=[("", gettext_lazy("Not known")), *_SECTIONS],
    )
    small = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Smaller pulley, datum diameter"), keypad="text"
    )


class ByMeasureForm(FindForm):
    outside = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Length round the outside"), keypad="text"
    )
    outside_tool = forms.ChoiceField(
        required=False, label=gettext_lazy("Length read with"), choices=list(_ROUND_TOOLS.items())
    )
    width = QuantityField(
        WIDTH,
        required=False,
        label=gettext_lazy("Top width"),
        help_text=gettext_lazy("Where it is narrowest."),
    )
    width_tool = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Width read with"),
        choices=lambda: [(t, tool_words(t).capitalize()) for t in _WIDTH_TOOLS],
    )
    height = QuantityField(
        WIDTH,
        required=False,
        label=gettext_lazy("Height (thickness)"),
        help_text=gettext_lazy("Over the cogs, if it has any."),
    )
    height_tool = forms.ChoiceField(
        required=False, label=gettext_lazy("Height read with"),
        choices=lambda: [(t, tool_words(t).capitalize()) for t in _WIDTH_TOOLS],
    )  # fmt: skip
    cogs = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Inside of the belt"),
        choices=[
            ("", gettext_lazy("Not looked at")),
            ("yes", gettext_lazy("Cogs")),
            ("no", gettext_lazy("Smooth")),
        ],
    )
    worn = forms.ChoiceField(
        required=False,
        label=gettext_lazy("The belt is"),
        choices=[("", gettext_lazy("Used: it may have lost width")), ("new", gettext_lazy("New"))],
    )
    inside = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Length round the inside"), keypad="text"
    )
    angle = QuantityField(
        ANGLE, required=False, label=gettext_lazy("Angle between the flanks"),
        help_text=gettext_lazy("By a groove angle gauge, in degrees."),
    )  # fmt: skip

    def measured(self) -> dict[str, tuple[float, float]]:
        """Quantity -> (value, standard uncertainty) [m, rad], of what was measured."""
        found = {}
        for quantity, (field, only) in _MEASURED.items():
            value = self.value(field)
            if value is not None:
                tool = only or self.cleaned_data[f"{field}_tool"] or _first(quantity)
                found[quantity] = (value, TOOLS[tool].value)
        return found

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for quantity, (field, _) in _MEASURED.items():
            value = self.value(field) if cleaned.get(field) else None
            low, high = QUANTITIES[quantity]
            if value is not None and not low <= value <= high:
                self.add_error(field, _range_words(quantity, low, high))
        return cleaned


def _first(quantity: str) -> str:
    return "tape round the belt" if quantity == "outside length" else "calliper"


def _range_words(quantity: str, low: float, high: float) -> str:
    if quantity == "belt angle":
        return gettext("Enter 18 to 68 degrees.")
    return gettext("Enter {low} to {high} {length_unit}.").format(
        low=bound_text(low), high=bound_text(high), length_unit=length_unit()
    )


class ByDriveForm(FindForm):
    section = forms.ChoiceField(
        label=gettext_lazy("Belt section"),
        help_text=gettext_lazy("As the grooves are cut: the groove’s width at the rim tells it."),
        choices=[("", gettext_lazy("Choose one")), *_SECTIONS],
    )
    driver = QuantityField(
        LENGTH, label=gettext_lazy("Motor pulley, datum diameter"), keypad="text"
    )
    driven = QuantityField(
        LENGTH, label=gettext_lazy("Driven pulley, datum diameter"), keypad="text", help_text=""
    )
    centres = QuantityField(
        LENGTH, label=gettext_lazy("Between the shafts now"), keypad="text",
        help_text=gettext_lazy("From middle to middle, as the motor stands."),
    )  # fmt: skip
    slot_in = QuantityField(
        LENGTH, label=gettext_lazy("The motor can still move inwards by"), help_text=""
    )
    slot_out = QuantityField(
        LENGTH, label=gettext_lazy("The motor can still move outwards by"), help_text=""
    )
    belts = WholeField(
        required=False,
        min_value=1,
        max_value=50,
        label=gettext_lazy("Belts side by side"),
        initial=1,
    )

    @property
    def slot(self) -> tuple[float, float, float]:
        """[m] between the shafts: slot in, now, slot out."""
        now = self.value("centres") or 0.0
        return now - (self.value("slot_in") or 0.0), now, now + (self.value("slot_out") or 0.0)


def figures_of(drive: Drive) -> dict[str, str]:
    """What a drive knows of itself, as somebody would type it into these forms."""
    known: Mapping[str, float | None] = {
        "driver": drive.driver_m,
        "driven": drive.driven_m,
        "centres": drive.centres_m,
        "slot_in": drive.slot_in_m,
        "slot_out": drive.slot_out_m,
    }
    told = {name: length_text(value) for name, value in known.items() if value is not None}
    smaller = min((d for d in (drive.driver_m, drive.driven_m) if d is not None), default=None)
    if smaller is not None:
        told["small"] = length_text(smaller)
    if drive.section:
        told["section"] = told["pulley"] = drive.section
    return told | {"belts": str(drive.belts), "drive": str(drive.pk)}


def witness_of(drive: Drive) -> Witness | None:
    """The drive as a second witness of the length; None where pulleys or slot are missing."""
    known = (drive.driver_m, drive.driven_m, drive.centres_m, drive.slot_in_m, drive.slot_out_m)
    if any(value is None for value in known):
        return None
    driver, driven, centres, slot_in, slot_out = (value or 0.0 for value in known)
    if slot_in + slot_out <= 0:
        return None
    return Witness(
        small=min(driver, driven), large=max(driver, driven), closest=centres - slot_in,
        farthest=centres + slot_out, pulley=drive.section,
    )  # fmt: skip
