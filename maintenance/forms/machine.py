"""The form by which one machine is added or its register entry changed."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.forms.entry import PhotoField
from plant.actions.machine import NewMachine
from plant.fields import QuantityField, WholeField, WordsField
from plant.lazy_text import gettext_lazy
from plant.machine_columns import FIRST_YEAR, QUESTIONED
from plant.models import Depot, Machine, MachineKind, Supply, User
from plant.rights import Right, depots_where
from plant.text import TextRefused, number_key
from plant.units import HOURS, MASS, POWER, SPEED, Measure, Typed, from_si, show, tenths_of_hour

# Field of the form to field of Machine, with its measure.
_FIGURES: dict[str, tuple[str, Measure]] = {
    "power": ("power_w", POWER),
    "speed": ("speed_rpm", SPEED),
    "mass": ("mass_kg", MASS),
}
_PLATE = ("nickname", "maker", "type_name", "serial", "year", "protection", "note")


class MachineForm(forms.Form):
    """Four entries are needed; the rest stands on the plate and can follow later."""

    number = WordsField(
        high=32,
        label=gettext_lazy("Machine number"),
        help_text=gettext_lazy(
            "As it stands on the machine. Noughts in front count; space and hyphen do not."
        ),
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )
    kind = forms.ModelChoiceField(
        MachineKind.objects.all(),
        empty_label=gettext_lazy("Choose a kind"),
        help_text=gettext_lazy("It brings the checks, the service plan and the tests."),
        label=gettext_lazy("Kind"),
    )
    supply = forms.ChoiceField(
        choices=[("", gettext_lazy("Choose a supply")), *Supply.choices],
        help_text=gettext_lazy("What drives it."),
        label=gettext_lazy("Supply"),
    )
    depot = forms.ModelChoiceField(
        Depot.objects.none(), empty_label=None, label=gettext_lazy("Depot")
    )
    meter = QuantityField(
        HOURS,
        required=False,
        label=gettext_lazy("Meter now"),
        help_text=gettext_lazy("In h, or as 4:30. Leave out if none."),
    )
    nickname = WordsField(high=80, required=False, label=gettext_lazy("Nickname"))
    maker = WordsField(high=80, required=False, label=gettext_lazy("Maker"))
    type_name = WordsField(high=80, required=False, label=gettext_lazy("Type"))
    serial = WordsField(high=80, required=False, label=gettext_lazy("Serial number"))
    year = WholeField(required=False, label=gettext_lazy("Year made"), min_value=FIRST_YEAR)
    protection = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Class"),
        choices=[
            ("", gettext_lazy("Not electrical, or not known")),
            *Machine.Protection.choices[1:],
        ],
    )
    power = QuantityField(POWER, required=False, label=gettext_lazy("Power"))
    speed = QuantityField(SPEED, required=False, label=gettext_lazy("Motor speed"))
    mass = QuantityField(MASS, required=False, label=gettext_lazy("Mass"))
    right_as_it_stands = forms.BooleanField(
        required=False, label=gettext_lazy("I have looked again: the figure is right as it stands")
    )
    note = WordsField(high=2000, lines=True, required=False, label=gettext_lazy("Note"))
    photo = PhotoField(label=gettext_lazy("Photo of the machine or its plate"))

    main = ("number", "kind", "supply", "depot", "meter")
    plate = (
        "maker", "type_name", "serial", "year", "protection", "power", "speed", "mass",
    )  # fmt: skip
    rest = ("nickname", "note", "photo")

    def __init__(
        self, *args: Any, user: User, on: date, machine: Machine | None = None, **more: Any
    ) -> None:
        more["initial"] = _initial(machine) if machine else None
        super().__init__(*args, **more)
        self.machine = machine
        self.questioned = False
        depots = Depot.objects.filter(pk__in=depots_where(user, Right.REGISTER))
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = depots
        if machine:
            # A machine moves by being sent, and its meter has its own page.
            del self.fields["depot"], self.fields["meter"]
        elif len(depots) == 1:
            field.initial = depots[0]
            field.widget = forms.HiddenInput()
        year = self.fields["year"]
        assert isinstance(year, forms.IntegerField)
        year.validators.append(_not_after(on.year + 1))

    def clean_number(self) -> str:
        number = str(self.cleaned_data["number"])
        try:
            number_key(number)
        except TextRefused as refused:
            raise forms.ValidationError(str(refused)) from refused
        return number

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, (_, measure) in _FIGURES.items():
            typed = cleaned.get(name)
            limit = QUESTIONED.get(name)
            if typed and limit and typed.value_si > limit and not cleaned["right_as_it_stands"]:
                self.questioned = True
                self.add_error(
                    name,
                    gettext(
                        "{value_si} is far above the usual. Put it right, or tick that it is so."
                    ).format(value_si=show(typed.value_si, measure)),
                )
        return cleaned

    def sections(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings, as they are drawn."""
        parts = (
            ("", self.main), (gettext("From the rating plate"), self.plate),
            (gettext("Besides"), self.rest),
        )  # fmt: skip
        return [
            (word, [self[name] for name in names if name in self.fields]) for word, names in parts
        ]

    def new_machine(self) -> NewMachine:
        """The machine that was filled in; call when the form is valid."""
        given = self.cleaned_data
        typed = self._typed(("power", "speed", "mass"))
        meter: Typed | None = given["meter"]
        if meter:
            typed["meter"] = _with_unit(meter)
        plate = {name: given[name] for name in _PLATE}
        plate |= {field: _value(given[name], field) for name, (field, _) in _FIGURES.items()}
        return NewMachine(
            depot=given["depot"],
            kind=given["kind"],
            number=given["number"],
            supply=given["supply"],
            plate=plate | {"plate_typed": {name: text for name, text in typed.items() if text}},
            hours_tenths=tenths_of_hour(meter.value_si) if meter else None,
        )

    def changes(self) -> tuple[dict[str, Any], Mapping[str, str | None]]:
        """What was changed: fields of Machine, and plate figures as they were typed."""
        beside = ("right_as_it_stands", "photo")
        changed = [name for name in self.changed_data if name not in beside]
        figures = [name for name in changed if name in _FIGURES]
        fields: dict[str, Any] = {
            name: self.cleaned_data[name] for name in changed if name not in _FIGURES
        }
        for name in figures:
            field = _FIGURES[name][0]
            fields[field] = _value(self.cleaned_data[name], field)
        return fields, self._typed(figures)

    def _typed(self, names: Any) -> dict[str, str | None]:
        found = {name: self.cleaned_data[name] for name in names}
        return {name: _with_unit(typed) if typed else None for name, typed in found.items()}


def _initial(machine: Machine) -> dict[str, Any]:
    initial: dict[str, Any] = {name: getattr(machine, name) for name in _PLATE}
    initial |= {"number": machine.number, "kind": machine.kind_id, "supply": machine.supply}
    for name, (field, measure) in _FIGURES.items():
        value = getattr(machine, field)
        if value is not None:
            plain = (
                gettext("{value} rpm").format(value=f"{value:g}")
                if name == "speed"
                else show(value, measure)
            )
            initial[name] = machine.plate_typed.get(name) or plain
    return initial


def _value(typed: Typed | None, field: str) -> float | None:
    if typed is None:
        return None
    if field == "speed_rpm":
        return float(f"{from_si(typed.value_si, SPEED, 'rpm'):.12g}")
    return typed.value_si


def _with_unit(typed: Typed) -> str:
    text = typed.text_as_typed
    return text if any(one.isalpha() or one == ":" for one in text) else f"{text} {typed.unit}"


def _not_after(year: int) -> Any:
    def check(value: int) -> None:
        if value > year:
            raise forms.ValidationError(gettext("It must be {year} or less.").format(year=year))

    return check
